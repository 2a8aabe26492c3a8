"""Places of lamps: from the page, and from a CSV file that came out of a drawing."""
import csv
import io
import math
from collections.abc import Iterator
from typing import Any

from fxseq.bench.body import Refused
from fxseq.sequence import Fault, Sequence, led_places_mm
from fxseq.sequence.paths import Path

COLUMNS = ("group", "number", "x_mm", "y_mm")
"""Of the CSV file, in any order, in its first line; numbers count from 1."""

Places = list[list[float]]
Changes = list[tuple[Path, Any]]


def place_changes(group: str, places_mm: Any, sequence: Sequence) -> Changes:
    """Changes that put the LEDs of a group to these places, in place of a ring or a line. Raises Refused."""
    known = sequence.groups.get(group)
    if known is None:
        raise Refused(422, Fault("group", "there is no such group", ", ".join(sequence.groups)))
    if not isinstance(places_mm, list) or not all(_is_point(place) for place in places_mm) or len(places_mm) != known.leds:
        raise Refused(422, Fault(f"group '{group}'", "the places do not go with its LEDs", f"{known.leds} points [x, y] in mm"))
    rounded = [[round(float(way), 3) for way in place] for place in places_mm]
    others = [(("groups", group, key), None) for key in ("ring_mm", "line_mm")]
    return [*others, (("groups", group, "places_mm"), rounded)]


def _is_point(place: Any) -> bool:
    return isinstance(place, list) and len(place) == 2 and all(
        isinstance(way, int | float) and not isinstance(way, bool) and math.isfinite(way) for way in place)


def csv_changes(text: str, sequence: Sequence) -> Changes:
    """Changes from a CSV of places; LEDs that it does not name stay where they are. Raises Refused with every fault of the file."""
    places: dict[str, Places] = {}
    faults: list[Fault] = []
    for line, row in _rows(text):
        try:
            group, number, place = row["group"], int(row["number"]), [float(row["x_mm"]), float(row["y_mm"])]
        except (TypeError, ValueError):
            faults.append(Fault(f"CSV:{line}", "it has something else than numbers", "group, number, x_mm, y_mm"))
            continue
        known = sequence.groups.get(group)
        if known is None or not 1 <= number <= known.leds or not all(map(math.isfinite, place)):
            faults.append(Fault(f"CSV:{line}", "there is no such LED, or no such place", _allowed(sequence)))
            continue
        places.setdefault(group, [list(at) for at in led_places_mm(known, sequence.picture)])[number - 1] = place
    if faults or not places:
        raise Refused(422, *(faults or [Fault("CSV", "it has no places", ", ".join(COLUMNS))]))
    return [change for group, at in places.items() for change in place_changes(group, at, sequence)]


def _allowed(sequence: Sequence) -> str:
    return ", ".join(f"{name} 1 to {group.leds}" for name, group in sequence.groups.items())


def _rows(text: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Rows by column, with their lines. Spreadsheets of some countries part columns by semicolons."""
    first = text.removeprefix("\ufeff").split("\n", 1)[0]
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=";" if ";" in first else ",")
    try:
        names = [name.strip().lower() for name in reader.fieldnames or ()]
        if sorted(set(names) & set(COLUMNS)) != sorted(COLUMNS):
            raise Refused(422, Fault("CSV:1", "a column is missing", ", ".join(COLUMNS)))
        reader.fieldnames = names
        for row in reader:
            yield reader.line_num, row
    except csv.Error as error:
        raise Refused(422, Fault(f"CSV:{reader.line_num}", f"it is no CSV ({error})")) from None
