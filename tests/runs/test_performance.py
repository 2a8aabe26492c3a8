"""The numbers of one run, against what pencil and paper give."""

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fxseq.acoustics import level_report
from fxseq.runs import Performance, in_numbers

Values = dict[str, Any]
Played = Callable[..., Performance]
SQUARE = np.tile([0.5, -0.5], 800)
"""0.1 s at half of full scale, so its power is known sample by sample."""


def without_sound(values: Values) -> Values:
    for part in ("amplifier", "speaker"):
        del values[part]
    values["effects"]["spark"]["sounds"] = []
    return values


LAMP_MA = pytest.approx(4 * 1000 * (5.0 - 0.095 - 1.748) / 330, rel=5e-3)
"""For the highest of the adaptor, 5.1 V, over a transistor of 0.09 V, (5.01 - 1.75) V / 10 mA
are 326 ohm for each LED: of IEC 60063's E24 330 ohm. It gives 5.0 V as a rule.
"""


def test_light_at_full_duty_takes_what_its_strings_take(values: Values, played: Played) -> None:
    # 4 LEDs for 100 of 1000 frames a second; the run is 1 s, a tap of 60 ms and 2 s long.
    run = played(without_sound(values))
    assert run.duration_s == pytest.approx(3.06)
    peak_ma = run.load.draw.peak_ma
    assert (peak_ma, run.load.draw.mean_ma) == (LAMP_MA, pytest.approx(peak_ma * 0.1 / 3.06))
    assert run.load.draw.charge_mah == pytest.approx(peak_ma * 0.1 / 3600)
    assert run.load.draw.energy_wh == pytest.approx(5 * peak_ma / 1000 * 0.1 / 3600)


def test_light_takes_what_the_file_says_where_nothing_feeds_it(
    values: Values, played: Played
) -> None:
    values["supplies"] = {}
    run = played(without_sound(values))
    assert (run.load.draw.peak_ma, run.load.draw.energy_wh) == (40, 0)


def test_a_resistor_of_the_maker_sets_the_current(values: Values, played: Played) -> None:
    # 3.25 V over 650 ohm: half of what the file says an LED takes.
    values["groups"]["lamp"]["resistor_ohm"] = 650
    assert played(without_sound(values)).load.draw.peak_ma == pytest.approx(20, rel=0.02)


@pytest.mark.parametrize("bits", [8, 12, 16])
def test_dimmed_light_takes_the_share_of_cie_1976_that_its_level_has(
    values: Values, played: Played, bits: int
) -> None:
    """Within 0.5 % of the closed form or, where that is more, half a step of the dimming and half
    of 1/65536, to which SPEC 6.6 rounds first.

    The steps are what counts below a level of 68 % at 8 bits, 18 % at 12, 1.1 % at 16; the current
    is that of the step the board puts out.
    """
    levels = [
        0.1,
        0.3,
        0.5,
        0.7,
        1,
        1.3,
        2,
        3.7,
        5,
        8,
        8.1,
        10,
        12.5,
        17.9,
        *range(20, 100, 4),
        99.9,
        100,
    ]
    values["board"]["pwm_bits"] = bits
    values["fades"]["flash"]["segments"] = [
        {"shape": "step", "to_percent": level, "length_ms": 50} for level in levels
    ]
    draw = played(without_sound(values)).load.light_ma
    mean_ma = draw.values[
        np.searchsorted(draw.times_s, 1.001 + 0.05 * np.arange(len(levels)), side="right") - 1
    ]
    # CIE 1976: Y = ((L* + 16) / 116)^3, below L* = 8 it is L* / 903.3.
    share = np.array(
        [((level + 16) / 116) ** 3 if level > 8 else level / 903.2963 for level in levels]
    )
    off = np.abs(mean_ma / mean_ma[-1] - share)
    assert mean_ma[-1] == LAMP_MA
    assert np.all(off <= np.maximum(0.005 * share, 0.5 / (2**bits - 1) + 0.5 / 65536))


def test_groups_add_up_and_are_told_apart(values: Values, played: Played) -> None:
    values["groups"]["lamp"] |= {"channels": 1}
    values["groups"]["eye"] = {
        **values["groups"]["lamp"],
        "first_channel": 1,
        "leds": 1,
        "current_ma": 7,
    }
    values["effects"]["spark"]["lights"].append({"group": "eye", "fade": "flash", "at_ms": 50})
    run = played(without_sound(values))
    # From 1.00 s the lamp, from 1.05 s both, from 1.10 s the eye, from 1.15 s nothing.
    assert run.light.times_s.tolist() == pytest.approx([0, 1, 1.05, 1.1, 1.15])
    assert {name: share.tolist() for name, share in run.light.lit.items()} == {
        "lamp": [0, 1, 1, 0, 0],
        "eye": [0, 0, 1, 1, 0],
    }
    # (5.1 - 0.08 - 1.75) V / 7 mA are 467 ohm: of E24 470 ohm.
    lamp_ma = run.load.light_ma.values[1]
    eye_ma = run.load.light_ma.values[3]
    assert (lamp_ma, eye_ma) == (
        LAMP_MA,
        pytest.approx(1000 * (5.0 - 0.08 - 1.748) / 470, rel=5e-3),
    )
    assert run.load.light_ma.values.tolist() == pytest.approx(
        [0, lamp_ma, lamp_ma + eye_ma, eye_ma, 0]
    )


def test_sound_takes_its_power_over_efficiency_and_voltage(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    # 0.5 V in 8 ohm is 1/32 W; at 80 % from 5 V that is 7.8125 mA, beside 5 mA at rest. Light is on
    # at the same time.
    write_sound("beep.wav", SQUARE)
    values["speaker"]["coil_ohm"] = 8.0
    run = played(values)
    assert run.sound.current_ma.peak() == pytest.approx(12.8125)
    assert run.sound.current_ma.mean() == pytest.approx(5 + 7.8125 * 0.1 / 3.06)
    assert run.load.light_ma.peak() == LAMP_MA
    assert run.load.draw.peak_ma == pytest.approx(12.8125 + run.load.light_ma.peak())
    assert run.load.draw.mean_ma == pytest.approx(
        5 + (7.8125 + run.load.light_ma.peak()) * 0.1 / 3.06
    )


def test_the_supply_that_is_named_sets_voltage_and_clipping(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", SQUARE)
    values["amplifier"]["gain_db"] = 20 * math.log10(6)
    from_wall = played(values)
    from_cells = played(values, supply="cells")
    # Half of 1 V six times is 3 V: below the 5 - 0.5 V of the wall supply, above the 3 - 0.5 V of
    # the cells.
    assert from_wall.heard.volts is not None and from_cells.heard.volts is not None
    assert (float(from_wall.heard.volts.max()), float(from_cells.heard.volts.max())) == (
        pytest.approx(3),
        2.5,
    )
    assert from_cells.heard.levels is not None and from_wall.heard.levels is not None
    assert (from_wall.heard.levels.clipped_share, from_cells.heard.levels.clipped_share) == (
        0,
        pytest.approx(0.1 / 3.06),
    )
    assert from_cells.load.draw.energy_wh == pytest.approx(
        from_cells.load.draw.charge_mah / 1000 * 3
    )
    assert (in_numbers(from_wall)["supply"], in_numbers(from_cells)["supply"]) == ("wall", "cells")


def test_the_amplifier_clips_at_the_sagging_supply(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    # Half of 1 V eight times is 4 V. From 5 V it would pass, (5 - 0.5); over 1 ohm it clips at V -
    # 0.5, and takes (V - 0.5)^2 / (8 * 0.8 V) then: V = 5 - (V - 0.5)^2 / (6.4 V), so 7.4 V^2 - 33
    # V + 0.25 = 0 (algebra).
    write_sound("beep.wav", SQUARE)
    values["speaker"]["coil_ohm"] = 8.0
    values["amplifier"] |= {"gain_db": 20 * math.log10(8), "idle_current_ma": 0}
    values["effects"]["spark"]["lights"] = []
    del values["changeover"]
    values["supplies"] = {"cells": {"kind": "cells", "voltage_v": 5.0, "maximum_current_ma": 2000}}
    assert played(values).heard.levels.clipped_share == 0
    values["supplies"]["cells"]["internal_resistance_ohm"] = 1.0
    run = played(values)
    assert float(run.heard.volts.max()) == pytest.approx(
        (33 + math.sqrt(33**2 - 7.4)) / 14.8 - 0.5, rel=0.002
    )
    assert run.heard.levels.clipped_share == pytest.approx(0.1 / 3.06)
    assert run.heard.levels.speaker_peak_power_w == pytest.approx(
        float(run.heard.volts.max()) ** 2 / 8, rel=1e-4
    )


def test_a_supply_that_sags_but_leaves_room_clips_nothing(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", SQUARE)
    stiff = played(values)
    values["supplies"]["wall"]["internal_resistance_ohm"] = 0.5
    soft = played(values)
    assert soft.load.rail.lowest.typical < stiff.load.rail.lowest.typical
    assert (soft.heard.levels, soft.heard.volts.tolist()) == (
        stiff.heard.levels,
        stiff.heard.volts.tolist(),
    )


def test_a_louder_sound_is_never_less_loud(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    """As the gain goes up, the amplifier clips at the rail that it pulls down itself; it does
    not fall silent.
    """
    write_sound("beep.wav", SQUARE)
    values["supplies"]["wall"]["internal_resistance_ohm"] = 2.0
    runs = []
    for gain_db in range(0, 40, 8):
        values["amplifier"] |= {"gain_db": float(gain_db)}
        runs.append(played(values))
    levels_db = [run.heard.levels.at["hand"].laeq_db for run in runs]
    assert levels_db == sorted(levels_db) and levels_db[-1] == pytest.approx(
        levels_db[-2], abs=0.05
    )
    assert not any(math.isnan(run.load.rail.lowest.low) for run in runs)


def test_an_amplifier_is_silent_once_its_supply_has_collapsed(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", SQUARE)
    values["board"]["current_ma"] = 1200.0
    values["supplies"]["wall"]["internal_resistance_ohm"] = 5.0
    run = played(values)
    assert math.isnan(run.load.rail.lowest.typical)
    assert (
        float(np.abs(run.heard.volts).max()) == 0
        and run.heard.levels.at["hand"].laeq_db == -math.inf
    )


def test_the_level_of_a_long_tone_is_that_of_its_power(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    # 0.5 V peak in 8 ohm is 1/64 W: 80 dB - 18.1 dB at 1 m, 6.0 dB more at half a metre, 12.0 dB
    # less at 4 m. At 1 kHz the A weighting is 0 dB by definition (IEC 61672-1) and the box,
    # resonant at 20 Hz, is flat. After 2 s the F weighting (0.125 s) has settled; 0.1 dB is for its
    # ripple and the edges of the tone.
    write_sound("beep.wav", 0.5 * np.sin(2 * np.pi * np.arange(32000) / 16))
    levels = played(values).heard.levels
    assert levels is not None
    at_1_m = 80 + 10 * math.log10(1 / 64)
    assert levels.at["hand"].lafmax_db == pytest.approx(at_1_m + 20 * math.log10(2), abs=0.1)
    assert levels.at["audience"].lafmax_db == pytest.approx(at_1_m - 20 * math.log10(4), abs=0.1)
    assert levels.at["hand"].laeq_db == pytest.approx(
        at_1_m + 20 * math.log10(2) + 10 * math.log10(2 / 3.06), abs=0.1
    )


def test_levels_are_those_of_acoustics_for_the_boards_samples(
    values: Values, played: Played
) -> None:
    run = played(values)
    sequence = run.prop.sequence
    assert run.heard.levels == level_report(
        run.played.samples,
        16000,
        sequence.amplifier,
        sequence.speaker,
        {"hand": 0.5, "audience": 4.0},
        5.0,
    )


@pytest.mark.parametrize("missing", ["amplifier", "speaker", "supplies"])
def test_no_level_is_given_where_a_part_is_not_described(
    values: Values, played: Played, missing: str
) -> None:
    del values[missing]
    run = played(values)
    assert (run.heard.levels, run.heard.pressure_pa(1.0), in_numbers(run)["levels"]) == (
        None,
        None,
        None,
    )
    assert run.sound.current_ma.peak() == 0


def test_what_is_heard_falls_with_distance(values: Values, played: Played) -> None:
    run = played(values)
    near = run.heard.pressure_pa(0.5)
    far = run.heard.pressure_pa(2.0)
    assert near is not None and far is not None and near.shape == run.played.samples.shape
    np.testing.assert_allclose(near, 4 * far, rtol=1e-4, atol=1e-7)


@pytest.mark.parametrize(
    ("silence_ms", "before", "delay_ms"),
    [(0, 0.0, 1.0625), (5, 0.0, 6.0625), (5, 0.004, 6.0625), (5, 0.006, 1.0625)],
)
def test_the_delay_is_a_frame_and_the_clips_lead_in(
    values: Values,
    played: Played,
    write_sound: Callable[..., None],
    silence_ms: int,
    before: float,
    delay_ms: float,
) -> None:
    """A press waits up to one frame, 1 ms. The tone's second sample, 1/16 ms in, is its first
    above -40 dB of the peak of 0.5: 0.005.
    """
    lead_in = before * (-1.0) ** np.arange(16 * silence_ms)
    lead_in[:1] = 0
    write_sound(
        "beep.wav", np.concatenate([lead_in, 0.5 * np.sin(2 * np.pi * np.arange(1600) / 16)])
    )
    assert played(values).delays_ms == [pytest.approx(delay_ms)]


def test_the_delay_is_that_of_the_first_sound_and_slowest_press(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("late.wav", np.concatenate([np.zeros(160), 0.5 * np.ones(160)]))
    values["clips"]["late"] = {"file": "late.wav", "coding": "pcm16"}
    values["effects"]["both"] = {"sounds": [{"clip": "late"}, {"clip": "beep"}]}
    values["effects"]["slow"] = {"sounds": [{"clip": "late"}]}
    values["triggers"]["fire"]["effects"] = ["both", "slow"]
    run = played(values, "tap lever @1, tap lever @2")
    assert run.delays_ms == [pytest.approx(1.0625), pytest.approx(11)]
    assert in_numbers(run)["trigger_to_sound_ms"] == pytest.approx(11)


def test_a_press_without_a_sound_at_once_has_no_delay(values: Values, played: Played) -> None:
    values["effects"]["spark"]["sounds"][0]["at_ms"] = 30
    run = played(values)
    assert (run.delays_ms, in_numbers(run)["trigger_to_sound_ms"], in_numbers(run)["sounds"]) == (
        [],
        None,
        1,
    )


def test_shots_are_counted_by_trigger_and_time(values: Values, played: Played) -> None:
    values["inputs"]["second"] = {}
    values["triggers"]["roll"] = {
        "mode": "repeat",
        "input": "second",
        "rate_per_s": 4,
        "effects": ["spark"],
    }
    values["triggers"]["idle"] = {
        "mode": "once",
        "input": "lever",
        "after_held_ms": 500,
        "effects": ["spark"],
    }
    run = played(values, "tap lever @0.5, tap lever @1, hold second @2..3")
    assert [(shot.trigger, shot.at_s) for shot in run.shots] == [
        ("fire", 0.5),
        ("fire", 1),
        ("roll", 2),
        ("roll", 2.25),
        ("roll", 2.5),
        ("roll", 2.75),
        ("roll", 3),
    ]
    assert in_numbers(run)["shots"] == {"fire": 2, "roll": 5, "idle": 0}
    assert in_numbers(run)["presses"] == 3


def test_voices_and_cuts_are_counted(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", 0.1 * np.ones(16000))
    taps = ("tap lever @0.5", "tap lever @0.7", "tap lever @0.9")
    one, two, three = (in_numbers(played(values, ", ".join(taps[:count]))) for count in (1, 2, 3))
    assert [run["voices"] for run in (one, two, three)] == [
        {"at_most": count, "available": 2, "cut": cut} for count, cut in ((1, 0), (2, 0), (2, 1))
    ]
    assert [run["sounds"] for run in (one, two, three)] == [1, 2, 3]


def test_saturated_samples_are_counted(
    values: Values, played: Played, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", 0.75 * np.ones(1600))
    assert in_numbers(played(values))["saturated_samples"] == 0
    values["effects"]["spark"]["sounds"] *= 2
    assert in_numbers(played(values))["saturated_samples"] == 1600


def test_the_table_is_counted_in_bytes(values: Values, played: Played) -> None:
    pcm16, mulaw = (
        played({**values, "clips": {"beep": {"file": "beep.wav", "coding": coding}}})
        for coding in ("pcm16", "mulaw")
    )
    assert in_numbers(pcm16)["table"] == {
        "bytes": len(pcm16.prop.compiled.data),
        "clip_bytes": 3200,
        "flash_bytes": 262144,
    }
    assert in_numbers(mulaw)["table"]["clip_bytes"] == 1600


def test_a_prop_of_light_alone_and_one_that_does_nothing_have_a_summary(
    values: Values, played: Played
) -> None:
    light = in_numbers(played(without_sound(values)))
    values["effects"]["spark"]["lights"], values["groups"], values["fades"] = [], {}, {}
    nothing = in_numbers(played(values, "end @3"))
    assert json.loads(json.dumps(light, allow_nan=False))["sounds"] == 0
    assert json.loads(json.dumps(nothing, allow_nan=False))["current"] == {
        "duration_s": 3,
        "mean_ma": 0,
        "rms_ma": 0,
        "peak_ma": 0,
        "charge_mah": 0,
        "energy_wh": 0,
    }
    assert nothing["flashes"]["together"]["general"] == {
        "flashes_per_s": 0,
        "at_s": None,
        "passes": True,
        "out_of_step": False,
    }


def test_currents_are_those_of_the_supply_that_was_asked_for(
    values: Values, played: Played
) -> None:
    # Neither adaptor has a resistance. The second hangs its LEDs on 3.6 V: what the one string of
    # two takes there is less than from 5 V.
    values["supplies"]["weak"] = {
        "kind": "wall",
        "voltage_v": 3.6,
        "tolerance_percent": 0,
        "maximum_current_ma": 500,
    }
    strong, weak = (played(values, supply=name).load.current_ma.peak() for name in ("wall", "weak"))
    values["supplies"]["weak"]["internal_resistance_ohm"] = 0.001
    assert weak < strong - 5
    assert weak == pytest.approx(played(values, supply="weak").load.current_ma.peak(), rel=1e-3)


def test_the_diode_of_a_changeover_counts_without_resistance_too(
    values: Values, played: Played
) -> None:
    # A resistance of a milliohm always made the rail count; without it the diode was left out.
    values["changeover"] = "diodes"
    without = played(values, supply="wall").load.current_ma.peak()
    values["supplies"]["wall"]["internal_resistance_ohm"] = 0.001
    assert without == pytest.approx(played(values, supply="wall").load.current_ma.peak(), rel=1e-3)


def test_rail_over_time_and_effective_currents_can_be_read(values: Values, played: Played) -> None:
    values["supplies"]["wall"]["internal_resistance_ohm"] = 2
    run = played(without_sound(values), supply="wall")
    summary = json.loads(json.dumps(in_numbers(run), allow_nan=False))
    # Lit from 1.0 to 1.1 s: 38 mA over 2 ohm.
    assert summary["rail"]["lowest_in_block_v"][99:112:4] == pytest.approx(
        [5.0, 5 - 0.076, 5 - 0.076, 5.0], abs=0.005
    )
    assert summary["current"]["rms_ma"] == pytest.approx(
        summary["current"]["peak_ma"] * math.sqrt(0.1 / 3.06)
    )
    lamp = summary["strings"]["lamp"]
    assert (lamp["mean_ma"], lamp["rms_ma"]) == pytest.approx(
        (lamp["lit_ma"] * 0.1 / 3.06, lamp["lit_ma"] * math.sqrt(0.1 / 3.06))
    )
