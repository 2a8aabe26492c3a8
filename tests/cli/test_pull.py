"""From a board that plays a prop back to a prop file: `fxseq pull`."""

import json
import re
from pathlib import Path

import pytest

from fxseq.link import Ability
from fxseq.runs import load_prop

pytestmark = pytest.mark.quick
DEMO = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"


@pytest.mark.parametrize("name", ["lamp", "demo"])
def test_what_was_pushed_comes_back_and_compiles_to_the_same_table(
    fxseq, here: Path, lamp: Path, board, name: str
) -> None:
    prop = lamp if name == "lamp" else DEMO
    table = load_prop(prop).compiled
    with board(here, Ability("lantern", board_id=0xABC)) as where:
        assert fxseq("push", str(prop), "--port", where).status == 0
        told = fxseq("pull", "--port", where, "--out", "back")
    assert told.status == 0
    sounds = len(table.table.clips)
    assert re.match(
        rf"lantern on {where}, board id 00000abc, plays table [0-9a-f]{{8}} of {len(table.data)}"
        rf" bytes\.\nback/prop\.toml and {sounds} sounds? compile to the same table\.\n",
        told.out,
    )
    assert "the LEDs of a group" in told.out
    assert load_prop(Path("back/prop.toml")).compiled.data == table.data


def test_the_prop_at_hand_that_the_board_plays_is_told_and_nothing_is_written(
    fxseq, here: Path, lamp: Path, board
) -> None:
    with board(here) as where:
        fxseq("push", str(lamp), "--port", where)
        before = sorted(here.iterdir())
        told = fxseq("pull", str(lamp), "--port", where)
        found = json.loads(fxseq("pull", str(lamp), "--port", where, "--json").out)
    assert told.out.endswith("\nThat is the table of lamp.toml. Nothing was written.\n")
    assert sorted(here.iterdir()) == before
    assert found["same_as_file"] is True and found["compiles_to_it"] is True


def test_what_differs_from_the_prop_at_hand_is_said_by_its_names(
    fxseq, here: Path, starter: Path, board
) -> None:
    old = starter.read_text()
    new = old.replace("rate_per_s = 2.5", "rate_per_s = 4").replace(
        "to_percent = 0, length_ms = 350", "to_percent = 0, length_ms = 200"
    )
    # What no table holds makes no difference.
    new = new.replace("gain_db = 9.5", "gain_db = 3.5")
    Path("new.toml").write_text(new)
    with board(here) as where:
        fxseq("push", str(starter), "--port", where)
        told = fxseq("pull", "new.toml", "--port", where, "--out", "back")
        found = json.loads(fxseq("pull", "new.toml", "--port", where, "--json").out)
    listed = told.out[told.out.index("On the board and not as in new.toml:") :]
    assert re.findall(r"^  - (.*)", listed, re.MULTILINE) == [
        "fade 'flash', segment 2: length_ms is 350 ms, was 200 ms",
        "trigger 'rolling': rate_per_s is 2.5 per second, was 4 per second",
    ]
    assert found["same_as_file"] is False and Path(found["folder"]).name.startswith("pulled_")


def test_a_board_that_gives_nothing_back_is_told_in_one_message(
    fxseq, here: Path, lamp: Path, board
) -> None:
    with board(here, Ability("lantern", features=0)) as where:
        fxseq("push", str(lamp), "--port", where)
        told = fxseq("pull", "--port", where)
    assert (told.status, told.out) == (1, "")
    assert told.err.splitlines()[-1] == (
        f"{where}: this board cannot be read: its firmware does not give its table back. What it"
        " plays is known only from the prop file."
    )
    Path("board.flash").unlink()
    with board(here, Ability("lantern")) as where:
        told = fxseq("pull", "--port", where)
    assert told.err == f"{where}: the board has no table. Push one first.\n"


def test_a_folder_that_is_there_stays_as_it_is(fxseq, here: Path, board) -> None:
    Path("back").mkdir()
    told = fxseq("pull", "--port", "socket://127.0.0.1:9", "--out", "back")
    assert told.err == "back: is there already. Delete it, or choose another with --out.\n"
