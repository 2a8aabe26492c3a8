"""Values put into a TOML text and taken out of it at the places where they stand: whatever is not
touched stays as it is, down to the byte.
"""

import json
import re
from collections.abc import Iterable
from typing import Any, NamedTuple

from tree_sitter import Node

from fxseq.sequence.layout import Layout, keys_of, parts_of, read_layout
from fxseq.sequence.paths import NAMED, Path

NOTHING = object()
"""What a place has that is not there."""
_PLAIN_KEY = re.compile(r"[A-Za-z0-9_-]+")


class Unreadable(ValueError):
    """The text is not TOML, or not of a form that can be edited."""


class NoPlace(ValueError):
    """Nothing can be set there. path: up to the first step that the text does not have."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.path = path


class Spot(NamedTuple):
    """Where a value stands in a text: bytes of UTF-8 from start to end."""

    path: Path
    start: int
    end: int
    value: Any


def turn_value(
    text: str, path: Path, value: Any, spot: Spot | None = None
) -> tuple[str, Spot | None]:
    """As `set_value`, which takes several times as long as this where the text need not be read.

    spot: what was given for this text the last time. Gives the text, and where the value stands
    unless it is new.
    """
    if spot is None or spot.path != path:
        layout = whole_layout(text)
        if path not in layout.nodes:
            return _with_new(text, layout, path, value), None
        node = layout.nodes[path]
        spot = Spot(path, node.start_byte, node.end_byte, value_at(layout.values, path))
    if _is_same(spot.value, value):
        return text, spot
    more = written(value)
    end = spot.start + len(more.encode())
    return _replaced(text, spot.start, spot.end, more), Spot(path, spot.start, end, value)


def _is_same(old: Any, value: Any) -> bool:
    return bool(old == value) and isinstance(old, bool) == isinstance(value, bool)


def set_value(text: str, path: Path, value: Any) -> str:
    """The text with a value at the path; tables on the way are made as needed.

    A list grows by setting the item behind its last. Raises Unreadable, NoPlace, and TypeError for
    a value that TOML does not have.
    """
    return turn_value(text, path, value)[0]


def _with_new(text: str, layout: Layout, path: Path, value: Any) -> str:
    """With a value that does not stand in the text as one."""
    old = value_at(layout.values, path)
    if _is_same(old, value):
        return text
    if old is not NOTHING and isinstance(path[-1], int):
        items = [*value_at(layout.values, path[:-1])]
        items[path[-1]] = value
        return set_value(text, path[:-1], items)
    if old is not NOTHING:
        return set_value(remove_value(text, path), path, value)
    known = max(
        step for step in range(len(path)) if value_at(layout.values, path[:step]) is not NOTHING
    )
    outer = path[:known]
    inside = value_at(layout.values, outer)
    if isinstance(inside, list) and path == (*outer, len(inside)):
        return _append(text, layout, outer, value)
    if not isinstance(inside, dict) or not _are_keys(path[known:]):
        raise NoPlace(path[: known + 1])
    for step in reversed(path[known + 1 :]):
        value = {step: value}
    return _insert(text, layout, path[: known + 1], value)


def remove_value(text: str, path: Path) -> str:
    """The text without what is at the path. A comment behind a key stays, in a line of its own.

    Raises Unreadable.
    """
    layout = whole_layout(text)
    if path in layout.pairs:
        return _without_pair(text, layout.pairs[path])
    if path in layout.nodes:
        return _without_item(text, layout.nodes[path])
    for pair in _dotted_pairs(layout, path).values():
        return remove_value(_without_pair(text, pair), path)
    return _without_tables(text, _tables_below(layout, path))


def written(value: Any) -> str:
    """A value as TOML has it: a list of tables, or of lists, with one on a line, and a text of
    several lines with a line each. Raises TypeError.
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(float(value))
    if isinstance(value, str):
        lines = [_escaped(line) for line in value.split("\n")]
        return f'"{lines[0]}"' if len(lines) == 1 else "\n".join(['"""', *lines]) + '"""'
    if isinstance(value, dict):
        return f"{{ {', '.join(_pairs(value))} }}" if value else "{}"
    if not isinstance(value, list | tuple):
        raise TypeError(f"{type(value).__name__} is no kind of value that TOML has")
    items = [written(item) for item in value]
    if len(items) > 1 and any(isinstance(item, dict | list | tuple) for item in value):
        return "".join(["[\n", *(f"    {item},\n" for item in items), "]"])
    return f"[{', '.join(items)}]"


def _escaped(line: str) -> str:
    return json.dumps(line, ensure_ascii=False)[1:-1].replace("\x7f", "\\u007F")


def _pairs(table: dict[str, Any]) -> list[str]:
    return [f"{_dotted([key])} = {written(value)}" for key, value in table.items()]


def _dotted(keys: Iterable[str | int]) -> str:
    return ".".join(
        str(key) if _PLAIN_KEY.fullmatch(str(key)) else written(str(key)) for key in keys
    )


def whole_layout(text: str) -> Layout:
    """Where everything stands. Raises Unreadable where that cannot be said of all of it."""
    layout = read_layout(text)
    if layout.duplicates or not layout.is_whole:
        raise Unreadable("it is not read to its end")
    return layout


def value_at(values: Any, path: Path) -> Any:
    """What is at the path, else NOTHING."""
    for step in path:
        if isinstance(values, dict) and isinstance(step, str):
            values = values.get(step, NOTHING)
        elif isinstance(values, list) and isinstance(step, int) and step in range(len(values)):
            values = values[step]
        else:
            return NOTHING
    return values


def _are_keys(path: Path) -> bool:
    return all(isinstance(step, str) for step in path)


def _insert(text: str, layout: Layout, path: Path, value: Any) -> str:
    """A key that the table around it does not have yet, in the form of its neighbours."""
    outer = path[:-1]
    if outer in layout.nodes:
        return _into_braces(text, layout.nodes[outer], f"{_dotted(path[-1:])} = {written(value)}")
    is_part = len(path) == 1 or (len(path) == 2 and outer[0] in NAMED)
    neighbours = _tables_below(layout, outer)
    if is_part and isinstance(value, dict) and (not outer or set(neighbours) - {outer}):
        return _with_table(text, path, value, neighbours)
    if outer in layout.tables:
        return _into_table(text, layout.tables[outer], f"{_dotted(path[-1:])} = {written(value)}")
    for place, pair in _dotted_pairs(layout, outer).items():
        keys = path[len(place) - _key_count(pair) :]
        return _behind(text, pair, f"{_dotted(keys)} = {written(value)}")
    return _with_table(text, outer, {str(path[-1]): value}, neighbours)


def _with_table(text: str, path: Path, table: dict[str, Any], neighbours: dict[Path, Node]) -> str:
    """A new table with a header, behind the last of its neighbours, or at the end."""
    parts_alone = table and all(isinstance(part, dict) for part in table.values())
    if len(path) == 1 and path[0] in NAMED and parts_alone:
        for name, part in table.items():
            text = _with_table(text, (*path, name), part, neighbours)
        return text
    lines = [f"[{_dotted(path)}]", *_pairs(table)]
    if path[0] not in {other[0] for other in neighbours if other}:
        apart = text.removesuffix("\n") and [text.removesuffix("\n"), ""]
        return "\n".join([*apart, *lines, ""])
    return _with_lines(text, 1 + max(map(_last_row, neighbours.values())), ["", *lines])


def _append(text: str, layout: Layout, path: Path, value: Any) -> str:
    """An item behind the last of the list at the path."""
    if path not in layout.nodes:
        lines = ["", f"[[{_dotted(step for step in path if isinstance(step, str))}]]"]
        row = 1 + max(map(_last_row, _tables_below(layout, path).values()))
        return _with_lines(text, row, [*lines, *_pairs(value)])
    node = layout.nodes[path]
    items = parts_of(node)
    if not items:
        return _replaced(text, node.start_byte, node.end_byte, f"[{written(value)}]")
    if items[-1].end_point.row == node.end_point.row:
        return _put_in(text, items[-1], f", {written(value)}")
    row = items[-1].end_point.row + 1
    text = _with_lines(text, row, [f"{_indent(text, items[-1])}{written(value)},"])
    if _comma_behind(items[-1]) is None:
        return _put_in(text, items[-1], ",")
    return text


def _into_braces(text: str, node: Node, statement: str) -> str:
    pairs = parts_of(node)
    if not pairs:
        return _replaced(text, node.start_byte, node.end_byte, f"{{ {statement} }}")
    return _put_in(text, pairs[-1], f", {statement}")


def _into_table(text: str, table: Node, statement: str) -> str:
    """Behind the last pair, or above the first line that is no comment: comments further down
    belong to what follows the table.
    """
    pairs = [part for part in parts_of(table) if part.type == "pair"]
    if pairs:
        return _behind(text, pairs[-1], statement)
    lines = text.split("\n")
    row = 0
    if table.parent is not None:
        row = table.start_point.row + 1
    while row < len(lines) and lines[row].lstrip().startswith("#"):
        row += 1
    return _with_lines(text, row, [statement])


def _behind(text: str, pair: Node, statement: str) -> str:
    """Another pair behind this one."""
    if pair.parent is not None and pair.parent.type == "inline_table":
        return _put_in(text, pair, f", {statement}")
    return _with_lines(text, _end(pair).end_point.row + 1, [_indent(text, pair) + statement])


def _without_pair(text: str, pair: Node) -> str:
    if pair.parent is not None and pair.parent.type == "inline_table":
        return _cut(text, pair)
    lines = text.split("\n")
    first = pair.start_point.row
    last = _end(pair).end_point.row
    comment = _rest_of_row(text, pair).strip()
    left = []
    if comment:
        left = [_indent(text, pair) + comment]
    lines[first : last + 1] = left
    return "\n".join(lines)


def _without_item(text: str, item: Node) -> str:
    """An item with lines to itself goes with them."""
    rest = _rest_of_row(text, item).removeprefix(",").strip()
    is_first = len(_indent(text, item)) == item.start_point.column
    if not is_first or (rest and not rest.startswith("#")):
        return _cut(text, item)
    lines = text.split("\n")
    del lines[item.start_point.row : item.end_point.row + 1]
    return "\n".join(lines)


def _cut(text: str, node: Node) -> str:
    """A pair or an item out of its braces or brackets, with a comma."""
    others = parts_of(node.parent)
    at = others.index(node)
    if at + 1 < len(others):
        return _replaced(text, node.start_byte, others[at + 1].start_byte, "")
    if at > 0:
        return _replaced(text, _end(others[at - 1]).end_byte, _end(node).end_byte, "")
    comma = _comma_behind(node) or _end(node)
    return _replaced(text, node.start_byte, comma.end_byte, "")


def _without_tables(text: str, tables: dict[Path, Node]) -> str:
    """Tables with all their lines, and with the empty line that has parted each from the next."""
    lines = text.split("\n")
    for table in sorted(tables.values(), key=lambda node: -node.start_byte):
        first = table.start_point.row
        last = _last_row(table)
        is_apart = lines[last + 1 : last + 2] == [""] and (
            first == 0 or not lines[first - 1].strip()
        )
        del lines[first : last + 1 + is_apart]
    return "\n".join(lines)


def _tables_below(layout: Layout, path: Path) -> dict[Path, Node]:
    """Tables with a header, at the path or below."""
    return {
        place: node for place, node in layout.tables.items() if place and place[: len(path)] == path
    }


def _dotted_pairs(layout: Layout, path: Path) -> dict[Path, Node]:
    """Pairs that stand outside of the table at the path and say something in it, from the last
    to the first.
    """
    return {
        place: pair
        for place, pair in reversed(layout.pairs.items())
        if place[: len(path)] == path and len(place) - _key_count(pair) < len(path) < len(place)
    }


def _key_count(pair: Node) -> int:
    return len(keys_of(parts_of(pair)[0]))


def _last_row(table: Node) -> int:
    """Row of the last pair, or of the header."""
    return int(parts_of(table)[-1].end_point.row)


def _comma_behind(node: Node) -> Node | None:
    after = node.next_sibling
    while after is not None and after.type == "comment":
        after = after.next_sibling
    if after is not None and after.type == ",":
        return after
    return None


def _indent(text: str, node: Node) -> str:
    """White space that its row begins with."""
    row = text.split("\n")[node.start_point.row]
    return row[: len(row) - len(row.lstrip())]


def _rest_of_row(text: str, node: Node) -> str:
    behind = text.encode()[_end(node).end_byte :].decode()
    return behind.split("\n", 1)[0].lstrip()


def _end(node: Node) -> Node:
    """The value of a pair, which a comment behind it may belong to."""
    if node.type == "pair":
        return parts_of(node)[1]
    return node


def _put_in(text: str, node: Node, more: str) -> str:
    """The text with more right behind a pair or an item."""
    return _replaced(text, _end(node).end_byte, _end(node).end_byte, more)


def _replaced(text: str, start_byte: int, end_byte: int, more: str) -> str:
    data = text.encode()
    return (data[:start_byte] + more.encode() + data[end_byte:]).decode()


def _with_lines(text: str, row: int, more: list[str]) -> str:
    """The text with lines put in before a row, and with an end of its last line."""
    lines = text.split("\n")
    return "\n".join([*lines[:row], *more, *(lines[row:] or [""])])
