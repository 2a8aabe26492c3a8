"""How loud a clip is at its loudest."""

import numpy as np
import pytest

from fxseq.acoustics import weighting_response
from fxseq.clips import loudest

RATE_HZ = 22_050


def a_weighted(frequencies_hz: np.ndarray) -> np.ndarray:
    return weighting_response(frequencies_hz, "A")


def tone(frequency_hz: float, seconds: float = 0.5, rate_hz: int = RATE_HZ) -> np.ndarray:
    return np.sin(2 * np.pi * frequency_hz * np.arange(round(seconds * rate_hz)) / rate_hz)


@pytest.mark.parametrize(
    ("frequency_hz", "weight_db"), [(100, -19.1), (1000, 0.0), (2500, 1.3), (4000, 1.0)]
)
@pytest.mark.parametrize("rate_hz", [11_025, 22_050, 44_100])
def test_a_tone_counts_by_its_weight(frequency_hz: float, weight_db: float, rate_hz: int) -> None:
    """A-weighting: IEC 61672-1, table 3 (rounded to 0.1 dB). A sine has an RMS 3.01 dB below its
    peak.
    """
    level_db = 20 * np.log10(loudest(tone(frequency_hz, rate_hz=rate_hz), rate_hz, a_weighted))
    assert level_db == pytest.approx(weight_db - 3.01, abs=0.1)


def test_the_gain_of_the_hearing_does_not_matter() -> None:
    sound = np.random.default_rng(1).normal(size=5000)
    assert loudest(sound, RATE_HZ, lambda f: 30 * a_weighted(f)) == pytest.approx(
        loudest(sound, RATE_HZ, a_weighted)
    )


def test_the_loudest_part_counts_wherever_it_is() -> None:
    sound = np.concatenate([0.1 * tone(1000, 0.3), 0.5 * tone(1000, 0.2), 0.1 * tone(1000, 0.4)])
    assert loudest(sound, RATE_HZ, a_weighted) == pytest.approx(0.5 / np.sqrt(2), rel=0.01)


def test_a_short_sound_counts_for_what_it_fills_of_125_ms() -> None:
    half = loudest(tone(1000, 0.0625), RATE_HZ, lambda f: np.ones(len(f), complex))
    assert half == pytest.approx(0.5, rel=1e-3)


def test_a_loop_counts_as_it_goes_on() -> None:
    sound = tone(1000, 0.06)
    assert loudest(sound, RATE_HZ, a_weighted, (0, len(sound))) == pytest.approx(
        np.sqrt(0.5), rel=0.02
    )


def test_silence_is_0() -> None:
    assert loudest(np.zeros(1000), RATE_HZ, a_weighted) == 0
