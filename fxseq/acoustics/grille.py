"""Holes in front of a speaker: the mass of the air in them, and its friction."""
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.air import DENSITY_KG_PER_M3, VISCOSITY_PA_S, volume_compliance_m5_per_n

_END_CORRECTION = 8 / (3 * math.pi)
"""Air that moves with each flanged end of a hole, in radii of it: the piston's 8 / (3 pi), 0.85."""


@dataclass(frozen=True)
class Grille:
    """Round holes of one size in a plate, in front of a cone.

    gap_m3: air between cone and plate, which yields at high frequencies; 0 where the plate lies close.
    """

    holes: int
    hole_diameter_m: float
    thickness_m: float
    gap_m3: float = 0.0

    @property
    def open_area_m2(self) -> float:
        """Of all holes. [m^2]"""
        return self.holes * math.pi / 4 * self.hole_diameter_m**2


def hole_impedance(frequencies_hz: NDArray[np.float64], grille: Grille) -> NDArray[np.complex128]:
    """Acoustic impedance of the holes, pressure over volume flow, shape of `frequencies_hz`. [Pa s/m^3]

    Z = (32 mu t / d^2 (sqrt(1 + k^2/32) + sqrt(2)/32 k d/t) + j w rho (t (1 + 1/sqrt(9 + k^2/2)) + 2 * 0.85 a)) / S, k = a sqrt(w rho / mu)
    with a = d/2 the radius, t the thickness and S the open area. Holes are taken as far apart: close ones weigh less than this.

    Within 6 % of the exact solution for a tube (Bessel functions), which the tests compare with; the end terms are the usual ones.
    Source: D.-Y. Maa's approximation for small holes, from memory.
    """
    omega = 2 * np.pi * frequencies_hz
    radius, t = grille.hole_diameter_m / 2, grille.thickness_m
    k = radius * np.sqrt(omega * DENSITY_KG_PER_M3 / VISCOSITY_PA_S)
    friction = 8 * VISCOSITY_PA_S / radius**2 * (t * np.sqrt(1 + k**2 / 32) + math.sqrt(2) / 32 * k * grille.hole_diameter_m)
    length = t * (1 + 1 / np.sqrt(9 + k**2 / 2)) + 2 * _END_CORRECTION * radius
    return (friction + 1j * omega * DENSITY_KG_PER_M3 * length) / grille.open_area_m2


def front_load(frequencies_hz: NDArray[np.float64], grille: Grille) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """What the cone sees of a grille with its gap [Pa s/m^3], and the share of its flow that gets out."""
    holes = hole_impedance(frequencies_hz, grille)
    let_out = 1 / (1 + 2j * np.pi * frequencies_hz * volume_compliance_m5_per_n(grille.gap_m3) * holes)
    return holes * let_out, let_out
