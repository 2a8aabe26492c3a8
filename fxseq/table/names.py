"""What a maker calls things: a table only counts them, and may carry their names, which no player
looks at (SPEC 3.11).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from fxseq.sequence.parts import Name
from fxseq.sequence.titles import LONGEST_TITLE, hidden_in
from fxseq.table.records import Table

LONGEST_REVISION = 20
_NAMES = TypeAdapter(list[Name])


@dataclass(frozen=True)
class Names:
    """What the maker calls the things that a table only counts, in the table's order. positions:
    those of each selector; segments: the fade of each.
    """

    inputs: tuple[str, ...]
    selectors: tuple[str, ...]
    positions: tuple[tuple[str, ...], ...]
    counters: tuple[str, ...]
    groups: tuple[str, ...]
    fades: tuple[str, ...]
    segments: tuple[str, ...]
    clips: tuple[str, ...]
    effects: tuple[str, ...]
    triggers: tuple[str, ...]


@dataclass(frozen=True)
class Called:
    """What a table may carry for people."""

    title: str
    revision: str | None
    names: Names


class BadNames(ValueError):
    """What a table carries are not the names of its things."""


def packed(called: Called) -> bytes:
    """As it stands in a table: an even number of bytes."""
    texts = [called.title, called.revision or "", *(each for row in _rows(called) for each in row)]
    data = "".join(chr(len(text)) + text for text in texts).encode()
    return data + bytes(len(data) % 2)


def called_in(table: Table) -> Called | None:
    """What a table carries, if it carries names. Raises BadNames."""
    if not table.names:
        return None
    texts = _texts(table.names)
    try:
        called = _called(texts, table)
    except StopIteration:
        raise BadNames("there are too few of them") from None
    if any(texts):
        raise BadNames("there are too many of them")
    _check(called)
    return called


def _rows(called: Called) -> Iterator[tuple[str, ...]]:
    """The names, kind by kind, as they stand."""
    names = called.names
    yield names.inputs
    yield names.selectors
    yield from names.positions
    yield from (names.counters, names.groups, names.fades)
    yield from (names.clips, names.effects, names.triggers)


def _texts(data: bytes) -> Iterator[str]:
    """Each text, as the number of its letters before it says."""
    try:
        text = data.decode()
    except UnicodeDecodeError:
        raise BadNames("they are no UTF-8") from None
    at = 0
    while at < len(text):
        end = at + 1 + ord(text[at])
        if end > len(text):
            raise BadNames("the last one is cut off")
        yield text[at + 1 : end]
        at = end


def _called(texts: Iterator[str], table: Table) -> Called:
    """Raises StopIteration where there are too few texts."""

    def named(things: Iterable[object]) -> tuple[str, ...]:
        return tuple([next(texts) for _ in things])

    title, revision = next(texts), next(texts)
    inputs, selectors = named(table.inputs), named(table.selectors)
    positions = tuple([named(range(each.positions)) for each in table.selectors])
    counters, groups, fades = named(table.counters), named(table.groups), named(table.fades)
    clips, effects, triggers = named(table.clips), named(table.effects), named(table.triggers)
    segments = [
        name for name, fade in zip(fades, table.fades, strict=True) for _ in fade.segments
    ]
    names = Names(
        inputs, selectors, positions, counters, groups, fades, tuple(segments), clips, effects,
        triggers,
    )  # fmt: skip
    return Called(title, revision or None, names)


def _check(called: Called) -> None:
    """They are what a prop file may say. Raises BadNames."""
    if not 1 <= len(called.title) <= LONGEST_TITLE or hidden_in(called.title):
        raise BadNames("its title is none that a prop file may have")
    if len(called.revision or "") > LONGEST_REVISION:
        raise BadNames("its revision is longer than a prop file may say")
    for row in _rows(called):
        if len(set(row)) < len(row):
            raise BadNames("two things have the same name")
        try:
            _NAMES.validate_python(list(row))
        except ValidationError:
            raise BadNames("a name is none that a prop file may have") from None
