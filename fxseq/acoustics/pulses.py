"""Sound that leaves a board as pulses, behind a low-pass of one resistor and one capacitor."""

import math

from fxseq.sequence.pins import LOW_PASS_F, LOW_PASS_OHM


def corner_hz() -> float:
    """Frequency at which the low-pass takes half of the power: 1 / (2 pi R C), textbook. [Hz]"""
    return 1 / (2 * math.pi * LOW_PASS_OHM * LOW_PASS_F)


def low_pass_loss_db(frequency_hz: float) -> float:
    """What the low-pass takes at a frequency: 10 lg(1 + (f / corner)^2), textbook. [dB]"""
    return 10 * math.log10(1 + (frequency_hz / corner_hz()) ** 2)


def image_below_db(frequency_hz: float, sample_rate_hz: float) -> float:
    """How far the mirror image of a tone, at the sample rate less its frequency, lies below it
    behind the low-pass. [dB]

    frequency_hz: of the tone, above 0 and below half of the rate. Each sample is held until the
    next one, so a frequency f comes with sin(pi f / fs) / (pi f / fs) (textbook, zero-order hold).
    """
    mirrored_hz = sample_rate_hz - frequency_hz
    held_db = 20 * math.log10(mirrored_hz / frequency_hz)
    return held_db + low_pass_loss_db(mirrored_hz) - low_pass_loss_db(frequency_hz)
