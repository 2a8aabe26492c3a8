"""A limiter that sees what comes: peaks are turned down before they are there, so nothing is cut off."""
import math

import numpy as np
from numpy.typing import NDArray

LOOK_AHEAD_S = 0.0015
"""The gain begins to fall this long before a peak. Common practice, no source. [s]"""
RELEASE_S = 0.05
"""Time constant, in the logarithm of the gain's loss, of its return. Common practice, no source. [s]"""


def limited(
    signal: NDArray[np.floating], rate_hz: float, threshold: float, look_ahead_s: float = LOOK_AHEAD_S, release_s: float = RELEASE_S,
) -> NDArray[np.float64]:
    """The signal with a gain of 1 or less that keeps it within +-threshold, shape (n,); a signal within it comes back as it is.

    threshold: > 0. The result is the same for the same input, sample by sample; it is as long as the input and not delayed.
    """
    return signal * limiter_gain(signal, rate_hz, threshold, look_ahead_s, release_s)


def limiter_gain(
    signal: NDArray[np.floating], rate_hz: float, threshold: float, look_ahead_s: float = LOOK_AHEAD_S, release_s: float = RELEASE_S,
) -> NDArray[np.float64]:
    """The gain of `limited`, 0..1, shape (n,).

    The least gain needed within the look-ahead on either side, held and let go slowly, then averaged over the same window. Each average is
    over gains of which none exceeds what its middle needs, so no sample gets past the threshold.
    """
    magnitude = np.abs(signal.astype(np.float64, copy=False))
    if magnitude.size == 0 or magnitude.max() <= threshold:
        return np.ones(magnitude.size)
    reach = max(round(look_ahead_s * rate_hz), 1)
    needed = np.minimum(1.0, threshold / np.maximum(magnitude, threshold))
    released = _let_go(_least_around(needed, reach), math.exp(-1 / (release_s * rate_hz)))
    padded = np.pad(released, reach, mode="edge")
    total = np.cumsum(np.insert(padded, 0, 0.0))
    mean = (total[2 * reach + 1:] - total[:-2 * reach - 1]) / (2 * reach + 1)
    # Sums of many gains are off by a rounding; the last word has what the sample needs.
    return np.minimum(mean, needed)


def _least_around(values: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Minimum over `reach` samples on either side, shape (n,); in steps that double what they have seen."""
    width, least = 1, np.pad(values, reach, constant_values=1.0)
    while width < 2 * reach + 1:
        step = min(width, 2 * reach + 1 - width)
        least = np.minimum(least[:-step], least[step:])
        width += step
    return least


def _let_go(gain: NDArray[np.float64], fading: float) -> NDArray[np.float64]:
    """Falls at once, and returns towards 1 with its loss fading by a factor a sample: loss[n] = max(loss of gain[n], fading * loss[n-1])."""
    with np.errstate(divide="ignore"):
        log_loss = np.log(1 - gain)
    rising = -math.log(fading) * np.arange(gain.size)
    held: NDArray[np.float64] = 1 - np.exp(np.maximum.accumulate(log_loss + rising) - rising)
    return np.minimum(held, gain)
