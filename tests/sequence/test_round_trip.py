"""Sequences of every kind: written and read again, edited, and broken."""

import re
import tomllib
from pathlib import Path
from typing import Any

import tomlkit
from any_sequence import TITLES, sequence_values
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from fxseq.sequence import Document, Sequence, SequenceError, json_schema, loads
from fxseq.sequence.edits import remove_value, set_value, written
from fxseq.sequence.layout import read_layout
from fxseq.sequence.rules import check, names_of
from fxseq.sequence.values import read_values

SCHEMA = Draft202012Validator(json_schema())
VALUES = sequence_values()
slow = settings(
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    deadline=None,
    max_examples=30,
)


def dumps(sequence: Sequence) -> str:
    """Its keys but for those at their defaults, written by a library of its own."""
    return tomlkit.dumps(sequence.model_dump(exclude_defaults=True))


@slow
@given(VALUES)
def test_sequence_that_is_written_and_read_is_the_same(values):
    sequence = Sequence.model_validate(values)
    assert check(sequence) == []
    assert loads(dumps(sequence)) == sequence


@slow
@given(VALUES)
def test_schema_accepts_what_is_written(values):
    assert list(SCHEMA.iter_errors(tomllib.loads(dumps(Sequence.model_validate(values))))) == []


@slow
@given(VALUES)
def test_layout_of_what_is_written_has_the_values_and_a_line_for_each(values):
    text = dumps(Sequence.model_validate(values))
    layout = read_layout(text)
    assert layout.values == tomllib.loads(text)
    lines = text.split("\n")
    for path, line in layout.lines.items():
        if isinstance(path[-1], str):
            assert path[-1] in lines[line - 1]


@slow
@given(VALUES, st.sampled_from(["\n", "\r\n"]), st.sampled_from(["", "\ufeff"]), TITLES)
def test_document_changes_only_what_is_set(values, line_end, mark, title):
    data = (mark + dumps(Sequence.model_validate(values)).replace("\n", line_end)).encode()
    document = Document(Path("lamp.toml"), data)
    assert document.text.encode() == data
    document.set(("title",), title)
    assert document.sequence == loads(data.decode()).model_copy(update={"title": title})
    assert document.text.split("\n")[2:] == data.decode().split("\n")[2:]


JUNK = [
    "[",
    "]",
    "{",
    "}",
    '"',
    "'",
    '"""',
    "=",
    ",",
    "\n",
    "#",
    "x",
    "-",
    "",
    "\x00",
    "\\",
    "é",
    "[t]\n",
    "\r",
]


@slow
@given(VALUES, st.data())
def test_broken_text_gives_faults_in_order_of_lines_and_nothing_else(values, data):
    lines = dumps(Sequence.model_validate(values)).split("\n")
    for _ in range(data.draw(st.integers(1, 4))):
        index = data.draw(st.integers(0, len(lines) - 1))
        place = data.draw(st.integers(0, len(lines[index])))
        junk = data.draw(st.sampled_from(JUNK))
        cut = data.draw(st.integers(0, 3))
        lines[index] = lines[index][:place] + junk + lines[index][place + cut :]
    text = "\n".join(lines)
    try:
        loads(text, "lamp.toml")
    except SequenceError as error:
        found = [int(re.fullmatch(r"lamp\.toml:(\d+)", fault.where)[1]) for fault in error.faults]
        assert found == sorted(found)
        assert 1 <= found[0] and found[-1] <= text.count("\n") + 1
    else:
        tomllib.loads(text)


ANY_VALUE = st.recursive(
    st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.dates(),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(max_size=8) | st.sampled_from(["clip", "loop"]), inner, max_size=3),
    max_leaves=6,
)


def places_in(values: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = (
        values.items()
        if isinstance(values, dict)
        else enumerate(values) if isinstance(values, list) else ()
    )
    return [
        place for key, value in inner for place in [(*path, key), *places_in(value, (*path, key))]
    ]


@slow
@given(VALUES, ANY_VALUE, st.data())
def test_any_value_at_any_place_gives_a_sequence_or_faults(values, value, data):
    *path, last = data.draw(st.sampled_from(places_in(values)))
    table = values
    for step in path:
        table = table[step]
    table[last] = value
    sequence, faults = read_values(values)
    faults += check(sequence, names_of(values))
    assert all(fault.what for fault in faults)
    assert faults or Sequence.model_validate(values) == sequence


@slow
@given(st.dictionaries(st.text(max_size=8), ANY_VALUE, max_size=4))
def test_layout_reads_any_text_that_the_strict_reader_reads(values):
    text = tomlkit.dumps(values)
    try:
        expected = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)
    assert repr(read_layout(text).values) == repr(expected)


PLAIN_VALUE = st.recursive(
    st.booleans()
    | st.integers(-(2**63), 2**63 - 1)
    | st.floats(allow_nan=False)
    | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


def in_lines(values: dict[str, Any]) -> str:
    return "".join(f"{key} = {written(value)}  # {key}\n" for key, value in values.items())


def inside(values: Any, path: list[Any]) -> Any:
    for step in path:
        values = values[step]
    return values


def filled(value: Any) -> Any:
    """Without empty tables and lists: those that come of headers go with them."""
    if isinstance(value, dict):
        return {key: filled(inner) for key, inner in value.items() if filled(inner) not in ({}, [])}
    if isinstance(value, list):
        return [filled(inner) for inner in value]
    return value


@slow
@given(VALUES, PLAIN_VALUE, st.sampled_from([tomlkit.dumps, in_lines]), st.data())
def test_an_edit_at_any_place_does_that_alone(values, value, write, data):
    text = write(values)
    *path, last = data.draw(st.sampled_from(places_in(values)))
    taken_out = remove_value(text, (*path, last))
    set_again = set_value(text, (*path, last), value)
    inside(values, path)[last] = value
    assert filled(tomllib.loads(set_again)) == filled(values)
    del inside(values, path)[last]
    assert filled(tomllib.loads(taken_out)) == filled(values)


@slow
@given(VALUES, PLAIN_VALUE, st.sampled_from([tomlkit.dumps, in_lines]), st.data())
def test_a_new_key_in_any_table_is_put_there(values, value, write, data):
    tables = [place for place in places_in(values) if isinstance(inside(values, place), dict)]
    path = data.draw(st.sampled_from([(), *tables]))
    text = set_value(write(values), (*path, "quite new"), value)
    inside(values, path)["quite new"] = value
    assert tomllib.loads(text) == values
