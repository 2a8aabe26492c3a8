"""Signals through transfer functions, block by block."""

import numpy as np
import pytest
from scipy.signal import sosfilt

from fxseq.acoustics import (
    apply_responses,
    driver_of,
    flat_pa_per_v,
    k_weighting_response,
    k_weighting_sections,
    pressure_pa,
    speaker_response,
    weighted_pa,
    weighting_response,
)
from fxseq.acoustics.weighting import WEIGHTING_SETTLING_S, Curve
from fxseq.sequence.model import Speaker

RNG = np.random.default_rng(3)


@pytest.mark.parametrize("curve", ["A", "C"])
def test_blocks_give_what_one_transform_of_the_whole_gives(curve: Curve) -> None:
    # Noise up to nine tenths of the band, since the analogue phase breaks off at its end.
    size = 1 << 18
    rate_hz = 22_050
    frequencies_hz = np.fft.rfftfreq(size, 1 / rate_hz)
    spectrum = np.where(frequencies_hz < 0.45 * rate_hz, np.fft.rfft(RNG.normal(size=size)), 0)
    whole = np.fft.irfft(spectrum * weighting_response(frequencies_hz, curve), size)
    blocks = weighted_pa(np.fft.irfft(spectrum, size), rate_hz, curve)
    # The whole goes round from its end to its beginning, so the first and the last second are left
    # out.
    assert np.abs(blocks - whole)[rate_hz:-rate_hz].max() < 1e-4 * np.abs(whole).max()


@pytest.mark.parametrize("curve", ["A", "C"])
@pytest.mark.parametrize("rate_hz", [4000, 8000, 22_050, 48_000])
def test_weighting_of_a_single_sample_has_the_analogue_magnitude(
    curve: Curve, rate_hz: int
) -> None:
    size = 4 * rate_hz
    impulse = np.zeros(size)
    impulse[size // 2] = 1.0
    frequencies_hz = np.fft.rfftfreq(size, 1 / rate_hz)
    inside = (frequencies_hz > 30) & (frequencies_hz < 0.45 * rate_hz)
    measured_db = 20 * np.log10(np.abs(np.fft.rfft(weighted_pa(impulse, rate_hz, curve))[inside]))
    assert measured_db == pytest.approx(
        20 * np.log10(np.abs(weighting_response(frequencies_hz[inside], curve))), abs=0.002
    )


def test_blocks_join_without_a_seam() -> None:
    # The published digital filter run sample by sample in double precision is the reference; 300
    # 000 samples are many blocks.
    noise = RNG.normal(size=300_000)
    sections = np.array([[*b, *a] for b, a in k_weighting_sections(48_000)])
    joined = apply_responses(noise, 48_000, [k_weighting_response(48_000)], 0.1)[0]
    # Single precision: 1e-5 is 100 dB below the noise.
    assert np.abs(joined - sosfilt(sections, noise)).max() < 1e-5 * np.abs(noise).max()


def test_flat_response_gives_the_signal_back() -> None:
    noise = RNG.normal(size=100_001)
    flat = apply_responses(
        noise, 22_050, [lambda f: np.ones(f.shape, dtype=complex)], WEIGHTING_SETTLING_S
    )[0]
    assert np.abs(flat - noise).max() < 1e-5


@pytest.mark.parametrize("frequency_hz", [60, 250, 500, 1000, 3500])
def test_speaker_follows_the_analogue_box_up_to_half_the_sample_rate(
    frequency_hz: int, speaker: Speaker
) -> None:
    rate_hz = 8000
    volts = np.sin(2 * np.pi * frequency_hz * np.arange(2 * rate_hz) / rate_hz)
    settled = pressure_pa(volts, rate_hz, speaker, 1.0)[rate_hz:]
    expected = abs(speaker_response(speaker, 1.0)(np.array([float(frequency_hz)]))[0])
    # Whole periods fill the settled second, so the deviation is that of single precision.
    assert 20 * np.log10(np.std(settled) * np.sqrt(2) / expected) == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize("q_total", [0.3, 0.8, 3.0])
def test_step_decays_as_the_analogue_box_does(q_total: float, speaker: Speaker) -> None:
    rate_hz = 48_000
    resonance_hz = 200.0
    part = speaker.model_copy(update={"resonance_hz": resonance_hz, "q_total": q_total})
    step = pressure_pa(np.ones(rate_hz // 4), rate_hz, part, 1.0) / flat_pa_per_v(driver_of(part))
    # Band-limited, a step between two samples happens half way.
    time_s = (np.arange(step.size) + 0.5) / rate_hz
    omega = 2 * np.pi * resonance_hz
    poles = np.roots([1, omega / q_total, omega**2])
    # Inverse Laplace transform of s / (s^2 + s w/Q + w^2), by residues.
    expected = sum(
        pole / (2 * pole + omega / q_total) * np.exp(pole * time_s) for pole in poles
    ).real
    # Both edges ring for a while, since they hold frequencies above half the sample rate.
    assert step[48:-48] == pytest.approx(expected[48:-48], abs=0.001)


@pytest.mark.parametrize("length", [0, 1, 2, 100])
def test_length_is_kept_for_short_signals(length: int) -> None:
    results = apply_responses(
        np.ones(length, dtype=np.float32), 22_050, [k_weighting_response(22_050)] * 2, 0.1
    )
    assert [result.shape for result in results] == [(length,), (length,)]
