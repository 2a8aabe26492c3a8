"""Bits and steps of the board's sound output."""

import math

import numpy as np
import pytest

from fxseq.acoustics import hold_gain_db, quantisation_ratio_db, quantised


def test_held_output_droops_by_3_92_db_at_half_the_rate() -> None:
    # sin(x) / x at pi / 2, the textbook figure of a zero-order hold.
    assert float(hold_gain_db(11_025, 22_050)) == pytest.approx(-3.92, abs=0.005)
    assert float(hold_gain_db(0, 22_050)) == 0.0


@pytest.mark.parametrize("frequency_hz", [500, 4000, 9000])
def test_hold_is_what_a_staircase_does_to_a_tone(frequency_hz: int) -> None:
    rate_hz = 22_050
    steps = 32
    samples = np.sin(2 * np.pi * frequency_hz * np.arange(rate_hz) / rate_hz)
    lines = np.abs(np.fft.rfft(np.repeat(samples, steps))) / (samples.size * steps / 2)
    # A staircase in 32 parts a step stands for a continuous one to 0.01 dB here, and to 0.02 dB at
    # the first image.
    image_hz = rate_hz - frequency_hz
    assert 20 * math.log10(lines[frequency_hz]) == pytest.approx(
        float(hold_gain_db(frequency_hz, rate_hz)), abs=0.01
    )
    assert 20 * math.log10(lines[image_hz]) == pytest.approx(
        float(hold_gain_db(image_hz, rate_hz)), abs=0.02
    )


@pytest.mark.parametrize("bits", [6, 8, 10, 12])
def test_noise_of_rounding_is_6_02_db_a_bit_and_1_76(bits: int) -> None:
    # Textbook: 6.02 N + 1.76 dB for a full-scale sine.
    assert quantisation_ratio_db(bits) == pytest.approx(6.02 * bits + 1.76, abs=0.01)
    sine = np.round(32_700 * np.sin(0.7 * np.arange(100_000))).astype(np.int16)
    # The very ends of the range are left out, where a converter runs out of codes.
    error = quantised(np.round(sine * 0.98).astype(np.int16), bits).astype(float) - np.round(
        sine * 0.98
    )
    ratio = 10 * math.log10(0.5 * (32_700 * 0.98) ** 2 / np.mean(error**2))
    assert ratio == pytest.approx(quantisation_ratio_db(bits) - 0.19, abs=0.3)


def test_sixteen_bits_change_nothing_and_one_bit_leaves_two_values() -> None:
    samples = np.arange(-32_768, 32_768).astype(np.int16)
    assert np.array_equal(quantised(samples, 16), samples)
    assert set(quantised(samples, 1).tolist()) == {-32_768, 0}
