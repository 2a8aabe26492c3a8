"""The conversation that reads back what a board plays, part by part (LINK 3.20)."""

from collections import deque
from collections.abc import Callable
from typing import NamedTuple

from fxseq.link import faults
from fxseq.link import messages as m
from fxseq.link.host_session import (
    PATIENCE_S,
    REPEAT_EVERY_S,
    Progress,
    Steps,
    Talk,
    ask,
    hello,
)

_MOST_UNDER_WAY = 4
"""Fewer than there are tags, so that no late answer is taken for another; and few enough for the
bytes that a small board keeps while it works.
"""
_SHORTEST_PART = 32
"""Unless fewer bytes are left."""


class ReadOut(NamedTuple):
    """A board and the bytes of the table that it plays."""

    board: m.Board
    data: bytes


def read_table(talk: Talk) -> Steps[ReadOut]:
    """The table, held against the CRC that the board told. Raises LinkError, also where the board
    cannot be read or has no table.
    """
    board = yield from hello(talk)
    talk.aftermath = ""
    if not board.can_be_read:
        raise faults.cannot_be_read(talk.where)
    if not board.has_table:
        raise faults.nothing_to_read(talk.where)
    length, crc = board.playing
    if length > board.slot_bytes:
        raise faults.nonsense(talk.where, f"it has {length} bytes in {board.slot_bytes}")
    begun = talk.now_s

    def told(done: int) -> None:
        rate = done / max(talk.now_s - begun, 1e-6)
        talk.progress = Progress(done, length, rate, (length - done) / rate)

    data = yield from read_range(talk, length, 0, length, told)
    if m.table_crc(data) != crc:
        raise faults.read_wrong(talk.where)
    return ReadOut(board, data)


def read_range(
    talk: Talk, length: int, first: int, until: int, told: Callable[[int], None] = lambda _: None
) -> Steps[bytes]:
    """Bytes first..until - 1, or some more, of the table of this length that plays. told: is called
    with how many have come. Raises LinkError.
    """
    _, part = yield from ask(talk, m.Read(first), m.Part)
    reading = _Reading(talk, length, first, until, len(part.data), told)
    reading.take(first, part)
    yield from reading.rest()
    return b"".join(reading.parts)


class _Reading:
    """Parts of one size, of which several are asked for at a time: a round trip may take longer
    than what it carries.
    """

    def __init__(
        self,
        talk: Talk,
        length: int,
        first: int,
        until: int,
        size: int,
        told: Callable[[int], None],
    ) -> None:
        if size < min(length - first, _SHORTEST_PART):
            raise faults.nonsense(talk.where, f"it gives {size} bytes at a time")
        self.parts: list[bytes] = []
        self._talk = talk
        self._length = length
        self._first = first
        self._until = until
        self._size = size
        self._told = told
        self._asked: deque[tuple[int, int]] = deque()
        """Tag and offset of what is under way, in the order in which it must come."""

    def rest(self) -> Steps[None]:
        """All behind the first part. Raises LinkError after long silence or on an error."""
        talk = self._talk
        heard = said = talk.now_s
        while self._fill():
            arrival = yield min(said + REPEAT_EVERY_S, heard + PATIENCE_S)
            if arrival is None:
                if talk.now_s >= heard + PATIENCE_S:
                    raise faults.no_answer(talk.where, talk.now_s - heard, talk.aftermath)
                self._ask_again()
                said = talk.now_s
            elif self._asked and arrival.tag == self._asked[0][0]:
                if isinstance(arrival.message, m.Error):
                    raise faults.refused(talk.where, arrival.message, talk.aftermath)
                if isinstance(arrival.message, m.Part):
                    self.take(self._asked.popleft()[1], arrival.message)
                    heard = said = talk.now_s

    def take(self, offset: int, part: m.Part) -> None:
        """The part that comes next. Raises LinkError where it is another one."""
        size = len(part.data)
        if (part.offset, size) != (offset, min(self._size, self._length - offset)):
            what = f"it gives {size} bytes from {part.offset} on where {offset} is asked for"
            raise faults.nonsense(self._talk.where, what)
        self.parts.append(part.data)
        self._told(offset + size - self._first)

    def _fill(self) -> bool:
        """Ask for what may be under way; whether anything is."""
        offset = self._first + self._size * (len(self.parts) + len(self._asked))
        while len(self._asked) < _MOST_UNDER_WAY and offset < self._until:
            self._asked.append((self._talk.new_tag(), offset))
            self._talk.request(m.Read(offset), self._asked[-1][0])
            offset += self._size
        return bool(self._asked)

    def _ask_again(self) -> None:
        for tag, offset in self._asked:
            self._talk.request(m.Read(offset), tag)
