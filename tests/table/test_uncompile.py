"""A table made a prop file again compiles to the same table."""

import random
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from any_sequence import sequence_values
from coded_data import clip_data
from hypothesis import given
from hypothesis import strategies as st
from strategies import often

from fxseq.clips import PreparedClip
from fxseq.clips import decode as decoded
from fxseq.runs import load_prop
from fxseq.sequence import Sequence, TableError, loads
from fxseq.table import Coding, Table, called_in, clips_in_reach, compile_sequence, decode
from fxseq.table.uncompile import NOT_IN_A_TABLE, shortest, uncompile

DEMO = Path(__file__).parents[2] / "demo_assets"


def any_clip(name: str, sequence: Sequence, chance: random.Random) -> PreparedClip:
    """Noise in any coding, at any rate that a clip can have."""
    coding = chance.choice(tuple(Coding))
    samples = chance.randint(40, 400)
    start = chance.randint(0, samples - 32) if sequence.clips[name].loop else None
    data = clip_data(chance.randbytes, coding, samples, start)
    step = chance.choice((65536, chance.randint(8000, 65535)))
    board_hz = sequence.board.sample_rate_hz
    loop = None if start is None else (start, samples)
    made = decoded(data, coding.text, samples, start)
    meant = chance.randint(1, 4000)
    return PreparedClip(
        name, made, step * board_hz / 65536, coding.text, data, loop, meant_samples=meant
    )


def again(table: Table, part: str | None = None) -> tuple[bytes, Sequence]:
    """The table of its prop file, read from a folder as anybody's."""
    called = called_in(table)
    if called:
        back = uncompile(table, called.title, part, called.names, called.revision)
    else:
        back = uncompile(table, "Again", part)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "clips").mkdir()
        for file, data in back.clips.items():
            (folder / file).write_bytes(data)
        path = folder / "prop.toml"
        path.write_text(back.text, encoding="utf-8")
        prop = load_prop(path)
        return prop.compiled.data, prop.sequence


@often(25)
@given(sequence_values(), st.integers(0, 2**32 - 1))
def test_any_prop_comes_back_to_the_byte(values: dict[str, Any], seed: int) -> None:
    chance = random.Random(seed)
    sequence = Sequence.model_validate(values)
    clips = {name: any_clip(name, sequence, chance) for name in clips_in_reach(sequence)}
    try:
        compiled = compile_sequence(sequence, clips)
    except TableError:
        return
    data, back = again(decode(compiled.data))
    assert data == compiled.data
    if sequence.board.carries_names:
        assert (back.title, back.revision) == (sequence.title, sequence.revision)
        assert called_in(compiled.table).names == compiled.names


JOINED = """
format = 1
title = "Joined"
board = { part = "pico" }
inputs.button = {}
inputs.low = { kind = "low_battery", low_v = 3.9 }
selectors.plain = { positions = ["a", "b", "c"], start = "c" }
selectors.turned = { positions = ["a", "b", "c", "d", "e"], coded = true }
groups.back = { first_channel = 3, channels = 2, leds = 4, colour = "red", current_ma = 4 }
groups.front = { first_channel = 0, channels = 3, leds = 3, colour = "blue", current_ma = 4 }
clips.beep = { file = "CLIP" }
effects.go = { sounds = [{ clip = "beep" }] }
triggers.go = { mode = "once", input = "button", effects = ["go"] }
"""
OTHERS = {
    "registers": {"{ part": '{ lights = "shift_registers", channels = 40, part'},
    "drivers and I2S": {"{ part": '{ sound = "i2s", lights = "drivers", part'},
    "chosen pins": {"{ part": "{ pins = { sound = 4, amplifier = 9, volume = 27 }, part"},
    "nano": {
        '"pico"': '"nano"',
        'inputs.low = { kind = "low_battery", low_v = 3.9 }': "",
        'selectors.turned = { positions = ["a", "b", "c", "d", "e"], coded = true }': "",
    },
}


@pytest.mark.parametrize("changes", [{}, *OTHERS.values()], ids=["plain", *OTHERS])
def test_pins_of_a_ready_made_board_come_back(changes: dict[str, str], tmp_path: Path) -> None:
    text = JOINED.replace("CLIP", str(DEMO / "clips/crack_a.wav"))
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "joined.toml"
    path.write_text(text, encoding="utf-8")
    prop = load_prop(path)
    data, sequence = again(prop.compiled.table, prop.sequence.board.part)
    assert prop.compiled.table.joints and data == prop.compiled.data
    assert sequence.board.lights == prop.sequence.board.lights


def test_numbers_are_those_that_the_maker_wrote() -> None:
    prop = load_prop(DEMO / "squall_lantern.toml")
    text = uncompile(prop.compiled.table, "Again", "pico").text
    back = loads(text, "again.toml")
    names = prop.compiled.names
    wrote = [prop.sequence.fades[name] for name in names.fades]
    assert [fade.segments for fade in back.fades.values()] == [fade.segments for fade in wrote]
    triggers = zip(prop.sequence.triggers.values(), back.triggers.values(), strict=True)
    for one, other in triggers:
        keys = ("mode", "after_held_ms", "rate_per_s", "first_delay_ms", "burst", "limit")
        assert [getattr(one, key) for key in keys] == [getattr(other, key) for key in keys]
    assert all(f"#   {lost}\n" in text for lost in NOT_IN_A_TABLE)


@often(50)
@given(st.floats(0.001, 1000), st.floats(1e-6, 1), st.integers(0, 4))
def test_no_shorter_decimal_is_right(low: float, width: float, digits: int) -> None:
    def inside(value: float) -> bool:
        return low <= value <= low + width

    found = shortest(low, low + width, inside)
    assert inside(found)
    if found != round(found, digits):
        steps = np.arange(np.ceil(low * 10**digits), np.floor((low + width) * 10**digits) + 1)
        assert not any(inside(step / 10**digits) for step in steps[:3])
