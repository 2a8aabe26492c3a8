"""Reading fields out of a table, each within its range (SPEC section 2)."""

from collections.abc import Collection

from fxseq.table.errors import BadTable, Reason


class Record:
    """The bytes from `at` on, whose fields are read by their offset."""

    def __init__(self, data: bytes, at: int) -> None:
        self._data = data
        self.at = at

    def raw(self, offset: int, size: int) -> int:
        """A value of `size` bytes, least significant first."""
        at = self.at + offset
        return int.from_bytes(self._data[at : at + size], "little")

    def byte(self, offset: int, low: int = 0, high: int = 255) -> int:
        """A byte within low..high."""
        return self.checked(offset, self.raw(offset, 1), low, high)

    def half(self, offset: int, low: int = 0, high: int = 0xFFFF) -> int:
        """A half within low..high."""
        return self.checked(offset, self.raw(offset, 2), low, high)

    def word(self, offset: int, low: int = 0, high: int = 0xFFFFFFFF) -> int:
        """A word within low..high."""
        return self.checked(offset, self.raw(offset, 4), low, high)

    def one_of(self, offset: int, allowed: Collection[int]) -> int:
        """A byte that is one of those allowed."""
        value = self.raw(offset, 1)
        self.require(value in allowed, offset)
        return value

    def index(self, offset: int, count: int) -> int:
        """A byte that names one of `count` records."""
        value = self.raw(offset, 1)
        self.require(value < count, offset, Reason.BAD_INDEX)
        return value

    def index_or_none(self, offset: int, count: int) -> int | None:
        """The same, or FF for none."""
        return None if self.raw(offset, 1) == 0xFF else self.index(offset, count)

    def checked(self, offset: int, value: int, low: int, high: int) -> int:
        """`value`, read at an offset, if it is within low..high."""
        self.require(low <= value <= high, offset)
        return value

    def require(self, holds: bool, offset: int, reason: Reason = Reason.BAD_VALUE) -> None:
        """Refuse the table at an offset unless something holds."""
        if not holds:
            raise BadTable(reason, self.at + offset)
