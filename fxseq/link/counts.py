"""What a board counts, and its records of it in two pages of flash of their own (LINK section 8).

A record is written behind what is there, and a page is erased only when the newest record stands in
the other one: whatever byte the power fails at, all that the record before said is still there.
"""

import struct
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from fxseq.link import messages as m
from fxseq.link.slots import ERASED, Flash, FlashError

COUNT_PAGES = 2
RECORD_BYTES = 24
EVERY_S = 300.0
"""Between two records, at the least."""
LAST_NUMBER = 0xFFFFFFFF
NOT_MEASURED = 0xFFFF
_SHOT, _EMPTY, _REFUSED = 7, 8, 15
"""Trace events (SPEC 7)."""
_RECORD = struct.Struct("<IIIIHH")


@dataclass(frozen=True)
class CountRecord:
    """One record. lowest: of the input of low cells, in 1/65536 of the most that it measures."""

    number: int = 0
    power_ups: int = 0
    shots: int = 0
    refusals: int = 0
    flash_errors: int = 0
    lowest: int = NOT_MEASURED

    def encode(self) -> bytes:
        """Its 24 bytes."""
        body = _RECORD.pack(
            self.number,
            self.power_ups,
            self.shots,
            self.refusals,
            self.flash_errors,
            self.lowest,
        )
        return body + zlib.crc32(body).to_bytes(4, "little")


def decode_record(data: bytes) -> CountRecord | None:
    """The record in 24 bytes, if its last four bytes are right."""
    body, crc = data[: _RECORD.size], data[_RECORD.size :]
    if zlib.crc32(body) != int.from_bytes(crc, "little"):
        return None
    return CountRecord(*_RECORD.unpack(body))


class Counts:
    """The counts of one board, from its power-up on."""

    def __init__(self, flash: Flash, cells: Callable[[], int] = lambda: NOT_MEASURED) -> None:
        """flash: of two pages. cells: what the input of low cells measures."""
        self.is_counting = False
        self._flash = flash
        self._cells = cells
        self._is_new = False
        self._written_s: float | None = None
        newest = CountRecord()
        used = [0] * COUNT_PAGES
        behind = self._page = 0
        for page in range(COUNT_PAGES):
            for place in range(0, flash.page_bytes - RECORD_BYTES + 1, RECORD_BYTES):
                data = flash.read(page * flash.page_bytes + place, RECORD_BYTES)
                if set(data) == {ERASED}:
                    continue
                used[page] = place + RECORD_BYTES
                record = decode_record(data)
                if record is not None and record.number >= newest.number:
                    newest = record
                    behind = used[page]
                    self._page = page
        self._used = used[self._page]
        self._number = newest.number + 1 + (self._used - behind) // RECORD_BYTES
        self.power_ups = newest.power_ups
        self.shots = newest.shots
        self.refusals = newest.refusals
        self.flash_errors = newest.flash_errors
        self.lowest = newest.lowest

    def power_up(self) -> None:
        """One more, at once on record; of a table that asks for counts."""
        self.power_ups += 1
        self._is_new = True
        if not self._keep(None):
            self._keep(None)  # behind an erasure

    def events(self, kinds: Iterable[int]) -> None:
        """Trace events of a clock that runs for ever."""
        for kind in kinds if self.is_counting else ():
            self.shots += kind == _SHOT
            self.refusals += kind in (_EMPTY, _REFUSED)
            self._is_new |= kind in (_SHOT, _EMPTY, _REFUSED)

    def flash_error(self) -> None:
        """The flash did not do what it was told."""
        if self.is_counting and self.flash_errors < 0xFFFF:
            self.flash_errors += 1
            self._is_new = True

    def work(self, now_s: float, rests: bool) -> None:
        """Measure; put on record what is new, if it is time. rests: nothing else is under way."""
        if not self.is_counting:
            return
        if self._written_s is None:
            self._written_s = now_s
        cells = self._cells()
        if cells < self.lowest:
            self.lowest = cells
            self._is_new = True
        if self._is_new and rests and now_s - self._written_s >= EVERY_S:
            self._keep(now_s)

    def told(self) -> m.Counts:
        """As an answer."""
        return m.Counts(
            int(self.is_counting),
            self.power_ups,
            self.shots,
            self.refusals,
            self.flash_errors,
            self.lowest,
        )

    def _keep(self, now_s: float | None) -> bool:
        """An erasure where the page is full, else the record; whether it is written."""
        if self._number > LAST_NUMBER:
            self._is_new = False
            return False
        try:
            if self._used + RECORD_BYTES > self._flash.page_bytes:
                self._flash.erase(1 - self._page)
                self._page, self._used = 1 - self._page, 0
                return False
            self._write()
        except FlashError:
            self.flash_error()
            self._written_s = now_s
            return False
        self._written_s = now_s
        return True

    def _write(self) -> None:
        """Raises FlashError."""
        record = CountRecord(
            self._number,
            self.power_ups,
            self.shots,
            self.refusals,
            self.flash_errors,
            self.lowest,
        ).encode()
        place = self._page * self._flash.page_bytes + self._used
        self._is_new = False
        self._used += RECORD_BYTES
        self._number += 1
        self._flash.write(place, record)
        if self._flash.read(place, RECORD_BYTES) != record:
            raise FlashError("the counts read back wrong")
