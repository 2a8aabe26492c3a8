"""Two slots and the marks that say which one plays (LINK section 5).

Flash layout: pages 0 and 1 hold marks, the first half of the rest is slot 0, the second half slot 1. A mark is 16 bytes: turn, length
of the table, `table_crc` of the table, CRC-32 of the twelve bytes before; all u32, little-endian. The slot of a mark is turn & 1, and the
newest mark is the one with the highest turn. A mark is written once, after its table, and never changed: whatever byte the power fails at,
the newest whole mark names a whole table.
"""
import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

from fxseq.link.messages import CRC_BYTES, SHORTEST_TABLE, table_crc

MARK_PAGES = 2
MARK_BYTES = 16
READ_BYTES = 4096
LAST_TURN = 0xFFFFFFFF
ERASED = 0xFF


class FlashError(Exception):
    """The flash did not do what it was told."""


class Flash(Protocol):
    """Memory that is erased by the page, to FF, and written once a byte in between."""

    page_bytes: int
    pages: int

    def erase(self, page: int) -> None:
        """Set a page to FF. Raises FlashError."""

    def write(self, offset: int, data: bytes) -> None:
        """Write to erased bytes. Raises FlashError where one of them is not erased."""

    def read(self, offset: int, size: int) -> bytes:
        """Bytes offset..offset + size - 1."""


@dataclass(frozen=True)
class Mark:
    """One turn: the table of this length and `table_crc`, in slot turn & 1."""

    turn: int
    length: int
    crc: int

    @property
    def slot(self) -> int:
        """Slot that the mark names."""
        return self.turn & 1

    def encode(self) -> bytes:
        """Its 16 bytes."""
        body = struct.pack("<III", self.turn, self.length, self.crc)
        return body + zlib.crc32(body).to_bytes(4, "little")


def decode_mark(data: bytes) -> Mark | None:
    """The mark in 16 bytes, if its last four bytes are right."""
    if zlib.crc32(data[:12]) != int.from_bytes(data[12:], "little"):
        return None
    return Mark(*struct.unpack("<III", data[:12]))


class Slots:
    """The slots of one flash; reads from the flash which table plays."""

    def __init__(self, flash: Flash, check: Callable[[bytes], None]) -> None:
        """check: raises ValueError for a table that the board must not play."""
        self._flash = flash
        self.slot_bytes = (flash.pages - MARK_PAGES) // 2 * flash.page_bytes
        marks = sorted((mark for page in range(MARK_PAGES) for mark in self._marks(page)), key=lambda mark: mark.turn)
        newest = {mark.slot: mark for mark in marks}
        self._last_turn = marks[-1].turn if marks else 0
        self.tables: list[Mark | None] = [self._whole(newest.get(slot), check) for slot in (0, 1)]
        """What each slot holds, where it is whole."""
        self.active = max((mark for mark in self.tables if mark is not None), key=lambda mark: mark.turn, default=None)
        """Mark of the table that plays: the newest whole one."""

    @property
    def idle(self) -> int:
        """Slot that may be written."""
        return 0 if self.active is None else 1 - self.active.slot

    def erase_idle(self, length: int) -> Iterator[None]:
        """Make room for `length` bytes in the idle slot, one page a step. Raises FlashError."""
        idle = self.idle
        self.tables[idle] = None
        first = self._start(idle) // self._flash.page_bytes
        for page in range(-(-length // self._flash.page_bytes)):
            self._flash.erase(first + page)
            yield

    def write_idle(self, offset: int, data: bytes) -> None:
        """Write into the idle slot; the caller keeps within the length it erased. Raises FlashError."""
        self._flash.write(self._start(self.idle) + offset, data)

    def read(self, slot: int, length: int) -> Iterator[bytes]:
        """The first `length` bytes of a slot, piece by piece."""
        start = self._start(slot)
        for offset in range(0, length, READ_BYTES):
            yield self._flash.read(start + offset, min(READ_BYTES, length - offset))

    def commit(self, length: int, crc: int) -> None:
        """Write the mark: from its last byte on, the table in the idle slot is the one that plays. Raises FlashError."""
        turn = self._last_turn + 1
        turn += turn & 1 != self.idle
        if turn > LAST_TURN:
            raise FlashError("no turn is left for a mark")
        mark = Mark(turn, length, crc)
        place = self._place_for_mark()
        self._last_turn = mark.turn
        self._flash.write(place, mark.encode())
        if self._flash.read(place, MARK_BYTES) != mark.encode():
            raise FlashError("the mark reads back wrong")
        self.tables[mark.slot] = mark
        self.active = mark

    def _start(self, slot: int) -> int:
        return MARK_PAGES * self._flash.page_bytes + slot * self.slot_bytes

    def _places(self, page: int) -> range:
        start = page * self._flash.page_bytes
        return range(start, start + self._flash.page_bytes - MARK_BYTES + 1, MARK_BYTES)

    def _marks(self, page: int) -> list[Mark]:
        """Those that are whole (LINK 5 R5)."""
        found = (decode_mark(self._flash.read(place, MARK_BYTES)) for place in self._places(page))
        return [mark for mark in found if mark is not None and SHORTEST_TABLE <= mark.length <= self.slot_bytes]

    def _place_for_mark(self) -> int:
        """After everything in the page of the mark that counts, which is never erased; else the start of the other page, erased first."""
        page = 1 if self.active in self._marks(1) else 0
        places = self._places(page)
        written = [place for place in places if set(self._flash.read(place, MARK_BYTES)) != {ERASED}]
        free = written[-1] + MARK_BYTES if written else places[0]
        if free in places:
            return free
        self._flash.erase(1 - page)
        return self._places(1 - page)[0]

    def _whole(self, mark: Mark | None, check: Callable[[bytes], None]) -> Mark | None:
        """The mark, if its table is there, ends in its CRC and passes the check (LINK 5 R3)."""
        if mark is None:
            return None
        table = b"".join(self.read(mark.slot, mark.length))
        if not table_crc(table) == int.from_bytes(table[-CRC_BYTES:], "little") == mark.crc:
            return None
        try:
            check(table)
        except ValueError:
            return None
        return mark
