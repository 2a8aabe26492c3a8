"""A prop file becomes a model, or one error that says all that is wrong with it."""

import tomli
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from fxseq.sequence.errors import Fault, SequenceError
from fxseq.sequence.model import Sequence
from fxseq.sequence.paths import PathFault, is_named, place_name
from fxseq.sequence.rules import check, names_of
from fxseq.sequence.values import Values, read_values

if TYPE_CHECKING:
    from fxseq.sequence.layout import Duplicate
    from fxseq.sequence.syntax import Struck

Located = tuple[int, str, str, str]
"""Line, what, allowed, remedy."""


def load(path: str | FilePath) -> Sequence:
    """Read a prop file: TOML in UTF-8.

    Raises SequenceError with every fault of the file, each with its line.
    """
    return loads(decode(read_bytes(path), str(path)), str(path))


def read_bytes(path: str | FilePath) -> bytes:
    """What is in the file. Raises SequenceError where it cannot be read."""
    try:
        return FilePath(path).read_bytes()
    except FileNotFoundError:
        fault = Fault(str(path), "there is no such file", "", "Check the name and the folder.")
    except OSError as error:
        fault = Fault(str(path), f"the file cannot be read ({error.strerror})")
    raise SequenceError(fault)


def decode(data: bytes, where: str) -> str:
    """The text of the file, with its byte order mark if it has one. Raises SequenceError where
    it is not UTF-8.
    """
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"the byte 0x{data[error.start]:02X} is not UTF-8"
        raise SequenceError(
            Fault(f"{where}:{line}", what, "", "Save the file with the encoding UTF-8.")
        ) from None


def loads(text: str, where: str = "sequence") -> Sequence:
    """Read the text of a prop file.

    where: name of the file, for messages.
    Raises SequenceError with every fault of the text, each with its line.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    try:
        values = tomli.loads(text)
    except (ValueError, RecursionError):
        raise _error(_faults_of_broken(text), where) from None
    sequence, faults = _judge(values)
    if faults:
        raise _error(_locate(faults, text), where)
    return sequence


def _judge(values: Values) -> tuple[Sequence, list[PathFault]]:
    sequence, faults = read_values(values)
    return sequence, faults + check(sequence, names_of(values))


def _error(located: list[Located], where: str) -> SequenceError:
    """The faults in the order of their lines, each one once."""
    ordered = sorted(dict.fromkeys(located), key=lambda fault: fault[0])
    return SequenceError(*(Fault(f"{where}:{line}", *words) for line, *words in ordered))


def _locate(faults: list[PathFault], text: str) -> list[Located]:
    from fxseq.sequence.layout import read_layout

    layout = read_layout(text)
    return [_at(layout.line_of(fault.path), fault) for fault in faults]


def _at(line: int, fault: PathFault) -> Located:
    return line, f"{place_name(fault.path)} {fault.what}", fault.allowed, fault.remedy


def _faults_of_broken(text: str) -> list[Located]:
    """Faults of syntax, and whatever else can be said for certain without what had to be struck
    out.
    """
    from fxseq.sequence.layout import read_layout
    from fxseq.sequence.syntax import strike_out

    struck = strike_out(text)
    layout = read_layout("\n".join(struck.lines))
    if struck.faults:
        faults = [fault for fault in read_values(layout.values)[1] if not fault.missing]
    else:
        faults = _judge(layout.values)[1]
    again = _repeated(layout.duplicates, struck)
    return [*struck.faults, *again, *(_at(layout.line_of(fault.path), fault) for fault in faults)]


def _repeated(duplicates: list["Duplicate"], struck: "Struck") -> Iterator[Located]:
    """What is given twice, and what is given in two ways that do not go together."""
    for again in duplicates:
        what = f"{place_name(again.path)} is given again, after line {again.first_line}"
        if is_named(again.path):
            remedy = "Delete one of the two, or give it another name."
        else:
            remedy = "Delete one of the two."
        yield again.line, what, "", remedy
    for line in set(struck.conflicts) - {again.line for again in duplicates}:
        what = f"`{struck.lines[line - 1].strip()}` is defined above in another way"
        yield line, what, "", "Delete one of the two."
