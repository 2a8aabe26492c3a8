"""How samples become bytes in the table: plain 16 bit, or 8 bit mu-law. Both are one sample after the other, without state."""
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Coding = Literal["pcm16", "mulaw"]

_BIAS = 33
"""Added to the 14-bit magnitude so that every segment begins at a power of two. Source: ITU-T G.191 STL, g711.c."""
_LARGEST = 0x1FFF
"""Largest biased 14-bit magnitude. Source: as above."""


def encode(samples: NDArray[np.int16], coding: Coding) -> bytes:
    """The bytes of 16-bit samples: little-endian for "pcm16", one G.711 mu-law code a sample for "mulaw".

    samples: shape (n,).
    Raises ValueError for a coding that does not exist.
    """
    if coding == "pcm16":
        return samples.astype("<i2").tobytes()
    if coding == "mulaw":
        return _mulaw_codes()[samples.view(np.uint16)].tobytes()
    raise ValueError(f"no coding {coding!r}")


def decode(data: bytes, coding: Coding) -> NDArray[np.int16]:
    """The samples of encoded bytes, shape (n,); the inverse of `encode`, up to what mu-law loses.

    Raises ValueError for a coding that does not exist, or an odd number of bytes of "pcm16".
    """
    if coding == "pcm16":
        return np.frombuffer(data, "<i2").astype(np.int16)
    if coding == "mulaw":
        return _mulaw_samples()[np.frombuffer(data, np.uint8)]
    raise ValueError(f"no coding {coding!r}")


@cache
def _mulaw_codes() -> NDArray[np.uint8]:
    """Code of every 16-bit sample, indexed by the sample seen as unsigned; shape (65536,).

    Negative samples are mirrored by one's complement, so -1 mirrors to 0. Source: ITU-T G.191 STL, g711.c, ulaw_compress.
    """
    sample = np.arange(65536, dtype=np.uint16).view(np.int16).astype(np.int32)
    mirrored = np.where(sample < 0, ~sample, sample)
    magnitude = np.minimum((mirrored >> 2) + _BIAS, _LARGEST)
    segment = np.searchsorted(64 << np.arange(8), magnitude, side="right") + 1
    code = ((8 - segment) << 4) | (15 - ((magnitude >> segment) & 15))
    return (code | np.where(sample >= 0, 0x80, 0)).astype(np.uint8)


@cache
def _mulaw_samples() -> NDArray[np.int16]:
    """Sample of every code, shape (256,): the middle of its interval. Source: ITU-T G.191 STL, g711.c, ulaw_expand."""
    code = np.arange(256)
    inverted = ~code & 0xFF
    magnitude = ((((inverted & 15) << 3) + 4 * _BIAS) << ((inverted >> 4) & 7)) - 4 * _BIAS
    return np.where(code < 0x80, -magnitude, magnitude).astype(np.int16)
