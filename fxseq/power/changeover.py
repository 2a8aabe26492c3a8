"""Several supplies on one prop: what flows between them where nothing parts them, and which feeds where diodes do."""
import math
from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from fxseq.power.circuits import fresh_v, pack_of, resistance_ohm, voltages_of
from fxseq.power.parts import parts
from fxseq.power.played import amplifier_load
from fxseq.power.rail import Load, Source
from fxseq.power.regulators import board_load, needed_v
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Sequence as Prop
from fxseq.sequence.model import Supply
from fxseq.sequence.quantities import amount, number

_WIRES_OHM = 0.05
"""What wires and contacts have at the least. Common practice, no source. [ohm]"""
_SHARED = 0.1
_MOSTLY = 0.5
_GRID, _HALVINGS = 200, 8
_LEAST_A = 1e-3

EXPLAINED = explained(
    Explanation(
        "power.back_feed", "Does anything stop one supply from feeding the other?",
        "Two supplies on one rail push current into each other unless a switch or diodes keep them apart. A finding where the file has several supplies "
        "and does not say what keeps them apart. It gives the most that would flow: from a fresh supply into a flat one.",
        'Lessons In Electric Circuits III, "Diode switching"', "a handbook",
        "It is certain that the file does not say. What is really soldered is not known here. Cells charged by an adaptor may leak or burn: where in "
        "doubt, ask somebody licensed.",
        formula="{I} = ({Vhigh} - {Vlow}) / {R}",
        symbols={"I": "current from one into the other, in A", "Vhigh": "voltage of the one when fresh, in V",
                 "Vlow": "voltage of the other when flat, in V",
                 "R": f"resistance of both together, at least {_WIRES_OHM:g} ohm, in ohm"}),
    Explanation(
        "power.cells_first", "Do the cells run down although the adaptor is plugged in?",
        "With a diode in each of two supplies, the higher voltage feeds the prop. The share that each gives to the idle prop is worked out for fresh "
        f"cells and the adaptor at its lowest voltage. A finding where the cells give more than {_SHARED:.0%}. Where the file says what kind of cells "
        "they are, it also says how far they are used up before they give less than half.",
        "two diodes on one rail: the higher source feeds it", "arithmetic",
        "Certain, except where the two voltages are within a few tenths of a volt: there both share the load. With light and sound on, the cells sag "
        "and the adaptor gives more.",
        formula="{k} = {Icells} / {I}",
        symbols={"k": "share of it that fresh cells give", "Icells": "current that fresh cells give, in mA", "I": "current that the idle prop takes, in mA",
                 "Vcells": "voltage of the fresh cells, in V", "Vwall": "lowest voltage of the adaptor, in V"}),
)


def changeover_findings(sequence: Prop) -> tuple[Finding, ...]:
    """What is to be said of several supplies as they are joined."""
    return (*_back_feed(sequence), *_cells_first(sequence))


def joined_v(sources: Sequence[Source], load: Load) -> float:
    """Rail of several sources on one load; NaN where it collapses. A source without a diode needs resistance. [V]

    The highest voltage at which they give what the load takes: found from above in steps of a 200th, then bracketed. What holds over less than
    such a step, just short of collapse, counts as collapsed.
    """
    from scipy.optimize import brentq

    def missing_a(volts: float) -> float:
        return float(load.at(volts)[0]) - sum(source.at(volts)[0] for source in sources)

    highest_v = above_v = max(source.open_v for source in sources)
    for volts in np.linspace(highest_v, highest_v / _GRID, _GRID).tolist():
        if missing_a(volts) <= 0:
            return above_v if volts == above_v else float(brentq(missing_a, volts, above_v, xtol=1e-12))
        above_v = volts
    return math.nan


def _back_feed(sequence: Prop) -> Iterator[Finding]:
    if len(sequence.supplies) < 2 or sequence.changeover is not None:
        return
    spans = {name: voltages_of(supply, needed_v(sequence)) for name, supply in sequence.supplies.items()}
    ohms = {name: resistance_ohm(supply).low for name, supply in sequence.supplies.items()}

    def flow(pair: tuple[str, str]) -> tuple[float, float]:
        joined_ohm = max(ohms[pair[0]] + ohms[pair[1]], _WIRES_OHM)
        return (spans[pair[0]].fresh_v - spans[pair[1]].flat_v) / joined_ohm, joined_ohm

    high, low = max(permutations(spans, 2), key=flow)
    current_a, joined_ohm = flow((high, low))
    yield EXPLAINED["power.back_feed"].finding(
        Weight.WARNING, "supplies",
        f"the file does not say what keeps them apart: up to {amount(current_a, 'A', 2)} would flow from '{high}' into '{low}'",
        "one does not feed the other",
        'Fit a changeover switch or a switched socket (changeover = "switch"), or a diode in each (changeover = "diodes"). An adaptor that feeds into '
        "cells charges them without a charger: they may leak or burn.",
        {"I": f"{number(current_a)} A", "Vhigh": f"{number(spans[high].fresh_v, 6)} V", "Vlow": f"{number(spans[low].flat_v, 6)} V",
         "R": f"{number(joined_ohm, 4)} ohm"})


def _cells_first(sequence: Prop) -> Iterator[Finding]:
    """Of two sources over diodes the higher one feeds the rail: fresh cells above the adaptor's voltage run down while it is plugged in."""
    if sequence.changeover != "diodes":
        return
    walls = {name: fresh_v(supply).low for name, supply in sequence.supplies.items() if supply.kind == "wall"}
    for name, supply in sequence.supplies.items():
        if supply.kind == "cells" and walls:
            yield from _first(sequence, name, supply, min(walls, key=walls.__getitem__))


def _first(sequence: Prop, name: str, supply: Supply, wall: str) -> Iterator[Finding]:
    wall_v, cells_v = fresh_v(sequence.supplies[wall]).low, fresh_v(supply).high
    idle, share = _shares(sequence, supply, cells_v, sequence.supplies[wall], wall_v)
    if share <= _SHARED:
        return
    pack = pack_of(supply)
    until = ""
    if pack is not None:
        low, high = 0.0, 1.0
        for _ in range(_HALVINGS):
            depth = (low + high) / 2
            gives_most = _shares(sequence, supply, float(pack.open_v(depth)), sequence.supplies[wall], wall_v)[1] > _MOSTLY
            low, high = (depth, high) if gives_most else (low, depth)
        until = f" until they are {low:.0%} used up" if low else ""
    yield EXPLAINED["power.cells_first"].finding(
        Weight.WARNING, f"supply '{name}'",
        f"{amount(cells_v, 'V')} when fresh, so it gives {share:.0%} of what the idle prop takes while '{wall}' is plugged in{until}",
        f"{_SHARED:.0%}; '{wall}' has at least {amount(wall_v, 'V')}",
        'Use a changeover switch or a switched socket (changeover = "switch"), or an adaptor of a higher voltage.',
        {"k": f"{share:.3f}", "Icells": f"{number(1000 * share * idle)} mA", "I": f"{number(1000 * idle)} mA",
         "Vcells": f"{number(cells_v)} V", "Vwall": f"{number(wall_v)} V"})


def _shares(sequence: Prop, cells: Supply, cells_v: float, wall: Supply, wall_v: float) -> tuple[float, float]:
    """What the idle prop takes, [A], and the share of it that the cells give; as if it took a milliampere where less is described."""
    diode = parts().diodes["schottky"].diode
    sources = [Source(volts, resistance_ohm(supply).typical, diode) for volts, supply in ((cells_v, cells), (wall_v, wall))]
    resting_a = sequence.amplifier.idle_current_ma / 1000 if sequence.amplifier else 0.0
    idle = board_load(sequence) + amplifier_load(sequence, resting_a, cells_v)
    if float(idle.at(cells_v)[0]) < _LEAST_A:
        idle = Load(current_a=_LEAST_A)
    rail_v = joined_v(sources, idle)
    given_a = [source.at(rail_v)[0] for source in sources] if math.isfinite(rail_v) else [0.0, 0.0]
    return sum(given_a), given_a[0] / sum(given_a) if sum(given_a) else 0.0
