"""What an amplifier's output stage can reach. Floats or arrays, element by element."""
import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Output = Literal["bridge", "single"]


def swing_v(supply_v: ArrayLike, output: Output, lost_v: float = 0.0, series_ohm: float = 0.0, load_ohm: float = math.inf) -> NDArray[np.float64]:
    """Peak voltage at the load at which the output clips, >= 0. [V]

    V = (supply - lost) * load / (load + series), half of that for a single-ended output, which swings about half the rail.

    lost_v: what the output cannot reach of the rail, whatever the current; of a class D stage supply * shortest pulse * switching rate.
    series_ohm: resistance of all switches and wires that the load current passes: two switches in a bridge.
    Source: the data sheet of a bridge-tied class D amplifier (its equation for the power at 0.5 % distortion), and two of bridge class AB
    ones (P = Vp^2 / (2 R)).
    """
    reached = np.maximum(np.asarray(supply_v, dtype=np.float64) - lost_v, 0.0) / (1 + series_ohm / load_ohm)
    return reached if output == "bridge" else reached / 2


def sine_power_w(peak_v: ArrayLike, load_ohm: float) -> NDArray[np.float64]:
    """Power of a sine in a resistor: V^2 / (2 R). [W]"""
    return np.asarray(peak_v, dtype=np.float64) ** 2 / (2 * load_ohm)
