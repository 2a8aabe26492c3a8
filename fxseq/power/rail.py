"""The rail: what is left of a source's voltage under load, at rest and over time."""
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.power.diodes import Diode

LEAST_V = 1e-3
"""A rail below this counts as collapsed. [V]"""
_NEAR_V = 1e-9
_STRAIGHT_V = 0.1
"""Change of the rail over which the load counts as a straight line. [V]"""
_ROUNDS = 200
_NO_TIME_S = 1e-6
"""Time constant below which a capacitor does nothing that a prop would notice. [s]"""
_GRID = 4000
_MANY = 100
"""Points in time from which a table of the strings saves time."""


@dataclass(frozen=True)
class LedLoad:
    """LED strings on the rail: the LEDs of one as one diode, its resistor, what its switch keeps, and how many are lit.

    lit: strings that are lit, on average over the PWM period; one number, or one a point in time. [strings]
    """

    string: Diode
    resistance_ohm: float
    switch_v: float = 0.0
    lit: ArrayLike = 1.0

    def string_a(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current of one string at a rail, and its slope dI/dV. [A] [A/V]"""
        return self.string.current_a(np.asarray(rail_v) - self.switch_v, self.resistance_ohm)


@lru_cache(maxsize=64)
def _table_a(leds: LedLoad, pitch_v: float) -> NDArray[np.float64]:
    """Current of one string over rails from 0 on; only string, resistor and switch of `leds` count. [A]"""
    return leds.string_a(pitch_v * np.arange(_GRID))[0]


@dataclass(frozen=True)
class Load:
    """All that hangs on the rail: LED strings, constant current, and constant power (class D, step-up and step-down converters).

    current_a, power_w: one number, or one a point in time.
    """

    leds: tuple[LedLoad, ...] = ()
    current_a: ArrayLike = 0.0
    power_w: ArrayLike = 0.0

    def at(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current at a rail > 0, and its slope dI/dV, element by element. [A] [A/V]"""
        volts = np.asarray(rail_v, dtype=np.float64)
        amperes = np.asarray(self.current_a) + np.asarray(self.power_w) / volts
        slope = -np.asarray(self.power_w) / volts**2
        for leds in self.leds:
            string_a, string_slope = leds.string_a(volts)
            amperes = amperes + np.asarray(leds.lit) * string_a
            slope = slope + np.asarray(leds.lit) * string_slope
        return amperes, slope

    @property
    def points(self) -> int:
        """How many points in time it is given for."""
        return np.broadcast(self.current_a, self.power_w, *(leds.lit for leds in self.leds)).size

    def __add__(self, other: "Load") -> "Load":
        return Load(self.leds + other.leds, np.add(self.current_a, other.current_a), np.add(self.power_w, other.power_w))


class _Tabled:
    """A load for rails up to a voltage, its strings from tables of 4000 points, straight between them: as convex as what it stands for, and
    within a millionth of the current at the highest. The tables are kept, since a prop is asked for many rails."""

    def __init__(self, load: Load, highest_v: float) -> None:
        self._load, self.pitch_v = load, highest_v / (_GRID - 1)
        self.tables = [_table_a(replace(leds, lit=1.0), self.pitch_v) for leds in load.leds]
        self._rises = [np.diff(table) for table in self.tables]

    def at(self, rail_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """As `Load.at`."""
        amperes, slope = Load(current_a=self._load.current_a, power_w=self._load.power_w).at(rail_v)
        place = np.asarray(rail_v) / self.pitch_v
        cell = np.clip(np.nan_to_num(place), 0, _GRID - 2).astype(np.int64)
        part = place - cell
        for leds, table, rises in zip(self._load.leds, self.tables, self._rises, strict=True):
            rise = rises[cell]
            amperes = amperes + leds.lit * (table[cell] + rise * part)
            slope = slope + leds.lit * (rise / self.pitch_v)
        return amperes, slope


def constant_power_v(open_v: float, resistance_ohm: float, power_w: float) -> float:
    """Voltage under a constant power: (V + sqrt(V^2 - 4 R P)) / 2; NaN where the source cannot give it, P > V^2 / (4 R). [V]"""
    under_root = open_v**2 - 4 * resistance_ohm * power_w
    return (open_v + math.sqrt(under_root)) / 2 if under_root >= 0 else math.nan


def rail_v(open_v: ArrayLike, resistance_ohm: ArrayLike, load: Load) -> NDArray[np.float64]:
    """Voltage of a source under load, element by element; NaN where there is none: the rail collapses. [V]

    Solves g(V) = V + R I(V) - open voltage = 0 for the higher of its solutions. Every load here is convex in V, so Newton's steps from
    the open voltage come down on that solution and never pass it; a step to a falling g, or to no voltage at all, proves that there is none.
    """
    opened, ohms = np.asarray(open_v, dtype=np.float64), np.asarray(resistance_ohm, dtype=np.float64)
    is_long = max(opened.size, ohms.size, load.points) > _MANY
    solved = _Tabled(load, float(np.max(opened))) if is_long else load
    volts = np.where(opened > LEAST_V, opened, np.nan)
    for _ in range(_ROUNDS):
        amperes, slope = solved.at(volts)
        steepness = 1 + ohms * slope
        with np.errstate(divide="ignore", invalid="ignore"):
            step = (volts + ohms * amperes - opened) / steepness
        after = volts - step
        volts = np.where((steepness > 0) & (after > LEAST_V), after, np.nan)
        if not np.any((np.abs(step) > _NEAR_V) & np.isfinite(volts)):
            break
    return volts


@dataclass(frozen=True)
class Source:
    """A source that feeds the rail by itself or through a diode of its own. None: it is joined directly."""

    open_v: float
    resistance_ohm: float
    diode: Diode | None = None

    def current_a(self, rail_v: float) -> float:
        """What it gives to a rail; below 0 it is fed from it, which only a diode prevents. [A]"""
        if self.diode is not None:
            return float(self.diode.current_a(self.open_v - rail_v, self.resistance_ohm)[0])
        return (self.open_v - rail_v) / self.resistance_ohm


def joined_v(sources: Sequence[Source], load: Load) -> float:
    """Rail of several sources on one load; NaN where it collapses. A source without a diode needs resistance. [V]

    The highest voltage at which they give what the load takes: found on a grid from above, then bracketed.
    """
    from scipy.optimize import brentq

    def missing_a(volts: float) -> float:
        return float(load.at(volts)[0]) - sum(source.current_a(volts) for source in sources)

    highest = max(source.open_v for source in sources)
    grid = np.linspace(highest, highest / _GRID, _GRID)
    above = highest
    for volts in grid:
        if missing_a(float(volts)) <= 0:
            return above if volts == above else float(brentq(missing_a, float(volts), above, xtol=1e-12))
        above = float(volts)
    return math.nan


def back_fed_a(sources: Sequence[Source], load: Load) -> list[float]:
    """What each source is fed by the others, which charges cells without a charger; 0 where none is. [A]"""
    volts = joined_v(sources, load)
    return [max(0.0, -source.current_a(volts)) if math.isfinite(volts) else 0.0 for source in sources]


def buffered_v(
    times_s: NDArray[np.float64], end_s: float, open_v: float, resistance_ohm: float, load: Load, capacitance_f: float,
) -> NDArray[np.float64]:
    """Rail with a bulk capacitor, at the end of each of a row of steps of load, shape (n,). NaN from where it collapses. [V]

    times_s: beginnings of the steps, ascending, shape (n,); load: values of shape (n,) or single ones. Begins settled at the first step.
    Between steps the rail moves one way only, so the lowest of the result is the lowest there is.

    C dV/dt = (open voltage - V) / R - I(V), the load a straight line around the present voltage, for which the step is exact; no step
    moves the rail by more than 0.1 V. Current comes from a table of 4000 voltages, so that long runs take little time.
    """
    if resistance_ohm * capacitance_f < _NO_TIME_S:
        return np.broadcast_to(rail_v(open_v, resistance_ohm, load), times_s.shape)
    first = Load(tuple(replace(leds, lit=np.ravel(leds.lit)[0]) for leds in load.leds), np.ravel(load.current_a)[0], np.ravel(load.power_w)[0])
    steps = _Steps(load, times_s.size, open_v)
    volts, ended = float(rail_v(open_v, resistance_ohm, first)), np.full(times_s.size, np.nan)
    for index, length_s in enumerate(np.diff(times_s, append=end_s).tolist()):
        volts = _after(volts, length_s, open_v, resistance_ohm, capacitance_f, steps, index)
        if not volts > LEAST_V:
            break
        ended[index] = volts
    return ended


def _after(volts: float, length_s: float, open_v: float, resistance_ohm: float, capacitance_f: float, steps: "_Steps", index: int) -> float:
    while length_s > 0 and volts > LEAST_V:
        amperes, slope = steps.at(index, volts)
        speed = ((open_v - volts) / resistance_ohm - amperes) / capacitance_f
        if speed == 0:
            break
        rate = (1 / resistance_ohm + slope) / capacitance_f
        # The share of the way to where the straight line would settle, or that away from it where the rail runs away.
        way = _STRAIGHT_V * rate / abs(speed)
        step_s = length_s if way >= 1 else min(length_s, -math.log1p(-way) / rate if rate else _STRAIGHT_V / abs(speed))
        volts += speed * (-math.expm1(-rate * step_s) / rate if rate else step_s)
        length_s -= step_s
    return volts


class _Steps:
    """Load at each step, by plain numbers: its strings from a table over the rail, the rest as it is."""

    def __init__(self, load: Load, count: int, highest_v: float) -> None:
        tabled = _Tabled(load, highest_v)
        self.tables, self.pitch_v = [table.tolist() for table in tabled.tables], tabled.pitch_v
        self.lit = [np.broadcast_to(leds.lit, count).tolist() for leds in load.leds]
        self.current_a = np.broadcast_to(load.current_a, count).tolist()
        self.power_w = np.broadcast_to(load.power_w, count).tolist()

    def at(self, index: int, volts: float) -> tuple[float, float]:
        """Current and its slope, at a step and a rail > 0. [A] [A/V]"""
        cell = min(int(volts / self.pitch_v), _GRID - 2)
        amperes = self.current_a[index] + self.power_w[index] / volts
        slope = -self.power_w[index] / volts**2
        for table, lit in zip(self.tables, self.lit, strict=True):
            rise = (table[cell + 1] - table[cell]) / self.pitch_v
            amperes += lit[index] * (table[cell] + rise * (volts - cell * self.pitch_v))
            slope += lit[index] * rise
        return amperes, slope
