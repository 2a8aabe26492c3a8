"""What an ear hears of a loss: soft sounds count, what a sound hides does not, what is gone
does.
"""

import numpy as np
import pytest
from heard import softer_db

from fxseq.acoustics import output_voltage_v, pressure_pa
from fxseq.acoustics import softer_db as softer_db_of
from fxseq.advice import FULL_SCALE_DB, Ear
from fxseq.runs import Performance
from fxseq.sequence import loads

RATE_HZ = 22050
BARE = 'format = 1\ntitle = "x"\n[board]\nchannels = 1\n'


def noise(level_db: float, seed: int, count: int = RATE_HZ // 2) -> np.ndarray:
    """Samples of white noise at a level in the ear of a prop without a speaker."""
    effective = 32768 / np.sqrt(2) * 10 ** ((level_db - FULL_SCALE_DB) / 20)
    return effective * np.random.default_rng(seed).standard_normal(count)


def tone(level_db: float, count: int = RATE_HZ // 2) -> np.ndarray:
    return (
        32768
        * 10 ** ((level_db - FULL_SCALE_DB) / 20)
        * np.sin(2 * np.pi * 1000 * np.arange(count) / RATE_HZ)
    )


def loss_db(sound: np.ndarray, error: np.ndarray) -> float:
    """By how much an error sounds softer, to an ear without a speaker described."""
    ear = Ear.of(loads(BARE))
    pressure = ear.pressure(sound, RATE_HZ)
    return softer_db_of(ear.loudness(pressure, RATE_HZ), ear.lost(pressure, error, RATE_HZ))


def test_pressure_is_that_of_amplifier_and_speaker(performance: Performance) -> None:
    sequence = performance.prop.sequence
    samples = (3000 * np.random.default_rng(2).standard_normal(RATE_HZ)).astype(np.int16)
    volts = output_voltage_v(samples, sequence.amplifier, 100.0)[0]
    wanted = pressure_pa(volts, RATE_HZ, sequence.speaker, sequence.listening.hand_m)
    heard = Ear.of(sequence).pressure(samples, RATE_HZ)
    assert np.abs(heard[:RATE_HZ] - wanted).max() < 1e-4 * np.abs(wanted).max()


def test_without_a_speaker_a_full_sine_is_at_96_db() -> None:
    heard = Ear.of(loads(BARE)).pressure(tone(FULL_SCALE_DB), RATE_HZ)
    assert 20 * np.log10(np.sqrt(np.mean(heard**2)) / 20e-6) == pytest.approx(96, abs=0.01)


@pytest.mark.parametrize("level_db", [40, 60, 80])
@pytest.mark.parametrize("error_db", [-6, -20])
def test_loss_is_that_of_the_equations_written_again(level_db: float, error_db: float) -> None:
    sound = noise(level_db, 1) + tone(level_db)
    error = noise(level_db + error_db + 10, 2)
    ear = Ear.of(loads(BARE))
    wanted, off = (ear.pressure(each, RATE_HZ) for each in (sound, error))
    assert loss_db(sound, error) == pytest.approx(
        softer_db(wanted, wanted - off, RATE_HZ), abs=0.05
    )


@pytest.mark.parametrize("level_db", [30, 54, 84])
def test_a_sound_that_is_gone_is_lost_with_all_its_loudness(level_db: float) -> None:
    sound = noise(level_db, 1)
    assert loss_db(sound, sound) == pytest.approx(0, abs=1e-9)


def test_a_soft_sound_with_an_error_as_strong_as_itself_is_worse_than_a_loud_one() -> None:
    """At 54 dB with an error at 53 dB, and at 84 dB with one at 64 dB, which has ten times as
    much energy.
    """
    soft, loud = (
        loss_db(noise(level_db, 1), noise(error_db, 2))
        for level_db, error_db in ((54, 53), (84, 64))
    )
    assert soft < 25 < 60 < loud


def test_noise_is_hidden_by_noise_and_heard_beside_a_tone() -> None:
    """Both 15 dB below: Johnston lets noise hide what is 5.5 dB below it; a tone hides less, and
    in few bands.
    """
    assert loss_db(noise(60, 1), noise(45, 2)) > 60
    assert loss_db(tone(60), noise(45, 2)) < 15


@pytest.mark.parametrize(
    ("share", "softer"), [(1.0, 0), (0.5, 10), (0.25, 20), (0.0009, np.inf), (0.0, np.inf)]
)
def test_half_as_loud_is_10_db_softer(share: float, softer: float) -> None:
    assert softer_db_of(3.0, 3.0 * share) == softer


def test_what_is_below_the_threshold_in_quiet_is_not_heard() -> None:
    assert loss_db(tone(60), noise(-10, 2)) == np.inf


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_shortest_sounds_have_a_loudness(count: int) -> None:
    ear = Ear.of(loads(BARE))
    assert np.isfinite(ear.loudness(ear.pressure(np.ones(count), RATE_HZ), RATE_HZ))
