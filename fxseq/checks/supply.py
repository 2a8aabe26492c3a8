"""Supplies: what they are, how they are joined, and the regulators and wires behind them."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations

import numpy as np

from fxseq.checks.check import PRACTICE, check
from fxseq.checks.scopes import FED, FILE, LINE, SUPPLY, WIRING, Described, Fed, Supplied
from fxseq.power import SupplyLine, regulation
from fxseq.power.changeover import WIRES_OHM, idle_share, used_up_before
from fxseq.power.circuits import fresh_v, most_ma, pack_of, resistance_ohm, voltages_of
from fxseq.power.lines import LARGEST_FUSE_A
from fxseq.power.parts import CELL_NAMES, DAMP_V, TOUCH_V, parts
from fxseq.power.regulators import Regulation, fed, needed_v
from fxseq.power.wires import FUSE_SHARE, GAUGES
from fxseq.sequence import Finding, Sequence, Supply, Weight
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.quantities import amount, number, quantity

_SHARED = 0.1
"""Share of the idle current that cells may give while the adaptor is plugged in. Common
practice, no source.
"""
_LEFT = 0.2
_VOLTAGE_OFF = 0.15
HEAT = (
    "Resistors, switches and drivers get warm: give them air, keep them away from plastic, foam and"
    " cells, and check how hot they are after ten minutes fully lit."
)
FUSE = (
    "A fuse protects only wire that is as thick as its line demands: keep thinner leads to the"
    " groups short, and put each fuse right at its supply."
)
CODES = (
    "None of this replaces local codes, the rules of the venue or licensed practice, and nothing"
    " here certifies a prop."
)
_GENERIC = "generic parts of this program"
_DROPOUT = "dropout_v of the regulator, or that of a generic part"


@check(
    WIRING,
    "power.back_feed",
    "Does anything stop one supply from feeding the other?",
    rule=(
        "Two supplies on one rail push current into each other unless a switch or diodes keep them"
        " apart. A finding where the file has several supplies and does not say what keeps them"
        " apart. It gives the most that would flow: from a fresh supply into a flat one."
    ),
    source='Lessons In Electric Circuits III, "Diode switching"',
    kind="a handbook",
    confidence=(
        "It is certain that the file does not say. What is really soldered is not known here. Cells"
        " charged by an adaptor may leak or burn: where in doubt, ask somebody licensed."
    ),
    formula="{I} = ({Vhigh} - {Vlow}) / {R}",
    symbols={
        "I": "current from one into the other, in A",
        "Vhigh": "voltage of the one when fresh, in V",
        "Vlow": "voltage of the other when flat, in V",
        "R": f"resistance of both together, at least {WIRES_OHM:g} ohm, in ohm",
    },
)
def back_feed(wiring: Described) -> Iterator[Finding]:
    sequence = wiring.sequence
    if len(sequence.supplies) < 2 or sequence.changeover is not None:
        return
    spans = {
        name: voltages_of(supply, needed_v(sequence)) for name, supply in sequence.supplies.items()
    }
    ohms = {name: resistance_ohm(supply).low for name, supply in sequence.supplies.items()}

    def flow(pair: tuple[str, str]) -> tuple[float, float]:
        joined_ohm = max(ohms[pair[0]] + ohms[pair[1]], WIRES_OHM)
        return (spans[pair[0]].fresh_v - spans[pair[1]].flat_v) / joined_ohm, joined_ohm

    high, low = max(permutations(spans, 2), key=flow)
    current_a, joined_ohm = flow((high, low))
    yield back_feed.finding(
        Weight.WARNING,
        "supplies",
        f"the file does not say what keeps them apart: up to {amount(current_a, 'A', 2)} would flow"
        f" from '{high}' into '{low}'",
        "one does not feed the other",
        'Fit a changeover switch or a switched socket (changeover = "switch"), or a diode in each'
        ' (changeover = "diodes"). An adaptor that feeds into cells charges them without a charger:'
        " they may leak or burn.",
        {
            "I": f"{number(current_a)} A",
            "Vhigh": f"{number(spans[high].fresh_v, 6)} V",
            "Vlow": f"{number(spans[low].flat_v, 6)} V",
            "R": f"{number(joined_ohm, 4)} ohm",
        },
    )


@check(
    WIRING,
    "power.cells_first",
    "Do the cells run down although the adaptor is plugged in?",
    rule=(
        "With a diode in each of two supplies, the higher voltage feeds the prop. The share that"
        " each gives to the idle prop is worked out for fresh cells and the adaptor at its lowest"
        f" voltage. A finding where the cells give more than {_SHARED:.0%}. Where the file says"
        " what kind of cells they are, it also says how far they are used up before they give less"
        " than half."
    ),
    source="two diodes on one rail: the higher source feeds it",
    kind="arithmetic",
    confidence=(
        "Certain, except where the two voltages are within a few tenths of a volt: there both share"
        " the load. With light and sound on, the cells sag and the adaptor gives more."
    ),
    formula="{k} = {Icells} / {I}",
    symbols={
        "k": "share of it that fresh cells give",
        "Icells": "current that fresh cells give, in mA",
        "I": "current that the idle prop takes, in mA",
        "Vcells": "voltage of the fresh cells, in V",
        "Vwall": "lowest voltage of the adaptor, in V",
    },
)
def cells_first(wiring: Described) -> Iterator[Finding]:
    """Warn that of two sources over diodes the higher one feeds the rail: fresh cells above the
    adaptor's voltage run down while it is plugged in.
    """
    sequence = wiring.sequence
    walls = {
        name: fresh_v(supply).low
        for name, supply in sequence.supplies.items()
        if supply.kind == "wall"
    }
    if sequence.changeover != "diodes" or not walls:
        return
    wall = min(walls, key=walls.__getitem__)
    for name, supply in sequence.supplies.items():
        if supply.kind == "cells":
            yield from _before(sequence, name, supply, wall)


def _before(sequence: Sequence, name: str, supply: Supply, wall: str) -> Iterator[Finding]:
    """Where these cells go before this adaptor."""
    wall_v = fresh_v(sequence.supplies[wall]).low
    cells_v = fresh_v(supply).high
    idle_a, share = idle_share(sequence, supply, cells_v, sequence.supplies[wall], wall_v)
    if share <= _SHARED:
        return
    used_up = used_up_before(sequence, supply, sequence.supplies[wall], wall_v)
    until = ""
    if used_up:
        until = f" until they are {used_up:.0%} used up"
    yield cells_first.finding(
        Weight.WARNING,
        f"supply '{name}'",
        f"{amount(cells_v, 'V')} when fresh, so it gives {share:.0%} of what the idle prop takes"
        f" while '{wall}' is plugged in{until}",
        f"{_SHARED:.0%}; '{wall}' has at least {amount(wall_v, 'V')}",
        'Use a changeover switch or a switched socket (changeover = "switch"), or an adaptor of a'
        " higher voltage.",
        {
            "k": f"{share:.3f}",
            "Icells": f"{number(1000 * share * idle_a)} mA",
            "I": f"{number(1000 * idle_a)} mA",
            "Vcells": f"{number(cells_v)} V",
            "Vwall": f"{number(wall_v)} V",
        },
    )


@check(
    SUPPLY,
    "power.dropout",
    "Does the regulator get enough voltage to hold its output?",
    rule=(
        "A regulator that does not step up needs a higher voltage than it puts out; with less, its"
        " output falls with its input. A fault where the fresh supply is too low; a warning where"
        " an adaptor at its lowest, or the rail while the prop plays, is too low. A note where"
        f" more than {_LEFT:.0%} of the cells' charge would be left unused."
    ),
    source=_DROPOUT,
    kind="data sheets",
    confidence=(
        "The sum is exact. Dropout rises with current, and generic parts need less than this at"
        " small currents. Cells also sag: power.rail and the run time count that."
    ),
    formula="{V} < {Vout} + {Vdrop}",
    symbols={
        "V": "voltage at its input, in V",
        "Vout": "output_v of the regulator, in V",
        "Vdrop": "dropout: what it needs above that, in V",
    },
)
def dropout(supplied: Supplied) -> Iterator[Finding]:
    """By the description alone; `dropout_played` says it of a run."""
    found = regulation(supplied.sequence)
    if found is None or found.part.kind == "step_up":
        return
    fresh = fresh_v(supplied.supply)
    pack = pack_of(supplied.supply)
    if fresh.low < found.holds_from_v:
        volts = fresh.low
        which = "at its lowest"
        weight = Weight.WARNING
        if fresh.typical < found.holds_from_v:
            volts = fresh.typical
            which = "fresh, without load,"
            weight = Weight.FAULT
        yield _too_low(
            weight,
            supplied.subject,
            f"{amount(volts, 'V')} {which} leave its output at"
            f" {amount(float(found.given_v(volts)), 'V')}",
            volts,
            found,
        )
    elif pack is not None and voltages_of(supplied.supply).flat_v < found.holds_from_v:
        depth = np.linspace(0, 1, 101)
        left = 1 - float(depth[np.argmax(pack.open_v(depth) < found.holds_from_v)])
        if pack.open_v(1.0) < found.holds_from_v and left > _LEFT:
            yield _too_low(
                Weight.NOTE,
                supplied.subject,
                f"without load, it holds its output until the cells are {1 - left:.0%} used up",
                float(pack.open_v(1.0)),
                found,
            )


def _too_low(weight: Weight, subject: str, figure: str, volts: float, found: Regulation) -> Finding:
    return dropout.finding(
        weight,
        subject,
        figure,
        f"{amount(found.holds_from_v, 'V')} for an output of {quantity(found.output_v, 'V')}",
        "Use more cells in series or a higher supply voltage, a regulator that needs less (kind ="
        ' "low_dropout"), or a converter that steps up.',
        {
            "V": f"{number(volts, 4)} V",
            "Vout": quantity(found.output_v, "V"),
            "Vdrop": f"{number(found.holds_from_v - found.output_v)} V",
        },
        "" if found.part.dropout_v is not None else found.kind.source,
    )


@check(
    SUPPLY,
    "power.step_up",
    "Is the supply below the output of a step-up converter?",
    rule=(
        "A converter that only steps up passes a higher voltage straight on to whatever it feeds. A"
        " fault where the fresh supply has more than output_v; a warning where it does only at the"
        " top of its tolerance."
    ),
    source="circuit of a step-up converter: coil and diode lead from input to output",
    kind="arithmetic",
    confidence=(
        "Certain for plain converters. One that steps up and down, or that disconnects by its data"
        " sheet, does not do so."
    ),
    formula="{V} > {Vout}",
    symbols={"V": "voltage of the fresh supply, in V", "Vout": "output_v of the regulator, in V"},
)
def step_up(supplied: Supplied) -> Iterator[Finding]:
    """A converter that steps up lets a higher voltage through."""
    found = regulation(supplied.sequence)
    fresh = fresh_v(supplied.supply)
    if found is None or found.part.kind != "step_up" or fresh.high <= found.output_v:
        return
    volts = fresh.high
    which = "at its highest"
    weight = Weight.WARNING
    if fresh.typical > found.output_v:
        volts = fresh.typical
        which = "fresh"
        weight = Weight.FAULT
    yield step_up.finding(
        weight,
        supplied.subject,
        f"{amount(volts, 'V')} {which}, which goes straight through",
        quantity(found.output_v, "V"),
        "Use fewer cells in series or a lower supply voltage, or a regulator that steps down (kind"
        ' = "step_down").',
        {"V": f"{number(volts, 4)} V", "Vout": quantity(found.output_v, "V")},
    )


@check(
    SUPPLY,
    "power.pack_voltage",
    "Does the voltage in the file match the cells in the file?",
    rule=(
        "The voltage of a fresh pack is that of one cell times the number of cells in series. All"
        " figures use that voltage; voltage_v is only compared with it. A finding where voltage_v"
        f" is off by more than {_VOLTAGE_OFF:.0%}."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=(
        "Good enough to find a wrong number of cells; not to tell a fresh cell from a used one."
    ),
    formula="{Vpack} = {n} * {Vcell}",
    symbols={
        "Vpack": "voltage of the fresh pack, in V",
        "n": "cells in series",
        "Vcell": "voltage of one fresh cell, in V",
        "V": "voltage_v of the supply, in V",
    },
)
def pack_voltage(supplied: Supplied) -> Iterator[Finding]:
    pack = pack_of(supplied.supply)
    if pack is None or supplied.supply.voltage_v is None:
        return
    pack_v = pack.fresh_v.typical
    if abs(supplied.supply.voltage_v / pack_v - 1) > _VOLTAGE_OFF:
        yield pack_voltage.finding(
            Weight.WARNING,
            supplied.subject,
            f"voltage_v is {supplied.supply.voltage_v:g} V",
            f"{amount(pack_v, 'V')} for {supplied.supply.cells_in_series} fresh"
            f" {_cells(supplied.supply)} in series",
            "Correct voltage_v, cell or cells_in_series.",
            {
                "Vpack": f"{number(pack_v)} V",
                "n": f"{supplied.supply.cells_in_series}",
                "Vcell": f"{number(pack_v / supplied.supply.cells_in_series)} V",
                "V": f"{supplied.supply.voltage_v:g} V",
            },
            pack.cell.source,
        )


@check(
    SUPPLY,
    "power.board_voltage",
    "Does the supply suit the ready-made board?",
    rule=(
        "A ready-made board is destroyed by a supply above its range. A finding where a fresh"
        " supply, or the regulator before the board, is above it."
    ),
    source="data sheet of the board, from memory",
    kind="data sheets",
    confidence="Boards of other makers may take less: read what is printed on yours.",
    formula="{V} > {Vmax}",
    symbols={"V": "highest voltage at the board, in V", "Vmax": "most that it takes, in V"},
)
def board_voltage(supplied: Supplied) -> Iterator[Finding]:
    board = supplied.sequence.board
    if not board.part:
        return
    part = board_parts()[board.part]
    volts = fed("board", supplied.sequence, voltages_of(supplied.supply)).fresh_v
    if volts > part.most_supply_v:
        yield board_voltage.finding(
            Weight.FAULT,
            supplied.subject,
            f"{amount(volts, 'V')} at {part.supply_name} of the {board.part}",
            f"{part.most_supply_v:g} V",
            'Put a regulator before the board ([regulator] with feeds = ["board"]), or use fewer'
            " cells.",
            {"V": f"{number(volts)} V", "Vmax": f"{part.most_supply_v:g} V"},
        )


@check(
    SUPPLY,
    "power.cell_current",
    "Does the file ask more of the cells than their kind can give?",
    rule=(
        "Each kind of cell has a current that it can give for long; larger cells, or cells in"
        " parallel, give more. A warning where maximum_current_ma is above it."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "A rule of thumb: cells made for high currents give more, as their data sheet says; old and"
        " cold ones give less."
    ),
    formula="{I} > {Imax}",
    symbols={
        "I": "maximum_current_ma of the supply, in mA",
        "Imax": "current that such cells can give, in mA",
    },
)
def cell_current(supplied: Supplied) -> Iterator[Finding]:
    pack = pack_of(supplied.supply)
    if (
        pack is not None
        and supplied.supply.maximum_current_ma is not None
        and supplied.supply.maximum_current_ma > pack.maximum_ma
    ):
        yield cell_current.finding(
            Weight.WARNING,
            supplied.subject,
            f"maximum_current_ma is {supplied.supply.maximum_current_ma:g} mA",
            f"{pack.maximum_ma:.4g} mA from {_cells(supplied.supply)}",
            "Delete maximum_current_ma, or put more rows in parallel (cells_in_parallel). Keep a"
            " higher figure only where the cells' own data sheet states it: overloaded cells get"
            " hot, leak or burn.",
            {
                "I": f"{supplied.supply.maximum_current_ma:g} mA",
                "Imax": f"{number(pack.maximum_ma, 4)} mA",
            },
            pack.cell.source,
        )


@check(
    SUPPLY,
    "power.touch",
    "Is the voltage low enough to touch?",
    rule=(
        f"A prop is held in damp hands. A note where a supply's voltage is above {DAMP_V:g} V, the"
        f" highest that may be touched in damp places; a warning above {TOUCH_V:g} V, the highest"
        " for lamps that are touched in other than ordinary conditions."
    ),
    source="EN 60204-1, 6.4.1, and IEC 60598-1:2008, 8.2.3, as quoted",
    kind="a standard",
    confidence=(
        "The limits come from quotations; the standards themselves, which are for machines and for"
        " lamps, were not read. They are no permission: local codes and licensed practice decide."
    ),
    formula="{V} > {Vmax}",
    symbols={
        "V": "voltage of the supply when fresh, in V",
        "Vmax": "highest voltage that may be touched, in V",
    },
)
def touch(supplied: Supplied) -> Iterator[Finding]:
    volts = supplied.supply.voltage_v or fresh_v(supplied.supply).typical
    if volts > DAMP_V:
        weight = Weight.NOTE
        limit_v = DAMP_V
        if volts > TOUCH_V:
            weight = Weight.WARNING
            limit_v = TOUCH_V
        yield touch.finding(
            weight,
            supplied.subject,
            f"{volts:.4g} V",
            f"{limit_v:g} V",
            "Use a supply of lower voltage, or leave the wiring to somebody licensed: a prop is"
            " touched with damp hands.",
            {"V": f"{volts:.4g} V", "Vmax": f"{limit_v:g} V"},
        )


def _cells(supply: Supply) -> str:
    """The kind of its cells in words."""
    if supply.cell:
        return f"{CELL_NAMES[supply.cell]} cells"
    return "cells of this curve"


@check(
    SUPPLY,
    "power.outlet_current",
    "Does the file ask more of a socket than its kind can give?",
    rule=(
        "Each kind of socket can give a certain current. A warning where maximum_current_ma is"
        " above it. A note where it is above what the socket of a computer gives before a device"
        " asks for more; a bare lead never asks."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=(
        "As good as its source, which the finding names; many sockets give more, weak ones less."
    ),
    formula="{I} > {Imax}",
    symbols={
        "I": "maximum_current_ma of the supply, in mA",
        "Imax": "current that the socket can give, in mA",
    },
)
def outlet_current(supplied: Supplied) -> Iterator[Finding]:
    if supplied.supply.outlet is None:
        return
    outlet = parts().outlets[supplied.supply.outlet]
    rated_ma = most_ma(supplied.supply)
    if rated_ma > outlet.maximum_ma:
        yield outlet_current.finding(
            Weight.WARNING,
            supplied.subject,
            f"maximum_current_ma is {rated_ma:g} mA",
            f"{outlet.maximum_ma:g} mA",
            "Lower maximum_current_ma to what the socket can give, or use a stronger one.",
            {"I": f"{rated_ma:g} mA", "Imax": f"{outlet.maximum_ma:g} mA"},
            outlet.source,
        )
    elif outlet.unasked_ma is not None and rated_ma > outlet.unasked_ma:
        yield outlet_current.finding(
            Weight.NOTE,
            supplied.subject,
            f"maximum_current_ma is {rated_ma:g} mA",
            f"{outlet.unasked_ma:g} mA before a device asks for more",
            "Have the board's chip ask for more over USB, or use the socket of a charger: a"
            " computer may switch off a bare lead that takes more.",
            {"I": f"{rated_ma:g} mA", "Imax": f"{outlet.unasked_ma:g} mA"},
            outlet.source,
        )


@check(
    SUPPLY,
    "power.outlet_capacitor",
    "Does the capacitor on the rail draw too much at the moment of plugging in?",
    rule=(
        "An empty capacitor is a short circuit for a moment. A finding where bulk_capacitor_uf is"
        " above what may be connected to such a socket at once."
    ),
    source=_GENERIC,
    kind="data sheets",
    confidence=(
        "As good as its source, which the finding names; most chargers take more, computers may"
        " switch off."
    ),
    formula="{C} > {Cmax}",
    symbols={
        "C": "bulk_capacitor_uf of the supply, in uF",
        "Cmax": "capacitance that may be connected at once, in uF",
    },
)
def outlet_capacitor(supplied: Supplied) -> Iterator[Finding]:
    """What a socket charges at once."""
    supply = supplied.supply
    if supply.outlet is None:
        return
    outlet = parts().outlets[supply.outlet]
    if outlet.bulk_f is not None and supply.bulk_capacitor_uf * 1e-6 > outlet.bulk_f:
        yield outlet_capacitor.finding(
            Weight.WARNING,
            supplied.subject,
            f"bulk_capacitor_uf is {quantity(supply.bulk_capacitor_uf, 'uF')}",
            f"{outlet.bulk_f * 1e6:g} uF",
            "Limit the inrush current with a load switch, or use the socket of a charger.",
            {"C": quantity(supply.bulk_capacitor_uf, "uF"), "Cmax": f"{outlet.bulk_f * 1e6:g} uF"},
            outlet.source,
        )


@check(
    LINE,
    "power.line_current",
    "Could the supply feed everything at once?",
    rule=(
        "The currents of all LEDs lit at the fresh supply, of the board, and of the amplifier at"
        " the loudest tone that the board can put out are added up. A warning where LEDs and board"
        " alone are above the supply's rating; a note where they are only with the loudest tone."
    ),
    source="the supply's rating in the prop file, or that of its kind of cell or socket",
    kind="your own files",
    confidence=(
        "The sum is right within 10 to 20 %. Whether it ever comes to that depends on the presses:"
        " power.supply_current says what was really taken."
    ),
    formula="{Iall} = {Ilight} + {Iboard} + {Isound}; {Iall} > {Irated}",
    symbols={
        "Iall": "everything at once, in mA",
        "Ilight": "all LEDs, in mA",
        "Iboard": "current_ma of the board, in mA",
        "Isound": "the amplifier at the loudest tone, in mA, 0 where it is not described",
        "Irated": "maximum_current_ma of the supply, or what cells of this kind can give, in mA",
    },
)
def line_current(line: SupplyLine) -> Iterator[Finding]:
    if line.total_ma > line.rated_ma:
        sound = "" if line.sound_ma is None else f", {line.sound_ma:.0f} mA of it the loudest tone"
        yield line_current.finding(
            Weight.WARNING if line.light_ma + line.board_ma > line.rated_ma else Weight.NOTE,
            f"supply '{line.name}'",
            f"everything at once takes {line.total_ma:.0f} mA{sound}",
            f"{line.rated_ma:g} mA",
            "Make sure that it never comes to that, light fewer LEDs or lower their current, or"
            " choose a stronger supply.",
            {
                "Iall": f"{number(line.total_ma, 4)} mA",
                "Ilight": f"{number(line.light_ma, 4)} mA",
                "Iboard": f"{line.board_ma:g} mA",
                "Isound": f"{number(line.sound_ma or 0, 4)} mA",
                "Irated": f"{line.rated_ma:g} mA",
            },
        )


@check(
    LINE,
    "power.line_wire",
    "Is there a common size of wire for a fuse that carries everything at once?",
    rule=(
        f"A fuse should run at {FUSE_SHARE:.0%} of its rating at the most, and its wire must carry"
        f" that rating: 700 circular mils for each ampere. A finding where even AWG {GAUGES[0]} is"
        " too thin."
    ),
    source="a maker's design guide on fuses, as quoted; tables of wire sizes",
    kind="data sheets",
    confidence="On the safe side: the rule for wires is meant for bundles and closed cases.",
    formula="{I} > " + f"{FUSE_SHARE:g}" + " * {Ifuse}",
    symbols={
        "I": (
            "current of everything at once, or the current that the fuse in the file lets pass for"
            " long, in A"
        ),
        "Ifuse": f"largest fuse that AWG {GAUGES[0]} wire allows, in A",
    },
)
def line_wire(line: SupplyLine) -> Iterator[Finding]:
    if line.gauge is None:
        yield line_wire.finding(
            Weight.WARNING,
            f"supply '{line.name}'",
            f"no common hook-up wire is thick enough for a fuse for {amount(line.laid_out_a, 'A')}",
            f"{amount(FUSE_SHARE * LARGEST_FUSE_A, 'A')}, with a fuse of {LARGEST_FUSE_A:g} A and"
            f" AWG {GAUGES[0]} wire",
            "Share the load among several lines, each with a fuse of its own, or take less"
            " current.",
            {"I": f"{number(line.laid_out_a, 4)} A", "Ifuse": f"{LARGEST_FUSE_A:g} A"},
        )


LITHIUM_CAUTION = (
    "Use ready-made packs with a protection circuit, a fuse at the pack, and the charger made for"
    " them; charge under supervision, away from anything that burns, between 0 and 45 degrees"
    " Celsius, and out of the prop where you can. Do not mix old and new cells or makes. Do not"
    " charge a cell that has rested below 2.5 V. Never use one that is swollen, dented or has been"
    " wet. If a cell swells, gets hot, hisses or smells: stop and get away from it. Rules for"
    " transport and venues differ: ask."
)


@check(
    FILE,
    "hazard.lithium",
    "Are there lithium cells in the prop?",
    rule=(
        "A short circuit, a dent or the wrong charger can set a lithium cell on fire. A note for"
        " every supply of such cells, whatever its figures."
    ),
    source=(
        "common practice; pages of cell makers and shops on the handling of lithium cells, as read"
    ),
    kind="common practice",
    confidence=(
        "A caution that always holds. It replaces neither the rules of carriers and venues nor the"
        " advice of licensed people."
    ),
)
def lithium(described: Described) -> Iterator[Finding]:
    """Whatever their figures."""
    for name, supply in described.sequence.supplies.items():
        if supply.cell == "li_ion":
            yield lithium.finding(
                Weight.NOTE, f"supply '{name}'", "lithium cells", "", LITHIUM_CAUTION
            )


ADAPTOR_CAUTION = (
    "Use a ready-made, regulated adaptor with the safety marks of your country and safety extra-low"
    " voltage at its plug, and check the polarity printed on it. Nothing at mains voltage belongs"
    " in a prop. Work on the mains is for licensed people."
)


@check(
    FILE,
    "hazard.adaptor",
    "Is the prop fed from the mains?",
    rule=(
        "Mains voltage can kill. A note for every mains adaptor, whatever its figures: only its"
        " low-voltage side belongs to the prop."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "A caution that always holds. Local codes and licensed practice decide; nothing here stands"
        " in for them."
    ),
)
def adaptor(described: Described) -> Iterator[Finding]:
    """Whatever their figures."""
    for name, supply in described.sequence.supplies.items():
        if supply.kind == "wall":
            yield adaptor.finding(
                Weight.NOTE, f"supply '{name}'", "mains adaptor", "", ADAPTOR_CAUTION
            )


def _dropout_played(fed: Fed) -> Iterator[Finding]:
    """A warning of power.dropout where the rail leaves the regulator too little while the prop
    plays, though the prop is said to work on below.
    """
    found = regulation(fed.sequence)
    played = fed.load.rail
    if (
        found is None
        or played is None
        or not fed.supply.minimum_v
        or math.isnan(played.lowest.typical)
    ):
        return
    lowest_v = played.lowest.typical
    if lowest_v < found.holds_from_v <= fresh_v(fed.supply).typical:
        yield _too_low(
            Weight.WARNING,
            fed.subject,
            f"{amount(lowest_v, 'V')} at {played.lowest_at_s:.2f} s leave its output at "
            f"{amount(float(found.given_v(lowest_v)), 'V')}",
            lowest_v,
            found,
        )


dropout_played = replace(dropout, scope=FED, judge=_dropout_played)
"""Dropout, put to a run."""


def wiring_cautions(sequence: Sequence) -> list[str]:
    """What goes with these supplies, and with any wiring."""
    supplies = sequence.supplies.values()
    cautions = []
    if any(supply.cell == "li_ion" for supply in supplies):
        cautions.append(LITHIUM_CAUTION)
    if any(supply.kind == "wall" for supply in supplies):
        cautions.append(ADAPTOR_CAUTION)
    if sequence.board.part:
        cautions.append(_two_feeds(sequence.board.part))
    return [*cautions, HEAT, FUSE, CODES]


def _two_feeds(board: str) -> str:
    """Data sheet of the board, from memory."""
    pin = board_parts()[board].supply_name
    return (
        f"USB feeds {pin} of the {board} as well. Put a Schottky diode between {pin} and what feeds"
        " it in the prop, or take the cells out before you plug USB in: else USB drives current"
        " into them."
    )
