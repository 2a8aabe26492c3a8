"""Peaks between the samples."""
import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.decibels import power_db

OVERSAMPLING = 4


def true_peak(signal: NDArray[np.floating]) -> float:
    """Largest magnitude of the band-limited signal, seen at four times the rate, shape (n,); 0 for none.

    Source: ITU-R BS.1770-5 (11/2023), Annex 2, read; its interpolation filter is replaced by an ideal one (zeros added to the spectrum), so
    what is left to miss is 20 lg cos(pi f / (4 fs)): 0.69 dB for a tone at half the rate, 0.17 dB at a quarter.
    """
    if not signal.size:
        return 0.0
    # Silence around the signal, so that its end does not ring into its beginning; a power of two for a fast transform.
    size = 1 << (signal.size + 512 - 1).bit_length()
    spectrum = np.fft.rfft(signal, size)
    # What lies at half the rate stands for two lines of the finer signal.
    spectrum[-1] /= 2
    finer = np.fft.irfft(spectrum, OVERSAMPLING * size) * OVERSAMPLING
    return float(np.abs(finer).max())


def true_peak_db(signal: NDArray[np.floating]) -> float:
    """The same as a level, full scale 1; -inf for silence. [dBTP]"""
    return float(power_db(true_peak(signal) ** 2))
