"""IMA ADPCM, encoded by searching: of all codes that blocks may hold, those that decode closest to
the sound.

A trellis. After each sample it keeps, for each of the 89 step indices, the cheapest few ways to
come there. One list for all indices would lose the ways that raise the step in front of an attack:
they cost first and pay later. Every block is searched alone, with its first sample and step index
free, so blocks are searched side by side and the bytes do not depend on how many at once.

Importing this module loads numba, which takes a while: import it where it is used.
"""

import os
import struct
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.compiled import compiled
from fxseq.clips.ima import BLOCK_SAMPLES, STEPS, transitions

SURVIVORS = 16
_PESSIMISM = 0.8
"""Share of the cost that the first, quick search has ahead of it which any way must still
expect: a dearer one is given up. On 20 recordings at 16 kHz with 4 survivors, 0.8 left the mean
SNR the same to 0.001 dB and took 30 % off the time; 0.9 cost 0.006 dB.
"""

_WAY = np.dtype(
    [("cost", np.float64), ("value", np.int32), ("origin", np.uint16), ("code", np.uint8)],
    align=True,
)
"""A way to a sample and step index: what its error costs up to there, the sample it decodes to,
where among the ways to the sample before it came from (step index * survivors + place), and by
which code.
"""
Ints = NDArray[np.int64]
Small = NDArray[np.int32]
Floats = NDArray[np.float64]
Ways = NDArray[np.void]
"""Elements are `_WAY`."""
Found = tuple[int, int, NDArray[np.uint8], Floats]


def encode(
    samples: NDArray[np.int16],
    survivors: int = SURVIVORS,
    progress: Callable[[int, int], None] | None = None,
    threads: int | None = None,
) -> bytes:
    """The blocks that decode to the samples with the least energy of the error that the search
    finds.

    samples: shape (n,).
    survivors: ways kept for each step index, 1 to 512; time grows with it, the error falls.
    progress: called with blocks done and blocks in all, by the caller's thread.
    threads: how many blocks are searched at once; None for all cores.
    Raises ValueError for survivors that cannot be.
    """
    if not 1 <= survivors <= 512:
        raise ValueError(f"IMA ADPCM: {survivors} survivors; allowed: 1 to 512")
    blocks = [
        samples[start : start + BLOCK_SAMPLES].astype("<i2").tobytes()
        for start in range(0, len(samples), BLOCK_SAMPLES)
    ]
    encoded = []
    with ThreadPoolExecutor(threads or os.cpu_count()) as pool:
        for block in pool.map(partial(_block, survivors=survivors), blocks):
            encoded.append(block)
            if progress:
                progress(len(encoded), len(blocks))
    return b"".join(encoded)


@lru_cache(maxsize=4096)
def _block(block: bytes, survivors: int) -> bytes:
    """One block: a quick search with one survivor says what may be given up in the thorough one.

    Kept, since clips that differ only in where they are cut have most of their blocks in common.
    """
    samples = np.frombuffer(block, "<i2").astype(np.int64)
    change, following = transitions()
    first, index, codes, costs = _search(
        samples, 1, np.full(len(samples), np.inf), STEPS, change, following
    )
    if survivors > 1:
        limit = np.maximum(costs, costs[-1] - _PESSIMISM * (costs[-1] - costs)) * (1 + 1e-9)
        found = _search(samples, survivors, limit, STEPS, change, following)
        if found[3][-1] < costs[-1]:
            first, index, codes, costs = found
    filled = np.append(codes, np.zeros(len(codes) % 2, np.uint8))
    return struct.pack("<hBB", first, index, 0) + (filled[::2] | filled[1::2] << 4).tobytes()


@compiled
def _search(
    samples: Ints, survivors: int, limit: Floats, steps: Small, change: Small, following: Small
) -> Found:
    """First sample, step index, codes and cost up to each sample of the cheapest way, none dearer
    than `limit` at any sample.

    Of sample `at` and step index `index`, `ways[at, index]` holds `held[at, index]` survivors in
    order of cost. Cost is endless where no way is left at the end.
    """
    ways = np.empty((len(samples), len(steps), survivors), _WAY)
    held = np.zeros((len(samples), len(steps)), np.int64)
    nearness = 3 + int(np.log2(survivors))
    _start(samples[0], steps, ways[0], held[0])
    for at in range(1, len(samples)):
        _step(
            samples[at],
            limit[at],
            nearness,
            steps,
            change,
            following,
            ways[at - 1],
            held[at - 1],
            ways[at],
            held[at],
        )
    return _trace(ways, held)


@compiled
def _start(sample: int, steps: Small, ways: Ways, held: Ints) -> None:
    """Every step index with the sample itself and others up to a step around it as the header's:
    an error here may save others.
    """
    for index in range(len(steps)):
        for place in range(ways.shape[1]):
            offset = (
                (place + 1)
                // 2
                * max(1, 2 * steps[index] // ways.shape[1])
                * (1 if place % 2 else -1)
            )
            way = ways[index, place]
            way.value = min(max(sample + offset, -32768), 32767)
            way.cost = (sample - way.value) ** 2
            way.origin = 0
            way.code = 0
        held[index] = ways.shape[1]


@compiled
def _worthless(code: int, wanted: float, change: int, step: int) -> bool:
    """Upward codes of the wrong sign and small codes far from the best: others cost less and end
    at the same step index.
    """
    if code & 4:
        return wanted > step >> 3 if code & 8 else wanted < -(step >> 3)
    return abs(wanted - change) > 0.75 * step


@compiled
def _step(
    sample: int,
    limit: float,
    nearness: int,
    steps: Small,
    change: Small,
    following: Small,
    before: Ways,
    held_before: Ints,
    after: Ways,
    held: Ints,
) -> None:
    """Extend every way by every code that could be worth it, into the lists of the next sample.

    A list takes a way unless it is full of cheaper ones; of ways that decode to nearly the same
    sample only the cheapest stays. This is one function since calls from the inner loop would spend
    most of the time on counting references to arrays. nearness: samples are nearly the same if they
    differ by up to step >> nearness.
    """
    for index, place in np.ndindex(before.shape):
        if place >= held_before[index] or before[index, place].cost > limit:
            continue
        last = before[index, place].value
        wanted = sample - last
        for code in range(16):
            if _worthless(code, wanted, change[16 * index + code], steps[index]):
                continue
            value = min(max(last + change[16 * index + code], -32768), 32767)
            cost = before[index, place].cost + (sample - value) ** 2
            to = following[16 * index + code]
            count = held[to]
            apart = steps[to] >> nearness
            if cost > limit or count == after.shape[1] and cost >= after[to, count - 1].cost:
                continue
            at = 0
            while (
                at < count
                and after[to, at].cost <= cost
                and abs(after[to, at].value - value) > apart
            ):
                at += 1
            if at < count and after[to, at].cost <= cost:
                continue
            gone = at
            while gone < count and abs(after[to, gone].value - value) > apart:
                gone += 1
            held[to] = max(count, min(gone + 1, after.shape[1]))
            for moved in range(min(gone, after.shape[1] - 1), at, -1):
                after[to, moved] = after[to, moved - 1]
            way = after[to, at]
            way.cost = cost
            way.value = value
            way.origin = index * after.shape[1] + place
            way.code = code


@compiled
def _trace(ways: Ways, held: Ints) -> Found:
    """Go back from the cheapest way at the end."""
    samples, indices, survivors = ways.shape
    index = -1
    place = 0
    costs = np.full(samples, np.inf)
    codes = np.zeros(samples - 1, np.uint8)
    for last in range(indices):
        if held[-1, last] and ways[-1, last, 0].cost < costs[-1]:
            index, costs[-1] = last, ways[-1, last, 0].cost
    if index < 0:
        return 0, 0, codes, costs
    for at in range(samples - 1, 0, -1):
        way = ways[at, index, place]
        costs[at], codes[at - 1] = way.cost, way.code
        index = way.origin // survivors
        place = way.origin % survivors
    costs[0] = ways[0, index, place].cost
    return ways[0, index, place].value, index, codes, costs
