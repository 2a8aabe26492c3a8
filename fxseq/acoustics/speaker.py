"""From volts at the speaker to pressure at an ear: a closed box in a free field, on axis.

The box is the second-order high-pass G(s) = s^2 / (s^2 + s wc / Qtc + wc^2) of R. H. Small's closed-box analysis (1972, seen as its
abstract and glossary and in three transcriptions of the equations). Room, shell, breakup of the cone and power compression are outside.
"""
import math

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.decibels import REFERENCE_PRESSURE_PA, block_means, power_db
from fxseq.acoustics.response import Response, apply_responses, settling_time_s
from fxseq.sequence.model import Speaker

NEAREST_M = 0.05
"""Closer than this, roughly a cone's diameter, pressure no longer goes with 1/r. [m] Common practice, no source."""


def inside_model(distance_m: float) -> bool:
    """Whether pressure goes with 1/r at this distance."""
    return distance_m >= NEAREST_M


def power_from_voltage_w(voltage_rms_v: float, impedance_ohm: float) -> float:
    """Power of a voltage in a resistor of the rated impedance. [W]"""
    return voltage_rms_v**2 / impedance_ohm


def level_db_spl(speaker: Speaker, power_w: float, distance_m: float) -> float:
    """Level in the speaker's flat range, above resonance. [dB re 20 uPa]

    L = sensitivity + 10 lg(power / its power) - 20 lg(distance / its distance)
    power_w: in the rated impedance, > 0. distance_m: > 0; from 5 cm up (see `inside_model`).
    With 1 W and 1 m, or 0.1 W and 0.1 m, this turns a sensitivity into that of another convention.
    """
    distance_ratio = distance_m / speaker.sensitivity_distance_m
    return float(speaker.sensitivity_db + power_db(power_w / speaker.sensitivity_power_w) - power_db(distance_ratio**2))


def box_response(frequencies_hz: NDArray[np.float64], resonance_hz: float, q_total: float) -> NDArray[np.complex128]:
    """Complex gain of the closed box relative to its flat range, shape of `frequencies_hz`."""
    ratio = 1j * frequencies_hz / resonance_hz
    return ratio**2 / (ratio**2 + ratio / q_total + 1)


def box_cutoff_hz(resonance_hz: float, q_total: float) -> float:
    """Frequency at which the closed box is 3.01 dB down: f3/fc = sqrt((t + sqrt(t^2 + 4)) / 2), t = 1/Qtc^2 - 2. [Hz]"""
    t = 1 / q_total**2 - 2
    return resonance_hz * math.sqrt((t + math.sqrt(t * t + 4)) / 2)


def box_peak(resonance_hz: float, q_total: float) -> tuple[float, float] | None:
    """Frequency [Hz] and height [dB] of the closed box's peak; None where there is none (Qtc^2 <= 1/2).

    |G|max = Qtc^2 / sqrt(Qtc^2 - 1/4) at fc / sqrt(1 - 1 / (2 Qtc^2)).
    """
    square = q_total**2
    if square <= 0.5:
        return None
    return resonance_hz / math.sqrt(1 - 1 / (2 * square)), float(power_db(square**2 / (square - 0.25)))


def box_settling_s(speaker: Speaker) -> float:
    """Time for the box's transient to die away. [s]"""
    damping = math.pi * speaker.resonance_hz / speaker.q_total
    slow = damping * (1 - math.sqrt(max(1 - 4 * speaker.q_total**2, 0.0)))
    return settling_time_s(slow)


def speaker_response(speaker: Speaker, distance_m: float) -> Response:
    """Transfer function from volts at the speaker to pressure at a distance. [Pa/V]"""
    at_one_watt_pa = REFERENCE_PRESSURE_PA * 10 ** (level_db_spl(speaker, 1.0, distance_m) / 20)
    gain = at_one_watt_pa / math.sqrt(speaker.impedance_ohm)
    return lambda frequencies_hz: gain * box_response(frequencies_hz, speaker.resonance_hz, speaker.q_total)


def pressure_pa(volts: NDArray[np.floating], rate_hz: float, speaker: Speaker, distance_m: float) -> NDArray[np.float32]:
    """Sound pressure on axis at a distance in a free field. [Pa]

    volts: at the speaker, shape (n,). Result: shape (n,). The time the sound travels is left out.
    The level is uncertain by the speaker's sensitivity_spread_db; closer than 5 cm it is outside the model (see `inside_model`).
    """
    return apply_responses(volts, rate_hz, [speaker_response(speaker, distance_m)], box_settling_s(speaker))[0]


def speaker_power_w(volts: NDArray[np.floating], speaker: Speaker, block_samples: int) -> NDArray[np.float64]:
    """Mean electrical power V^2/R in the rated impedance in successive blocks, shape (ceil(n / block_samples),). [W]

    On the safe side: around resonance the impedance is higher and the power smaller.
    """
    return block_means(np.square(volts), block_samples) / speaker.impedance_ohm
