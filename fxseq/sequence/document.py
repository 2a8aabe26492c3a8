"""A prop file open for editing, and a sequence written as a file."""

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Comment, InlineTable, Item, Table, Trivia, Whitespace

from fxseq.sequence.errors import Fault, SequenceError
from fxseq.sequence.model import Sequence
from fxseq.sequence.paths import NAMED, Path, place_name
from fxseq.sequence.reading import decode, loads, read_bytes
from fxseq.sequence.tables import insert_pair, insert_table, remove_table
from fxseq.sequence.writing import write_whole

_MARK = "\ufeff"


class Document:
    """A prop file open for editing: the maker's comments, order and line ends stay as they are."""

    def __init__(self, path: FilePath, data: bytes) -> None:
        self.path = path
        self._on_disk = data
        self._text = decode(data, str(path))
        self._toml: tomlkit.TOMLDocument | None = None

    @classmethod
    def read(cls, path: str | FilePath) -> "Document":
        """Open a file. Raises SequenceError where it cannot be read; what is in it is checked by
        `sequence`.
        """
        return cls(FilePath(path), read_bytes(path))

    @property
    def text(self) -> str:
        """The file as it would be written now."""
        if self._toml is None:
            return self._text
        mark = _MARK if self._text.startswith(_MARK) else ""
        text = tomlkit.dumps(self._toml)
        return mark + (text.replace("\n", "\r\n") if self._has_crlf else text)

    @property
    def sequence(self) -> Sequence:
        """What the text says. Raises SequenceError with every fault of it."""
        return loads(self.text, str(self.path))

    @property
    def _has_crlf(self) -> bool:
        """Whether every line ends as on Windows; a text that mixes its line ends is edited as it
        is.
        """
        return 0 < self._text.count("\n") == self._text.count("\r\n")

    def set(self, path: Path, value: Any) -> None:
        """Set the value at the path, for example `("clips", "hum", "gain_db")`; tables on the way
        are made as needed.

        A list grows by setting the item behind its last. A part that is set as a whole, such as
        `("clips", "hum")`, comes behind the others of its kind. Raises SequenceError if the text is
        not TOML or has no such list item. Whether the value is allowed is checked by `sequence`.
        """
        if self._is_new_part(path) and isinstance(value, dict):
            self._set_part(path, value)
            return
        table = self._parsed()
        for index, step in enumerate(path[:-1]):
            table = self._enter(table, path[: index + 1], step)
        last = path[-1]
        if isinstance(table, list) and last == len(table):
            table.append(value)
            return
        if not _holds(table, last) and not (isinstance(table, dict) and isinstance(last, str)):
            raise self._no_place(path)
        if not (_holds(table, last) and _same(table[last], value)):
            _put(table, last, _inline(value) if isinstance(value, list) or len(path) > 2 else value)

    def _is_new_part(self, path: Path) -> bool:
        return (
            len(path) == 2
            and path[0] in NAMED
            and not _holds(self._parsed().get(path[0], {}), path[1])
        )

    def _set_part(self, path: Path, part: dict[str, Any]) -> None:
        """By lines, in the form of the others, lest a comment about what follows them stays
        above the new one.
        """
        header = tomlkit.dumps({path[0]: _named_tables({str(path[1]): part})})
        pair = (
            f"{tomlkit.key([str(step) for step in path]).as_string()} = {_inline(part).as_string()}"
        )
        if not (
            self._rewrite(lambda text: insert_table(text, path, header))
            or self._rewrite(lambda text: insert_pair(text, path, pair))
        ):
            for key, value in part.items():
                self.set((*path, key), value)

    def _rewrite(self, work: Callable[[str], str | None]) -> bool:
        """Have the text, with plain line ends, made into another; whether it was."""
        text = self.text.removeprefix(_MARK)
        changed = work(text.replace("\r\n", "\n") if self._has_crlf else text)
        if changed is None:
            return False
        mark = _MARK if self._text.startswith(_MARK) else ""
        self._text = mark + (changed.replace("\n", "\r\n") if self._has_crlf else changed)
        self._toml = None
        return True

    def remove(self, path: Path) -> None:
        """Take the key or list item at the path out; nothing happens where there is none. A comment
        behind a key stays, in a line of its own.

        Raises SequenceError if the text is not TOML.
        """
        table = self._parsed()
        if (
            len(path) == 2
            and _holds(table.get(path[0], {}), path[1])
            and self._rewrite(lambda text: remove_table(text, path))
        ):
            return
        for step in path[:-1]:
            if not _holds(table, step):
                return
            table = table[step]
        if _holds(table, path[-1]):
            _take_out(table, path[-1])

    def _parsed(self) -> Any:
        if self._toml is None:
            text = self._text.removeprefix(_MARK)
            try:
                self._toml = tomlkit.parse(text.replace("\r\n", "\n") if self._has_crlf else text)
            except TOMLKitError as error:
                loads(self._text, str(self.path))
                raise SequenceError(
                    Fault(str(self.path), f"the file cannot be edited ({error})")
                ) from None
        return self._toml

    def _enter(self, table: Any, path: Path, step: str | int) -> Any:
        if not _holds(table, step):
            if not (isinstance(table, dict) and isinstance(step, str)):
                raise self._no_place(path)
            table[step] = tomlkit.inline_table() if _in_lines(table) else tomlkit.table()
        return table[step]

    def _no_place(self, path: Path) -> SequenceError:
        return SequenceError(
            Fault(str(self.path), f"{place_name(path)} is not in the file, so it cannot be set")
        )

    def write(self, path: str | FilePath | None = None) -> None:
        """Write the text back to where it was read from, or to another file.

        Raises SequenceError, and writes nothing, if the text has a fault or if another program has
        changed the file since it was read; OutputError if it cannot be written.
        """
        target = FilePath(path or self.path)
        data = self.text.encode()
        loads(self.text, str(self.path))
        is_source = target.resolve() == self.path.resolve()
        if is_source and read_bytes(self.path) != self._on_disk:
            remedy = "Read it again, or write to another file."
            raise SequenceError(
                Fault(
                    str(target),
                    "another program has changed the file since it was read",
                    "",
                    remedy,
                )
            )
        write_whole(target, data)
        if is_source:
            self._on_disk = data


def _holds(table: Any, step: str | int) -> bool:
    if isinstance(table, list):
        return isinstance(step, int) and step in range(len(table))
    return isinstance(table, dict) and step in table


def _put(table: Any, step: str | int, value: Any) -> None:
    """A key that is new comes behind the last one, or above the first empty line: comments below
    that belong to what follows the table.
    """
    body = table.value.body if isinstance(table, Table) and step not in table else []
    keys = [at for at, (key, _) in enumerate(body) if key is not None]
    gaps = [at for at, (_, item) in enumerate(body) if isinstance(item, Whitespace)]
    behind = keys[-1] + 1 if keys else gaps[0] if gaps else len(body)
    below = body[behind:]
    del body[behind:]
    table[step] = value
    body += below


def _take_out(table: Any, step: str | int) -> None:
    """A key that has a line to itself leaves its comment there."""
    if isinstance(table, Table):
        body = table.value.body
    elif isinstance(table, tomlkit.TOMLDocument):
        body = table.body
    else:
        body = []
    line = next(
        (line for line, (key, _) in enumerate(body) if key is not None and key.key == step), None
    )
    trivia = None if line is None or isinstance(body[line][1], Table) else body[line][1].trivia
    del table[step]
    if trivia is not None and trivia.comment:
        body[line] = None, Comment(Trivia(trivia.indent, "", trivia.comment, trivia.trail))


def _in_lines(table: Any) -> bool:
    """Whether what the table holds stands in lines without headers, so that a header of a new
    part would take in the lines that follow.
    """
    if not isinstance(table, Table):
        return isinstance(table, InlineTable)
    held = [(key, item) for key, item in table.value.body if key is not None]
    return bool(held) and all(
        isinstance(item, InlineTable) or key.is_dotted() for key, item in held
    )


def _same(item: Any, value: Any) -> bool:
    """Whether the item says the value already, however it is written."""
    old = item.unwrap() if isinstance(item, Item) else item
    return bool(old == value) and isinstance(old, bool) == isinstance(value, bool)


def dumps(sequence: Sequence) -> str:
    """The sequence as the text of a file; `loads` gives the same sequence back. What is at its
    default is left out.
    """
    document = tomlkit.document()
    for key, value in sequence.model_dump(exclude_defaults=True).items():
        document[key] = (
            _named_tables(value)
            if key in NAMED
            else _table(value) if isinstance(value, dict) else value
        )
    return tomlkit.dumps(document)


def _named_tables(parts: dict[str, Any]) -> Table:
    """`[clips.hum]`, `[clips.crack]` and so on, without a header for the whole."""
    whole = tomlkit.table(is_super_table=True)
    for name, part in parts.items():
        whole[name] = _table(part)
    return whole


def _table(part: dict[str, Any]) -> Table:
    table = tomlkit.table()
    for key, value in part.items():
        table[key] = _inline(value)
    return table


def _inline(value: Any) -> Any:
    """Tables within a part in braces, a list of them, or of points, with one on a line."""
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, inner in value.items():
            table[key] = _inline(inner)
        return table
    if isinstance(value, list | tuple):
        items = tomlkit.array().multiline(
            any(isinstance(item, dict | list | tuple) for item in value) and len(value) > 1
        )
        for item in value:
            items.append(_inline(item))
        return items
    return value
