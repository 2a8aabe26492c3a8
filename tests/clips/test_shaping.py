"""Resampling, fades, levels and rounding, each against what it must be by its own definition."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.clips.shaping import faded, gain_to, quantised, resample, resample_loop, sharpened

Sine = Callable[..., NDArray[np.float64]]
RATES = [(44_100, 22_050), (48_000, 22_050), (96_000, 16_000), (22_050, 11_025), (8_000, 22_050)]


def middle(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Without the ends, where the filter sees the sound begin and stop."""
    return samples[len(samples) // 8 : -len(samples) // 8]


@pytest.mark.parametrize("rate_hz, new_rate_hz", RATES)
def test_a_sine_keeps_its_frequency_level_and_place(
    rate_hz: int, new_rate_hz: int, sine: Sine
) -> None:
    """Against the same sine made at the new rate; 1e-6 is 120 dB down, VHQ promises 28 bits."""
    moved = resample(sine(1000, rate_hz=rate_hz), rate_hz, new_rate_hz)
    assert np.abs(middle(moved) - middle(sine(1000, rate_hz=new_rate_hz))).max() < 1e-6


@pytest.mark.parametrize("rate_hz, new_rate_hz", RATES[:4])
@pytest.mark.parametrize("place", [1.02, 1.3, 1.9])
def test_a_sine_above_half_the_new_rate_is_gone(
    rate_hz: int, new_rate_hz: int, place: float, sine: Sine
) -> None:
    """It would come back at another frequency; more than 90 dB down no 16-bit sample shows it."""
    frequency = min(place * new_rate_hz / 2, 0.499 * rate_hz)
    alias = middle(resample(sine(frequency, amplitude=1.0, rate_hz=rate_hz), rate_hz, new_rate_hz))
    assert 20 * np.log10(np.abs(alias).max()) < -90


@pytest.mark.parametrize("count, expected", [(1, 1), (3, 1), (4, 2), (1000, 459), (44_100, 20_258)])
def test_the_length_is_the_nearest_whole_number(count: int, expected: int) -> None:
    """At 48 000 to 22 050 Hz; at least one sample stays."""
    assert len(resample(np.ones(count), 48_000, 22_050)) == expected


def test_the_same_rate_changes_nothing() -> None:
    samples = np.random.default_rng(1).uniform(-1, 1, 1000)
    assert (resample(samples, 22_050, 22_050) == samples).all()


@pytest.mark.parametrize("start", [0, 5000])
def test_a_loop_goes_on_at_its_seam_as_if_it_never_ended(start: int) -> None:
    """100 periods at 48 000 Hz come to 2526.6 samples at 22 050 Hz: cut to 2527 the seam must still
    be no step at all.

    The turns of the resampled loop, one after the other, are compared with a single endless sine of
    the loop's own pitch.
    """
    length = 5500
    sound = np.sin(2 * np.pi * 100 / length * np.arange(start + length))
    samples, (first, end) = resample_loop(sound, (start, start + length), 2527)
    turns = np.concatenate([samples, samples[first:end], samples[first:end]])
    # a sound that is not a whole loop has a true beginning, at which the filter rings
    quiet = 0 if start == 0 else 200
    phase = 2 * np.pi * 100 / (end - first) * np.arange(len(turns))
    assert end == len(samples)
    assert np.abs(turns - np.sin(phase))[quiet:].max() < 1e-5


def test_a_fade_is_a_raised_cosine_from_nothing_to_all() -> None:
    gain = faded(np.ones(10), 4, 2)
    quarter = [0.5 - 0.5 * np.cos(np.pi * step / 4) for step in range(4)]
    assert gain == pytest.approx([*quarter, 1, 1, 1, 1, 0.5, 0])


def test_no_fade_changes_nothing() -> None:
    assert (faded(np.ones(10), 0, 0) == 1).all()


def test_a_peak_is_brought_to_its_level(sine: Sine) -> None:
    sound = sine(441, amplitude=0.2)
    assert np.abs(sound * gain_to(sound, -6.0, None)).max() == pytest.approx(10 ** (-6 / 20))


def test_an_rms_is_brought_to_its_level(sine: Sine) -> None:
    """A sine of amplitude 1 has an RMS of -3.01 dBFS, 20 lg(1 / sqrt 2); one of 40 samples a
    period reaches its peak.
    """
    sound = sine(22_050 / 40, amplitude=0.2, seconds=40 / 441)
    assert np.abs(sound * gain_to(sound, None, -3.0103)).max() == pytest.approx(1.0, abs=1e-5)


def test_silence_has_no_level_to_bring_anywhere() -> None:
    assert gain_to(np.zeros(10), -1.0, None) == 1.0
    assert gain_to(np.zeros(10), None, -1.0) == 1.0
    assert gain_to(np.full(10, 1e-320), -1.0, None) == 1.0


def test_halves_are_rounded_away_from_zero_on_every_machine() -> None:
    """The last bits, in which machines differ, do not decide."""
    halves = np.array([0.5, 1.5, -0.5, -1.5, 2.49, -2.49])
    for noise in (-1e-9, 0.0, 1e-9):
        assert quantised((halves + noise) / 32768)[0].tolist() == [1, 2, -1, -2, 2, -2]


def test_every_16_bit_sample_comes_back_as_it_was() -> None:
    samples = np.arange(-32768, 32768)
    assert (quantised(samples / 32768)[0] == samples).all()


def test_samples_beyond_full_scale_are_held_there_and_counted() -> None:
    rounded, over = quantised(np.array([1.0, -1.0, 1.001, -1.001, 7.0, 0.5]))
    assert (rounded.tolist(), over) == ([32767, -32768, 32767, -32768, 32767, 16384], 3)


@pytest.mark.parametrize("share", [0.05, 0.1, 0.2, 0.3, 0.4])
def test_sharpening_has_the_gain_that_leaves_the_least_error(share: float) -> None:
    """Wiener's filter for straight lines between samples: D / (D^2 + I), D = sinc^2(f) and I its
    squares at the images of f, in closed form; within 1 %, for the filter is cut short.
    """
    length = 201
    impulse = np.zeros(length)
    impulse[length // 2] = 1.0
    turns = 2j * np.pi * share * (np.arange(length) - length // 2)
    gain = abs((sharpened(impulse) * np.exp(turns)).sum())
    own = np.sinc(share) ** 2
    images = sum(np.sinc(turn + side * share) ** 4 for turn in range(1, 9) for side in (-1, 1))
    assert gain == pytest.approx(own / (own**2 + images), rel=0.01)
