"""Levels of weighted sound."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter

from fxseq.acoustics import (
    FAST_S,
    SLOW_S,
    equivalent_level_db,
    level_from_square_db,
    level_over_time_db,
    maximum_levels_db,
    peak_level_db,
    weighted_pa,
    weighting_response,
)

RATE_HZ = 22_050
ONE_PASCAL_DB = 93.9794


def pascal_tone(seconds: float) -> np.ndarray:
    """1 kHz, 1 Pa rms."""
    return np.sqrt(2) * np.sin(2 * np.pi * 1000 * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)


@pytest.mark.parametrize("curve", ["A", "C"])
def test_one_pascal_at_1_khz_reads_94_db_with_either_weighting(curve: str) -> None:
    # 20 s, so that the onset of the filter does not matter.
    assert equivalent_level_db(weighted_pa(pascal_tone(20), RATE_HZ, curve)) == pytest.approx(
        ONE_PASCAL_DB, abs=0.005
    )


def test_peak_of_a_sine_is_3_01_db_over_its_level() -> None:
    # Without the onset and the end, where the tone jumps. Samples of 1 kHz at 22.05 kHz come within
    # 0.01 dB of the crest.
    settled = weighted_pa(pascal_tone(2), RATE_HZ, "C")[RATE_HZ // 2 : -RATE_HZ // 2]
    assert peak_level_db(settled) == pytest.approx(ONE_PASCAL_DB + 3.01, abs=0.01)


def test_peak_counts_downwards_too() -> None:
    assert peak_level_db(np.array([0.1, -1.0])) == peak_level_db(np.array([1.0, -0.1]))


def test_fast_level_settles_on_that_of_a_steady_tone() -> None:
    levels, interval_s = level_over_time_db(pascal_tone(3), RATE_HZ, FAST_S)
    assert levels.size * interval_s == pytest.approx(3.0, abs=interval_s)
    # The remaining ripple of 2 kHz is averaged away by 250 times its period; blocks that hold no
    # whole period leave the rest.
    assert levels[-1000:] == pytest.approx(ONE_PASCAL_DB, abs=0.02)


@pytest.mark.parametrize("time_constant_s", [0.0001, FAST_S, SLOW_S])
def test_time_weighting_is_one_pole(time_constant_s: float) -> None:
    # At 2 kHz an average block of 0.5 ms is one sample, and scipy's recursive filter the reference.
    noise = np.random.default_rng(2).normal(size=20_001)
    pole = math.exp(-0.0005 / time_constant_s)
    levels, interval_s = level_over_time_db(noise, 2000, time_constant_s)
    assert interval_s == 0.0005
    assert levels == pytest.approx(
        level_from_square_db(lfilter([1 - pole], [1, -pole], noise**2)), abs=1e-8
    )


def test_slow_maximum_of_a_short_sound_is_below_the_fast_one() -> None:
    tone = pascal_tone(0.2)
    slow_db, fast_db = maximum_levels_db(tone, RATE_HZ, (SLOW_S, FAST_S))
    assert slow_db < fast_db < ONE_PASCAL_DB


@pytest.mark.parametrize("samples", [0, 1, 1000])
def test_silence_is_minus_infinity_without_a_warning(samples: int) -> None:
    silence = np.zeros(samples)
    levels = (
        equivalent_level_db(silence),
        peak_level_db(silence),
        *maximum_levels_db(silence, RATE_HZ, [FAST_S]),
    )
    assert levels == (-math.inf, -math.inf, -math.inf)


@settings(max_examples=25)
@given(st.integers(0, 2**32 - 1), st.integers(1, 3000))
def test_maximum_lies_between_the_mean_and_the_peak(seed: int, length: int) -> None:
    noise = np.random.default_rng(seed).normal(size=length)
    (loud,) = maximum_levels_db(noise, RATE_HZ, [FAST_S])
    assert not math.isnan(loud)
    assert loud <= peak_level_db(noise)


def test_weightings_meet_at_1_khz_and_die_at_0_hz() -> None:
    assert abs(weighting_response(1000.0, "A")) == pytest.approx(1.0, abs=1e-13)
    assert abs(weighting_response(1000.0, "C")) == pytest.approx(1.0, abs=1e-13)
    assert weighting_response(0.0, "A") == 0
