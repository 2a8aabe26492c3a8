"""Sound as pulses behind a resistor and a capacitor."""

import numpy as np
import pytest
from scipy.signal import freqs

from fxseq.acoustics import corner_hz, image_below_db, low_pass_loss_db

RATE_HZ = 22050


def test_low_pass_is_that_of_1_kohm_and_15_nf() -> None:
    """Against scipy's response of 1 / (1 + s R C)."""
    hz = np.array([100.0, 5000.0, 10_610.0, 17_000.0])
    _, gains = freqs([1], [1000 * 15e-9, 1], 2 * np.pi * hz)
    assert [low_pass_loss_db(each) for each in hz] == pytest.approx(-20 * np.log10(abs(gains)))
    assert low_pass_loss_db(corner_hz()) == pytest.approx(3.01, abs=0.01)


def test_image_of_a_tone_is_where_its_held_samples_have_it() -> None:
    """Against the transform of a second of held samples, 64 points each, behind scipy's low-pass."""
    tone_hz = 5000
    points = 64
    held = np.repeat(np.sin(2 * np.pi * tone_hz * np.arange(RATE_HZ) / RATE_HZ), points)
    found = np.abs(np.fft.rfft(held))[[tone_hz, RATE_HZ - tone_hz]]
    _, gains = freqs([1], [1000 * 15e-9, 1], 2 * np.pi * np.array([tone_hz, RATE_HZ - tone_hz]))
    below = 20 * np.log10(np.divide(*(found * abs(gains))))
    assert image_below_db(tone_hz, RATE_HZ) == pytest.approx(below, abs=0.01)
