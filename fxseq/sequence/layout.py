"""Where each key of a TOML text stands, read by tree-sitter, which also copes with what a strict
reader refuses.
"""

import tomli
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from fxseq.sequence.paths import Path


@dataclass(frozen=True)
class Duplicate:
    """A key or table that is given a second time."""

    path: Path
    line: int
    first_line: int


@dataclass
class Layout:
    """Values and lines of a text.

    values: as a strict reader gives them; of two values for one key the first.
    lines: line of each key, table and list item, counted from 1.
    tables: `[table]`, or item of `[[table]]`, with the pairs below it; () is the whole text.
    pairs: `key = value`. nodes: values of pairs, and items of lists in brackets.
    keys: where the last step of a path is written as a key or in a header; a header does not say
    the index of a list that it leads into, nor does the path.
    is_whole: nothing had to be left out.
    """

    values: dict[str, Any] = field(default_factory=dict)
    lines: dict[Path, int] = field(default_factory=dict)
    duplicates: list[Duplicate] = field(default_factory=list)
    tables: dict[Path, Node] = field(default_factory=dict)
    pairs: dict[Path, Node] = field(default_factory=dict)
    nodes: dict[Path, Node] = field(default_factory=dict)
    keys: dict[Path, list[Node]] = field(default_factory=dict)
    is_whole: bool = True

    def line_of(self, path: Path) -> int:
        """Line of the place, or of the nearest thing around it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


def read_layout(text: str) -> Layout:
    """Read what can be read of the text; what breaks the syntax is left out."""
    root = Parser(Language(tree_sitter_toml.language())).parse(text.encode()).root_node
    layout = Layout(is_whole=not root.has_error, tables={(): root})
    for node in parts_of(root):
        _read(layout, (), layout.values, node)
    return layout


def _read(layout: Layout, path: Path, table: dict[str, Any], node: Node) -> None:
    """A table, or a pair of the table at the path, unless it is broken."""
    # tree-sitter takes a little more than the strict reader, such as the 32nd of a month.
    with suppress(ValueError, RecursionError):
        if node.type == "pair":
            _read_pair(layout, path, table, node)
        else:
            _read_table(layout, node)


def _read_table(layout: Layout, node: Node) -> None:
    """A `[table]` or `[[table]]` with the pairs below it."""
    header, *rest = parts_of(node)
    _note_keys(layout, (), header)
    enter = _enter_table if node.type == "table" else _append_table
    path, table = enter(layout, keys_of(header), node)
    for pair in rest:
        _read(layout, path, table, pair)


def _enter_table(layout: Layout, keys: list[str], node: Node) -> tuple[Path, dict[str, Any]]:
    line = _line(node)
    path, table = _enter(layout, (), layout.values, keys, line)
    if path in layout.tables:
        layout.duplicates.append(Duplicate(path, line, layout.lines[path]))
    else:
        layout.tables[path] = node
        layout.lines[path] = line
    return path, table


def _append_table(layout: Layout, keys: list[str], node: Node) -> tuple[Path, dict[str, Any]]:
    line = _line(node)
    outer, table = _enter(layout, (), layout.values, keys[:-1], line)
    name = (*outer, keys[-1])
    items = table.setdefault(keys[-1], [])
    if not isinstance(items, list):
        layout.duplicates.append(Duplicate(name, line, layout.line_of(name)))
        items = []
    path = (*name, len(items))
    items.append({})
    layout.lines.setdefault(name, line)
    layout.lines[path] = line
    layout.tables[path] = node
    return path, items[-1]


def _enter(
    layout: Layout, path: Path, table: dict[str, Any], keys: list[str], line: int
) -> tuple[Path, dict[str, Any]]:
    """Go down the keys from a table, making tables as needed; of a list of tables, into the last
    one.
    """
    for key in keys:
        path = (*path, key)
        layout.lines.setdefault(path, line)
        inner = table.setdefault(key, {})
        if isinstance(inner, list) and inner:
            path = (*path, len(inner) - 1)
            inner = inner[-1]
        if not isinstance(inner, dict):
            layout.duplicates.append(Duplicate(path, line, layout.line_of(path)))
            inner = {}
        table = inner
    return path, table


def _read_pair(layout: Layout, path: Path, table: dict[str, Any], node: Node) -> None:
    key, value = parts_of(node)
    _note_keys(layout, path, key)
    *outer, last = keys_of(key)
    path, table = _enter(layout, path, table, outer, _line(node))
    path = (*path, last)
    if last in table:
        layout.duplicates.append(Duplicate(path, _line(node), layout.lines[path]))
        return
    layout.lines[path] = _line(node)
    layout.pairs[path] = node
    table[last] = _value(layout, path, value)


def _note_keys(layout: Layout, path: Path, key: Node) -> None:
    for step, node in zip(keys_of(key), _plain_keys(key), strict=True):
        path = (*path, step)
        layout.keys.setdefault(path, []).append(node)


def _plain_keys(key: Node) -> list[Node]:
    """The keys that a dotted key is made of, each with its quotes."""
    if key.type != "dotted_key":
        return [key]
    return [plain for part in parts_of(key) for plain in _plain_keys(part)]


def _value(layout: Layout, path: Path, node: Node) -> Any:
    layout.nodes[path] = node
    if node.type == "inline_table":
        table: dict[str, Any] = {}
        for pair in parts_of(node):
            _read(layout, path, table, pair)
        return table
    if node.type != "array":
        return plain_value(_text(node))
    items = parts_of(node)
    for index, item in enumerate(items):
        layout.lines[(*path, index)] = _line(item)
    return [_value(layout, (*path, index), item) for index, item in enumerate(items)]


@lru_cache(maxsize=1024)
def plain_value(text: str) -> Any:
    """The value as the strict reader has it. Raises ValueError."""
    return tomli.loads(f"value = {text}")["value"]


def keys_of(node: Node) -> list[str]:
    """The keys of a plain, quoted or dotted key."""
    return list(_keys(_text(node)))


@lru_cache(maxsize=1024)
def _keys(text: str) -> tuple[str, ...]:
    table = tomli.loads(f"{text} = 0")
    keys = []
    while isinstance(table, dict):
        [(key, table)] = table.items()
        keys.append(key)
    return tuple(keys)


def parts_of(node: Node) -> list[Node]:
    """What stands in it, without comments and what is broken."""
    return [child for child in node.named_children if child.type not in ("comment", "ERROR")]


def _text(node: Node) -> str:
    return (node.text or b"").decode()


def _line(node: Node) -> int:
    return node.start_point.row + 1
