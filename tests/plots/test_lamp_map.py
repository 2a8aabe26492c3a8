"""The map of the lamps with their numbers."""

from pathlib import Path
from typing import Any

import pytest

from fxseq.plots import lamp_map_figure
from fxseq.sequence.model import Sequence

pytestmark = pytest.mark.quick


def numbers(**groups: dict[str, Any]) -> list[str]:
    """What is written beside or in lamps that are numbered from 1."""
    usual = {"colour": "red", "current_ma": 5}
    values = {
        "format": 1, "title": "Lamps", "board": {}, "picture": {"width_mm": 100, "height_mm": 100},
        "groups": {name: {**usual, **group} for name, group in groups.items()},
    }  # fmt: skip
    sequence = Sequence.model_validate(values)
    marks = {}
    count = 0
    for name, group in sequence.groups.items():
        marks[name] = tuple(f"DS{count + place + 1}" for place in range(group.leds))
        count += group.leds
    figure = lamp_map_figure(sequence, marks, Path())
    return [text.get_text() for text in figure.axes[0].texts]


def test_each_lamp_bears_its_number_where_there_is_room() -> None:
    ring = {"leds": 12, "ring_mm": {"centre_mm": [50, 50], "radius_mm": 30}}
    assert numbers(ring=ring) == [str(number) for number in range(1, 13)]


def test_in_a_dense_row_every_fifth_and_the_last_one_are_numbered() -> None:
    row = {"leds": 88, "line_mm": {"from_mm": [5, 90], "to_mm": [95, 90]}}
    few = {"leds": 2, "line_mm": {"from_mm": [20, 20], "to_mm": [80, 20]}}
    found = numbers(few=few, row=row)
    assert found == ["1", "2", *(str(number) for number in range(3, 91, 5)), "90"]


def test_lamps_in_one_place_are_drawn() -> None:
    assert numbers(pair={"leds": 2, "places_mm": [[5, 5], [5, 5]]}) == ["1", "2"]
