"""What lies in series with LED strings: a switch, a changeover's diode, whose loss need not be
in proportion to their current.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Values = NDArray[np.float64]

_ROUNDS = 100
_NEAR = 1e-11
_BELOW_MOST = 1 - 1e-9


class Element(Protocol):
    """Something that takes more voltage the more current it carries. most_a: what it lets
    through at the most, inf where nothing limits it.
    """

    @property
    def most_a(self) -> float: ...

    def voltage_v(self, current_a: ArrayLike) -> Values: ...

    def slope_ohm(self, current_a: ArrayLike) -> Values: ...


class Leds(Protocol):
    """LEDs behind a resistor: their current at a voltage over both, and its slope dI/dV. [A]
    [A/V]
    """

    def current_a(
        self, voltage_v: ArrayLike, resistance_ohm: ArrayLike = 0.0
    ) -> tuple[Values, Values]: ...


@dataclass(frozen=True)
class InSeries:
    """Elements in a row, as one of several equal strings meets them. elements: each with how
    many of these strings it carries.
    """

    elements: tuple[tuple[Element, int], ...] = ()

    @property
    def most_a(self) -> float:
        """What a string may get at the most, inf where nothing limits it. [A]"""
        return min(
            (element.most_a / strings for element, strings in self.elements), default=math.inf
        )

    def voltage_v(self, current_a: ArrayLike) -> Values:
        """What they keep at a current of each string, element by element. [V]"""
        amperes = np.asarray(current_a, dtype=np.float64)
        kept_v = (element.voltage_v(strings * amperes) for element, strings in self.elements)
        return np.asarray(sum(kept_v, start=np.zeros(amperes.shape)))

    def slope_ohm(self, current_a: ArrayLike) -> Values:
        """Slope of that voltage over the current of a string. [ohm]"""
        amperes = np.asarray(current_a, dtype=np.float64)
        slopes_ohm = (
            strings * element.slope_ohm(strings * amperes) for element, strings in self.elements
        )
        return np.asarray(sum(slopes_ohm, start=np.zeros(amperes.shape)))

    def straight_at(self, current_a: ArrayLike) -> tuple[Values, Values]:
        """The straight line that touches their curve at a current of each string: voltage at no
        current, and resistance. [V] [ohm]
        """
        slope_ohm = self.slope_ohm(current_a)
        return self.voltage_v(current_a) - slope_ohm * np.asarray(current_a), slope_ohm


def current_through(
    leds: Leds,
    resistance_ohm: float,
    between: InSeries,
    voltage_v: ArrayLike,
) -> tuple[Values, Values]:
    """Current of a string through its resistor and what lies in series, and its slope, element by
    element of voltage_v. [A] [A/V]

    The elements' curve is replaced by the straight line that touches it at the last guess, for
    which LEDs and resistor have a closed solution (Newton's steps for the elements alone). The
    answer stays bracketed, and a step that would leave its bracket halves it. What an element lets
    through at the most bounds the bracket, for there its voltage grows without end.
    """
    volts = np.asarray(voltage_v, dtype=np.float64)
    amperes, slope = leds.current_a(volts, resistance_ohm)
    if not between.elements:
        return amperes, slope
    most_a = between.most_a * _BELOW_MOST
    low_a = np.zeros(volts.shape)
    high_a = np.minimum(amperes, most_a)
    guess_a = np.minimum(amperes, most_a / 2)
    for _ in range(_ROUNDS):
        kept_v, kept_ohm = between.straight_at(guess_a)
        amperes, slope = leds.current_a(volts - kept_v, resistance_ohm + kept_ohm)
        low_a = np.where(amperes > guess_a, guess_a, low_a)
        high_a = np.where(amperes < guess_a, guess_a, high_a)
        after_a = np.where((amperes >= low_a) & (amperes <= high_a), amperes, (low_a + high_a) / 2)
        is_near = np.abs(after_a - guess_a) <= _NEAR * (1 + after_a)
        guess_a = after_a
        if np.all(is_near | np.isnan(volts)):
            break
    return np.where(np.isnan(volts), np.nan, guess_a), slope
