"""Light of all groups: two layers a channel, merged, and taken to duties (SPEC 6.2 to 6.5).

Channels of a group that have been treated alike share one lane and are evaluated once.
"""
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq.light import FadeCurve, duty_table, gauge_levels
from fxseq.player.layers import Layer, Levels, Piece
from fxseq.table import Merge, Table


class DutyTrack(NamedTuple):
    """Duty of a channel as change points: from `frames[i]` on it is `duties[i]`. Both shape (n,); frames ascend."""

    frames: NDArray[np.int64]
    duties: NDArray[np.uint16]


class Lane:
    """Channels of a group with the same history."""

    def __init__(self, channels: range, merge: Merge, ambient: Layer, effect: Layer) -> None:
        self.channels, self._merge, self.ambient, self.effect = channels, merge, ambient, effect

    def split(self) -> list["Lane"]:
        """One lane for each channel."""
        lanes = []
        for channel in self.channels:
            ambient = self.ambient.copy(channel, None)
            lanes.append(Lane(range(channel, channel + 1), self._merge, ambient, self.effect.copy(channel, ambient)))
        return lanes

    def advance(self, frame: int) -> None:
        """Bring both layers up to a frame."""
        self.ambient.advance(frame)
        self.effect.advance(frame)

    def start(self, frame: int, curve: FadeCurve, ambient: bool) -> None:
        """Start a curve on one of the layers, from the level that it is seen at (SPEC 6.2)."""
        layer = self.ambient if ambient else self.effect
        if ambient or self._merge == Merge.LATEST:
            self.advance(frame)
        else:
            # The ambient layer is not asked, and is passed in longer stretches later.
            self.effect.advance(frame)
        layer.start(frame, curve, self._seen(frame) if self._merge == Merge.LATEST else layer.level(frame))

    def _seen(self, frame: int) -> int:
        on_top = self.effect.live and self.effect.started >= self.ambient.started
        return (self.effect if on_top else self.ambient).level(frame)

    def collect(self, frame: int) -> tuple[NDArray[np.int64], Levels]:
        """Merged levels passed since the last collection, as step functions over frames; the lane goes on at `frame`."""
        self.advance(frame)
        above, below = _steps(self.effect.collect(frame)), _steps(self.ambient.collect(frame))
        frames = _union(below.frames, above.frames)
        over, under = above.spread(above.levels, frames), below.spread(below.levels, frames)
        if self._merge == Merge.HIGHEST:
            return frames, np.maximum(under, over)
        live = above.spread(above.of_pieces([piece.live for piece in above.pieces]), frames)
        started = above.spread(above.of_pieces([piece.started for piece in above.pieces]), frames)
        beneath = below.spread(below.of_pieces([piece.started for piece in below.pieces]), frames)
        return frames, np.where(live & (started >= beneath), over, under)


class _Steps(NamedTuple):
    """Pieces as one step function: levels from `frames` on; `lengths` of them are from each piece."""

    pieces: list[Piece]
    lengths: NDArray[np.int64]
    frames: NDArray[np.int64]
    levels: Levels

    def of_pieces(self, values: list[int] | list[bool]) -> NDArray[np.integer] | NDArray[np.bool_]:
        """A value of each piece, for each of the levels."""
        return np.repeat(np.array(values), self.lengths)

    def spread(self, values: NDArray[Any], frames: NDArray[np.int64]) -> NDArray[Any]:
        """Values, one a level, for each of `frames`, which hold all of the steps' own."""
        if len(self.frames) == len(frames):
            return values
        if frames[-1] - frames[0] + 1 == len(frames):
            return np.repeat(values, np.diff(self.frames, append=frames[-1] + 1))
        return values[np.searchsorted(self.frames, frames, side="right") - 1]


def _steps(pieces: list[Piece]) -> _Steps:
    """Where a piece goes on past the beginning of the next, that one counts."""
    begins = np.array([piece.frame for piece in pieces])
    room = [*np.diff(begins).tolist(), None]
    parts = [piece.levels[:most] for piece, most in zip(pieces, room, strict=True)]
    lengths = np.array([len(part) for part in parts])
    frames = np.arange(lengths.sum()) + np.repeat(begins - (np.cumsum(lengths) - lengths), lengths)
    return _Steps(pieces, lengths, frames, np.concatenate(parts))


def _union(first: NDArray[np.int64], second: NDArray[np.int64]) -> NDArray[np.int64]:
    """All frames of two ascending lists with the same beginning, once each; where most frames are named, all of them.

    A stable sort merges runs; numpy's own union hashes, which took longer than all else.
    """
    last = max(first[-1], second[-1])
    if len(first) + len(second) > (last - first[0]) // 2:
        return np.arange(first[0], last + 1)
    frames = np.sort(np.concatenate((first, second)), kind="stable")
    return frames[np.append(True, frames[1:] != frames[:-1])]


class Lights:
    """The light of a table's groups."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self._lanes = [[self._lane(range(group.first, group.first + group.channels), group.merge)] for group in table.groups]
        for index, counter in enumerate(table.counters):
            self.show_counter(0, index, counter.start)

    def _lane(self, channels: range, merge: Merge) -> Lane:
        ambient = Layer(channels[0], self._table.seed)
        return Lane(channels, merge, ambient, Layer(channels[0], self._table.seed, ambient))

    def start_group(self, frame: int, group: int, fade: int, ambient: bool) -> None:
        """Start a curve on all channels of a group."""
        curve = self._table.fades[fade]
        if curve.has_flicker:
            self._split(group)
        for lane in self._lanes[group]:
            lane.start(frame, curve, ambient)

    def start_channel(self, frame: int, group: int, place: int, fade: int, ambient: bool) -> None:
        """Start a curve on one channel of a group."""
        self._split(group)
        self._lanes[group][place].start(frame, self._table.fades[fade], ambient)

    def show_counter(self, frame: int, counter: int, value: int) -> None:
        """Set the gauges of a counter."""
        for index, group in enumerate(self._table.groups):
            if group.gauge == counter:
                self._split(index)
                levels = gauge_levels(value, self._table.counters[counter].maximum, group.channels)
                for lane, level in zip(self._lanes[index], levels, strict=True):
                    lane.advance(frame)
                    lane.ambient.hold(frame, level)

    def collect(self, frame: int) -> list[DutyTrack]:
        """Duties passed since the last collection, channel by channel; each track starts with the duty at its first frame."""
        dark = DutyTrack(np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.uint16))
        tracks = [dark] * self._table.channels
        to_duty = duty_table(self._table.pwm_bits)
        for lanes in self._lanes:
            for lane in lanes:
                track = _track(*lane.collect(frame), frame, to_duty)
                for channel in lane.channels:
                    tracks[channel] = track
        return tracks

    def _split(self, group: int) -> None:
        if len(self._lanes[group]) != self._table.groups[group].channels:
            self._lanes[group] = [lane for wide in self._lanes[group] for lane in wide.split()]


def _track(frames: NDArray[np.int64], levels: Levels, until: int, to_duty: NDArray[np.uint16]) -> DutyTrack:
    inside = np.searchsorted(frames, until)
    duties = to_duty[levels[:inside]]
    changed = np.append(0, np.flatnonzero(duties[1:] != duties[:-1]) + 1)[:inside]
    return DutyTrack(frames[changed], duties[changed])
