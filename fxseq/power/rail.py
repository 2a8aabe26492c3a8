"""The rail: what is left of a source's voltage under load, at rest and over time."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.power.diodes import Diode, SideBySide
from fxseq.power.in_series import InSeries, current_through

LEAST_V = 1e-3
"""A rail below this counts as collapsed. [V]"""
_NEAR_V = 1e-9
_LEAST_A = 1e-9
_STRAIGHT_V = 0.1
"""Change of the rail over which the load counts as a straight line. [V]"""
_ROUNDS = 200
_STEPS_DOWN = 40
_HALVINGS = 30
_LOOKED_AT = 8
_SETTLING = 3.0
"""Time constants for which a straight line is trusted while the rail settles."""
NO_TIME_S = 1e-6
"""Time constant below which a capacitor does nothing that a prop would notice. [s]"""
_GRID = 4000
_FINE = 4 * _GRID
"""A diode that feeds the rail bends within some hundredths of a volt."""
_OPEN_SHARE = 0.5
"""Share of what a switch lets through at the most from which on it counts as half open: below,
its voltage hardly bends.
"""
_MANY = 100
"""Points in time from which a table of the strings saves time."""


@dataclass(frozen=True)
class LedLoad:
    """LED strings on the rail: the LEDs of one as one diode, its resistor, what lies in series with
    it, and how many are lit.

    string: of unlike LEDs on one resistor all that hang there, which then count as one string. lit:
    strings that are lit, on average over the PWM period; one number, or one a point in time.
    [strings]
    """

    string: Diode | SideBySide
    resistance_ohm: float
    between: InSeries = InSeries()
    lit: ArrayLike = 1.0

    def string_a(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current of one string at a rail, and its slope dI/dV. [A] [A/V]"""
        return current_through(self.string, self.resistance_ohm, self.between, rail_v)

    def is_limited(self, rail_v: float) -> bool:
        """Whether its switch, half open, holds down its current at a rail, which then no longer
        grows with the voltage as that of LEDs does.
        """
        half_open_a = _OPEN_SHARE * self.between.most_a
        if not float(self.string.current_a(rail_v, self.resistance_ohm)[0]) > half_open_a:
            return False
        return float(self.string_a(rail_v)[0]) > half_open_a


@lru_cache(maxsize=64)
def _table_a(leds: LedLoad, pitch_v: float) -> NDArray[np.float64]:
    """Current of one string over rails from 0 on; only string, resistor and switch of `leds`
    count. [A]
    """
    return leds.string_a(pitch_v * np.arange(_GRID))[0]


@dataclass(frozen=True)
class FollowedCurrent:
    """A current that follows the rail in its own way, as that of an amplifier which clips there:
    known at rails from 0 on, straight between.

    table_a: shape (rails, k). [A] pitch_v: from one rail to the next. columns: which of the k
    counts at each point in time, shape (n,).
    """

    table_a: NDArray[np.float64]
    pitch_v: float
    columns: NDArray[np.int64]

    def at(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current at a rail, and its slope dI/dV. [A] [A/V]"""
        place = np.asarray(rail_v, dtype=np.float64) / self.pitch_v
        cell = np.clip(np.nan_to_num(place), 0, len(self.table_a) - 2).astype(np.int64)
        low_a = self.table_a[cell, self.columns]
        high_a = self.table_a[cell + 1, self.columns]
        return low_a + (high_a - low_a) * (place - cell), (high_a - low_a) / self.pitch_v


@dataclass(frozen=True)
class Load:
    """All that hangs on the rail: LED strings, constant current, constant power (class D, step-up
    and step-down converters), a resistance, and what follows.

    current_a, power_w: one number, or one a point in time. conductance_s: of the resistance. [S]
    """

    leds: tuple[LedLoad, ...] = ()
    current_a: ArrayLike = 0.0
    power_w: ArrayLike = 0.0
    followed: FollowedCurrent | None = None
    conductance_s: float = 0.0

    def at(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current at a rail > 0, and its slope dI/dV, element by element. [A] [A/V]"""
        volts = np.asarray(rail_v, dtype=np.float64)
        amperes, slope = self.without_leds_at(volts)
        for leds in self.leds:
            string_a, string_slope = leds.string_a(volts)
            amperes = amperes + np.asarray(leds.lit) * string_a
            slope = slope + np.asarray(leds.lit) * string_slope
        return amperes, slope

    def without_leds_at(
        self, rail_v: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """As `at`, but for the LEDs."""
        amperes = (
            np.asarray(self.current_a)
            + np.asarray(self.power_w) / rail_v
            + self.conductance_s * rail_v
        )
        slope = self.conductance_s - np.asarray(self.power_w) / rail_v**2
        if self.followed is None:
            return amperes, slope
        more_a, more_slope = self.followed.at(rail_v)
        return amperes + more_a, slope + more_slope

    @property
    def points(self) -> int:
        """How many points in time it is given for."""
        columns = () if self.followed is None else (self.followed.columns,)
        return np.broadcast(
            self.current_a, self.power_w, *columns, *(leds.lit for leds in self.leds)
        ).size

    def part(self, picks: slice | NDArray[np.int64]) -> "Load":
        """The load at some of its points in time."""

        def picked(values: ArrayLike) -> ArrayLike:
            if np.size(values) == 1:
                return values
            return np.asarray(values)[picks]

        followed = self.followed and replace(self.followed, columns=self.followed.columns[picks])
        leds = tuple(replace(one, lit=picked(one.lit)) for one in self.leds)
        return Load(
            leds, picked(self.current_a), picked(self.power_w), followed, self.conductance_s
        )

    def tabled(self, highest_v: float) -> "_Tabled":
        """This load for rails up to this voltage, quicker where it is asked for many."""
        return _Tabled(self, highest_v)

    def heaviest(self, lowest_v: float, highest_v: float) -> NDArray[np.int64]:
        """The points in time at which, at one of some rails of that range, more is taken than at
        all others: at any rail the worst is among them.
        """
        rails = np.linspace(max(lowest_v, LEAST_V), max(highest_v, LEAST_V), _LOOKED_AT)[
            :, np.newaxis
        ]
        taken_a = np.broadcast_to(self.at(rails)[0], (_LOOKED_AT, self.points))
        return np.array(sorted(set(taken_a.argmax(axis=1).tolist())))

    def __add__(self, other: "Load") -> "Load":
        """Both together, of which at most one follows the rail in its own way: a prop has one
        amplifier.
        """
        return Load(
            self.leds + other.leds,
            np.add(self.current_a, other.current_a),
            np.add(self.power_w, other.power_w),
            self.followed or other.followed,
            self.conductance_s + other.conductance_s,
        )


class _Tabled:
    """A load for rails up to a voltage, its strings from tables of 4000 points, straight between
    them: as convex as what it stands for, and within a millionth of the current at the highest.
    The tables are kept, since a prop is asked for many rails.
    """

    def __init__(self, load: Load, highest_v: float) -> None:
        self._load = load
        self.pitch_v = highest_v / (_GRID - 1)
        self.tables = [_table_a(replace(leds, lit=1.0), self.pitch_v) for leds in load.leds]
        self._rises = [np.diff(table) for table in self.tables]

    def at(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """As `Load.at`."""
        volts = np.asarray(rail_v, dtype=np.float64)
        amperes, slope = self._load.without_leds_at(volts)
        place = volts / self.pitch_v
        # Of a rail that has collapsed, NaN, any cell does; these two take the number where one is
        # none.
        cell = np.fmin(np.fmax(place, 0), _GRID - 2).astype(np.int64)
        part = place - cell
        for leds, table, rises in zip(self._load.leds, self.tables, self._rises, strict=True):
            rise = rises[cell]
            amperes = amperes + leds.lit * (table[cell] + rise * part)
            slope = slope + leds.lit * (rise / self.pitch_v)
        return amperes, slope


def rail_v(
    open_v: ArrayLike, resistance_ohm: ArrayLike, load: Load, diode: Diode | None = None
) -> NDArray[np.float64]:
    """Voltage of a source under load, element by element; NaN where there is none: the rail
    collapses. [V]

    diode: through which the source feeds the rail, as one of a changeover. The higher of the
    solutions of g(V) = V + R I(V) + diode voltage(I(V)) - open voltage = 0.
    """
    opened = np.asarray(open_v, dtype=np.float64)
    ohms = np.asarray(resistance_ohm, dtype=np.float64)
    is_long = max(opened.size, ohms.size, load.points) > _MANY
    solved = load.tabled(float(np.max(opened))) if is_long else load

    def missing(volts: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        amperes, slope = solved.at(volts)
        lost_v = ohms * amperes
        lost_ohm = ohms
        if diode is not None:
            lost_v = lost_v + diode.voltage_v(np.maximum(amperes, 0.0))
            lost_ohm = lost_ohm + diode.slope_ohm(np.maximum(amperes, _LEAST_A))
        return volts + lost_v - opened, 1 + lost_ohm * slope

    is_convex = load.followed is None and not any(
        leds.is_limited(float(np.max(opened))) for leds in load.leds
    )
    if is_convex:
        return _from_above(missing, opened)
    return _by_halving(missing, opened)


_Missing = Callable[[NDArray[np.float64]], tuple[NDArray[np.float64], NDArray[np.float64]]]
"""What a rail is above what the source holds it at, g(V), and its slope."""


def _from_above(missing: _Missing, opened: NDArray[np.float64]) -> NDArray[np.float64]:
    """By Newton's steps from the open voltage, for loads that are convex in V: they come down on
    the higher solution and never pass it; a step to a falling g, or to no voltage at all, proves
    that there is none. (A diode bends g the other way where LEDs alone take current, which then
    has no lower solution that could be met.)
    """
    volts = np.where(opened > LEAST_V, opened, np.nan)
    for _ in range(_ROUNDS):
        above, steepness = missing(volts)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = above / steepness
        after = volts - step
        volts = np.where((steepness > 0) & (after > LEAST_V), after, np.nan)
        if not np.any((np.abs(step) > _NEAR_V) & np.isfinite(volts)):
            break
    return volts


def _by_halving(missing: _Missing, opened: NDArray[np.float64]) -> NDArray[np.float64]:
    """From above in steps of a fortieth down to where the source gives what is taken, then by
    halving: for loads of any shape. What dips below that and comes back within one step is
    passed over.
    """
    is_found = missing(opened)[0] <= 0
    low_v = high_v = np.broadcast_to(opened, is_found.shape)
    for share in np.linspace(1, 0, _STEPS_DOWN + 1)[1:-1]:
        holds = (missing(share * opened)[0] <= 0) | is_found
        high_v = np.where(holds, high_v, share * opened)
        low_v = np.where(is_found, low_v, share * opened)
        is_found = holds
    for _ in range(_HALVINGS):
        middle_v = (low_v + high_v) / 2
        holds = missing(middle_v)[0] <= 0
        low_v = np.where(holds, middle_v, low_v)
        high_v = np.where(holds, high_v, middle_v)
    return np.where(is_found & (opened > LEAST_V), low_v, np.nan)


@dataclass(frozen=True)
class Source:
    """A source that feeds the rail by itself or through a diode of its own. None: it is joined
    directly.
    """

    open_v: float
    resistance_ohm: float
    diode: Diode | None = None

    def at(self, rail_v: float) -> tuple[float, float]:
        """What it gives to a rail, and its slope dI/dV; below 0 it is fed from it, which only a
        diode prevents. [A] [A/V]
        """
        if self.diode is not None:
            amperes, per_volt = self.diode.current_a(self.open_v - rail_v, self.resistance_ohm)
            return float(amperes), -float(per_volt)
        return (self.open_v - rail_v) / self.resistance_ohm, -1 / self.resistance_ohm


@dataclass(frozen=True)
class Capacitor:
    """A capacitor across the rail. series_ohm: resistance within it, its ESR."""

    farads: float
    series_ohm: float = 0.0


def buffered_v(
    times_s: NDArray[np.float64],
    end_s: float,
    open_v: float,
    resistance_ohm: float,
    load: Load,
    capacitor: Capacitor,
    diode: Diode | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Rail with a bulk capacitor, just after the beginning and at the end of each of a row of steps
    of load, shape (n,) each. NaN from where it collapses. [V]

    times_s: beginnings of the steps, ascending, shape (n,); load: values of shape (n,) or single
    ones; diode: as for `rail_v`. Begins settled at the first step. Within a step the rail moves one
    way only, so the lowest of both is the lowest there is. Between steps it jumps only where the
    capacitor has a resistance.

    C dU/dt = source current(V) - I(V), both straight lines around the present voltage, for which a
    step is exact; no step moves the rail by more than 0.1 V, or takes longer than the line holds.
    Currents come from tables over the voltage, so that long runs take little time. The rail V is
    the capacitor's own voltage U and what its resistance adds: V = U + r (source current(V) -
    I(V)).
    """
    if resistance_ohm * capacitor.farads < NO_TIME_S:
        settled_v = np.broadcast_to(rail_v(open_v, resistance_ohm, load, diode), times_s.shape)
        return settled_v, settled_v
    buffer = _Buffer(
        _Steps(load, times_s.size, open_v), _Feed(Source(open_v, resistance_ohm, diode)), capacitor
    )
    own_v = float(np.ravel(rail_v(open_v, resistance_ohm, load.part(slice(0, 1)), diode))[0])
    begun_v = np.full(times_s.size, np.nan)
    ended_v = np.full(times_s.size, np.nan)
    for index, length_s in enumerate(np.diff(times_s, append=end_s).tolist()):
        begun_v[index] = buffer.rail_v(index, own_v)
        own_v = buffer.after(index, own_v, length_s)
        ended_v[index] = buffer.rail_v(index, own_v)
        if not ended_v[index] > LEAST_V:
            break
    return begun_v, ended_v


@dataclass(frozen=True)
class _Buffer:
    """A source and a capacitor that feed steps of load together."""

    steps: "_Steps"
    feed: "_Feed"
    capacitor: Capacitor

    def rail_v(self, index: int, own_v: float) -> float:
        """Rail at a step where the capacitor has this voltage of its own; NaN where it collapses.
        [V]

        Newton's steps from above, as in `rail_v`.
        """
        if not own_v > LEAST_V:
            return math.nan
        if self.capacitor.series_ohm == 0:
            return own_v
        volts = max(own_v, self.feed.open_v)
        ohms = self.capacitor.series_ohm
        for _ in range(_ROUNDS):
            spare_a, slope = self._spare(index, volts)
            step_v = (volts - own_v - ohms * spare_a) / (1 + ohms * slope)
            volts -= step_v
            if not (volts > LEAST_V and 1 + ohms * slope > 0):
                return math.nan
            if abs(step_v) < _NEAR_V:
                break
        return volts

    def _spare(self, index: int, volts: float) -> tuple[float, float]:
        """What the source gives beyond what the step takes at a rail, and by how much that falls
        with the rail. [A] [A/V]
        """
        taken_a, taken_slope = self.steps.at(index, volts)
        given_a, given_slope = self.feed.at(volts)
        return given_a - taken_a, taken_slope - given_slope

    def after(self, index: int, own_v: float, length_s: float) -> float:
        """The capacitor's own voltage after a time of this step; NaN where the rail collapses.
        [V]
        """
        while length_s > 0 and own_v > LEAST_V:
            volts = self.rail_v(index, own_v)
            if math.isnan(volts):
                return math.nan
            spare_a, slope = self._spare(index, volts)
            speed = spare_a / self.capacitor.farads
            rate = slope / (1 + self.capacitor.series_ohm * slope) / self.capacitor.farads
            if abs(speed) * length_s < _NEAR_V or (rate > 0 and abs(speed) < _NEAR_V * rate):
                break
            # The share of the way to where the straight line would settle, or that away from it
            # where the rail runs away.
            way = _STRAIGHT_V * rate / abs(speed)
            if way >= 1:
                longest_s = _SETTLING / rate
            elif rate:
                longest_s = -math.log1p(-way) / rate
            else:
                longest_s = _STRAIGHT_V / abs(speed)
            step_s = min(length_s, longest_s)
            own_v += speed * (-math.expm1(-rate * step_s) / rate if rate else step_s)
            length_s -= step_s
        return own_v


class _Feed:
    """What a source gives, by plain numbers: through its diode from a table over the rail."""

    def __init__(self, source: Source) -> None:
        self.open_v = source.open_v
        self._source = source
        self._pitch_v = source.open_v / (_FINE - 1)
        self._table: list[float] = []
        if source.diode is not None:
            drops_v = source.open_v - self._pitch_v * np.arange(_FINE)
            self._table = source.diode.current_a(drops_v, source.resistance_ohm)[0].tolist()

    def at(self, rail_v: float) -> tuple[float, float]:
        """As `Source.at`, at a rail > 0."""
        if not self._table:
            return self._source.at(rail_v)
        if rail_v > self.open_v:
            return 0.0, 0.0
        cell = min(int(rail_v / self._pitch_v), _FINE - 2)
        slope = (self._table[cell + 1] - self._table[cell]) / self._pitch_v
        return self._table[cell] + slope * (rail_v - cell * self._pitch_v), slope


class _Steps:
    """Load at each step, by plain numbers: its strings from a table over the rail, the rest as
    it is.
    """

    def __init__(self, load: Load, count: int, highest_v: float) -> None:
        tabled = load.tabled(highest_v)
        self.tables = [table.tolist() for table in tabled.tables]
        self.pitch_v = tabled.pitch_v
        self.lit = [np.broadcast_to(leds.lit, count).tolist() for leds in load.leds]
        self.current_a = np.broadcast_to(load.current_a, count).tolist()
        self.power_w = np.broadcast_to(load.power_w, count).tolist()
        self.followed = load.followed
        self.conductance_s = load.conductance_s

    def at(self, index: int, volts: float) -> tuple[float, float]:
        """Current and its slope, at a step and a rail > 0. [A] [A/V]"""
        cell = min(int(volts / self.pitch_v), _GRID - 2)
        amperes = self.current_a[index] + self.power_w[index] / volts + self.conductance_s * volts
        slope = self.conductance_s - self.power_w[index] / volts**2
        for table, lit in zip(self.tables, self.lit, strict=True):
            rise = (table[cell + 1] - table[cell]) / self.pitch_v
            amperes += lit[index] * (table[cell] + rise * (volts - cell * self.pitch_v))
            slope += lit[index] * rise
        if self.followed is not None:
            more_a, more_slope = replace(self.followed, columns=self.followed.columns[index]).at(
                volts
            )
            return amperes + float(more_a), slope + float(more_slope)
        return amperes, slope
