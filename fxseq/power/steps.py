"""A quantity that changes at points in time and holds in between, and what is drawn by a current
that does.

PWM is averaged over its period. What strings take at the rail of the moment is in `played`.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.sequence.model import Group

Track = tuple[NDArray[np.integer], NDArray[np.integer]]
"""Duty of a channel as change points: frames, ascending, and the duty from each of them on; both
shape (n,), n >= 1.
"""
_SECONDS_PER_HOUR = 3600.0


# Keeps a packed change of duty positive: 255 channels of 16 bits change by less than this.
_OFFSET = 1 << 31


@dataclass(frozen=True)
class Steps:
    """Change points from t = 0 to an end: `values[i]` holds from `times_s[i]` to the next, the last
    one until `end_s`.

    times_s: ascending, the first is 0, shape (n,), n >= 1. values: shape (n,). end_s: at or after
    the last change.
    """

    times_s: NDArray[np.float64]
    values: NDArray[np.float64]
    end_s: float

    def integral(self) -> float:
        """Exact integral over time, in the unit of the values times seconds."""
        return float((self.values * np.diff(self.times_s, append=self.end_s)).sum())

    def mean(self) -> float:
        """Exact mean over time; the first value where no time passes."""
        if self.end_s > 0:
            return self.integral() / self.end_s
        return float(self.values[0])

    def rms(self) -> float:
        """Exact effective value over time; the first value where no time passes."""
        return math.sqrt(Steps(self.times_s, self.values**2, self.end_s).mean())

    def lowest_within(self, block_s: float) -> NDArray[np.float64]:
        """The least value within each of successive blocks of time, NaN where there is one;
        shape (n,), n >= 1.
        """
        blocks = max(math.ceil(self.end_s / block_s), 1)
        begins = np.maximum(
            np.searchsorted(self.times_s, block_s * np.arange(blocks), side="right") - 1, 0
        )
        ends = np.append(
            np.searchsorted(self.times_s, block_s * np.arange(1, blocks), side="left"),
            self.times_s.size,
        )
        return np.array(
            [
                self.values[begin : max(end, begin + 1)].min()
                for begin, end in zip(begins, ends, strict=True)
            ]
        )

    def highest_mean(self, span_s: float) -> float:
        """The highest mean over any span of this length, > 0; that over all of it where it is
        shorter.
        """
        if span_s >= self.end_s:
            return self.mean()
        edges_s = np.append(self.times_s, self.end_s)
        summed = np.concatenate([[0.0], np.cumsum(self.values * np.diff(edges_s))])
        # The mean is straight between where an end of the span passes a change, so it is highest at
        # one of these.
        begins_s = np.clip(np.concatenate([edges_s, edges_s - span_s]), 0.0, self.end_s - span_s)
        return (
            float(
                (
                    np.interp(begins_s + span_s, edges_s, summed)
                    - np.interp(begins_s, edges_s, summed)
                ).max()
            )
            / span_s
        )

    def mean_within(self, begins_s: ArrayLike, ends_s: ArrayLike) -> float:
        """Exact mean over several spans of time, shape (n,) each, which do not overlap; 0 where
        they hold no time.
        """
        edges_s = np.append(self.times_s, self.end_s)
        summed = np.concatenate([[0.0], np.cumsum(self.values * np.diff(edges_s))])
        begins_s = np.asarray(begins_s, dtype=np.float64)
        ends_s = np.asarray(ends_s, dtype=np.float64)
        length_s = float((ends_s - begins_s).sum())
        if length_s <= 0:
            return 0.0
        within = np.interp(ends_s, edges_s, summed) - np.interp(begins_s, edges_s, summed)
        return float(within.sum()) / length_s

    def peak(self) -> float:
        """Largest value."""
        return float(self.values.max())


def steps_of_blocks(values: NDArray[np.float64], block_s: float, end_s: float) -> Steps:
    """Means over successive blocks of `block_s` seconds, shape (n,), n >= 1, as steps."""
    return Steps(np.arange(values.size, dtype=np.float64) * block_s, values, end_s)


def lit_share(
    tracks: Sequence[Track],
    full_duty: int,
    first_frame: int,
    until_frame: int,
    frame_rate_hz: float,
) -> Steps:
    """Share of full light, 0..1, of the channels of a group together, from `first_frame` (which
    becomes t = 0) to `until_frame`.

    tracks: one a channel; channels that share one track cost no more than one. Cost grows with the
    number of changes.
    """
    sharing = Counter(id(track) for track in tracks)
    distinct = {id(track): track for track in tracks}
    frames = np.concatenate(
        [np.maximum(changed, first_frame) - first_frame for changed, _ in distinct.values()]
    )
    changes = np.concatenate(
        [
            np.diff(duties.astype(np.int64), prepend=0) * sharing[key]
            for key, (_, duties) in distinct.items()
        ]
    )
    ascending, summed = _summed(
        frames.astype(np.int64, copy=False), changes, until_frame - first_frame
    )
    return Steps(
        ascending / frame_rate_hz,
        summed / (full_duty * len(tracks)),
        (until_frame - first_frame) / frame_rate_hz,
    )


def _summed(
    frames: NDArray[np.int64], changes: NDArray[np.int64], length: int
) -> tuple[NDArray[np.int64], NDArray[np.number]]:
    """Running sum of changes, by ascending frame: the frames with a change, and the sum from
    each of them on. Frames are below `length`.
    """
    if frames.size > length:
        # More changes than frames: counting into every frame is faster than sorting. Sums of whole
        # numbers are exact in double precision.
        present = np.flatnonzero(np.bincount(frames, minlength=length))
        return present, np.cumsum(np.bincount(frames, weights=changes, minlength=length))[present]
    # Frame and change packed into one number, since sorting numbers is several times faster than
    # finding an order and following it.
    packed = np.sort((frames << 32) + changes + _OFFSET)
    ascending = packed >> 32
    summed = np.cumsum((packed & 0xFFFFFFFF) - _OFFSET)
    last = _last_of_equal(ascending)
    return ascending[last], summed[last]


def align(parts: Mapping[str, Steps]) -> tuple[NDArray[np.float64], dict[str, NDArray[np.float64]]]:
    """The union of the change points of several quantities, and each quantity at them. [s], all
    shape (n,)
    """
    # Quantities that have been aligned before share their times, and are found together.
    distinct = {id(part.times_s): part.times_s for part in parts.values()}
    times_s = np.sort(np.concatenate(list(distinct.values())), kind="stable")
    times_s = times_s[_last_of_equal(times_s)]
    places = {key: _places(own_s, times_s) for key, own_s in distinct.items()}
    return times_s, {name: part.values[places[id(part.times_s)]] for name, part in parts.items()}


def _places(own_s: NDArray[np.float64], times_s: NDArray[np.float64]) -> NDArray[np.int64] | slice:
    """Which of a quantity's own times holds at each of `times_s`, all of its own being among
    these.
    """
    if own_s.size == times_s.size:
        return slice(None)
    return np.searchsorted(own_s, times_s, side="right") - 1


def total(parts: Mapping[str, Steps]) -> Steps:
    """Sum of several quantities over the same time. Raises ValueError where their ends differ."""
    ends = {part.end_s for part in parts.values()}
    if len(ends) != 1:
        raise ValueError("quantities that end at different times cannot be added")
    times_s, held = align(parts)
    return Steps(times_s, np.sum(list(held.values()), axis=0), ends.pop())


def _last_of_equal(ascending: NDArray[np.number]) -> NDArray[np.bool_]:
    return np.append(ascending[1:] != ascending[:-1], True)


@dataclass(frozen=True)
class Draw:
    """What is taken from the supply over a time: mean, effective and peak current, charge, and
    energy at the supply's nominal voltage.
    """

    duration_s: float
    mean_ma: float
    rms_ma: float
    peak_ma: float
    charge_mah: float
    energy_wh: float

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return asdict(self)


def group_current_ma(group: Group, lit: Steps) -> Steps:
    """Current of a group over time that no supply is known for, so that each of its LEDs counts
    alone and with the current of the file. [mA]

    lit: share of the group's full light, 0..1 (see `lit_share`); its LEDs are spread evenly over
    its channels.
    """
    return Steps(lit.times_s, lit.values * (group.leds * group.current_ma), lit.end_s)


def draw(current_ma: Steps, voltage_v: float) -> Draw:
    """Mean, effective value, peak, charge and energy of a current over time. voltage_v: of the
    supply, taken as constant. [V]
    """
    charge_mah = current_ma.integral() / _SECONDS_PER_HOUR
    return Draw(
        duration_s=current_ma.end_s,
        mean_ma=current_ma.mean(),
        rms_ma=current_ma.rms(),
        peak_ma=current_ma.peak(),
        charge_mah=charge_mah,
        energy_wh=charge_mah / 1000 * voltage_v,
    )
