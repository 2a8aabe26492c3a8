"""Broken TOML in a maker's words: the usual slips, told from the look of the line."""

import re
from typing import NamedTuple

from fxseq.sequence.paths import shown


class Slip(NamedTuple):
    """A usual slip: what the line looks like, and what to say; `{key}`, `{value}` and other
    groups of the pattern are filled in.
    """

    pattern: str
    what: str
    allowed: str = ""
    remedy: str = ""


_TEXT = r"""(?:"[^"]*"|'[^']*')"""
_PAIR = r"(?P<key>[^=#]*[^=#\s])\s*=\s*"
_REST = rf"""(?:[^\[\]{{}}"'#]|{_TEXT})*"""
_END = r"\s*(?:#.*)?$"

_INSIDE = [
    Slip(r"[“”„‘’«»]", "has curly quotes", "", 'Write straight ones: "...".'),
    Slip(r"(?P<value>true|false)\b", "has `{value}`", "true or false, in small letters"),
    Slip(r"(?P<value>yes|no|on|off)\b", "has `{value}`", "true for yes, false for no"),
    Slip(
        r"(?P<unit>%|[a-z]+)\s*[,\]}}]",
        "has a number with `{unit}` behind it",
        "a number",
        "Delete `{unit}`: a unit stands in the name of the key.",
    ),
]
"""Slips inside of a list or braces, by what stands where the reader stopped."""

_SLIPS = [
    Slip(
        r".*[\x00-\x08\x0b-\x1f\x7f]",
        "this line has an invisible character",
        "",
        "Delete the line and write it again.",
    ),
    Slip(
        r"(?P<line>\[.*)",
        "the table header `{line}` is not right",
        "[name], [name.name] or [[name.name]]",
    ),
    Slip(r"(?P<key>[\w.-]+)\s*:", "{key} is followed by ':'", "'=' between a key and its value"),
    Slip(
        r"(?P<line>[^=]*)$",
        "`{line}` is neither a key with its value nor a table header",
        "key = value, [name] or # comment",
    ),
    Slip(_PAIR + r"[“”„‘’«»]", "{key} has curly quotes", "", 'Write straight ones: "...".'),
    Slip(_PAIR + _END, "{key} has no value", "", "Write a value after '=', or delete the line."),
    Slip(
        _PAIR + r'"[^"]*\\(?![btnfruU"\\])',
        "{key} has a \\ in its text",
        "",
        "Write / in file names, or put the text in single quotes.",
    ),
    Slip(
        _PAIR + r"""(?P<quote>\"\"\"|'''|"(?![^"]*")|'(?![^']*'))""",
        "{key} has a text without its closing quote",
        "",
        "Write {quote} at its end.",
    ),
    Slip(
        _PAIR + r"(?P<value>true|false)" + _END,
        "{key} is `{value}`",
        "true or false, in small letters",
    ),
    Slip(
        _PAIR + r"(?P<value>yes|no|on|off)" + _END,
        "{key} is `{value}`",
        "true for yes, false for no",
    ),
    Slip(
        _PAIR + r"(?P<value>(?P<whole>[+-]?\d+),(?P<part>\d+))" + _END,
        "{key} is `{value}`",
        "",
        "Write {whole}.{part}, with a point.",
    ),
    Slip(
        _PAIR + r"(?P<value>(?P<number>[+-]?\d+(?:\.\d+)?)\s*(?:[a-z]\w*|%))" + _END,
        "{key} is `{value}`",
        "a number",
        "Write {number} alone: a unit stands in the name of the key.",
    ),
    Slip(
        _PAIR + r"(?P<value>(?P<sign>[+-]?)0+(?P<number>\d[\d.]*))" + _END,
        "{key} is `{value}`",
        "",
        "Write {sign}{number}, without 0 in front.",
    ),
    Slip(
        _PAIR + r"(?P<value>(?P<sign>[+-]?)\.(?P<part>\d+))" + _END,
        "{key} is `{value}`",
        "",
        "Write {sign}0.{part}.",
    ),
    Slip(
        _PAIR + r"(?P<value>(?P<number>[+-]?\d+)\.)" + _END,
        "{key} is `{value}`",
        "",
        "Write {number}.0 or {number}.",
    ),
    Slip(
        _PAIR + r"(?P<value>[a-z][\w./ -]*?)" + _END,
        "{key} is `{value}`, without quotes",
        "",
        'Write "{value}" if it is text.',
    ),
    Slip(
        _PAIR + rf"\[{_REST}" + _END,
        "{key} has a [ that is not closed",
        "",
        "Write ] at its end, or look for a missing comma.",
    ),
    Slip(
        _PAIR + rf"\{{{_REST}" + _END,
        "{key} has a {{ that is not closed on its line",
        "",
        "Write }} at the end of the line.",
    ),
]


def describe(line: str, rest: str) -> tuple[str, str, str]:
    """What is wrong, what is allowed and what to do about the statement that starts on the line.

    rest: what stands where the reader stopped.
    """
    for slip in _SLIPS:
        match = re.match(slip.pattern, line.strip(), re.IGNORECASE)
        if match:
            words = {name: shown(text.strip()) for name, text in match.groupdict().items()}
            return (
                slip.what.format(**words),
                slip.allowed.format(**words),
                slip.remedy.format(**words),
            )
    return describe_inside(line, rest)


def describe_inside(line: str, rest: str) -> tuple[str, str, str]:
    """What to say where the reader stopped inside of a value that starts on the line."""
    key = line.partition("=")[0].strip()
    for slip in _INSIDE:
        match = re.match(slip.pattern, rest, re.IGNORECASE)
        if match:
            words = {name: shown(text) for name, text in match.groupdict().items()}
            return (
                f"{shown(key)} {slip.what.format(**words)}",
                slip.allowed.format(**words),
                slip.remedy.format(**words),
            )
    where = f"`{shown(rest)}`" if rest else "here"
    return (
        f"{shown(key) or 'the line'} cannot be read from {where} on",
        "",
        "Look for a missing comma, quote or bracket.",
    )
