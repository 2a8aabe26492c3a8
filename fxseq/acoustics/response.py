"""Signals through analogue transfer functions.

A preview is at hand as a whole, so a filter need not be turned into a recursive digital one, with its error near half the sample rate: the
transfer function itself is applied to the bins of a Fourier transform, block by block (overlap-add). Magnitude and phase are then those of
the analogue circuit at every bin, whatever the sample rate.
"""
import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

Response = Callable[[NDArray[np.float64]], NDArray[np.complex128]]
"""A transfer function: frequencies [Hz], shape (k,), to complex gains, shape (k,)."""

# Large enough to make the overlap cheap, small enough to stay in the processor's cache. (numpy's transform is nearly as fast as scipy's at
# this size, and spares a third of a second of loading.)
_BLOCK_SAMPLES = 1 << 14
# A transient counts as gone when it has fallen by e^-16, -139 dB: less than single precision can tell beside the signal.
_SETTLED_NEPERS = 16.0


def settling_time_s(slowest_rate_per_s: float) -> float:
    """Time after which the transient of a filter no longer counts. [s]

    slowest_rate_per_s: distance of the slowest pole from the imaginary axis, > 0. [1/s]
    """
    return _SETTLED_NEPERS / slowest_rate_per_s


def apply_responses(
    signal: NDArray[np.floating], rate_hz: float, responses: Sequence[Response], settling_s: float,
) -> list[NDArray[np.float32]]:
    """One signal through several transfer functions, from rest; the ringing after its end is cut off.

    signal: shape (n,). rate_hz: sample rate. settling_s: the longest settling time of the responses, which sets the overlap.
    Result: one array of shape (n,) for each response, single precision (noise 120 dB or more below the loudest sound within a block).
    """
    tail = math.ceil(settling_s * rate_hz)
    size = 1 << (min(max(_BLOCK_SAMPLES, 4 * tail), signal.size + tail) - 1).bit_length()
    frequencies = np.fft.rfftfreq(size, 1 / rate_hz)
    gains = [response(frequencies).astype(np.complex64) for response in responses]
    results = [np.zeros(signal.size + size, dtype=np.float32) for _ in responses]
    for start in range(0, signal.size, size - tail):
        spectrum = np.fft.rfft(signal[start:start + size - tail].astype(np.float32, copy=False), size)
        for result, gain in zip(results, gains, strict=True):
            result[start:start + size] += np.fft.irfft(spectrum * gain, size)
    return [result[:signal.size] for result in results]
