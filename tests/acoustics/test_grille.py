"""Holes in front of a speaker."""

import math

import numpy as np
import pytest
from scipy.special import jv

from fxseq.acoustics import (
    DENSITY_KG_PER_M3,
    VISCOSITY_PA_S,
    Driver,
    Grille,
    Mount,
    electrical_impedance,
    excursion_per_volt,
    front_load,
    hole_impedance,
    pressure_per_volt,
)
from fxseq.acoustics.air import SPEED_OF_SOUND_M_PER_S
from fxseq.acoustics.grille import radiation_resistance

DRIVER = Driver(7.1, 60e-6, 2.1, 0.32e-3, 0.22e-3, 0.3, 3.5e-4)
FREQUENCIES = np.geomspace(50, 8000, 60)


def exact_tube(frequencies_hz: np.ndarray, radius_m: float, length_m: float) -> np.ndarray:
    """Impedance of viscous air in a round tube without its ends: j w rho t / (1 - 2 J1(x) / (x
    J0(x))) / S, x = a sqrt(-j w rho / mu).
    """
    omega = 2 * np.pi * frequencies_hz
    x = radius_m * np.sqrt(omega * DENSITY_KG_PER_M3 / VISCOSITY_PA_S) * np.exp(-0.25j * np.pi)
    return (
        1j
        * omega
        * DENSITY_KG_PER_M3
        * length_m
        / (1 - 2 * jv(1, x) / (x * jv(0, x)))
        / (math.pi * radius_m**2)
    )


@pytest.mark.parametrize("radius_mm", [0.1, 0.25, 0.5, 1.0, 2.0])
def test_holes_agree_with_the_exact_solution(radius_mm: float) -> None:
    # Crandall's solution of viscous flow in a tube (equation from memory), by scipy's Bessel
    # functions of other orders. Between two lengths the ends cancel.
    long, short = (
        hole_impedance(FREQUENCIES, Grille(1, 2 * radius_mm / 1000, length_m))
        for length_m in (0.003, 0.001)
    )
    assert long - short == pytest.approx(exact_tube(FREQUENCIES, radius_mm / 1000, 0.002), rel=1e-9)


def test_slow_air_meets_the_friction_of_poiseuille() -> None:
    # 8 mu t / a^2 over the open area (textbook); at 0 Hz too.
    slow = (
        hole_impedance(np.array([0.0, 1e-3]), Grille(1, 0.0006, 0.001)).real * math.pi * 0.0003**2
    )
    assert slow == pytest.approx(8 * VISCOSITY_PA_S * 0.001 / 0.0003**2, rel=1e-3)


def test_wide_hole_is_the_mass_of_its_air_with_two_ends() -> None:
    # rho (t + 2 * 0.85 a) / S for a hole in which friction does not count: 10 mm across in 2 mm.
    mass = hole_impedance(np.array([1000.0]), Grille(1, 0.010, 0.002))[0].imag / (2 * np.pi * 1000)
    assert mass == pytest.approx(
        1.2 * (0.002 + 2 * 0.8488 * 0.005) / (math.pi * 0.005**2), rel=0.02
    )


def test_friction_of_a_hole_in_a_thin_plate_is_that_of_its_surface() -> None:
    # sqrt(2 w rho mu) / 2 over the open area (Ingard's surface resistance, from memory); a plate so
    # thin that the hole itself has none.
    thin = hole_impedance(np.array([1000.0]), Grille(1, 0.002, 1e-9))[0].real * math.pi * 0.001**2
    assert thin == pytest.approx(
        math.sqrt(2 * 2 * math.pi * 1000 * DENSITY_KG_PER_M3 * VISCOSITY_PA_S) / 2, rel=1e-3
    )


def test_more_holes_load_less_in_proportion() -> None:
    one, ten = (hole_impedance(FREQUENCIES, Grille(n, 0.002, 0.0015)) for n in (1, 10))
    assert one == pytest.approx(10 * ten)


def test_sound_from_small_holes_takes_power_whatever_their_area() -> None:
    # w^2 rho / (2 pi c) of a simple source in a wall; rho c / S of holes that are wide for the
    # wavelength (textbooks, from memory).
    low = radiation_resistance(np.array([1e-3, 100.0, 1000.0]), 20e-6)
    assert low == pytest.approx(
        (2 * np.pi * np.array([1e-3, 100.0, 1000.0])) ** 2
        * DENSITY_KG_PER_M3
        / (2 * math.pi * SPEED_OF_SOUND_M_PER_S),
        rel=1e-3,
    )
    assert radiation_resistance(np.array([50_000.0]), 0.01)[0] == pytest.approx(
        DENSITY_KG_PER_M3 * SPEED_OF_SOUND_M_PER_S / 0.01, rel=0.01
    )


def test_resonance_of_wide_holes_with_the_gap_is_held_down_by_their_own_sound() -> None:
    # 20 holes of 1.5 mm before 1 ml: without it the friction of the air alone lets the peak grow to
    # 27 dB.
    frequencies = np.linspace(4000, 8000, 2000)
    _, let_out = front_load(frequencies, Grille(20, 0.0015, 0.002, gap_m3=1e-6))
    peak = int(np.abs(let_out).argmax())
    # Q of mass over resistance, that of the source in a wall: w rho l / S over w^2 rho / (2 pi c),
    # l the hole with its ends.
    q = (
        2
        * math.pi
        * SPEED_OF_SOUND_M_PER_S
        * (0.002 + 2 * 0.8488 * 0.00075)
        / (20 * math.pi * 0.00075**2)
        / (2 * math.pi * frequencies[peak])
    )
    assert 0.75 * q < np.abs(let_out[peak]) < q


def test_open_grille_changes_nothing_and_a_tight_one_takes_treble() -> None:
    bare = np.abs(pressure_per_volt(FREQUENCIES, DRIVER, Mount(12e-6)))
    # Holes that are together far wider than the cone.
    wide = np.abs(
        pressure_per_volt(FREQUENCIES, DRIVER, Mount(12e-6, grille=Grille(100, 0.02, 0.0005)))
    )
    tight = np.abs(
        pressure_per_volt(FREQUENCIES, DRIVER, Mount(12e-6, grille=Grille(2, 0.001, 0.002)))
    )
    assert np.abs(20 * np.log10(wide / bare)).max() < 0.1
    assert 20 * np.log10(tight / bare)[-1] < -3


def test_gap_before_the_grille_makes_a_resonance_and_lets_nothing_out_above() -> None:
    grille = Grille(7, 0.002, 0.002, gap_m3=0.5e-6)
    holes = grille.open_area_m2
    gap = grille.gap_m3
    # Helmholtz: c / (2 pi) sqrt(S / (V l)), l with both ends; friction moves it little.
    helmholtz = 343 / (2 * np.pi) * math.sqrt(holes / (gap * (0.002 + 2 * 0.8488 * 0.001)))
    _, let_out = front_load(np.linspace(500, 10_000, 2000), grille)
    assert np.linspace(500, 10_000, 2000)[np.abs(let_out).argmax()] == pytest.approx(
        helmholtz, rel=0.05
    )
    assert np.abs(let_out)[-1] < 1


def test_tight_grille_never_gives_energy() -> None:
    mount = Mount(12e-6, leak_q=5.0, grille=Grille(3, 0.001, 0.003, gap_m3=0.3e-6))
    assert electrical_impedance(FREQUENCIES, DRIVER, mount).real.min() >= DRIVER.coil_ohm
    assert np.isfinite(excursion_per_volt(FREQUENCIES, DRIVER, mount)).all()
