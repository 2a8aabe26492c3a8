"""From a board that plays a prop back to a prop file: `fxseq pull`."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from fxseq.link import Ability, Board
from fxseq.link.messages import Counts
from fxseq.runs import load_prop
from fxseq.runs.counted import counted_text, lowest_v
from fxseq.runs.pulled import pulled
from fxseq.table import encode

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


IN_FRONT = """
[counters.spare]
maximum = 3

[fades.blink]
segments = [{ to_percent = 50, length_ms = 10 }]

[effects.early]
lights = [{ group = "lamp", fade = "blink" }]

[triggers.early]
mode = "once"
input = "lever"
when = { ring = "rolling" }
effects = ["early"]
"""


def in_front(text: str) -> str:
    """The starter with one more of several things, each before the others of its kind."""
    return text.replace("[day]", f"{IN_FRONT}\n[day]", 1)


def changed(fxseq, here: Path, board, pushed: str, at_hand: str) -> list[str]:
    Path("pushed.toml").write_text(pushed)
    Path("at_hand.toml").write_text(at_hand)
    with board(here) as where:
        assert fxseq("push", "pushed.toml", "--port", where).status == 0
        told = fxseq("pull", "at_hand.toml", "--port", where, "--out", "back")
    listed = told.out[told.out.index("On the board and not as in") :]
    return re.findall(r"^  - (.*)", listed, re.MULTILINE)


def test_what_is_in_front_of_others_is_told_as_one_thing(
    fxseq, here: Path, starter: Path, board
) -> None:
    old = starter.read_text()
    assert changed(fxseq, here, board, old, in_front(old)) == [
        "counter 'spare' is gone",
        "fade 'blink' is gone",
        "effect 'early' is gone",
        "trigger 'early' is gone",
    ]


def test_what_only_the_board_has_is_told_by_a_number_of_its_own(
    fxseq, here: Path, starter: Path, board
) -> None:
    old = starter.read_text()
    assert changed(fxseq, here, board, in_front(old), old) == [
        "counter 'counter_1' is new",
        "fade 'fade_1' is new",
        "effect 'effect_1' is new",
        "trigger 'trigger_1' is new",
    ]


def test_names_come_back_where_the_maker_lets_the_board_keep_them(
    fxseq, here: Path, starter: Path, board
) -> None:
    text = starter.read_text().replace("[board]\n", "[board]\ncarries_names = true\n")
    title = 'title = "\\"Quoted\\" \\\\ Ärger \U0001f525"'
    text = re.sub("^title = .*", lambda _: title, text, flags=re.MULTILINE)
    text = text.replace("\n[board]", 'revision = "B\'2"\n[board]', 1)
    renamed = text.replace("rolling]", "again]").replace("signal", "call")
    assert changed(fxseq, here, board, text, in_front(renamed)) == [
        "effect 'call' is called 'signal' now",
        "trigger 'again' is called 'rolling' now",
        "counter 'spare' is gone",
        "fade 'blink' is gone",
        "effect 'early' is gone",
        "trigger 'early' is gone",
    ]
    back = load_prop(Path("back/prop.toml"))
    pushed = load_prop(Path("pushed.toml"))
    assert back.compiled.data == pushed.compiled.data
    assert back.sequence.title == '"Quoted" \\ Ärger \U0001f525'
    assert back.sequence.revision == "B'2"
    assert set(back.sequence.effects) == {"signal"} and Path("back/clips/chirp.wav").exists()
    with board(here) as where:
        told = fxseq("pull", "--port", where, "--out", "again")
        assert fxseq("push", "again/prop.toml", "--port", where).status == 0
    assert ', ""Quoted" \\ Ärger \U0001f525", revision B\'2.\n' in told.out
    assert "what things are called" not in told.out


ANY_BOARD = Board(
    *(0, 1, 48_000, 255, 16, 16, 31, 8, 352, 16, 0, 0, 9, 0, 0, 9, 9, 0, 0, 7), "lantern"
)


def test_names_that_no_prop_file_may_have_are_told_and_left_out() -> None:
    table = replace(load_prop(DEMO).compiled.table, names=b"\x04Lamp\x00\x05../up")
    found = pulled(ANY_BOARD, encode(table), "here")
    assert not found.is_same and found.names is None
    assert "../up" not in found.file.text and "clips/clip_1.wav" in found.file.clips
    assert str(found.why_not[0]) == (
        "here: the names in its table cannot be used: there are too few of them."
    )


def test_what_a_board_counted_is_told_if_its_prop_asks_for_it(
    fxseq, here: Path, starter: Path, board
) -> None:
    asking = starter.read_text().replace("[board]\n", "[board]\ncounts = true\n")
    Path("asking.toml").write_text(asking)
    with board(here) as where:
        assert fxseq("push", str(starter), "--port", where).status == 0
        assert "counted" not in fxseq("pull", "--port", where, "--out", "none").out
        assert fxseq("push", "asking.toml", "--port", where).status == 0
    with board(here) as where:
        told = fxseq("pull", "asking.toml", "--port", where)
        found = json.loads(fxseq("pull", "--port", where, "--out", "back", "--json").out)
    assert told.out.splitlines()[0].endswith(
        " bytes. It counted 1 power-up, 0 shots, 0 refusals and no faults of its flash memory;"
        " lowest voltage of the cells: not measured."
    )
    assert found["counted"] == {
        "power_ups": 1, "shots": 0, "refusals": 0, "flash_errors": 0, "lowest_v": None
    }  # fmt: skip
    assert load_prop(Path("back/prop.toml")).sequence.board.counts


def test_a_board_that_cannot_count_takes_no_prop_that_asks_for_it(
    fxseq, here: Path, starter: Path, board
) -> None:
    asking = starter.read_text().replace("[board]\n", "[board]\ncounts = true\n")
    Path("asking.toml").write_text(asking)
    with board(here, Ability("lantern")) as where:
        told = fxseq("push", "asking.toml", "--port", where)
    assert told.status == 1 and "the table asks for counts, and the board cannot count" in told.err


def test_voltages_are_those_of_the_cells(starter: Path) -> None:
    counts = Counts(1, 2, 1, 3, 1, 0x8000)
    assert lowest_v(counts, "pico", None) == pytest.approx(3.3 / 2 * 3)
    assert lowest_v(counts, None, None) is None
    assert counted_text(counts, 3.456) == (
        "It counted 2 power-ups, 1 shot, 3 refusals and 1 fault of its flash memory; lowest voltage"
        " of the cells: 3.46 V."
    )
