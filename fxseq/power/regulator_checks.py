"""What can be said of a regulator before anything is played, and of its input while something is."""
import math
from collections.abc import Iterator

import numpy as np

from fxseq.power.circuits import fresh_v, pack_of, voltages_of
from fxseq.power.played import PlayedRail
from fxseq.power.regulators import Regulation, regulation
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Sequence, Supply
from fxseq.sequence.quantities import amount, number, quantity

_LEFT = 0.2
_GENERIC = "dropout_v of the regulator, or that of a generic part"

EXPLAINED = explained(
    Explanation(
        "power.dropout", "Does the regulator get enough voltage to hold its output?",
        "A regulator that does not step up needs a higher voltage than it puts out; with less, its output falls with its input. A fault where the fresh "
        f"supply is too low; a warning where an adaptor at its lowest, or the rail while the prop plays, is too low. A note where more than {_LEFT:.0%} "
        "of the cells' charge would be left unused.",
        _GENERIC, "data sheets",
        "The sum is exact. Dropout rises with current, and generic parts need less than this at small currents. Cells also sag: power.rail and the run "
        "time count that.",
        formula="{V} < {Vout} + {Vdrop}",
        symbols={"V": "voltage at its input, in V", "Vout": "output_v of the regulator, in V", "Vdrop": "dropout: what it needs above that, in V"}),
    Explanation(
        "power.step_up", "Is the supply below the output of a step-up converter?",
        "A converter that only steps up passes a higher voltage straight on to whatever it feeds. A fault where the fresh supply has more than "
        "output_v; a warning where it does only at the top of its tolerance.",
        "circuit of a step-up converter: coil and diode lead from input to output", "arithmetic",
        "Certain for plain converters. One that steps up and down, or that disconnects by its data sheet, does not do so.",
        formula="{V} > {Vout}", symbols={"V": "voltage of the fresh supply, in V", "Vout": "output_v of the regulator, in V"}),
)


def regulator_findings(sequence: Sequence) -> tuple[Finding, ...]:
    """What is to be said against the regulator on each of the supplies."""
    found = regulation(sequence)
    if found is None:
        return ()
    rule = _step_up if found.part.kind == "step_up" else _dropout
    return tuple(finding for name, supply in sequence.supplies.items() for finding in rule(name, supply, found))


def dropout_findings(name: str, supply: Supply, sequence: Sequence, rail: PlayedRail) -> tuple[Finding, ...]:
    """A warning where the rail leaves the regulator too little while the prop plays, though the prop is said to work on below."""
    found, lowest_v = regulation(sequence), rail.lowest.typical
    if found is None or math.isnan(lowest_v) or not lowest_v < found.holds_from_v <= fresh_v(supply).typical or not supply.minimum_v:
        return ()
    return (_said(Weight.WARNING, f"supply '{name}'", f"{amount(lowest_v, 'V')} at {rail.lowest_at_s:.2f} s leave its output at "
                  f"{amount(float(found.given_v(lowest_v)), 'V')}", lowest_v, found),)


def _dropout(name: str, supply: Supply, found: Regulation) -> Iterator[Finding]:
    fresh, pack, subject = fresh_v(supply), pack_of(supply), f"supply '{name}'"
    if fresh.low < found.holds_from_v:
        is_typical = fresh.typical < found.holds_from_v
        volts = fresh.typical if is_typical else fresh.low
        which = "fresh, without load," if is_typical else "at its lowest"
        yield _said(Weight.FAULT if is_typical else Weight.WARNING, subject,
                    f"{amount(volts, 'V')} {which} leave its output at {amount(float(found.given_v(volts)), 'V')}", volts, found)
    elif pack is not None and voltages_of(supply).flat_v < found.holds_from_v:
        depth = np.linspace(0, 1, 101)
        left = 1 - float(depth[np.argmax(pack.open_v(depth) < found.holds_from_v)])
        if pack.open_v(1.0) < found.holds_from_v and left > _LEFT:
            yield _said(Weight.NOTE, subject, f"without load, it holds its output until the cells are {1 - left:.0%} used up", float(pack.open_v(1.0)), found)


def _said(weight: Weight, subject: str, figure: str, volts: float, found: Regulation) -> Finding:
    return EXPLAINED["power.dropout"].finding(
        weight, subject, figure, f"{amount(found.holds_from_v, 'V')} for an output of {quantity(found.output_v, 'V')}",
        'Use more cells in series or a higher supply voltage, a regulator that needs less (kind = "low_dropout"), or a converter that steps up.',
        {"V": f"{number(volts, 4)} V", "Vout": quantity(found.output_v, "V"), "Vdrop": f"{number(found.holds_from_v - found.output_v)} V"},
        "" if found.part.dropout_v is not None else found.kind.source)


def _step_up(name: str, supply: Supply, found: Regulation) -> Iterator[Finding]:
    fresh = fresh_v(supply)
    if fresh.high <= found.output_v:
        return
    is_typical = fresh.typical > found.output_v
    volts = fresh.typical if is_typical else fresh.high
    yield EXPLAINED["power.step_up"].finding(
        Weight.FAULT if is_typical else Weight.WARNING, f"supply '{name}'",
        f"{amount(volts, 'V')} {'fresh' if is_typical else 'at its highest'}, which goes straight through", quantity(found.output_v, "V"),
        'Use fewer cells in series or a lower supply voltage, or a regulator that steps down (kind = "step_down").',
        {"V": f"{number(volts, 4)} V", "Vout": quantity(found.output_v, "V")})
