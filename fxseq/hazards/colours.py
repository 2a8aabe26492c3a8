"""Colours as numbers: what red is made of, and how far two colours are apart."""
import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.sequence.model import Colour

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
"""Relative linear sRGB of each LED colour, nominal: chosen here, no source. A saturated LED lies outside sRGB and is cut to it."""

# Linear sRGB to CIE XYZ, from the primaries and the white of IEC 61966-2-1; the values WCAG 2.2 prints, with more digits.
_XYZ_FROM_RGB = np.array([
    [0.4124564, 0.3575761, 0.1804375],
    [0.2126729, 0.7151522, 0.0721750],
    [0.0193339, 0.1191920, 0.9503041],
])


def red_share(rgb: ArrayLike) -> NDArray[np.float64]:
    """R / (R + G + B) of linear RGB, shape (..., 3) to (...); 1/3, that of white, where there is no light."""
    value = np.asarray(rgb, dtype=np.float64)
    total = value.sum(axis=-1)
    return np.divide(value[..., 0], total, out=np.full(total.shape, 1 / 3), where=total > 0)


def chromaticity_uv(rgb: ArrayLike) -> NDArray[np.float64]:
    """CIE 1976 u', v' of linear RGB, shape (..., 3) to (..., 2): u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z).

    Where there is no light the fraction is 0/0: that of white is taken, so that red light going on and off counts as a change of colour,
    which errs on the safe side.
    """
    value = np.asarray(rgb, dtype=np.float64)
    dark = value.sum(axis=-1, keepdims=True) <= 0
    x, y, z = np.moveaxis(np.where(dark, 1.0, value) @ _XYZ_FROM_RGB.T, -1, 0)
    return np.stack([4 * x, 9 * y], axis=-1) / (x + 15 * y + 3 * z)[..., np.newaxis]
