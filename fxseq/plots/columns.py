"""Long signals brought down to as many columns as a picture has, by the least and the greatest
value in each: no peak is lost.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.power import Steps

MOST_COLUMNS = 1200


@dataclass(frozen=True)
class Columns:
    """low, high: least and greatest value from `edges_s[i]` to `edges_s[i + 1]`, shape (n,);
    edges_s: shape (n + 1,).
    """

    edges_s: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


def columns_of_samples(values: NDArray[np.number], rate_hz: float) -> Columns:
    """Columns of values that are evenly spaced in time, shape (n,), n >= 1."""
    edges = (
        np.arange(min(values.size, MOST_COLUMNS) + 1)
        * values.size
        // min(values.size, MOST_COLUMNS)
    )
    low, high = (
        extreme.reduceat(values, edges[:-1]).astype(np.float64)
        for extreme in (np.minimum, np.maximum)
    )
    return Columns(edges / rate_hz, low, high)


def columns_of_steps(steps: Steps) -> Columns:
    """Columns of a quantity that holds between its changes."""
    edges_s = np.linspace(0, steps.end_s, MOST_COLUMNS + 1)
    # Of each column the value that it begins with, up to the last one that begins before it ends.
    firsts = np.searchsorted(steps.times_s, edges_s[:-1], side="right") - 1
    afters = np.searchsorted(steps.times_s, edges_s[1:], side="left")
    bounds = np.stack([firsts, afters], axis=1).ravel()
    values = np.append(steps.values, steps.values[-1])
    low, high = (extreme.reduceat(values, bounds)[::2] for extreme in (np.minimum, np.maximum))
    return Columns(edges_s, low, high)
