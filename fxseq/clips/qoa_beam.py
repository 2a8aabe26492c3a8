"""The search through the ways to code a frame in QOA, compiled: a beam of survivors that is widened
by every sample and cut again.

A code decides more than its own sample: it becomes history and moves the weights of the predictor,
so the nearest code now may cost more later. An encoder that always takes the nearest loses by that.
Trying all is hopeless, 8 residuals to the power of the samples. So, as in a Viterbi search with a
limited number of states, the `width` cheapest ways so far are carried on, each with its decoder's
state. A sample continues each by the nearest residual and its two neighbours, and the cheapest
`width` of these stay. A slice does so at each of its 16 scales, from the same survivors; the best
of all scales are merged, and ways that have come to the same state at the same cost count once. At
the end of the frame the cheapest way is followed back, slice by slice.

Costs are sums of squared errors and never fall on the way, so a survivor that costs more than what
would be kept anyhow is given up at once. Imported only where it runs, since the compiler takes a
while to load.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.compiled import compiled, inlined, number_of
from fxseq.clips.qoa import DEQUANTISED, SLICE_SAMPLES
from fxseq.clips.qoa_kernels import wrapped

_LEVELS = DEQUANTISED[:, ::2].copy()


class Beam(NamedTuple):
    """Survivors, a row each.

    states: (width, 8), history and weights; costs: (width,); codes: (width,), the slice so far;
    parents: (width,), row in the beam at the start of the slice.
    """

    states: NDArray[np.int32]
    costs: NDArray[np.float64]
    codes: NDArray[np.uint64]
    parents: NDArray[np.int32]


class Steps(NamedTuple):
    """Survivors continued by one sample: cost, row continued, residual code and sample of each.

    predictions: of each survivor; wanted: what each survivor's residual should be; spare: room to
    sort in.
    """

    costs: NDArray[np.float64]
    rows: NDArray[np.int32]
    residuals: NDArray[np.int32]
    values: NDArray[np.int32]
    predictions: NDArray[np.int32]
    wanted: NDArray[np.float64]
    spare: NDArray[np.float64]


@compiled
def search(
    samples: NDArray[np.int64], start: NDArray[np.int32], width: int
) -> tuple[NDArray[np.uint64], float]:
    """Slice codes, shape (slices,), of the cheapest way found through a frame, and its cost.

    start: (8,), history and weights.
    """
    slices = -(-len(samples) // SLICE_SAMPLES)
    codes = np.empty((slices, width), np.uint64)
    parents = np.empty((slices, width), np.int32)
    old = _beam(width)
    pool = _beam(2 * width)
    room = (_beam(width), _beam(width))
    steps = _steps(3 * width)
    alive = number_of(1)
    scale = number_of(0)
    for word in range(8):
        old.states[0, word] = start[word]
    for number in range(slices):
        part = samples[number * SLICE_SAMPLES : (number + 1) * SLICE_SAMPLES]
        alive, scale = _search_slice(part, old, alive, scale, pool, room, steps)
        for row in range(alive):
            codes[number, row], parents[number, row] = pool.codes[row], pool.parents[row]
            _copy(pool, row, old, row)
    row = np.argmin(old.costs[:alive])
    cost = old.costs[row]
    chosen = np.empty(slices, np.uint64)
    for number in range(slices - 1, -1, -1):
        chosen[number], row = codes[number, row], parents[number, row]
    return chosen, cost


@compiled
def _beam(width: int) -> Beam:
    return Beam(
        np.zeros((width, 8), np.int32),
        np.zeros(width),
        np.zeros(width, np.uint64),
        np.zeros(width, np.int32),
    )


@compiled
def _steps(count: int) -> Steps:
    return Steps(
        np.zeros(count),
        np.zeros(count, np.int32),
        np.zeros(count, np.int32),
        np.zeros(count, np.int32),
        np.zeros(count, np.int32),
        np.zeros(count),
        np.zeros(count),
    )


@inlined
def _copy(source: Beam, row: int, target: Beam, to: int) -> None:
    """Copy a survivor."""
    for word in range(8):
        target.states[to, word] = source.states[row, word]
    target.costs[to], target.codes[to], target.parents[to] = (
        source.costs[row],
        source.codes[row],
        source.parents[row],
    )


@compiled
def _search_slice(
    samples: NDArray[np.int64],
    old: Beam,
    alive: int,
    latest: int,
    pool: Beam,
    room: tuple[Beam, Beam],
    steps: Steps,
) -> tuple[int, int]:
    """Leave the best ways through a slice in the pool; their number, and the scale of the best, are
    returned.

    Scales are tried from the latest outwards, since the sooner a good one has been tried, the
    sooner bad ones are given up.
    """
    held = number_of(0)
    most = np.inf
    for turn in range(31):
        scale = latest + ((turn + 1) // 2 if turn & 1 else -turn // 2)
        if not 0 <= scale < 16:
            continue
        now = room[0]
        after = room[1]
        count = alive
        for row in range(alive):
            _copy(old, row, now, row)
            now.codes[row], now.parents[row] = scale, row
        for sample in samples:
            found = _widen(sample, scale, now, count, most, steps)
            count = _cut(scale, now, after, found, most, steps)
            now, after = after, now
        held, most = _merge(now, count, 3 * (SLICE_SAMPLES - len(samples)), pool, held, most, steps)
    if not held:
        _coast(samples, old, np.argmin(old.costs[:alive]), pool)
        held = 1
    return held, np.int64(pool.codes[np.argmin(pool.costs[:held])] >> np.uint64(60))


@inlined
def _widen(sample: int, scale: int, now: Beam, count: int, most: float, steps: Steps) -> int:
    """Continue each survivor with the nearest residual and, where they may be kept, its two
    neighbours; the number of steps is returned.
    """
    dearest = 0.0
    for row in range(count):
        total = 0
        for tap in range(4):
            total += now.states[row, tap] * now.states[row, 4 + tap]
        steps.predictions[row] = wrapped(total, 32) >> 13
        steps.wanted[row] = sample - steps.predictions[row]
        size = abs(steps.wanted[row])
        level = 0
        for upper in range(3):
            level += 2 * size > _LEVELS[scale, upper] + _LEVELS[scale, upper + 1]
        _step(row, row, 2 * level + (steps.wanted[row] < 0), scale, now, steps)
        dearest = max(dearest, steps.costs[row])
    found = count
    if count == len(now.costs):
        most = min(most, dearest)
    for row in range(count):
        nearest = steps.residuals[row]
        for other in (
            nearest - 2 if nearest > 1 else nearest ^ 1,
            nearest + 2 if nearest < 6 else nearest - 4,
        ):
            _step(found, row, other, scale, now, steps)
            found += steps.costs[found] < most
    return found


@inlined
def _step(number: int, row: int, residual: int, scale: int, now: Beam, steps: Steps) -> None:
    """Note a survivor continued with a residual."""
    value = min(max(steps.predictions[row] + DEQUANTISED[scale, residual], -32768), 32767)
    miss = steps.wanted[row] + steps.predictions[row] - value
    steps.costs[number], steps.rows[number], steps.residuals[number], steps.values[number] = (
        now.costs[row] + miss * miss,
        row,
        residual,
        value,
    )


@inlined
def _cut(scale: int, now: Beam, after: Beam, found: int, most: float, steps: Steps) -> int:
    """Keep the cheapest steps; the number of survivors is returned. A step that takes a weight
    beyond 16 bits, where decoders differ, is none.
    """
    width = len(now.costs)
    count = 0
    limit = _smallest(steps.costs, found, width - 1, steps.spare) if found > width else np.inf
    for number in range(found):
        if steps.costs[number] > limit or steps.costs[number] >= most or count == width:
            continue
        row = steps.rows[number]
        residual = steps.residuals[number]
        delta = DEQUANTISED[scale, residual] >> 4
        largest = 0
        for tap in range(4):
            weight = now.states[row, 4 + tap] + (-delta if now.states[row, tap] < 0 else delta)
            after.states[count, 4 + tap] = weight
            largest = max(largest, weight ^ (weight >> 63))
        if largest > 32767:
            continue
        for tap in range(3):
            after.states[count, tap] = now.states[row, tap + 1]
        after.states[count, 3] = steps.values[number]
        after.costs[count], after.parents[count] = steps.costs[number], now.parents[row]
        after.codes[count] = now.codes[row] << np.uint64(3) | np.uint64(residual)
        count += 1
    return count


@inlined
def _smallest(
    values: NDArray[np.float64], count: int, rank: int, spare: NDArray[np.float64]
) -> float:
    """The value of that rank, from 0, among the first `count`. Source: C. A. R. Hoare, Algorithm
    65: Find, CACM 4 (1961), from memory.
    """
    for index in range(count):
        spare[index] = values[index]
    low = 0
    high = count - 1
    while low < high:
        pivot = spare[(low + high) >> 1]
        left = low
        right = high
        while left <= right:
            while spare[left] < pivot:
                left += 1
            while spare[right] > pivot:
                right -= 1
            if left <= right:
                spare[left], spare[right] = spare[right], spare[left]
                left = left + 1
                right = right - 1
        if rank <= right:
            high = right
        elif rank >= left:
            low = left
        else:
            break
    return spare[rank]


@compiled
def _merge(
    now: Beam, count: int, unused_bits: int, pool: Beam, held: int, most: float, steps: Steps
) -> tuple[int, float]:
    """Add survivors of one scale to the pool and cut it to its width; the number held and the
    cost beyond which none is kept are returned.
    """
    width = len(now.costs)
    for row in range(count):
        if not _is_held(now, row, pool, held):
            _copy(now, row, pool, held)
            pool.codes[held] <<= np.uint64(unused_bits)
            held += 1
    if held < width:
        return held, most
    limit = _smallest(pool.costs, held, width - 1, steps.spare)
    kept = 0
    for row in range(held):
        if pool.costs[row] <= limit and kept < width:
            _copy(pool, row, pool, kept)
            kept += 1
    return kept, limit


@compiled
def _is_held(now: Beam, row: int, pool: Beam, held: int) -> bool:
    """Whether the pool has a survivor of the same cost and state."""
    for other in range(held):
        if pool.costs[other] == now.costs[row]:
            same = 0
            for word in range(8):
                same += pool.states[other, word] == now.states[row, word]
            if same == 8:
                return True
    return False


@compiled
def _coast(samples: NDArray[np.int64], old: Beam, row: int, pool: Beam) -> None:
    """Go on from a survivor with the smallest residuals, which leave the weights alone: the way
    out where every other leads beyond 16 bits.
    """
    _copy(old, row, pool, 0)
    pool.codes[0], pool.parents[0] = 0, row
    state = pool.states[0]
    for sample in samples:
        total = (
            state[0] * state[4] + state[1] * state[5] + state[2] * state[6] + state[3] * state[7]
        )
        value = min(max((wrapped(total, 32) >> 13) + DEQUANTISED[0, 0], -32768), 32767)
        pool.costs[0] += (sample - value) ** 2
        for tap in range(3):
            state[tap] = state[tap + 1]
        state[3] = value
