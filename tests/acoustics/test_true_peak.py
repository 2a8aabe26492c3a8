"""Peaks between samples, where the published cases do not reach."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.acoustics import (
    change_of_level_db,
    distance_uncertainty_db,
    sampled_power,
    true_peak,
    true_peak_db,
)
from fxseq.acoustics.uncertainty import Uncertainty


@given(st.integers(0, 2**32 - 1), st.integers(1, 400))
def test_true_peak_is_never_below_the_samples(seed: int, size: int) -> None:
    signal = np.random.default_rng(seed).normal(size=size)
    assert true_peak(signal) >= np.abs(signal).max() * (1 - 1e-9)


def test_silence_has_no_peak() -> None:
    assert (true_peak(np.zeros(0)), true_peak_db(np.zeros(10))) == (0.0, -math.inf)


def test_causes_of_doubt_add_up_as_squares() -> None:
    # 2^2 + 3^2 + 6^2 = 7^2: no term may be left out.
    doubt = Uncertainty(2.0, 3.0, 6.0)
    assert doubt.total_db == 7.0
    assert doubt.as_dict() == {
        "sensitivity_db": 2.0,
        "distance_db": 3.0,
        "leakage_db": 6.0,
        "total_db": 7.0,
    }
    assert distance_uncertainty_db(0.5) == pytest.approx(6.02, abs=0.001)


def test_change_of_level_is_weighted_by_what_is_played() -> None:
    tone = np.sin(2 * np.pi * 2000 * np.arange(50_000) / 22_050)
    power, frequencies = sampled_power(tone, 22_050)
    change = change_of_level_db(
        power,
        frequencies,
        lambda f: np.ones(f.size, complex),
        lambda f: np.where(f < 1000, 0.0, 0.5 + 0j),
    )
    assert change == pytest.approx(-6.02, abs=0.01)
    assert (
        change_of_level_db(
            power * 0,
            frequencies,
            lambda f: np.ones(f.size, complex),
            lambda f: np.ones(f.size, complex),
        )
        == 0.0
    )


@pytest.mark.parametrize("size", [0, 1, 4096, 4097, 1_000_000])
def test_spectrum_is_there_for_any_length(size: int) -> None:
    power, frequencies = sampled_power(np.ones(size, dtype=np.float32), 22_050)
    assert power.shape == frequencies.shape == (2048,)
    assert frequencies[0] > 0
