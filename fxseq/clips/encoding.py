"""Samples to the bytes of a clip, in any coding. The searching encoders take seconds, so what
they found is kept on disk.
"""

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.coding import Coding, byte_count, mulaw_bytes, runs
from fxseq.clips.found import cached

Progress = Callable[[int, int], None] | None

_SEARCH = 3
"""To be raised when a search comes to find other bytes than those that are kept."""


def encode(
    samples: NDArray[np.int16],
    coding: Coding,
    loop_start: int | None = None,
    progress: Progress = None,
    rate_hz: int = 22050,
) -> bytes:
    """The bytes of a clip's samples, shape (n,), n >= 1 (SPEC 3.7).

    rate_hz: at which they are heard, for the coding that asks what an ear hears (LPC-Rice).
    progress: called with what is done and all that there is to do, while a search takes its time.
    Raises ValueError for a coding that does not exist.
    """
    if coding == "pcm16":
        return samples.astype("<i2").tobytes()
    if coding == "mulaw":
        return mulaw_bytes(samples)
    search = {"ima_adpcm": _ima, "qoa": _qoa, "lpc_rice": partial(_rice, rate_hz)}.get(coding)
    if search is None:
        raise ValueError(f"no coding {coding!r}")
    heard_hz = rate_hz if coding == "lpc_rice" else ""
    key = f"{_SEARCH} {coding} {loop_start} {heard_hz}".encode() + samples.astype("<i2").tobytes()

    def compute() -> bytes:
        # The first search of all is compiled, which takes a while: say that it is under way.
        if progress:
            progress(0, len(samples))
        return search(samples, loop_start, progress)

    return cached(key, compute)


def _ima(samples: NDArray[np.int16], loop_start: int | None, progress: Progress) -> bytes:
    from fxseq.clips.ima_search import encode

    places = np.cumsum(runs(len(samples), loop_start))[:-1]
    return b"".join(encode(run, progress=progress) for run in np.split(samples, places))


def _qoa(samples: NDArray[np.int16], loop_start: int | None, progress: Progress) -> bytes:
    from fxseq.clips.qoa_search import encode

    return encode(samples, loop_start, progress=progress)


def _rice(
    rate_hz: int, samples: NDArray[np.int16], loop_start: int | None, progress: Progress
) -> bytes:
    """Not more bytes than in QOA, so that what they sound like can be compared."""
    from fxseq.clips.rice_search import encode

    places = np.cumsum(runs(len(samples), loop_start))[:-1]
    most_bytes = byte_count("qoa", len(samples), loop_start)
    return encode(np.split(samples, places), most_bytes, rate_hz, progress)
