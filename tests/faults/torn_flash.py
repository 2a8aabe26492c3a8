"""Flash memory whose power may fail within an operation, and of which some bits then read by
chance.

Pessimistic on purpose: each bit that was to change may have changed, not changed, or be loose: from
then on every reading gives a 0 or a 1 by chance, until the page is erased or the bit is written to
0. Nothing forbids a mark that was cut from reading whole at one power-up and damaged at the next,
or an erased page from reading as FF and not lasting.
"""

import random

from simulated import ERASED, MemoryFlash, PowerCut

MARKS_PAGES = 2


class TornFlash(MemoryFlash):
    """cut_at: number of the operation, counted from 0, in which the power fails; None for none."""

    def __init__(self, dice: random.Random, pages: int = 2 + 2 * 3, page_bytes: int = 64) -> None:
        super().__init__(pages, page_bytes)
        self.cut_at: int | None = None
        self._dice = dice
        self._loose: dict[int, int] = {}
        self.begin()

    def begin(self) -> None:
        """Forget what was begun so far."""
        self.operations = 0
        self.erases_slot = False
        self.marks_new = False

    def erase(self, page: int) -> None:
        """Set a page to FF."""
        self.erases_slot |= page >= MARKS_PAGES
        self._operate(page * self.page_bytes, bytes([ERASED]) * self.page_bytes)

    def write(self, offset: int, data: bytes) -> None:
        """Write zeros; bits that are loose and are not written to 0 stay loose."""
        assert offset + len(data) <= len(self.data)
        assert all(
            old & new == new for old, new in zip(self.data[offset:], data, strict=False)
        ), "written twice"
        # The only mark that a push writes once its slot has been erased is that of the new table.
        self.marks_new |= self.erases_slot and offset < MARKS_PAGES * self.page_bytes
        self._operate(offset, data)

    def read(self, offset: int, size: int) -> bytes:
        """What is there, loose bits by chance."""
        return bytes(
            self.data[at] ^ self._dice.getrandbits(8) & self._loose.get(at, 0)
            for at in range(offset, offset + size)
        )

    def _operate(self, offset: int, data: bytes) -> None:
        self.operations += 1
        if self.operations - 1 == self.cut_at:
            self._tear(offset, data)
            raise PowerCut
        self.data[offset : offset + len(data)] = data
        for place, byte in enumerate(data):
            self._loosen(
                offset + place,
                self._loose.get(offset + place, 0) & byte if data.strip(b"\xff") else 0,
            )

    def _tear(self, offset: int, data: bytes) -> None:
        """Some of the bits that were to change have, some have not, some are loose; often just a
        few of them, at the begin or the end.
        """
        changing = [
            (at, 1 << bit)
            for at, byte in enumerate(data, offset)
            for bit in range(8)
            if (self.data[at] ^ byte) >> bit & 1
        ]
        loose = set(
            self._dice.sample(changing, min(len(changing), self._dice.choice([0, 1, 2, 4, 40])))
        )
        share = self._dice.choice([0.0, 0.0, 0.5, 1.0, 1.0])
        for at, bit in changing:
            if (at, bit) in loose:
                self._loosen(at, self._loose.get(at, 0) | bit)
            elif self._dice.random() < share:
                self.data[at] ^= bit

    def _loosen(self, at: int, bits: int) -> None:
        if bits:
            self._loose[at] = bits
        else:
            self._loose.pop(at, None)
