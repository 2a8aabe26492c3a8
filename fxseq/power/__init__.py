"""Electricity: LEDs, resistors, switches and wires, what light and sound take from a supply over time, and what is left of its voltage.

May import `sequence`. Pure functions of change points and part models; the amplifier's current comes in as an array (`acoustics`).
"""
from fxseq.power.circuits import Circuit, circuits
from fxseq.power.current import Draw, draw, group_current_ma, supply_findings
from fxseq.power.findings import adaptor_findings, circuit_findings, rail_findings
from fxseq.power.played import PlayedRail, played_load, played_rail
from fxseq.power.schedule import Connector, GroupWiring, Schedule, SupplyLine, schedule
from fxseq.power.steps import Steps, align, lit_share, steps_of_blocks, total

__all__ = [
    "Circuit", "Connector", "Draw", "GroupWiring", "PlayedRail", "Schedule", "Steps", "SupplyLine", "adaptor_findings", "align", "circuit_findings",
    "circuits", "draw", "group_current_ma", "lit_share", "played_load", "played_rail", "rail_findings", "schedule", "steps_of_blocks",
    "supply_findings", "total",
]  # fmt: skip
