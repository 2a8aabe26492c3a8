"""The board's sound output: what its bits and its steps do to a signal."""
import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def hold_gain_db(frequency_hz: ArrayLike, rate_hz: float) -> NDArray[np.float64]:
    """Droop of an output that holds each sample until the next, below the rate: 20 lg(sin(pi f / fs) / (pi f / fs)). [dB]

    -3.92 dB at half the rate. Above that is the image of the band, at rate - f: a filter, or the speaker, keeps it from the ear.
    """
    return 20 * np.log10(np.sinc(np.asarray(frequency_hz, dtype=np.float64) / rate_hz))


def quantised(samples: NDArray[np.int16], bits: int) -> NDArray[np.int16]:
    """Samples as a converter of fewer bits puts them out: rounded to the nearest of its steps, within its range. bits: 1..16."""
    step = 1 << (16 - bits)
    rounded = (samples.astype(np.int32) + step // 2) // step * step
    return np.clip(rounded, -32768, 32768 - step).astype(np.int16)


def quantisation_ratio_db(bits: float) -> float:
    """A full-scale sine over the noise of rounding: 10 lg(1.5 * 4^bits), 6.02 bits + 1.76. [dB] Noise taken as even and independent."""
    return 10 * math.log10(1.5 * 4**bits)
