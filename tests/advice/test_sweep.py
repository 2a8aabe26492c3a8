"""What is measured at each rate, against what the curves and clips say by themselves."""

import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
import pytest

from fxseq.advice import Limit, RatePoint, limits_of, measure
from fxseq.checks import findings
from fxseq.power import circuits
from fxseq.runs import Prop, perform
from fxseq.sequence import Weight

Values = dict[str, Any]
Build = Callable[..., Prop]


def sweep(
    prop: Prop, trigger: str, rates_per_s: Iterable[float], supply: str | None = None
) -> Iterator[RatePoint]:
    return (measure(prop, trigger, rate, supply) for rate in rates_per_s)


def at(prop: Prop, rate_per_s: float) -> RatePoint:
    return measure(prop, "roll", rate_per_s)


def click(decay_s: float = 0.05, seconds: float = 0.5, level: float = 0.2) -> np.ndarray:
    """A square wave under a falling exponential: its power is the envelope's, sample by sample."""
    count = round(seconds * 16000)
    return level * np.tile([1.0, -1.0], count // 2) * np.exp(-np.arange(count) / (16000 * decay_s))


FALLING = [
    {"shape": "step", "to_percent": 100, "length_ms": 10},
    {"shape": "straight", "to_percent": 0, "length_ms": 400},
]


@pytest.mark.parametrize("rate_per_s", [1, 2, 2.5, 4, 5, 8, 10])
def test_light_falls_as_far_as_a_straight_fade_gets(
    values: Values, build: Build, rate_per_s: float
) -> None:
    # Full from the shot on, from 10 ms down by 1/400 a ms; the last frame before the next shot is 1
    # ms before it, the last look (SPEC 6.2) up to 3 ms more.
    values["fades"]["flash"]["segments"] = FALLING
    lightness = max(1 - (1000 / rate_per_s - 1 - 10) / 400, 0)
    assert at(build(values), rate_per_s).light_fall == pytest.approx(
        (1 - lightness) / (1 + lightness), abs=0.016
    )


@pytest.mark.parametrize("rate_per_s", [1, 2, 2.5, 4, 5, 8, 10])
def test_light_falls_as_far_as_a_decay_gets(
    values: Values, build: Build, rate_per_s: float
) -> None:
    # SPEC 6.3: what is left after a share x of the time is (e^-5x - e^-5) / (1 - e^-5), in 16
    # straight pieces: 1.3 % off at most.
    values["fades"]["flash"]["segments"] = [
        FALLING[0],
        {"shape": "decay", "to_percent": 0, "length_ms": 400},
    ]
    way = min((1000 / rate_per_s - 1 - 10) / 400, 1)
    lightness = (math.exp(-5 * way) - math.exp(-5)) / (1 - math.exp(-5))
    assert at(build(values), rate_per_s).light_fall == pytest.approx(
        (1 - lightness) / (1 + lightness), abs=0.025
    )


@pytest.mark.quick
def test_light_that_falls_by_less_than_a_fifth_binds(values: Values, build: Build) -> None:
    # (1 - L) / (1 + L) = 0.2 at L = 2/3, which the straight fade reaches after 10 + 133.3 ms:
    # between 6.8 and 7 shots a second, or a look of up to 3 ms earlier.
    values["fades"]["flash"]["segments"] = FALLING
    prop = build(values)
    assert Limit.LIGHT not in at(prop, 6.6).broken
    assert Limit.LIGHT in at(prop, 7.0).broken


def test_light_that_never_falls_binds(values: Values, build: Build) -> None:
    values["fades"]["flash"]["segments"][0]["length_ms"] = 500
    point = at(build(values), 4)
    assert point.light_fall == 0
    assert Limit.LIGHT in point.broken


def test_light_of_other_triggers_does_not_count(values: Values, build: Build) -> None:
    values["groups"]["wick"] = {**values["groups"]["lamp"], "first_channel": 1}
    values["fades"]["on"] = {"segments": [{"to_percent": 50, "length_ms": 5}]}
    values["effects"]["glow"] = {"lights": [{"group": "wick", "fade": "on"}]}
    values["triggers"]["glow"] = {"mode": "always", "during": "glow"}
    assert at(build(values), 4).light_fall == 1
    point = at(build(values, click(), lit=False), 4)
    assert (point.light_fall, Limit.LIGHT in point.broken) == (None, False)


def test_light_is_judged_shot_by_shot_where_groups_take_turns(values: Values, build: Build) -> None:
    values["groups"]["other"] = {**values["groups"]["lamp"], "first_channel": 1}
    values["effects"]["second"] = {"lights": [{"group": "other", "fade": "flash"}]}
    values["effects"]["dark"] = {"counts": [{"counter": "left", "change": 1}]}
    values["counters"] = {"left": {"maximum": 5}}
    values["triggers"]["roll"]["effects"] = ["spark", "second", "dark"]
    assert at(build(values), 4).light_fall == 1


def test_sound_falls_as_far_as_its_decay(values: Values, build: Build) -> None:
    # From the first 10 ms to the last 10 ms before the next shot, 190 ms later: 8.686 dB for each
    # 50 ms. All tails fall alike.
    values["board"]["voices"] = 16
    assert at(build(values, click(), lit=False), 5).sound_fall_db == pytest.approx(
        8.686 * 190 / 50, abs=0.1
    )


def test_sound_that_falls_by_less_than_6_db_binds(values: Values, build: Build) -> None:
    # 8.686 dB in 50 ms: 6.9 dB over the 40 ms of 20 a second, 5.2 dB over the 30 ms of 25 a second.
    values["board"]["voices"] = 16
    prop = build(values, click(level=0.05), lit=False)
    assert at(prop, 20).broken == ()
    assert at(prop, 25).broken == (Limit.SOUND,)


@pytest.mark.parametrize("heard", [False, True])
def test_sound_falls_less_the_faster_the_rate(
    values: Values, described: Values, build: Build, heard: bool
) -> None:
    values["board"]["voices"] = 16
    values |= described if heard else {}
    falls = [
        point.sound_fall_db
        for point in sweep(
            build(values, click(), lit=False), "roll", [2, 4, 5, 8, 10, 12.5, 20, 25, 40, 50]
        )
    ]
    assert falls == sorted(falls, reverse=True)
    assert falls[0] > 50 and falls[-1] < 2


def test_sound_of_other_triggers_does_not_count_where_the_trigger_is_silent(
    values: Values, build: Build
) -> None:
    prop = build(values, np.tile([0.1, -0.1], 800))
    assert at(prop, 4).sound_fall_db == 60
    values["effects"]["spark"]["sounds"], values["effects"]["hum"] = [], {
        "sounds": [{"clip": "beep"}]
    }
    values["triggers"]["hum"] = {"mode": "while_held", "input": "lever", "during": "hum"}
    point = at(build(values), 4)
    assert (point.sound_fall_db, Limit.SOUND in point.broken) == (None, False)


@pytest.mark.parametrize("frames", [(16000, 16), (22050, 21), (44100, 45), (8000, 7)])
def test_three_full_flashes_a_second_pass_and_more_do_not(
    values: Values, build: Build, frames: tuple[int, int]
) -> None:
    # WCAG 2.2, 2.3.1: no more than three flashes in any period of one second.
    values["board"] |= dict(zip(("sample_rate_hz", "samples_per_frame"), frames, strict=True))
    prop = build(values)
    three, more = sweep(prop, "roll", [3.0, 3.1])
    assert (three.flashes_per_s, three.broken) == (3, ())
    assert (more.flashes_per_s, more.broken) == (3.5, (Limit.FLASHES,))


@pytest.mark.parametrize(("rate_per_s", "binds"), [(2, False), (6, True)])
def test_lamps_that_flash_in_turn_bind_though_their_sum_is_nearly_steady(
    values: Values, build: Build, rate_per_s: float, binds: bool
) -> None:
    # Each shot runs along 24 lamps, one at a time: less than a tenth of the group's light ever
    # changes.
    values["board"]["channels"] = 24
    values["groups"]["lamp"] |= {"leds": 24, "channels": 24}
    values["fades"]["flash"]["segments"][0]["length_ms"] = 7
    values["effects"]["spark"]["lights"] = [{"group": "lamp", "fade": "flash", "stagger_ms": 7}]
    point = at(build(values), rate_per_s)
    assert (point.flashes_per_s, Limit.FLASHES in point.broken) == (rate_per_s, binds)


def test_sounds_that_are_cut_bind(values: Values, build: Build) -> None:
    # 300 ms of sound and two voices: at 5 a second two overlap, at 7 three.
    prop = build(values, 0.1 * np.tile([1.0, -1.0], 2400), lit=False)
    assert [
        (point.cut_sounds > 0, Limit.VOICES in point.broken)
        for point in sweep(prop, "roll", [5, 7])
    ] == [(False, False), (True, True)]


def test_voices_that_add_up_beyond_full_scale_bind(values: Values, build: Build) -> None:
    prop = build(values, 0.75 * np.tile([1.0, -1.0], 2400), lit=False)
    slow, fast = sweep(prop, "roll", [2, 5])
    assert (slow.saturated_share, Limit.SATURATION in slow.broken) == (0, False)
    # From the second shot on the first half of each period of 200 ms has two voices of 0.75 each.
    assert fast.saturated_share == pytest.approx(0.5, abs=0.04)
    assert Limit.SATURATION in fast.broken


def test_an_amplifier_that_clips_binds(values: Values, described: Values, build: Build) -> None:
    values |= described
    tone = 0.5 * np.tile([1.0, -1.0], 800)
    assert Limit.CLIPPING not in at(build(values, tone), 2).broken
    values["amplifier"]["gain_db"] = 30
    point = at(build(values, tone), 2)
    # Each sound lasts 100 ms of the 500 ms from shot to shot, and clips throughout.
    assert point.clipped_share == pytest.approx(0.2, abs=0.04)
    assert Limit.CLIPPING in point.broken


def test_a_peak_beyond_the_supply_binds(values: Values, described: Values, build: Build) -> None:
    wall = described["supplies"]["wall"]
    # For 12.6 V, the most of that adaptor, 9.5 V are left for each of 4 resistors: 950 ohm for 10
    # mA, 1 kohm of E24. It gives 12 V: 8.9 mA.
    values["supplies"] = {
        "enough": wall | {"maximum_current_ma": 36.5},
        "weak": wall | {"maximum_current_ma": 35},
    }
    prop = build(values)
    enough, weak = (next(sweep(prop, "roll", [2], supply)) for supply in ("enough", "weak"))
    assert (enough.peak_ma, enough.broken, weak.broken) == (
        pytest.approx(35.7, rel=0.005),
        (),
        (Limit.CURRENT,),
    )


def test_a_supply_that_falls_too_low_binds(values: Values, described: Values, build: Build) -> None:
    wall = described["supplies"]["wall"]
    values["supplies"] = {"soft": wall | {"internal_resistance_ohm": 20, "minimum_v": 11.0}}
    values["supplies"]["stiff"] = values["supplies"]["soft"] | {"internal_resistance_ohm": 1}
    prop = build(values)
    soft, stiff = (next(sweep(prop, "roll", [2], supply)) for supply in ("soft", "stiff"))
    # Some 38 mA through 20 ohm take 0.8 V off 12 V less or more; through 1 ohm nearly none.
    assert (soft.lowest_v < stiff.lowest_v, soft.lowest_v) == (True, pytest.approx(11.3, abs=0.1))
    assert (soft.broken, stiff.broken) == ((), ())
    values["supplies"]["soft"]["minimum_v"] = 11.5
    assert at(build(values), 2).broken == (Limit.RAIL,)


def test_a_speaker_that_gets_too_much_binds(
    values: Values, described: Values, build: Build
) -> None:
    values |= described
    tone = 0.5 * np.tile([1.0, -1.0], 800)
    gentle = at(build(values, tone), 2)
    values["speaker"]["rated_power_w"] = 0.5 * gentle.speaker_w
    values["speaker"]["excursion_mm"] = 0.5 * gentle.excursion_mm
    assert {Limit.SPEAKER_POWER, Limit.EXCURSION} <= set(at(build(values, tone), 2).broken) - set(
        gentle.broken
    )


def test_level_over_the_day_is_that_of_the_hours_held_with_what_it_may_be_off_by(
    values: Values, described: Values, build: Build
) -> None:
    values |= described
    values["listening"] = {"hours_a_day": 4}
    tone = 0.5 * np.tile([1.0, -1.0], 800)
    all_of_it = at(build(values, tone), 2)
    # LEX,8h = LAeq + 10 lg(T / 8 h) (2003/10/EC by way of ISO 1999); NIOSH: 100 % at 85 dB(A) for 8
    # h, half the time for 3 dB more.
    held_db = all_of_it.laeq_db + 10 * math.log10(4 / 8)
    spread_db = math.hypot(3.0, 20 * math.log10(1 / 0.8))
    assert held_db + spread_db - 0.05 < all_of_it.day_dba < held_db + spread_db + 2
    assert all_of_it.dose_percent == pytest.approx(
        100 * 4 / 8 * 2 ** ((all_of_it.laeq_db - 85) / 3), rel=0.01
    )
    values["day"] = {"hours": 5, "held_s_an_hour": 360}
    half_an_hour = at(build(values, tone), 2)
    assert half_an_hour.day_dba == pytest.approx(all_of_it.day_dba - 10 * math.log10(8))
    assert half_an_hour.dose_percent == pytest.approx(all_of_it.dose_percent / 8)
    values["day"] = {"hours": 5, "taps_an_hour": 100}
    assert at(build(values, tone), 2).day_dba == pytest.approx(all_of_it.day_dba)


@pytest.mark.parametrize("louder_db", [-2, 2])
def test_a_day_that_check_warns_of_binds(
    values: Values, described: Values, build: Build, louder_db: float
) -> None:
    # Of a tone without a gap; what a press script adds at its end takes less than 2 dB off its
    # level.
    values |= described
    tone = 0.5 * np.tile([1.0, -1.0], 8000)
    over_db = 85 - at(build(values, tone), 2).day_dba
    values["speaker"]["sensitivity_db"] += over_db + louder_db
    values["triggers"]["roll"]["rate_per_s"] = 2
    prop = build(values, tone)
    point = at(prop, 2)
    assert point.day_dba == pytest.approx(85 + louder_db, abs=0.01)
    checked = findings(perform(prop, prop.script("hold lever @0..4")[0]))
    warned = any(
        finding.check == "hazard.hearing" and finding.weight >= Weight.WARNING
        for finding in checked
    )
    assert (Limit.DOSE in point.broken) == warned == (louder_db > 0)


def test_what_no_ear_may_hear_at_any_time_binds(
    values: Values, described: Values, build: Build
) -> None:
    # NIOSH: never above 115 dB(A).
    values |= described
    values["day"] = {"hours": 0.01, "held_s_an_hour": 1}
    tone = 0.5 * np.tile([1.0, -1.0], 800)
    loudest_db = at(build(values, tone), 2).lafmax_db
    values["speaker"]["sensitivity_db"] += 115 - loudest_db - 10
    assert Limit.LOUDEST not in at(build(values, tone), 2).broken
    values["speaker"]["sensitivity_db"] += 12
    point = at(build(values, tone), 2)
    assert Limit.LOUDEST in point.broken and Limit.DOSE not in point.broken


def test_silence_has_no_dose(values: Values, described: Values, build: Build) -> None:
    values |= described
    values["clips"], values["effects"]["spark"]["sounds"] = {}, []
    point = at(build(values), 2)
    assert (point.day_dba, point.dose_percent, Limit.DOSE in point.broken) == (None, None, False)


def test_a_resistor_is_as_hot_as_its_channel_is_lit(
    values: Values, described: Values, build: Build
) -> None:
    # 9.6 V at 12.6 V supply in 1 kohm less 5 %, for 50 ms each half second: LEDs of the lowest
    # forward voltage count.
    values |= described
    values["groups"]["dark"] = {**values["groups"]["lamp"], "first_channel": 1}
    lit_w = circuits(build(values).sequence)["lamp"].layout.power_w
    assert lit_w == pytest.approx(9.6**2 / 1000, rel=0.15)
    slow, fast = sweep(build(values), "roll", [2, 10])
    assert slow.resistor_w == pytest.approx(lit_w * 0.1, rel=0.05)
    assert fast.resistor_w == pytest.approx(lit_w * 0.5, rel=0.05)
    del values["supplies"]
    assert at(build(values), 2).resistor_w is None


def test_a_resistor_that_no_common_one_is_large_enough_for_binds(
    values: Values, described: Values, build: Build
) -> None:
    # 9.5 V at 500 mA are 4.8 W while lit; half of 5 W is reached at a share of about a half.
    values |= described
    values["groups"]["lamp"] |= {"leds": 1, "current_ma": 500}
    cool, hot = sweep(build(values), "roll", [4, 16])
    assert (
        cool.resistor_w < 2.5 < hot.resistor_w,
        Limit.RESISTOR_HEAT in cool.broken,
        Limit.RESISTOR_HEAT in hot.broken,
    ) == (True, False, True)


@pytest.mark.parametrize(("stands_w", "binds"), [(1.0, False), (0.01, True)])
def test_an_amplifier_that_check_warns_of_binds(
    values: Values, described: Values, build: Build, stands_w: float, binds: bool
) -> None:
    values |= described
    values["amplifier"]["maximum_heat_w"] = stands_w
    assert (
        Limit.PART_HEAT in at(build(values, 0.5 * np.tile([1.0, -1.0], 800)), 2).broken
    ) == binds


def test_limits_are_those_of_the_prop(values: Values, described: Values, build: Build) -> None:
    bare = limits_of(build(values))
    assert bare == {
        Limit.LIGHT: 0.2,
        Limit.SOUND: 6,
        Limit.FLASHES: 3,
        Limit.CLIPPING: 0.001,
        Limit.SATURATION: 0.001,
        Limit.VOICES: 0,
        Limit.DOSE: 85,
    }
    described["supplies"]["weak"] = described["supplies"]["wall"] | {
        "maximum_current_ma": 100,
        "minimum_v": 9,
    }
    described["speaker"]["excursion_mm"] = 0.4
    own = limits_of(build(values | described), "weak")
    # 10 mA in 1 kohm of its sheet: 0.1 W at the most, for which it buys 0.25 W.
    assert own == bare | {
        Limit.CURRENT: 100,
        Limit.RAIL: 9,
        Limit.SPEAKER_POWER: 5,
        Limit.EXCURSION: 0.4,
        Limit.RESISTOR_HEAT: 0.125,
    }


def test_current_grows_with_the_rate(values: Values, build: Build) -> None:
    # 40 mA for 50 ms a shot, over 0.5 s at rest and 3 s held (4 s for 8 shots at 2 a second).
    values["board"]["voices"] = 1
    one, two = sweep(build(values), "roll", [2, 10])
    assert one.mean_ma == pytest.approx(40 * 0.05 * 8 / 4.501, rel=0.01)
    assert two.mean_ma == pytest.approx(40 * 0.05 * 30 / 3.501, rel=0.01)


def test_level_is_that_at_the_hand_and_grows_with_the_rate(
    values: Values, described: Values, build: Build
) -> None:
    values |= described
    prop = build(values, 0.5 * np.sin(2 * np.pi * np.arange(1600) / 16))
    slow, fast = sweep(prop, "roll", [1, 4])
    assert slow.laeq_db is not None and fast.laeq_db is not None and slow.lafmax_db is not None
    # 0.5 V peak in 8 ohm for a tenth of the time, at half a metre; four times the shots are 6.0 dB
    # more.
    assert slow.laeq_db == pytest.approx(
        80 + 10 * math.log10(1 / 64 * 0.1) + 20 * math.log10(2), abs=0.2
    )
    assert fast.laeq_db - slow.laeq_db == pytest.approx(10 * math.log10(4), abs=0.1)
    assert slow.lafmax_db > slow.laeq_db


def test_no_level_is_given_without_sound_or_speaker(
    values: Values, described: Values, build: Build
) -> None:
    assert (at(build(values, click()), 2).laeq_db, at(build(values, click()), 2).lafmax_db) == (
        None,
        None,
    )
    values["clips"], values["effects"]["spark"]["sounds"] = {}, []
    values |= described
    assert at(build(values), 2).laeq_db is None


def test_counters_never_run_out_while_a_rate_is_measured(values: Values, build: Build) -> None:
    values["groups"]["arc"] = {**values["groups"]["lamp"], "first_channel": 1}
    values["effects"]["burn"] = {"lights": [{"group": "arc", "fade": "flash"}]}
    values["triggers"]["arc"] = {
        "mode": "while_held",
        "input": "lever",
        "after_held_ms": 1500,
        "during": "burn",
    }
    plenty = list(sweep(build(values), "roll", [2, 10]))
    values["counters"] = {"oil": {"maximum": 2, "start": 0}}
    values["effects"]["spark"]["counts"] = [{"counter": "oil", "change": -1}]
    values["effects"]["dry"] = values["effects"]["burn"]
    for trigger in values["triggers"].values():
        trigger |= {"needs": "oil", "empty": "dry"}
    assert list(sweep(build(values), "roll", [2, 10])) == plenty


@pytest.mark.parametrize(
    "extra",
    [
        {"first_delay_ms": 900},
        {"limit": 3},
        {"burst": 20},
        {"ramp_to_rate_per_s": 30, "ramp_shots": 5},
        {"rate_per_s": 17},
        {"when": {"ring": "storm"}},
    ],
)
def test_only_the_rate_that_is_measured_counts(values: Values, build: Build, extra: Values) -> None:
    values["selectors"] = {"ring": {"positions": ["slow", "storm"]}}
    plain = list(sweep(build(values), "roll", [2, 5]))
    values["triggers"]["roll"] |= extra
    assert list(sweep(build(values), "roll", [2, 5])) == plain


def test_the_time_before_the_first_shot_does_not_shorten_the_hold(
    values: Values, build: Build
) -> None:
    plain = at(build(values), 4)
    values["triggers"]["roll"]["after_held_ms"] = 2000
    late = at(build(values), 4)
    assert late.mean_ma * 5.501 == pytest.approx(plain.mean_ma * 3.501, rel=0.001)


def test_the_prop_itself_is_not_changed(values: Values, build: Build) -> None:
    prop = build(values)
    table = prop.compiled.table
    data = prop.compiled.data
    list(sweep(prop, "roll", [1, 9]))
    assert prop.compiled.table is table and prop.compiled.data is data
    assert table.triggers[0].action.period == 500 * 256
