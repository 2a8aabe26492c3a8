"""`fxseq check --explain`: what stands behind a check, with the numbers of the prop."""

import json
from pathlib import Path

import pytest

from fxseq.checks import CHECKS
from fxseq.cli.check import CAUTION

USAGE = "Usage: fxseq check [OPTIONS] FILE\nTry 'fxseq check --help' for help.\n\nError: "


@pytest.fixture
def crowded(lamp: Path) -> Path:
    """A prop whose table does not fit by 3000 bytes or more."""
    text = lamp.read_text()
    lamp.write_text(
        text.replace(
            'board = { part = "pico" }', "board = { channels = 1, flash_for_table_bytes = 2000 }"
        )
    )
    assert lamp.read_text() != text
    return lamp


def test_a_finding_is_explained_with_its_numbers_put_in(fxseq, crowded: Path) -> None:
    size = next(
        finding
        for finding in json.loads(fxseq("check", str(crowded), "--json").out)["findings"]
        if finding["check"] == "table.flash"
    )["figure"]
    bytes_over = int(size.split()[0]) - 2000
    text = fxseq("check", str(crowded), "--explain", "table.flash")
    assert (text.status, text.err) == (0, "")
    about, worked, caution = text.out.rstrip("\n").split("\n\n")
    assert (
        about
        == "table.flash: Does the table fit into the board's memory?\n    rule: The whole table is"
        " compiled and its bytes are counted. A fault where it has more than"
        " flash_for_table_bytes.\n    formula: missing = size - room\n        missing  bytes too"
        " many\n        size     size of the table, in bytes\n        room    "
        " flash_for_table_bytes of the board, in bytes\n    source: the board in the prop file"
        " (your own files)\n    how sure: Exact, if the file describes the board correctly."
    )
    assert worked.startswith(
        f"fault  table: {size}\n"
        f"    numbers put in: {bytes_over} bytes = {size} - 2000 bytes\n"
        f"        missing  = {bytes_over} bytes\n"
        f"        size     = {size}\n"
        "        room     = 2000 bytes\n"
        "    limit: 2000 bytes of memory for the table\n"
        "    source: the board in the prop file\n"
        "    remedy: Cut 'crack'"
    )
    assert caution == CAUTION


def test_where_the_data_of_a_generic_part_come_from_is_shown_to_who_asks_and_to_no_other(
    fxseq, lamp: Path
) -> None:
    lamp.write_text(lamp.read_text() + "\n[speaker]\npart = '28 mm, 8 ohm'\n")
    note = "data of the part: between 23 and 57 mm: resonance"
    assert note in " ".join(fxseq("check", str(lamp), "--explain", "sound.generic").out.split())
    plain = fxseq("check", str(lamp)).out
    assert "a generic 28 mm, 8 ohm" in plain and "between 23 and 57 mm" not in plain


def test_each_finding_of_the_check_is_worked_through(fxseq) -> None:
    demo = str(Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml")
    found = [
        finding
        for finding in json.loads(fxseq("check", demo, "--json").out)["findings"]
        if finding["check"] == "light.flash"
    ]
    text = fxseq("check", demo, "--explain", "light.flash").out
    assert len(found) > 1 and text.count("numbers put in") == len(found)
    assert all(f"{finding['subject']}: {finding['figure']}" in text for finding in found)


def test_a_check_that_finds_nothing_is_explained_all_the_same(fxseq, lamp: Path) -> None:
    text = fxseq("check", str(lamp), "--explain", "power.rail")
    assert text.status == 0
    assert text.out.startswith(
        "power.rail: Does the supply's voltage stay high enough while the prop plays?\n    rule: "
    )
    assert text.out.endswith(
        f"\n\nThis check finds nothing in this prop, played like this.\n\n{CAUTION}\n"
    )


def test_all_lists_every_check_and_how_often_it_finds_something(fxseq, lamp: Path) -> None:
    text = fxseq("check", str(lamp), "--explain", "all")
    assert (text.status, text.err) == (0, "")
    lines = text.out.splitlines()
    assert [line.split()[0] for line in lines[: len(CHECKS)]] == list(CHECKS)
    assert lines[len(CHECKS) :] == ["", CAUTION]
    assert [line for line in lines if line.endswith(" here)")] == [
        "hazard.flicker            Is the dimming fast enough to go unnoticed and not to tire eyes or"
        " head?  (1 here)",
        "sequence.undescribed      Is something missing that level and current depend on?  (1 here)",
    ]


@pytest.mark.parametrize(
    ("check", "remedy"),
    [
        ("power.rial", "Did you mean 'power.rail'?"),
        ("Power.Rail", "Did you mean 'power.rail'?"),
        ("rail", "Did you mean 'power.rail'?"),
        ("hazard.flashes", "Did you mean 'light.flash' or 'table.flash'?"),
        ("al", "Did you mean 'all'?"),
        ("xyzzy", "'--explain all' lists them."),
    ],
)
def test_a_check_that_does_not_exist_is_answered_with_a_guess(
    fxseq, here: Path, check: str, remedy: str
) -> None:
    assert fxseq("check", "no_such.toml", "--explain", check) == (
        2,
        "",
        f"{USAGE}There is no check '{check}'. {remedy}\n",
    )


def test_a_prop_that_cannot_be_read_is_no_traceback(fxseq, here: Path) -> None:
    text = fxseq("check", "no_such.toml", "--explain", "all")
    assert (text.status, text.out) == (1, "") and text.err.startswith(
        "no_such.toml: there is no such file."
    )


def test_json_gives_explanation_and_findings_with_their_inputs(fxseq, crowded: Path) -> None:
    text = fxseq("check", str(crowded), "--explain", "table.flash", "--json")
    [explanation] = json.loads(text.out)["explanations"]
    assert text.status == 0
    assert list(explanation) == [
        "check",
        "question",
        "rule",
        "source",
        "kind",
        "confidence",
        "formula",
        "symbols",
        "findings",
    ]
    assert (explanation["formula"], list(explanation["symbols"])) == (
        "missing = size - room",
        ["missing", "size", "room"],
    )
    [finding] = explanation["findings"]
    assert finding in json.loads(fxseq("check", str(crowded), "--json").out)["findings"]
    assert finding["inputs"]["room"] == {"value": 2000, "unit": "bytes"}


def test_json_of_all_has_every_check(fxseq, lamp: Path) -> None:
    values = json.loads(fxseq("check", str(lamp), "--explain", "all", "--json").out)["explanations"]
    assert [explanation["check"] for explanation in values] == list(CHECKS)
    assert [explanation["check"] for explanation in values if explanation["findings"]] == [
        "hazard.flicker",
        "sequence.undescribed",
    ]


def test_the_script_that_is_given_is_the_one_that_is_explained(fxseq, starter: Path) -> None:
    quick = ", ".join(f"tap lever @{1 + 0.2 * tap:.1f}" for tap in range(5))
    assert (
        "This check finds nothing"
        in fxseq("check", str(starter), "--presses", "tap lever @1", "--explain", "light.flash").out
    )
    assert (
        "numbers put in: "
        in fxseq("check", str(starter), "--presses", quick, "--explain", "light.flash").out
    )
