"""Every breach of TOML's syntax in a text, by striking out one broken statement after the other."""

import re
import tomli
from dataclasses import dataclass, field
from typing import NamedTuple

from fxseq.sequence.layout import read_layout
from fxseq.sequence.syntax_wording import describe, describe_inside

_MOST = 50
"""Broken statements that are told apart; a text with more is hardly a prop file."""

_AT = re.compile(r"\(at line (\d+), column (\d+)\)$")
_KEY = r"""(?:[\w-]+|"[^"]*"|'[^']*')"""
_STARTS_PAIR = re.compile(rf"\s*{_KEY}(?:\s*\.\s*{_KEY})*\s*=")
_STARTS_TABLE = re.compile(r"\s*\[\[?[^\[\],=]*\]\]?\s*(?:#.*)?$")


class SyntaxFault(NamedTuple):
    """A broken statement, with its line counted from 1."""

    line: int
    what: str
    allowed: str = ""
    remedy: str = ""


@dataclass
class Struck:
    """A text without its broken statements: their lines are empty, so that all others keep their
    numbers.

    conflicts: lines of statements that are right in themselves but define again what is defined
    above.
    """

    lines: list[str]
    faults: list[SyntaxFault] = field(default_factory=list)
    conflicts: list[int] = field(default_factory=list)


class _Stop(NamedTuple):
    """Where the strict reader stopped, counted from 0."""

    line: int
    column: int


def strike_out(text: str) -> Struck:
    """Find every broken statement. The strict reader of the standard library is the only judge
    of what is broken.
    """
    struck = Struck(text.split("\n"))
    judged = list(struck.lines)
    for _ in range(_MOST):
        stop = _stop(judged)
        if stop is None:
            return struck
        _strike_one(struck, judged, stop)
    stop = _stop(judged)
    if stop is None:
        return struck
    what = f"this line is broken too, after {_MOST} others; the rest of the file was not read"
    struck.faults.append(SyntaxFault(stop.line + 1, what, "", "Is this a TOML file?"))
    return struck


def _stop(lines: list[str]) -> _Stop | None:
    """Where the reader stops, or None if it reads all of the lines."""
    try:
        tomli.loads("\n".join(lines))
    except tomli.TOMLDecodeError as error:
        at = _AT.search(str(error))
        if at:
            return _Stop(int(at[1]) - 1, int(at[2]) - 1)
        return _Stop(len(lines) - 1, 0)
    except (ValueError, RecursionError):
        # A number of thousands of digits, or thousands of brackets: the reader does not say where,
        # but it can only be the longest line.
        return _Stop(max(range(len(lines)), key=lambda index: len(lines[index])), 0)
    return None


def _strike_one(struck: Struck, judged: list[str], stop: _Stop) -> None:
    """Strike out the statement in which the reader stopped."""
    start = stop.line
    while start and _stop(judged[:start]):
        start -= 1
    statement = judged[start : stop.line + 1]
    if _is_conflict(statement):
        struck.conflicts.append(start + 1)
        _clear(judged, start, _end_of_block(judged, start, stop.line + 1))
        return
    struck.faults.append(_describe(judged, start, stop))
    end = _end_of_block(judged, start, _end_of_broken(judged, start, stop.line))
    _clear(judged, start, end)
    _clear(struck.lines, start, end)


def _clear(lines: list[str], start: int, end: int) -> None:
    lines[start:end] = [""] * (end - start)


def _is_conflict(statement: list[str]) -> bool:
    if _stop(statement) is None:
        return True
    layout = read_layout("\n".join(statement))
    return layout.is_whole and bool(layout.duplicates)


def _describe(lines: list[str], start: int, stop: _Stop) -> SyntaxFault:
    """Blame the line inside of a value if the reader stopped there, else the line on which the
    statement starts.
    """
    inside = start < stop.line < len(lines) - 1 and not _starts_statement(lines[stop.line])
    rest = lines[stop.line][stop.column :].strip()
    if inside:
        return SyntaxFault(stop.line + 1, *describe_inside(lines[start], rest))
    return SyntaxFault(start + 1, *describe(lines[start], rest))


def _starts_statement(line: str) -> bool:
    return bool(_STARTS_PAIR.match(line) or _STARTS_TABLE.match(line))


def _end_of_broken(lines: list[str], start: int, stop: int) -> int:
    """First line after the broken statement."""
    if stop > start and _starts_statement(lines[stop]):
        return stop
    end = _end_of_brackets(lines, start) or start + 1
    if stop == start or end > stop:
        return end
    return next(
        (index for index in range(stop, len(lines)) if _starts_statement(lines[index])), len(lines)
    )


def _end_of_brackets(lines: list[str], start: int) -> int | None:
    """First line after all brackets are closed that open on the line, or None if the next table
    comes first.
    """
    depth = 0
    for index in range(start, len(lines)):
        if index > start and _STARTS_TABLE.match(lines[index]):
            return None
        depth += sum(lines[index].count(mark) for mark in "[{") - sum(
            lines[index].count(mark) for mark in "]}"
        )
        if depth <= 0:
            return index + 1
    return None


def _end_of_block(lines: list[str], start: int, end: int) -> int:
    """Find the line of the next table header: what stands below it would fall to another table."""
    if not lines[start].lstrip().startswith("["):
        return end
    return next(
        (index for index in range(start + 1, len(lines)) if _STARTS_TABLE.match(lines[index])),
        len(lines),
    )
