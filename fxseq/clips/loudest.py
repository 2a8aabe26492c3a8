"""How loud a clip is at its loudest, as speaker and ear weigh it: what clips are matched by."""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.shaping import Samples

WINDOW_S = 0.125
"""Time over which the ear adds up; that of the time weighting F of sound level meters (IEC
61672-1). [s]
"""
_ANCHOR_HZ = 1000.0
"""Where the weighting is brought to 1. [Hz]"""

Hearing = Callable[[NDArray[np.float64]], NDArray[np.complex128]]
"""Gain from samples to the ear at frequencies in Hz; only its shape counts."""


@lru_cache(maxsize=16)
def hearing_at_bins(hearing: Hearing, size: int, rate_hz: float) -> NDArray[np.complex128]:
    """Gain to the ear at each bin of a transform of `size` samples; kept, since the clips of a
    prop share a few sizes.
    """
    gain = hearing(np.fft.rfftfreq(size, 1 / rate_hz)) / abs(hearing(np.array([_ANCHOR_HZ]))[0])
    gain.flags.writeable = False
    return gain


def loudest(
    samples: Samples, rate_hz: int, hearing: Hearing, loop: tuple[int, int] | None = None
) -> float:
    """The largest RMS over 125 ms of what is heard, as an amplitude; a tone of 1 kHz counts as it
    is.

    samples: shape (n,), full scale 1; the loop, if any, goes on behind their end. A clip that is
    shorter counts for as much as it fills.
    """
    window = round(WINDOW_S * rate_hz)
    if loop is not None:
        samples = np.concatenate([samples, np.resize(samples[slice(*loop)], window)])
    size = 1 << (len(samples) + window - 1).bit_length()
    heard = np.fft.irfft(np.fft.rfft(samples, size) * hearing_at_bins(hearing, size, rate_hz), size)
    together = np.cumsum(np.concatenate([np.zeros(window), np.square(heard), np.zeros(window)]))
    return float(np.sqrt(max(np.max(together[window:] - together[:-window]), 0.0) / window))
