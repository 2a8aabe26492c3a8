"""Frequency weightings A and C, time weightings F and S, and the levels a sound level meter shows.

Source: IEC 61672-1:2013 as copied in public code and notes (equations of Annex E, clauses on F and
S); the standard itself was not read. Levels of silence are -inf.
"""

import math
from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics.decibels import block_means, level_from_square_db, mean_square
from fxseq.acoustics.response import apply_responses, settling_time_s
from fxseq.acoustics.true_peak import true_peak

Curve = Literal["A", "C"]

FAST_S = 0.125
"""Time constant of time weighting F. [s]"""
SLOW_S = 1.0
"""Time constant of time weighting S. [s]"""

# Squares are averaged over this long before the exponential average: at most 10 lg(1 + 0.5 ms / 125
# ms) = 0.017 dB low.
_BLOCK_S = 0.0005


def _pole_frequencies_hz() -> tuple[float, float, float, float]:
    """The four pole frequencies f1..f4, from what the standard derives them from: fL, fH, fR, fA
    and D^2 = 1/2 (Annex E).
    """
    low2 = 10**3.0
    high2 = 10**7.8
    reference2 = 1e6
    d = math.sqrt(0.5)
    b = (reference2 + low2 * high2 / reference2 - d * (low2 + high2)) / (1 - d)
    root = math.sqrt(b * b - 4 * low2 * high2)
    a_corner = 10**2.45
    return (
        math.sqrt((-b - root) / 2),
        (3 - math.sqrt(5)) / 2 * a_corner,
        (3 + math.sqrt(5)) / 2 * a_corner,
        math.sqrt((-b + root) / 2),
    )


F1_HZ, F2_HZ, F3_HZ, F4_HZ = _pole_frequencies_hz()
WEIGHTING_SETTLING_S = settling_time_s(2 * math.pi * F1_HZ)


def _unscaled(frequencies_hz: ArrayLike, curve: Curve) -> NDArray[np.complex128]:
    s = 1j * np.asarray(frequencies_hz, dtype=np.float64)
    c = s**2 * F4_HZ**2 / ((s + F1_HZ) ** 2 * (s + F4_HZ) ** 2)
    if curve == "C":
        return c
    return c * s**2 / ((s + F2_HZ) * (s + F3_HZ))


_GAIN_AT_1_KHZ = {curve: abs(complex(_unscaled(1000.0, curve))) for curve in ("A", "C")}


def weighting_response(frequencies_hz: ArrayLike, curve: Curve) -> NDArray[np.complex128]:
    """Complex gain of the weighting, 1 in magnitude at 1 kHz, with the phase of the analogue
    network (peaks depend on it).
    """
    return _unscaled(frequencies_hz, curve) / _GAIN_AT_1_KHZ[curve]


def weighted_pa(
    pressure: NDArray[np.floating], rate_hz: float, curve: Curve
) -> NDArray[np.float32]:
    """Frequency-weighted sound pressure, shape (n,). [Pa]"""
    return apply_responses(
        pressure, rate_hz, [lambda f: weighting_response(f, curve)], WEIGHTING_SETTLING_S
    )[0]


def equivalent_level_db(weighted: NDArray[np.floating]) -> float:
    """Level of the mean square over the whole signal (LAeq of an A-weighted one). [dB re 20 uPa]"""
    return float(level_from_square_db(mean_square(weighted)))


def peak_level_db(weighted: NDArray[np.floating]) -> float:
    """Level of the largest magnitude, between the samples as well (LCpeak of a C-weighted
    signal). [dB re 20 uPa]
    """
    return float(level_from_square_db(true_peak(weighted) ** 2))


def _exponential_average(values: NDArray[np.float64], step: float) -> NDArray[np.float64]:
    """y[k] = e^-step y[k-1] + (1 - e^-step) x[k], from rest, for values of shape (n,).

    In rows of the same length: within a row as a running sum of values that are scaled up by at
    most e^8, then the rest of the row before.
    """
    length = max(round(8 / step), 1)
    rows = np.zeros((-(-values.size // length), length))
    rows.reshape(-1)[: values.size] = values
    fading = np.exp(-step * np.arange(1, length + 1))
    averages = np.cumsum(rows / fading, axis=1) * (fading * -np.expm1(-step))
    rest = 0.0
    for row in averages:
        row += rest * fading
        rest = row[-1]
    return averages.reshape(-1)[: values.size]


def _squares(weighted: NDArray[np.floating], rate_hz: float) -> tuple[NDArray[np.float64], float]:
    """Mean squares over 0.5 ms each, shape (m,) [Pa^2], and the time from one to the next [s]."""
    block = max(round(rate_hz * _BLOCK_S), 1)
    return block_means(np.square(weighted), block), block / rate_hz


def level_over_time_db(
    weighted: NDArray[np.floating], rate_hz: float, time_constant_s: float
) -> tuple[NDArray[np.float64], float]:
    """Time-weighted level, for example LAF(t): (levels [dB re 20 uPa], shape (m,); time from one to
    the next [s]).

    weighted: shape (n,). Exponential average of its square, from rest; value k holds at the end of
    block k of 0.5 ms.
    """
    squares, interval_s = _squares(weighted, rate_hz)
    return (
        level_from_square_db(_exponential_average(squares, interval_s / time_constant_s)),
        interval_s,
    )


def maximum_levels_db(
    weighted: NDArray[np.floating], rate_hz: float, time_constants_s: Iterable[float]
) -> list[float]:
    """Largest time-weighted level for each of the time constants (LAFmax of an A-weighted signal
    with FAST_S). [dB re 20 uPa]
    """
    squares, interval_s = _squares(weighted, rate_hz)
    averages = (
        _exponential_average(squares, interval_s / time_constant_s)
        for time_constant_s in time_constants_s
    )
    return [float(level_from_square_db(average.max(initial=0.0))) for average in averages]
