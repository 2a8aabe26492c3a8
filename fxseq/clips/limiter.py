"""A limiter that sees what comes: peaks are turned down before they are there, so nothing is cut
off.
"""

import math

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.shaping import Samples

LOOK_AHEAD_S = 0.0015
"""Each gain is the least of what is needed so far around, averaged so far around: it begins to
fall twice this before a peak. Common practice, no source. [s]
"""
RELEASE_S = 0.05
"""Time constant, in the logarithm of the gain's loss, of its return. Common practice, no source.
[s]
"""
_FORGOTTEN = 12.0
"""Time constants after which the loss left by a peak is 6e-6 of itself, so that a loop's gain
repeats.
"""
_JOIN_S = 0.02
"""In the last of what is before a loop, the gain goes to that with which the loop starts. [s]"""


def limited(
    signal: NDArray[np.floating],
    rate_hz: float,
    threshold: float,
    look_ahead_s: float = LOOK_AHEAD_S,
    release_s: float = RELEASE_S,
) -> Samples:
    """The signal with a gain of 1 or less that keeps each sample within +-threshold, shape (n,); a
    signal within it comes back as it is.

    threshold: > 0. The result is the same for the same input, sample by sample; it is as long as
    the input and not delayed. What the waveform does between samples (its true peak) may be higher.
    """
    return signal * limiter_gain(signal, rate_hz, threshold, look_ahead_s, release_s)


def limiter_gain(
    signal: NDArray[np.floating],
    rate_hz: float,
    threshold: float,
    look_ahead_s: float = LOOK_AHEAD_S,
    release_s: float = RELEASE_S,
) -> Samples:
    """The gain of `limited`, 0..1, shape (n,).

    The least gain needed within the look-ahead on either side, held and let go slowly, then
    averaged over the same window. Each average is over gains of which none exceeds what its middle
    needs, so no sample gets past the threshold.
    """
    needed = _needed(signal, threshold)
    if needed.min(initial=1.0) == 1:
        return needed
    reach = _reach(look_ahead_s, rate_hz)
    released = _let_go(_least_around(needed, reach), math.exp(-1 / (release_s * rate_hz)))
    padded = np.pad(released, reach, mode="edge")
    total = np.cumsum(np.insert(padded, 0, 0.0))
    mean = (total[2 * reach + 1 :] - total[: -2 * reach - 1]) / (2 * reach + 1)
    # Sums of many gains are off by a rounding; the last word has what the sample needs.
    return np.minimum(mean, needed)


def loop_limiter_gain(
    signal: Samples, loop: tuple[int, int], rate_hz: float, threshold: float
) -> Samples:
    """The gain for a sound that repeats its loop, (start, end), for ever; shape (end,). It goes
    on at the seam as if there were none.
    """
    start, end = loop
    turn = signal[start:end]
    reach = _reach(LOOK_AHEAD_S, rate_hz)
    before = -(-round(_FORGOTTEN * RELEASE_S * rate_hz + 2 * reach) // len(turn))
    going_on = np.concatenate([np.tile(turn, before + 1), np.resize(turn, 2 * reach)])
    steady = limiter_gain(going_on, rate_hz, threshold)[
        before * len(turn) : (before + 1) * len(turn)
    ]
    lead = limiter_gain(
        np.concatenate([signal[:end], np.resize(turn, 2 * reach)]), rate_hz, threshold
    )[:start]
    join = min(round(_JOIN_S * rate_hz), start)
    share = 0.5 - 0.5 * np.cos(np.pi * np.arange(1, join + 1) / (join + 1))
    joined = lead[start - join :] * (1 - share) + steady[0] * share
    return np.concatenate(
        [
            lead[: start - join],
            np.minimum(joined, _needed(signal[start - join : start], threshold)),
            steady,
        ]
    )


def _reach(look_ahead_s: float, rate_hz: float) -> int:
    return max(round(look_ahead_s * rate_hz), 1)


def _needed(signal: NDArray[np.floating], threshold: float) -> Samples:
    """The most gain that each sample bears, up to 1."""
    magnitude = np.abs(signal.astype(np.float64, copy=False))
    return np.asarray(threshold / np.maximum(magnitude, threshold))


def _least_around(values: Samples, reach: int) -> Samples:
    """Minimum over `reach` samples on either side, shape (n,); in steps that double what they
    have seen.
    """
    width = 1
    least = np.pad(values, reach, constant_values=1.0)
    while width < 2 * reach + 1:
        step = min(width, 2 * reach + 1 - width)
        least = np.minimum(least[:-step], least[step:])
        width += step
    return least


def _let_go(gain: Samples, fading: float) -> Samples:
    """Falls at once, and returns towards 1 with its loss fading by a factor a sample: loss[n] =
    max(loss of gain[n], fading * loss[n-1]).
    """
    with np.errstate(divide="ignore"):
        log_loss = np.log(1 - gain)
    rising = -math.log(fading) * np.arange(gain.size)
    held: Samples = 1 - np.exp(np.maximum.accumulate(log_loss + rising) - rising)
    return np.minimum(held, gain)
