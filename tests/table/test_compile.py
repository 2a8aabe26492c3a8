"""What each key of a prop file becomes in the table: at the ends of its range, and to either side
of where it is rounded.

A frame is 1 ms here (16 samples at 16 kHz) unless a row says otherwise, so that most numbers can be
read off the file. What the fields mean is SPEC.md, sections 3.1 to 3.9; the expected numbers are
worked from there by hand.
"""

import copy
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fxseq.clips import PreparedClip
from fxseq.light import AMBIENT, FadeSegment, Shape
from fxseq.sequence import Sequence, TableError
from fxseq.table import (
    ChangeCount,
    Coding,
    Compiled,
    InputKind,
    Merge,
    Mode,
    PlayClip,
    Shots,
    StartFade,
    Stay,
    VoiceRule,
    compile_sequence,
)

pytestmark = pytest.mark.quick

Values = dict[str, Any]


def prepared(
    name: str,
    samples: int = 1600,
    rate_hz: int = 16000,
    loop: tuple[int, int] | None = None,
    coding: str = "mulaw",
) -> PreparedClip:
    silence = np.zeros(samples, np.int16)
    return PreparedClip(
        name,
        silence,
        rate_hz,
        coding,
        bytes(samples),
        loop,
        meant_samples=samples * 16000 // rate_hz,
    )


CLIPS = {
    "beep": prepared("beep"),
    "low": prepared("low", 800, 8000),
    "hum": prepared("hum", 1600, loop=(400, 1600)),
}


@pytest.fixture
def values() -> Values:
    """Everything once, so that a row need only change one key."""
    return copy.deepcopy(
        {
            "format": 1,
            "title": "Rows",
            "board": {"sample_rate_hz": 16000, "samples_per_frame": 16, "channels": 8},
            "inputs": {"lever": {}, "other": {}},
            "selectors": {"ring": {"positions": ["calm", "slow", "storm"]}},
            "counters": {"oil": {"maximum": 9}},
            "groups": {
                "tail": {
                    "first_channel": 4,
                    "channels": 4,
                    "leds": 4,
                    "colour": "red",
                    "forward_voltage_v": 2.0,
                    "current_ma": 10,
                },
                "head": {
                    "first_channel": 0,
                    "channels": 4,
                    "leds": 4,
                    "colour": "red",
                    "forward_voltage_v": 2.0,
                    "current_ma": 10,
                },
            },
            "clips": {
                "beep": {"file": "beep.wav"},
                "low": {"file": "low.wav"},
                "hum": {"file": "hum.wav", "loop": "whole"},
            },
            "fades": {
                "flash": {
                    "segments": [
                        {"shape": "step", "to_percent": 100, "length_ms": 40},
                        {"shape": "decay", "to_percent": 0, "length_ms": 200},
                    ]
                }
            },
            "effects": {
                "bolt": {
                    "sounds": [{"clip": "beep"}, {"clip": "low"}],
                    "lights": [{"group": "tail", "fade": "flash"}],
                    "counts": [{"counter": "oil", "change": -1}],
                },
                "drone": {"sounds": [{"clip": "hum", "loop": True}]},
            },
            "triggers": {
                "fire": {"mode": "repeat", "input": "lever", "rate_per_s": 4, "effects": ["bolt"]},
                "stay": {
                    "mode": "while_held",
                    "input": "other",
                    "begin": "bolt",
                    "during": "drone",
                },
            },
        }
    )


def changed(values: Values, path: str, value: object) -> Values:
    *outer, key = path.split(".")
    place: Any = values
    for step in outer:
        place = place[int(step) if step.isdigit() else step]
    place[key] = value
    return values


def compiled(values: Values, clips: dict[str, PreparedClip] | None = None) -> Compiled:
    return compile_sequence(Sequence.model_validate(values), {**CLIPS, **(clips or {})})


def the(kind: type) -> Callable[[Compiled], Any]:
    """The one step of its kind in the effect 'bolt'; of clips the first."""
    return lambda made: next(step for step in made.table.effects[0].steps if isinstance(step, kind))


def fired(made: Compiled) -> Shots:
    return made.table.triggers[0].action


def segment(made: Compiled) -> Any:
    return made.table.fades[0].segments[0]


# Key, value, where it goes, and what stands there.
ROWS: list[tuple[str, object, Callable[[Compiled], object], object]] = [
    ("board.sample_rate_hz", 16000, lambda made: made.table.sample_rate_hz, 16000),
    (
        "board.samples_per_frame",
        32,
        lambda made: (made.table.samples_per_frame, made.table.frame_rate_hz),
        (32, 500.0),
    ),
    ("board.channels", 8, lambda made: made.table.channels, 8),
    ("board.channels", 255, lambda made: made.table.channels, 255),
    ("board.pwm_bits", 8, lambda made: made.table.pwm_bits, 8),
    ("board.pwm_bits", 16, lambda made: made.table.pwm_bits, 16),
    ("board.voices", 1, lambda made: made.table.voices, 1),
    ("board.voices", 16, lambda made: made.table.voices, 16),
    ("board.when_voices_run_out", "oldest", lambda made: made.table.voice_rule, VoiceRule.OLDEST),
    (
        "board.when_voices_run_out",
        "quietest",
        lambda made: made.table.voice_rule,
        VoiceRule.QUIETEST,
    ),
    (
        "board.when_voices_run_out",
        "same_clip",
        lambda made: made.table.voice_rule,
        VoiceRule.SAME_CLIP,
    ),
    # The most turns that leave each channel 200 looks a second: 16000 / 10 / 8, and a bit less.
    ("board.samples_per_frame", 10, lambda made: made.table.light_mask, 7),
    ("board.samples_per_frame", 11, lambda made: made.table.light_mask, 3),
    ("board.samples_per_frame", 20, lambda made: made.table.light_mask, 3),
    ("board.samples_per_frame", 21, lambda made: made.table.light_mask, 1),
    ("board.samples_per_frame", 40, lambda made: made.table.light_mask, 1),
    ("board.samples_per_frame", 41, lambda made: made.table.light_mask, 0),
    ("board.random_seed", 1, lambda made: made.table.seed, 1),
    ("board.random_seed", 2**32 - 1, lambda made: made.table.seed, 2**32 - 1),
    (
        "inputs.lever.kind",
        "low_battery",
        lambda made: made.table.inputs[0].kind,
        InputKind.LOW_BATTERY,
    ),
    ("inputs.lever.lockout_ms", 0, lambda made: made.table.inputs[0].lockout, 0),
    # Whatever is not zero takes a frame at the least; half a frame is rounded to the even one.
    ("inputs.lever.lockout_ms", 0.1, lambda made: made.table.inputs[0].lockout, 1),
    ("inputs.lever.lockout_ms", 1.49, lambda made: made.table.inputs[0].lockout, 1),
    ("inputs.lever.lockout_ms", 1.51, lambda made: made.table.inputs[0].lockout, 2),
    ("inputs.lever.lockout_ms", 1000, lambda made: made.table.inputs[0].lockout, 1000),
    ("selectors.ring.positions", ["a", "b"], lambda made: made.table.selectors[0].positions, 2),
    ("selectors.ring.start", "storm", lambda made: made.table.selectors[0].start, 2),
    ("selectors.ring.start", "calm", lambda made: made.table.selectors[0].start, 0),
    (
        "counters.oil.maximum",
        65535,
        lambda made: (made.table.counters[0].maximum, made.table.counters[0].start),
        (65535, 65535),
    ),
    ("counters.oil.start", 0, lambda made: made.table.counters[0].start, 0),
    # Groups stand in the order of their channels, not in that of the file.
    (
        "groups.tail.first_channel",
        4,
        lambda made: [(group.first, group.channels) for group in made.table.groups],
        [(0, 4), (4, 4)],
    ),
    (
        "groups.head.merge",
        "latest",
        lambda made: [group.merge for group in made.table.groups],
        [Merge.LATEST, Merge.HIGHEST],
    ),
    (
        "groups.tail.gauge",
        "oil",
        lambda made: [group.gauge for group in made.table.groups],
        [None, 0],
    ),
    # A level to start from is a first segment of no length.
    ("fades.flash.from_percent", 0, segment, FadeSegment(Shape.STEP, 0, 0)),
    ("fades.flash.from_percent", 100, segment, FadeSegment(Shape.STEP, 0, 65535)),
    ("fades.flash.from_percent", None, segment, FadeSegment(Shape.STEP, 40, 65535)),
    ("fades.flash.loop", True, lambda made: made.table.fades[0].turn, 0),
    ("fades.flash.loop", False, lambda made: made.table.fades[0].turn, None),
    *(
        (
            "fades.flash.segments.0.shape",
            shape.name.lower(),
            lambda made: segment(made).shape,
            shape,
        )
        for shape in Shape
        if shape != Shape.FLICKER
    ),
    # A level is 1/65535: 0.0007 % is 0.46 of one, 0.0008 % 0.52, 50.2 % 32898.57.
    ("fades.flash.segments.0.to_percent", 0.0007, lambda made: segment(made).target, 0),
    ("fades.flash.segments.0.to_percent", 0.0008, lambda made: segment(made).target, 1),
    ("fades.flash.segments.0.to_percent", 50.2, lambda made: segment(made).target, 32899),
    ("fades.flash.segments.0.to_percent", 100, lambda made: segment(made).target, 65535),
    ("fades.flash.segments.0.to_percent", "ambient", lambda made: segment(made).target, AMBIENT),
    ("fades.flash.segments.0.length_ms", 0, lambda made: segment(made).length, 0),
    ("fades.flash.segments.0.length_ms", 0.2, lambda made: segment(made).length, 1),
    ("fades.flash.segments.0.length_ms", 65_000, lambda made: segment(made).length, 65_000),
    ("effects.bolt.sounds.0.at_ms", 0, lambda made: the(PlayClip)(made).at, 0),
    ("effects.bolt.sounds.1.at_ms", 250.4, lambda made: made.table.effects[0].steps[-1].at, 250),
    # 4096 is 0 dB: 10^(-60/20) of it is 4.1, 10^(18/20) 32536.
    ("effects.bolt.sounds.0.gain_db", 0, lambda made: the(PlayClip)(made).gain, 4096),
    ("effects.bolt.sounds.0.gain_db", -60, lambda made: the(PlayClip)(made).gain, 4),
    ("effects.bolt.sounds.0.gain_db", 18, lambda made: the(PlayClip)(made).gain, 32536),
    ("effects.bolt.sounds.0.gain_db", -6.0206, lambda made: the(PlayClip)(made).gain, 2048),
    (
        "effects.drone.sounds.0.release_ms",
        0,
        lambda made: made.table.effects[1].steps[0].release,
        1,
    ),
    (
        "effects.drone.sounds.0.release_ms",
        10_000,
        lambda made: made.table.effects[1].steps[0].release,
        10_000,
    ),
    (
        "effects.drone.sounds.0.loop",
        False,
        lambda made: made.table.effects[1].steps[0].release,
        None,
    ),
    ("effects.bolt.lights.0.at_ms", 70, lambda made: the(StartFade)(made).at, 70),
    ("effects.bolt.lights.0.group", "head", lambda made: the(StartFade)(made).group, 0),
    ("effects.bolt.lights.0.group", "tail", lambda made: the(StartFade)(made).group, 1),
    ("effects.bolt.lights.0.stagger_ms", 0.3, lambda made: the(StartFade)(made).stagger, 1),
    ("effects.bolt.lights.0.stagger_ms", -0.3, lambda made: the(StartFade)(made).stagger, -1),
    (
        "effects.bolt.lights.0.stagger_ms",
        -10_000,
        lambda made: the(StartFade)(made).stagger,
        -10_000,
    ),
    ("effects.bolt.counts.0.change", -65_535, lambda made: the(ChangeCount)(made).change, -65_535),
    ("effects.bolt.counts.0.change", 7, lambda made: the(ChangeCount)(made).change, 7),
    ("effects.bolt.counts.0.at_ms", 5, lambda made: the(ChangeCount)(made).at, 5),
    ("effects.bolt.layer", "ambient", lambda made: the(StartFade)(made).ambient, True),
    ("effects.bolt.layer", "effect", lambda made: the(StartFade)(made).ambient, False),
    ("effects.bolt.length_ms", 0.1, lambda made: made.table.effects[0].length, 1),
    ("effects.bolt.length_ms", 1500, lambda made: made.table.effects[0].length, 1500),
    # 24 % of 1024 is 245.76, 99 % of 256 253.44.
    ("effects.bolt.pitch_spread_percent", 24, lambda made: made.table.effects[0].pitch_spread, 246),
    ("effects.bolt.pitch_spread_percent", 0.04, lambda made: made.table.effects[0].pitch_spread, 0),
    ("effects.bolt.gain_spread_percent", 99, lambda made: made.table.effects[0].gain_spread, 253),
    ("effects.bolt.gain_spread_percent", 0, lambda made: made.table.effects[0].gain_spread, 0),
    ("triggers.fire.input", "other", lambda made: made.table.triggers[0].input, 1),
    (
        "triggers.fire.when",
        {"ring": "slow"},
        lambda made: made.table.triggers[0].conditions,
        ((0, 0b010),),
    ),
    (
        "triggers.fire.when",
        {"ring": ["storm", "calm"]},
        lambda made: made.table.triggers[0].conditions,
        ((0, 0b101),),
    ),
    ("triggers.fire.after_held_ms", 0, lambda made: made.table.triggers[0].hold, 0),
    ("triggers.fire.after_held_ms", 499.6, lambda made: made.table.triggers[0].hold, 500),
    ("triggers.fire.needs", "oil", lambda made: made.table.triggers[0].needs, 0),
    ("triggers.fire.choice", "random", lambda made: fired(made).random, True),
    ("triggers.fire.choice", "in_turn", lambda made: fired(made).random, False),
    # Periods are in 1/256 frame and never rounded up: 1000 / 3 * 256 = 85333.3; 1000 / 6 * 256 =
    # 42666.7; 1000 / 50 * 256 = 5120; 1000 / 0.05 * 256 = 5120000.
    ("triggers.fire.rate_per_s", 3, lambda made: fired(made).period, 85333),
    ("triggers.fire.rate_per_s", 6, lambda made: fired(made).period, 42666),
    ("triggers.fire.rate_per_s", 50, lambda made: fired(made).period, 5120),
    ("triggers.fire.rate_per_s", 0.05, lambda made: fired(made).period, 5_120_000),
    ("triggers.fire.first_delay_ms", None, lambda made: fired(made).first, 0),
    ("triggers.fire.first_delay_ms", 143, lambda made: fired(made).first, 143 * 256),
    ("triggers.fire.first_delay_ms", 1.999, lambda made: fired(made).first, 511),
    ("triggers.fire.burst", 1, lambda made: fired(made).burst, 1),
    ("triggers.fire.burst", 255, lambda made: fired(made).burst, 255),
    ("triggers.fire.limit", None, lambda made: fired(made).limit, 0),
    ("triggers.fire.limit", 1, lambda made: fired(made).limit, 1),
    ("triggers.fire.limit", 65_535, lambda made: fired(made).limit, 65_535),
]


@pytest.mark.parametrize(
    ("path", "value", "field", "expected"),
    ROWS,
    ids=[f"{path}={value}" for path, value, *_ in ROWS],
)
def test_a_key_becomes_its_field(
    values: Values, path: str, value: object, field: Callable[[Compiled], object], expected: object
) -> None:
    assert field(compiled(changed(values, path, value))) == expected


def test_what_is_not_said_has_its_default(values: Values) -> None:
    table = compiled(values).table
    assert (table.pwm_bits, table.voices, table.voice_rule, table.seed) == (
        12,
        4,
        VoiceRule.OLDEST,
        1,
    )
    assert (table.inputs[0].kind, table.inputs[0].lockout, table.selectors[0].start) == (
        InputKind.BUTTON,
        20,
        0,
    )
    assert table.effects[1].steps[0].release == 40
    assert fired(compiled(values)) == Shots((0,), False, 64_000, 0, 1, 0, 0, 0)


def flicker(**keys: float) -> Values:
    usual = {"to_percent": 80, "low_percent": 20, "every_ms": 45, "length_ms": 0}
    return {"shape": "flicker", **usual, **keys}


# Levels: 80 % is 52428, 99 % 64880; the lowest is kept in steps of 257, so 20 % is 51 of them, 21 %
# (53.55) 54, and no more than fit below the highest. A point every n frames: 65536 / n, rounded down.
@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({}, FadeSegment(Shape.FLICKER, 1, 52428, 51 * 257, 1456)),
        ({"low_percent": 21}, FadeSegment(Shape.FLICKER, 1, 52428, 54 * 257, 1456)),
        ({"low_percent": 0}, FadeSegment(Shape.FLICKER, 1, 52428, 0, 1456)),
        (
            {"to_percent": 99, "low_percent": 99, "length_ms": 9},
            FadeSegment(Shape.FLICKER, 9, 64880, 252 * 257, 1456),
        ),
        ({"every_ms": 1}, FadeSegment(Shape.FLICKER, 1, 52428, 51 * 257, 65535)),
        ({"every_ms": 2}, FadeSegment(Shape.FLICKER, 1, 52428, 51 * 257, 32768)),
    ],
)
def test_flicker_has_its_range_and_its_pace(
    values: Values, keys: dict[str, float], expected: FadeSegment
) -> None:
    made = compiled(changed(values, "fades.flash.segments", [flicker(**keys)]))
    assert segment(made) == expected


def test_a_loop_does_not_go_back_to_its_start(values: Values) -> None:
    values["fades"]["flash"] |= {"from_percent": 50, "loop": True}
    assert compiled(values).table.fades[0].turn == 1


def test_a_ramp_has_its_shots_and_its_last_period(values: Values) -> None:
    values["triggers"]["fire"] |= {"ramp_to_rate_per_s": 7, "ramp_shots": 5}
    assert (fired(compiled(values)).ramp_shots, fired(compiled(values)).ramp_period) == (
        5,
        math.floor(256_000 / 7),
    )


@pytest.mark.parametrize(("mode", "expected"), [("once", Mode.ONCE), ("repeat", Mode.REPEAT)])
def test_modes_that_fire(values: Values, mode: str, expected: Mode) -> None:
    trigger = {
        "mode": mode,
        "input": "lever",
        "effects": ["drone", "bolt"],
        **({"rate_per_s": 2} if mode == "repeat" else {}),
    }
    record = compiled(changed(values, "triggers.fire", trigger)).table.triggers[0]
    assert (record.mode, record.action.effects, record.action.period) == (
        expected,
        (1, 0),
        128_000 if mode == "repeat" else 0,
    )


@pytest.mark.parametrize(
    ("mode", "expected"),
    [("while_held", Mode.WHILE_HELD), ("on_off", Mode.ON_OFF), ("always", Mode.ALWAYS)],
)
def test_modes_that_stay(values: Values, mode: str, expected: Mode) -> None:
    trigger = {
        "mode": mode,
        "during": "drone",
        "end": "bolt",
        "needs": "oil",
        "empty": "bolt",
        **({} if mode == "always" else {"input": "other"}),
    }
    record = compiled(changed(values, "triggers.stay", trigger)).table.triggers[1]
    assert (record.mode, record.action, record.input) == (
        expected,
        Stay(None, 1, 0),
        None if mode == "always" else 1,
    )
    assert (record.needs, record.empty) == (0, 0)


# The frames of what plays longest: a clip of 1600 samples at 16 kHz is 100, one of 800 at 8 kHz
# too, the fade 240; four channels.
@pytest.mark.parametrize(
    ("effect", "expected"),
    [
        ({"sounds": [{"clip": "beep"}]}, 100),
        ({"sounds": [{"clip": "low", "at_ms": 30}]}, 130),
        ({"lights": [{"group": "tail", "fade": "flash", "at_ms": 10}]}, 250),
        ({"lights": [{"group": "tail", "fade": "flash", "stagger_ms": 20}]}, 300),
        ({"lights": [{"group": "tail", "fade": "flash", "stagger_ms": -20}]}, 300),
        ({"counts": [{"counter": "oil", "change": 1, "at_ms": 77}]}, 77),
        ({"sounds": [{"clip": "beep"}], "length_ms": 33}, 33),
    ],
)
def test_an_effect_that_starts_over_lasts_as_long_as_its_last_part(
    values: Values, effect: Values, expected: int
) -> None:
    values["effects"]["bolt"] = effect
    assert compiled(values).table.effects[0].length == expected
    values["triggers"]["stay"] = {"mode": "while_held", "input": "other", "end": "bolt"}
    assert compiled(values).table.effects[0].length == (33 if "length_ms" in effect else 0)


def test_a_clip_that_ends_within_a_frame_takes_all_of_it(values: Values) -> None:
    made = compiled(values, {"beep": prepared("beep", 1601), "low": prepared("low", 10)})
    assert made.table.effects[0].length == 240
    values["effects"]["bolt"] = {"sounds": [{"clip": "beep"}]}
    assert compiled(values, {"beep": prepared("beep", 1601)}).table.effects[0].length == 101


def test_an_effect_that_loops_by_itself_has_no_length_while_it_lasts(values: Values) -> None:
    values["fades"]["flash"]["loop"] = True
    values["triggers"]["stay"] = {"mode": "while_held", "input": "other", "during": "bolt"}
    assert compiled(values).table.effects[0].length == 0
    # To begin with, it lasts as long as its clips: its light goes on below what follows.
    values["triggers"]["stay"] = {"mode": "while_held", "input": "other", "begin": "bolt"}
    assert compiled(values).table.effects[0].length == 100


# A step of 65536 is one sample of the clip a sample of the board.
@pytest.mark.parametrize(
    ("rate_hz", "step"), [(16000, 65536), (8000, 32768), (11025, 45158), (2000, 8192)]
)
def test_a_clip_has_its_step(values: Values, rate_hz: int, step: int) -> None:
    clip = compiled(values, {"beep": prepared("beep", 90, rate_hz)}).table.clips[0]
    assert (clip.step, clip.samples, clip.loop_start, clip.coding, clip.data) == (
        step,
        90,
        None,
        Coding.MULAW,
        bytes(90),
    )


@pytest.mark.parametrize("coding", list(Coding))
def test_a_clip_has_its_coding_and_its_loop(values: Values, coding: Coding) -> None:
    clip = compiled(
        values, {"hum": prepared("hum", 1600, loop=(400, 1600), coding=coding.text)}
    ).table.clips[2]
    assert (clip.coding, clip.loop_start) == (coding, 400)


def test_steps_stand_in_the_order_of_their_times_and_of_the_file(values: Values) -> None:
    values["effects"]["bolt"]["sounds"][0]["at_ms"] = 9
    values["effects"]["bolt"]["counts"][0]["at_ms"] = 9
    kinds = [(type(step).__name__, step.at) for step in compiled(values).table.effects[0].steps]
    assert kinds == [("PlayClip", 0), ("StartFade", 0), ("PlayClip", 9), ("ChangeCount", 9)]


def test_only_what_a_trigger_reaches_is_in_the_table(values: Values) -> None:
    del values["triggers"]["stay"]
    made = compiled(values)
    assert (made.names.effects, made.names.clips, made.names.fades) == (
        ("bolt",),
        ("beep", "low"),
        ("flash",),
    )
    assert len(made.table.effects) == 1 and len(made.table.clips) == 2


def test_times_are_counted_in_the_frames_of_the_board(values: Values) -> None:
    # 21 samples at 22050 Hz: 1050 frames a second, so 100 ms are 105 of them, and a period is 1050
    # / 7 * 256 = 38400.
    values["board"] |= {"sample_rate_hz": 22050, "samples_per_frame": 21}
    values["triggers"]["fire"] |= {"rate_per_s": 7, "after_held_ms": 100}
    made = compiled(values).table
    assert (made.triggers[0].hold, made.triggers[0].action.period) == (105, 38_400)


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        (
            "triggers.fire.first_delay_ms",
            0.001,
            (
                "trigger 'fire': first_delay_ms comes to 0 / 256 frames; allowed: 1 to 16777215 /"
                " 256 frames"
            ),
        ),
        (
            "triggers.fire.rate_per_s",
            0.001,
            (
                "trigger 'fire': rate_per_s comes to 256000000 / 256 frames; allowed: 256 to"
                " 8388607 / 256 frames"
            ),
        ),
        (
            "effects.bolt.sounds.0.at_ms",
            70_000,
            "effect 'bolt': at_ms comes to 70000 frames; allowed: 0 to 65535 frames",
        ),
    ],
)
def test_a_time_that_no_table_holds_is_refused(
    values: Values, path: str, value: object, message: str
) -> None:
    with pytest.raises(TableError) as caught:
        compiled(changed(values, path, value))
    assert str(caught.value).startswith(f"{message}. Change it, or the board's rates.")


def told_of(values: Values) -> str:
    with pytest.raises(TableError) as caught:
        compiled(values)
    return str(caught.value)


def steps(*lengths_ms: float) -> list[Values]:
    return [{"shape": "step", "to_percent": 9, "length_ms": length} for length in lengths_ms]


def test_16_segments_in_a_row_take_8_frames(values: Values) -> None:
    segments = "fades.flash.segments"
    compiled(changed(values, segments, steps(8, *[0] * 15)))
    assert told_of(changed(values, segments, steps(7, *[0] * 15))).startswith(
        "fade 'flash': 16 segments in a row take less than 8 frames together; allowed: 8 ms or more"
    )
    values["fades"]["flash"]["loop"] = True
    compiled(changed(values, segments, steps(1, 0)))
    assert "16 segments in a row" in told_of(changed(values, segments, steps(1, 0, 0)))


def test_more_than_15_things_at_one_time_are_refused(values: Values) -> None:
    counts = [{"counter": "oil", "change": 1, "at_ms": 20}] * 15
    compiled(changed(values, "effects.bolt.counts", counts))
    told = told_of(changed(values, "effects.bolt.counts", [*counts, counts[0]]))
    assert told.startswith(
        "effect 'bolt': 16 sounds, lights and counts at 20 ms; allowed: at most 15 at one time"
    )


def test_too_many_records_are_told_with_the_limit(values: Values) -> None:
    counts = [{"counter": "oil", "change": 1, "at_ms": at} for at in range(1, 2048)]
    assert "table: 6147 steps; allowed: at most 4095" in told_of(
        changed(values, "effects.bolt.counts", [*counts, *counts])
    )
