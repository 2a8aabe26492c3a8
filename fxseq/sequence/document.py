"""A prop file open for editing."""

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

from fxseq.sequence.edits import NoPlace, Spot, Unreadable, remove_value, turn_value
from fxseq.sequence.errors import Fault, SequenceError
from fxseq.sequence.model import Sequence
from fxseq.sequence.paths import Path, place_name
from fxseq.sequence.reading import decode, loads, read_bytes
from fxseq.sequence.writing import write_whole

_MARK = "\ufeff"


class Document:
    """A prop file open for editing: the maker's comments, order and line ends stay as they are."""

    def __init__(self, path: FilePath, data: bytes) -> None:
        self.path = path
        self._on_disk = data
        text = decode(data, str(path))
        self._mark = _MARK * text.startswith(_MARK)
        # A text that mixes its line ends is edited as it is.
        has_crlf = 0 < text.count("\n") == text.count("\r\n")
        self._line_end = "\r\n" if has_crlf else "\n"
        self._text = text.removeprefix(_MARK).replace(self._line_end, "\n")
        # A slider sets one value again and again.
        self._spot: Spot | None = None

    @classmethod
    def read(cls, path: str | FilePath) -> "Document":
        """Open a file. Raises SequenceError where it cannot be read; what is in it is checked by
        `sequence`.
        """
        return cls(FilePath(path), read_bytes(path))

    @property
    def text(self) -> str:
        """The file as it would be written now."""
        return self._mark + self._text.replace("\n", self._line_end)

    @property
    def sequence(self) -> Sequence:
        """What the text says. Raises SequenceError with every fault of it."""
        return loads(self.text, str(self.path))

    def set(self, path: Path, value: Any) -> None:
        """Set the value at the path, for example `("clips", "hum", "gain_db")`; tables on the way
        are made as needed.

        A list grows by setting the item behind its last. A part that is set as a whole, such as
        `("clips", "hum")`, comes behind the others of its kind. Raises SequenceError if the text is
        not TOML or has no such list item, TypeError for a value that TOML does not have. Whether
        the value is allowed is checked by `sequence`.
        """
        try:
            self._text, self._spot = turn_value(self._text, path, value, self._spot)
        except Unreadable:
            raise self._unreadable() from None
        except NoPlace as error:
            what = f"{place_name(error.path)} is not in the file, so it cannot be set"
            raise SequenceError(Fault(str(self.path), what)) from None

    def remove(self, path: Path) -> None:
        """Take the key or list item at the path out; nothing happens where there is none. A comment
        behind a key stays, in a line of its own.

        Raises SequenceError if the text is not TOML.
        """
        try:
            self._text, self._spot = remove_value(self._text, path), None
        except Unreadable:
            raise self._unreadable() from None

    def rework(self, change: Callable[[str], str]) -> None:
        """Change the text as a whole; its lines end in a line feed, whatever the file has.

        Raises SequenceError if the text is not TOML, and what `change` raises.
        """
        try:
            self._text, self._spot = change(self._text), None
        except Unreadable:
            raise self._unreadable() from None

    def _unreadable(self) -> SequenceError:
        """Why a text cannot be edited. Raises SequenceError where it is not TOML."""
        loads(self.text, str(self.path))
        return SequenceError(Fault(str(self.path), "the file cannot be edited"))

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
