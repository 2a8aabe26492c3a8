"""Whole tables put into a TOML text or taken out of it by lines, so that comments between tables
stay where they are.
"""

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from fxseq.sequence.layout import keys_of, parts_of
from fxseq.sequence.paths import Path


def insert_table(text: str, path: Path, table: str) -> str | None:
    """The text with a new table behind the last one of its kind; None where none of them has a
    header of its own.

    path: of the new table, such as ("groups", "tips"). table: its lines, with the header and the
    last line's end.
    """
    return _behind(text, _spans(text, path[:-1]), "\n" + table)


def insert_pair(text: str, path: Path, pair: str) -> str | None:
    """Insert a pair into `groups.tips = {...}`, behind the last pair before any header that
    starts with the same key; None where there is none.
    """
    pairs = [
        node
        for node in _nodes(text)
        if node.type == "pair" and keys_of(parts_of(node)[0])[:-1] == list(path[:-1])
    ]
    return _behind(text, [(node.start_point.row, node.end_point.row) for node in pairs], pair)


def _behind(text: str, spans: list[tuple[int, int]], more: str) -> str | None:
    if not spans:
        return None
    lines = text.split("\n")
    behind = max(spans)[1] + 1
    return "\n".join(
        [*lines[:behind], *more.removesuffix("\n").split("\n"), *(lines[behind:] or [""])]
    )


def remove_table(text: str, path: Path) -> str | None:
    """The text without the lines of the table at the path and of those below it; None where it
    has no header of its own.
    """
    spans = _spans(text, path)
    if not spans:
        return None
    lines = text.split("\n")
    for first, last in sorted(spans, reverse=True):
        is_apart = lines[last + 1 : last + 2] == [""] and (
            first == 0 or not lines[first - 1].strip()
        )
        del lines[first : last + 1 + is_apart]
    return "\n".join(lines)


def _spans(text: str, path: Path) -> list[tuple[int, int]]:
    """First and last line of each table at the path or below, from its header to its last pair;
    lines count from 0.
    """
    tables = [node for node in _nodes(text) if node.type in ("table", "table_array_element")]
    return [
        (node.start_point.row, _last_row(node))
        for node in tables
        if tuple(keys_of(parts_of(node)[0])[: len(path)]) == path
    ]


def _last_row(table: Node) -> int:
    return int(parts_of(table)[-1].end_point.row)


def _nodes(text: str) -> list[Node]:
    return parts_of(Parser(Language(tree_sitter_toml.language())).parse(text.encode()).root_node)
