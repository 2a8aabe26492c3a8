"""What every key of a prop file means, in plain text, out of the schema."""

import json
import textwrap
from collections.abc import Iterator
from typing import Any

from fxseq.sequence.parts import NEEDED_WITHOUT_PART
from fxseq.sequence.paths import Path
from fxseq.sequence.schema import Schema, alternatives
from fxseq.sequence.wording import NAME_RULE, allowed_at, found, unit_of

_WIDTH = 100
_HEAD = (
    "Every table of a prop file with its keys: what each means and which values it takes. A key"
    " may be left out unless it is marked required. NAME is a name that you choose:"
    f" {NAME_RULE.removeprefix('a name of ')}. [[double brackets]] mean a list of tables."
)


def key_text() -> str:
    """A paragraph for each table, the outermost first; lines of at most 100 characters."""
    return "\n\n".join([_lines(_HEAD), *_tables((), "At the top of the file")])


def _tables(path: Path, heading: str) -> Iterator[str]:
    """The table at a place, and all tables in it; nothing where none may stand."""
    for table in alternatives(path):
        keys = table.get("properties", {})
        if keys:
            yield "\n".join(
                [heading, _lines(table["description"]), *(_key(path, key, table) for key in keys)]
            )
        for key in keys:
            for inner, shown in _inner((*path, key)):
                yield from _tables(inner, shown)


def _inner(path: Path) -> Iterator[tuple[Path, str]]:
    """Places of tables that a key leads to, as they are written: itself, one by name, or one of
    a list.
    """
    dotted = ".".join("NAME" if step == "*" else str(step) for step in path if step != 0)
    for node in alternatives(path):
        if "properties" in node:
            yield path, f"[{dotted}]"
        elif "additionalProperties" in node:
            yield (*path, "*"), f"[{dotted}.NAME]"
        elif "items" in node:
            yield (*path, 0), f"[[{dotted}]]"


def _key(path: Path, key: str, table: Schema) -> str:
    """A key with its meaning, and below it what may stand there."""
    place = (*path, key)
    schema = table["properties"][key]
    meaning = schema["description"].removesuffix(f" [{unit_of(place)}]")
    inner = [
        f"see {heading}"
        for at, heading in _inner(place)
        if any("properties" in node for node in alternatives(at))
    ]
    parts = [_allowed(place), *inner, _when_left_out(key, table, unit_of(place))]
    return "\n".join([f"  {key}", _lines(meaning, 4), _lines("; ".join(filter(None, parts)), 4)])


def _lines(text: str, indent: int = 0) -> str:
    return textwrap.fill(
        " ".join(text.split()),
        _WIDTH,
        initial_indent=" " * indent,
        subsequent_indent=" " * indent,
        break_on_hyphens=False,
    )


def _allowed(place: Path) -> str:
    values = alternatives((*place, "*"))
    if values and "properties" not in values[0]:
        text = f"a table of NAME = {allowed_at((*place, '*'))}"
    else:
        text = allowed_at(place)
    return text.replace(NAME_RULE, "a name")


def _when_left_out(key: str, table: Schema, unit: str) -> str:
    if key in table.get("required", ()):
        return "required"
    if key in table.get(NEEDED_WITHOUT_PART, ()):
        return "required unless part is given"
    about = table["properties"][key]
    if "Default:" in about.get("description", ""):
        return ""
    default: Any = about.get("default")
    if isinstance(default, list):
        if not default:
            return ""
        return f"default {json.dumps(default)}"
    if default is None or isinstance(default, dict):
        return ""
    return f"default {found(default, unit)}"
