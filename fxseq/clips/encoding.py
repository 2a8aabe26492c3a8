"""Samples to the bytes of a clip, in any coding. The searching encoders take seconds, so what they found is kept on disk."""
import numpy as np
from numpy.typing import NDArray

from fxseq.clips.coding import Coding, mulaw_bytes, runs
from fxseq.clips.found import kept


def encode(samples: NDArray[np.int16], coding: Coding, loop_start: int | None = None) -> bytes:
    """The bytes of a clip's samples, shape (n,), n >= 1 (SPEC 3.7).

    Raises ValueError for a coding that does not exist.
    """
    if coding == "pcm16":
        return samples.astype("<i2").tobytes()
    if coding == "mulaw":
        return mulaw_bytes(samples)
    if coding not in ("ima_adpcm", "qoa"):
        raise ValueError(f"no coding {coding!r}")
    places = np.cumsum(runs(len(samples), loop_start))[:-1]
    return b"".join(_search(run, coding) for run in np.split(samples, places))


def _search(run: NDArray[np.int16], coding: Coding) -> bytes:
    from fxseq.clips import ima_search, qoa_search

    search = {"ima_adpcm": ima_search, "qoa": qoa_search}[coding]
    return kept(f"{coding} {search.VERSION} ".encode() + run.astype("<i2").tobytes(), lambda: search.encode(run))
