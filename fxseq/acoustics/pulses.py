"""Sound that leaves a board as pulses, behind a low-pass of one resistor and one capacitor.

What the amplifier's input takes is not counted: full_scale_input_v is the voltage that is there
with it. It raises the corner by R over its resistance, 5 % at 20 kohm, so what is lost at 5 kHz is
0.1 dB less than told.
"""

import math

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.response import apply_responses
from fxseq.sequence.model import Board
from fxseq.sequence.pins import LOW_PASS_F, LOW_PASS_OHM


def corner_hz() -> float:
    """Frequency at which the low-pass takes half of the power: 1 / (2 pi R C), textbook. [Hz]"""
    return 1 / (2 * math.pi * LOW_PASS_OHM * LOW_PASS_F)


def low_pass_loss_db(frequency_hz: float) -> float:
    """What the low-pass takes at a frequency: 10 lg(1 + (f / corner)^2), textbook. [dB]"""
    return 10 * math.log10(1 + (frequency_hz / corner_hz()) ** 2)


def low_pass_gain(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Voltage behind the low-pass over that before it: 1 / (1 + j f / corner), textbook."""
    return 1 / (1 + 1j * frequencies_hz / corner_hz())


def is_low_passed(board: Board) -> bool:
    """Whether the sound of a board comes by way of the low-pass: that of ready-made ones does."""
    return board.part is not None and board.sound == "pwm"


def low_passed(samples: NDArray[np.number], sample_rate_hz: float) -> NDArray[np.float32]:
    """Samples as they are behind the low-pass, shape (n,), at frequencies that samples have."""
    return apply_responses(samples, sample_rate_hz, [low_pass_gain], 0.0)[0]


def image_below_db(frequency_hz: float, sample_rate_hz: float) -> float:
    """How far the mirror image of a tone, at the sample rate less its frequency, lies below it
    behind the low-pass. [dB]

    frequency_hz: of the tone, above 0 and below half of the rate. Each sample is held until the
    next one, so a frequency f comes with sin(pi f / fs) / (pi f / fs) (textbook, zero-order hold).
    """
    mirrored_hz = sample_rate_hz - frequency_hz
    held_db = 20 * math.log10(mirrored_hz / frequency_hz)
    return held_db + low_pass_loss_db(mirrored_hz) - low_pass_loss_db(frequency_hz)
