"""Diodes and LEDs."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import wrightomega

from fxseq.power.diodes import (
    THERMAL_V,
    Diode,
    SideBySide,
    diode_from_point,
    diode_from_points,
    wright_omega,
)

WHITE = Diode(math.log(0.27e-9), 6.79, 5.65)


@pytest.mark.parametrize("volts", [0.001, 1.0, 2.5, 3.2, 5.0, 12.0, 60.0])
@pytest.mark.parametrize("ohms", [0.1, 100.0, 1e5])
def test_closed_solution_is_the_bracketed_root(volts: float, ohms: float) -> None:
    def surplus_v(current_a: float) -> float:
        return (
            6.79 * THERMAL_V * math.log1p(current_a / 0.27e-9) + (5.65 + ohms) * current_a - volts
        )

    assert float(WHITE.current_a(volts, ohms)[0]) == pytest.approx(
        brentq(surplus_v, 0.0, volts / ohms, xtol=1e-18), rel=1e-6, abs=1e-15
    )


def test_wright_omega_is_that_of_scipy() -> None:
    x = np.concatenate(
        [np.linspace(-700, 700, 7001), np.linspace(-40, 10, 5001), np.logspace(3, 12, 100)]
    )
    assert wright_omega(x) == pytest.approx(wrightomega(x), rel=1e-13, abs=0)
    assert (
        wright_omega(-1e5) == 0
        and np.isnan(wright_omega(math.nan))
        and np.isnan(wright_omega(np.full(20, math.nan))).all()
    )
    assert [float(wright_omega(value)) for value in x[::97]] == pytest.approx(
        wrightomega(x[::97]).tolist(), rel=1e-13, abs=0
    )


def test_currents_are_arrays_over_voltages() -> None:
    current_a, slope = WHITE.current_a(np.array([[3.0, 4.0, 5.0], [6.0, 7.0, 8.0]]), 100.0)
    assert current_a.shape == slope.shape == (2, 3)


@pytest.mark.parametrize("series_ohm", [0.0, 5.65])
def test_slope_is_that_of_the_current(series_ohm: float) -> None:
    model = Diode(math.log(0.27e-9), 6.79, series_ohm)
    low, high = (float(model.current_a(volts)[0]) for volts in (2.9999, 3.0001))
    assert float(model.current_a(3.0)[1]) == pytest.approx((high - low) / 0.0002, rel=1e-4)


@pytest.mark.parametrize("volts", [0.0, -5.0])
def test_nothing_flows_without_voltage_or_in_reverse(volts: float) -> None:
    assert float(WHITE.current_a(volts, 100.0)[0]) == pytest.approx(0.0, abs=1e-18)


def test_voltage_and_current_are_inverse() -> None:
    volts = WHITE.voltage_v(np.array([0.0, 1e-9, 1e-3, 1.0]))
    assert WHITE.current_a(volts)[0] == pytest.approx([0.0, 1e-9, 1e-3, 1.0], rel=1e-9)


def test_resistance_that_would_take_all_the_voltage_is_cut() -> None:
    assert diode_from_point(2.0, 1.0, 1.5, 6.0).series_ohm == 1.0


@pytest.mark.parametrize(
    ("second_v", "second_a", "emission", "series_ohm"),
    [
        (2.1, 0.02, 1.5, (0.1 - 1.5 * THERMAL_V * math.log(2)) / 0.01),
        (1.9, 0.005, 1.5, (0.1 - 1.5 * THERMAL_V * math.log(2)) / 0.005),
        (2.02, 0.02, 0.02 / THERMAL_V / math.log(2), 0.0),
        (1.98, 0.005, 0.02 / THERMAL_V / math.log(2), 0.0),
    ],
)
def test_two_points_are_passed_by_resistance_or_else_by_a_smaller_emission(
    second_v: float, second_a: float, emission: float, series_ohm: float
) -> None:
    found = diode_from_points((2.0, 0.01), (second_v, second_a), 1.5)
    assert (found.emission, found.series_ohm) == (
        pytest.approx(emission),
        pytest.approx(series_ohm),
    )
    assert found.voltage_v([0.01, second_a]) == pytest.approx([2.0, second_v], rel=1e-9)


def test_equal_diodes_share_a_resistor_equally() -> None:
    first, second = SideBySide(((WHITE, 1), (WHITE, 1))).shares_a(5.0, 100.0)
    assert first == pytest.approx(second)
    assert SideBySide(((WHITE, 1), (WHITE, 1))).shares_a(0.0, 100.0) == [0.0, 0.0]
