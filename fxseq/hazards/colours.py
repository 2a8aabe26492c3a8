"""Colours as numbers: what an LED's light is, what red is made of, and how far two colours are
apart.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.sequence.model import Colour, Group

COLOUR_RGB: dict[Colour, tuple[float, float, float]] = {
    "red": (1.0, 0.0, 0.0),
    "orange": (1.0, 0.2, 0.0),
    "amber": (1.0, 0.4, 0.0),
    "yellow": (1.0, 0.7, 0.0),
    "green": (0.0, 1.0, 0.1),
    "cyan": (0.0, 1.0, 0.8),
    "blue": (0.0, 0.1, 1.0),
    "violet": (0.3, 0.0, 1.0),
    "pink": (1.0, 0.2, 0.5),
    "white": (1.0, 1.0, 1.0),
    "warm_white": (1.0, 0.46, 0.15),
}
"""Relative linear sRGB in which a screen shows each LED colour: chosen here, no source."""

USUAL_WAVELENGTH_NM: dict[Colour, float] = {
    "red": 625,
    "orange": 605,
    "amber": 590,
    "yellow": 587,
    "green": 525,
    "cyan": 505,
    "blue": 470,
    "violet": 405,
}
"""Dominant wavelength that data sheets of common LEDs print; from memory. The other colours are
mixtures and have none. [nm]
"""

# Linear sRGB to CIE XYZ, from the primaries and the white of IEC 61966-2-1; the values WCAG 2.2
# prints, with more digits.
_XYZ_FROM_RGB = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)


def led_rgb(group: Group) -> NDArray[np.float64]:
    """Relative linear RGB of a group's light, highest component 1; below 0 where it lies outside of
    what a screen can show.

    By its dominant wavelength, so that whether it is a saturated red hangs on its light and not on
    its name.
    """
    wavelength_nm = group.wavelength_nm or USUAL_WAVELENGTH_NM.get(group.colour)
    if wavelength_nm is None:
        return np.array(COLOUR_RGB[group.colour])
    rgb = np.linalg.solve(_XYZ_FROM_RGB, spectral_xyz(wavelength_nm))
    return np.asarray(rgb / rgb.max())


def spectral_xyz(wavelength_nm: float) -> NDArray[np.float64]:
    """CIE 1931 colour matching functions x, y, z at a wavelength, shape (3,).

    Source: C. Wyman, P.-P. Sloan and P. Shirley, "Simple Analytic Approximations to the CIE XYZ
    Color Matching Functions", Journal of Computer Graphics Techniques 2 (2013), the fit of several
    lobes; from memory, held to the tables by a test.
    """

    def lobe(centre_nm: float, below_nm: float, above_nm: float) -> float:
        width_nm = below_nm if wavelength_nm < centre_nm else above_nm
        return math.exp(-(((wavelength_nm - centre_nm) / width_nm) ** 2) / 2)

    return np.array(
        [
            1.056 * lobe(599.8, 37.9, 31.0)
            + 0.362 * lobe(442.0, 16.0, 26.7)
            - 0.065 * lobe(501.1, 20.4, 26.2),
            0.821 * lobe(568.8, 46.9, 40.5) + 0.286 * lobe(530.9, 16.3, 31.1),
            1.217 * lobe(437.0, 11.8, 36.0) + 0.681 * lobe(459.0, 26.0, 13.8),
        ]
    )


def red_share(rgb: ArrayLike) -> NDArray[np.float64]:
    """R / (R + G + B) of linear RGB, shape (..., 3) to (...); 1/3, that of white, where there is no
    light.

    The definition is one of a screen's colours: what is below 0, outside of them, counts as 0.
    """
    value = np.maximum(np.asarray(rgb, dtype=np.float64), 0.0)
    total = value.sum(axis=-1)
    return np.divide(value[..., 0], total, out=np.full(total.shape, 1 / 3), where=total > 0)


def chromaticity_uv(rgb: ArrayLike) -> NDArray[np.float64]:
    """CIE 1976 u', v' of linear RGB, shape (..., 3) to (..., 2): u' = 4X / (X + 15Y + 3Z), v' = 9Y
    / (X + 15Y + 3Z).

    Where there is no light the fraction is 0/0: that of white is taken, so that red light going on
    and off counts as a change of colour, which errs on the safe side.
    """
    value = np.asarray(rgb, dtype=np.float64)
    dark = value.sum(axis=-1, keepdims=True) <= 0
    x, y, z = np.moveaxis(np.where(dark, 1.0, value) @ _XYZ_FROM_RGB.T, -1, 0)
    return np.stack([4 * x, 9 * y], axis=-1) / (x + 15 * y + 3 * z)[..., np.newaxis]
