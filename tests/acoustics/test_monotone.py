"""What physics orders stays in order, for any part that a file may describe."""

import math
from typing import Any

import numpy as np
import pytest
from described import AMPLIFIER, ANY, GRILLE, OPEN_BACK, allowed, some
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fxseq.acoustics import (
    clipping_power_w,
    clipping_voltage_v,
    driver_of,
    level_db_spl,
    level_report,
    lost_in_free_air_db,
    mount_of,
    mounted_resonance_hz,
    output_voltage_v,
    pressure_per_volt,
    speaker_response,
    supply_current_a,
)
from fxseq.sequence.model import Board
from fxseq.sequence.parts import Amplifier, Grille, Speaker
from fxseq.sequence.sound_rules import speaker_faults

RATE_HZ = 8000
VOLTS = some(1e-3, 60)
MORE = st.floats(0, 60)
LOAD_OHM = allowed(Speaker, "impedance_ohm")
NOISE = np.random.default_rng(7).integers(-32768, 32768, 2000).astype(np.int16)
SPEAKER = Speaker(
    diameter_mm=28.0, impedance_ohm=8.0, resonance_hz=700.0, sensitivity_db=85.0, rated_power_w=1.0
)


def accepted(keys: dict[str, Any]) -> Speaker:
    speaker = Speaker(**keys)
    assume(not list(speaker_faults(speaker)))
    return speaker


@given(AMPLIFIER, VOLTS, MORE, LOAD_OHM)
def test_higher_supply_never_clips_sooner_nor_gives_less_power(
    part: Amplifier, supply_v: float, more_v: float, load_ohm: float
) -> None:
    assert (
        0
        <= clipping_voltage_v(part, supply_v, load_ohm)
        <= clipping_voltage_v(part, supply_v + more_v, load_ohm)
    )
    assert (
        clipping_power_w(part, supply_v, load_ohm)
        <= clipping_power_w(part, supply_v + more_v, load_ohm)
        < math.inf
    )
    assert (
        output_voltage_v(NOISE, part, supply_v, load_ohm)[1]
        >= output_voltage_v(NOISE, part, supply_v + more_v, load_ohm)[1]
    )


@pytest.mark.parametrize(("key", "most"), [("lost_voltage_v", 10.0), ("on_resistance_ohm", 100.0)])
@given(AMPLIFIER, VOLTS, LOAD_OHM, st.floats(0, 1))
def test_more_losses_never_clip_later(
    key: str, most: float, part: Amplifier, supply_v: float, load_ohm: float, share: float
) -> None:
    worse = part.model_copy(update={key: getattr(part, key) + share * (most - getattr(part, key))})
    assert clipping_voltage_v(worse, supply_v, load_ohm) <= clipping_voltage_v(
        part, supply_v, load_ohm
    ) * (1 + 1e-12)


@given(AMPLIFIER, VOLTS, st.floats(0, 1))
def test_softer_sound_never_takes_more_current_and_silence_takes_the_idle_one(
    part: Amplifier, supply_v: float, share: float
) -> None:
    volts = NOISE / 32768 * supply_v
    loud, soft, silent = (
        supply_current_a(volts * factor, SPEAKER, part, supply_v, 100)
        for factor in (1.0, share, 0.0)
    )
    assert np.isfinite(loud).all()
    assert (soft <= loud * (1 + 1e-9)).all()
    assert silent == pytest.approx(part.idle_current_ma / 1000)


@settings(max_examples=30)
@given(ANY, AMPLIFIER, VOLTS, st.sampled_from(["half", "full"]), st.integers(6, 16))
def test_every_speaker_and_amplifier_that_a_file_may_describe_give_a_report(
    keys: dict[str, Any],
    part: Amplifier,
    supply_v: float,
    space: str,
    bits: int,
) -> None:
    report = level_report(
        NOISE,
        RATE_HZ,
        part,
        accepted(keys),
        {"hand": 0.05, "audience": 100.0},
        supply_v,
        space,
        Board(part="pico", channels=1, sample_rate_hz=RATE_HZ, sound_bits=bits),
    )
    figures = [
        report.uncertainty_db,
        report.clipped_share,
        report.speaker_mean_power_w,
        report.speaker_highest_power_w,
        report.speaker_peak_power_w,
        report.excursion_peak_mm,
    ]
    assert all(0 <= figure < math.inf for figure in figures)
    for level in report.at.values():
        assert not any(
            math.isnan(figure) or figure == math.inf
            for figure in (level.laeq_db, level.lafmax_db, level.lcpeak_db)
        )
    assert report.at["audience"].laeq_db <= report.at["hand"].laeq_db


@given(ANY, some(1e-6, 1000), some(1.001, 1000), some(0.05, 100), some(1.001, 100))
def test_more_power_is_louder_and_more_distance_softer(
    keys: dict[str, Any], power_w: float, more: float, distance_m: float, further: float
) -> None:
    speaker = accepted(keys)
    here_db = level_db_spl(speaker, power_w, distance_m)
    assert level_db_spl(speaker, power_w * more, distance_m) - here_db == pytest.approx(
        10 * math.log10(more), abs=1e-6
    )
    assert level_db_spl(speaker, power_w, distance_m * further) - here_db == pytest.approx(
        -20 * math.log10(further), abs=1e-6
    )


@given(ANY)
def test_full_space_halves_the_pressure_of_any_speaker(keys: dict[str, Any]) -> None:
    frequencies = np.geomspace(20, 20_000, 30)
    half, full = (
        speaker_response(accepted(keys), 1.0, space)(frequencies) for space in ("half", "full")
    )
    assert np.abs(full) == pytest.approx(np.abs(half) / 2)


@given(OPEN_BACK, allowed(Speaker, "chamber_ml"), some(1.01, 1000))
def test_smaller_chamber_never_lowers_the_resonance_and_never_gives_more_lows(
    keys: dict[str, Any], chamber_ml: float, larger: float
) -> None:
    small, large = (
        accepted({**keys, "chamber_ml": millilitres})
        for millilitres in (chamber_ml, min(chamber_ml * larger, 1e6))
    )
    assert (
        mounted_resonance_hz(small)
        >= mounted_resonance_hz(large)
        >= driver_of(large).resonance_hz * (1 - 1e-9)
    )
    # Two octaves below the lower one the spring rules, whatever the Q that a file allows; the rest
    # is rounding.
    low_hz = np.array([mounted_resonance_hz(large) / 100])
    soft, loud = (
        abs(pressure_per_volt(low_hz, driver_of(speaker), mount_of(speaker))[0])
        for speaker in (small, large)
    )
    assert soft <= loud * 1.001


@given(OPEN_BACK, st.floats(0, 20))
def test_more_sensitivity_is_louder_by_as_much_and_free_air_never_softer(
    keys: dict[str, Any], more_db: float
) -> None:
    keys = {key: value for key, value in keys.items() if key != "moving_mass_g"} | {
        "sensitivity_db": keys["sensitivity_db"] - 20
    }
    assume(keys["sensitivity_db"] >= 30)
    softer, louder = (
        accepted({**keys, "sensitivity_db": keys["sensitivity_db"] + db}) for db in (0, more_db)
    )
    assert level_db_spl(louder, 1, 1) - level_db_spl(softer, 1, 1) == pytest.approx(
        more_db, abs=1e-6
    )
    assert lost_in_free_air_db(
        accepted({**keys, "sensitivity_baffle": False})
    ) >= lost_in_free_air_db(accepted({**keys, "sensitivity_baffle": True}))


@given(
    ANY, GRILLE.map(lambda grille: grille.model_copy(update={"gap_ml": 0.0})), st.integers(1, 1000)
)
def test_grille_takes_treble_and_fewer_holes_take_more(
    keys: dict[str, Any], grille: Grille, more: int
) -> None:
    bare = accepted({**keys, "grille": None, "coil_mh": 0.0})
    high_hz = np.array([20 * max(mounted_resonance_hz(bare), 1000)])
    many = grille.model_copy(update={"holes": grille.holes + more})
    bare_pa, many_pa, few_pa = (
        abs(speaker_response(bare.model_copy(update={"grille": holes}), 1.0)(high_hz)[0])
        for holes in (None, many, grille)
    )
    assert few_pa <= many_pa * 1.003 and many_pa <= bare_pa * 1.003
