"""IMA ADPCM, 4 bits a sample: the blocks, their validity, and what they decode to. `ima_search`
encodes.

A block is a header of 4 bytes (first sample as int16, little-endian; step index; 0), then a code of
4 bits for each further sample, the low half of a byte first. Every block starts anew, so a sound
can be entered at any block. The arithmetic is the published one of shifts and adds; multiplying
instead, as some decoders do, drifts away from it. Source: the IMA's Recommended Practices for
Enhancing Digital Audio Compatibility in Multimedia Systems, 1992, as libsndfile 1.2.2,
src/ima_adpcm.c, carries it out; the block is that of WAV format 0x0011.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

BLOCK_BYTES = 256
HEADER_BYTES = 4
BLOCK_SAMPLES = 1 + 2 * (BLOCK_BYTES - HEADER_BYTES)
"""The header's sample and two a byte: 505."""

STEPS = np.array(
    [
        7,
        8,
        9,
        10,
        11,
        12,
        13,
        14,
        16,
        17,
        19,
        21,
        23,
        25,
        28,
        31,
        34,
        37,
        41,
        45,
        50,
        55,
        60,
        66,
        73,
        80,
        88,
        97,
        107,
        118,
        130,
        143,
        157,
        173,
        190,
        209,
        230,
        253,
        279,
        307,
        337,
        371,
        408,
        449,
        494,
        544,
        598,
        658,
        724,
        796,
        876,
        963,
        1060,
        1166,
        1282,
        1411,
        1552,
        1707,
        1878,
        2066,
        2272,
        2499,
        2749,
        3024,
        3327,
        3660,
        4026,
        4428,
        4871,
        5358,
        5894,
        6484,
        7132,
        7845,
        8630,
        9493,
        10442,
        11487,
        12635,
        13899,
        15289,
        16818,
        18500,
        20350,
        22385,
        24623,
        27086,
        29794,
        32767,
    ],
    np.int32,
)
"""Step size of every step index, shape (89,). Source: as above, ima_step_size."""
MOVES = np.array([-1, -1, -1, -1, 2, 4, 6, 8] * 2, np.int32)
"""How far each code moves the step index, shape (16,). Source: as above, ima_indx_adjust."""
LAST_INDEX = len(STEPS) - 1


def byte_count(samples: int) -> int:
    """Bytes that a number of samples takes; the last block holds only the bytes it needs."""
    blocks, rest = divmod(samples, BLOCK_SAMPLES)
    return blocks * BLOCK_BYTES + (HEADER_BYTES + rest // 2 if rest else 0)


def first_fault(data: bytes, samples: int) -> tuple[int, str] | None:
    """Byte offset of the first thing wrong and what it is; None where the data is valid.

    Wrong are a length other than `byte_count(samples)`, a step index above 88, and a fourth header
    byte other than 0.
    """
    if len(data) != byte_count(samples):
        return (
            min(len(data), byte_count(samples)),
            f"{len(data)} bytes, but {samples} samples take {byte_count(samples)}",
        )
    for start in range(0, len(data), BLOCK_BYTES):
        if data[start + 2] > LAST_INDEX:
            return (
                start + 2,
                (
                    f"step index {data[start + 2]} in the header of block {start // BLOCK_BYTES};"
                    f" allowed: 0 to {LAST_INDEX}"
                ),
            )
        if data[start + 3]:
            return (
                start + 3,
                (
                    f"fourth byte {data[start + 3]} in the header of block {start // BLOCK_BYTES};"
                    " allowed: 0"
                ),
            )
    return None


def decode(data: bytes, samples: int) -> NDArray[np.int16]:
    """The samples of blocks, shape (samples,).

    All blocks are decoded side by side, one code of each at a time.
    Raises ValueError with the first fault, where the data is not valid.
    """
    fault = first_fault(data, samples)
    if fault:
        raise ValueError(f"IMA ADPCM, byte {fault[0]}: {fault[1]}")
    heads, codes = _taken_apart(data)
    changes, indices = transitions()
    value = heads[:, 0]
    index = heads[:, 1]
    decoded = np.empty((BLOCK_SAMPLES, len(heads)), np.int16)
    decoded[0] = value
    for place in range(min(samples, BLOCK_SAMPLES) - 1):
        which = index * 16 + codes[place]
        value = np.minimum(np.maximum(value + changes[which], -32768), 32767)
        index = indices[which]
        decoded[place + 1] = value
    return decoded.T.reshape(-1)[:samples]


def _taken_apart(data: bytes) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """First sample and step index of every block, shape (blocks, 2), and the codes, shape (504,
    blocks), filled up with 0.
    """
    blocks = -(-len(data) // BLOCK_BYTES)
    filled = np.frombuffer(data.ljust(blocks * BLOCK_BYTES, b"\0"), np.uint8).reshape(
        blocks, BLOCK_BYTES
    )
    first = filled[:, :2].copy().view("<i2")
    heads = np.concatenate([first, filled[:, 2:3]], axis=1, dtype=np.int32)
    body = filled[:, HEADER_BYTES:].T.astype(np.int32)
    return heads, np.stack([body & 15, body >> 4], axis=1).reshape(BLOCK_SAMPLES - 1, blocks)


@cache
def transitions() -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """What a code adds to the sample, and the step index after it; both of shape (89 * 16,), at
    16 * step index + code.
    """
    step = STEPS[:, None]
    code = np.arange(16)
    size = (
        (step >> 3)
        + np.where(code & 4, step, 0)
        + np.where(code & 2, step >> 1, 0)
        + np.where(code & 1, step >> 2, 0)
    )
    change = np.where(code & 8, -size, size).astype(np.int32)
    index = np.clip(np.arange(LAST_INDEX + 1)[:, None] + MOVES, 0, LAST_INDEX).astype(np.int32)
    return change.reshape(-1), index.reshape(-1)
