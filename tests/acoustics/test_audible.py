"""The weighting of errors: its gain follows speaker and ear where it counts, and no search can run away with it."""
import numpy as np
import pytest

from fxseq.acoustics import error_weighting, speaker_response, weighting_response
from fxseq.sequence.model import Speaker

SPEAKER = Speaker(diameter_mm=28, impedance_ohm=8, resonance_hz=800, q_total=1.1, sensitivity_db=88, rated_power_w=1)
RATES_HZ = [4000, 5512, 8000, 11025, 16000, 22050, 32000, 48000]


@pytest.mark.parametrize("speaker", [None, SPEAKER], ids=["no speaker", "speaker"])
@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_filter_is_of_minimum_phase(speaker: Speaker | None, rate_hz: int) -> None:
    weighting = error_weighting(speaker, rate_hz)
    assert len(weighting) == 5 and weighting[0] == 1
    assert np.abs(np.roots(weighting)).max() < 1


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_gain_follows_speaker_and_ear(rate_hz: int) -> None:
    """Within 1.1 dB in the mean by power, at high rates within 2.5, against the responses themselves."""
    frequencies_hz = np.linspace(rate_hz / 400, rate_hz / 2, 200)
    wanted = np.abs(weighting_response(frequencies_hz, "A") * speaker_response(SPEAKER, 1.0)(frequencies_hz)) ** 2
    turns = np.exp(-2j * np.pi * frequencies_hz / rate_hz)
    given = np.abs(np.polyval(error_weighting(SPEAKER, rate_hz)[::-1], turns)) ** 2
    share = wanted / wanted.sum()
    apart_db = 10 * np.log10(given / wanted)
    apart_db -= share @ apart_db
    assert np.sqrt(share @ apart_db**2) < (1.1 if rate_hz <= 16_000 else 2.5)
