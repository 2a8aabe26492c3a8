"""CIE 1976 lightness and relative luminance."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

# The published fractions, in which both branches meet at L* = 8 exactly: CIE 15:2004 with (6/29)^3
# and (29/3)^3, as seen in the documentation of the colour-science library (which the tests use as
# second reference).
LINEAR_SLOPE = 24389 / 27
LINEAR_END_LUMINANCE = 216 / 24389


def luminance_from_lightness(lightness: ArrayLike) -> NDArray[np.float64]:
    """Relative luminance Y/Yn (0..1) of CIE 1976 lightness L* (0..100), element by element."""
    value = np.asarray(lightness, dtype=np.float64)
    return np.where(value > 8.0, ((value + 16.0) / 116.0) ** 3, value / LINEAR_SLOPE)


def lightness_from_luminance(luminance: ArrayLike) -> NDArray[np.float64]:
    """CIE 1976 lightness L* (0..100) of relative luminance Y/Yn (0..1), element by element."""
    value = np.asarray(luminance, dtype=np.float64)
    return np.where(
        value > LINEAR_END_LUMINANCE, 116.0 * np.cbrt(value) - 16.0, LINEAR_SLOPE * value
    )
