"""The codings of clips in the table: how many bytes they take and what the bytes decode to.

Plain 16 bit and mu-law are one sample after the other, without state; a module a coding knows the
others (`ima`, `qoa`, `rice`). Those are coded in runs, each by itself: one up to where a loop
starts, and one from there on, so that a loop starts with a block that carries its own state.
"""

from collections.abc import Iterator
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import ima, qoa, rice
from fxseq.sequence.model import Coding

_BIAS = 33
"""Added to the 14-bit magnitude so that every segment begins at a power of two. Source: ITU-T
G.191 STL, g711.c.
"""
_LARGEST = 0x1FFF
"""Largest biased 14-bit magnitude. Source: as above."""


def runs(samples: int, loop_start: int | None = None) -> tuple[int, ...]:
    """Samples of each run of a clip: one, or two where a loop starts behind its first sample (SPEC
    3.7 R3).
    """
    if loop_start:
        return (loop_start, samples - loop_start)
    return (samples,)


def byte_count(
    coding: Coding, samples: int, loop_start: int | None = None, data: bytes | memoryview = b""
) -> int:
    """Bytes that so many samples take, 1 or more of them.

    data: begins with the clip's bytes, which in LPC-Rice say how many they are; where they are not
    all there, the count is more than it has. Raises ValueError for a coding that does not exist.
    """
    match coding:
        case "pcm16":
            return 2 * samples
        case "mulaw":
            return samples
        case "ima_adpcm":
            return sum(map(ima.byte_count, runs(samples, loop_start)))
        case "qoa":
            return sum(map(qoa.byte_count, runs(samples, loop_start)))
        case "lpc_rice":
            at = 0
            for _ in runs(samples, loop_start):
                at += rice.byte_count(data[at:])
            return at
    raise ValueError(f"no coding {coding!r}")


def sound(data: bytes, coding: Coding, samples: int, loop_start: int | None = None) -> bool:
    """Whether `byte_count` bytes can be decoded: in IMA ADPCM, whether the head of every block
    is as it must be (SPEC 3.7 R4).
    """
    return coding != "ima_adpcm" or not any(
        ima.first_fault(*run) for run in _runs_of(data, coding, samples, loop_start)
    )


def decode(
    data: bytes, coding: Coding, samples: int, loop_start: int | None = None
) -> NDArray[np.int16]:
    """The samples of `byte_count` bytes, shape (samples,).

    Raises ValueError for a coding that does not exist, and for bytes that are not `sound`.
    """
    if coding == "pcm16":
        return np.frombuffer(data, "<i2").astype(np.int16)
    if coding == "mulaw":
        return _mulaw_samples()[np.frombuffer(data, np.uint8)]
    decoder = {"ima_adpcm": ima.decode, "qoa": qoa.decode, "lpc_rice": rice.decode}.get(coding)
    if decoder is None:
        raise ValueError(f"no coding {coding!r}")
    return np.concatenate([decoder(*run) for run in _runs_of(data, coding, samples, loop_start)])


def _runs_of(
    data: bytes, coding: Coding, samples: int, loop_start: int | None
) -> Iterator[tuple[bytes, int]]:
    """Bytes and samples of each run."""
    at = 0
    for run in runs(samples, loop_start):
        size = byte_count(coding, run, data=data[at:])
        yield data[at : at + size], run
        at += size


def mulaw_bytes(samples: NDArray[np.int16]) -> bytes:
    """G.711 mu-law, one code a sample. samples: shape (n,)."""
    return _mulaw_codes()[samples.view(np.uint16)].tobytes()


@cache
def _mulaw_codes() -> NDArray[np.uint8]:
    """Code of every 16-bit sample, indexed by the sample seen as unsigned; shape (65536,).

    Negative samples are mirrored by one's complement, so -1 mirrors to 0. Source: ITU-T G.191 STL,
    g711.c, ulaw_compress.
    """
    sample = np.arange(65536, dtype=np.uint16).view(np.int16).astype(np.int32)
    mirrored = np.where(sample < 0, ~sample, sample)
    magnitude = np.minimum((mirrored >> 2) + _BIAS, _LARGEST)
    segment = np.searchsorted(64 << np.arange(8), magnitude, side="right") + 1
    code = ((8 - segment) << 4) | (15 - ((magnitude >> segment) & 15))
    return (code | np.where(sample >= 0, 0x80, 0)).astype(np.uint8)


@cache
def _mulaw_samples() -> NDArray[np.int16]:
    """Sample of every code, shape (256,): the middle of its interval. Source: ITU-T G.191 STL,
    g711.c, ulaw_expand.
    """
    code = np.arange(256)
    inverted = ~code & 0xFF
    magnitude = ((((inverted & 15) << 3) + 4 * _BIAS) << ((inverted >> 4) & 7)) - 4 * _BIAS
    return np.where(code < 0x80, -magnitude, magnitude).astype(np.int16)
