"""The inner loops of QOA, compiled. Imported only where they run, since the compiler takes a
while to load.
"""

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.compiled import compiled
from fxseq.clips.qoa import DEQUANTISED, FRAME_SAMPLES, SLICE_SAMPLES


@compiled
def wrapped(value: int, bits: int) -> int:
    """Two's complement of that many bits."""
    half = 1 << (bits - 1)
    return ((value + half) & (2 * half - 1)) - half


@compiled
def _word(data: NDArray[np.uint8], at: int) -> int:
    """Big-endian int16 at a byte."""
    return wrapped(np.int64(data[at]) << 8 | np.int64(data[at + 1]), 16)


@compiled
def decode_run(data: NDArray[np.uint8], out: NDArray[np.int16]) -> None:
    """Fill `out` with a run that starts at the first byte of `data`."""
    history = np.zeros(4, np.int64)
    weights = np.zeros(4, np.int64)
    at = 0
    for first in range(0, len(out), SLICE_SAMPLES):
        if first % FRAME_SAMPLES == 0:
            for tap in range(4):
                history[tap], weights[tap] = _word(data, at + 2 * tap), _word(
                    data, at + 8 + 2 * tap
                )
            at += 16
        bits = np.uint64(0)
        for byte in data[at : at + 8]:
            bits = bits << np.uint64(8) | np.uint64(byte)
        at += 8
        decode_slice(bits, history, weights, out[first : first + SLICE_SAMPLES])


@compiled
def decode_slice(
    bits: np.uint64, history: NDArray[np.int64], weights: NDArray[np.int64], out: NDArray[np.int16]
) -> None:
    """Fill `out` with up to 20 samples of a slice, and move history and weights on."""
    scale = np.int64(bits >> np.uint64(60))
    for sample in range(len(out)):
        residual = DEQUANTISED[scale, np.int64(bits >> np.uint64(57 - 3 * sample)) & 7]
        total = wrapped(
            history[0] * weights[0]
            + history[1] * weights[1]
            + history[2] * weights[2]
            + history[3] * weights[3],
            32,
        )
        value = min(max((total >> 13) + residual, -32768), 32767)
        for tap in range(4):
            delta = residual >> 4
            weights[tap] = wrapped(weights[tap] + (-delta if history[tap] < 0 else delta), 16)
        for tap in range(3):
            history[tap] = history[tap + 1]
        history[3] = value
        out[sample] = value
