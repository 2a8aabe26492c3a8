"""Peaks and valleys of many lights at once, laid end to end in one array.

Nothing here runs step by step: a light that flickers has a thousand changes a second and channel,
of which few matter.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Indices = NDArray[np.int64]
Values = NDArray[np.floating] | NDArray[np.unsignedinteger]
_BLOCK = 32
_FEW = 16


class Swings(NamedTuple):
    """Movements from a peak to the next valley or from a valley to the next peak, light after
    light, all shape (k,).

    owner: which light moves. begin, end: its value at both ends. known: place in the array at which
    the least movement is first reached.
    """

    owner: Indices
    begin: NDArray[np.float64]
    end: NDArray[np.float64]
    known: Indices


def swings(values: Values, starts: Indices, least: float) -> Swings:
    """All movements of `least` or more; smaller ones within a rise or fall do not divide it.

    values: lights laid end to end, shape (n,), n >= 1. starts: place of the first value of each
    light, shape (lights,).
    """
    turns = _turning_points(values, starts)
    heights = values[turns].astype(np.float64)
    owner = np.searchsorted(starts, turns, side="right") - 1
    extremes = _extremes(heights, owner, least)
    within = owner[extremes[1:]] == owner[extremes[:-1]]
    begins = extremes[:-1][within]
    ends = extremes[1:][within]
    known = _first_reached(
        values, turns, _first_turns(heights, owner, extremes, least), heights[begins], least
    )
    return Swings(owner[begins], heights[begins], heights[ends], known)


def _turning_points(values: Values, starts: Indices) -> Indices:
    """First and last place of each light, and every place at which it begins or ceases to rise."""
    rising = values[1:] > values[:-1]
    turns = np.ones(values.size, dtype=np.bool_)
    turns[1:-1] = rising[1:] != rising[:-1]
    turns[starts] = turns[starts[1:] - 1] = True
    return np.flatnonzero(turns)


def _extremes(heights: NDArray[np.float64], owner: Indices, least: float) -> Indices:
    """Which turning points are left when movements below `least` are taken out, smallest first.

    A movement that is smaller than both its neighbours lies within their range, so its two ends are
    no peak and valley of anything larger. At the end of a light it has one neighbour, and the end
    goes. So all that are smaller than their neighbours can go in one pass; each pass leaves about a
    third of a random flicker. Of a flicker that ever grows it takes only the first; then whole
    blocks go.
    """
    kept = np.arange(heights.size)
    while True:
        move = np.abs(np.diff(heights[kept]))
        move[owner[kept[1:]] != owner[kept[:-1]]] = np.inf
        before = np.append(np.inf, move)[:-1]
        after = np.append(move, np.inf)[1:]
        small = np.flatnonzero((move < least) & (move < before) & (move <= after))
        if not small.size:
            return kept
        first = np.isinf(before[small])
        last = np.isinf(after[small])
        stays = np.ones(kept.size, dtype=np.bool_)
        stays[small[first | ~last]] = stays[small[~first] + 1] = False
        kept = kept[stays]
        if small.size < kept.size // _FEW:
            kept = _without_quiet(kept, heights, owner, least)


def _without_quiet(
    kept: Indices, heights: NDArray[np.float64], owner: Indices, least: float
) -> Indices:
    """Turning points among `kept`, with only the lowest and the highest of each block that stays
    within `least`.

    No movement of `least` has both its ends in such a block, so nothing hangs on the order of what
    is in it.
    """
    blocks = kept[: kept.size // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    light = heights[blocks]
    quiet = np.flatnonzero(
        (np.ptp(light, axis=1) < least) & (owner[blocks[:, 0]] == owner[blocks[:, -1]])
    )
    stays = np.ones(kept.size, dtype=np.bool_)
    in_blocks = stays[: blocks.size].reshape(-1, _BLOCK)
    in_blocks[quiet] = False
    in_blocks[quiet, light[quiet].argmin(axis=1)] = in_blocks[
        quiet, light[quiet].argmax(axis=1)
    ] = True
    kept = kept[stays]
    return kept[_turning_points(heights[kept], np.flatnonzero(np.diff(owner[kept], prepend=-1)))]


def _first_turns(
    heights: NDArray[np.float64], owner: Indices, extremes: Indices, least: float
) -> Indices:
    """For each movement between two extremes: the first turning point that is `least` or more
    away from where it begins.
    """
    begin = extremes[np.maximum(np.searchsorted(extremes, np.arange(heights.size)) - 1, 0)]
    far = np.flatnonzero(
        (np.abs(heights - heights[begin]) >= least)
        & (owner == owner[begin])
        & (np.arange(heights.size) > begin)
    )
    return far[np.append(True, begin[far[1:]] != begin[far[:-1]])[: far.size]]


def _first_reached(
    values: Values, turns: Indices, first_turns: Indices, begin: NDArray[np.float64], least: float
) -> Indices:
    """Places at which values are first `least` away from `begin`: halving between two turning
    points, where they go one way.
    """
    near = turns[first_turns - 1]
    far = turns[first_turns]
    while (far - near > 1).any():
        middle = (near + far) // 2
        reached = np.abs(values[middle] - begin) >= least
        near = np.where(reached, near, middle)
        far = np.where(reached, middle, far)
    return far
