"""Sound as pulses behind a resistor and a capacitor."""

import numpy as np
import pytest
from scipy.signal import freqs

from fxseq.acoustics import (
    converted,
    corner_hz,
    image_below_db,
    level_report,
    low_pass_loss_db,
    output_voltage_v,
)
from fxseq.sequence.model import Amplifier, Board, Speaker

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


BOARD = Board(part="pico", channels=1, sample_rate_hz=RATE_HZ, sound_bits=16)
LOUD = Amplifier(gain_db=0.0, full_scale_input_v=1.0)
HZ = [300.0, 3000.0, 5000.0, 9000.0]


def tone(hz: float) -> np.ndarray:
    return np.round(9000 * np.sin(2 * np.pi * hz * np.arange(RATE_HZ) / RATE_HZ)).astype(np.int16)


@pytest.mark.parametrize("hz", HZ)
def test_what_comes_to_the_amplifier_has_lost_what_scipy_says(hz: float) -> None:
    """Amplitude and phase of the middle of a tone, against the response of 1 / (1 + s R C)."""
    _, (gain,) = freqs([1], [1000 * 15e-9, 1], [2 * np.pi * hz])
    middle = slice(RATE_HZ // 4, RATE_HZ * 3 // 4)
    turning = np.exp(-2j * np.pi * hz * np.arange(RATE_HZ) / RATE_HZ)[middle]
    before, behind = (
        np.mean(samples[middle] * turning) for samples in (tone(hz), converted(tone(hz), BOARD))
    )
    assert behind / before == pytest.approx(gain, abs=0.002)


@pytest.mark.parametrize("hz", HZ)
def test_a_level_is_lower_by_the_loss_of_the_low_pass_where_there_is_one(hz: float) -> None:
    speaker = Speaker(
        diameter_mm=28, impedance_ohm=8, resonance_hz=900, sensitivity_db=86, rated_power_w=1
    )
    i2s = BOARD.model_copy(update={"sound": "i2s"})
    own = BOARD.model_copy(update={"part": None})
    pulses, words, others = (
        level_report(tone(hz), RATE_HZ, LOUD, speaker, {"hand": 0.5}, 5.0, "half", board)
        for board in (BOARD, i2s, own)
    )
    lost_db = words.at["hand"].laeq_db - pulses.at["hand"].laeq_db
    assert lost_db == pytest.approx(low_pass_loss_db(hz), abs=0.02)
    assert others.at["hand"] == words.at["hand"]


def test_the_low_pass_comes_before_what_clips() -> None:
    volts, clipped = output_voltage_v(converted(tone(9000), BOARD), LOUD, 0.24)
    _, (gain,) = freqs([1], [1000 * 15e-9, 1], [2 * np.pi * 9000])
    assert abs(gain) * 9000 / 32768 < 0.24 < 9000 / 32768
    middle = slice(RATE_HZ // 4, RATE_HZ * 3 // 4)
    assert np.abs(volts[middle]).max() < 0.24
    assert output_voltage_v(tone(9000), LOUD, 0.24)[1] > 0.1
