"""Ratios as decibels and sound pressures as levels."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

REFERENCE_PRESSURE_PA = 20e-6
"""Pressure of 0 dB SPL in air. [Pa]"""


def power_db(ratio: ArrayLike) -> NDArray[np.float64]:
    """10 lg of a ratio of powers (or of squares), element by element; -inf where it is zero.
    [dB]
    """
    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(np.asarray(ratio, dtype=np.float64))


def level_from_square_db(square_pa2: ArrayLike) -> NDArray[np.float64]:
    """Sound pressure level of a mean square pressure, element by element; -inf for silence. [dB re
    20 uPa]

    square_pa2: mean square (or squared peak) pressure, >= 0. [Pa^2]
    """
    return power_db(np.asarray(square_pa2, dtype=np.float64) / REFERENCE_PRESSURE_PA**2)


def mean_square(values: NDArray[np.floating]) -> float:
    """Mean of the squares; 0 for an empty array. Summed pairwise, so single precision is enough
    for an hour of samples.
    """
    if not values.size:
        return 0.0
    return float(np.mean(np.square(values)))


def block_means(values: NDArray[np.floating], block: int) -> NDArray[np.float64]:
    """Means of `values` over successive blocks of `block` samples; the last, partial block over
    what it holds.

    values: shape (n,). Result: shape (ceil(n / block),).
    """
    whole = values.size // block * block
    # In a tenth of the time that `mean` takes for short rows of single precision.
    means = np.einsum("ij->i", values[:whole].reshape(-1, block), dtype=np.float64) / block
    if whole == values.size:
        return means
    return np.append(means, values[whole:].mean(dtype=np.float64))


def known(level_db: float) -> float | None:
    """A level for a report: None for the -inf of silence, since JSON has no infinity."""
    if not np.isfinite(level_db):
        return None
    return float(level_db)
