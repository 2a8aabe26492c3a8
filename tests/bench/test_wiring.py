"""The wiring sheet of the page says what `fxseq wiring` says, in the same words and figures."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from bench_client import Client
from click.testing import CliRunner

from fxseq.bench.forms import keys
from fxseq.bench.labels import plain
from fxseq.cli.wiring import command

DEMO = Path(__file__).parents[2] / "demo_assets"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """What the command prints for the demo, and the folder of its drawings."""
    folder = tmp_path_factory.mktemp("wiring")
    result = CliRunner().invoke(command, [str(DEMO / "squall_lantern.toml"), "--out", str(folder)])
    assert result.exit_code == 0
    return result.output, folder


def words(text: str) -> str:
    return " ".join(text.split())


def test_every_cell_and_item_is_what_the_command_prints(
    unchanged_demo: Client, written: tuple[str, Path]
) -> None:
    view = unchanged_demo.get("/api/wiring").json
    printed = words(written[0])
    cells = [
        words(cell)
        for table in view["tables"]
        for row in [table["head"], *table["rows"]]
        for cell in row
    ]
    assert len(cells) > 120 and [cell for cell in cells if cell not in printed] == []
    items = [words(item) for part in view["lists"] for item in part["items"]]
    in_plain = words(plain(written[0].replace("  - ", "  "), keys()))
    assert len(items) > 10 and [item for item in items if item not in in_plain] == []
    assert not any("_v)" in item for item in items)  # they are called as the page calls them
    lens = dict(view["groups"]["lens"])
    assert lens["resistor"] == "220 ohm (red red brown gold)" and lens["switch"] == "mosfet"
    assert lens["mA of a string, fresh"] == "19.6 (17 to 21.5)"


@pytest.mark.parametrize("name", ["wiring", "board"])
def test_the_drawing_is_the_commands_without_styles_of_its_own(
    unchanged_demo: Client, written: tuple[str, Path], name: str
) -> None:
    drawn = unchanged_demo.get(f"/api/wiring/{name}/light").body.decode()
    file = (written[1] / f"{name}.svg").read_text(encoding="utf-8")
    assert texts(drawn) == texts(file) and len(texts(file)) > 20
    assert not re.search(r"\sstyle=|<style|<script|<!DOCTYPE", drawn)


def texts(svg: str) -> list[str | None]:
    return [
        text.text for text in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")
    ]


def test_a_prop_that_nothing_feeds_says_what_is_wanted(small: Client) -> None:
    view = small.get("/api/wiring").json
    assert view["remark"].startswith("Say what feeds the prop") and view["tables"] == []
    for path in ("/api/wiring/wiring/light", "/api/wiring/boat/light"):
        assert small.get(path).status == 404
