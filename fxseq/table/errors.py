"""Why a table was refused: one reason and the byte at which it was seen, the same in every
player (SPEC section 4).
"""

from enum import Enum


class Reason(Enum):
    """Names of SPEC section 4."""

    BAD_MAGIC = "the bytes are not a table"
    BAD_VERSION = "the table is of a version that this reader does not know"
    BAD_LENGTH = "the table is shorter or longer than it says"
    BAD_CRC = "the bytes were damaged"
    BAD_VALUE = "a value is outside its range"
    BAD_INDEX = "something is referred to that does not exist"
    BAD_DATA = "clip data lie outside the table or do not fit their coding"


class BadTable(ValueError):
    """A table that must not be played.

    reason: why. offset: of the byte at which the fault was seen, from the start of the table.
    """

    def __init__(self, reason: Reason, offset: int) -> None:
        super().__init__(f"{reason.name} at byte {offset}: {reason.value}")
        self.reason = reason
        self.offset = offset
