"""When sound and light begin: how long after a clip or a fade has begun it is heard or seen."""

from bisect import bisect_left
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from fxseq.clips import PreparedClip
from fxseq.light import AMBIENT, FULL_LEVEL, FadeCurve, Shape, approach, progress

FIRST_SOUND = 0.01
"""Share of a clip's peak (-40 dB) from which it counts as heard. Common practice, no source."""
FIRST_LIGHT = 0.1
"""Share of a fade's furthest way, in lightness, from which it counts as seen. Common practice,
no source.
"""


def lead_in_ms(clip: PreparedClip) -> float:
    """Time from a clip's start until it is heard."""
    loud = np.abs(clip.samples.astype(np.int32))
    return float(np.argmax(loud >= FIRST_SOUND * loud.max(initial=1))) * 1000 / clip.rate_hz


@lru_cache(maxsize=256)
def frames_until_seen(curve: FadeCurve) -> int | None:
    """Frames from a fade's start until it is seen, from darkness, or from full light where it only
    goes out; None where it stays as it is.

    A flicker counts as a straight way to the middle of its range.
    """
    levels = [segment.target for segment in curve.segments if segment.target != AMBIENT]
    before = 0 if any(levels) else FULL_LEVEL
    ways = list(_ways(curve, before))
    goal = FIRST_LIGHT * max((way.furthest(before) for way in ways), default=0)
    if goal == 0:
        return None
    way = next(way for way in ways if way.furthest(before) >= goal)
    if abs(way.level(0) - before) >= goal:
        return way.begin
    return way.begin + bisect_left(range(way.shown), goal, key=lambda t: abs(way.level(t) - before))


class _Way(NamedTuple):
    """How a segment moves, in one direction. shown: frames at which its levels are, one more
    than its length where its end is held.
    """

    begin: int
    shape: Shape
    start: int
    target: int
    frames: int
    shown: int

    def level(self, t: int) -> int:
        if t >= self.frames:
            return self.target
        return int(
            approach(self.start, self.target, progress(self.shape, np.array([t]), self.frames))[0]
        )

    def furthest(self, before: int) -> int:
        return max(abs(self.level(t) - before) for t in (0, self.shown - 1))


def _ways(curve: FadeCurve, before: int) -> Iterator[_Way]:
    """Those that last, and the end. A flicker takes its first way only; where light is given
    back, it is as it was before.
    """
    level = before
    begin = 0
    for number, segment in enumerate(curve.segments, 1):
        shape = segment.shape
        frames = segment.length
        target = before if segment.target == AMBIENT else segment.target
        if shape == Shape.FLICKER:
            shape = Shape.STRAIGHT
            frames = min(65536 // segment.pace, frames)
            target = (segment.low + target) // 2
        shown = frames + (number == len(curve.segments))
        if shown:
            yield _Way(begin, shape, level, target, frames, shown)
        level = target
        begin = begin + segment.length
