"""How the LEDs of a group are wired: how many in series, with which resistor, over the whole
range of the supply.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from fxseq.power.diodes import Diode, SideBySide
from fxseq.power.cells import Estimate
from fxseq.power.in_series import Element, InSeries, current_through
from fxseq.power.parts import Led
from fxseq.power.rail import LedLoad
from fxseq.power.resistors import RATINGS_W, USED_SHARE, rating_w, standard_ohm
from fxseq.power.switches import Switch

KEPT_LIGHT = 1 / 3
"""Share of its light at the fresh supply that a string keeps at the flat one, if it can be had:
to the eye two thirds (CIE 1976 L* of 64). Common practice, no source.
"""
MOST_OVER = 1.5
"""Current of the lowest forward voltage that a string may have, as a ratio to the current it is
laid out for. Common practice, no source.
"""
RESISTOR_TOLERANCE = 0.05
DARK_SHARE = 0.05
"""Share of its current below which an LED counts as dark. Common practice, no source."""
EQUAL_WITHIN = 1.1
"""Ratio of the currents of LEDs on one resistor that still counts as equal. Common practice, no
source.
"""
_LEAST_OHM = 1.0
"""Below that, wires and contacts are what limits the current."""


@dataclass(frozen=True)
class Range:
    """Voltages that LEDs have to live with, from the flattest supply, behind the diode of a
    changeover, to the freshest, in front of it. [V]

    is_flat_known: whether anything says how far the cells run down; where not, flat_v is that of
    the fresh supply.
    """

    flat_v: float
    fresh_v: float
    is_flat_known: bool = True


@dataclass(frozen=True)
class Route:
    """The way of a group's current: the switch of each channel, and the diode of a changeover
    that all of its channels share.
    """

    switch: Element
    diode: Diode | None = None
    channels: int = 1

    def between(self, strings: int, channels: int) -> InSeries:
        """What a string meets where its channel has so many, and so many channels are lit."""
        if self.diode is None:
            return InSeries(((self.switch, strings),))
        return InSeries(((self.switch, strings), (self.diode, strings * channels)))

    def between_at(self, which: str, strings: int) -> InSeries:
        """What a string at this corner meets in a channel of so many: LEDs of the lowest forward
        voltage take most where their channel is lit alone, others least where all are.
        """
        if which == "low":
            return self.between(strings, 1)
        return self.between(strings, self.channels)


@dataclass(frozen=True)
class Beside:
    """Strings of other LEDs on the resistor of a channel."""

    led: Led
    series: int
    strings: int

    def kind(self, which: str) -> tuple[Diode, int]:
        """As diodes, of the `low`, `typical` or `high` corner, and how many there are."""
        diode: Diode = getattr(self.led, which)
        return diode.in_series(self.series), self.strings


@dataclass(frozen=True)
class Layout:
    """Strings of a group, all alike. Light counts as proportional to current.

    series: LEDs of a string. strings: on one channel. shared: whether they hang on one resistor, in
    place of one each. beside: what else does. resistor_ohm: a standard value. power_w: in it while
    lit, at the most. rating_w: of the resistor; None where no common one is large enough. fresh_ma,
    flat_ma: current of a string, by corner of the tolerance, with all of the group lit, the high
    one with its channel alone. channel_ma: of all strings of a channel at the fresh supply, all at
    one corner.
    """

    led: Led
    route: Route
    series: int
    strings: int
    shared: bool
    resistor_ohm: float
    power_w: float
    rating_w: float | None
    fresh_ma: Estimate
    flat_ma: Estimate
    channel_ma: Estimate
    beside: tuple[Beside, ...] = ()

    def load(self, lit: ArrayLike) -> LedLoad:
        """Typical strings as a load on the rail, behind any diode. lit: how many, one number or
        one a point in time.
        """
        string = self.led.typical.in_series(self.series)
        if not self.beside:
            switch = InSeries(((self.route.switch, self.strings),))
            return LedLoad(string, self.resistor_ohm * self.sharing, switch, lit)
        hanging = SideBySide(
            ((string, self.strings), *(one.kind("typical") for one in self.beside))
        )
        return LedLoad(
            hanging,
            self.resistor_ohm,
            InSeries(((self.route.switch, 1),)),
            np.asarray(lit) / self.strings,
        )

    @property
    def sharing(self) -> int:
        """Strings of one resistor. Equal ones behave as if each had a resistor of so many times
        the value.
        """
        if not self.shared:
            return 1
        return self.strings

    @property
    def kept_light(self) -> Estimate:
        """Light at the flat supply as a share of that at the fresh one, corner by corner."""
        pairs = (
            (getattr(self.flat_ma, which), getattr(self.fresh_ma, which))
            for which in ("low", "typical", "high")
        )
        return Estimate(*(flat / fresh if fresh > 0 else 0.0 for flat, fresh in pairs))


def most_heat_w(layout: Layout) -> float:
    """Heat that its resistors are run at, at the most: half of the rating that is bought, or of
    the largest where none is large enough. [W]
    """
    return USED_SHARE * (layout.rating_w or RATINGS_W[-1])


@dataclass(frozen=True)
class Wanted:
    """What is to be wired on each channel of a group, of which the maker may have settled a part.

    leds: on a channel, each of current_a. series: LEDs of a string. shared: whether the strings of
    a channel hang on one resistor. beside: what else hangs there.
    """

    led: Led
    leds: int
    current_a: float
    supply: Range
    route: Route = field(default_factory=lambda: Route(Switch()))
    series: int | None = None
    resistor_ohm: float | None = None
    shared: bool = False
    beside: tuple[Beside, ...] = ()


def layouts(wanted: Wanted) -> Iterator[Layout]:
    """Every way to wire the LEDs of a channel in equal strings, the longest strings first; those
    that the fresh supply cannot light are left out.

    The resistor is the next higher standard value of (fresh - switch - n Vf) / I: the typical
    string takes no more than its current where the supply is at its highest. Where not even the
    shortest string gets its current, it has what resistor holds the lowest forward voltage, as long
    as it is not dark. What the maker has settled is judged, and not left out.
    """
    shortest = wanted.series or 1
    longest = wanted.series or wanted.leds
    for series in range(longest, shortest - 1, -1):
        if wanted.leds % series == 0:
            least_ohm = wanted.resistor_ohm or _least_ohm(
                wanted, series, wanted.led.typical, wanted.current_a
            )
            if least_ohm > 0:
                yield _judged(wanted, series, wanted.resistor_ohm or standard_ohm(least_ohm))
            elif series == shortest:
                held_ohm = _least_ohm(wanted, series, wanted.led.low, MOST_OVER * wanted.current_a)
                dim = _judged(wanted, series, standard_ohm(max(held_ohm, _LEAST_OHM)))
                if dim.fresh_ma.typical >= DARK_SHARE * 1000 * wanted.current_a:
                    yield dim


@lru_cache(maxsize=256)
def layout(wanted: Wanted) -> Layout | None:
    """The longest strings that keep a third of their light to the flat supply, and whose resistor
    is large enough to hold LEDs of the lowest forward voltage to half as much current again; else
    the shortest; None where not even these light up.

    Longer strings waste less in resistors and take fewer of them. Kept, since most changes of a
    prop leave its wiring as it is.
    """
    last = None
    for last in layouts(wanted):
        if _is_steady(wanted, last):
            return last
    return last


def _is_steady(wanted: Wanted, found: Layout) -> bool:
    """Whether strings keep their light to the flat supply, and their current with LEDs of the
    lowest forward voltage.
    """
    meant_ma = 1000 * _all_a(wanted, found.series, wanted.led.typical, wanted.current_a)
    return found.kept_light.typical >= KEPT_LIGHT and found.channel_ma.high <= MOST_OVER * meant_ma


def _all_a(wanted: Wanted, series: int, diode: Diode, current_a: float) -> float:
    """Current of a channel whose strings, of these LEDs, have this current each, with what hangs
    beside them. [A]
    """
    string_v = float(diode.in_series(series).voltage_v(current_a))
    others = (one.kind("typical") for one in wanted.beside)
    return wanted.leds // series * current_a + sum(
        count * float(string.current_a(string_v)[0]) for string, count in others
    )


def _least_ohm(wanted: Wanted, series: int, diode: Diode, current_a: float) -> float:
    """Resistor that lets this current flow in such a string at the fresh supply, with its channel
    alone lit; below 0 where none does. [ohm]

    A switch that would not let so much through is left out, which is on the safe side.
    """
    all_a = _all_a(wanted, series, diode, current_a)
    between = wanted.route.between(1, 1)
    kept_v = 0.0
    if all_a < between.most_a:
        kept_v = float(between.voltage_v(all_a))
    left_v = wanted.supply.fresh_v - kept_v - float(diode.in_series(series).voltage_v(current_a))
    if wanted.shared or wanted.beside:
        return left_v / all_a
    return left_v / current_a


def _judged(wanted: Wanted, series: int, resistor_ohm: float) -> Layout:
    strings = wanted.leds // series
    shared = wanted.shared or bool(wanted.beside)
    fresh_ma = _string_ma(wanted, series, resistor_ohm, wanted.supply.fresh_v)
    behind = replace(wanted, route=replace(wanted.route, diode=None))
    flat_ma = _string_ma(behind, series, resistor_ohm, wanted.supply.flat_v)
    channel_ma = _channel_ma(wanted, series, resistor_ohm)
    resistor_a = channel_ma.high / 1000
    if not shared:
        resistor_a /= strings
    power_w = resistor_a**2 * resistor_ohm * (1 - RESISTOR_TOLERANCE)
    return Layout(
        wanted.led,
        wanted.route,
        series,
        strings,
        shared,
        resistor_ohm,
        power_w,
        rating_w(power_w),
        fresh_ma,
        flat_ma,
        channel_ma,
        wanted.beside,
    )


_OTHERS = {"low": "high", "typical": "typical", "high": "low"}
"""The corner beside which one of this kind is worst off, or best."""
_RESISTOR_SHARE = {"low": 1 - RESISTOR_TOLERANCE, "typical": 1.0, "high": 1 + RESISTOR_TOLERANCE}
"""Share of a resistor's value, with LEDs of this forward voltage: the lowest with the lowest
resistance takes most.
"""


def _string_ma(wanted: Wanted, series: int, resistor_ohm: float, supply_v: float) -> Estimate:
    """Current of a string by corner of the tolerance; where a resistor is shared, beside the
    others that leave it least, or most.
    """
    strings = wanted.leds // series

    def alone_ma(which: str) -> float:
        string = getattr(wanted.led, which).in_series(series)
        between = wanted.route.between_at(which, strings)
        return 1000 * float(
            current_through(string, resistor_ohm * _RESISTOR_SHARE[which], between, supply_v)[0]
        )

    def sharing_ma(which: str) -> float:
        between = wanted.route.between_at(which, 1)
        kinds = _kinds(wanted, series, which, _OTHERS[which])
        return 1000 * shares_a(kinds, resistor_ohm * _RESISTOR_SHARE[which], between, supply_v)[0]

    string_ma = alone_ma
    if wanted.beside or (wanted.shared and strings > 1):
        string_ma = sharing_ma
    most, typical, least = map(string_ma, ("low", "typical", "high"))
    return Estimate(min(least, typical), typical, max(most, typical))


def _kinds(wanted: Wanted, series: int, which: str, others: str) -> tuple[tuple[Diode, int], ...]:
    """Strings on one resistor: one at a corner beside those at another."""
    one, rest = (getattr(wanted.led, corner).in_series(series) for corner in (which, others))
    return (
        (one, 1),
        (rest, wanted.leds // series - 1),
        *(each.kind(others) for each in wanted.beside),
    )


def _channel_ma(wanted: Wanted, series: int, resistor_ohm: float) -> Estimate:
    """Current of a channel at the fresh supply, all of its LEDs at one corner."""
    strings = wanted.leds // series
    fresh_v = wanted.supply.fresh_v

    def all_ma(which: str) -> float:
        string = getattr(wanted.led, which).in_series(series)
        ohms = resistor_ohm * _RESISTOR_SHARE[which]
        if wanted.beside:
            hanging = SideBySide(((string, strings), *(one.kind(which) for one in wanted.beside)))
            between = wanted.route.between_at(which, 1)
            return 1000 * float(current_through(hanging, ohms, between, fresh_v)[0])
        if wanted.shared:
            ohms *= strings
        between = wanted.route.between_at(which, strings)
        return 1000 * strings * float(current_through(string, ohms, between, fresh_v)[0])

    return Estimate(all_ma("high"), all_ma("typical"), all_ma("low"))


def shares_a(
    kinds: Sequence[tuple[Diode, int]],
    resistor_ohm: float,
    between: InSeries,
    supply_v: float,
) -> list[float]:
    """Current of one string of each kind, where so many of each hang on one resistor. [A]"""
    hanging = SideBySide(tuple((diode, count) for diode, count in kinds if count))
    all_a = float(current_through(hanging, resistor_ohm, between, supply_v)[0])
    own_v = supply_v - float(between.voltage_v(all_a)) - resistor_ohm * all_a
    return [float(diode.current_a(own_v)[0]) for diode, count in kinds if count]


def longest_driven(led: Led, current_a: float, flat_v: float, headroom_v: float) -> int:
    """Most LEDs in series that a constant-current driver still holds at the flat supply, with
    LEDs of the highest forward voltage; 0 for none.
    """
    return max(0, int((flat_v - headroom_v) / float(led.high.voltage_v(current_a))))


def uneven_a(found: Layout, fresh_v: float) -> list[float]:
    """Currents of strings on one resistor that share it least evenly: one of the lowest forward
    voltage beside others of the highest. [A]
    """
    low, high = (diode.in_series(found.series) for diode in (found.led.low, found.led.high))
    kinds = (low, 1), (high, found.strings - 1), *(one.kind("typical") for one in found.beside)
    return shares_a(kinds, found.resistor_ohm, found.route.between(1, 1), fresh_v)
