"""Loudness, critical bands and threshold in quiet against published numbers.

ISO 226:2003, threshold of hearing, as several public tables have it; ISO 532-1:2017, annex B.3,
loudness of test signals, from memory; the definition of the sone. None of the standards was read.
Critical-band rate after Traunmueller: J. Acoust. Soc. Am. 88 (1990), 97-100, as widely copied.
"""

import numpy as np
import pytest

from fxseq.acoustics import (
    CRITICAL_BANDS_HZ,
    error_loudness_sone,
    loudness_sone,
    noise_loudness_sone,
    spread_db,
    threshold_in_quiet_db,
)

RATE_HZ = 48_000
ISO_226_THRESHOLD_DB = {
    50: 44.0,
    100: 26.5,
    125: 22.1,
    250: 11.4,
    500: 4.4,
    800: 2.2,
    1000: 2.4,
    1600: 1.7,
    2000: -1.3,
    2500: -4.2,
    3150: -6.0,
    4000: -5.4,
    5000: -1.5,
    6300: 6.0,
    8000: 12.6,
}


def tone(frequency_hz: float, level_db: float) -> np.ndarray:
    return (
        np.sqrt(2)
        * 20e-6
        * 10 ** (level_db / 20)
        * np.sin(2 * np.pi * frequency_hz * np.arange(RATE_HZ) / RATE_HZ)
    )


def noise(level_db: float, slope: float = 0.0) -> np.ndarray:
    """White, or with a power that falls by frequency to the power of a slope, from 20 Hz to 16
    kHz.
    """
    frequencies_hz = np.fft.rfftfreq(RATE_HZ, 1 / RATE_HZ)
    inside = (frequencies_hz >= 20) & (frequencies_hz <= 16000)
    shape = np.where(inside, np.maximum(frequencies_hz, 1) ** (-slope / 2), 0)
    sound = np.fft.irfft(np.fft.rfft(np.random.default_rng(1).standard_normal(RATE_HZ)) * shape)
    return sound * 20e-6 * 10 ** (level_db / 20) / np.sqrt(np.mean(sound**2))


def sones(sound: np.ndarray) -> float:
    """While it lasts, without its first and last frames."""
    return float(np.mean(loudness_sone(sound, RATE_HZ)[5:-5]))


@pytest.mark.parametrize("frequency_hz", ISO_226_THRESHOLD_DB)
def test_threshold_in_quiet(frequency_hz: float) -> None:
    """Terhardt's curve of 1979: within 4.5 dB of the standard; 8 dB below it at 8 kHz, where it
    lets too much be heard.
    """
    off_db = float(threshold_in_quiet_db(frequency_hz)) - ISO_226_THRESHOLD_DB[frequency_hz]
    assert -8 < off_db < 4.5 if frequency_hz > 6300 else abs(off_db) < 4.5


def test_critical_bands_are_one_bark_each() -> None:
    """Traunmueller's z = 26.81 f / (1960 + f) - 0.53, corrected below 2 and above 20.1 Bark:
    within 0.25 Bark.
    """
    edges_hz = np.array(CRITICAL_BANDS_HZ[1:])
    bark = 26.81 * edges_hz / (1960 + edges_hz) - 0.53
    low = 0.15 * np.maximum(2 - bark, 0)
    high = 0.22 * np.maximum(bark - 20.1, 0)
    assert bark + low + high == pytest.approx(np.arange(1, 25), abs=0.25)


def test_spreading_is_steep_downwards_and_flat_upwards() -> None:
    """Schroeder, Atal and Hall: 0 dB in the band itself, slopes of +25 dB a Bark below and -10
    dB a Bark above.
    """
    assert spread_db(0) == pytest.approx(0, abs=0.01)
    assert spread_db(-8) - spread_db(-9) == pytest.approx(25, abs=0.3)
    assert spread_db(9) - spread_db(8) == pytest.approx(-10, abs=0.3)


@pytest.mark.parametrize("level_db", [40, 50, 60, 70])
def test_10_db_more_at_1_khz_are_twice_as_loud(level_db: float) -> None:
    """The definition of the sone: 1 at 40 dB, twice as many for each 10 dB. At high levels
    Zwicker's exponent gives 1.7.
    """
    assert sones(tone(1000, level_db)) == pytest.approx(2 ** ((level_db - 40) / 10), rel=0.12)


@pytest.mark.parametrize(
    ("sound", "wanted_sone"),
    [
        (tone(250, 80), 14.655),
        (tone(1000, 60), 4.019),
        (tone(4000, 40), 1.549),
        (noise(60, 1.0), 10.498),
    ],
    ids=["250 Hz, 80 dB", "1 kHz, 60 dB", "4 kHz, 40 dB", "pink noise, 60 dB"],
)
def test_loudness_of_test_signals(sound: np.ndarray, wanted_sone: float) -> None:
    """Test signals 2 to 5 of ISO 532-1. Within a third: the outer ear's gain around 4 kHz is
    left out.
    """
    assert sones(sound) == pytest.approx(wanted_sone, rel=0.35)


def test_a_tone_hides_noise_in_its_own_band_from_so_many_db_down() -> None:
    """Johnston: a tone hides noise that is 14.5 + i dB below it, i the number of its band: 23.5
    dB at 1 kHz, the ninth.
    """
    spectrum = np.fft.rfft(noise(0))
    spectrum[:970] = 0
    spectrum[1031:] = 0
    inside = np.fft.irfft(spectrum) / np.sqrt(np.mean(np.fft.irfft(spectrum) ** 2))
    beside = [inside * 20e-6 * 10 ** (level_db / 20) for level_db in (36, 60)]
    hidden, heard = (
        error_loudness_sone(tone(1000, 70), error, RATE_HZ)[5:-5].mean() for error in beside
    )
    assert hidden < 0.01 < 0.5 < heard


@pytest.mark.parametrize("level_db", [20.0, 40.0, 60.0])
def test_noise_foreseen_from_its_strength_is_as_loud_as_its_samples(level_db: float) -> None:
    """White noise beside a tone of 70 dB that hides part of it: against `error_loudness_sone`."""
    sound = tone(1000, 70)
    strength_pa = 20e-6 * 10 ** (level_db / 20)
    noise = strength_pa * np.random.default_rng(1).standard_normal(len(sound))
    foreseen = noise_loudness_sone(sound, np.array([strength_pa]), RATE_HZ)[:, 0]
    found = error_loudness_sone(sound, noise, RATE_HZ)
    assert foreseen.mean() == pytest.approx(found.mean(), rel=0.1)
