"""Peaks between the samples."""

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.decibels import power_db

_FINER = 8
_REACH = 32
"""Samples on either side of which the signal between two samples is made: right to a hundredth
of a decibel up to 0.45 of the rate.
"""
_CANDIDATES = 256
_NEAR_PEAK = 0.7
"""Share of the largest sample: between softer ones a higher peak is not looked for."""


def true_peak(signal: NDArray[np.floating]) -> float:
    """Largest magnitude of the band-limited signal around its largest samples, seen at eight times
    the rate, shape (n,); 0 for none.

    Interpolated by a sine over its argument under a Hann window. Source: ITU-R BS.1770-5 (11/2023),
    Annex 2, read, with a longer filter and twice its oversampling: what is left to miss is 20 lg
    cos(pi f / (8 fs)), 0.17 dB for a tone at half the rate.
    """
    if not signal.size:
        return 0.0
    size = np.abs(signal)
    places = np.flatnonzero(size >= _NEAR_PEAK * size.max())
    if places.size > _CANDIDATES:
        places = places[np.argpartition(size[places], -_CANDIDATES)[-_CANDIDATES:]]
    # Where the signal is cut off, nothing is known of what is between.
    places = places[(places >= _REACH) & (places < signal.size - _REACH)]
    around = np.arange(-_REACH, _REACH + 1)
    away = around[:, np.newaxis] - np.arange(-_FINER + 1, _FINER) / _FINER
    kernel = np.sinc(away) * np.cos(np.pi * np.clip(away / (_REACH + 1), -1, 1) / 2) ** 2
    return max(
        float(size.max()),
        float(np.abs(signal[places[:, np.newaxis] + around] @ kernel).max(initial=0.0)),
    )


def true_peak_db(signal: NDArray[np.floating]) -> float:
    """True peak as a level, full scale 1; -inf for silence. [dBTP]"""
    return float(power_db(true_peak(signal) ** 2))
