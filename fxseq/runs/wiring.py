"""The wiring of a prop, from its description alone."""

import math

import numpy as np

from fxseq.acoustics import output_voltage_v, supply_current_a
from fxseq.power import Schedule, voltages_of, wiring_schedule
from fxseq.power.regulators import fed
from fxseq.sequence import model as m

_FULL_SCALE = 32767
_PERIOD = 1000


def wiring_of(sequence: m.Sequence) -> Schedule:
    """The schedule, with the amplifier at the loudest tone that the board can put out. Raises
    ValueError without a supply.
    """
    return wiring_schedule(sequence, loudest_ma(sequence))


def loudest_ma(sequence: m.Sequence) -> dict[str, float]:
    """Highest current of the amplifier where it is fed, at that tone, by supply; empty where
    amplifier or speaker is not described. [mA]
    """
    if sequence.amplifier is None or sequence.speaker is None:
        return {}
    return {
        name: loudest_ma_at(sequence, fed("amplifier", sequence, voltages_of(supply)).fresh_v)
        for name, supply in sequence.supplies.items()
    }


def loudest_ma_at(sequence: m.Sequence, supply_v: float) -> float:
    """Mean current of the amplifier at a sine of full scale, clipped where its feed ends. [mA]"""
    amplifier = sequence.amplifier
    speaker = sequence.speaker
    sine = np.round(_FULL_SCALE * np.sin(math.tau * np.arange(_PERIOD) / _PERIOD)).astype(np.int16)
    volts, _ = output_voltage_v(sine, amplifier, supply_v, speaker.impedance_ohm)
    return 1000 * float(supply_current_a(volts, speaker, amplifier, supply_v, _PERIOD)[0])
