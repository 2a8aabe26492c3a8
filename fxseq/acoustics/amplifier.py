"""From samples to volts at the speaker, and to the current that takes from the supply: what the
board's converter, the amplifier and its rail do to a signal.
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics.decibels import block_means
from fxseq.acoustics.pulses import is_low_passed, low_passed
from fxseq.acoustics.speaker import coil_ohm
from fxseq.sequence.model import Amplifier, Board, Speaker

FULL_SCALE_SAMPLE = 32768
Output = Literal["bridge", "single"]


def rounded_to_bits(samples: NDArray[np.int16], bits: int) -> NDArray[np.int16]:
    """Samples as a converter of fewer bits puts them out: rounded to the nearest of its steps,
    within its range. bits: 1..16.
    """
    step = 1 << (16 - bits)
    rounded = (samples.astype(np.int32) + step // 2) // step * step
    return np.clip(rounded, -32768, 32768 - step).astype(np.int16)


def converted(samples: NDArray[np.int16], board: Board | None) -> NDArray[np.number]:
    """Samples as they come to the amplifier, shape (n,): rounded to the bits of the board's output
    and, where they leave it as pulses, behind the low-pass. None: as they are.
    """
    if board is None:
        return samples
    rounded = samples if board.sound_bits >= 16 else rounded_to_bits(samples, board.sound_bits)
    return low_passed(rounded, board.sample_rate_hz) if is_low_passed(board) else rounded


def quantisation_ratio_db(bits: float) -> float:
    """A full-scale sine over the noise of rounding: 10 lg(1.5 * 4^bits), 6.02 bits + 1.76. [dB]
    Noise taken as even and independent.
    """
    return 10 * math.log10(1.5 * 4**bits)


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
    if output == "bridge":
        return reached
    return reached / 2


def sine_power_w(peak_v: ArrayLike, load_ohm: float) -> NDArray[np.float64]:
    """Power of a sine in a resistor: V^2 / (2 R). [W]"""
    return np.asarray(peak_v, dtype=np.float64) ** 2 / (2 * load_ohm)


def clipping_voltage_v(
    amplifier: Amplifier, supply_v: ArrayLike, load_ohm: float = math.inf
) -> NDArray[np.float64]:
    """Peak voltage at a load at which the amplifier clips, >= 0, element by element (see
    `swing_v`). [V]
    """
    return swing_v(
        supply_v, amplifier.output, amplifier.lost_voltage_v, amplifier.on_resistance_ohm, load_ohm
    )


def clipping_power_w(amplifier: Amplifier, supply_v: float, impedance_ohm: float) -> float:
    """Power of the largest sine that does not clip. [W]"""
    return float(
        sine_power_w(clipping_voltage_v(amplifier, supply_v, impedance_ohm), impedance_ohm)
    )


def voltage_gain(amplifier: Amplifier) -> float:
    """Output over input voltage, V / V: 10^(gain / 20)."""
    return float(10.0 ** (amplifier.gain_db / 20))


def full_scale_v(amplifier: Amplifier) -> float:
    """Voltage at its output for a sample at full scale, if it did not clip. [V]"""
    return voltage_gain(amplifier) * amplifier.full_scale_input_v


def full_scale_thd_percent(
    amplifier: Amplifier, supply_v: float, load_ohm: float = math.inf
) -> float:
    """Distortion of a tone of full-scale samples: all harmonics over the fundamental; 0 where it
    does not clip. [%]

    A sine of peak A is cut off at L = A sin(t): mean square (A^2 (t - sin t cos t) + L^2 (pi - 2
    t)) / pi, fundamental of peak 2 A (t + sin t cos t) / pi. A square wave, its bound, has
    sqrt(pi^2 / 8 - 1) = 48.3 %. Source: the Fourier series of a clipped sine.
    """
    clipped = min(
        float(clipping_voltage_v(amplifier, supply_v, load_ohm)) / full_scale_v(amplifier), 1.0
    )
    if clipped <= 0:
        return 0.0
    angle = math.asin(clipped)
    both = clipped * math.cos(angle)
    mean_square = (angle - both + clipped**2 * (math.pi - 2 * angle)) / math.pi
    fundamental = 2 * (angle + both) / math.pi
    return 100 * math.sqrt(max(mean_square / (fundamental**2 / 2) - 1, 0.0))


def output_voltage_v(
    samples: NDArray[np.number],
    amplifier: Amplifier,
    supply_v: ArrayLike,
    load_ohm: float = math.inf,
) -> tuple[NDArray[np.float32], float]:
    """Voltage across the speaker, hard-clipped at the rail, and the share of samples that clip.

    samples: as they come to the amplifier (`converted`), shape (n,). supply_v: one voltage, or one
    a sample, shape (n,). [V] load_ohm: the speaker's rated impedance. Result: volts, shape (n,),
    single precision; share 0..1.

    A real amplifier rounds the corner a little sooner. The droop of an output that holds each
    sample, 20 lg(sin(pi f / fs) / (pi f / fs)), is left out: 0.1 dB at a tenth of the sample rate,
    0.9 dB at a quarter.
    """
    volts = samples * np.float32(full_scale_v(amplifier) / FULL_SCALE_SAMPLE)
    limit = clipping_voltage_v(amplifier, supply_v, load_ohm).astype(np.float32)
    if max(volts.max(initial=0.0), -volts.min(initial=0.0)) <= limit.min(initial=np.inf):
        return volts, 0.0
    clipped = float(np.count_nonzero(np.abs(volts) > limit)) / max(volts.size, 1)
    return np.clip(volts, -limit, limit, out=volts), clipped


def supply_current_a(
    volts: NDArray[np.floating],
    speaker: Speaker,
    amplifier: Amplifier,
    supply_v: ArrayLike,
    block_samples: int,
) -> NDArray[np.float64]:
    """Mean current from the supply in successive blocks, idle current included. [A]

    volts: at the speaker, shape (n,). supply_v: > 0, one voltage, or one a block, shape (ceil(n /
    block_samples),). [V] Result: shape (ceil(n / block_samples),).

    Class D: output power over efficiency over supply voltage; the efficiency is taken as constant,
    which is too kind at low power, where the idle current makes up for it. Class AB: the load
    current itself comes from the rail, rectified, so efficiency_percent is not used: I = mean|v| /
    R for a bridge, half of it for a single-ended output, which feeds from the rail in every other
    half-wave only. For a sine this is the efficiency pi sqrt(2 P R) / (4 V) printed in data sheets
    of bridge amplifiers. The speaker counts as its coil's resistance alone, the least that its
    impedance is at any frequency; its rise at resonance and at high frequency makes the real
    current smaller.
    """
    load_ohm = coil_ohm(speaker)
    idle_a = amplifier.idle_current_ma / 1000
    if amplifier.kind == "class_ab":
        rectified = block_means(np.abs(volts), block_samples) / load_ohm
        if amplifier.output == "bridge":
            return idle_a + rectified
        return idle_a + rectified / 2
    power_w = block_means(np.square(volts), block_samples) / load_ohm
    return idle_a + power_w / (
        amplifier.efficiency_percent / 100 * np.asarray(supply_v, dtype=np.float64)
    )


def amplifier_heat_w(
    volts: NDArray[np.floating],
    speaker: Speaker,
    amplifier: Amplifier,
    supply_v: float,
    block_samples: int,
) -> NDArray[np.float64]:
    """Mean heat in the amplifier in successive blocks: what it takes from its supply less what
    the coil gets. [W] Arguments as above.
    """
    taken_w = supply_v * supply_current_a(volts, speaker, amplifier, supply_v, block_samples)
    return np.maximum(
        taken_w - block_means(np.square(volts), block_samples) / coil_ohm(speaker), 0.0
    )
