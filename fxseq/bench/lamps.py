"""Places of lamps: from the page, and from a CSV file that came out of a drawing; and what else
the page asks of lamps.
"""

import csv
import io
import math
from collections.abc import Iterator
from typing import Any

from fxseq.bench.body import Refused, text_of
from fxseq.bench.desk import Changes, Version
from fxseq.bench.regroup import (
    Moved,
    copy_changes,
    count_changes,
    in_thousandths,
    join_changes,
    order_changes,
    part_changes,
    placed,
    placed_by,
)
from fxseq.bench.uploads import picture_shape
from fxseq.bench.view import picture_file
from fxseq.runs import Prop
from fxseq.sequence import Fault, Group, Picture, Point, Sequence
from fxseq.sequence.paths import Path

COLUMNS = ("group", "number", "x_mm", "y_mm")
"""Columns of the CSV file, in any order, in its first line; numbers count from 1."""
KEEPS = ("photo", "mm")
"""What lamps keep: where they are on the photo, or their millimetres."""
LEAST_MM = 1
MOST_MM = 10_000


def lamp_changes(body: dict[str, Any], version: Version) -> Changes:
    """Changes that the page asks for. Raises Refused.

    {"width_mm", "keep": "photo" or "mm"}: how wide the photo is, and what lamps keep. {"csv":
    text}: places of any lamps. {"group", "moved_mm": {number: [x, y]}}: places of some lamps of a
    group. {"group", "order": numbers}: lamps that share out their numbers anew. {"group", "leds":
    number}: how many they are. {"group", "lamps": numbers} with "by_mm": [x, y]: copies of them, so
    far away; with "into": another group, or "new": a name: lamps that change groups. Numbers count
    from 1.
    """
    prop = version.prop
    sequence = prop.sequence
    if "width_mm" in body:
        return width_changes(body["width_mm"], body.get("keep"), prop)
    if "csv" in body:
        return csv_changes(text_of(body, "csv"), sequence)
    group = text_of(body, "group")
    if group not in sequence.groups:
        raise Refused(422, Fault("group", "there is no such group", ", ".join(sequence.groups)))
    if "order" in body:
        return order_changes(group, body["order"], sequence)
    if "leds" in body:
        return count_changes(group, body["leds"], version)
    if "lamps" in body:
        return _of_chosen(group, body, version)
    return move_changes(group, body.get("moved_mm"), sequence)


def _of_chosen(group: str, body: dict[str, Any], version: Version) -> Changes:
    lamps = body["lamps"]
    into = text_of(body, "into", "")
    if "by_mm" in body:
        if not _is_point(body["by_mm"]):
            raise Refused(400, Fault("request", "'by_mm' is not usable", "[x, y] in mm"))
        return copy_changes(group, lamps, body["by_mm"], version)
    if into:
        return join_changes(group, lamps, into, version)
    return part_changes(group, lamps, text_of(body, "new"), version)


def move_changes(group: str, moved_mm: Any, sequence: Sequence) -> Changes:
    """Changes that put some LEDs of a group to these places, by number. Raises Refused."""
    numbers = {str(number): number for number in range(1, sequence.groups[group].leds + 1)}
    if (
        not isinstance(moved_mm, dict)
        or not moved_mm
        or not all(number in numbers and _is_point(place) for number, place in moved_mm.items())
    ):
        raise Refused(
            422,
            Fault(
                f"group '{group}'",
                "these are not places for its lamps",
                f"[x, y] in mm, by numbers 1 to {len(numbers)}",
            ),
        )
    return placed(group, {numbers[number]: place for number, place in moved_mm.items()}, sequence)


def _is_point(place: Any) -> bool:
    return (
        isinstance(place, list)
        and len(place) == 2
        and all(
            isinstance(way, int | float) and not isinstance(way, bool) and math.isfinite(way)
            for way in place
        )
    )


def csv_changes(text: str, sequence: Sequence) -> Changes:
    """Changes from a CSV of places; LEDs that it does not name stay where they are. Raises
    Refused with every fault of the file.
    """
    places: dict[str, Moved] = {}
    faults: list[Fault] = []
    for line, row in _rows(text):
        try:
            group = row["group"]
            number = int(row["number"])
            place = [float(row["x_mm"]), float(row["y_mm"])]
        except (TypeError, ValueError):
            faults.append(
                Fault(f"CSV:{line}", "something in it is not a number", "group, number, x_mm, y_mm")
            )
            continue
        known = sequence.groups.get(group)
        if known is None or not 1 <= number <= known.leds or not all(map(math.isfinite, place)):
            faults.append(
                Fault(f"CSV:{line}", "there is no such LED, or no such place", _allowed(sequence))
            )
            continue
        places.setdefault(group, {})[number] = place
    if faults or not places:
        raise Refused(422, *(faults or [Fault("CSV", "it has no places", ", ".join(COLUMNS))]))
    return [change for group, at in places.items() for change in placed(group, at, sequence)]


def _allowed(sequence: Sequence) -> str:
    return ", ".join(f"{name} 1 to {group.leds}" for name, group in sequence.groups.items())


def _rows(text: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Rows by column, with their lines. Spreadsheets of some countries part columns by
    semicolons.
    """
    first = text.removeprefix("\ufeff").split("\n", 1)[0]
    reader = csv.DictReader(
        io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=";" if ";" in first else ","
    )
    try:
        names = [name.strip().lower() for name in reader.fieldnames or ()]
        if sorted(set(names) & set(COLUMNS)) != sorted(COLUMNS):
            raise Refused(422, Fault("CSV:1", "a column is missing", ", ".join(COLUMNS)))
        reader.fieldnames = names
        for row in reader:
            yield reader.line_num, row
    except csv.Error as error:
        raise Refused(
            422, Fault(f"CSV:{reader.line_num}", f"it is not a CSV file ({error})")
        ) from None


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
    sizes = [
        (("picture", "width_mm"), in_thousandths(width_mm)),
        (("picture", "height_mm"), in_thousandths(height_mm)),
    ]
    if keep == "photo":
        sizes += _moved(prop, picture, width_mm, height_mm)
    return sizes


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
            is_point = isinstance(value, tuple)
            moved = scaled(value) if is_point else in_thousandths(value * across)
            yield ("groups", name, *keys), moved


def _places(group: Group) -> Iterator[tuple[Path, Any]]:
    """Points and lengths that say where the group's LEDs are, by their keys."""
    yield from placed_by(group)
    if group.ring_mm:
        yield ("ring_mm", "radius_mm"), group.ring_mm.radius_mm
