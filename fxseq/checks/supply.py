"""Supplies: what they are, how they are joined and protected, and what becomes of them while the prop plays."""
import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations

import numpy as np

from fxseq.checks.check import PRACTICE, check
from fxseq.checks.scopes import FED, FILE, LINE, SUPPLY, WIRING, Described, Fed, Supplied
from fxseq.power import RunTime, SupplyLine, regulation, stops_at_v
from fxseq.power.changeover import WIRES_OHM, idle_share, used_up_before
from fxseq.power.circuits import fresh_v, most_ma, pack_of, resistance_ohm, voltages_of
from fxseq.power.lines import LARGEST_FUSE_A
from fxseq.power.parts import parts
from fxseq.power.regulators import Regulation, needed_v
from fxseq.power.sources import ADAPTOR_SHARE, DAMP_V, TOUCH_V
from fxseq.power.sources import adaptor_margin as margin
from fxseq.power.switches import BROWN_OUT_V, FULL_SPEED_V
from fxseq.power.wires import FUSE_SHARE, GAUGES, TRIP_RATIO, inrush_i2t_a2s, inrush_peak_a
from fxseq.runs.pulses import PERIODS, pulsed_v
from fxseq.sequence import Finding, Sequence, Supply, Weight
from fxseq.sequence.quantities import amount, number, quantity

_SHARED = 0.1
"""Share of the idle current that cells may give while the adaptor is plugged in. Common practice, no source."""
_LEFT = 0.2
_VOLTAGE_OFF = 0.15
_WARMING_S, _SHORT_S = 10.0, 0.05
_LONG_H = 2000.0
"""Hours from which self-discharge, which is not counted, would matter."""
_NAMED_DRAINS = 3
HEAT = ("Resistors, switches and drivers get warm: give them air, keep them away from plastic, foam and cells, and check how hot they are after ten "
        "minutes fully lit.")
FUSE = "A fuse protects only wire that is as thick as its line demands: keep thinner leads to the groups short, and put each fuse right at its supply."
CODES = "None of this replaces local codes, the rules of the venue or licensed practice, and nothing here certifies a prop."
_DANGER = {"cells": "Overloaded cells get hot and may leak", "wall": "An overloaded adaptor gets hot or cuts out"}
_CELLS = {"alkaline_aa": "alkaline AA", "nimh_aa": "NiMH AA", "li_ion": "Li-ion", "alkaline_9v": "alkaline 9 V"}
_GENERIC = "generic parts of this program"
_DROPOUT = "dropout_v of the regulator, or that of a generic part"
_RESETS = (
    f"8-bit chips reset at {', '.join(f'{volts:g}' for volts in BROWN_OUT_V['8-bit chip'])} V, depending on their settings, and need {FULL_SPEED_V:g} V "
    f"for 16 MHz or more (from memory); chips of 3.3 V reset at {' to '.join(f'{volts:g}' for volts in BROWN_OUT_V['chip of 3.3 V'])} V (from memory); a "
    "regulator in front of the chip adds its own dropout.")
_AS_DATA_SHEET = "The figure is as good as the prop file. The limit is that of common parts; the data sheet of your own part decides."


@check(
    WIRING, "power.back_feed", "Does anything stop one supply from feeding the other?",
    "Two supplies on one rail push current into each other unless a switch or diodes keep them apart. A finding where the file has several supplies "
    "and does not say what keeps them apart. It gives the most that would flow: from a fresh supply into a flat one.",
    'Lessons In Electric Circuits III, "Diode switching"', "a handbook",
    "It is certain that the file does not say. What is really soldered is not known here. Cells charged by an adaptor may leak or burn: where in "
    "doubt, ask somebody licensed.",
    formula="{I} = ({Vhigh} - {Vlow}) / {R}",
    symbols={"I": "current from one into the other, in A", "Vhigh": "voltage of the one when fresh, in V",
             "Vlow": "voltage of the other when flat, in V",
             "R": f"resistance of both together, at least {WIRES_OHM:g} ohm, in ohm"},
)
def back_feed(wiring: Described) -> Iterator[Finding]:
    sequence = wiring.sequence
    if len(sequence.supplies) < 2 or sequence.changeover is not None:
        return
    spans = {name: voltages_of(supply, needed_v(sequence)) for name, supply in sequence.supplies.items()}
    ohms = {name: resistance_ohm(supply).low for name, supply in sequence.supplies.items()}

    def flow(pair: tuple[str, str]) -> tuple[float, float]:
        joined_ohm = max(ohms[pair[0]] + ohms[pair[1]], WIRES_OHM)
        return (spans[pair[0]].fresh_v - spans[pair[1]].flat_v) / joined_ohm, joined_ohm

    high, low = max(permutations(spans, 2), key=flow)
    current_a, joined_ohm = flow((high, low))
    yield back_feed.finding(
        Weight.WARNING, "supplies",
        f"the file does not say what keeps them apart: up to {amount(current_a, 'A', 2)} would flow from '{high}' into '{low}'",
        "one does not feed the other",
        'Fit a changeover switch or a switched socket (changeover = "switch"), or a diode in each (changeover = "diodes"). An adaptor that feeds into '
        "cells charges them without a charger: they may leak or burn.",
        {"I": f"{number(current_a)} A", "Vhigh": f"{number(spans[high].fresh_v, 6)} V", "Vlow": f"{number(spans[low].flat_v, 6)} V",
         "R": f"{number(joined_ohm, 4)} ohm"})


@check(
    WIRING, "power.cells_first", "Do the cells run down although the adaptor is plugged in?",
    "With a diode in each of two supplies, the higher voltage feeds the prop. The share that each gives to the idle prop is worked out for fresh "
    f"cells and the adaptor at its lowest voltage. A finding where the cells give more than {_SHARED:.0%}. Where the file says what kind of cells "
    "they are, it also says how far they are used up before they give less than half.",
    "two diodes on one rail: the higher source feeds it", "arithmetic",
    "Certain, except where the two voltages are within a few tenths of a volt: there both share the load. With light and sound on, the cells sag "
    "and the adaptor gives more.",
    formula="{k} = {Icells} / {I}",
    symbols={"k": "share of it that fresh cells give", "Icells": "current that fresh cells give, in mA", "I": "current that the idle prop takes, in mA",
             "Vcells": "voltage of the fresh cells, in V", "Vwall": "lowest voltage of the adaptor, in V"},
)
def cells_first(wiring: Described) -> Iterator[Finding]:
    """Of two sources over diodes the higher one feeds the rail: fresh cells above the adaptor's voltage run down while it is plugged in."""
    sequence = wiring.sequence
    walls = {name: fresh_v(supply).low for name, supply in sequence.supplies.items() if supply.kind == "wall"}
    if sequence.changeover != "diodes" or not walls:
        return
    wall = min(walls, key=walls.__getitem__)
    for name, supply in sequence.supplies.items():
        if supply.kind == "cells":
            yield from _before(sequence, name, supply, wall)


def _before(sequence: Sequence, name: str, supply: Supply, wall: str) -> Iterator[Finding]:
    """Where these cells go before this adaptor."""
    wall_v, cells_v = fresh_v(sequence.supplies[wall]).low, fresh_v(supply).high
    idle_a, share = idle_share(sequence, supply, cells_v, sequence.supplies[wall], wall_v)
    if share <= _SHARED:
        return
    used_up = used_up_before(sequence, supply, sequence.supplies[wall], wall_v)
    until = f" until they are {used_up:.0%} used up" if used_up else ""
    yield cells_first.finding(
        Weight.WARNING, f"supply '{name}'",
        f"{amount(cells_v, 'V')} when fresh, so it gives {share:.0%} of what the idle prop takes while '{wall}' is plugged in{until}",
        f"{_SHARED:.0%}; '{wall}' has at least {amount(wall_v, 'V')}",
        'Use a changeover switch or a switched socket (changeover = "switch"), or an adaptor of a higher voltage.',
        {"k": f"{share:.3f}", "Icells": f"{number(1000 * share * idle_a)} mA", "I": f"{number(1000 * idle_a)} mA",
         "Vcells": f"{number(cells_v)} V", "Vwall": f"{number(wall_v)} V"})


@check(
    SUPPLY, "power.dropout", "Does the regulator get enough voltage to hold its output?",
    "A regulator that does not step up needs a higher voltage than it puts out; with less, its output falls with its input. A fault where the fresh "
    f"supply is too low; a warning where an adaptor at its lowest, or the rail while the prop plays, is too low. A note where more than {_LEFT:.0%} "
    "of the cells' charge would be left unused.",
    _DROPOUT, "data sheets",
    "The sum is exact. Dropout rises with current, and generic parts need less than this at small currents. Cells also sag: power.rail and the run "
    "time count that.",
    formula="{V} < {Vout} + {Vdrop}",
    symbols={"V": "voltage at its input, in V", "Vout": "output_v of the regulator, in V", "Vdrop": "dropout: what it needs above that, in V"},
)
def dropout(supplied: Supplied) -> Iterator[Finding]:
    """By the description alone; `dropout_played` says it of a run."""
    found = regulation(supplied.sequence)
    if found is None or found.part.kind == "step_up":
        return
    fresh, pack = fresh_v(supplied.supply), pack_of(supplied.supply)
    if fresh.low < found.holds_from_v:
        is_typical = fresh.typical < found.holds_from_v
        volts = fresh.typical if is_typical else fresh.low
        which = "fresh, without load," if is_typical else "at its lowest"
        yield _too_low(Weight.FAULT if is_typical else Weight.WARNING, supplied.subject,
                    f"{amount(volts, 'V')} {which} leave its output at {amount(float(found.given_v(volts)), 'V')}", volts, found)
    elif pack is not None and voltages_of(supplied.supply).flat_v < found.holds_from_v:
        depth = np.linspace(0, 1, 101)
        left = 1 - float(depth[np.argmax(pack.open_v(depth) < found.holds_from_v)])
        if pack.open_v(1.0) < found.holds_from_v and left > _LEFT:
            yield _too_low(Weight.NOTE, supplied.subject, f"without load, it holds its output until the cells are {1 - left:.0%} used up", float(pack.open_v(1.0)), found)


def _too_low(weight: Weight, subject: str, figure: str, volts: float, found: Regulation) -> Finding:
    return dropout.finding(
        weight, subject, figure, f"{amount(found.holds_from_v, 'V')} for an output of {quantity(found.output_v, 'V')}",
        'Use more cells in series or a higher supply voltage, a regulator that needs less (kind = "low_dropout"), or a converter that steps up.',
        {"V": f"{number(volts, 4)} V", "Vout": quantity(found.output_v, "V"), "Vdrop": f"{number(found.holds_from_v - found.output_v)} V"},
        "" if found.part.dropout_v is not None else found.kind.source)


@check(
    SUPPLY, "power.step_up", "Is the supply below the output of a step-up converter?",
    "A converter that only steps up passes a higher voltage straight on to whatever it feeds. A fault where the fresh supply has more than "
    "output_v; a warning where it does only at the top of its tolerance.",
    "circuit of a step-up converter: coil and diode lead from input to output", "arithmetic",
    "Certain for plain converters. One that steps up and down, or that disconnects by its data sheet, does not do so.",
    formula="{V} > {Vout}", symbols={"V": "voltage of the fresh supply, in V", "Vout": "output_v of the regulator, in V"},
)
def step_up(supplied: Supplied) -> Iterator[Finding]:
    """A converter that steps up lets a higher voltage through."""
    found, fresh = regulation(supplied.sequence), fresh_v(supplied.supply)
    if found is None or found.part.kind != "step_up" or fresh.high <= found.output_v:
        return
    is_typical = fresh.typical > found.output_v
    volts = fresh.typical if is_typical else fresh.high
    yield step_up.finding(
        Weight.FAULT if is_typical else Weight.WARNING, supplied.subject,
        f"{amount(volts, 'V')} {'fresh' if is_typical else 'at its highest'}, which goes straight through", quantity(found.output_v, "V"),
        'Use fewer cells in series or a lower supply voltage, or a regulator that steps down (kind = "step_down").',
        {"V": f"{number(volts, 4)} V", "Vout": quantity(found.output_v, "V")})


@check(
    SUPPLY, "power.pack_voltage", "Does the voltage in the file match the cells in the file?",
    "The voltage of a fresh pack is that of one cell times the number of cells in series. All figures use that voltage; voltage_v is only compared "
    f"with it. A finding where voltage_v is off by more than {_VOLTAGE_OFF:.0%}.",
    _GENERIC, "data sheets", "Good enough to find a wrong number of cells; not to tell a fresh cell from a used one.",
    formula="{Vpack} = {n} * {Vcell}",
    symbols={"Vpack": "voltage of the fresh pack, in V", "n": "cells in series", "Vcell": "voltage of one fresh cell, in V",
             "V": "voltage_v of the supply, in V"},
)
def pack_voltage(supplied: Supplied) -> Iterator[Finding]:
    pack = pack_of(supplied.supply)
    if pack is None or supplied.supply.voltage_v is None:
        return
    pack_v = pack.fresh_v.typical
    if abs(supplied.supply.voltage_v / pack_v - 1) > _VOLTAGE_OFF:
        yield pack_voltage.finding(
            Weight.WARNING, supplied.subject, f"voltage_v is {supplied.supply.voltage_v:g} V",
            f"{amount(pack_v, 'V')} for {supplied.supply.cells_in_series} fresh {_cells(supplied.supply)} in series",
            "Correct voltage_v, cell or cells_in_series.",
            {"Vpack": f"{number(pack_v)} V", "n": f"{supplied.supply.cells_in_series}", "Vcell": f"{number(pack_v / supplied.supply.cells_in_series)} V",
             "V": f"{supplied.supply.voltage_v:g} V"}, pack.cell.source)


@check(
    SUPPLY, "power.cell_current", "Does the file ask more of the cells than their kind can give?",
    "Each kind of cell has a current that it can give for long; larger cells, or cells in parallel, give more. A warning where maximum_current_ma "
    "is above it.",
    PRACTICE, "common practice",
    "A rule of thumb: cells made for high currents give more, as their data sheet says; old and cold ones give less.",
    formula="{I} > {Imax}",
    symbols={"I": "maximum_current_ma of the supply, in mA", "Imax": "current that such cells can give, in mA"},
)
def cell_current(supplied: Supplied) -> Iterator[Finding]:
    pack = pack_of(supplied.supply)
    if pack is not None and supplied.supply.maximum_current_ma is not None and supplied.supply.maximum_current_ma > pack.maximum_ma:
        yield cell_current.finding(
            Weight.WARNING, supplied.subject, f"maximum_current_ma is {supplied.supply.maximum_current_ma:g} mA",
            f"{pack.maximum_ma:.4g} mA from {_cells(supplied.supply)}",
            "Delete maximum_current_ma, or put more rows in parallel (cells_in_parallel). Keep a higher figure only where the cells' own data sheet "
            "states it: overloaded cells get hot, leak or burn.",
            {"I": f"{supplied.supply.maximum_current_ma:g} mA", "Imax": f"{number(pack.maximum_ma, 4)} mA"}, pack.cell.source)


@check(
    SUPPLY, "power.touch", "Is the voltage low enough to touch?",
    f"A prop is held in damp hands. A note where a supply's voltage is above {DAMP_V:g} V, the highest that may be touched in damp places; a warning "
    f"above {TOUCH_V:g} V, the highest for lamps that are touched in other than ordinary conditions.",
    "EN 60204-1, 6.4.1, and IEC 60598-1:2008, 8.2.3, as quoted", "a standard",
    "The limits come from quotations; the standards themselves, which are for machines and for lamps, were not read. They are no permission: local "
    "codes and licensed practice decide.",
    formula="{V} > {Vmax}", symbols={"V": "voltage of the supply when fresh, in V", "Vmax": "highest voltage that may be touched, in V"},
)
def touch(supplied: Supplied) -> Iterator[Finding]:
    volts = supplied.supply.voltage_v or fresh_v(supplied.supply).typical
    if volts > DAMP_V:
        weight, limit_v = (Weight.WARNING, TOUCH_V) if volts > TOUCH_V else (Weight.NOTE, DAMP_V)
        yield touch.finding(
            weight, supplied.subject, f"{volts:.4g} V", f"{limit_v:g} V",
            "Use a supply of lower voltage, or leave the wiring to somebody licensed: a prop is touched with damp hands.",
            {"V": f"{volts:.4g} V", "Vmax": f"{limit_v:g} V"})


def _cells(supply: Supply) -> str:
    """The kind of its cells in words."""
    return f"{_CELLS[supply.cell]} cells" if supply.cell else "cells of this curve"


@check(
    SUPPLY, "power.outlet_current", "Does the file ask more of a socket than its kind can give?",
    "Each kind of socket can give a certain current. A warning where maximum_current_ma is above it. A note where it is above what the socket of a "
    "computer gives before a device asks for more; a bare lead never asks.",
    _GENERIC, "data sheets", "As good as its source, which the finding names; many sockets give more, weak ones less.",
    formula="{I} > {Imax}", symbols={"I": "maximum_current_ma of the supply, in mA", "Imax": "current that the socket can give, in mA"},
)
def outlet_current(supplied: Supplied) -> Iterator[Finding]:
    if supplied.supply.outlet is None:
        return
    outlet, rated_ma = parts().outlets[supplied.supply.outlet], most_ma(supplied.supply)
    if rated_ma > outlet.maximum_ma:
        yield outlet_current.finding(
            Weight.WARNING, supplied.subject, f"maximum_current_ma is {rated_ma:g} mA", f"{outlet.maximum_ma:g} mA",
            "Lower maximum_current_ma to what the socket can give, or use a stronger one.",
            {"I": f"{rated_ma:g} mA", "Imax": f"{outlet.maximum_ma:g} mA"}, outlet.source)
    elif outlet.unasked_ma is not None and rated_ma > outlet.unasked_ma:
        yield outlet_current.finding(
            Weight.NOTE, supplied.subject, f"maximum_current_ma is {rated_ma:g} mA",
            f"{outlet.unasked_ma:g} mA before a device asks for more",
            "Have the board's chip ask for more over USB, or use the socket of a charger: a computer may switch off a bare lead that takes more.",
            {"I": f"{rated_ma:g} mA", "Imax": f"{outlet.unasked_ma:g} mA"}, outlet.source)


@check(
    SUPPLY, "power.outlet_capacitor", "Does the capacitor on the rail draw too much at the moment of plugging in?",
    "An empty capacitor is a short circuit for a moment. A finding where bulk_capacitor_uf is above what may be connected to such a socket at once.",
    _GENERIC, "data sheets", "As good as its source, which the finding names; most chargers take more, computers may switch off.",
    formula="{C} > {Cmax}", symbols={"C": "bulk_capacitor_uf of the supply, in uF", "Cmax": "capacitance that may be connected at once, in uF"},
)
def outlet_capacitor(supplied: Supplied) -> Iterator[Finding]:
    """What a socket charges at once."""
    supply = supplied.supply
    outlet = parts().outlets[supply.outlet] if supply.outlet else None
    if outlet is not None and outlet.bulk_f is not None and supply.bulk_capacitor_uf * 1e-6 > outlet.bulk_f:
        yield outlet_capacitor.finding(
            Weight.WARNING, supplied.subject, f"bulk_capacitor_uf is {quantity(supply.bulk_capacitor_uf, 'uF')}", f"{outlet.bulk_f * 1e6:g} uF",
            "Limit the inrush current with a load switch, or use the socket of a charger.",
            {"C": quantity(supply.bulk_capacitor_uf, "uF"), "Cmax": f"{outlet.bulk_f * 1e6:g} uF"}, outlet.source)


@check(
    LINE, "power.line_current", "Could the supply feed everything at once?",
    "The currents of all LEDs lit at the fresh supply, of the board, and of the amplifier at the loudest tone that the board can put out are added "
    "up. A warning where LEDs and board alone are above the supply's rating; a note where they are only with the loudest tone.",
    "the supply's rating in the prop file, or that of its kind of cell or socket", "your own files",
    "The sum is right within 10 to 20 %. Whether it ever comes to that depends on the presses: power.supply_current says what was really taken.",
    formula="{Iall} = {Ilight} + {Iboard} + {Isound}; {Iall} > {Irated}",
    symbols={"Iall": "everything at once, in mA", "Ilight": "all LEDs, in mA", "Iboard": "current_ma of the board, in mA",
             "Isound": "the amplifier at the loudest tone, in mA, 0 where it is not described",
             "Irated": "maximum_current_ma of the supply, or what cells of this kind can give, in mA"},
)
def line_current(line: SupplyLine) -> Iterator[Finding]:
    if line.total_ma > line.rated_ma:
        sound = "" if line.sound_ma is None else f", {line.sound_ma:.0f} mA of it the loudest tone"
        yield line_current.finding(
            Weight.WARNING if line.light_ma + line.board_ma > line.rated_ma else Weight.NOTE, f"supply '{line.name}'",
            f"everything at once takes {line.total_ma:.0f} mA{sound}", f"{line.rated_ma:g} mA",
            "Make sure that it never comes to that, light fewer LEDs or lower their current, or choose a stronger supply.",
            {"Iall": f"{number(line.total_ma, 4)} mA", "Ilight": f"{number(line.light_ma, 4)} mA", "Iboard": f"{line.board_ma:g} mA",
             "Isound": f"{number(line.sound_ma or 0, 4)} mA", "Irated": f"{line.rated_ma:g} mA"})


@check(
    LINE, "power.line_wire", "Is there a common size of wire for a fuse that carries everything at once?",
    f"A fuse should run at {FUSE_SHARE:.0%} of its rating at the most, and its wire must carry that rating: 700 circular mils for each ampere. A "
    f"finding where even AWG {GAUGES[0]} is too thin.",
    "a maker's design guide on fuses, as quoted; tables of wire sizes", "data sheets",
    "On the safe side: the rule for wires is meant for bundles and closed cases.",
    formula="{I} > " + f"{FUSE_SHARE:g}" + " * {Ifuse}",
    symbols={"I": "current of everything at once, or the current that the fuse in the file lets pass for long, in A",
             "Ifuse": f"largest fuse that AWG {GAUGES[0]} wire allows, in A"},
)
def line_wire(line: SupplyLine) -> Iterator[Finding]:
    if line.gauge is None:
        yield line_wire.finding(
            Weight.WARNING, f"supply '{line.name}'", f"no common hook-up wire is thick enough for a fuse for {amount(line.laid_out_a, 'A')}",
            f"{amount(FUSE_SHARE * LARGEST_FUSE_A, 'A')}, with a fuse of {LARGEST_FUSE_A:g} A and AWG {GAUGES[0]} wire",
            "Share the load among several lines, each with a fuse of its own, or take less current.",
            {"I": f"{number(line.laid_out_a, 4)} A", "Ifuse": f"{LARGEST_FUSE_A:g} A"})


LITHIUM_CAUTION = (
    "Use ready-made packs with a protection circuit, a fuse at the pack, and the charger made for them; charge under supervision, away from "
    "anything that burns, between 0 and 45 degrees Celsius, and out of the prop where you can. Do not mix old and new cells or makes. Do not charge "
    "a cell that has rested below 2.5 V. Never use one that is swollen, dented or has been wet. If a cell swells, gets hot, hisses or smells: stop "
    "and get away from it. Rules for transport and venues differ: ask."
)


@check(
    FILE, "hazard.lithium", "Are there lithium cells in the prop?",
    "A short circuit, a dent or the wrong charger can set a lithium cell on fire. A note for every supply of such cells, whatever its figures.",
    "common practice; pages of cell makers and shops on the handling of lithium cells, as read", "common practice",
    "A caution that always holds. It replaces neither the rules of carriers and venues nor the advice of licensed people.",
)
def lithium(described: Described) -> Iterator[Finding]:
    """Whatever their figures."""
    for name, supply in described.sequence.supplies.items():
        if supply.cell == "li_ion":
            yield lithium.finding(Weight.NOTE, f"supply '{name}'", "lithium cells", "", LITHIUM_CAUTION)


ADAPTOR_CAUTION = (
    "Use a ready-made, regulated adaptor with the safety marks of your country and safety extra-low voltage at its plug, and check the polarity "
    "printed on it. Nothing at mains voltage belongs in a prop. Work on the mains is for licensed people."
)


@check(
    FILE, "hazard.adaptor", "Is the prop fed from the mains?",
    "Mains voltage can kill. A note for every mains adaptor, whatever its figures: only its low-voltage side belongs to the prop.",
    PRACTICE, "common practice", "A caution that always holds. Local codes and licensed practice decide; nothing here stands in for them.",
)
def adaptor(described: Described) -> Iterator[Finding]:
    """Whatever their figures."""
    for name, supply in described.sequence.supplies.items():
        if supply.kind == "wall":
            yield adaptor.finding(Weight.NOTE, f"supply '{name}'", "mains adaptor", "", ADAPTOR_CAUTION)


@check(
    FED, "power.supply_current", "Does the prop take more current than its supply is rated for?",
    "The currents of all lit LEDs, the amplifier and the board are added up over the time played; a dimmed LED counts with its mean. This is done for "
    "the fresh supply, where LEDs take most, and for the lowest voltage at which the prop works, where converters and class D amplifiers take most. A "
    "finding where the highest sum is above the supply's rating; a fault where even the mean is, at the fresh supply.",
    "the supply's rating in the prop file, or that of its kind of cell or socket", "your own files",
    "Mostly within 10 to 20 %. It counts with the voltage that is left after the supply's internal resistance; where that is not known, with the "
    "voltage of the fresh supply. It holds for the presses that were played: play the busiest ones, and see power.line_current for everything at once.",
    formula="{Ipeak} > {Irated}",
    symbols={"Ipeak": "highest current, in mA", "Imean": "mean current, in mA", 
             "Irated": "maximum_current_ma of the supply, or what cells of this kind can give, in mA"},
    measure=lambda fed: fed.load.draw.peak_ma, limit=lambda sequence, supply: most_ma(supply) if supply else None,
)
def supply_current(fed: Fed) -> Iterator[Finding]:
    """A fault where the mean exceeds it, a warning where only peaks do: those of the fresh supply, or of the flat one, which are higher where
    something takes power whatever the voltage.
    """
    taken, flat_peak_ma, rated_ma = fed.load.draw, fed.load.flat_peak_ma, most_ma(fed.supply)
    peak_ma = max(taken.peak_ma, flat_peak_ma)
    if peak_ma <= rated_ma:
        return
    flat = f", {flat_peak_ma:.0f} mA with the supply at its lowest" if flat_peak_ma > taken.peak_ma else ""
    yield supply_current.finding(
        Weight.FAULT if taken.mean_ma > rated_ma else Weight.WARNING, fed.subject,
        f"{taken.peak_ma:.0f} mA peak, {taken.mean_ma:.0f} mA on average{flat}", f"{rated_ma:g} mA",
        f"{_DANGER[fed.supply.kind]}: light fewer LEDs at a time, lower their current or the volume, or choose a stronger supply. Fit a fuse in any case.",
        {"Ipeak": f"{peak_ma:.0f} mA", "Imean": f"{taken.mean_ma:.0f} mA", "Irated": f"{rated_ma:g} mA"})


@check(
    FED, "power.adaptor_margin", "Is there a margin between the prop's peak current and the adaptor's rating?",
    f"An adaptor that runs near its rating gets hot and ages. A finding where the highest current is above {ADAPTOR_SHARE:.0%} of the "
    "rating; above the rating itself power.supply_current takes over.",
    f"{PRACTICE}; 70 to 80 % of the rating, from memory", "from memory",
    "A rule of thumb on the safe side. The adaptor's label says what it can really give.",
    formula=f"{{Ipeak}} > {ADAPTOR_SHARE:g} * {{Irated}}",
    symbols={"Ipeak": "highest current, in mA", "Irated": "maximum_current_ma of the supply, in mA"},
)
def adaptor_margin(fed: Fed) -> Iterator[Finding]:
    """Beyond the share of its rating that is planned for, yet not beyond the rating."""
    taken, rated_ma = fed.load.draw, most_ma(fed.supply)
    if fed.supply.kind != "wall" or margin(rated_ma, taken.peak_ma) >= 0 or taken.peak_ma > rated_ma:
        return
    yield adaptor_margin.finding(
        Weight.NOTE, fed.subject, f"{taken.peak_ma:.0f} mA peak",
        f"{ADAPTOR_SHARE * rated_ma:.0f} mA, {ADAPTOR_SHARE:.0%} of its rating",
        "Choose a regulated, certified adaptor of the same voltage and a higher current.",
        {"Ipeak": f"{taken.peak_ma:.0f} mA", "Irated": f"{rated_ma:g} mA"})


@check(
    FED, "power.rail", "Does the supply's voltage stay high enough while the prop plays?",
    "The currents of LEDs, amplifier and board cause a voltage drop in the supply's internal resistance. It is worked out for each moment, starting "
    "from the fresh supply. A class D amplifier takes more current as the voltage falls; a capacitor carries short peaks. A finding where the "
    "lowest voltage of a typical or a worst-case supply is below what the prop needs; a fault where that of the typical one is. Where the file does "
    "not say what the prop needs, a warning where less than half of the fresh voltage is left. 'Collapse' means that the supply cannot give that "
    "power at any voltage.",
    "minimum_v in the prop file, or what its regulator needs; without these the most power that a source can give, V^2 / (4 R)",
    "your own files",
    f"Within about 10 % for fresh cells at room temperature. Cold or half-empty cells sag more, so leave a margin. For minimum_v: {_RESETS}",
    formula="{V} = {V0} - {drop}; {Vlow} < {Vmin}",
    symbols={"V": "lowest voltage with a typical supply, in V", "Vlow": "lowest voltage with a worst-case supply, in V",
             "t": "time of that moment, in s",
             "V0": "voltage of the fresh supply with no load, in V", "R": "its internal resistance, in ohm",
             "drop": "voltage drop in that resistance and in a diode of the changeover at that moment, in V",
             "C": "capacitor across the rail, in uF", "Vmin": "voltage that the prop needs, minimum_v or what its regulator needs, in V"},
    measure=lambda fed: fed.load.rail.lowest.typical if fed.load.rail else math.inf,
    limit=lambda sequence, supply: stops_at_v(supply, sequence) if supply else None, least=True,
)
def rail(fed: Fed) -> Iterator[Finding]:
    """A fault where a typical supply falls below what the prop needs, a warning where only a worst-case one does.

    What is more than a fresh supply has is power.dropout.
    """
    supply, found, stops_at_v = fed.supply, fed.load.rail, fed.load.stops_at_v
    if found is None:
        return
    typical, low, is_dropout = found.lowest.typical, found.lowest.low, fresh_v(supply).typical < stops_at_v
    needed_v, needed = stops_at_v, quantity(stops_at_v, "V")
    if not stops_at_v:
        needed_v = fresh_v(supply).typical / 2
        needed = f"{amount(needed_v, 'V')}, half of the fresh voltage, as minimum_v is missing"
    if (typical >= needed_v and (low >= needed_v or not stops_at_v)) or is_dropout:
        return
    fault = not typical >= stops_at_v
    yield rail.finding(
        Weight.FAULT if fault else Weight.WARNING, fed.subject,
        f"{_volts(typical)} at {found.lowest_at_s:.2f} s, fresh; {_volts(low)} to {_volts(found.lowest.high)} from part to part", needed,
        "Against short peaks put a larger capacitor across the rail (bulk_capacitor_uf); against long ones lower the currents or use cells of lower "
        "resistance.",
        {"V": _volts(typical), "Vlow": _volts(low), "t": f"{found.lowest_at_s:.2f} s", "V0": f"{fresh_v(supply).typical:.2f} V",
         "R": f"{number(resistance_ohm(supply).typical)} ohm", "drop": "all" if math.isnan(typical) else f"{fresh_v(supply).typical - typical:.2f} V",
         "C": quantity(supply.bulk_capacitor_uf, "uF"), "Vmin": amount(needed_v, "V")})


def _volts(voltage_v: float) -> str:
    return "collapse" if math.isnan(voltage_v) else f"{voltage_v:.2f} V"


def _dropout_played(fed: Fed) -> Iterator[Finding]:
    """A warning of power.dropout where the rail leaves the regulator too little while the prop plays, though the prop is said to work on below."""
    found, played = regulation(fed.sequence), fed.load.rail
    if found is None or played is None or not fed.supply.minimum_v or math.isnan(played.lowest.typical):
        return
    lowest_v = played.lowest.typical
    if lowest_v < found.holds_from_v <= fresh_v(fed.supply).typical:
        yield _too_low(Weight.WARNING, fed.subject, f"{amount(lowest_v, 'V')} at {played.lowest_at_s:.2f} s leave its output at "
                       f"{amount(float(found.given_v(lowest_v)), 'V')}", lowest_v, found)


dropout_played = replace(dropout, scope=FED, judge=_dropout_played)
"""The same check, put to a run."""


@check(
    FED, "power.pulses", "Does the supply's voltage stay high enough during each pulse of dimmed light?",
    "A dimmed LED takes its full current for a part of each period. Without a capacitor that outlasts the period, the rail falls during the pulse as if "
    "the LEDs were not dimmed at all. With one, it falls only by the drop in the capacitor's own resistance. All channels are assumed to begin their "
    "pulses together, as on most chips. A finding where the pulses bring the rail below what the prop needs and the mean current does not; the "
    "capacitor named evens out the pulses.",
    "minimum_v in the prop file, or what its regulator needs; five periods are common practice, no source", "your own files",
    "Within about 10 % for fresh cells, and on the safe side where pulses are spread over the period. Capacitors on bought modules count too: add them "
    "to bulk_capacitor_uf.",
    formula="{V} < {Vmin}",
    symbols={"V": "lowest voltage during a pulse, typical supply, in V", "Vlow": "the same with a worst-case supply, in V",
             "Vmin": "voltage that the prop needs, minimum_v or what its regulator needs, in V",
             "Vmean": "lowest voltage with the mean of the pulses, in V"},
)
def pulses(fed: Fed) -> Iterator[Finding]:
    """A warning where pulses bring the rail below what the prop needs, and their mean does not; a note where only a worst-case supply's do."""
    lowest, rail = pulsed_v(fed.load), fed.load.rail
    if lowest is None or rail is None:
        return
    is_low, is_low_worst = (
        not within >= fed.load.stops_at_v and mean >= fed.load.stops_at_v
        for within, mean in ((lowest.typical, rail.lowest.typical), (lowest.low, rail.lowest.low)))
    if not (is_low or is_low_worst):
        return
    pulsed, worst = (f"{volts:.2f} V" if np.isfinite(volts) else "collapse" for volts in (lowest.typical, lowest.low))
    hertz = fed.sequence.board.dimming_hz
    needed = quantity(float(f"{1e6 * PERIODS / (hertz * resistance_ohm(fed.supply).typical):.2g}"), "uF") if hertz else "one that outlasts the pulses"
    stops = quantity(fed.load.stops_at_v, "V") if fed.load.stops_at_v else "any voltage that is left"
    yield pulses.finding(
        Weight.WARNING if is_low else Weight.NOTE, fed.subject,
        f"{pulsed} during the pulses of dimmed light, fresh; {worst} with a worst-case supply",
        stops, f"Put a capacitor across the rail ({needed}, as bulk_capacitor_uf), or lower the currents.",
        {"V": pulsed, "Vlow": worst, "Vmin": stops, "Vmean": f"{rail.lowest.typical:.2f} V"})


@check(
    FED, "power.fuse", "Does the fuse carry the current that the prop takes?",
    f"A melting fuse should run at {FUSE_SHARE:.0%} of its rating at the most. A resettable one carries its hold current, and trips at about "
    f"{TRIP_RATIO:g} times that after {_SHORT_S * 1000:g} ms or more. The current is averaged over the heaviest {_WARMING_S:g} s to see whether the "
    f"fuse carries it, and over the heaviest {_SHORT_S * 1000:g} ms to see whether it trips. A finding where it is more than the fuse carries, a "
    "fault where the fuse trips.",
    "a maker's design guide on fuses, as quoted in a tutorial; a tutorial on resettable fuses", "data sheets",
    f"The rules are for 25 degrees Celsius; in a warm prop a resettable fuse holds less. That a fuse warms up in {_WARMING_S:g} s is common "
    "practice, no source. The figure holds for the presses that were played.",
    formula="{I} > {k} * {Ifuse}",
    symbols={"I": "mean current over the heaviest of these times, in mA", "k": "share of the fuse's rating, or multiple of its hold current",
             "Ifuse": "fuse_ma or resettable_fuse_ma of the supply, in mA"},
)
def fuse(fed: Fed) -> Iterator[Finding]:
    """Whether it holds what the prop takes."""
    lasting_ma, short_ma, held_ma = fed.load.current_ma.highest_mean(_WARMING_S), fed.load.current_ma.highest_mean(_SHORT_S), fed.supply.resettable_fuse_ma
    if fed.supply.fuse_ma is not None and lasting_ma > FUSE_SHARE * fed.supply.fuse_ma:
        yield _fused(Weight.WARNING, fed.subject, lasting_ma, FUSE_SHARE, fed.supply.fuse_ma, "for ten seconds, and may melt it in the long run")
    if held_ma is not None and short_ma > TRIP_RATIO * held_ma:
        yield _fused(Weight.FAULT, fed.subject, short_ma, TRIP_RATIO, held_ma, "peak, and trips it")
    elif held_ma is not None and lasting_ma > held_ma:
        yield _fused(Weight.WARNING, fed.subject, lasting_ma, 1.0, held_ma, "for ten seconds, and may trip it")


def _fused(weight: Weight, subject: str, current_ma: float, share: float, rated_ma: float, what: str) -> Finding:
    return fuse.finding(
        weight, f"fuse of {subject}", f"the prop takes {current_ma:.0f} mA {what}",
        f"{number(share * rated_ma, 4)} mA with a fuse of {quantity(rated_ma, 'mA')}",
        "Use a fuse of a higher rating with wire that suits it (see `fxseq wiring`), or take less current.",
        {"I": f"{number(current_ma, 4)} mA", "k": f"{share:g}", "Ifuse": quantity(rated_ma, "mA")})


@check(
    FED, "power.inrush", "Does the fuse survive the moment of switching on?",
    "An empty capacitor is a short circuit for a moment: the current begins at V / R, and V^2 C / (2 R) goes through the fuse. A finding where that "
    "melts it.",
    "fuse_melting_a2s of the supply in the prop file", "your own files",
    "Well on the safe side, since wires and capacitor have some resistance too. It is worked out for the lowest resistance and the freshest supply.",
    formula="{I2t} = {V}^2 * {C} / (2 * {R})",
    symbols={"I2t": "I^2 t that goes through the fuse, in A^2 s", "V": "voltage of the freshest supply, in V", "C": "bulk_capacitor_uf, in uF",
             "R": "resistance of the supply, in ohm", "I": "highest current, V / R, in A", "E": "energy that becomes heat, V^2 C / 2, in J",
             "Imelt": "fuse_melting_a2s, in A^2 s"},
)
def inrush(fed: Fed) -> Iterator[Finding]:
    if fed.supply.fuse_melting_a2s is None or not fed.supply.bulk_capacitor_uf:
        return
    volts, ohms, farads = fresh_v(fed.supply).high, resistance_ohm(fed.supply).low, fed.supply.bulk_capacitor_uf * 1e-6
    through_a2s, peak_a, joules = inrush_i2t_a2s(volts, farads, ohms), inrush_peak_a(volts, ohms), farads * volts**2 / 2
    if through_a2s > fed.supply.fuse_melting_a2s:
        yield inrush.finding(
            Weight.WARNING, f"fuse of {fed.subject}",
            f"switching on puts {amount(through_a2s, 'A^2 s')} through it, {amount(peak_a, 'A')} at first, to charge "
            f"{quantity(fed.supply.bulk_capacitor_uf, 'uF')}",
            quantity(fed.supply.fuse_melting_a2s, "A^2 s"), "Use a slow fuse, a smaller capacitor, or a thermistor or load switch that limits the inrush.",
            {"I2t": f"{number(through_a2s, 4)} A^2 s", "V": f"{number(volts, 4)} V", "C": quantity(fed.supply.bulk_capacitor_uf, "uF"),
             "R": f"{number(ohms, 4)} ohm", "I": f"{number(peak_a)} A", "E": f"{number(joules)} J", "Imelt": quantity(fed.supply.fuse_melting_a2s, "A^2 s")})


@check(
    FED, "power.run_time", "Do the cells last the day?",
    "[day] says for how much of each hour the prop idles, is tapped and is held. The current of each state is measured: idling with nothing pressed, "
    "the others on the taps and holds of the press script. As the cells run down, their voltage falls and with it the current changes. They are flat "
    "when the heaviest moment of the script brings the rail below what the prop needs. A finding where typical cells do not last the day, a note where "
    "only worst-case ones do not.",
    "hours in [day] of the prop file", "your own files",
    "A third either way: cells differ by make and age, and cold ones give much less. Not counted: rests between shows, in which cells recover, and a "
    "capacitor that carries the heaviest moment.",
    formula="{tlow} < {tday}",
    symbols={"t": "hours with typical cells, in h", "tlow": "hours with worst-case cells, in h", "thigh": "hours with best-case cells, in h",
             "tday": "hours in [day], in h"},
)
def run_time(fed: Fed) -> Iterator[Finding]:
    """A warning where typical cells last for less than the day, a note where only worst-case ones do, or where too little is known to rule it out."""
    found = fed.run.run_time
    if found is None:
        return
    hours, day_h = found.hours, fed.sequence.day.hours
    if hours is None:
        unknown = {"t": "not known", "tlow": "not known", "thigh": "not known", "tday": f"{day_h:g} h"}
        yield run_time.finding(
            Weight.NOTE, fed.subject, f"run time {hours_text(found)}", f"{day_h:g} h", "Add what is missing; until then only a trial tells.", unknown)
        return
    if hours.low >= day_h and found.known_to_ma is None:
        return
    inputs = {"t": _hours(hours.typical), "tlow": _hours(hours.low), "thigh": _hours(hours.high), "tday": f"{day_h:g} h"}
    yield run_time.finding(
        Weight.WARNING if hours.typical < day_h else Weight.NOTE, fed.subject, f"run time {run_time_text(found)}", f"{day_h:g} h",
        "Lower what drains most, use larger cells or more of them, lower minimum_v with a better regulator, or carry a spare set.", inputs)


def run_time_text(found: RunTime) -> str:
    """Hours and what takes most, in words."""
    drains = drains_text(found)
    return f"{hours_text(found)}; most goes to {drains}" if drains else hours_text(found)


def hours_text(found: RunTime) -> str:
    """Hours in words."""
    if found.hours is None:
        return f"not known: {found.missing}"
    if found.known_to_ma is not None:
        return f"at most {_hours(found.hours.typical)}: the prop draws more than {found.known_to_ma:g} mA, and the cells' capacity " \
            "is known only up to there"
    typical, low, high = (_hours(hours) for hours in (found.hours.typical, found.hours.low, found.hours.high))
    return typical if low == typical == high else f"{typical} ({low} to {high}, depending on the cells)"


def drains_text(found: RunTime) -> str:
    """What takes most, in words; empty where nothing does."""
    largest = [f"{consumer} {state} {share:.0%}" for (state, consumer), share in found.drains[:_NAMED_DRAINS] if share > 0]
    return ", ".join(largest)


def _hours(hours: float) -> str:
    if hours > _LONG_H:
        return f"more than {_LONG_H:g} h"
    return f"{hours:.0f} h" if hours >= 10 else f"{hours:.1f} h"


def wiring_cautions(sequence: Sequence) -> list[str]:
    """What goes with these supplies, and with any wiring."""
    supplies = sequence.supplies.values()
    lithium = [LITHIUM_CAUTION] if any(supply.cell == "li_ion" for supply in supplies) else []
    mains = [ADAPTOR_CAUTION] if any(supply.kind == "wall" for supply in supplies) else []
    return [*lithium, *mains, HEAT, FUSE, CODES]
