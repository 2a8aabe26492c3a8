"""Channels that flash at the same time, though not in step: what cancels in the sum of their
light still flashes over an area.
"""

from bisect import bisect
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards.extended import LongSequence, longest_of, stretches
from fxseq.hazards.flashes import (
    ONE_LIGHT,
    WINDOW_S,
    FlashCount,
    general_places,
    red_transitions,
    worst_second,
)

Track = tuple[NDArray[np.integer], NDArray[np.unsignedinteger]]
"""Duty of a channel as change points: frames, ascending, and the duty from each of them on; both
shape (n,), n >= 1.
"""

LEAST_SHARE = 0.25
"""Share of the light that has to flash. WCAG has a quarter of the field of view; light instead
of area is taken here, no source.
"""
_ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Channels:
    """Light of single channels. tracks: of each group, one a channel; channels that are alike may
    have one and the same.

    first_frame: where time begins. full_duty: duty of full light.
    """

    tracks: Mapping[str, Sequence[Track]]
    full_duty: int
    first_frame: int
    frame_rate_hz: float


@dataclass(frozen=True, eq=False)
class Transitions:
    """Transitions of several lights, one light after the other and each in order.

    times_s, owner: when, and of which light, shape (k,). shares: what each light is of the light of
    all, shape (lights,).
    """

    times_s: NDArray[np.float64]
    owner: NDArray[np.int64]
    shares: NDArray[np.float64]

    def worst_second(self) -> FlashCount:
        """The most transitions that lights with a quarter of all light each have within one and
        the same window [t, t + 1 s).
        """
        most = max(
            (
                worst_second(self.times_s[self.owner == owner]).transitions
                for owner in np.unique(self.owner)
            ),
            default=0,
        )
        count = bisect(
            range(1, most + 1),
            False,
            key=lambda transitions: self._widest(transitions)[0] < LEAST_SHARE - _ROUNDING,
        )
        if count:
            return FlashCount(count, self._widest(count)[1], out_of_step=True)
        return FlashCount(0, None)

    def _widest(self, count: int) -> tuple[float, float]:
        """The largest share of light that has `count` transitions or more within the same
        second, and when that begins.
        """
        last_s = self.times_s[count - 1 :]
        first_s = self.times_s[: self.times_s.size - count + 1]
        within = (last_s - first_s < WINDOW_S - _ROUNDING) & (
            self.owner[count - 1 :] == self.owner[: first_s.size]
        )
        # Seconds with these transitions begin after last - 1 s and not after first. Of one light
        # they often overlap, and are joined.
        owner = self.owner[: first_s.size][within]
        opens_s = last_s[within] - WINDOW_S + _ROUNDING
        closes_s = first_s[within]
        new = np.append(True, (owner[1:] != owner[:-1]) | (opens_s[1:] > closes_s[:-1]))
        opens_s = opens_s[new]
        closes_s = closes_s[np.append(new[1:], True)]
        share = self.shares[owner[new]]
        order = np.argsort(np.concatenate([opens_s, closes_s]), kind="stable")
        held = np.cumsum(np.concatenate([share, -share])[order])
        widest = int(held.argmax())
        return float(held[widest]), float(closes_s[closes_s >= opens_s[order[widest]]].min())

    def longest_sequence(self) -> LongSequence:
        """The longest time in which there are, at any moment, lights with a quarter of all light
        that flash at two flashes a second or more each.
        """
        owner, begins_s, ends_s = stretches(self.times_s, self.owner)
        edges_s = np.concatenate([begins_s, ends_s])
        share = self.shares[owner]
        # Of edges at one time those that begin come first: what follows without a gap goes on.
        order = np.argsort(edges_s, kind="stable")
        enough = np.cumsum(np.concatenate([share, -share])[order]) >= LEAST_SHARE - _ROUNDING
        turns_s = edges_s[order][enough != np.append(False, enough)[: enough.size]]
        return longest_of(turns_s[::2], turns_s[1::2], out_of_step=True)


def together(
    parts: Sequence[Transitions], shares: Sequence[float] | NDArray[np.float64]
) -> Transitions:
    """Those of several groups as one. shares: what each group is of the light of all."""
    firsts = np.cumsum([0, *(part.shares.size for part in parts)])
    return Transitions(
        np.concatenate([np.zeros(0), *(part.times_s for part in parts)]),
        np.concatenate(
            [
                np.zeros(0, dtype=np.int64),
                *(part.owner + first for part, first in zip(parts, firsts, strict=False)),
            ]
        ),
        np.concatenate(
            [np.zeros(0), *(part.shares * share for part, share in zip(parts, shares, strict=True))]
        ),
    )


def group_transitions(
    channels: Channels, name: str, rgb: NDArray[np.float64]
) -> tuple[Transitions, Transitions]:
    """Transitions of each channel of a group that is unlike the others, against its own full
    light: of general and of red flashes.
    """
    tracks = channels.tracks[name]
    alike = Counter(map(id, tracks))
    distinct = list({id(track): track for track in tracks}.values())
    shares = np.array(list(alike.values())) / len(tracks)
    ends = np.cumsum([duties.size for _, duties in distinct])
    starts = np.append(0, ends[:-1])
    duties = np.concatenate([duties for _, duties in distinct])

    def at(places: NDArray[np.int64]) -> Transitions:
        owner = np.searchsorted(ends, places, side="right")
        parts = np.split(places, np.searchsorted(places, ends[:-1]))
        frames = np.concatenate(
            [
                frames[part - start]
                for (frames, _), part, start in zip(distinct, parts, starts, strict=True)
            ]
        )
        return Transitions(
            np.maximum(frames - channels.first_frame, 0) / channels.frame_rate_hz, owner, shares
        )

    return at(general_places(duties, starts, channels.full_duty)), at(
        red_places(duties, rgb, starts)
    )


def red_places(
    light: NDArray[np.number],
    rgb: NDArray[np.float64],
    starts: NDArray[np.int64] = ONE_LIGHT,
) -> NDArray[np.int64]:
    """Where light of one colour goes on or off, if that is a transition of a red flash.

    rgb: its relative linear RGB, shape (3,). light, starts: lights laid end to end, as for
    `general_places`.
    """
    if not red_transitions(np.arange(2.0), np.outer([0, 1], rgb)).size:
        return np.zeros(0, dtype=np.int64)
    switched = np.append(False, (light[1:] > 0) != (light[:-1] > 0))
    switched[starts] = False
    return np.flatnonzero(switched)
