"""What differs between two prop files, in words."""

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fxseq.sequence import json_schema
from fxseq.sequence.differences import differences
from fxseq.sequence.model import Sequence
from fxseq.sequence.names import rename
from fxseq.sequence.paths import NAMED, place_name
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
        ("picture__outline_mm", [], "picture: outline_mm: 18 of 18 are elsewhere"),
        (
            "groups__lens__places_mm",
            [(1.0, 2.0)] * 24,
            "group 'lens': places_mm is described now",
        ),
        (
            "supplies__cells__cell_capacity_mah",
            2000,
            "supply 'cells': cell_capacity_mah is 2000 mAh, was not given",
        ),
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


# ---- every key of the schema ----

SCHEMA = json_schema()
Found = Iterator[tuple[tuple[Any, ...], dict[str, Any]]]


def whole(schema: dict[str, Any]) -> dict[str, Any]:
    """What a reference in the schema stands for."""
    return SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[-1]] if "$ref" in schema else schema


def arms(schema: dict[str, Any]) -> list[dict[str, Any]]:
    """The kinds of value that a key may have."""
    schema = whole(schema)
    return [arm for arm in schema.get("anyOf", [schema]) if arm.get("type") != "null"]


def example(schema: dict[str, Any], turn: int) -> Any:
    """A value for a key, with another turn another one. Tables have all of their keys."""
    found = arms(schema)
    schema = whole(found[turn % len(found)])
    turn //= len(found)
    if "enum" in schema:
        return schema["enum"][turn % len(schema["enum"])]
    if "const" in schema:
        return schema["const"]
    match schema["type"]:
        case "object" if "properties" in schema:
            return {key: example(part, turn) for key, part in schema["properties"].items()}
        case "object":
            return {"thing": example(schema["additionalProperties"], turn)}
        case "array" if "prefixItems" in schema:
            return [example(item, turn + at) for at, item in enumerate(schema["prefixItems"])]
        case "array":
            return [example(schema["items"], turn + at) for at in range(2)]
        case "string":
            return f"word_{turn}"
        case "boolean":
            return turn % 2 == 0
        case "integer" | "number" as kind:
            low = schema.get("minimum", schema.get("exclusiveMinimum", 0))
            share = (turn + 1) / 8
            value = low + (schema.get("maximum", low + 8) - low) * share
            return math.ceil(value) if kind == "integer" else value
    raise AssertionError(schema)


def keys_of(schema: dict[str, Any], path: tuple[Any, ...] = ()) -> Found:
    """Every key below a table, as a path into its example of turn 0."""
    schema = whole(arms(schema)[0])
    if "properties" in schema:
        for key, part in schema["properties"].items():
            yield (*path, key), part
            yield from keys_of(part, (*path, key))
    elif isinstance(schema.get("additionalProperties"), dict):
        yield from keys_of(schema["additionalProperties"], (*path, "thing"))
    elif isinstance(schema.get("items"), dict):
        yield from keys_of(schema["items"], (*path, 0))


def without(value: Any, path: tuple[Any, ...]) -> Any:
    step, *rest = path
    if rest:
        return _with(value, (step,), lambda part: without(part, tuple(rest)))
    return {key: part for key, part in value.items() if key != step}


def is_named(path: tuple[Any, ...], told: list[str]) -> bool:
    """Whether a sentence names the key; of a table of many it may name one of them."""
    key = path[-1]
    names = {key, place_name((key, "one")).removesuffix(" 'one'"), f"{key.removesuffix('s')} "}
    return any(name in one for one in told for name in names)


def test_a_change_of_any_key_of_the_schema_is_said_by_its_name() -> None:
    values = example(SCHEMA, 0)
    before = Sequence.model_validate(values)
    assert words(before.model_copy(deep=True), before) == []
    unchanged = set()
    for path, schema in keys_of(SCHEMA):
        now = example(schema, 0)
        others = [example(schema, turn) for turn in range(1, len(arms(schema)) + 1)]
        if all(other == now for other in others):
            unchanged.add(path)
            continue
        for other in others:
            after = Sequence.model_validate(_with(values, path, lambda _, other=other: other))
            told = words(after, before)
            assert is_named(path, told), (path, told)
    assert unchanged == {("format",)}


def test_a_key_that_comes_or_goes_is_said_by_its_name() -> None:
    values = example(SCHEMA, 0)
    before = Sequence.model_validate(values)
    for path, _ in keys_of(SCHEMA):
        try:
            after = Sequence.model_validate(without(values, path))
        except ValueError:
            continue  # nothing can do without it
        if after == before:
            continue  # it says its default
        for told in (words(after, before), words(before, after)):
            assert is_named(path, told), (path, told)


def test_what_a_file_says_beside_its_values_is_no_difference() -> None:
    rewritten = "# another remark\n" + re.sub(r" +#.*", "", DEMO_TEXT).replace(" = ", "=")
    assert rewritten != DEMO_TEXT
    assert words(loads(rewritten)) == []


@pytest.mark.parametrize("kind", NAMED)
def test_a_thing_of_any_kind_that_comes_goes_or_is_renamed_is_said(kind: str) -> None:
    values = {**example(SCHEMA, 0), "triggers": {}, kind: example(SCHEMA, 0)[kind]}
    thing = values[kind]["thing"]
    before, more, renamed = (
        Sequence.model_validate({**values, kind: things})
        for things in ({"thing": thing}, {"thing": thing, "new": thing}, {"fresh": thing})
    )
    one = place_name((kind, "thing")).removesuffix(" 'thing'")
    assert words(more, before) == [f"{one} 'new' is new"]
    assert words(before, more) == [f"{one} 'new' is gone"]
    assert words(renamed, before) == [f"{one} 'thing' is called 'fresh' now"]
