"""Air in a room, near 20 degrees C, and what it does round a speaker without a baffle.

Values of air are from memory; each is within 1 % of any handbook's between 15 and 25 degrees C.

Without a baffle or a box the air that the cone pushes in front runs round the frame to its back.
Small against the wavelength, two opposite sources remain that nearly cancel. A prop's chamber parts
them again, so the speaker is louder in it than such a data sheet says.
"""

import numpy as np

DENSITY_KG_PER_M3 = 1.2
"""Density. [kg/m^3]"""
SPEED_OF_SOUND_M_PER_S = 343.0
"""Speed of sound. [m/s]"""
VISCOSITY_PA_S = 1.82e-5
"""Dynamic viscosity. [Pa s]"""


def volume_compliance_m5_per_n(volume_m3: float) -> float:
    """Acoustic compliance of a volume of air that is small against the wavelength: C = V / (rho
    c^2). [m^5/N]
    """
    return volume_m3 / (DENSITY_KG_PER_M3 * SPEED_OF_SOUND_M_PER_S**2)


MEASURED_AT_HZ = (800.0, 1000.0, 1200.0, 1500.0)
"""Sensitivities of small speakers are printed as the mean of the levels at these, as on most
data sheets seen. [Hz]
"""
PATH_DIAMETERS = 4 / 3
"""Way from front to back in diameters of the diaphragm: about the size of the frame. Common
practice, no source. A bare disc has 0.42 (computed from its dipole); what one data sheet says of
a small speaker in free air and in half a millilitre fits 1.7.
"""
PATH_UNCERTAINTY_DB = 4.0
"""What the way being unknown may do to the level: six tenths longer, or four tenths shorter.
[dB]
"""


def short_circuit_db(diameter_m: float) -> float:
    """Level in free air against that in a large baffle, on axis, mean of the levels at
    `MEASURED_AT_HZ`: 20 lg sin(k D / 2), <= 0. [dB]

    diameter_m: of the diaphragm. Where D is half a wavelength or more, front and back no longer
    cancel on the whole: 0.
    """
    half_way = (
        np.pi * np.array(MEASURED_AT_HZ) / SPEED_OF_SOUND_M_PER_S * PATH_DIAMETERS * diameter_m
    )
    return float(np.mean(20 * np.log10(np.sin(np.minimum(half_way, np.pi / 2)))))
