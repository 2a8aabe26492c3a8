"""The limiter that sees what comes."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import minimum_filter1d, uniform_filter1d

from fxseq.clips import limited, limiter_gain
from fxseq.clips.limiter import LOOK_AHEAD_S, RELEASE_S, loop_limiter_gain

RATE_HZ = 22_050


@settings(max_examples=60)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(1, 3000),
    st.floats(0.01, 3.0),
    st.floats(0.0002, 0.01),
    st.floats(0.001, 0.3),
)
def test_no_sample_gets_past_the_threshold(
    seed: int, size: int, threshold: float, look_ahead_s: float, release_s: float
) -> None:
    rng = np.random.default_rng(seed)
    signal = rng.normal(size=size) * np.exp(rng.normal(size=size))
    result = limited(signal, RATE_HZ, threshold, look_ahead_s, release_s)
    assert result.shape == signal.shape
    assert np.abs(result).max() <= threshold * (1 + 1e-12)
    assert np.all(np.abs(result) <= np.abs(signal) * (1 + 1e-12))


def test_quiet_signal_comes_back_as_it_is() -> None:
    signal = np.random.default_rng(1).uniform(-0.5, 0.5, 5000)
    assert np.array_equal(limited(signal, RATE_HZ, 0.5), signal)
    assert limited(np.zeros(0), RATE_HZ, 0.5).size == 0


def test_same_input_gives_the_same_output() -> None:
    signal = np.random.default_rng(2).normal(size=10_000)
    assert np.array_equal(limited(signal, RATE_HZ, 0.3), limited(signal.copy(), RATE_HZ, 0.3))


def test_gain_is_that_of_scipys_filters_and_a_plain_release() -> None:
    """scipy.ndimage: minimum_filter1d and uniform_filter1d; between them the release sample by
    sample, as it is defined.
    """
    signal = np.random.default_rng(3).normal(size=4000) * np.linspace(0.1, 2, 4000)
    reach = round(LOOK_AHEAD_S * RATE_HZ)
    fading = math.exp(-1 / (RELEASE_S * RATE_HZ))
    needed = np.minimum(1, 0.5 / np.abs(signal))
    released = []
    loss = 0.0
    for least in minimum_filter1d(needed, 2 * reach + 1, mode="constant", cval=1.0):
        loss = max(1 - least, fading * loss)
        released.append(1 - loss)
    expected = np.minimum(
        uniform_filter1d(np.array(released), 2 * reach + 1, mode="nearest"), needed
    )
    assert limiter_gain(signal, RATE_HZ, 0.5) == pytest.approx(expected, abs=1e-9)


def test_gain_falls_before_a_peak_and_comes_back_after_it() -> None:
    signal = np.full(RATE_HZ, 0.1)
    signal[RATE_HZ // 2] = 2.0
    gain = limiter_gain(signal, RATE_HZ, 1.0, look_ahead_s=0.002, release_s=0.05)
    peak = RATE_HZ // 2
    reach = round(0.002 * RATE_HZ)
    assert gain[peak] == pytest.approx(0.5, rel=0.01)
    assert gain[peak - 2 * reach - 1] == 1.0 and gain[peak - reach] < 0.99
    # One time constant after the peak, 1/e of the loss is left.
    assert 1 - gain[peak + round(0.05 * RATE_HZ)] == pytest.approx(0.5 / np.e, rel=0.1)


def test_gain_does_not_jump() -> None:
    signal = np.sign(np.sin(2 * np.pi * 30 * np.arange(RATE_HZ) / RATE_HZ)) * np.linspace(
        0.2, 3, RATE_HZ
    )
    gain = limiter_gain(signal, RATE_HZ, 0.5)
    # At most the whole range over the window of 3 ms.
    assert np.abs(np.diff(gain)).max() <= 1 / (2 * 33 + 1) + 1e-9


def test_steady_tone_is_turned_down_without_distortion() -> None:
    tone = 2 * np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ)
    settled = limited(tone, RATE_HZ, 1.0)[RATE_HZ // 2 :]
    lines = np.abs(np.fft.rfft(settled * np.hanning(settled.size)))
    third = lines[3 * lines.argmax() - 3 : 3 * lines.argmax() + 4].max()
    # Cut off at the threshold, a sine of twice the height has a third harmonic 13 dB below itself.
    assert 20 * np.log10(third / lines.max()) < -50


def test_a_long_signal_stays_within_the_threshold_to_the_rounding() -> None:
    # Running sums over a million gains are off by more than a single product.
    tone = 2 * np.sin(0.3 * np.arange(1_000_000))
    assert np.abs(limited(tone, RATE_HZ, 1.0)).max() <= 1 + 4e-16


@pytest.mark.parametrize(("start", "length"), [(0, 500), (0, 9000), (3000, 700), (40, 9000)])
def test_gain_of_a_loop_is_that_of_going_round_for_ever(start: int, length: int) -> None:
    rng = np.random.default_rng(4)
    signal = rng.normal(size=start + length)
    signal[start + length // 3] = 6
    gain = loop_limiter_gain(signal, (start, start + length), RATE_HZ, 1.0)
    turns = 2 + 20_000 // length
    for_ever = limiter_gain(np.concatenate([signal, np.tile(signal[start:], turns)]), RATE_HZ, 1.0)
    last = start + (turns - 1) * length
    assert gain[start:] == pytest.approx(for_ever[last : last + length], abs=1e-5)
    assert np.abs(signal * gain).max() <= 1 + 1e-12


def test_gain_goes_smoothly_from_a_loud_start_into_a_soft_loop() -> None:
    signal = 0.3 * np.random.default_rng(5).uniform(-1, 1, 10_000)
    signal[3000] = 4
    gain = loop_limiter_gain(signal, (4000, 10_000), RATE_HZ, 1.0)
    assert gain[3000] == pytest.approx(0.25, abs=0.01) and gain[4000] == 1
    # Through the whole range of 0.75 within half of 20 ms, and not faster than the look-ahead's
    # window.
    assert np.abs(np.diff(gain[3100:4001])).max() < 0.75 * np.pi / 2 / (0.02 * RATE_HZ)
