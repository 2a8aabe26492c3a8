"""What an amplifier's output stage can reach, and what becomes heat in it. Floats or arrays, element by element."""
import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Output = Literal["bridge", "single"]


def swing_v(
    supply_v: ArrayLike, output: Output, lost_v: float = 0.0, series_ohm: float = 0.0, load_ohm: float = math.inf, duty_limit: float = 1.0,
) -> NDArray[np.float64]:
    """Peak voltage at the load at which the output clips, >= 0. [V]

    V = (supply - lost) * duty_limit * load / (load + series), half of that for a single-ended output, which swings about half the rail.

    lost_v: what the output cannot reach of the rail, whatever the current. series_ohm: resistance of all switches and wires that the load
    current passes: two switches in a bridge. duty_limit: largest duty of a class D stage, 1 - shortest pulse * switching rate.
    Source: the data sheet of a bridge-tied class D amplifier (its equation for the power at 0.5 % distortion), and two of bridge class AB
    ones (P = Vp^2 / (2 R)).
    """
    reached = np.maximum(np.asarray(supply_v, dtype=np.float64) - lost_v, 0.0) * duty_limit / (1 + series_ohm / load_ohm)
    return reached if output == "bridge" else reached / 2


def sine_power_w(peak_v: ArrayLike, load_ohm: float) -> NDArray[np.float64]:
    """Power of a sine in a resistor: V^2 / (2 R). [W]"""
    return np.asarray(peak_v, dtype=np.float64) ** 2 / (2 * load_ohm)


def class_ab_efficiency(power_w: ArrayLike, load_ohm: float, supply_v: float) -> NDArray[np.float64]:
    """Of a class AB bridge with a sine, idle current left out, 0..pi/4: pi sqrt(2 P R) / (4 V). Source: three data sheets."""
    return np.pi * np.sqrt(2 * np.asarray(power_w, dtype=np.float64) * load_ohm) / (4 * supply_v)


def class_ab_heat_w(power_w: ArrayLike, load_ohm: float, supply_v: float) -> NDArray[np.float64]:
    """Heat in a class AB bridge with a sine: 2 sqrt(2) V sqrt(P) / (pi sqrt(R)) - P. [W] Source: a data sheet."""
    power = np.asarray(power_w, dtype=np.float64)
    return 2 * math.sqrt(2) * supply_v / (math.pi * math.sqrt(load_ohm)) * np.sqrt(power) - power


def class_ab_most_heat_w(load_ohm: float, supply_v: float) -> float:
    """The most heat that any sine makes in a class AB bridge: 2 V^2 / (pi^2 R). [W]"""
    return 2 * supply_v**2 / (math.pi**2 * load_ohm)


def class_d_efficiency(power_w: ArrayLike, full_efficiency: float, idle_w: float) -> NDArray[np.float64]:
    """Of a class D stage against its output: P / (P / eta + idle), 0..eta; 0 without output.

    full_efficiency: load over load plus series resistance, what is reached where the idle power no longer matters.
    """
    power = np.asarray(power_w, dtype=np.float64)
    taken = power / full_efficiency + idle_w
    return np.divide(power, taken, out=np.zeros_like(taken), where=taken > 0)
