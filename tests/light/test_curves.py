"""Fade shapes as integers: where they begin, end and go, and that no product needs more than 32
bits.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.light import (
    FULL_LEVEL,
    FadeSegment,
    Shape,
    approach,
    flicker_level,
    flicker_passes,
    flicker_point,
    gauge_levels,
    progress,
    segment_level,
)
from fxseq.light.curves import DECAY_LEFT

pytestmark = pytest.mark.quick

LEVEL = st.integers(0, FULL_LEVEL)
LENGTH = st.integers(1, 65_535)
MOVING = st.sampled_from([Shape.STRAIGHT, Shape.EASE, Shape.DECAY])


def test_decay_table_is_the_rounded_exponential():
    """e^(-5 x), brought to end at zero."""
    exact = [32768 * (math.exp(-5 * i / 16) - math.exp(-5)) / (1 - math.exp(-5)) for i in range(17)]
    assert list(DECAY_LEFT) == [round(value) for value in exact]


@given(MOVING, LENGTH)
def test_progress_starts_at_zero_and_goes_forward(shape: Shape, length: int):
    """Ease rounds twice, so that it may fall back by a step or two of 32768, a fifth of a step
    of 12 bits.
    """
    way = progress(shape, np.arange(length), length)
    assert way[0] == 0
    assert way.max() <= 32768
    assert np.diff(way, prepend=0).min() >= (-2 if shape == Shape.EASE else 0)


@given(MOVING, LENGTH, LEVEL, LEVEL)
def test_levels_stay_between_start_and_target(shape: Shape, length: int, start: int, target: int):
    levels = segment_level(FadeSegment(shape, length, target), start)
    assert levels[0] == start
    assert min(start, target) <= levels.min() and levels.max() <= max(start, target)


@pytest.mark.parametrize("shape", [Shape.STRAIGHT, Shape.EASE, Shape.DECAY])
def test_last_frame_is_next_to_the_target(shape: Shape):
    """In 1000 frames the last one is within 0.2 % of the way, so the step to the target that
    follows is not seen.
    """
    assert 65535 - segment_level(FadeSegment(shape, 1000, 65535), 0)[-1] < 131


def test_step_is_there_at_once():
    assert list(segment_level(FadeSegment(Shape.STEP, 3, 65535), 5)) == [65535] * 3


def test_straight_is_a_straight_line():
    """Quarter points of 0 to 65535: w = 0, 8192, 16384, 24576 of 32768."""
    assert list(segment_level(FadeSegment(Shape.STRAIGHT, 4, 65535), 0)) == [0, 16383, 32767, 49151]


def test_ease_is_slow_at_both_ends_and_halfway_in_the_middle():
    way = progress(Shape.EASE, np.array([0, 100, 500, 900]), 1000)
    assert way[2] == pytest.approx(16384, abs=2)
    assert way[1] == pytest.approx(32768 * 0.028, abs=4) and way[3] == pytest.approx(
        32768 * 0.972, abs=4
    )


@given(LEVEL, LEVEL, st.integers(0, 32768))
def test_approach_rounds_toward_the_start_in_32_bits(start: int, target: int, way: int):
    assert abs(target - start) * way < 2**32
    moved = approach(start, target, way) - start
    assert abs(moved) == abs(target - start) * way // 32768
    assert moved * (target - start) >= 0


def pace(every: int) -> int:
    """That of a flicker with a new point every so many frames (SPEC 6.4 R1)."""
    return min(65536 // every, 65535)


@given(
    LEVEL.flatmap(lambda high: st.tuples(st.just(high), st.integers(0, high))),
    st.integers(1, 400),
    st.integers(1, 300),
    LEVEL,
    st.integers(0, 2**31),
    st.integers(0, 254),
)
def test_flicker_starts_where_it_is_and_stays_in_its_range(
    range_: tuple[int, int], length: int, every: int, start: int, began: int, channel: int
):
    high, low = range_
    levels = flicker_level(
        FadeSegment(Shape.FLICKER, length, high, low, pace(every)),
        start,
        began,
        0,
        length + 1,
        channel,
        7,
    )
    assert levels[0] == start
    assert min(start, low) <= levels.min() and levels.max() <= max(start, high)
    first_drawn = -(-65536 // pace(every))
    if length >= first_drawn:
        assert low <= levels[first_drawn:].min() and levels[first_drawn:].max() <= high


@given(
    st.integers(1, 60).flatmap(
        lambda every: st.tuples(st.just(every), st.integers(every + 2, 400))
    ),
    st.integers(1, 5),
    LEVEL,
    st.integers(0, 2**33),
    st.integers(0, 254),
)
def test_passes_in_a_row_are_those_played_one_by_one(
    times: tuple[int, int], passes: int, start: int, began: int, channel: int
):
    every, length = times
    segment = FadeSegment(Shape.FLICKER, length, 65535, 2570, pace(every))
    single = []
    level = start
    for number in range(passes):
        *levels, level = flicker_level(
            segment, level, began + number * length, 0, length + 1, channel, 7
        )
        single += levels
    together, following = flicker_passes(segment, start, began, passes, channel, 7)
    assert together.tolist() == single and following == level


def test_flicker_differs_between_channels_and_is_spread_evenly():
    """10,000 points in ten bins: 1000 each, with a standard deviation of 30; five of those are
    far enough.
    """
    points = np.array([flicker_point(frame * 60, 3, 1) for frame in range(10_000)])
    counts = np.histogram(points, bins=10, range=(0, 65536))[0]
    assert np.abs(counts - 1000).max() < 150
    other = np.array([flicker_point(frame * 60, 4, 1) for frame in range(10_000)])
    assert abs(np.corrcoef(points, other)[0, 1]) < 0.05


def test_gauge_goes_out_one_by_one():
    assert gauge_levels(12, 12, 4) == [65535] * 4
    assert gauge_levels(7, 12, 4) == [65535, 65535, 21845, 0]
    assert gauge_levels(0, 12, 4) == [0] * 4


@given(
    st.integers(1, 65_535).flatmap(lambda most: st.tuples(st.just(most), st.integers(0, most))),
    st.integers(1, 255),
)
def test_gauge_shows_the_share_that_is_left(count: tuple[int, int], channels: int):
    maximum, value = count
    levels = gauge_levels(value, maximum, channels)
    assert levels == sorted(levels, reverse=True)
    assert sum(levels) == pytest.approx(FULL_LEVEL * channels * value / maximum, abs=1)
