"""The board's sound output and the amplifier behind it: what bits, steps and the rail do to a
signal.

Floats or arrays, element by element.
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray


def hold_gain_db(frequency_hz: ArrayLike, rate_hz: float) -> NDArray[np.float64]:
    """Droop of an output that holds each sample until the next, below the rate: 20 lg(sin(pi f /
    fs) / (pi f / fs)). [dB]

    -3.92 dB at half the rate. Above that is the image of the band, at rate - f: a filter, or the
    speaker, keeps it from the ear.
    """
    return 20 * np.log10(np.sinc(np.asarray(frequency_hz, dtype=np.float64) / rate_hz))


def quantised(samples: NDArray[np.int16], bits: int) -> NDArray[np.int16]:
    """Samples as a converter of fewer bits puts them out: rounded to the nearest of its steps,
    within its range. bits: 1..16.
    """
    step = 1 << (16 - bits)
    rounded = (samples.astype(np.int32) + step // 2) // step * step
    return np.clip(rounded, -32768, 32768 - step).astype(np.int16)


def quantisation_ratio_db(bits: float) -> float:
    """A full-scale sine over the noise of rounding: 10 lg(1.5 * 4^bits), 6.02 bits + 1.76. [dB]
    Noise taken as even and independent.
    """
    return 10 * math.log10(1.5 * 4**bits)


Output = Literal["bridge", "single"]


def swing_v(
    supply_v: ArrayLike,
    output: Output,
    lost_v: float = 0.0,
    series_ohm: float = 0.0,
    load_ohm: float = math.inf,
) -> NDArray[np.float64]:
    """Peak voltage at the load at which the output clips, >= 0. [V]

    V = (supply - lost) * load / (load + series), half of that for a single-ended output, which
    swings about half the rail.

    lost_v: what the output cannot reach of the rail, whatever the current; of a class D stage
    supply * shortest pulse * switching rate. series_ohm: resistance of all switches and wires that
    the load current passes: two switches in a bridge. Source: the data sheet of a bridge-tied class
    D amplifier (its equation for the power at 0.5 % distortion), and two of bridge class AB ones (P
    = Vp^2 / (2 R)).
    """
    reached = np.maximum(np.asarray(supply_v, dtype=np.float64) - lost_v, 0.0) / (
        1 + series_ohm / load_ohm
    )
    return reached if output == "bridge" else reached / 2


def sine_power_w(peak_v: ArrayLike, load_ohm: float) -> NDArray[np.float64]:
    """Power of a sine in a resistor: V^2 / (2 R). [W]"""
    return np.asarray(peak_v, dtype=np.float64) ** 2 / (2 * load_ohm)
