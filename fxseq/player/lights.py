"""Light of all groups: two layers a channel, merged, and taken to duties (SPEC 6.2 to 6.5).

Channels of a group that have been treated alike share one lane and are evaluated once. Lanes that
an effect finds at the same level share their effect layer from then on.
"""

from collections.abc import Callable, Iterable
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq.light import FadeCurve, duty_table, gauge_levels
from fxseq.player.layers import NO_END, Layer, Levels
from fxseq.table import Merge, Table


class DutyTrack(NamedTuple):
    """Duty of a channel as change points: from `frames[i]` on it is `duties[i]`. Both shape
    (n,); frames ascend.
    """

    frames: NDArray[np.int64]
    duties: NDArray[np.uint16]


class Lane:
    """Channels of a group with the same history. `past`: what its effect layer was before, and
    the frame at which each was left. `starts`: frames in which something started on them.
    """

    def __init__(
        self, channels: range, merge: Merge, table: Table, ambient: Layer, effect: Layer
    ) -> None:
        self.channels = channels
        self._merge = merge
        self._table = table
        self.ambient = ambient
        self.effect = effect
        self.past: list[tuple[Layer, int]] = []
        self.starts: list[int] = []

    def split(self) -> list["Lane"]:
        """One lane for each channel."""
        lanes = []
        for channel in self.channels:
            ambient = self.ambient.copy(channel, None)
            lanes.append(
                Lane(
                    range(channel, channel + 1),
                    self._merge,
                    self._table,
                    ambient,
                    self.effect.copy(channel, ambient),
                )
            )
            lanes[-1].past = list(self.past)
            lanes[-1].starts = list(self.starts)
        return lanes

    def advance(self, frame: int) -> None:
        """Pass all frames before `frame`."""
        self.ambient.advance(frame)
        self.effect.advance(frame)

    def look(self, frame: int) -> None:
        """Bring both layers up to a frame in which something starts on one of them."""
        self.starts.append(frame)
        self.ambient.advance(frame)
        self.effect.advance(frame)

    def start(self, frame: int, curve: FadeCurve, ambient: bool) -> None:
        """Start a curve on one of the layers, from the level that it is seen at (SPEC 6.2)."""
        layer = self.ambient if ambient else self.effect
        self.look(frame)
        layer.start(
            frame, curve, self._seen(frame) if self._merge == Merge.LATEST else layer.level(frame)
        )

    def _seen(self, frame: int) -> int:
        on_top = self.effect.live and self.effect.started >= self.ambient.started
        return (self.effect if on_top else self.ambient).level(frame)

    def begun(self, frame: int, curve: FadeCurve, level: int) -> Layer:
        """An effect layer that goes on from a level with a curve."""
        layer = Layer(self.channels[0], self._table.seed, self.ambient, frame)
        layer.start(frame, curve, level)
        return layer

    def follow(self, frame: int, effect: Layer) -> None:
        """Have another effect layer from `frame` on."""
        self.starts.append(frame)
        self.past.append((self.effect, frame))
        self.effect = effect

    def ends(self) -> Iterable[Levels]:
        """Frames in which segments of its layers were over, also of those it had before: up to
        when they were left, since other lanes may go on with them.
        """
        yield from self.ambient.ends
        yield from self.effect.ends
        for layer, left in self.past:
            yield from (ends[ends < left] for ends in layer.ends)

    def levels(self, passed: Callable[[Layer], NDArray[np.uint16]]) -> NDArray[np.uint16]:
        """Merged levels passed since the last `forget`, one a frame. passed: `Layer.passed`,
        which need not be asked twice.
        """
        over = self._of_effect(passed)
        under = passed(self.ambient)
        if self._merge == Merge.HIGHEST:
            return np.maximum(under, over)
        above = self.effect
        below = self.ambient
        live, started = (
            above.of_pieces(values)
            for values in zip(*((piece.live, piece.started) for piece in above.pieces), strict=True)
        )
        return np.where(
            live & (started >= below.of_pieces([piece.started for piece in below.pieces])),
            over,
            under,
        )

    def segment_ends(self) -> NDArray[np.integer]:
        """Frame in which the segment will be over that turns are counted from, of each frame
        passed (SPEC 6.2).
        """
        above = self._of_effect(_ends_of)
        return np.where(above == NO_END, _ends_of(self.ambient), above)

    def _of_effect(self, values: Callable[[Layer], NDArray[Any]]) -> NDArray[Any]:
        """What its effect layer had at each frame passed, whichever that was then."""
        past = (values(layer)[: left - layer.first] for layer, left in self.past)
        return np.concatenate([*past, values(self.effect)])

    def forget(self) -> None:
        """Drop what was passed."""
        self.past.clear()
        self.starts.clear()
        self.ambient.forget()
        self.effect.forget()


def _ends_of(layer: Layer) -> NDArray[np.integer]:
    return layer.of_pieces([piece.end for piece in layer.pieces])


class Lights:
    """The light of a table's groups."""

    def __init__(self, table: Table) -> None:
        self._table = table
        self._shown = [0] * table.channels
        self._lanes = [
            [self._lane(range(group.first, group.first + group.channels), group.merge)]
            for group in table.groups
        ]
        for index, counter in enumerate(table.counters):
            self.show_counter(0, index, counter.start)

    def _lane(self, channels: range, merge: Merge) -> Lane:
        table = self._table
        ambient = Layer(channels[0], table.seed)
        effect = Layer(channels[0], table.seed, ambient)
        return Lane(channels, merge, table, ambient, effect)

    def start_group(self, frame: int, group: int, fade: int, ambient: bool) -> None:
        """Start a curve on all channels of a group."""
        curve = self._table.fades[fade]
        if curve.has_flicker:
            self._split(group)
        self._start(frame, group, self._lanes[group], curve, ambient)

    def start_channel(self, frame: int, group: int, place: int, fade: int, ambient: bool) -> None:
        """Start a curve on one channel of a group."""
        self._split(group)
        self._start(frame, group, [self._lanes[group][place]], self._table.fades[fade], ambient)

    def _start(
        self, frame: int, group: int, lanes: Iterable[Lane], curve: FadeCurve, ambient: bool
    ) -> None:
        if ambient or self._table.groups[group].merge == Merge.LATEST:
            for lane in lanes:
                lane.start(frame, curve, ambient)
            return
        # The ambient layer is not asked, and is passed in longer stretches later.
        begun: dict[int, Layer] = {}
        parts = curve.parts_channels
        for lane in lanes:
            lane.effect.advance(frame)
            level = lane.effect.level(frame)
            if parts or level not in begun:
                begun[level] = lane.begun(frame, curve, level)
            lane.follow(frame, begun[level])

    def show_counter(self, frame: int, counter: int, value: int) -> None:
        """Set the gauges of a counter."""
        for index, group in enumerate(self._table.groups):
            if group.gauge == counter:
                self._split(index)
                levels = gauge_levels(value, self._table.counters[counter].maximum, group.channels)
                for lane, level in zip(self._lanes[index], levels, strict=True):
                    lane.look(frame)
                    if not lane.ambient.holds(level):
                        lane.ambient.hold(frame, level)

    def collect(self, frame: int) -> list[DutyTrack]:
        """Duties passed since the last collection, channel by channel; each track starts with
        the duty at its first frame.
        """
        dark = DutyTrack(np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.uint16))
        tracks = [dark] * self._table.channels
        to_duty = duty_table(self._table.pwm_bits)
        passed = cache(Layer.passed)
        lanes = [lane for group in self._lanes for lane in group]
        for lane in lanes:
            lane.advance(frame)
        for lane in lanes:
            duties = to_duty[lane.levels(passed)]
            ends = lane.segment_ends()
            shown: dict[int, DutyTrack] = {}
            for channel in lane.channels:
                turn = channel * (channel + 1) // 2 & self._table.light_mask
                if turn not in shown:
                    shown[turn] = self._looked_at(lane, channel, turn, duties, ends)
                tracks[channel] = shown[turn]
                self._shown[channel] = int(shown[turn].duties[-1])
        for lane in lanes:
            lane.forget()
        return tracks

    def _looked_at(
        self,
        lane: Lane,
        channel: int,
        turn: int,
        duties: NDArray[np.uint16],
        ends: NDArray[np.integer],
    ) -> DutyTrack:
        """What a channel shows of the duties of each frame: those at which it is looked at."""
        first = lane.ambient.first
        left = np.arange(first, first + len(ends)) - ends + turn
        turns = first + np.flatnonzero(left & self._table.light_mask == 0)
        starts = [0, *lane.starts] if first == 0 else lane.starts
        looks = np.concatenate((turns, np.array(starts, dtype=np.int64), *lane.ends()))
        looks = np.sort(looks[(looks >= first) & (looks < lane.ambient.done)])
        shown = duties[looks - first]
        if len(looks) == 0 or looks[0] > first:
            looks = np.append(first, looks)
            shown = np.append(np.uint16(self._shown[channel]), shown)
        changed = np.append(0, np.flatnonzero(shown[1:] != shown[:-1]) + 1)
        return DutyTrack(looks[changed], shown[changed])

    def _split(self, group: int) -> None:
        if len(self._lanes[group]) != self._table.groups[group].channels:
            self._lanes[group] = [lane for wide in self._lanes[group] for lane in wide.split()]
