"""Electricity: LEDs, resistors, switches and wires, what light and sound take from a supply over
time, and what is left of its voltage.

May import `sequence`. Pure functions of change points and part models; the amplifier's current
comes in as an array (`acoustics`).
"""

from fxseq.power.circuits import (
    Circuit,
    changeover_diode,
    circuits,
    fresh_v,
    most_ma,
    pack_of,
    resistance_ohm,
    stops_at_v,
    voltages_of,
)
from fxseq.power.steps import (
    Draw,
    Steps,
    align,
    draw,
    group_current_ma,
    lit_share,
    steps_of_blocks,
    total,
)
from fxseq.power.lines import SupplyLine, supply_lines
from fxseq.power.netlist import Netlist, netlist
from fxseq.power.played import (
    PlayedRail,
    amplifier_load,
    is_smoothed,
    played_load,
    played_rail,
    pulsed_rail,
)
from fxseq.power.rail import FollowedCurrent, Load
from fxseq.power.regulators import Regulation, before, board_load, needed_v, regulation
from fxseq.power.run_time import Phase, RunTime, shares
from fxseq.power.schedule import Connector, GroupWiring, Schedule, wiring_schedule

__all__ = [
    "Circuit", "Connector", "Draw", "FollowedCurrent", "GroupWiring", "Load", "Netlist", "Phase",
    "PlayedRail", "Regulation", "RunTime", "Schedule", "Steps", "SupplyLine", "align",
    "amplifier_load", "before", "board_load", "changeover_diode", "circuits", "draw", "fresh_v",
    "group_current_ma", "is_smoothed", "lit_share", "most_ma", "needed_v", "netlist", "pack_of",
    "played_load", "played_rail", "pulsed_rail", "regulation", "resistance_ohm", "shares",
    "steps_of_blocks", "stops_at_v", "supply_lines", "total", "voltages_of", "wiring_schedule",
]  # fmt: skip
