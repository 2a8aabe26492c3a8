"""The loop finder, on sounds whose period is known."""

import numpy as np
import pytest

from fxseq.clips.loop_finder import FoundLoop, find_loop, joined, off_beat_s

RATE_HZ = 44_100


def noise(count: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=count) * 0.2


@pytest.mark.parametrize("period", [90, 441, 1000, 4410])
def test_a_periodic_sound_is_looped_by_whole_periods(period: int) -> None:
    sound = np.resize(noise(period), RATE_HZ)
    found = find_loop(sound, RATE_HZ)
    assert (found.end - found.start) % period == 0
    assert found.match == pytest.approx(1, abs=1e-6)
    assert found.end - found.start > RATE_HZ - found.join - 2 * period - RATE_HZ // 60


def test_a_place_that_comes_again_is_found_in_noise_to_the_sample() -> None:
    sound = noise(2 * RATE_HZ)
    sound[70_000:80_000] = sound[20_000:30_000]
    found = find_loop(sound, RATE_HZ)
    assert (found.end - found.start, found.match) == (50_000, pytest.approx(1, abs=1e-6))
    assert 20_000 + found.join <= found.start <= 30_000


def test_of_two_that_match_the_longer_is_taken() -> None:
    sound = noise(3 * RATE_HZ)
    sound[60_000:70_000] = sound[110_000:120_000] = sound[20_000:30_000]
    assert find_loop(sound, RATE_HZ).end - find_loop(sound, RATE_HZ).start == 90_000


def test_places_of_like_level_are_joined_where_nothing_comes_again() -> None:
    """Noise that swells to double and falls again: a loop from before the hill to behind it, at
    one level.
    """
    level = 1 + np.sin(np.pi * np.arange(2 * RATE_HZ) / (2 * RATE_HZ)) ** 2
    sound = noise(2 * RATE_HZ) * level
    found = find_loop(sound, RATE_HZ)
    assert found.match < 0.5 and found.end - found.start > 1.5 * RATE_HZ
    assert level[found.start] == pytest.approx(level[found.end], rel=0.35)


def test_a_tone_that_dies_is_not_looped_from_loud_to_soft() -> None:
    at = np.arange(2 * RATE_HZ)
    found = find_loop(np.sin(2 * np.pi * 441 * at / RATE_HZ) * np.exp(-at / RATE_HZ), RATE_HZ)
    # Alike but for AS_GOOD means 2r / (1 + r^2) of the best, which is that of 0.3 s.
    assert 0.3 * RATE_HZ <= found.end - found.start < 0.6 * RATE_HZ
    assert (found.end - found.start) % 100 in (0, 1, 99)


@pytest.mark.parametrize("seconds", [0.02, 0.1, 0.35, 3])
@pytest.mark.parametrize("early", [0, 0.3, 0.5])
def test_a_loop_is_inside_the_sound_and_long_enough(seconds: float, early: float) -> None:
    sound = noise(round(seconds * RATE_HZ))
    found = find_loop(sound, RATE_HZ, round(early * len(sound)))
    assert max(found.join, round(early * len(sound))) <= found.start < found.end <= len(sound)
    assert (
        found.end - found.start >= min(0.3 * RATE_HZ, (1 - max(early, 1 / 8)) / 2 * len(sound)) - 1
    )
    assert found.join <= 0.05 * RATE_HZ


def test_silence_has_a_loop_too() -> None:
    found = find_loop(np.zeros(RATE_HZ), RATE_HZ)
    assert found.end - found.start >= 0.3 * RATE_HZ
    assert not joined(np.zeros(RATE_HZ), found).any()


def test_same_sound_gives_the_same_loop() -> None:
    assert find_loop(noise(RATE_HZ), RATE_HZ) == find_loop(noise(RATE_HZ).copy(), RATE_HZ)


def test_equal_stretches_are_joined_without_a_change() -> None:
    sound = np.resize(noise(1000), RATE_HZ)
    found = FoundLoop(5000, 35_000, 2000, 1.0)
    assert joined(sound, found) == pytest.approx(sound[:35_000], abs=1e-12)


def test_unrelated_stretches_are_joined_at_the_same_power() -> None:
    """Equal power: in the middle of a cross-fade of two noises the mean square is that of each,
    where equal gain would have half of it.
    """
    sounds = [joined(noise(4000, seed), FoundLoop(1500, 4000, 1000, 0.0)) for seed in range(200)]
    power = np.mean(np.square(sounds), axis=0)
    assert power[3400:3600].mean() == pytest.approx(0.04, rel=0.05)


def test_a_joined_sound_goes_on_into_its_loop() -> None:
    sound = np.cumsum(noise(20_000)) / 50
    found = FoundLoop(5000, 15_000, 2000, 0.0)
    turn = joined(sound, found)
    assert turn[-1] == pytest.approx(sound[4999], abs=1e-4)
    assert np.array_equal(turn[:13_000], sound[:13_000])


def beats(period_s: float, seconds: float) -> np.ndarray:
    """Bursts of noise that die away, each another, at even distances."""
    at_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return 0.3 * np.random.default_rng(5).normal(size=at_s.size) * np.exp(-15 * (at_s % period_s))


@pytest.mark.parametrize(
    ("start_s", "length_s", "off_s"),
    [(0.6, 3.0, 0.0), (1.1, 2.0, 0.0), (0.6, 3.12, 0.12), (0.6, 1.9, -0.1)],
)
def test_loop_off_its_beat_is_told(start_s: float, length_s: float, off_s: float) -> None:
    start = round(start_s * RATE_HZ)
    end = round((start_s + length_s) * RATE_HZ)
    assert off_beat_s(beats(0.5, 6), RATE_HZ, start, end) == pytest.approx(off_s, abs=0.006)


def test_a_sound_without_beats_is_never_off_beat() -> None:
    noise = np.random.default_rng(6).normal(size=6 * RATE_HZ) / 8
    at = np.arange(6 * RATE_HZ)
    tone = 0.3 * np.sin(2 * np.pi * 110 * at / RATE_HZ)
    assert [
        off_beat_s(sound, RATE_HZ, 10_000, 70_000) for sound in (noise, tone, np.zeros(6 * RATE_HZ))
    ] == [0, 0, 0]
