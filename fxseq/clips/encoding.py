"""Samples to the bytes of a clip, in any coding. The searching encoders take seconds, so what they found is kept on disk."""
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.coding import Coding, mulaw_bytes, runs
from fxseq.clips.found import kept

_SEARCH = 2
"""To be raised when a search comes to find other bytes than those that are kept."""


def encode(samples: NDArray[np.int16], coding: Coding, loop_start: int | None = None, weighting: Sequence[float] = (1.0,)) -> bytes:
    """The bytes of a clip's samples, shape (n,), n >= 1 (SPEC 3.7).

    weighting: coefficients 1, b1 .. b4 of a filter of the error; IMA ADPCM and QOA make its energy behind that filter small.
    Raises ValueError for a coding that does not exist, and for a weighting that has a zero on or outside the unit circle.
    """
    if len(weighting) > 1 and np.abs(np.roots(weighting)).max() >= 1:
        raise ValueError("the error weighting is not of minimum phase: errors would grow without end")
    if coding == "pcm16":
        return samples.astype("<i2").tobytes()
    if coding == "mulaw":
        return mulaw_bytes(samples)
    if coding not in ("ima_adpcm", "qoa"):
        raise ValueError(f"no coding {coding!r}")
    places = np.cumsum(runs(len(samples), loop_start))[:-1]
    return b"".join(_searched(run, coding, tuple(weighting)) for run in np.split(samples, places))


def _searched(run: NDArray[np.int16], coding: Coding, weighting: tuple[float, ...]) -> bytes:
    question = f"{_SEARCH} {coding} {weighting} ".encode() + run.astype("<i2").tobytes()
    return kept(question, lambda: _ima(run, weighting) if coding == "ima_adpcm" else _qoa(run, weighting))


def _ima(run: NDArray[np.int16], weighting: tuple[float, ...]) -> bytes:
    from fxseq.clips.ima_search import encode

    return encode(run, weighting=(weighting, (1.0,)))


def _qoa(run: NDArray[np.int16], weighting: tuple[float, ...]) -> bytes:
    from fxseq.clips.qoa_search import encode

    return encode(run, weighting=weighting[1:])
