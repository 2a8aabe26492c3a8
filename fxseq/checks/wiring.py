"""The wiring of a prop, from its description alone."""
import math

import numpy as np

from fxseq.acoustics import output_voltage_v, supply_current_a
from fxseq.hazards import adaptor_finding, lithium_finding
from fxseq.power import Circuit, Schedule, circuit_findings, line_findings, supply_lines, wiring_schedule
from fxseq.power.circuits import voltages_of
from fxseq.power.regulators import fed
from fxseq.sequence import Finding
from fxseq.sequence import model as m

_FULL_SCALE = 32767
_PERIOD = 1000

HEAT = ("Resistors, switches and drivers get warm: give them air, keep them away from plastic, foam and cells, and check how hot they are after ten "
        "minutes fully lit.")
FUSE = "A fuse protects only wire that is as thick as its line demands: keep thinner leads to the groups short, and put each fuse right at its supply."
CODES = "None of this replaces local codes, the rules of the venue or licensed practice, and nothing here certifies a prop."


def wiring_of(sequence: m.Sequence) -> Schedule:
    """The schedule, with the amplifier at the loudest tone that the board can put out. Raises ValueError without a supply."""
    return wiring_schedule(sequence, _loudest_ma(sequence))


def wiring_findings(sequence: m.Sequence, wired: dict[str, Circuit]) -> list[Finding]:
    """What is to be said against groups as they are wired, supplies as they are joined, and all of it at once. wired: its circuits."""
    return [*circuit_findings(sequence, wired), *line_findings(supply_lines(sequence, wired, _loudest_ma(sequence)))]


def _loudest_ma(sequence: m.Sequence) -> dict[str, float]:
    """Of the amplifier where it is fed, by supply; empty where amplifier or speaker is not described. [mA]"""
    described = sequence.supplies if sequence.amplifier and sequence.speaker else {}
    return {name: loudest_ma(sequence, fed("amplifier", sequence, voltages_of(supply)).fresh_v) for name, supply in described.items()}


def loudest_ma(sequence: m.Sequence, supply_v: float) -> float:
    """Mean current of the amplifier at a sine of full scale, clipped where its feed ends. [mA]"""
    amplifier, speaker = sequence.amplifier, sequence.speaker
    sine = np.round(_FULL_SCALE * np.sin(math.tau * np.arange(_PERIOD) / _PERIOD)).astype(np.int16)
    volts, _ = output_voltage_v(sine, amplifier, supply_v, speaker.impedance_ohm, sequence.board.sound_bits)
    return 1000 * float(supply_current_a(volts, speaker, amplifier, supply_v, _PERIOD)[0])


def wiring_cautions(sequence: m.Sequence) -> list[str]:
    """What goes with these supplies, and with any wiring."""
    supplies = sequence.supplies.values()
    lithium = [lithium_finding("").remedy] if any(supply.cell == "li_ion" for supply in supplies) else []
    mains = [adaptor_finding("").remedy] if any(supply.kind == "wall" for supply in supplies) else []
    return [*lithium, *mains, HEAT, FUSE, CODES]
