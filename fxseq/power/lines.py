"""The wires from the supplies to the rail, laid out for everything at once."""
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fxseq.power.circuits import Circuit, changeover_diode, fresh_v, most_ma, voltages_of
from fxseq.power.diodes import Diode
from fxseq.power.layout import Range
from fxseq.power.rail import LEAST_V, Load, rail_v
from fxseq.power.regulators import board_load, needed_v, taken
from fxseq.power.steps import Steps
from fxseq.power.wires import FUSE_SHARE, FUSES_A, GAUGES, TRIP_RATIO, ampacity_a, drop_v, fused_wire, wire_for
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Sequence, Supply
from fxseq.sequence.quantities import amount, number

_ALL_LIT = Steps(np.zeros(1), np.ones(1), 0.0)
_LARGEST_FUSE_A = max(rating_a for rating_a in FUSES_A if rating_a <= ampacity_a(GAUGES[0]))

EXPLAINED = explained(
    Explanation(
        "power.line_current", "Could the supply feed everything at once?",
        "The currents of all LEDs lit at the fresh supply, of the board, and of the amplifier at the loudest tone that the board can put out are added "
        "up. A warning where LEDs and board alone are above the supply's rating; a note where they are only with the loudest tone.",
        "the supply's rating in the prop file, or that of its kind of cell or socket", "your own files",
        "The sum is right within 10 to 20 %. Whether it ever comes to that depends on the presses: power.supply_current says what was really taken.",
        formula="{Iall} = {Ilight} + {Iboard} + {Isound}; {Iall} > {Irated}",
        symbols={"Iall": "everything at once, in mA", "Ilight": "all LEDs, in mA", "Iboard": "current_ma of the board, in mA",
                 "Isound": "the amplifier at the loudest tone, in mA, 0 where it is not described",
                 "Irated": "maximum_current_ma of the supply, or what cells of this kind can give, in mA"}),
    Explanation(
        "power.line_wire", "Is there a common size of wire for a fuse that carries everything at once?",
        f"A fuse should run at {FUSE_SHARE:.0%} of its rating at the most, and its wire must carry that rating: 700 circular mils for each ampere. A "
        f"finding where even AWG {GAUGES[0]} is too thin.",
        "a maker's design guide on fuses, as quoted; tables of wire sizes", "data sheets",
        "On the safe side: the rule for wires is meant for bundles and closed cases.",
        formula="{I} > " + f"{FUSE_SHARE:g}" + " * {Ifuse}",
        symbols={"I": "current of everything at once, or the current that the fuse in the file lets pass for long, in A",
                 "Ifuse": f"largest fuse that AWG {GAUGES[0]} wire allows, in A"}),
)


@dataclass(frozen=True)
class SupplyLine:
    """The wire from a supply to the rail, laid out for everything at once: all LEDs lit, the loudest tone, the board.

    rated_ma: the most the supply may give. sound_ma: None where it is not known. laid_out_a: for what a fuse and its wire are looked for. gauge: AWG;
    with fuse_a None where no common wire is thick enough. resettable: whether the file states such a fuse. drop_mv_per_m: lost over
    both wires for each metre from the supply to the board.
    """

    name: str
    kind: str
    fresh_v: float
    rated_ma: float
    light_ma: float
    sound_ma: float | None
    board_ma: float
    laid_out_a: float
    gauge: int | None
    fuse_a: float | None
    resettable: bool
    drop_mv_per_m: float | None

    @property
    def total_ma(self) -> float:
        """All of it."""
        return self.light_ma + (self.sound_ma or 0.0) + self.board_ma


def supply_lines(sequence: Sequence, wired: Mapping[str, Circuit], sound_ma: Mapping[str, float]) -> tuple[SupplyLine, ...]:
    """The line of each supply. sound_ma: of the loudest tone, by supply, empty where it is not known."""
    return tuple(_line(name, sequence, wired, sound_ma.get(name)) for name in sequence.supplies)


def _line(name: str, sequence: Sequence, wired: Mapping[str, Circuit], sound_ma: float | None) -> SupplyLine:
    supply = sequence.supplies[name]
    lights, board = sum((circuit.load(_ALL_LIT) for circuit in wired.values()), Load()), board_load(sequence)
    sound = Load() if sound_ma is None else taken("amplifier", sequence, sound_ma / 1000)
    span = _behind_diode(voltages_of(supply, needed_v(sequence)), lights + board + sound, changeover_diode(sequence))
    light_ma, board_ma = _most_ma(lights, span), _most_ma(board, span)
    if sound_ma is not None:
        sound_ma = _most_ma(sound, span)
    total_a = (light_ma + (sound_ma or 0.0) + board_ma) / 1000
    gauge, fuse_a = fused_wire(total_a) or (None, None)
    stated_a, passed_a = _stated_fuse(supply)
    if stated_a:
        gauge = wire_for(passed_a)
        fuse_a = stated_a if gauge is not None else None
    lost_mv = 1000 * drop_v(gauge, 1.0, total_a) if gauge is not None else None
    return SupplyLine(name, supply.kind, fresh_v(supply).high, most_ma(supply), light_ma, sound_ma, board_ma,
                      max(total_a, FUSE_SHARE * passed_a), gauge, fuse_a,
                      supply.resettable_fuse_ma is not None, lost_mv)


def _behind_diode(span: Range, load: Load, diode: Diode | None) -> Range:
    """The range that a changeover's diode leaves with all of it on; as it is where it would leave nothing."""
    if diode is None:
        return span
    left_v = float(np.ravel(rail_v(span.fresh_v, 0.0, load, diode))[0])
    return replace(span, fresh_v=left_v, flat_v=min(span.flat_v, left_v)) if left_v > 0 else span


def _stated_fuse(supply: Supply) -> tuple[float, float]:
    """Rating of the fuse that the file states, and what its wire has to stand, which of a resettable one is what trips it; 0 without. [A]"""
    if supply.resettable_fuse_ma is not None:
        return supply.resettable_fuse_ma / 1000, TRIP_RATIO * supply.resettable_fuse_ma / 1000
    return (supply.fuse_ma or 0.0) / 1000, (supply.fuse_ma or 0.0) / 1000


def _most_ma(load: Load, span: Range) -> float:
    """At the fresh or at the flat supply: lights take most at the one, a switching regulator at the other. [mA]"""
    return 1000 * max(float(np.ravel(load.at(volts)[0])[0]) for volts in (span.fresh_v, max(span.flat_v, LEAST_V)))


def line_findings(lines: Iterable[SupplyLine]) -> tuple[Finding, ...]:
    """What is to be said against supplies and wires, if everything comes at once."""
    return tuple(finding for line in lines for finding in (*_too_much(line), *_no_wire(line)))


def _too_much(line: SupplyLine) -> Iterable[Finding]:
    if line.total_ma > line.rated_ma:
        sound = "" if line.sound_ma is None else f", {line.sound_ma:.0f} mA of it the loudest tone"
        yield EXPLAINED["power.line_current"].finding(
            Weight.WARNING if line.light_ma + line.board_ma > line.rated_ma else Weight.NOTE, f"supply '{line.name}'",
            f"everything at once takes {line.total_ma:.0f} mA{sound}", f"{line.rated_ma:g} mA",
            "Make sure that it never comes to that, light fewer LEDs or lower their current, or choose a stronger supply.",
            {"Iall": f"{number(line.total_ma, 4)} mA", "Ilight": f"{number(line.light_ma, 4)} mA", "Iboard": f"{line.board_ma:g} mA",
             "Isound": f"{number(line.sound_ma or 0, 4)} mA", "Irated": f"{line.rated_ma:g} mA"})


def _no_wire(line: SupplyLine) -> Iterable[Finding]:
    if line.gauge is None:
        yield EXPLAINED["power.line_wire"].finding(
            Weight.WARNING, f"supply '{line.name}'", f"no common hook-up wire is thick enough for a fuse for {amount(line.laid_out_a, 'A')}",
            f"{amount(FUSE_SHARE * _LARGEST_FUSE_A, 'A')}, with a fuse of {_LARGEST_FUSE_A:g} A and AWG {GAUGES[0]} wire",
            "Share the load among several lines, each with a fuse of its own, or take less current.",
            {"I": f"{number(line.laid_out_a, 4)} A", "Ifuse": f"{_LARGEST_FUSE_A:g} A"})
