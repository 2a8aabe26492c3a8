"""Loudness of short, silent and many-channel signals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.acoustics import gated_loudness, loudness

RATE_HZ = 22_050


def tone(seconds: float, peak: float = 0.5) -> np.ndarray:
    return peak * np.sin(2 * np.pi * 1000 * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)


@pytest.mark.parametrize("samples", [0, 1, 5000, 50_000])
def test_silence_is_minus_infinity_without_a_warning(samples: int) -> None:
    heard = loudness(np.zeros(samples), RATE_HZ)
    assert (heard.integrated, heard.padded_momentary_max) == (-math.inf, -math.inf)
    assert np.all(heard.momentary == -math.inf)


def test_sound_shorter_than_a_window_has_only_the_padded_figure() -> None:
    heard = loudness(tone(0.39), RATE_HZ)
    assert (heard.momentary.size, heard.short_term.size, heard.integrated) == (0, 0, -math.inf)
    assert heard.padded_momentary_max > -20


@pytest.mark.parametrize(
    ("seconds", "momentary", "short_term"), [(0.4, 1, 0), (0.5, 11, 0), (3.0, 261, 1)]
)
def test_windows_lie_wholly_inside_the_signal(
    seconds: float, momentary: int, short_term: int
) -> None:
    heard = loudness(tone(seconds), RATE_HZ)
    assert (heard.momentary.size, heard.short_term.size) == (momentary, short_term)


def test_padding_does_not_raise_the_maximum_of_a_long_sound() -> None:
    heard = loudness(tone(2.0), RATE_HZ)
    assert heard.padded_momentary_max == pytest.approx(heard.momentary.max(), abs=1e-6)


def test_padding_reaches_the_very_end_of_a_sound() -> None:
    # The last 5 ms lie in no whole hop of the signal itself.
    quiet_then_loud = loudness(np.concatenate([tone(1.0, 1e-4), tone(0.005)]), RATE_HZ)
    loud = loudness(tone(0.005), RATE_HZ)
    assert quiet_then_loud.padded_momentary_max == pytest.approx(loud.padded_momentary_max, abs=0.1)


def test_two_equal_channels_are_3_01_db_louder_than_one() -> None:
    one = loudness(tone(1.0), RATE_HZ).integrated
    assert loudness(np.stack([tone(1.0)] * 2, axis=1), RATE_HZ).integrated - one == pytest.approx(
        3.0103, abs=1e-3
    )


def test_quiet_blocks_are_left_out_by_both_gates() -> None:
    # Mean squares of -20, -29 (kept), -40 (relative gate) and -80 LUFS (absolute gate).
    blocks = 10 ** ((np.array([-20.0, -29.0, -40.0, -80.0]) + 0.691) / 10)
    expected = 10 * math.log10((10**-2.0 + 10**-2.9) / 2)
    assert gated_loudness(blocks) == pytest.approx(expected, abs=1e-9)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 20.0))
def test_gain_moves_loudness_by_itself(seed: int, gain_db: float) -> None:
    noise = np.random.default_rng(seed).normal(size=10_000)
    louder = loudness(noise * 10 ** (gain_db / 20), RATE_HZ).padded_momentary_max
    assert louder - loudness(noise, RATE_HZ).padded_momentary_max == pytest.approx(
        gain_db, abs=1e-4
    )
