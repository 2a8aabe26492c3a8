"""How wide the prop on the photo really is, and what becomes of all that has a place on it."""

import math
from collections.abc import Iterator
from typing import Any

from fxseq.bench.body import Refused
from fxseq.bench.regroup import Changes, in_thousandths
from fxseq.bench.uploads import picture_shape
from fxseq.bench.view import picture_file
from fxseq.runs import Prop
from fxseq.sequence import Fault, Group, Picture, Point
from fxseq.sequence.paths import Path

KEEPS = ("photo", "mm")
"""What lamps keep: where they are on the photo, or their millimetres."""
LEAST_MM = 1
MOST_MM = 10_000


def width_changes(width_mm: Any, keep: Any, prop: Prop) -> Changes:
    """Changes that make the photo so wide, and as high as its shape says. keep: of KEEPS. Raises
    Refused.
    """
    picture = prop.sequence.picture
    file = picture_file(prop)
    if picture is None or file is None:
        raise Refused(
            422,
            Fault("picture", "there is no photo beside the prop file", "", "Drop one on the page."),
        )
    is_number = (
        isinstance(width_mm, int | float)
        and not isinstance(width_mm, bool)
        and math.isfinite(width_mm)
    )
    if not is_number or not LEAST_MM <= width_mm <= MOST_MM:
        raise Refused(
            422,
            Fault(
                "width of the photo", "that width is not possible", f"{LEAST_MM} to {MOST_MM} mm"
            ),
        )
    if keep not in KEEPS:
        raise Refused(
            400, Fault("request", "'keep' names nothing that lamps can keep", ", ".join(KEEPS))
        )
    shape = picture_shape(file.name, file.read_bytes())[1]
    height_mm = round(width_mm * shape, 1)
    sizes: Changes = [
        (("picture", "width_mm"), in_thousandths(width_mm)),
        (("picture", "height_mm"), in_thousandths(height_mm)),
    ]
    return [*sizes, *(_moved(prop, picture, width_mm, height_mm) if keep == "photo" else [])]


def _moved(
    prop: Prop, picture: Picture, width_mm: float, height_mm: float
) -> Iterator[tuple[Path, Any]]:
    """Everything with a place, put where the photo has it now."""
    across = width_mm / picture.width_mm
    down = height_mm / picture.height_mm

    def scaled(point: Point) -> list[float]:
        return [
            in_thousandths(min(point[0] * across, width_mm)),
            in_thousandths(min(point[1] * down, height_mm)),
        ]

    for index, corner in enumerate(picture.outline_mm):
        yield ("picture", "outline_mm", index), scaled(corner)
    for name, group in prop.sequence.groups.items():
        for keys, value in _places(group):
            yield ("groups", name, *keys), (
                scaled(value) if isinstance(value, tuple) else in_thousandths(value * across)
            )


def _places(group: Group) -> Iterator[tuple[Path, Any]]:
    """Points and lengths that say where the group's LEDs are, by their keys."""
    for index, place in enumerate(group.places_mm or ()):
        yield ("places_mm", index), place
    if group.ring_mm:
        yield ("ring_mm", "centre_mm"), group.ring_mm.centre_mm
        yield ("ring_mm", "radius_mm"), group.ring_mm.radius_mm
    if group.line_mm:
        yield ("line_mm", "from_mm"), group.line_mm.from_mm
        yield ("line_mm", "to_mm"), group.line_mm.to_mm
