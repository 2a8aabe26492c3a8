"""How long the wires to the lamps are, as far as their places tell."""

import math
from dataclasses import dataclass

from fxseq.papers.document import Table
from fxseq.sequence import all_led_places_mm
from fxseq.sequence.model import Point, Sequence

ROUTE = 1.2
"""Wires do not go straight. Common practice, no source."""
ENDS_MM = 60.0
"""For stripping, soldering and a second try, both ends together. Common practice, no source."""
SAID = (
    "Each from the middle of the picture to its lamp, 20 % longer than the straight way, and 60 mm"
    " for both ends (common practice, no source). Where the board sits elsewhere, add the way to"
    " it. The depth of the prop is not in the file: add it too."
)


@dataclass(frozen=True)
class Leads:
    """The wires of a group. shortest, longest: of one lamp; total: of one wire to each lamp."""

    group: str
    count: int
    shortest_mm: float
    longest_mm: float
    total_mm: float


def leads(sequence: Sequence) -> list[Leads]:
    """Of each group; none where there is no picture."""
    picture = sequence.picture
    if picture is None:
        return []
    middle = (picture.width_mm / 2, picture.height_mm / 2)
    return [
        _leads(name, [ENDS_MM + ROUTE * _apart_mm(middle, place) for place in places])
        for name, places in all_led_places_mm(sequence).items()
    ]


def leads_table(found: list[Leads]) -> Table:
    """As it is printed, metric and in inches."""
    head = ("group", "lamps", "shortest", "longest", "all, one wire each")
    return Table(
        head,
        tuple(
            (one.group.replace("_", " "), str(one.count), _length(one.shortest_mm),
             _length(one.longest_mm),
             f"{one.total_mm / 1000:.1f} m ({one.total_mm / 304.8:.0f} ft)")
            for one in found
        ),
    )  # fmt: skip


def _leads(name: str, lengths_mm: list[float]) -> Leads:
    return Leads(name, len(lengths_mm), min(lengths_mm), max(lengths_mm), math.fsum(lengths_mm))


def _apart_mm(first: Point, second: Point) -> float:
    return math.hypot(first[0] - second[0], first[1] - second[1])


def _length(length_mm: float) -> str:
    return f"{math.ceil(length_mm / 10) * 10} mm ({length_mm / 25.4:.0f} in)"
