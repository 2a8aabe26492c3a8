"""How loud a clip is at its loudest, as speaker and ear weigh it: what clips are matched by."""
from collections.abc import Sequence

import numpy as np

from fxseq.clips.shaping import Samples

WINDOW_S = 0.125
"""Time over which the ear adds up; that of the time weighting F of sound level meters (IEC 61672-1). [s]"""
_ANCHOR_HZ = 1000
"""Where the weighting is 1, at every rate. [Hz]"""


def loudest(samples: Samples, rate_hz: int, weighting: Sequence[float], loop: tuple[int, int] | None = None) -> float:
    """The largest RMS over 125 ms behind a filter, as an amplitude.

    samples: shape (n,), full scale 1; the loop, if any, goes on behind their end. A clip that is shorter counts for as much as it fills.
    weighting: coefficients of the filter, of any gain: it is brought to 1 at 1 kHz, so that clips of several rates can be compared.
    """
    window = round(WINDOW_S * rate_hz)
    if loop is not None:
        samples = np.concatenate([samples, np.resize(samples[slice(*loop)], window + len(weighting))])
    turn = np.exp(-2j * np.pi * _ANCHOR_HZ / rate_hz)
    filtered = np.convolve(samples, weighting) / np.abs(np.polyval(weighting[::-1], turn))
    together = np.cumsum(np.concatenate([np.zeros(window), np.square(filtered), np.zeros(window)]))
    return float(np.sqrt(max(np.max(together[window:] - together[:-window]), 0.0) / window))
