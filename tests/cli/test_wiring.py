"""fxseq wiring."""

import json
import re
from pathlib import Path

import pytest

from fxseq.checks.supply import CODES

DEMO = str(Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml")


def test_wiring_prints_the_schedule_and_writes_the_diagram(fxseq, here: Path) -> None:
    printed = fxseq("wiring", DEMO)
    assert (printed.status, printed.err) == (0, "")
    for words in (
        "The Squall Lantern: wiring for 4.4 to 6.4 V",
        "Switches, one for each output",
        "AWG ",
        "100 ohm  brown black brown gold",
        "  lens: 1 supply +, 2 to 25 channels 0 to 23\n",
        "Not described, so not counted",
        "Drawn: wiring.svg, wiring.png, board.svg, board.png in squall_lantern_wiring",
    ):
        assert words in printed.out
    assert Path("squall_lantern_wiring/wiring.png").read_bytes().startswith(b"\x89PNG")
    assert "<svg" in Path("squall_lantern_wiring/wiring.svg").read_text()


def test_cautions_come_last(fxseq, here: Path) -> None:
    cautions = " ".join(fxseq("wiring", DEMO).out.split("Cautions\n")[1].split())
    assert "USB feeds VSYS of the pico as well. Put a Schottky diode" in cautions
    assert "mains" in cautions and "get warm" in cautions and cautions.endswith(CODES)


@pytest.mark.parametrize(("part", "has_i2s"), [("pico", True), ("nano", False)])
def test_pulses_are_told_and_another_way_only_where_there_is_one(
    fxseq, here: Path, part: str, has_i2s: bool
) -> None:
    (here / "hum.wav").write_bytes((Path(DEMO).parent / "clips" / "crack_a.wav").read_bytes())
    (here / "lamp.toml").write_text(f"""format = 1
title = "Lamp"
board = {{ part = "{part}", sample_rate_hz = 8000, samples_per_frame = 16, pwm_bits = 10, voices = 2 }}
inputs.button = {{}}
supplies.cells = {{ kind = "cells", cell = "alkaline_aa", cells_in_series = 3 }}
clips.hum = {{ file = "hum.wav" }}
effects.hum = {{ sounds = [{{ clip = "hum" }}] }}
triggers.hum = {{ mode = "once", input = "button", effects = ["hum"] }}
""")
    printed = fxseq("wiring", "lamp.toml")
    assert (printed.status, printed.err) == (0, "")
    told = " ".join(printed.out.split())
    assert "sound: 1 kohm, then 15 nF to ground" in told
    assert "Sound leaves the board as pulses" in told and "mirror image at 6.0 kHz" in told
    assert ('With sound = "i2s"' in told) == has_i2s


def test_wiring_as_json_says_the_same(fxseq, here: Path) -> None:
    printed = fxseq("wiring", DEMO, "--json", "--out", "deep/sheet")
    values = json.loads(printed.out)
    lens = values["groups"]["lens"]
    assert (lens["outputs"], lens["switch"], lens["drive"]["series"]["ohm"]) == (
        list(range(24)),
        "mosfet",
        100,
    )
    assert values["connectors"]["lens"] == {
        "1": "supply +",
        **{str(2 + channel): f"channel {channel}" for channel in range(24)},
    }
    assert (
        set(values["lines"]) == {"cells", "wall"}
        and values["lines"]["cells"]["fuse_a"] > values["lines"]["cells"]["total_ma"] / 1000
    )
    assert values["files"] == [
        str(Path("deep/sheet/wiring.svg")),
        str(Path("deep/sheet/wiring.png")),
        str(Path("deep/sheet/board.svg")),
        str(Path("deep/sheet/board.png")),
    ]
    assert values["cautions"][-1] == CODES


def test_the_theme_changes_the_picture(fxseq, here: Path) -> None:
    pictures = []
    for theme in ("light", "dark"):
        assert fxseq("wiring", DEMO, "--theme", theme, "--out", theme).status == 0
        pictures.append(Path(theme, "wiring.svg").read_text())
    assert "#14171c" in pictures[1] and "#14171c" not in pictures[0]


def test_no_clip_is_needed(fxseq, starter: Path) -> None:
    for clip in Path("clips").iterdir():
        clip.unlink()
    assert fxseq("wiring", str(starter)).status == 0


def test_a_prop_without_supply_is_answered_with_what_is_missing(fxseq, lamp: Path) -> None:
    assert fxseq("wiring", str(lamp)) == (
        1,
        "",
        (
            "lamp.toml: supplies: no supply is described, so there is nothing to wire. Describe"
            " what feeds the prop under [supplies.NAME]; `fxseq new` writes a file that shows"
            " how.\n"
        ),
    )
    assert not Path("lamp_wiring").exists()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'merge = "latest"',
            'merge = "latest"\nswitch = "pin"',
            "warning  group 'vents': up to 15.2 mA a pin",
        ),
        ('switch = "mosfet"', 'switch = "transistor"', "warning  board: up to "),
        (
            "internal_resistance_ohm = 0.8",
            "maximum_current_ma = 300",
            "warning  supply 'cells': everything at once takes ",
        ),
        ("forward_voltage_v = 3.1", "forward_voltage_v = 9.5", "fault  group 'oil_gauge': "),
    ],
)
def test_what_is_wrong_with_the_circuit_is_said(
    fxseq, here: Path, old: str, new: str, words: str
) -> None:
    text = Path(DEMO).read_text()
    assert old in text
    Path("lantern.toml").write_text(text.replace(old, new))
    printed = fxseq("wiring", "lantern.toml")
    assert printed.status == 0 and words in printed.out


def test_check_and_preview_say_how_long_the_cells_last(fxseq, here: Path) -> None:
    values = json.loads(fxseq("check", DEMO, "--json").out)["run_time"]
    assert (
        values["hours"]["low"] < values["hours"]["typical"] < values["hours"]["high"]
        and values["missing"] == ""
    )
    text = (
        f"{values['hours']['typical']:.0f} h ({values['hours']['low']:.0f} h to"
        f" {values['hours']['high']:.0f} h, depending on the cells); most goes to "
    )
    assert f"\nRun time of 'cells': {text}" in fxseq("check", DEMO).out
    assert f"\n  run time  {text}" in fxseq("preview", DEMO, "--no-pictures").out


def test_check_gives_no_run_time_without_a_day(fxseq, starter: Path) -> None:
    starter.write_text(
        re.sub(r"\[day\].*?\n\n", "", starter.read_text(encoding="utf-8"), flags=re.DOTALL),
        encoding="utf-8",
    )
    assert json.loads(fxseq("check", str(starter), "--json").out)["run_time"] is None
    assert "Run time" not in fxseq("check", str(starter)).out
