"""What differs between two prop files, in words."""

from pathlib import Path
from typing import Any

import pytest

from fxseq.sequence.differences import differences
from fxseq.sequence.model import Sequence
from fxseq.sequence.names import rename
from fxseq.sequence.reading import loads

pytestmark = pytest.mark.quick

DEMO_TEXT = (Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml").read_text("utf-8")
DEMO = loads(DEMO_TEXT)


def changed(**to: Any) -> Sequence:
    """The demo with other values. to: by path, steps joined by two underscores."""
    values = DEMO.model_dump(exclude_unset=True)
    for path, value in to.items():
        *steps, last = [int(step) if step.isdigit() else step for step in path.split("__")]
        place: Any = values
        for step in steps:
            place = place[step]
        if value is None:
            del place[last]
        else:
            place[last] = value
    return Sequence.model_validate(values)


def words(after: Sequence, before: Sequence = DEMO) -> list[str]:
    return [one.words for one in differences(before, after)]


def test_a_file_and_its_copy_do_not_differ() -> None:
    assert words(DEMO.model_copy(deep=True)) == []


def test_a_default_that_is_said_is_no_difference() -> None:
    assert words(changed(inputs__lever__lockout_ms=20.0)) == []


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("title", "The Squall Lamp", 'title is "The Squall Lamp", was "The Squall Lantern"'),
        ("day__hours", 4.0, "day: hours is 4, was 3"),
        ("amplifier__gain_db", 6.0, "amplifier: gain_db is 6 dB, was 10 dB"),
        (
            "groups__lens__resistor_ohm",
            270.0,
            "group 'lens': resistor_ohm is 270 ohm, was not given",
        ),
        ("clips__bell__gain_db", -3.0, "clip 'bell': gain_db is -3 dB, was 0 dB"),
        ("changeover", "diodes", 'changeover is "diodes", was "switch"'),
        ("regulator", None, "regulator is not given any more"),
        ("picture__outline_mm__0", (60.0, 12.0), "picture: outline_mm: 1 of 18 are elsewhere"),
        ("fades__new", {"segments": [{"to_percent": 5}]}, "fade 'new' is new"),
        ("effects__refill__counts", [], "effect 'refill', count 1 is gone"),
    ],
)
def test_an_edit_is_said(path: str, value: Any, said: str) -> None:
    assert words(changed(**{path: value})) == [said]


def test_every_key_that_changes_is_said() -> None:
    """Each number of the demo, one at a time."""
    values = DEMO.model_dump(exclude_unset=True)
    for path in list(_numbers(values, ())):
        other = _with(values, path, lambda number: number + type(number)(1))
        try:
            after = Sequence.model_validate(other)
        except ValueError:
            continue
        assert words(after), path


def test_rows_are_held_against_each_other_from_both_ends() -> None:
    segments = DEMO.model_dump(exclude_unset=True)["fades"]["flash"]["segments"]
    more = [segments[0], {"to_percent": 50, "length_ms": 10}, *segments[1:]]
    assert words(changed(fades__flash__segments=more)) == ["fade 'flash', segment 2 is new"]
    assert words(DEMO, changed(fades__flash__segments=more)) == ["fade 'flash', segment 2 is gone"]


def test_another_name_is_said_once_wherever_it_is_used() -> None:
    text = rename(DEMO_TEXT, "effects", "flare_a", "blaze")
    after = loads(rename(text, "clips", "bell", "gong"))
    assert words(after) == [
        "effect 'flare_a' is called 'blaze' now",
        "clip 'bell' is called 'gong' now",
    ]


def _numbers(value: Any, path: tuple[Any, ...]) -> Any:
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _numbers(part, (*path, key))
    elif isinstance(value, list):
        for at, part in enumerate(value):
            yield from _numbers(part, (*path, at))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path


def _with(value: Any, path: tuple[Any, ...], change: Any) -> Any:
    if not path:
        return change(value)
    step, *rest = path
    if isinstance(value, dict):
        return {**value, step: _with(value[step], tuple(rest), change)}
    return [
        _with(part, tuple(rest), change) if at == step else part for at, part in enumerate(value)
    ]
