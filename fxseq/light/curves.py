"""Fade curves: segments with one of five shapes, evaluated frame by frame in integers.

Levels are perceived lightness, 0..65535. Rule numbers refer to firmware_spec/SPEC.md.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

AMBIENT = -1
"""Target of a segment that moves to wherever the ambient layer is."""

Levels = NDArray[np.integer]


class Shape(IntEnum):
    """How a segment moves to its target."""

    STEP = 0
    STRAIGHT = 1
    EASE = 2
    DECAY = 3
    FLICKER = 4


@dataclass(frozen=True)
class FadeSegment:
    """One segment: `length` frames to `target` (a level, or AMBIENT); flicker between `low` and
    `target`, `pace` / 65536 points a frame.
    """

    shape: Shape
    length: int
    target: int
    low: int = 0
    pace: int = 0

    def phase(self, t: int | Levels) -> int | Levels:
        """Points that a flicker has come to by frame `t` of it, in 1/65536."""
        return t * self.pace

    @property
    def leaves_start(self) -> bool:
        """Whether a flicker lasts until its first drawn point, so that its end does not hang on
        the level that it began from.
        """
        return self.phase(self.length) >= 65536


@dataclass(frozen=True)
class FadeCurve:
    """Segments one after the other. `turn`: the one that comes behind the last; None where the
    curve ends.
    """

    segments: tuple[FadeSegment, ...]
    turn: int | None = None

    def is_slow_enough(self, row: int, frames: int) -> bool:
        """Whether any `row` segments that follow each other, also round the end, last `frames`
        or more together.
        """
        lengths = [segment.length for segment in self.segments]
        if self.turn is not None:
            lengths += lengths[self.turn :] * row
        return all(
            sum(lengths[begin : begin + row]) >= frames
            for begin in range(min(len(self.segments), len(lengths) - row + 1))
        )

    @property
    def has_flicker(self) -> bool:
        """Whether channels that run this curve differ from each other."""
        return any(segment.shape == Shape.FLICKER for segment in self.segments)

    @property
    def parts_channels(self) -> bool:
        """Whether channels that start this curve from the same level may go on unlike each
        other: flicker, and the ambient layer, differ.
        """
        return any(
            segment.shape == Shape.FLICKER or segment.target == AMBIENT for segment in self.segments
        )

    @property
    def length(self) -> int:
        """Frames of one pass."""
        return sum(segment.length for segment in self.segments)


# 32768 * (e^(-5 i/16) - e^-5) / (1 - e^-5), rounded: what is left of the way after i sixteenths
# (SPEC 6.3). Written out, since the last digit must not hang on a machine's exponential function.
DECAY_LEFT = (
    32768, 23914, 17436, 12697, 9230, 6693, 4837, 3479, 2486, 1759, 1227, 838, 554, 345, 193, 82, 0,
)  # fmt: skip


def pace_of(shape: Shape, length: int) -> tuple[int, int]:
    """How a segment that does not flicker gets on: in frame t by t * pace >> by, in 1/32768 of
    the way (SPEC 3.6).
    """
    if shape == Shape.STEP or length == 0:
        return 0, 0
    by = length.bit_length() - 1
    return (1 << 15 + by) // length, by


def progress(shape: Shape, t: Levels, length: int) -> Levels:
    """Share of the way gone at frame `t` (0 <= t < length) of a segment, in 1/32768."""
    if shape == Shape.STEP:
        return np.full_like(t, 32768)
    pace, by = pace_of(shape, length)
    way = t * pace >> by
    if shape == Shape.EASE:
        return (way * way >> 15) * (98304 - 2 * way) >> 15
    if shape == Shape.DECAY:
        left = np.array(DECAY_LEFT)
        part = way >> 11
        return 32768 - (left[part] - ((left[part] - left[part + 1]) * (way & 2047) >> 11))
    return way


def approach(start: int, target: int | Levels, way: int | Levels) -> int | Levels:
    """Level `way` / 32768 of the way from `start` to `target`, rounded toward `start`."""
    distance = target - start
    return start + np.sign(distance) * (np.abs(distance) * way >> 15)


def segment_level(segment: FadeSegment, start: int) -> Levels:
    """Levels of every frame of a segment that goes to a level and does not flicker, from
    `start`. Shape (length,).
    """
    return approach(
        start, segment.target, progress(segment.shape, np.arange(segment.length), segment.length)
    )


def flicker_point(frame: int | Levels, channel: int, seed: int) -> int | Levels:
    """16 random bits for one channel at one frame: a hash, so that channels and frames need no
    order (SPEC 6.4).
    """
    x = (frame + (channel * 0x9E3779B1 + seed & 0xFFFFFFFF)) & 0xFFFFFFFF
    x = (x ^ (x >> 16)) * 0x7FEB352D & 0xFFFFFFFF
    x = (x ^ (x >> 15)) * 0x846CA68B & 0xFFFFFFFF
    return (x ^ (x >> 16)) >> 16


def flicker_level(
    segment: FadeSegment, start: int, began: int, first: int, last: int, channel: int, seed: int
) -> Levels:
    """Levels at frames first..last - 1 (0 <= first < last <= length + 1) of a flicker segment
    that began at frame `began` from level `start`.
    """
    phase = segment.phase(np.arange(first, last))
    number = phase >> 16
    lowest = int(number[0])
    drawn = _drawn_points(segment, began, np.arange(lowest, number[-1] + 2), channel, seed)
    if lowest == 0:
        drawn[0] = start
    return _between_points(drawn, number - lowest, phase)


def flicker_passes(
    segment: FadeSegment, start: int, began: int, passes: int, channel: int, seed: int
) -> tuple[Levels, int]:
    """Levels of a flicker segment that is run `passes` times in a row, from frame `began` and level
    `start`, and the level that comes next.

    Shape (passes * length,). The segment must leave its start: then no pass begins at a level
    that hangs on the one before it.
    """
    phase = segment.phase(np.arange(segment.length + 1))
    number = phase >> 16
    begins = began + segment.length * np.arange(passes)[:, np.newaxis]
    drawn = _drawn_points(segment, begins, np.arange(number[-1] + 2), channel, seed)
    ends = _between_points(drawn, number[-1:], phase[-1:])[:, 0]
    drawn[0, 0] = start
    drawn[1:, 0] = ends[:-1]
    return _between_points(drawn, number[:-1], phase[:-1]).ravel(), int(ends[-1])


def _drawn_points(
    segment: FadeSegment, began: int | Levels, number: Levels, channel: int, seed: int
) -> NDArray[np.int32]:
    """Points number `number` of a flicker that began at frame `began`, broadcast."""
    span = segment.target - segment.low
    drawn = flicker_point((began + (number << 16)).astype(np.uint32), channel, seed)
    return segment.low + (span * drawn >> 16).astype(np.int32)


def _between_points(
    points: NDArray[np.int32], number: Levels, phase: Levels
) -> NDArray[np.int32]:
    """Levels from point number `number` to the next, by the phase; shape (..., points) to
    (..., levels). All fits 32 bits.
    """
    way = ((phase & 65535) >> 1).astype(np.int32)
    return approach(points[..., number], points[..., number + 1], way)
