"""What a ready-made board cannot play in time is refused as the file is read, at its line; what it
just can is not. The bound itself: tests/table/test_frame_work.py.
"""

import shutil
from pathlib import Path

import pytest

from fxseq.advice import as_meant, best_that_fits, fit
from fxseq.bench import Desk
from fxseq.runs import Prop, load_prop, perform
from fxseq.runs.in_time import late_work
from fxseq.sequence import FxError, TableError, load, loads
from fxseq.sequence.board_parts import board_parts
from fxseq.table.frame_work import FrameWork

CLIP = Path(__file__).parents[2] / "demo_assets" / "clips" / "crack_a.wav"
KIND = {"nano": "avr", "pico": "cortex_m"}
PROP = """
format = 1
title = "Lamp"
board = { part = "PART", processor = { kind = "KIND", clock_mhz = CLOCK } }
inputs.button = {}
groups.lens = { channels = 4, leds = 4, colour = "amber", current_ma = 5 }
groups.vent = { leds = 1, colour = "blue", current_ma = 5 }
clips.crack = { file = "crack.wav", coding = "ima_adpcm", end_ms = 200 }

[fades.flash]
segments = [
    { shape = "step", to_percent = 100, length_ms = 40 },
    { shape = "decay", to_percent = 0, length_ms = 200 },
]

[effects.crack]
sounds = [{ clip = "crack" }]

[effects.flash]
lights = [{ group = "vent", fade = "flash" }, { group = "lens", fade = "flash" }]

[triggers.vent]
mode = "always"
during = "vent"

[effects.vent]
layer = "ambient"
lights = [{ group = "vent", fade = "flash" }]

[triggers.flash]
mode = "once"
input = "button"
effects = ["flash"]
"""
LINE = 1 + PROP.split("\n").index("[triggers.flash]")


def text(part: str, clock_mhz: float, prop: str = PROP) -> str:
    return (
        prop.replace("PART", part).replace("KIND", KIND[part]).replace("CLOCK", f"{clock_mhz:.6f}")
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    shutil.copy(CLIP, tmp_path / "crack.wav")
    return tmp_path / "lamp.toml"


def least_clock_mhz(file: Path, part: str, prop: str = PROP) -> float:
    """Clock at which the dearest frame takes just what the board may be asked for."""
    file.write_text(text(part, 1000, prop))
    table = load_prop(file).compiled.table
    return 1000 * FrameWork(table, KIND[part]).share(1000e6) / board_parts()[part].most_work


@pytest.mark.parametrize(("part", "most"), [("nano", "145 %"), ("pico", "125 %")])
def test_what_a_board_cannot_do_is_refused_with_its_line_and_what_it_just_can_is_not(
    file: Path, part: str, most: str
) -> None:
    clock_mhz = least_clock_mhz(file, part)
    file.write_text(text(part, 1.0001 * clock_mhz))
    assert isinstance(load_prop(file), Prop)
    file.write_text(text(part, 0.9999 * clock_mhz))
    with pytest.raises(TableError) as error:
        load_prop(file)
    percent = int(most.split()[0]) + 1
    assert str(error.value) == (
        f"{file}:{LINE}: trigger 'flash' may make a frame take {percent} % of its time, of which"
        f" most goes to fade 'flash' on group 'lens' of effect 'flash'; allowed: {most} on the"
        f" {part}. Let its fades begin one after the other (stagger_ms, at_ms), or use a coding"
        " that takes less time (mulaw), fewer voices, or a lower rate_hz or sample_rate_hz."
    )


def test_a_dear_clip_is_named(file: Path) -> None:
    heard = PROP.replace('effects = ["flash"]', 'effects = ["crack"]')
    file.write_text(text("nano", 4, heard))
    with pytest.raises(TableError, match="most goes to clip 'crack' of effect 'crack'"):
        load_prop(file)


def test_clips_are_fitted_so_that_the_board_keeps_up(file: Path) -> None:
    """In so little room the dearest coding loses least, as long as the board keeps up with it."""
    lights = 'lights = [{ group = "vent", fade = "flash" }, { group = "lens", fade = "flash" }]'
    both = PROP.replace(lights, f'{lights}\nsounds = [{{ clip = "crack" }}]')
    clock_mhz = least_clock_mhz(file, "nano", both)

    def stored_at(clock_mhz: float) -> str:
        file.write_text(text("nano", clock_mhz, both))
        meant = as_meant(file, load(file))
        fitted = fit(perform(meant, meant.script()[0]), ("ima_adpcm", "mulaw"))
        picked, _ = best_that_fits(fitted, 1500)
        assert late_work(meant.sequence.board, fitted.prop_with(picked).compiled) is None
        return picked["crack"].coding

    assert stored_at(1.01 * clock_mhz) == "ima_adpcm"
    assert stored_at(0.99 * clock_mhz) == "mulaw"
    with pytest.raises(FxError, match="cannot keep up with it, however the clips are stored"):
        stored_at(0.9 * clock_mhz)


def test_a_board_of_the_makers_own_is_not_refused(file: Path) -> None:
    own = PROP.replace('part = "PART"', "channels = 5, sample_rate_hz = 22050")
    file.write_text(text("nano", 0.01, own))
    assert isinstance(load_prop(file), Prop)


def test_the_bench_takes_no_change_that_its_board_cannot_play_in_time(file: Path) -> None:
    clock_mhz = least_clock_mhz(file, "nano")
    file.write_text(text("nano", 1.0001 * clock_mhz))
    desk = Desk(file)
    with pytest.raises(TableError, match=rf":{LINE}: trigger 'flash' may make a frame take"):
        desk.take_up(text("nano", 0.9999 * clock_mhz))
    assert loads(desk.now.text) == loads(text("nano", 1.0001 * clock_mhz))
