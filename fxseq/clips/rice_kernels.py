"""The inner loops of linear prediction with Rice codes, compiled. Imported only where they run,
since the compiler takes a while to load.
"""

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.compiled import compiled
from fxseq.clips.rice import (
    BLOCK_SAMPLES,
    COEFFICIENT_BITS,
    ESCAPE_BITS,
    FIRST_MEAN,
    MOST_ORDER,
    MOST_ZEROS,
    ORDER_BITS,
    PART_SAMPLES,
    STEP_BITS,
    STEPS,
)


@compiled
def rice_order(mean: int) -> int:
    """Bits that a number is written with as they are. mean: of the numbers so far, times 16."""
    scaled = mean * 11 >> 7
    order = 0
    while scaled > 0 and order < MOST_ORDER:
        scaled >>= 1
        order += 1
    return order


@compiled
def mean_after(mean: int, number: int) -> int:
    """16 times the mean, once a number has come."""
    return mean + abs(number) - ((mean + 8) >> 4)


@compiled
def predicted(history: NDArray[np.int64], coefficients: NDArray[np.int64]) -> int:
    """history, coefficients: shape (4,), the latest sample first."""
    total = 128
    for tap in range(4):
        total += history[tap] * coefficients[tap]
    return total >> 8


@compiled
def _bits(data: NDArray[np.uint8], at: int, count: int) -> int:
    """The number in so many bits from bit `at` on; zeros behind the end."""
    value = 0
    for bit in range(at, at + count):
        byte = bit >> 3
        value <<= 1
        if byte < len(data):
            value |= data[byte] >> (7 - (bit & 7)) & 1
    return value


@compiled
def _number(data: NDArray[np.uint8], at: int, order: int) -> tuple[int, int]:
    """A Rice code's number, not yet signed, and the bit behind it."""
    zeros = 0
    while zeros < MOST_ZEROS and _bits(data, at, 1) == 0:
        zeros += 1
        at += 1
    if zeros == MOST_ZEROS:
        return _bits(data, at, ESCAPE_BITS), at + ESCAPE_BITS
    at += 1
    return zeros << order | _bits(data, at, order), at + order


@compiled
def _predictor(data: NDArray[np.uint8], at: int, coefficients: NDArray[np.int64]) -> int:
    """Fill in what a part says of it; the bit behind it is returned."""
    count = 1 + _bits(data, at, ORDER_BITS)
    at += ORDER_BITS
    coefficients[:] = 0
    for tap in range(count):
        value = _bits(data, at, COEFFICIENT_BITS)
        coefficients[tap] = value - (value >> (COEFFICIENT_BITS - 1) << COEFFICIENT_BITS)
        at += COEFFICIENT_BITS
    return at


@compiled
def decode_run(data: NDArray[np.uint8], out: NDArray[np.int16]) -> None:
    """Fill `out` with a run whose bytes behind its length are `data`."""
    history = np.zeros(4, np.int64)
    coefficients = np.zeros(4, np.int64)
    step = 0
    mean = 0
    at = 0
    for i in range(len(out)):
        if i % BLOCK_SAMPLES == 0:
            at = at + 7 >> 3 << 3
            mean = FIRST_MEAN << _bits(data, at, 4)
            at += 4
            step = STEPS[0]
            history[:] = 0
            coefficients[:] = 0
        if i % PART_SAMPLES == 0:
            at += 1
            if _bits(data, at - 1, 1):
                step = STEPS[_bits(data, at, STEP_BITS)]
                at += STEP_BITS
            at += 1
            if _bits(data, at - 1, 1):
                at = _predictor(data, at, coefficients)
        number, at = _number(data, at, rice_order(mean))
        number = (number + 1) >> 1 if number & 1 else -(number >> 1)
        value = min(max(predicted(history, coefficients) + number * step, -32768), 32767)
        for tap in range(3, 0, -1):
            history[tap] = history[tap - 1]
        history[0] = value
        out[i] = value
        mean = mean_after(mean, number)
