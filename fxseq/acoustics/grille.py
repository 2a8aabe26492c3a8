"""Holes in front of a speaker: the mass of the air in them, its friction, and what it gives off
as sound.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.air import (
    DENSITY_KG_PER_M3,
    SPEED_OF_SOUND_M_PER_S,
    VISCOSITY_PA_S,
    volume_compliance_m5_per_n,
)

_END_CORRECTION = 8 / (3 * math.pi)
"""Air that moves with each flanged end of a hole, in radii of it: the piston's 8 / (3 pi), 0.85."""
_STILL_HZ = 1e-3
"""Stands for 0 Hz, where the Bessel functions give 0 / 0. [Hz]"""
_SMALL = 1e-3


@dataclass(frozen=True)
class Grille:
    """Round holes of one size in a plate, in front of a cone.

    gap_m3: air between cone and plate, which yields at high frequencies; 0 where the plate lies
    close.
    """

    holes: int
    hole_diameter_m: float
    thickness_m: float
    gap_m3: float = 0.0

    @property
    def open_area_m2(self) -> float:
        """Area of all holes. [m^2]"""
        return self.holes * math.pi / 4 * self.hole_diameter_m**2


def hole_impedance(frequencies_hz: NDArray[np.float64], grille: Grille) -> NDArray[np.complex128]:
    """Acoustic impedance of the holes, pressure over volume flow, shape of `frequencies_hz`. [Pa
    s/m^3]

    Z = (mu t / a^2 x^2 J0(x) / J2(x) + 2 (R + j w rho 0.85 a)) / S, x = a sqrt(-j w rho / mu), R =
    sqrt(2 w rho mu) / 4 with a the radius of a hole, t its length and S the open area. Holes are
    taken as far apart: close ones weigh less than this.

    The first term is exact for viscous air in a tube (Crandall; Poiseuille's at low frequencies),
    the others are the usual ones for its two ends: mass and friction. Source: the equations, from
    memory.
    """
    # Loaded where a grille is described: it takes longer than most commands
    from scipy.special import jve

    omega = 2 * np.pi * np.maximum(frequencies_hz, _STILL_HZ)
    radius = grille.hole_diameter_m / 2
    x = radius * np.sqrt(-1j * omega * DENSITY_KG_PER_M3 / VISCOSITY_PA_S)
    tube = VISCOSITY_PA_S * grille.thickness_m / radius**2 * x**2 * jve(0, x) / jve(2, x)
    ends = (
        np.sqrt(2 * omega * DENSITY_KG_PER_M3 * VISCOSITY_PA_S) / 2
        + 2j * omega * DENSITY_KG_PER_M3 * _END_CORRECTION * radius
    )
    return (tube + ends) / grille.open_area_m2


def radiation_resistance(
    frequencies_hz: NDArray[np.float64], area_m2: float
) -> NDArray[np.float64]:
    """What sound takes away from a piston in a wall: rho c (1 - J1(2 k a) / (k a)) / S, shape of
    `frequencies_hz`. [Pa s/m^3]

    At low frequencies w^2 rho / (2 pi c), whatever the area. It is what limits the resonance of
    wide holes with the gap behind them. Source: the piston of the textbooks, from memory.
    """
    from scipy.special import j1

    bulk = (
        4
        * np.pi
        * np.maximum(frequencies_hz, _STILL_HZ)
        / SPEED_OF_SOUND_M_PER_S
        * math.sqrt(area_m2 / math.pi)
    )
    # The small difference of two numbers close to 1, and its first term where they leave no digits.
    share = np.where(bulk < _SMALL, bulk**2 / 8, 1 - 2 * j1(bulk) / bulk)
    return DENSITY_KG_PER_M3 * SPEED_OF_SOUND_M_PER_S / area_m2 * share


def front_load(
    frequencies_hz: NDArray[np.float64], grille: Grille
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """What the cone sees of a grille with its gap [Pa s/m^3], and the share of its flow that
    gets out. All holes sound as one piston of their area.
    """
    holes = hole_impedance(frequencies_hz, grille) + radiation_resistance(
        frequencies_hz, grille.open_area_m2
    )
    let_out = 1 / (
        1 + 2j * np.pi * frequencies_hz * volume_compliance_m5_per_n(grille.gap_m3) * holes
    )
    return holes * let_out, let_out
