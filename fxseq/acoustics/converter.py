"""The board's sound output: what its bits and its steps do to a signal."""
import math

import numpy as np
from numpy.typing import ArrayLike, NDArray


def hold_gain_db(frequency_hz: ArrayLike, rate_hz: float) -> NDArray[np.float64]:
    """Droop of an output that holds each sample until the next, below half the rate: 20 lg(sin(pi f / fs) / (pi f / fs)). [dB]

    -3.92 dB at half the rate.
    """
    return 20 * np.log10(np.sinc(np.asarray(frequency_hz, dtype=np.float64) / rate_hz))


def hold_image_db(frequency_hz: float, rate_hz: float) -> float:
    """Level of the first image of a tone, at rate - frequency, over the tone itself: f / (fs - f). [dB]

    A held output repeats the band above half the rate; what keeps it from the ear is a filter, or the speaker.
    """
    return 20 * math.log10(frequency_hz / (rate_hz - frequency_hz))


def quantised(samples: NDArray[np.int16], bits: int) -> NDArray[np.int16]:
    """Samples as a converter of fewer bits puts them out: rounded to the nearest of its steps, within its range. bits: 1..16."""
    step = 1 << (16 - bits)
    rounded = (samples.astype(np.int32) + step // 2) // step * step
    return np.clip(rounded, -32768, 32768 - step).astype(np.int16)


def quantisation_ratio_db(bits: float) -> float:
    """A full-scale sine over the noise of rounding: 10 lg(1.5 * 4^bits), 6.02 bits + 1.76. [dB] Noise taken as even and independent."""
    return 10 * math.log10(1.5 * 4**bits)
