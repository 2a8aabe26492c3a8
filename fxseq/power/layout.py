"""How the LEDs of a group are wired: how many in series, with which resistor, over the whole range of the supply."""
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from numpy.typing import ArrayLike

from fxseq.power.diodes import Diode, side_by_side_a
from fxseq.power.estimate import Estimate
from fxseq.power.parts import Led
from fxseq.power.rail import LedLoad
from fxseq.power.resistors import rating_w, standard_ohm
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.quantities import number

KEPT_LIGHT = 1 / 3
"""Share of its light at the fresh supply that a string keeps at the flat one, if it can be had: to the eye two thirds (CIE 1976 L* of 64).
Common practice, no source."""
MOST_OVER = 1.5
"""Current of the lowest forward voltage that a string may have, as a ratio to the current it is laid out for. Common practice, no source."""
RESISTOR_TOLERANCE = 0.05
EQUAL_WITHIN = 1.1
"""Ratio of the currents of LEDs on one resistor that still counts as equal. Common practice, no source."""
_DARK_BESIDE = 1000

EXPLAINED = explained(Explanation(
    "power.shared_resistor", "Do LEDs side by side on one resistor share its current evenly?",
    "LEDs side by side have the same voltage, and the one that needs less of it takes more of the current. The current of each is worked out from "
    "its curve, at the freshest supply, with one string of the lowest forward voltage beside others of the highest. A finding where one takes more "
    f"than {EQUAL_WITHIN:g} times what another does.",
    "Lessons In Electric Circuits III, chapter 3: LEDs in parallel need a resistor each; ratio: common practice, no source", "a handbook",
    "That they share unevenly is sure; by how much depends on the very LEDs: those of one bag often differ less than the data sheet allows "
    "(forward_voltage_min_v, forward_voltage_max_v), and the one that takes most warms up and takes still more. How steep their curve is, is taken "
    "from their colour unless the group has a second_point.",
    formula="{r} = {Imost} / {Ileast}",
    symbols={"r": "ratio of the currents", "Imost": "current of the string that takes most, in mA", "Ileast": "of the one that takes least, in mA"}))


@dataclass(frozen=True)
class Range:
    """Voltages that LEDs have to live with, from the flattest to the freshest supply. [V]"""

    flat_v: float
    fresh_v: float


@dataclass(frozen=True)
class Switch:
    """What a switch keeps from its strings when it is on: a voltage, and a resistance that its strings share."""

    drop_v: float = 0.0
    on_ohm: float = 0.0


@dataclass(frozen=True)
class Layout:
    """Strings of a group, all alike. Light counts as proportional to current.

    series: LEDs of a string. strings: on one channel. shared: whether they hang on one resistor, in place of one each. resistor_ohm: a standard
    value. power_w: in it while lit, at the most. rating_w: of the resistor; None where no common one is large enough. fresh_ma, flat_ma: current
    of a string, by specimen, while lit. channel_ma: of all strings of a channel at the fresh supply, all of one specimen.
    """

    led: Led
    switch: Switch
    series: int
    strings: int
    shared: bool
    resistor_ohm: float
    power_w: float
    rating_w: float | None
    fresh_ma: Estimate
    flat_ma: Estimate
    channel_ma: Estimate

    def load(self, lit: ArrayLike) -> LedLoad:
        """Typical strings as a load. lit: how many, one number or one a point in time."""
        return _load(self.led.typical.in_series(self.series), self.resistor_ohm * self.sharing, self.switch, self.strings, lit)

    @property
    def sharing(self) -> int:
        """Strings of one resistor. Equal ones behave as if each had a resistor of so many times the value."""
        return self.strings if self.shared else 1

    @property
    def kept_light(self) -> Estimate:
        """Light at the flat supply as a share of that at the fresh one, specimen by specimen."""
        pairs = ((getattr(self.flat_ma, which), getattr(self.fresh_ma, which)) for which in ("low", "typical", "high"))
        return Estimate(*(flat / fresh if fresh > 0 else 0.0 for flat, fresh in pairs))


def layouts(
    led: Led, leds: int, current_a: float, supply: Range, switch: Switch, series: int | None = None, resistor_ohm: float | None = None,
    *, shared: bool = False,
) -> Iterator[Layout]:
    """Every way to wire the LEDs of a channel in equal strings, the longest strings first; those that the fresh supply cannot light are left out.

    The resistor is the next higher standard value of (fresh - switch - n Vf) / I: the typical string takes no more than its current where
    the supply is at its highest. series, resistor_ohm: given by the maker; what follows from them is judged, and not left out. shared: whether
    the strings of the channel hang on one resistor.
    """
    for count in [series] if series else range(leds, 0, -1):
        if leds % count == 0:
            string, strings = led.typical.in_series(count), leds // count
            least_ohm = (supply.fresh_v - switch.drop_v - float(string.voltage_v(current_a))) / current_a - strings * switch.on_ohm
            sharing = strings if shared else 1
            if resistor_ohm or least_ohm > 0:
                yield _judged(led, switch, count, strings, resistor_ohm or standard_ohm(least_ohm / sharing), supply, shared)


def layout(
    led: Led, leds: int, current_a: float, supply: Range, switch: Switch, series: int | None = None, resistor_ohm: float | None = None,
    *, shared: bool = False,
) -> Layout | None:
    """The longest strings that keep a third of their light to the flat supply, and whose resistor is large enough to hold LEDs of the lowest
    forward voltage to half as much current again; else the shortest; None where not even these light up.

    Longer strings waste less in resistors and take fewer of them. Arguments as of `layouts`.
    """
    found = list(layouts(led, leds, current_a, supply, switch, series, resistor_ohm, shared=shared))
    steady = (one for one in found if one.kept_light.typical >= KEPT_LIGHT and one.channel_ma.high <= MOST_OVER * 1000 * current_a * one.strings)
    return next(steady, found[-1] if found else None)


def _judged(led: Led, switch: Switch, series: int, strings: int, resistor_ohm: float, supply: Range, shared: bool) -> Layout:
    sharing = strings if shared else 1
    fresh_ma, flat_ma = (_string_ma(led, switch, series, strings, resistor_ohm * sharing, volts) for volts in (supply.fresh_v, supply.flat_v))
    channel_ma = Estimate(strings * fresh_ma.low, strings * fresh_ma.typical, strings * fresh_ma.high)
    power_w = (sharing * fresh_ma.high / 1000) ** 2 * resistor_ohm * (1 - RESISTOR_TOLERANCE)
    if sharing > 1:
        fresh_ma, flat_ma = (
            _uneven_ma(led, switch, series, strings, resistor_ohm, volts, even.typical)
            for volts, even in ((supply.fresh_v, fresh_ma), (supply.flat_v, flat_ma)))
    return Layout(led, switch, series, strings, shared, resistor_ohm, power_w, rating_w(power_w), fresh_ma, flat_ma, channel_ma)


def _string_ma(led: Led, switch: Switch, series: int, strings: int, resistor_ohm: float, supply_v: float) -> Estimate:
    """Current of a string by specimen: the highest forward voltage with the highest resistance gives the least."""
    specimens = ((led.high, 1 + RESISTOR_TOLERANCE), (led.typical, 1.0), (led.low, 1 - RESISTOR_TOLERANCE))
    return Estimate(*(
        1000 * float(_load(diode.in_series(series), resistor_ohm * share, switch, strings, 1.0).string_a(supply_v)[0]) for diode, share in specimens))


def _uneven_ma(led: Led, switch: Switch, series: int, strings: int, resistor_ohm: float, supply_v: float, even_ma: float) -> Estimate:
    """Current of a string on a shared resistor: least in one of the highest forward voltage beside the lowest, most the other way round."""
    rows = ((led.high, led.low, 1 + RESISTOR_TOLERANCE), (led.low, led.high, 1 - RESISTOR_TOLERANCE))
    least_ma, most_ma = (
        1000 * side_by_side_a(_beside(odd, others, series, strings), supply_v - switch.drop_v, resistor_ohm * share + switch.on_ohm)[0]
        for odd, others, share in rows)
    return Estimate(min(least_ma, even_ma), even_ma, max(most_ma, even_ma))


def _beside(odd: Diode, others: Diode, series: int, strings: int) -> list[Diode]:
    """A string of one specimen beside strings of another."""
    return [odd.in_series(series), *[others.in_series(series)] * (strings - 1)]


def _load(string: Diode, resistor_ohm: float, switch: Switch, strings: int, lit: ArrayLike) -> LedLoad:
    return LedLoad(string, resistor_ohm + strings * switch.on_ohm, switch.drop_v, lit)


def longest_driven(led: Led, current_a: float, flat_v: float, headroom_v: float) -> int:
    """Most LEDs in series that a constant-current driver still holds at the flat supply, with LEDs of the highest forward voltage; 0 for none."""
    return max(0, int((flat_v - headroom_v) / float(led.high.voltage_v(current_a))))


def shared_resistor_findings(subject: str, diodes: Sequence[Diode], voltage_v: float, resistance_ohm: float) -> tuple[Finding, ...]:
    """A fault where diodes, or strings, side by side on one resistor do not share its current. voltage_v: what the switch leaves of the supply."""
    currents = side_by_side_a(diodes, voltage_v, resistance_ohm)
    ratio = max(currents) / max(min(currents), 1e-12)
    if ratio <= EQUAL_WITHIN:
        return ()
    times = number(ratio) if ratio < _DARK_BESIDE else f"more than {_DARK_BESIDE}"
    return (EXPLAINED["power.shared_resistor"].finding(
        Weight.FAULT, subject,
        f"{'up to ' if ratio < _DARK_BESIDE else ''}{times} times the current in one string as in another on the same resistor", f"{EQUAL_WITHIN:g} times",
        "Give each string a resistor of its own: delete shared_resistor.",
        {"r": number(ratio), "Imost": f"{number(1000 * max(currents))} mA", "Ileast": f"{number(1000 * min(currents))} mA"}),)


def sharing_findings(subject: str, found: Layout, fresh_v: float) -> tuple[Finding, ...]:
    """What is to be said against strings of a layout on one resistor: one of the lowest forward voltage beside others of the highest."""
    if found.sharing == 1:
        return ()
    strings = _beside(found.led.low, found.led.high, found.series, found.strings)
    return shared_resistor_findings(subject, strings, fresh_v - found.switch.drop_v, found.resistor_ohm + found.switch.on_ohm)
