"""One layer of light: a fade curve under way, walked segment by segment, and the levels it has
passed through.

A layer is evaluated lazily. `advance` brings it up to a frame and appends what it passed to
`pieces`: levels from a frame on, one a frame, the last one holding until the next piece.

What makes this more than a loop over segments: a segment starts at the level that the layer has
then, which is known only once all before it are passed; and a segment to AMBIENT goes to whatever
the layer below has at that same frame, which may have a curve of its own under way. So a layer
keeps the frame at which its segment began and the level that it began from, and asks the layer
below for a stretch of levels, which brings that one up to date first. A step or a held level is a
piece of one value, a fade a piece of one value a frame, and a wick that flickers for ever is passed
in whole rounds at once, so that the work grows with what happens, not with the frames.
"""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq.light import (
    AMBIENT,
    FadeCurve,
    FadeSegment,
    Shape,
    approach,
    flicker_level,
    flicker_passes,
    progress,
    segment_level,
)

Levels = NDArray[np.integer]


NO_END = -1
"""Of a layer without a curve."""


class Piece(NamedTuple):
    """Levels from `frame` on; whether the layer is live, at which frame its fade started, and that
    in which its segment will be over.
    """

    frame: int
    levels: Levels
    live: bool
    started: int
    end: int


_DARK = np.zeros(1, dtype=np.int64)


@lru_cache(maxsize=512)
def _plain_levels(segment: FadeSegment, start: int) -> Levels:
    levels = segment_level(segment, start)
    levels.setflags(write=False)
    return levels


class Layer:
    """A layer of one channel, or of several that have been treated alike. `below`: the layer
    that a segment to AMBIENT moves to.
    """

    def __init__(
        self, channel: int, seed: int, below: "Layer | None" = None, first: int = 0
    ) -> None:
        self.channel = channel
        self._seed = seed
        self.below = below
        self._curve: FadeCurve | None = None
        self._segment = 0
        self._began = self._from = 0
        self._held = 0
        self.first = self.done = first
        self.live = below is None
        self.started = -1 if below else 0
        self.pieces = [Piece(first, _DARK, self.live, self.started, NO_END)]
        self.ends: list[Levels] = []
        """Frames in which segments were over, passed since the last `forget`."""

    def copy(self, channel: int, below: "Layer | None") -> "Layer":
        """This layer for another channel."""
        twin = Layer(channel, self._seed, below)
        twin._curve = self._curve
        twin._segment = self._segment
        twin._began = self._began
        twin._from = self._from
        twin._held = self._held
        twin.first = self.first
        twin.done = self.done
        twin.live = self.live
        twin.started = self.started
        twin.pieces = list(self.pieces)
        twin.ends = list(self.ends)
        return twin

    def advance(self, until: int) -> None:
        """Pass all frames before `until`, and every segment that is over by then."""
        while self._curve is not None:
            segment = self._curve.segments[self._segment]
            end = self._began + segment.length
            if end <= self.done:
                self._go_on(self._curve, segment, end)
            elif self.done >= until:
                return
            elif segment.shape != Shape.FLICKER or not self._pass_whole(
                self._curve, segment, until
            ):
                stop = min(until, end)
                self._append(self._levels(segment, self.done, stop), end)
                self.done = stop
        self.done = max(self.done, until)

    def level(self, frame: int) -> int:
        """Level at `frame`, to which the layer has been advanced."""
        if self._curve is None:
            return self._held
        segment = self._curve.segments[self._segment]
        if segment.target == AMBIENT:
            # Not by `_levels`, which would take the layer below past this frame, in which a curve
            # may still start on it.
            way = progress(segment.shape, np.array([frame - self._began]), segment.length)
            return int(approach(self._from, self._ambient_at(frame), way)[0])
        return int(self._levels(segment, frame, frame + 1)[0])

    def start(self, frame: int, curve: FadeCurve, level: int) -> None:
        """Start a curve at `frame`, to which the layer has been advanced, from `level`."""
        self._curve = curve
        self._segment = 0
        self._began = frame
        self._from = level
        self.live = True
        self.started = frame
        self.advance(frame)

    def holds(self, level: int) -> bool:
        """Whether it stays at this level anyway."""
        return self._curve is None and self._held == level

    def hold(self, frame: int, level: int) -> None:
        """Stay at a level from `frame` on."""
        self.advance(frame)
        self._curve = None
        self._held = level
        self._append(np.array([level]), NO_END)

    def passed(self) -> NDArray[np.uint16]:
        """Levels at frames first..done - 1."""
        levels = np.empty(self.done - self.first, dtype=np.uint16)
        for piece, end in self._pieces_to_ends():
            part = piece.levels[: end - piece.frame]
            held_from = piece.frame - self.first + len(part)
            levels[piece.frame - self.first : held_from] = part
            levels[held_from : end - self.first] = piece.levels[-1]
        return levels

    def of_pieces(self, values: Sequence[Any]) -> NDArray[Any]:
        """A value of each piece at frames first..done - 1."""
        return np.repeat(
            np.array(values), [end - piece.frame for piece, end in self._pieces_to_ends()]
        )

    def _pieces_to_ends(self) -> Iterable[tuple[Piece, int]]:
        """Each piece and the frame at which the next takes over."""
        return zip(
            self.pieces, [*(piece.frame for piece in self.pieces[1:]), self.done], strict=False
        )

    def forget(self) -> None:
        """Drop what was passed."""
        self.first = self.done
        self.ends = [ends[ends >= self.done] for ends in self.ends[-1:]]
        level = self._held if self._curve is None else self._from
        self.pieces = [Piece(self.done, np.array([level]), self.live, self.started, NO_END)]

    def levels_at(self, low: int, high: int) -> Levels:
        """Levels at frames low..high - 1, all of them passed or being held."""
        out = np.empty(high - low, dtype=np.int64)
        end = high
        for piece in reversed(self.pieces):
            start = max(piece.frame, low)
            if start < end:
                out[start - low : end - low] = piece.levels[
                    np.minimum(np.arange(start, end) - piece.frame, len(piece.levels) - 1)
                ]
                end = start
            if end <= low:
                break
        return out

    def _append(self, levels: Levels, end: int) -> None:
        self.pieces.append(Piece(self.done, levels, self.live, self.started, end))

    def _pass_whole(self, curve: FadeCurve, segment: FadeSegment, until: int) -> bool:
        """Pass as many whole rounds of a flicker as there are, where the curve is that alone,
        for ever (a wick). False where there are none.
        """
        passes = (until - self._began) // segment.length
        goes_round = curve.turn == self._segment == len(curve.segments) - 1
        if self.done > self._began or passes < 1 or not (goes_round and segment.leaves_start):
            return False
        levels, self._from = flicker_passes(
            segment, self._from, self._began, passes, self.channel, self._seed
        )
        for one in np.split(levels, passes):
            self._began += segment.length
            self._append(one, self._began)
            self.done = self._began
        self.ends.append(self._began - segment.length * np.arange(passes))
        return True

    def _levels(self, segment: FadeSegment, low: int, high: int) -> Levels:
        """Levels of a segment under way at frames low..high - 1, all within it; of a flicker
        also where it ends.
        """
        if segment.shape == Shape.FLICKER:
            return flicker_level(
                segment,
                self._from,
                self._began,
                low - self._began,
                high - self._began,
                self.channel,
                self._seed,
            )
        if segment.target == AMBIENT:
            way = progress(segment.shape, np.arange(low, high) - self._began, segment.length)
            return approach(self._from, self._ambient(low, high), way)
        return _plain_levels(segment, self._from)[low - self._began : high - self._began]

    def _ambient(self, low: int, high: int) -> Levels:
        if self.below is None:
            return np.zeros(high - low, dtype=np.int64)
        self.below.advance(high)
        return self.below.levels_at(low, high)

    def _ambient_at(self, frame: int) -> int:
        """Level of the ambient layer at a frame that it has passed, or is brought up to."""
        if self.below is None:
            return 0
        if self.below.done > frame:
            return int(self.below.levels_at(frame, frame + 1)[0])
        self.below.advance(frame)
        return self.below.level(frame)

    def _end_level(self, segment: FadeSegment, end: int) -> int:
        if segment.shape == Shape.FLICKER:
            return int(self._levels(segment, end, end + 1)[0])
        if segment.target == AMBIENT:
            return self._ambient_at(end)
        return segment.target

    def _go_on(self, curve: FadeCurve, segment: FadeSegment, end: int) -> None:
        """Step to the segment behind `segment`, which ends at frame `end`; at the last one, turn
        back or stay where it ended.
        """
        level = self._end_level(segment, end)
        self.ends.append(np.array([end]))
        self._began = end
        self._from = level
        self._segment += 1
        if self._segment < len(curve.segments):
            return
        if curve.turn is not None:
            self._segment = curve.turn
            return
        if self.below is not None:
            self.live = level > 0 and segment.target != AMBIENT
        self._curve = None
        self._held = level if self.live else 0
        self._append(np.array([self._held]), NO_END)
