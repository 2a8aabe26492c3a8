"""Samples to QOA by search. The format fixes what a decoder does, so whatever is spent here is
heard and costs the board nothing.

Frames are coded apart from each other, on all cores: a frame states the history and the weights it
begins with, so these are free. The history is taken from the original; the weights are the best
found of many least-squares fits.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.coding import runs
from fxseq.clips.qoa import SLICE_SAMPLES, frames

WIDTH = 64
"""Survivors at a time. Twice as many take 1.6 times as long and gain 0.1 dB (40 recordings at 16
kHz).
"""

_FITTED_SAMPLES = (50, 100, 200, 400, 800, 1600, 3200, 5120)
_NOISE = (1e-7, 1e-6, 1e-5, 3e-5, 1e-4, 3e-4, 1e-3, 3e-3, 1e-2)
"""Noise against which weights are fitted, as a share of the power: a decoder predicts from
samples with noise, which large weights raise.
"""
_TRIALS = ((1, 16, 12), (2, 64, 1))
"""How starts are tried: width of the search, slices of it, starts that stay."""
_LARGEST_WEIGHT = 24000
"""A start beyond it soon runs into the 16 bits of a weight. The reference encoder's own weights
were seen to reach 22706.
"""
_PLAIN_WEIGHTS = (0, 0, -(1 << 13), 1 << 14)
"""Straight on: the last sample and the last step again. Source: phoboslab/qoa (MIT), qoa.h,
qoa_encode.
"""


def encode(
    samples: NDArray[np.int16],
    loop_start: int | None = None,
    width: int = WIDTH,
    progress: Callable[[int, int], None] | None = None,
) -> bytes:
    """The bytes of a clip whose loop, if it has one, begins at sample `loop_start`; the same
    whatever the number of cores.

    samples: shape (n,).
    width: survivors at a time, 1 or more.
    progress: called with the frames done and the frames in all.
    """
    whole = samples.astype(np.int64)
    parts = runs(len(whole), loop_start)
    firsts = [
        (start + first, length)
        for start, run in zip((0, *parts[:-1]), parts, strict=True)
        for first, length in frames(run)
    ]
    jobs = [
        (
            tuple(before.tobytes() for before in _befores(whole, first)),
            whole[first : first + length].tobytes(),
        )
        for first, length in firsts
    ]
    coded = []
    with ThreadPoolExecutor(os.cpu_count()) as threads:
        for frame in threads.map(lambda job: _frame(*job, width), jobs):
            coded.append(frame)
            if progress:
                progress(len(coded), len(jobs))
    return b"".join(coded)


def _befores(samples: NDArray[np.int64], first: int) -> list[NDArray[np.int64]]:
    """The four samples before a frame; where there are none, silence or the first sample held,
    whichever does better.
    """
    if first >= 4:
        return [samples[first - 4 : first]]
    return [np.zeros(4, np.int64), np.repeat(samples[:1], 4)]


@lru_cache(maxsize=512)
def _frame(befores: tuple[bytes, ...], frame: bytes, width: int) -> bytes:
    """Bytes of a frame; all given as 64-bit integers. Kept, since clips that differ only in
    where they are cut have frames in common.
    """
    from fxseq.clips.qoa_beam import search

    samples = np.frombuffer(frame, np.int64).copy()
    starts = np.unique(
        np.vstack([_starts(np.frombuffer(before, np.int64), samples) for before in befores]), axis=0
    )
    for trial_width, slices, stay in _TRIALS:
        costs = [
            search(samples[: slices * SLICE_SAMPLES], start, trial_width)[1] for start in starts
        ]
        starts = starts[np.argsort(costs, kind="stable")[:stay]]
    codes, _ = search(samples, starts[0], width)
    return starts[0].astype(">i2").tobytes() + codes.astype(">u8").tobytes()


def _starts(before: NDArray[np.int64], samples: NDArray[np.int64]) -> NDArray[np.int32]:
    """States to begin a frame with, shape (n, 8): the samples before it, and weights that predict
    its own first samples well.

    Sums of products are of integers, hence exact, so that no library's order of adding can change
    them.
    """
    fits = [np.array(_PLAIN_WEIGHTS)]
    taps = np.lib.stride_tricks.sliding_window_view(np.concatenate((before, samples)), 4)
    for count in sorted({min(fitted, len(samples)) for fitted in _FITTED_SAMPLES}):
        past = taps[:count]
        wanted = samples[:count]
        products = past.T @ past
        target = past.T @ wanted
        for noise in _NOISE:
            loaded = products + (noise * np.trace(products) / 4 + 1) * np.eye(4)
            fits.append(
                np.round(8192 * np.linalg.solve(loaded, target)).clip(
                    -_LARGEST_WEIGHT, _LARGEST_WEIGHT
                )
            )
    weights = np.array(fits, np.int32)
    return np.hstack((np.tile(before, (len(weights), 1)).astype(np.int32), weights))
