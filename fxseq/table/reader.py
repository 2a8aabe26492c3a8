"""Reading numbers out of a table without ever leaving the part that was asked for (SPEC section
2).
"""

from collections.abc import Collection

from fxseq.table.errors import BadTable, Reason


class Reader:
    """A window on a table's bytes, read from front to back."""

    def __init__(self, data: bytes, at: int, end: int) -> None:
        self._data = data
        self.at = at
        self._end = end

    def more(self) -> bool:
        """Whether bytes are left."""
        return self.at < self._end

    def finish(self) -> None:
        """Everything must have been read."""
        if self.more():
            raise BadTable(Reason.BAD_RECORD, self.at)

    def byte(self, low: int, high: int) -> int:
        """One byte within low..high."""
        at = self.at
        return self._within(self._next(), low, high, at)

    def one_of(self, allowed: Collection[int]) -> int:
        """One byte that is one of those allowed."""
        at = self.at
        value = self._next()
        if value not in allowed:
            raise BadTable(Reason.BAD_VALUE, at)
        return value

    def word(self, low: int, high: int) -> int:
        """Four bytes, least significant first, within low..high."""
        at = self.at
        value = sum(self._next() << shift for shift in (0, 8, 16, 24))
        return self._within(value, low, high, at)

    def number(self, low: int, high: int = 0xFFFFFFFF) -> int:
        """A number of one to five bytes (SPEC 2.2) within low..high."""
        at = self.at
        return self._within(self._number(), low, high, at)

    def signed(self, low: int, high: int) -> int:
        """A signed number (SPEC 2.3) within low..high."""
        at = self.at
        value = self._number()
        return self._within(-(value + 1 >> 1) if value & 1 else value >> 1, low, high, at)

    def index(self, count: int) -> int:
        """One byte that names one of `count` things."""
        at = self.at
        value = self._next()
        if value >= count:
            raise BadTable(Reason.BAD_INDEX, at)
        return value

    def record(self) -> "Reader":
        """The next record, as a window of its own; this one goes on behind it."""
        at = self.at
        size = self._number()
        if size > self._end - self.at:
            raise BadTable(Reason.BAD_RECORD, at)
        body = Reader(self._data, self.at, self.at + size)
        self.at += size
        return body

    def _next(self) -> int:
        if self.at >= self._end:
            raise BadTable(Reason.BAD_RECORD, self.at)
        self.at += 1
        return self._data[self.at - 1]

    def _number(self) -> int:
        at = self.at
        value = 0
        for shift in (0, 7, 14, 21, 28):
            byte = self._next()
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                if value > 0xFFFFFFFF or (byte == 0 and shift):
                    break
                return value
        raise BadTable(Reason.BAD_NUMBER, at)

    @staticmethod
    def _within(value: int, low: int, high: int, at: int) -> int:
        if not low <= value <= high:
            raise BadTable(Reason.BAD_VALUE, at)
        return value
