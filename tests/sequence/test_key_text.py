"""What is written of the keys, against the model that reads them."""

import inspect
import re
import typing
from collections.abc import Iterator
from typing import Any

import pytest

from fxseq.sequence import Sequence
from fxseq.sequence.key_text import key_text
from fxseq.sequence.parts import Part

SECTIONS = {section.partition("\n")[0]: section for section in key_text().split("\n\n")[1:]}
"""By heading."""


def in_one_line(text: str) -> str:
    return " ".join(text.split())


def keys_of(section: str) -> dict[str, str]:
    """What is said of each key, in one line."""
    text: dict[str, str] = {}
    for line in section.splitlines():
        if line.startswith("    "):
            text[key] = f"{text[key]} {line.strip()}".strip()
        elif line.startswith("  "):
            key = line.strip()
            text[key] = ""
    return text


def parts_in(annotation: Any, place: str) -> Iterator[tuple[str, type[Part]]]:
    """Tables that a type allows, with their headings."""
    kind = typing.get_origin(annotation)
    inner = typing.get_args(annotation)
    if isinstance(annotation, type) and issubclass(annotation, Part):
        yield f"[{place}]", annotation
    for each in inner:
        for heading, part in parts_in(each, f"{place}.NAME" if kind is dict else place):
            yield (f"[{heading}]" if kind is list else heading), part


def tables(part: type[Part], heading: str) -> Iterator[tuple[str, type[Part]]]:
    """A part and all parts in it, each with the heading it has to have."""
    yield heading, part
    inside = heading.strip("[]") + "." if heading.startswith("[") else ""
    for key, field in part.model_fields.items():
        for inner, found in parts_in(field.annotation, inside + key):
            yield from tables(found, inner)


TABLES = dict(tables(Sequence, "At the top of the file"))
KEYS = [(heading, key, part) for heading, part in TABLES.items() for key in part.model_fields]


def test_every_table_of_the_model_has_its_section_and_there_is_no_other() -> None:
    assert list(SECTIONS) == list(TABLES)
    assert {
        "[board.processor]",
        "[supplies.NAME]",
        "[clips.NAME.loop]",
        "[[effects.NAME.sounds]]",
    } < set(TABLES)


@pytest.mark.parametrize(("heading", "part"), TABLES.items(), ids=TABLES)
def test_a_section_says_what_the_table_is_and_has_all_its_keys_in_order(
    heading: str, part: type[Part]
) -> None:
    assert in_one_line(SECTIONS[heading]).startswith(in_one_line(f"{heading} {part.__doc__}"))
    assert list(keys_of(SECTIONS[heading])) == list(part.model_fields)


@pytest.mark.parametrize(
    ("heading", "key", "part"), KEYS, ids=[f"{heading}{key}" for heading, key, _ in KEYS]
)
def test_a_key_has_its_meaning_its_default_and_whether_it_is_needed(
    heading: str, key: str, part: type[Part]
) -> None:
    text = keys_of(SECTIONS[heading])[key]
    field = part.model_fields[key]
    below = re.search(
        rf'^    {key}: .*?\n    """(.+?)"""', inspect.getsource(part), re.MULTILINE | re.DOTALL
    )
    meaning = in_one_line(below.group(1))
    assert text.startswith((meaning, meaning.rpartition(" [")[0] or meaning))
    needed = (
        "; required unless part is given"
        if heading in ("[speaker]", "[amplifier]")
        else "; required"
    )
    assert text.endswith(needed) == field.is_required()
    if isinstance(field.default, bool | int | float | str):
        plain = (
            str(field.default).lower()
            if isinstance(field.default, bool | str)
            else f"{field.default:.10g}"
        )
        assert plain in text.rpartition("; default ")[2]


def test_a_section_in_full() -> None:
    assert SECTIONS["[[effects.NAME.lights]]"] == """[[effects.NAME.lights]]
A fade on an effect's timeline.
  group
    Name of a group.
    a name; required
  fade
    Name of a fade.
    a name; required
  at_ms
    Start, counted from the start of the effect.
    0 to 3600000 ms; default 0 ms
  stagger_ms
    Delay from one channel of the group to the next. A negative delay runs from the last channel to
    the first.
    -10000 to 10000 ms; default 0 ms"""


@pytest.mark.parametrize(
    ("heading", "key", "allowed"),
    [
        ("At the top of the file", "supplies", "a table; see [supplies.NAME]"),
        ("[effects.NAME]", "sounds", "a list of tables; see [[effects.NAME.sounds]]"),
        ("[clips.NAME]", "loop", 'a table, "file", "whole" or "find"; see [clips.NAME.loop]'),
        ("[triggers.NAME]", "when", "a table of NAME = a name or a list of names"),
        (
            "[board]",
            "codings",
            (
                'a list of one or more of "pcm16", "mulaw", "ima_adpcm", "qoa" and "lpc_rice";'
                ' default ["pcm16", "mulaw", "ima_adpcm", "qoa", "lpc_rice"]'
            ),
        ),
        ("[groups.NAME.ring_mm]", "centre_mm", "[x, y] in mm; required"),
    ],
)
def test_what_may_stand_at_a_key_that_is_no_number(heading: str, key: str, allowed: str) -> None:
    assert keys_of(SECTIONS[heading])[key].endswith(f". {allowed}")


def test_lines_fit_a_terminal() -> None:
    assert max(map(len, key_text().splitlines())) <= 100
    assert not [line for line in key_text().splitlines() if line != line.rstrip()]
