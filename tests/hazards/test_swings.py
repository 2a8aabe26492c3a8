"""Peaks and valleys found all at once, against a plain walk along each light."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.hazards.swings import swings

LEAST = 0.1 - 1e-9
Walked = list[tuple[int, float, float, int]]


def walk(values: list[float], least: float) -> Walked:
    """(0, value at one extreme, value at the next, place where `least` is first reached), by one
    step after the other.
    """
    found: list[tuple[float, int]] = []
    low = high = values[0]
    going = 0
    for place, value in enumerate(values):
        low = min(low, value)
        high = max(high, value)
        if going <= 0 and value - low >= least:
            found.append((low, place))
            going = 1
            high = value
        elif going >= 0 and high - value >= least:
            found.append((high, place))
            going = -1
            low = value
    extremes = [height for height, _ in found] + [high if going > 0 else low]
    return [
        (0, *pair, place)
        for *pair, (_, place) in zip(extremes[:-1], extremes[1:], found, strict=True)
    ]


def all_at_once(lights: list[np.ndarray], least: float) -> Walked:
    starts = np.cumsum([0, *(len(light) for light in lights[:-1])])
    owner, begin, end, known = swings(np.concatenate(lights), starts, least)
    return list(
        zip(
            owner.tolist(),
            begin.tolist(),
            end.tolist(),
            (known - starts[owner]).tolist(),
            strict=True,
        )
    )


def one_by_one(lights: list[np.ndarray], least: float) -> Walked:
    return [
        (owner, *moved)
        for owner, light in enumerate(lights)
        for _, *moved in walk(light.tolist(), least)
    ]


twentieths = st.lists(st.integers(0, 20).map(lambda n: n / 20), min_size=1, max_size=60)
# On a grid, since a movement may not hang on what is smaller than the rounding of a difference.
anything = st.lists(st.integers(0, 10**9).map(lambda n: n / 10**9), min_size=1, max_size=60)
small_moves = st.lists(st.integers(-13, 13), min_size=1, max_size=120).map(
    lambda moves: (0.5 + np.cumsum(moves) / 100).tolist()
)
some_lights = st.lists(
    st.one_of(twentieths, anything, small_moves).map(np.array), min_size=1, max_size=5
)


@given(some_lights)
def test_same_as_a_walk_along_each_light(lights: list[np.ndarray]) -> None:
    assert all_at_once(lights, LEAST) == one_by_one(lights, LEAST)


@given(
    st.lists(st.lists(st.integers(0, 4095), min_size=1, max_size=200), min_size=1, max_size=4),
    st.integers(1, 4000),
)
def test_duties_are_followed_as_they_are(duties: list[list[int]], least: int) -> None:
    lights = [np.array(each, dtype=np.uint16) for each in duties]
    assert all_at_once(lights, least) == one_by_one(lights, least)


@pytest.mark.parametrize("seed", range(20))
def test_long_random_flicker_with_swells(seed: int) -> None:
    random = np.random.default_rng(seed)
    swell = 0.4 + 0.4 * np.sin(np.linspace(0, random.uniform(1, 60), 5000))
    lights = [
        np.round(swell + random.normal(0, spread, swell.size), digits)
        for spread, digits in ((0.01, 9), (0.03, 2), (0.1, 2), (0.05, 1))
    ]
    assert all_at_once(lights, LEAST) == one_by_one(lights, LEAST)


@pytest.mark.parametrize(
    "light",
    [np.linspace(0, 0.09, 300), np.linspace(0, 0.3, 300), np.linspace(0.3, 0, 300)],
    ids=["small", "growing", "dying"],
)
def test_ever_growing_and_ever_smaller_flicker(light: np.ndarray) -> None:
    # Each movement is larger, or smaller, than the one before: one of them is left over in each
    # pass.
    flickering = 0.5 + light * np.tile([1, -1], light.size // 2)
    assert all_at_once([flickering, flickering[::-1]], LEAST) == one_by_one(
        [flickering, flickering[::-1]], LEAST
    )


@pytest.mark.parametrize("seed", range(40))
def test_growing_and_dying_flicker_between_jumps(seed: int) -> None:
    random = np.random.default_rng(seed)

    def stretch() -> np.ndarray:
        count = int(random.integers(2, 300))
        base = np.linspace(*random.uniform(0, 1, 2), count)
        return base + np.linspace(*random.uniform(0, 0.1, 2), count) * np.resize([1, -1], count)

    lights = [
        np.round(np.concatenate([stretch() for _ in range(random.integers(1, 12))]), 9)
        for _ in range(4)
    ]
    assert all_at_once(lights, LEAST) == one_by_one(lights, LEAST)
