"""The published QOA encoder, as a rival: one choice a sample, the nearest, and the scale factor of
a slice that does best on that slice.

Source: phoboslab/qoa (MIT licence, Copyright 2023 Dominic Szablewski), qoa.h, commit 769a116f:
qoa_encode, qoa_encode_frame and qoa_div.
"""

import numba
import numpy as np
from numpy.typing import NDArray

from fxseq.clips.qoa import DEQUANTISED, FRAME_SAMPLES, SCALES, SLICE_SAMPLES, byte_count

_RECIPROCALS = ((1 << 16) + SCALES - 1) // SCALES
_CODES = np.array([7, 7, 7, 5, 5, 3, 3, 1, 0, 0, 2, 2, 4, 4, 6, 6, 6])
_compiled = numba.njit(cache=True)


def encode(samples: NDArray[np.int16]) -> bytes:
    """The samples as one run of our layout: the bytes of the published encoder less its heads."""
    out = np.zeros(byte_count(len(samples)), np.uint8)
    _encode(samples.astype(np.int64), out)
    return out.tobytes()


@_compiled
def _encode(samples: NDArray[np.int64], out: NDArray[np.uint8]) -> None:
    """All frames, each going on with the state in which the last one ended."""
    state = np.array([0, 0, 0, 0, 0, 0, -(1 << 13), 1 << 14])
    at = 0
    scale = 0
    for first in range(0, len(samples), SLICE_SAMPLES):
        if first % FRAME_SAMPLES == 0:
            for number, word in enumerate(state):
                out[at + 2 * number], out[at + 2 * number + 1] = (word >> 8) & 255, word & 255
            at += 16
        bits, scale, state = _best_slice(samples[first : first + SLICE_SAMPLES], state, scale)
        for byte in range(8):
            out[at + byte] = (bits >> np.uint64(56 - 8 * byte)) & np.uint64(255)
        at += 8


@_compiled
def _best_slice(
    samples: NDArray[np.int64], state: NDArray[np.int64], previous: int
) -> tuple[np.uint64, int, NDArray[np.int64]]:
    """Code, scale and state afterwards of the slice that ranks best."""
    best_rank = np.inf
    best_bits = np.uint64(0)
    best_scale = 0
    best_state = state
    for offset in range(16):
        scale = (offset + previous) & 15
        rank, bits, after = _slice(samples, state, scale, best_rank)
        if rank < best_rank:
            best_rank = rank
            best_bits = bits
            best_scale = scale
            best_state = after
    return best_bits, best_scale, best_state


@_compiled
def _slice(
    samples: NDArray[np.int64], state: NDArray[np.int64], scale: int, most: float
) -> tuple[float, np.uint64, NDArray[np.int64]]:
    """Rank, code and state afterwards with one scale factor; given up where the rank goes beyond
    `most`.
    """
    history = state[:4].copy()
    weights = state[4:].copy()
    rank = 0.0
    bits = np.uint64(scale)
    for sample in samples:
        predicted = (history * weights).sum() >> 13
        code = _CODES[min(max(_divided(sample - predicted, scale), -8), 8) + 8]
        value = min(max(predicted + DEQUANTISED[scale, code], -32768), 32767)
        penalty = max(0, ((weights * weights).sum() >> 18) - 0x8FF)
        rank += (sample - value) ** 2 + penalty**2
        if rank > most:
            break
        delta = DEQUANTISED[scale, code] >> 4
        for tap in range(4):
            weights[tap] += -delta if history[tap] < 0 else delta
        history[:3] = history[1:].copy()
        history[3] = value
        bits = bits << np.uint64(3) | np.uint64(code)
    return (
        rank,
        bits << np.uint64(3 * (SLICE_SAMPLES - len(samples))),
        np.concatenate((history, weights)),
    )


@_compiled
def _divided(value: int, scale: int) -> int:
    """Quotient rounded, and where it is not zero already, at least one away from it."""
    quotient = (value * _RECIPROCALS[scale] + (1 << 15)) >> 16
    return quotient + (value > 0) - (value < 0) - ((quotient > 0) - (quotient < 0))
