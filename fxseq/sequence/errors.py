"""One error for every fault a user can cause: where, what was found, what is allowed, what to
do.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One fault in a user's input.

    where: file and line, device, or option, as the user would name it.
    what: the thing at fault and what was found, with its unit.
    allowed: what would have been accepted; empty where `what` says it already.
    remedy: what to do next; empty where `allowed` says it already.
    """

    where: str
    what: str
    allowed: str = ""
    remedy: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        text += "."
        if self.remedy:
            return f"{text} {self.remedy}"
        return text


class FxError(Exception):
    """Something a user can put right: one or more faults, no traceback, exit status 1."""

    exit_status = 1

    def __init__(self, *faults: Fault) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


class SequenceError(FxError):
    """The prop file, or the press script that goes with it, is at fault."""


class ClipError(FxError):
    """A sound file is missing, unreadable, or cannot be used as a clip."""


class TableError(FxError):
    """A sequence that is right in itself does not fit into a table or onto the board."""


class LinkError(FxError):
    """The board, its port, or the line between them is at fault."""


class OutputError(FxError):
    """A result cannot be written where the user asked for it."""


class UsageError(FxError):
    """The command line asks for something that does not exist."""

    exit_status = 2
