"""Things of a file as blocks of its text, each with the remarks that stand right above it: moved
up and down among their kind, and copied.
"""

from tree_sitter import Node

from fxseq.sequence.edits import remove_value, set_value, value_at, whole_layout
from fxseq.sequence.errors import Fault, SequenceError
from fxseq.sequence.layout import Layout, parts_of
from fxseq.sequence.names import check_name
from fxseq.sequence.paths import Path, place_name

OWN_KEYS = {"groups": ("first_channel", "pin", "gauge"), "inputs": ("pin",), "selectors": ("pins",)}
"""Keys that a copy must not share with what it is a copy of."""


def move(text: str, kind: str, name: str, by: int) -> str:
    """The text with a thing before the one above it (-1), or behind the one below it (1), in
    exchange; as it is where there is none. Raises SequenceError where the two are not each in one
    place.
    """
    layout = whole_layout(text)
    names = list(layout.values.get(kind, {}))
    to = names.index(name) + by
    if to not in range(len(names)):
        return text
    nodes = [_nodes(layout, (kind, each)) for each in (name, names[to])]
    if _home(nodes[0]) != _home(nodes[1]):
        raise _apart((kind, name))
    first, second = sorted(
        _span(text, layout, (kind, each), its)
        for each, its in zip((name, names[to]), nodes, strict=True)
    )
    return _exchanged(text, first, second)


def move_item(text: str, path: Path, by: int) -> str:
    """The text with an item of a list before the one above it (-1), or behind the one below it
    (1), in exchange; as it is where there is none. Remarks stay in their lines.
    """
    layout = whole_layout(text)
    other = (*path[:-1], int(path[-1]) + by)
    places = layout.nodes if path in layout.nodes else layout.tables
    if path not in places or other not in places:
        return text
    first, second = sorted((places[path], places[other]), key=lambda node: node.start_byte)
    spans = [(node.start_byte, _item_end(node)) for node in (first, second)]
    return _exchanged(text, *spans)


def _item_end(node: Node) -> int:
    return _end_byte(node) if node.type == "table_array_element" else int(node.end_byte)


def _exchanged(text: str, first: tuple[int, int], second: tuple[int, int]) -> str:
    """The text with two spans of its bytes in each other's place."""
    data = text.encode()
    return b"".join(
        [
            data[: first[0]],
            data[second[0] : second[1]],
            data[first[1] : second[0]],
            data[first[0] : first[1]],
            data[second[1] :],
        ]
    ).decode()


def copy(text: str, kind: str, name: str, new: str) -> str:
    """The text with another thing that is like this one, right behind it where that can be.
    Raises SequenceError where the new name cannot be given.
    """
    values = whole_layout(text).values
    check_name(values, kind, new)
    text = set_value(text, (kind, new), value_at(values, (kind, name)))
    for key in OWN_KEYS.get(kind, ()):
        text = remove_value(text, (kind, new, key))
    return _behind(text, kind, new, list(values[kind]).index(name) + 1)


def _behind(text: str, kind: str, name: str, index: int) -> str:
    """With the thing, which comes last, at this place among its kind, or as near to it as it can
    be moved.
    """
    try:
        for _ in range(len(whole_layout(text).values[kind]) - 1 - index):
            text = move(text, kind, name, -1)
    except SequenceError:
        pass
    return text


def _nodes(layout: Layout, path: Path) -> list[Node]:
    """Tables with a header that make up the thing, else pairs."""
    nodes = [node for place, node in layout.tables.items() if place[: len(path)] == path]
    if nodes:
        return nodes
    pairs = [node for place, node in layout.pairs.items() if place[: len(path)] == path]
    return [node for node in pairs if not any(_is_in(node, other) for other in pairs)]


def _home(nodes: list[Node]) -> tuple[bool, int]:
    """What things must have in common to be exchanged: pairs of one table, or headers."""
    return nodes[0].type == "pair", nodes[0].parent.id if nodes[0].parent else 0


def _span(text: str, layout: Layout, path: Path, nodes: list[Node]) -> tuple[int, int]:
    """Bytes from and to. Raises SequenceError where the thing is not in one place."""
    first = min(node.start_byte for node in nodes)
    last = max(_end_byte(node) for node in nodes)
    others = [*layout.tables.items(), *layout.pairs.items()]
    if any(
        first < node.start_byte < last for place, node in others if place[: len(path)] != path
    ):
        raise _apart(path)
    if nodes[0].parent is not None and nodes[0].parent.type == "inline_table":
        return first, last
    return _with_remarks(text, first, last)


def _is_in(node: Node, other: Node) -> bool:
    return other.id != node.id and other.start_byte <= node.start_byte < other.end_byte


def _end_byte(node: Node) -> int:
    """Of a table its last pair: remarks further down belong to what follows."""
    return int(parts_of(node)[-1].end_byte)


def _with_remarks(text: str, first: int, last: int) -> tuple[int, int]:
    """Whole lines, with the remarks right above them, and with those right below that nothing
    follows.
    """
    data = text.encode()
    lines = data.split(b"\n")
    top = data.count(b"\n", 0, first)
    bottom = data.count(b"\n", 0, last)
    while top and _is_remark(lines[top - 1]):
        top -= 1
    below = bottom
    while below + 1 < len(lines) and _is_remark(lines[below + 1]):
        below += 1
    if below + 1 >= len(lines) or not lines[below + 1].strip():
        bottom = below
    start = sum(len(line) + 1 for line in lines[:top])
    return start, start + len(b"\n".join(lines[top : bottom + 1]))


def _is_remark(line: bytes) -> bool:
    return line.lstrip().startswith(b"#")


def _apart(path: Path) -> SequenceError:
    return SequenceError(
        Fault(
            place_name(path),
            "it is written in several places of the file, or lies among others",
            "",
            "Move it in a text editor.",
        )
    )
