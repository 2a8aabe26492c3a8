"""Encoders that weigh errors by speaker and ear: what is lost at the ear is less than without, at every rate."""
import numpy as np
import pytest

from fxseq.acoustics import error_weighting
from fxseq.clips import decode, encode
from fxseq.sequence.model import Speaker

SPEAKER = Speaker(diameter_mm=28, impedance_ohm=8, resonance_hz=800, q_total=1.1, sensitivity_db=88, rated_power_w=1)


@pytest.mark.parametrize("coding", ["ima_adpcm", "qoa"])
@pytest.mark.parametrize("rate_hz", [5512, 8000, 11025, 16000, 22050])
def test_weighted_error_is_less_than_without_weighting(coding: str, rate_hz: int) -> None:
    time_s = np.arange(2000) / rate_hz
    sound = 6000 * np.sin(2 * np.pi * 300 * time_s) + 3000 * np.random.default_rng(3).standard_normal(2000) * np.exp(-20 * time_s)
    samples, weighting = sound.astype(np.int16), error_weighting(SPEAKER, rate_hz)
    alike, weighed = (decode(encode(samples, coding, weighting=kind), coding, len(samples)) for kind in ((1.0,), weighting))
    heard = [float(np.sum(np.convolve(decoded.astype(float) - samples, weighting) ** 2)) for decoded in (alike, weighed)]
    assert heard[1] < heard[0]
    assert np.abs(weighed.astype(int) - samples).max() < 2 * np.abs(samples).max()


def test_weighting_with_a_zero_outside_the_unit_circle_is_refused() -> None:
    with pytest.raises(ValueError, match="minimum phase"):
        encode(np.zeros(100, np.int16), "ima_adpcm", weighting=(1.0, -1.5))
