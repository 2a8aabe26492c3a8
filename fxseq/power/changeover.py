"""Several supplies on one prop: what flows between them where nothing parts them, and which
feeds where diodes do.
"""

import math
from collections.abc import Sequence

import numpy as np

from fxseq.power.circuits import pack_of, resistance_ohm
from fxseq.power.parts import parts
from fxseq.power.played import amplifier_load
from fxseq.power.rail import Load, Source
from fxseq.power.regulators import board_load
from fxseq.sequence.model import Sequence as Prop
from fxseq.sequence.model import Supply

WIRES_OHM = 0.05
"""What wires and contacts have at the least. Common practice, no source. [ohm]"""
_MOSTLY = 0.5
_GRID = 200
_HALVINGS = 8
_LEAST_A = 1e-3


def joined_v(sources: Sequence[Source], load: Load) -> float:
    """Rail of several sources on one load; NaN where it collapses. A source without a diode needs
    resistance. [V]

    The highest voltage at which they give what the load takes: found from above in steps of a
    200th, then bracketed. What holds over less than such a step, just short of collapse, counts as
    collapsed.
    """
    from scipy.optimize import brentq

    def missing_a(volts: float) -> float:
        return float(load.at(volts)[0]) - sum(source.at(volts)[0] for source in sources)

    highest_v = above_v = max(source.open_v for source in sources)
    for volts in np.linspace(highest_v, highest_v / _GRID, _GRID).tolist():
        if missing_a(volts) <= 0:
            if volts == above_v:
                return above_v
            return float(brentq(missing_a, volts, above_v, xtol=1e-12))
        above_v = volts
    return math.nan


def idle_share(
    sequence: Prop, cells: Supply, cells_v: float, wall: Supply, wall_v: float
) -> tuple[float, float]:
    """What the idle prop takes, [A], and the share of it that the cells give; as if it took a
    milliampere where less is described.
    """
    diode = parts().diodes["schottky"].diode
    sources = [
        Source(volts, resistance_ohm(supply).typical, diode)
        for volts, supply in ((cells_v, cells), (wall_v, wall))
    ]
    resting_a = 0.0
    if sequence.amplifier:
        resting_a = sequence.amplifier.idle_current_ma / 1000
    idle = board_load(sequence) + amplifier_load(sequence, resting_a, cells_v)
    if float(idle.at(cells_v)[0]) < _LEAST_A:
        idle = Load(current_a=_LEAST_A)
    rail_v = joined_v(sources, idle)
    if not math.isfinite(rail_v):
        return 0.0, 0.0
    of_cells_a, of_wall_a = (source.at(rail_v)[0] for source in sources)
    taken_a = of_cells_a + of_wall_a
    if taken_a == 0:
        return 0.0, 0.0
    return taken_a, of_cells_a / taken_a


def used_up_before(sequence: Prop, cells: Supply, wall: Supply, wall_v: float) -> float:
    """How far cells are used up, 0..1, before they give less than half of what the idle prop
    takes; 0 where their kind is not known.
    """
    pack = pack_of(cells)
    if pack is None:
        return 0.0
    low = 0.0
    high = 1.0
    for _ in range(_HALVINGS):
        depth = (low + high) / 2
        _, share = idle_share(sequence, cells, float(pack.open_v(depth)), wall, wall_v)
        if share > _MOSTLY:
            low = depth
        else:
            high = depth
    return low
