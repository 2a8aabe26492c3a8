"""The first time that a prop is fed: what to measure, where, and what it means if it is not so."""

from collections.abc import Iterator
from typing import NamedTuple

from fxseq.papers.document import Block, Items, Section, Table, Text
from fxseq.papers.presses import said
from fxseq.power import GroupWiring, Netlist, Schedule
from fxseq.power.netlist import GROUND, LOGIC, RAIL, Fitted
from fxseq.runs import Performance
from fxseq.sequence.quantities import amount, from_to

_REGULATOR_OFF = 0.05
"""By how much a regulator's output may be off. Common practice, no source."""
_IDLE_S = 5.0
_MORE = 1.3
"""Of what is expected, from which on a current is looked into. Common practice, no source."""


class Point(NamedTuple):
    """What to measure. between: the two places."""

    between: str
    with_what: str
    expected: str
    otherwise: str


def first_power(run: Performance, plan: Schedule, joints: Netlist) -> Section:
    """Steps before, test points with expected values, and how to read others."""
    points = tuple(_points(run, plan, joints))
    before = Items(
        (
            "Look at every joint once more, against the list.",
            "With no cells and no adaptor, measure between supply + and ground, both ways round:"
            " less than 10 ohm is a short circuit. Find it first.",
            "Feed it from a bench supply with its current limited to"
            f" {amount(1.5 * _all_ma(plan), 'mA', 2)} where there is one, else through its fuse.",
            "Have your hand at the plug. If anything smells, smokes or gets hot, unplug at once.",
        ),
        "boxes",
    )
    rows = tuple((f"TP{number}", *point) for number, point in enumerate(points, 1))
    blocks: tuple[Block, ...] = (
        before,
        Table(("", "measure", "with", "expected", "if not"), rows, room=("found",)),
        Text(
            "Expected values are for the supply as described, from fresh to flat, and for LEDs from"
            " the lowest to the highest forward voltage. A meter's own error comes on top."
        ),
    )
    return Section("First power-up", blocks)


def _points(run: Performance, plan: Schedule, joints: Netlist) -> Iterator[Point]:
    for line in plan.lines:
        yield Point(
            f"{said(line.name)}: plus against minus", "nothing joined to it",
            _fresh(plan, line.name),
            "0 V: empty cells, a loose contact, a dead adaptor. Minus: the plug is the wrong way"
            " round; do not go on.",
        )  # fmt: skip
    yield Point(
        f"{RAIL} against {GROUND}", "fed, nothing pressed",
        from_to(plan.span.flat_v, plan.span.fresh_v, "V"),
        "0 V: fuse, changeover or a broken wire. More than half a volt less than the supply: a"
        " thin or loose wire.",
    )  # fmt: skip
    if plan.regulator:
        volts = plan.regulator.output_v
        yield Point(
            f"out of the regulator, {_mark(joints, 'regulator')}, against {GROUND}",
            "fed, nothing pressed",
            from_to(volts * (1 - _REGULATOR_OFF), volts * (1 + _REGULATOR_OFF), "V"),
            "As high as its input: in and out are swapped, or it is broken; unplug the board at"
            " once. Too low: too much is joined to it.",
        )  # fmt: skip
    if any(net.name == LOGIC for net in joints.nets):
        yield Point(
            f"{LOGIC} against {GROUND}", "fed, nothing pressed",
            f"about {amount(plan.sequence.board.pin_v, 'V')}",
            "0 V: the board is not fed, or the diode in front of it is the wrong way round.",
        )  # fmt: skip
    yield from _currents(run, plan)
    for group in plan.groups:
        yield from _lit(group, joints)


def _currents(run: Performance, plan: Schedule) -> Iterator[Point]:
    idle_ma = run.left_alone(_IDLE_S).load.draw.mean_ma
    yield Point(
        "current out of the supply", f"nothing pressed, mean of {_IDLE_S:g} s",
        f"about {amount(idle_ma, 'mA', 2)}",
        f"More than {amount(_MORE * idle_ma, 'mA', 2)}: something is joined that should not be."
        " None: nothing runs.",
    )  # fmt: skip
    yield Point(
        "current out of the supply", "everything that can be lit, loudest sound",
        f"at most {amount(_all_ma(plan), 'mA', 3)}",
        "More: a resistor of too low a value, or a lamp without one.",
    )  # fmt: skip


def _lit(group: GroupWiring, joints: Netlist) -> Iterator[Point]:
    """Volts over a resistor tell its current without breaking a string; what a driver holds is
    measured within it.
    """
    current = group.circuit.fresh_ma
    if current is None:
        return
    lamp, name = joints.lamps[group.name][0], said(group.name)
    if group.resistor is None:
        yield Point(
            f"current through {lamp} ({name}): a meter in series with it", "fully lit",
            from_to(current.low, current.high, "mA"),
            "None: the LED is the wrong way round, or its driver gets no signal. Other: the"
            " resistor that sets the driver has another value.",
        )  # fmt: skip
        return
    if group.shares:
        current = group.circuit.channel_ma
    ohm = group.resistor.ohm
    mark = next(part.mark for part in joints.parts if _feeds_first(part, group.name))
    low_v, high_v = current.low * ohm / 1000, current.high * ohm / 1000
    yield Point(
        f"over {mark}, {amount(ohm, 'ohm', 6)}, which feeds {lamp} ({name})",
        "fully lit, fresh supply",
        f"{from_to(low_v, high_v, 'V')} ({from_to(current.low, current.high, 'mA')})",
        "0 V: the LED is the wrong way round, or its switch does not conduct. Far more: the LED is"
        " bridged, or the resistor has another value.",
    )  # fmt: skip


def _feeds_first(part: Fitted, group: str) -> bool:
    """Whether a part is the resistor of the group's first string."""
    return part.mark.startswith("R") and part.place in (f"{group} 1", f"{group} 1, string 1")


def _fresh(plan: Schedule, name: str) -> str:
    from fxseq.power import fresh_v

    found = fresh_v(plan.sequence.supplies[name])
    return from_to(found.low, found.high, "V")


def _all_ma(plan: Schedule) -> float:
    return max(line.total_ma for line in plan.lines)


def _mark(joints: Netlist, what: str) -> str:
    return next(part.mark for part in joints.parts if part.what.startswith(what))
