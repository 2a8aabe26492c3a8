"""Two slots and the marks that say which one plays (LINK section 5).

Flash layout: pages 0 and 1 hold marks, the first half of the rest is slot 0, the second half slot
1. A mark is 16 bytes: turn, length of the table, `table_crc` of the table, CRC-32 of the twelve
bytes before; all u32, little-endian. The slot of a mark is turn & 1, and the newest mark is the one
with the highest turn. A mark is written once, after its table, and never changed: whatever byte the
power fails at, the newest whole mark names a whole table. What was being written then may read by
chance for ever, so the mark that counts is written again before the first erasure, and no later
mark relies on it (LINK 5 R8, R9).
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


@dataclass(frozen=True)
class MarkPage:
    """What a page of marks holds.

    used_bytes: up to the last place that is not erased. skipped: places among these, behind the
    last whole mark.
    """

    marks: list[Mark]
    used_bytes: int
    skipped: int


class Slots:
    """The slots of one flash; reads from the flash which table plays."""

    def __init__(self, flash: Flash, check: Callable[[bytes], None]) -> None:
        """check: raises ValueError for a table that the board must not play."""
        self._flash = flash
        self.slot_bytes = (flash.pages - MARK_PAGES) // 2 * flash.page_bytes
        pages = [self._read_marks(page) for page in range(MARK_PAGES)]
        # Of equal turns the one that stands last counts: sorting keeps their order.
        marks = sorted(
            ((mark, page) for page, found in enumerate(pages) for mark in found.marks),
            key=lambda place: place[0].turn,
        )
        newest = {mark.slot: (mark, page) for mark, page in marks}
        self.tables: list[Mark | None] = [
            self._whole(newest[slot][0], check) if slot in newest else None for slot in (0, 1)
        ]
        """What each slot holds, where it was whole at power-up or has been marked since."""
        self.active = max(
            (mark for mark in self.tables if mark is not None),
            key=lambda mark: mark.turn,
            default=None,
        )
        """Mark of the table that plays: the newest whole one."""
        self._page = newest[self.active.slot][1] if self.active is not None else 0
        self._used_bytes = pages[self._page].used_bytes
        self._turn = (marks[-1][0].turn if marks else 0) + 1 + 2 * pages[self._page].skipped
        """Least that the next mark may have."""
        self._marked = False
        """Whether a mark has been written since power-up."""

    @property
    def idle(self) -> int:
        """Slot that may be written."""
        return 0 if self.active is None else 1 - self.active.slot

    def erase_idle(self, length: int) -> Iterator[None]:
        """Make room for `length` bytes in the idle slot, one page a step. Raises FlashError."""
        if self.active is not None and not self._marked:
            self._write_mark(self.active.slot, self.active.length, self.active.crc)
            yield
        idle = self.idle
        self.tables[idle] = None
        first = self._start(idle) // self._flash.page_bytes
        for page in range(-(-length // self._flash.page_bytes)):
            self._flash.erase(first + page)
            yield

    def write_idle(self, offset: int, data: bytes) -> None:
        """Write into the idle slot; the caller keeps within the length it erased. Raises
        FlashError.
        """
        self._flash.write(self._start(self.idle) + offset, data)

    def read(self, slot: int, length: int, first: int = 0) -> Iterator[bytes]:
        """`length` bytes of a slot from the first one on, piece by piece."""
        start = self._start(slot) + first
        for offset in range(0, length, READ_BYTES):
            yield self._flash.read(start + offset, min(READ_BYTES, length - offset))

    def commit(self, length: int, crc: int) -> None:
        """Write the mark: from its last byte on, the table in the idle slot is the one that
        plays. Raises FlashError.
        """
        self._write_mark(self.idle, length, crc)

    def _write_mark(self, slot: int, length: int, crc: int) -> None:
        """Behind all that is in the page of the mark that counts, which is never erased; else in
        the other page, erased first.
        """
        mark = Mark(self._turn + ((self._turn ^ slot) & 1), length, crc)
        if mark.turn > LAST_TURN:
            raise FlashError("no turn is left for a mark")
        page = self._page
        place = self._used_bytes
        if place + MARK_BYTES > self._flash.page_bytes:
            page = 1 - page
            place = 0
            self._flash.erase(page)
        else:
            self._used_bytes += MARK_BYTES
        self._turn = mark.turn + 1
        offset = page * self._flash.page_bytes + place
        self._flash.write(offset, mark.encode())
        if self._flash.read(offset, MARK_BYTES) != mark.encode():
            raise FlashError("the mark reads back wrong")
        self._page = page
        self._used_bytes = place + MARK_BYTES
        self._marked = True
        self.tables[slot] = self.active = mark

    def _start(self, slot: int) -> int:
        return MARK_PAGES * self._flash.page_bytes + slot * self.slot_bytes

    def _read_marks(self, page: int) -> MarkPage:
        """Marks that are whole (LINK 5 R5), and how far the page is used."""
        marks = []
        used_bytes = 0
        whole_bytes = 0
        for place in range(0, self._flash.page_bytes - MARK_BYTES + 1, MARK_BYTES):
            data = self._flash.read(page * self._flash.page_bytes + place, MARK_BYTES)
            used_bytes = used_bytes if set(data) == {ERASED} else place + MARK_BYTES
            mark = decode_mark(data)
            if mark is not None and SHORTEST_TABLE <= mark.length <= self.slot_bytes:
                marks.append(mark)
                whole_bytes = used_bytes
        return MarkPage(marks, used_bytes, (used_bytes - whole_bytes) // MARK_BYTES)

    def _whole(self, mark: Mark, check: Callable[[bytes], None]) -> Mark | None:
        """The mark, if its table is there, ends in its CRC and passes the check (LINK 5 R3)."""
        table = b"".join(self.read(mark.slot, mark.length))
        if not table_crc(table) == int.from_bytes(table[-CRC_BYTES:], "little") == mark.crc:
            return None
        try:
            check(table)
        except ValueError:
            return None
        return mark
