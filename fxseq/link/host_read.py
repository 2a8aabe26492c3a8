"""The conversation that reads back what a board plays, part by part (LINK 3.20)."""

from collections import deque
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
    _, first = yield from ask(talk, m.Read(0), m.Part)
    reading = _Reading(talk, length, len(first.data))
    reading.take(0, first)
    yield from reading.rest()
    data = b"".join(reading.parts)
    if m.table_crc(data) != crc:
        raise faults.read_wrong(talk.where)
    return ReadOut(board, data)


class _Reading:
    """Parts of one size, of which several are asked for at a time: a round trip may take longer
    than what it carries.
    """

    def __init__(self, talk: Talk, length: int, size: int) -> None:
        if size < min(length, _SHORTEST_PART):
            raise faults.nonsense(talk.where, f"it gives {size} bytes at a time")
        self.parts: list[bytes] = []
        self._talk = talk
        self._length = length
        self._size = size
        self._begun_s = talk.now_s
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
        done = offset + size
        rate = done / max(self._talk.now_s - self._begun_s, 1e-6)
        self._talk.progress = Progress(done, self._length, rate, (self._length - done) / rate)

    def _fill(self) -> bool:
        """Ask for what may be under way; whether anything is."""
        offset = self._size * (len(self.parts) + len(self._asked))
        while len(self._asked) < _MOST_UNDER_WAY and offset < self._length:
            self._asked.append((self._talk.new_tag(), offset))
            self._talk.request(m.Read(offset), self._asked[-1][0])
            offset += self._size
        return bool(self._asked)

    def _ask_again(self) -> None:
        for tag, offset in self._asked:
            self._talk.request(m.Read(offset), tag)
