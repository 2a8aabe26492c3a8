"""Names that a maker gives: where each is used, and a new name for a thing in all these places at
once. Whatever is not the name stays as it is, down to the byte.

A name is used as the value of a key (`input = "lever"`), as a key (`when = { ring = "storm" }`),
and as a word of the press scripts. Positions of a selector are names within that selector.
"""

import re
from collections.abc import Callable, Iterator
from itertools import count
from typing import Any, NamedTuple

from tree_sitter import Node

from fxseq.sequence.edits import (
    NOTHING,
    remove_value,
    set_value,
    value_at,
    whole_layout,
    written,
)
from fxseq.sequence.errors import Fault, SequenceError
from fxseq.sequence.layout import Layout, plain_value
from fxseq.sequence.paths import Path, place_name
from fxseq.sequence.wording import NAME_RULE, found, usable_name

ANY = "*"
"""Step of a pattern: any name, or any index."""
REFERENCES: dict[Path, str] = {
    ("triggers", ANY, "input"): "inputs",
    ("triggers", ANY, "needs"): "counters",
    ("triggers", ANY, "empty"): "effects",
    ("triggers", ANY, "effects", ANY): "effects",
    ("triggers", ANY, "begin"): "effects",
    ("triggers", ANY, "during"): "effects",
    ("triggers", ANY, "end"): "effects",
    ("effects", ANY, "sounds", ANY, "clip"): "clips",
    ("effects", ANY, "lights", ANY, "group"): "groups",
    ("effects", ANY, "lights", ANY, "fade"): "fades",
    ("effects", ANY, "counts", ANY, "counter"): "counters",
    ("groups", ANY, "gauge"): "counters",
    ("clips", ANY, "match_to"): "clips",
}
"""Keys whose value is the name of a thing: path to the kind of thing."""
MOST_LETTERS = 40
_NAME = re.compile(rf"[a-z][a-z0-9_]{{0,{MOST_LETTERS - 1}}}", re.ASCII)
_VOLUME = "volume"
"""Word of the press script in the place of a selector."""


class Position(NamedTuple):
    """A position of a selector."""

    selector: str
    name: str


class _Words(NamedTuple):
    """What a press script has before the name of a thing, and behind it, as patterns."""

    before: str
    after: str

    def pattern(self, name: str) -> re.Pattern[str]:
        """Any place that names the thing."""
        return re.compile(
            rf"(?<![a-z0-9_])((?:{self.before})[ \t]+){name}(?=[ \t]*{self.after})", re.ASCII
        )


_PRESSED = _Words("tap|hold|press|release", "@")


def uses_of(values: dict[str, Any], kind: str, name: str) -> list[Path]:
    """Where a thing is used: paths of values that name it, of keys in `when`, and of the press
    scripts.
    """
    paths = _values_naming(values, kind, name)
    if kind == "selectors":
        paths += [path for path, _ in _matching(values, ("triggers", ANY, "when", name))]
    return paths + _in_script(values, _script_words(values, kind, name), name)


def _values_naming(values: dict[str, Any], kind: str, name: str) -> list[Path]:
    return [
        path
        for pattern, of in REFERENCES.items()
        if of == kind
        for path, value in _matching(values, pattern)
        if value == name
    ]


def position_uses(values: dict[str, Any], position: Position) -> list[Path]:
    """Where a position of a selector is used, as paths of values and of the press scripts."""
    selector, name = position
    wanted = ("triggers", ANY, "when", selector)
    places = [wanted, (*wanted, ANY), ("selectors", selector, "start")]
    paths = [path for place in places for path, value in _matching(values, place) if value == name]
    return paths + _in_script(values, _turned(selector), name)


def rename(text: str, kind: str, name: str, new: str) -> str:
    """The text with another name for a thing, wherever it is used. Raises SequenceError where
    that name cannot be given, or would be mistaken for another.
    """
    layout = whole_layout(text)
    values = layout.values
    check_name(values, kind, new, name)
    pieces = layout.keys[kind, name] + _nodes(layout, _values_naming(values, kind, name))
    if kind == "selectors":
        for path, nodes in layout.keys.items():
            if path[:1] + path[2:] == ("triggers", "when", name):
                pieces += nodes
    words = _script_words(values, kind, name)
    _forbid_mistaken(values, kind, name, new)
    return _in_script_renamed(_respelled(text, pieces, name, new), words, name, new)


def rename_position(text: str, position: Position, new: str) -> str:
    """The text with another name for a position of a selector. Raises SequenceError."""
    layout = whole_layout(text)
    selector, name = position
    positions = layout.values["selectors"][selector]["positions"]
    _check_form(new)
    if new in positions:
        raise _refused(("selectors", selector), f"there is already a position '{new}'")
    own = ("selectors", selector, "positions", positions.index(name))
    pieces = _nodes(layout, [own, *position_uses(layout.values, position)])
    text = _respelled(text, pieces, name, new)
    return _in_script_renamed(text, _turned(selector), name, new)


def repoint(text: str, kind: str, name: str, other: str) -> str:
    """The text with another thing of the kind wherever this one is used. Raises SequenceError."""
    if kind == "selectors":
        what = "its positions are its own, so no other selector can take its place"
        raise _refused((kind, name), what)
    layout = whole_layout(text)
    words = _script_words(layout.values, kind, name)
    pieces = _nodes(layout, _values_naming(layout.values, kind, name))
    text = _respelled(text, pieces, name, other)
    return _in_script_renamed(text, words, name, other)


def take_out(text: str, kind: str, name: str) -> str:
    """The text without the thing, and without what uses it: steps of effects, conditions, items
    of the press scripts; a trigger that cannot be without it goes too.
    """
    values = whole_layout(text).values
    for path in sorted(uses_of(values, kind, name), key=_sorting, reverse=True):
        if _is_script(path):
            words = _script_words(values, kind, name)
            text = script_changed(text, path, lambda script: _without_items(script, words, name))
        for whole in _whole_uses(path):
            text = _without(text, whole)
    text = remove_value(text, (kind, name))
    for trigger in _idle_triggers(whole_layout(text).values):
        text = take_out(text, "triggers", trigger)
    return text


def check_name(values: dict[str, Any], kind: str, new: str, old: str = "") -> None:
    """A thing of the kind may have this name. Raises SequenceError."""
    _check_form(new)
    if new != old and new in values.get(kind, {}):
        raise _refused((kind, new), "there is already one of this name")


def free_name(values: dict[str, Any], kind: str, wanted: str) -> str:
    """The name, or with a number behind it where it is taken."""
    names = values.get(kind, {})
    stem = re.sub(r"_\d+$", "", wanted)
    free = wanted
    for number in count(2):
        if free not in names:
            return free
        mark = f"_{number}"
        free = stem[: MOST_LETTERS - len(mark)] + mark
    raise AssertionError("numbers do not end")


def _check_form(name: str) -> None:
    if not _NAME.fullmatch(name):
        raise SequenceError(
            Fault("name", f"{found(name)} cannot be a name", NAME_RULE, usable_name(name))
        )


def _refused(path: Path, what: str, remedy: str = "Choose another name.") -> SequenceError:
    return SequenceError(Fault(place_name(path), what, "", remedy))


def _matching(value: Any, pattern: Path, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Places of a pattern that the file has, with what is there."""
    if not pattern:
        yield path, value
        return
    inner: list[tuple[Any, Any]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    for step, below in inner:
        if pattern[0] in (ANY, step):
            yield from _matching(below, pattern[1:], (*path, step))


def _nodes(layout: Layout, paths: list[Path]) -> list[Node]:
    """Where names stand as values; a press script is no such place."""
    return [layout.nodes[path] for path in paths if not _is_script(path)]


def _respelled(text: str, nodes: list[Node], name: str, new: str) -> str:
    """The text with a new name in these keys and values, each in the quotes that it has."""
    data = text.encode()
    for node in sorted(nodes, key=lambda node: node.start_byte, reverse=True):
        raw = data[node.start_byte : node.end_byte].decode()
        piece = raw.replace(name, new) if name in raw else written(new)
        data = data[: node.start_byte] + piece.encode() + data[node.end_byte :]
    return data.decode()


def _sorting(path: Path) -> list[tuple[int, str]]:
    return [(step if isinstance(step, int) else 0, str(step)) for step in path]


def _whole_uses(path: Path) -> list[Path]:
    """What means nothing without the name at the path."""
    if _is_script(path):
        return []
    if path[0] == "effects":
        return [path[:4]]
    if path[2:] == ("needs",):
        return [path, (*path[:2], "empty")]
    return [path]


def _without(text: str, path: Path) -> str:
    """Without what is at the path, and without the list or table around it where that was all
    that it held; the thing around it stays, if with nothing in it.
    """
    text = remove_value(text, path)
    outer = path[:-1]
    if len(outer) > 2 and value_at(whole_layout(text).values, outer) in ([], {}):
        text = remove_value(text, outer)
    if len(path) > 2 and value_at(whole_layout(text).values, path[:2]) is NOTHING:
        text = set_value(text, path[:2], {})
    return text


def _idle_triggers(values: dict[str, Any]) -> list[str]:
    """Triggers that nothing starts, or that start nothing."""
    return [name for name, trigger in values.get("triggers", {}).items() if _is_idle(trigger)]


def _is_idle(trigger: dict[str, Any]) -> bool:
    mode = trigger["mode"]
    keys = ("effects",) if mode in ("once", "repeat") else ("begin", "during", "end")
    is_started = mode == "always" or "input" in trigger
    return not is_started or not any(trigger.get(key) for key in keys)


def _is_script(path: Path) -> bool:
    return path[0] == "scripts"


def _scripts(values: dict[str, Any]) -> dict[Path, str]:
    return {
        path: script
        for path, script in _matching(values, ("scripts", ANY, "presses"))
        if isinstance(script, str)
    }


def _in_script(values: dict[str, Any], words: _Words | None, name: str) -> list[Path]:
    """Paths of the press scripts that name the thing."""
    if words is None:
        return []
    pattern = words.pattern(name)
    return [path for path, script in _scripts(values).items() if pattern.search(script)]


def _script_words(values: dict[str, Any], kind: str, name: str) -> _Words | None:
    """How press scripts name a thing; None where they mean another by that name, or none."""
    if kind == "inputs" or (kind == "triggers" and name not in values.get("inputs", {})):
        return _PRESSED
    if kind == "selectors" and name != _VOLUME:
        return _Words("set", r"[a-z0-9_]+[ \t]*@")
    return None


def _turned(selector: str) -> _Words | None:
    """How press scripts name a position of the selector."""
    return _Words(rf"set[ \t]+{selector}", "@") if selector != _VOLUME else None


def _forbid_mistaken(values: dict[str, Any], kind: str, name: str, new: str) -> None:
    """Press scripts must mean the same by their words afterwards. Raises SequenceError."""
    words = _script_words(values, kind, name)
    if words is None or new == name:
        return
    says_name = bool(_in_script(values, words, name))
    says_new = bool(_in_script(values, words, new))
    is_other = kind == "triggers" and new in values.get("inputs", {})
    if (says_new and (says_name or kind == "inputs")) or (
        says_name and (is_other or (kind == "selectors" and new == _VOLUME))
    ):
        raise _refused((kind, name), f"the press script means something else by '{new}'")


def _in_script_renamed(text: str, words: _Words | None, name: str, new: str) -> str:
    if words is None:
        return text
    for path in _scripts(whole_layout(text).values):
        text = script_changed(
            text, path, lambda script: words.pattern(name).sub(rf"\g<1>{new}", script)
        )
    return text


def script_changed(text: str, path: Path, change: Callable[[str], str]) -> str:
    """The text with another press script, in the quotes and lines that it has; without one that
    has nothing left.
    """
    layout = whole_layout(text)
    old = _scripts(layout.values)[path]
    new = change(old)
    if new == old:
        return text
    if not new.strip():
        return remove_value(text, path[:2])
    node = layout.nodes[path]
    data = text.encode()
    raw = data[node.start_byte : node.end_byte].decode()
    quotes = raw[:3] if raw[:3] in ('"""', "'''") else raw[0]
    inner = raw.removeprefix(quotes).removesuffix(quotes)
    piece = f"{quotes}{change(inner)}{quotes}"
    if plain_value(piece) != new:
        piece = written(new)
    return (data[: node.start_byte] + piece.encode() + data[node.end_byte :]).decode()


def _without_items(script: str, words: _Words | None, name: str) -> str:
    """The press script without items that name the thing; what parts the others stays."""
    assert words is not None
    pieces = re.split("([,;\n])", script)
    items = pieces[::2]
    separators = ["", *pieces[1::2]]
    kept = [
        (separator, item)
        for separator, item in zip(separators, items, strict=True)
        if not words.pattern(name).search(item)
    ]
    joined = "".join(f"{separator}{item}" for separator, item in kept)
    return joined.lstrip(",; ")
