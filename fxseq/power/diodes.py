"""Diodes and LEDs by the exponential model, alone, in strings and side by side."""

import math
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

_BOLTZMANN_J_PER_K = 1.380649e-23
_CHARGE_C = 1.602176634e-19
"""Exact by definition: SI brochure, 9th edition."""
THERMAL_V = _BOLTZMANN_J_PER_K * (273.15 + 27) / _CHARGE_C
"""kT/q at 27 degrees Celsius, the temperature at which SPICE states its models: 25.865 mV."""
_OMEGA_IS_EXP_BELOW = -37.0
"""There w is e^x to the last bit."""
_FEW = 8
Numbers = TypeVar("Numbers", float, NDArray[np.float64])
_NEAR_V = 1e-12
_ROUNDS = 200


def wright_omega(x: ArrayLike) -> NDArray[np.float64]:
    """The w > 0 with w + ln w = x, element by element of finite numbers; NaN stays NaN.

    A guess by the size of x, then two steps that make the error its fourth power each: the method
    of P. W. Lawrence, R. M. Corless and D. J. Jeffrey, Algorithm 917, ACM TOMS 38 (2012), from
    memory. scipy has it, but takes longer to load than most commands to run.
    """
    wanted = np.asarray(x, dtype=np.float64)
    if wanted.size <= _FEW:
        return np.array([_omega(value) for value in wanted.ravel().tolist()]).reshape(wanted.shape)
    values = np.maximum(wanted, _OMEGA_IS_EXP_BELOW)
    middle = np.exp((np.clip(values, -2.0, 5.0) - 1) * 2 / 3)
    large = values - np.log(np.maximum(values, 1.0))
    omega = np.where(
        values < -2, np.exp(np.minimum(values, 0.0)), np.where(values < 1 + math.pi, middle, large)
    )
    for _ in range(2):
        omega = _nearer(values, omega, np.log(omega))
    with np.errstate(under="ignore"):
        return np.where(wanted < values, np.exp(np.minimum(wanted, 0.0)), omega)


def _omega(x: float) -> float:
    """One of them, in a twentieth of the time that an array of one takes: circuits are solved
    one by one.
    """
    if x < -2:
        omega = math.exp(x)
    elif x < 1 + math.pi:
        omega = math.exp((x - 1) * 2 / 3)
    else:
        omega = x - math.log(x)
    if x < _OMEGA_IS_EXP_BELOW:
        return omega
    for _ in range(2):
        omega = _nearer(x, omega, math.log(omega))
    return omega


def _nearer(x: Numbers, omega: Numbers, logarithm: Numbers) -> Numbers:
    """The step of the algorithm, for numbers and arrays alike."""
    missing = x - omega - logarithm
    steep = omega + 1
    both = 2 * steep * (steep + 2 / 3 * missing)
    return omega * (1 + missing / steep * (both - missing) / (both - 2 * missing))


@dataclass(frozen=True)
class Diode:
    """V = n VT ln(I / Is + 1) + Rs I, at 27 degrees Celsius.

    ln_saturation_a: ln(Is / 1 A); as a logarithm, since Is itself falls below the smallest number
    for high voltages. emission: n, > 0. Above 2 it only fits a curve. series_ohm: Rs, >= 0.

    Several equal diodes in a row are one of n-fold emission and resistance (`in_series`). An LED
    grows about 2 mV less a kelvin (from memory), which is not modelled. Source: the diode of SPICE
    without breakdown.
    """

    ln_saturation_a: float
    emission: float
    series_ohm: float = 0.0

    @property
    def most_a(self) -> float:
        """Nothing but what is in series with it limits its current."""
        return math.inf

    @property
    def slope_v(self) -> float:
        """n VT: what the voltage grows by for e times the current. [V]"""
        return self.emission * THERMAL_V

    def in_series(self, count: int) -> "Diode":
        """As many of these in a row."""
        return replace(self, emission=count * self.emission, series_ohm=count * self.series_ohm)

    def voltage_v(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Forward voltage at a current >= 0, element by element. [V]"""
        amperes = np.asarray(current_a, dtype=np.float64)
        # NaN, the current of a rail that has collapsed, stays what it is.
        with np.errstate(divide="ignore", invalid="ignore"):
            return (
                self.slope_v * np.logaddexp(np.log(amperes) - self.ln_saturation_a, 0.0)
                + self.series_ohm * amperes
            )

    def slope_ohm(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Slope dV/dI at a current >= 0, element by element. [ohm]"""
        with np.errstate(over="ignore"):
            return (
                self.slope_v
                / (np.asarray(current_a, dtype=np.float64) + np.exp(self.ln_saturation_a))
                + self.series_ohm
            )

    def current_a(
        self, voltage_v: ArrayLike, resistance_ohm: ArrayLike = 0.0
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current through diode and resistor in series, >= 0, and its slope dI/dV, element by
        element of voltage_v. [A] [A/V]

        With a = n VT and R = resistor + Rs the equation V = a ln(I / Is + 1) + R I has the closed
        solution I = a / R w(ln(Is R / a) + (V + Is R) / a) - Is, w being Wright's omega function.
        Without any resistance I = Is (e^(V/a) - 1), which grows without bound. Leakage in reverse
        counts as none.
        """
        volts = np.asarray(voltage_v, dtype=np.float64)
        slope_v = self.slope_v
        ohms = np.asarray(resistance_ohm, dtype=np.float64) + self.series_ohm
        saturation_a = math.exp(self.ln_saturation_a)
        if np.all(ohms > 0):
            omega = wright_omega(
                self.ln_saturation_a
                + np.log(ohms / slope_v)
                + (volts + saturation_a * ohms) / slope_v
            )
            return (
                np.maximum(slope_v / ohms * omega - saturation_a, 0.0),
                omega / (1 + omega) / ohms,
            )
        with np.errstate(over="ignore"):
            grown_a = np.exp(self.ln_saturation_a + volts / slope_v)
        return np.maximum(grown_a - saturation_a, 0.0), grown_a / slope_v


def diode_from_point(
    voltage_v: float, current_a: float, emission: float, series_ohm: float
) -> Diode:
    """The diode of this emission and resistance that passes through one point of a data sheet,
    current_a > 0. The 1 in I / Is + 1 is neglected.

    Where the series resistance alone would take more than half the voltage, half of it is used, so
    that a diode is left.
    """
    series_ohm = min(series_ohm, voltage_v / 2 / current_a)
    return Diode(
        math.log(current_a) - (voltage_v - series_ohm * current_a) / (emission * THERMAL_V),
        emission,
        series_ohm,
    )


def diode_from_points(
    first: tuple[float, float],
    second: tuple[float, float],
    emission: float,
    series_ohm: float | None = None,
) -> Diode:
    """The diode through two points (V, A) of a data sheet, of unlike currents > 0, the higher
    voltage at the higher current. The 1 in I / Is + 1 is neglected.

    Two points leave one of emission and resistance open. With series_ohm, n = (V2 - V1 - Rs (I2 -
    I1)) / (VT ln(I2 / I1)). Without, Rs = (V2 - V1 - n VT ln(I2 / I1)) / (I2 - I1): the emission n
    belongs to the semiconductor, the resistance to the size of the die. Where the points are closer
    than this emission allows, n as above without resistance. Source: the model solved for two
    points; Lessons In Electric Circuits III, "SPICE models", derives Is from one in the same way.
    """
    (first_v, first_a), (second_v, second_a) = first, second
    for_each_emission_v = THERMAL_V * math.log(second_a / first_a)
    more_a = second_a - first_a
    if series_ohm is None:
        series_ohm = max((second_v - first_v - emission * for_each_emission_v) / more_a, 0.0)
    return diode_from_point(
        first_v,
        first_a,
        (second_v - first_v - series_ohm * more_a) / for_each_emission_v,
        series_ohm,
    )


@dataclass(frozen=True)
class SideBySide:
    """LEDs, or strings of them, side by side: all have one voltage. diodes: each kind with how
    many there are of it.
    """

    diodes: tuple[tuple[Diode, int], ...]

    def at(self, voltage_v: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current of all of them at their own voltage, and its slope, element by element. [A]
        [A/V]
        """
        each = [(count, *diode.current_a(voltage_v)) for diode, count in self.diodes]
        amperes = np.sum([count * one for count, one, _ in each], axis=0)
        slope = np.sum([count * one for count, _, one in each], axis=0)
        return amperes, slope

    def voltage_v(self, over_all_v: ArrayLike, resistance_ohm: ArrayLike) -> NDArray[np.float64]:
        """Their voltage where they hang behind one resistor > 0, element by element of the voltage
        over both. [V]

        Currents and resistor balance where g(u) = I(u) + (u - V) / R is 0. With one kind alone on
        the resistor the voltage is higher, so the lowest of these is above the answer; g is convex,
        and Newton's steps come down on it.
        """
        over_v = np.asarray(over_all_v, dtype=np.float64)
        ohms = np.asarray(resistance_ohm, dtype=np.float64)
        volts = np.min(
            [over_v - ohms * diode.current_a(over_v, ohms)[0] for diode, _ in self.diodes], axis=0
        )
        for _ in range(_ROUNDS):
            amperes, slope = self.at(volts)
            step_v = (amperes + (volts - over_v) / ohms) / (slope + 1 / ohms)
            volts = volts - step_v
            if np.all((np.abs(step_v) < _NEAR_V) | np.isnan(step_v)):
                break
        return volts

    def current_a(
        self, voltage_v: ArrayLike, resistance_ohm: ArrayLike = 0.0
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Current of all of them together through one resistor > 0, and its slope, element by
        element of voltage_v. [A] [A/V]
        """
        amperes, slope = self.at(self.voltage_v(voltage_v, resistance_ohm))
        return amperes, slope / (1 + np.asarray(resistance_ohm) * slope)

    def shares_a(self, voltage_v: float, resistance_ohm: float) -> list[float]:
        """Current of one of each kind behind one resistor > 0. [A]"""
        own_v = self.voltage_v(voltage_v, resistance_ohm)
        return [float(diode.current_a(own_v)[0]) for diode, _ in self.diodes]
