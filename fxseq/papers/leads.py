"""How long the wires to the lamps are, as far as their places tell."""

import math
from dataclasses import dataclass

from fxseq.papers.document import Table
from fxseq.power import GroupWiring, Schedule
from fxseq.power.wires import wire_for
from fxseq.runs.wiring_list import gauge_said
from fxseq.sequence import all_led_places_mm
from fxseq.sequence.model import Point

ROUTE = 1.2
"""Wires do not go straight. Common practice, no source."""
ENDS_MM = 60.0
"""For stripping, soldering and a second try, both ends together. Common practice, no source."""
SAID = (
    "Wires to the lamps, one to each and one that all strings of a group share. Lengths are from"
    " the middle of the picture to a lamp, 20 % longer than the straight way, and 60 mm for both"
    " ends (common practice, no source). Where the board sits elsewhere, add the way to it. The"
    " depth of the prop is not in the file: add it too."
)
_THINNEST = 28
"""AWG that is still soldered by hand with ease. Common practice, no source."""


@dataclass(frozen=True)
class Leads:
    """The wires of a group. lamp_gauge, common_gauge: AWG of that to a lamp and of that which all
    share, None where no common one is thick enough. shortest, longest: of one lamp; total: of one
    wire to each lamp.
    """

    group: str
    count: int
    lamp_gauge: int | None
    common_gauge: int | None
    shortest_mm: float
    longest_mm: float
    total_mm: float


def leads(plan: Schedule) -> list[Leads]:
    """Of each group; none where there is no picture."""
    picture = plan.sequence.picture
    if picture is None:
        return []
    middle = (picture.width_mm / 2, picture.height_mm / 2)
    places = all_led_places_mm(plan.sequence)
    return [
        _leads(group, [ENDS_MM + ROUTE * _apart_mm(middle, place) for place in places[group.name]])
        for group in plan.groups
        if group.circuit.series
    ]


def leads_table(found: list[Leads]) -> Table:
    """As it is printed, metric and in inches."""
    head = (
        "wires to", "lamps", "shortest", "longest", "all, one each", "to a lamp", "shared by all",
    )  # fmt: skip
    return Table(
        head,
        tuple(
            (one.group.replace("_", " "), str(one.count), _length(one.shortest_mm),
             _length(one.longest_mm),
             f"{one.total_mm / 1000:.1f} m ({one.total_mm / 304.8:.0f} ft)",
             gauge_said(one.lamp_gauge), gauge_said(one.common_gauge))
            for one in found
        ),
    )  # fmt: skip


def _leads(group: GroupWiring, lengths_mm: list[float]) -> Leads:
    circuit = group.circuit
    channel_a = circuit.channel_ma.high / 1000
    return Leads(
        group.name, len(lengths_mm), _gauge(channel_a / circuit.strings),
        _gauge(channel_a * circuit.group.channels),
        min(lengths_mm), max(lengths_mm), math.fsum(lengths_mm),
    )  # fmt: skip


def _gauge(current_a: float) -> int | None:
    """The thinnest wire that carries a current and is soldered with ease."""
    found = wire_for(current_a)
    return found and min(found, _THINNEST)


def _apart_mm(first: Point, second: Point) -> float:
    return math.hypot(first[0] - second[0], first[1] - second[1])


def _length(length_mm: float) -> str:
    return f"{math.ceil(length_mm / 10) * 10} mm ({length_mm / 25.4:.0f} in)"
