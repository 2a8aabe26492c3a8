"""The run book: a line for each board that was given a table, in a plain CSV file that only ever
grows.
"""

import csv
import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from fxseq.sequence.errors import Fault, OutputError


class Entry(NamedTuple):
    """One line. date: ISO 8601, local time with its offset. board_id: 8 hexadecimal digits, empty
    where no board answered. table: `table_crc`, likewise. result: `sent`, `had it` or `failed`.
    read_back: `equal`, or empty where nothing was sent. proof: `equal`, `differs`, or empty where
    none was asked for. note: what went wrong.
    """

    date: str
    port: str
    board_id: str
    firmware: str
    table: str
    result: str
    read_back: str
    proof: str
    note: str

    @property
    def is_good(self) -> bool:
        """Whether the board has its table, and plays it as it should."""
        return self.result != "failed" and self.proof != "differs"


class RunBook:
    """The file at this path, which need not be there yet."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def entries(self) -> Iterator[Entry]:
        """Every whole line. Raises OutputError where the file is no run book."""
        for row in csv.reader(io.StringIO(self._text())):
            if len(row) == len(Entry._fields) and row != list(Entry._fields):
                yield Entry(*row)

    def good(self, board_id: str, table: str) -> list[Entry]:
        """Lines that say that this board has this table."""
        return [
            entry
            for entry in self.entries()
            if (entry.board_id, entry.table) == (board_id, table) and entry.is_good
        ]

    def append(self, entry: Entry) -> None:
        """A line more, on the disk before this returns: whole, or after a power cut torn at the
        file's end, which the next one does not go on with. Raises OutputError.
        """
        text = self._text()
        line = "" if not text or text.endswith("\n") else "\n"
        if not text:
            line += _line(Entry._fields)
        try:
            with self._path.open("ab") as file:
                file.write((line + _line(entry)).encode())
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise self._fault(f"cannot be written ({error.strerror})") from None

    def _text(self) -> str:
        try:
            text = self._path.read_text("utf-8")
        except FileNotFoundError:
            return ""
        except (OSError, UnicodeDecodeError) as error:
            raise self._fault(f"cannot be read ({error})") from None
        if text and not text.startswith(_line(Entry._fields)):
            raise self._fault("is a file, but no run book")
        return text

    def _fault(self, what: str) -> OutputError:
        return OutputError(Fault(str(self._path), what, remedy="Name another with --book."))


def _line(fields: tuple[str, ...]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(" ".join(field.split()) for field in fields)
    return text.getvalue()
