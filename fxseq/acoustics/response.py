"""Signals through analogue transfer functions.

A preview is at hand as a whole, so a filter need not be turned into a recursive digital one, with
its error near half the sample rate: its impulse response is taken from the transfer function itself
and applied by Fourier transform, block by block (overlap-add). The magnitude is then that of the
analogue circuit, whatever the sample rate (weightings: within 0.002 dB from 30 Hz to nine tenths of
the band, tested), and so is the phase up to nine tenths of the band.
"""

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Response = Callable[[NDArray[np.float64]], NDArray[np.complex128]]
"""A transfer function: frequencies [Hz], shape (k,), to complex gains, shape (k,)."""

# Large enough to make the overlap cheap, small enough to stay in the processor's cache, so many at
# a time.
_BLOCK_SAMPLES = 1 << 14
_BLOCKS_AT_ONCE = 8
# What the end of the band makes of an impulse response, before its time and after: the least that
# is kept of either.
_LEAD_SAMPLES = 256
_LEAST_TAIL_SAMPLES = 1024
_BENT_FROM = 0.9
# A transient counts as gone when it has fallen by e^-16, -139 dB: less than single precision can
# tell beside the signal.
_SETTLED_NEPERS = 16.0


def settling_time_s(slowest_rate_per_s: float) -> float:
    """Time after which the transient of a filter no longer counts. [s]

    slowest_rate_per_s: distance of the slowest pole from the imaginary axis, > 0. [1/s]
    """
    return _SETTLED_NEPERS / slowest_rate_per_s


def _bent(gains: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Gains from 0 to half the sample rate with their phase turned, over the last tenth, so that
    the last gain is real.

    That of a sampled signal must be, and a phase that broke off there would ring for ever, before
    its time as well as after.
    """
    angle = np.angle(gains[-1])
    to_real_axis = angle - np.pi * np.round(angle / np.pi)
    way = np.clip((np.linspace(0, 1, gains.size) - _BENT_FROM) / (1 - _BENT_FROM), 0, 1)
    return gains * np.exp(-1j * to_real_axis * way**2 * (3 - 2 * way))


@lru_cache(maxsize=32)
def _gains(response: Response, rate_hz: float, size: int, tail: int) -> NDArray[np.complex64]:
    """Gains of a transform of `size` for the impulse response from _LEAD_SAMPLES before its time to
    `tail` samples after, and no others.

    They are kept, and found again where the response is the same object: those of speakers are, for
    the same speaker and place.
    """
    impulse = np.roll(
        np.fft.irfft(_bent(response(np.fft.rfftfreq(size, 1 / rate_hz))), size), _LEAD_SAMPLES
    )
    impulse[_LEAD_SAMPLES + tail :] = 0
    gains = np.fft.rfft(impulse).astype(np.complex64)
    gains.flags.writeable = False
    return gains


def _blocks(signal: NDArray[np.floating], step: int) -> NDArray[np.float32]:
    """The signal in rows of `step` samples, shape (blocks, step), the last one filled up with
    silence.
    """
    blocks = np.zeros((math.ceil(signal.size / step), step), dtype=np.float32)
    blocks.ravel()[: signal.size] = signal
    return blocks


def apply_responses(
    signal: NDArray[np.floating],
    rate_hz: float,
    responses: Sequence[Response],
    settling_s: float,
) -> list[NDArray[np.float32]]:
    """One signal through several transfer functions, from rest; the ringing after its end is cut
    off.

    signal: shape (n,). rate_hz: sample rate. settling_s: the longest settling time of the
    responses, which sets the overlap. Result: one array of shape (n,) for each response, single
    precision (noise 120 dB or more below the loudest sound within a block).
    """
    tail = max(math.ceil(settling_s * rate_hz), _LEAST_TAIL_SAMPLES)
    size = 1 << (max(_BLOCK_SAMPLES, 4 * tail) - 1).bit_length()
    step = size - _LEAD_SAMPLES - tail
    gains = [_gains(response, rate_hz, size, tail) for response in responses]
    blocks = _blocks(signal, step)
    results = [np.zeros(blocks.size + size, dtype=np.float32) for _ in responses]
    for first in range(0, len(blocks), _BLOCKS_AT_ONCE):
        # In double precision, which numpy transforms in half the time; scipy takes longer to load
        # than most previews to play.
        together = blocks[first : first + _BLOCKS_AT_ONCE].astype(np.float64)
        spectra = np.fft.rfft(together, size).astype(np.complex64)
        for result, gain in zip(results, gains, strict=True):
            for number, heard in enumerate(np.fft.irfft(spectra * gain, size), first):
                result[number * step : number * step + size] += heard
    return [result[_LEAD_SAMPLES : _LEAD_SAMPLES + signal.size] for result in results]
