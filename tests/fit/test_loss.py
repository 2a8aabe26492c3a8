"""Energy at the ear against the filters of `acoustics` in time, and against a sine worked by hand."""
import numpy as np
import pytest

from fxseq.acoustics import output_voltage_v, pressure_pa, weighted_pa
from fxseq.fit import Ear
from fxseq.runs import Performance
from fxseq.sequence import loads

RATE_HZ = 22050


def test_energy_is_that_of_the_weighted_pressure(performance: Performance) -> None:
    sequence = performance.prop.sequence
    assert sequence.amplifier and sequence.speaker
    samples = (3000 * np.random.default_rng(2).standard_normal(RATE_HZ)).astype(np.int16)
    volts = output_voltage_v(np.pad(samples, (0, RATE_HZ)), sequence.amplifier, 100.0)[0]
    heard = weighted_pa(pressure_pa(volts, RATE_HZ, sequence.speaker, sequence.listening.hand_m), RATE_HZ, "A")
    energy = float(np.sum(heard.astype(np.float64) ** 2)) / RATE_HZ
    assert Ear.of(sequence).energy(samples.astype(float), RATE_HZ) == pytest.approx(energy, rel=0.005)


def test_without_a_speaker_a_sine_of_1_khz_has_half_its_square_as_energy_a_second() -> None:
    """A-weighting is 0 dB at 1 kHz (IEC 61672-1), and the mean square of a sine is half its square."""
    sequence = loads('format = 1\ntitle = "x"\n[board]\nchannels = 1\n')
    sine = 16384 * np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ)
    assert Ear.of(sequence).energy(sine, RATE_HZ) == pytest.approx(0.5**2 / 2, rel=0.002)


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_shortest_sounds_have_an_energy(count: int) -> None:
    sequence = loads('format = 1\ntitle = "x"\n[board]\nchannels = 1\n')
    assert np.isfinite(Ear.of(sequence).energy(np.ones(count), RATE_HZ))
