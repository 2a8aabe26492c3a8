"""Bits and steps of the board's sound output."""

import math

import numpy as np
import pytest

from fxseq.acoustics import quantisation_ratio_db, rounded_to_bits


@pytest.mark.parametrize("bits", [6, 8, 10, 12])
def test_noise_of_rounding_is_6_02_db_a_bit_and_1_76(bits: int) -> None:
    # Textbook: 6.02 N + 1.76 dB for a full-scale sine.
    assert quantisation_ratio_db(bits) == pytest.approx(6.02 * bits + 1.76, abs=0.01)
    sine = np.round(32_700 * np.sin(0.7 * np.arange(100_000))).astype(np.int16)
    # The very ends of the range are left out, where a converter runs out of codes.
    error = rounded_to_bits(np.round(sine * 0.98).astype(np.int16), bits).astype(float) - np.round(
        sine * 0.98
    )
    ratio = 10 * math.log10(0.5 * (32_700 * 0.98) ** 2 / np.mean(error**2))
    assert ratio == pytest.approx(quantisation_ratio_db(bits) - 0.19, abs=0.3)


def test_sixteen_bits_change_nothing_and_one_bit_leaves_two_values() -> None:
    samples = np.arange(-32_768, 32_768).astype(np.int16)
    assert np.array_equal(rounded_to_bits(samples, 16), samples)
    assert set(rounded_to_bits(samples, 1).tolist()) == {-32_768, 0}
