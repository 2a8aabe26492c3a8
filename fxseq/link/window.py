"""Which block to send next: a window with selective repeat (LINK 4.2)."""

import math
from collections import deque
from typing import NamedTuple

FIRST_FLIGHT = 8
SMALLEST_FLIGHT = 4
SPARE_FLIGHT = 3
"""Blocks under way at once: before anything is measured, at least, and more than the line holds."""
RATE_OVER = 16
"""Answers over which the rate of the line is measured."""


class Flights:
    """How many blocks to have under way: what the line carries within the shortest round trip, a
    quarter more, and some to spare.

    Fewer leave a quick line with long delays idle; with more, a repeat queues behind them.
    """

    def __init__(self) -> None:
        self.most = FIRST_FLIGHT
        self._held = 0.0
        self._shortest_s = math.inf
        self._answers: deque[tuple[float, int]] = deque(maxlen=RATE_OVER)

    def leave_room(self, width: int) -> bool:
        """Whether a window of this width would do for blocks of half the size: for as many as a
        round trip holds, and for twice that behind a repeat. A half takes half the time on the
        line, but delays stay. The highest rate so far counts, since losses make it look lower.
        """
        halves = 2 * self._held - 1
        return self._held > 0 and 3 * halves <= width

    def forget(self) -> None:
        """Measure the rate anew."""
        self._answers.clear()

    def heard(self, now_s: float, arrived: int, round_trip_s: float | None) -> None:
        """An answer; how many blocks have arrived, and how long the newest took, where that is
        known.
        """
        self._shortest_s = min(
            self._shortest_s, round_trip_s if round_trip_s is not None else math.inf
        )
        self._answers.append((now_s, arrived))
        first_s, before = self._answers[0]
        if now_s > first_s and self._shortest_s < math.inf:
            held = self._shortest_s * (arrived - before) / (now_s - first_s)
            self.most = max(math.ceil(1.25 * held) + SPARE_FLIGHT, SMALLEST_FLIGHT)
            if len(self._answers) == RATE_OVER:
                self._held = max(self._held, held)


class Flight(NamedTuple):
    """A block under way: its place in the order of sending, when it was sent, and whether it is
    a repeat.
    """

    order: int
    at_s: float
    repeat: bool


class Window:
    """What has been sent, what has arrived, what is lost.

    A line keeps the order of its bytes. So when something that was sent later has arrived, whatever
    was sent before it and has not arrived is lost: no time-out is needed as long as anything comes
    through.
    """

    def __init__(self, blocks: int, width: int) -> None:
        self.repeated = 0
        self.flights = Flights()
        self.base = 0
        """Every block below has arrived."""
        self.until = blocks
        """No block from here on is to be sent yet."""
        self._blocks = blocks
        self._width = width
        self._fresh = 0
        self._ahead: set[int] = set()
        self._lost: set[int] = set()
        self._flying: dict[int, Flight] = {}
        self._order = 0

    def resume(self, base: int, bitmap: int) -> None:
        """Begin with what the board has already. Raises ValueError where it tells of blocks that
        there are not.
        """
        here = _ahead(base, bitmap)
        self._fresh = max(here, default=base - 1) + 1
        if self._fresh > self._blocks:
            raise ValueError(f"it has {self._fresh} blocks of {self._blocks}")
        self.base = base
        self._ahead = here
        self._lost = set(range(base, self._fresh)) - here

    @property
    def all_sent(self) -> bool:
        """Whether there is nothing to send until more is known."""
        return self._fresh == self._blocks and not self._lost

    @property
    def ahead(self) -> int:
        """How many blocks from the first missing one on have been sent."""
        return self._fresh - self.base

    @property
    def unsent(self) -> int:
        """How many blocks have not been sent yet."""
        return self._blocks - self._fresh

    @property
    def arrived(self) -> int:
        """How many blocks have arrived."""
        return self.base + len(self._ahead)

    def next_block(self) -> int | None:
        """Block to send now."""
        if len(self._flying) >= self.flights.most:
            return None
        if self._lost:
            return min(self._lost)
        return self._fresh if self._fresh < min(self.until, self.base + self._width) else None

    def copied(self, until: int) -> None:
        """Note that blocks below `until` which have not been sent are copied on the board. They say
        nothing of the line.
        """
        self._fresh = max(self._fresh, until)
        self.flights.forget()

    def next_order(self) -> int:
        """A place in the order of sending, for a block or for a question that makes the board
        tell what it has.
        """
        self._order += 1
        return self._order

    def sent(self, block: int, now_s: float) -> bool:
        """Note that the block of `next_block` was sent; whether it is a repeat."""
        repeat = block in self._lost
        self._lost.discard(block)
        self._fresh = max(self._fresh, block + 1)
        self.repeated += repeat
        self._flying[block] = Flight(self.next_order(), now_s, repeat)
        return repeat

    def heard(self, base: int, bitmap: int, now_s: float, order: int = 0) -> float | None:
        """Take a status; the round trip of the newest block that it tells of, where that was sent
        only once. [s]

        order: of the question that the status answers, 0 for a status that answers a block.
        """
        here = _ahead(base, bitmap)
        if max(here, default=base - 1) >= self._fresh:
            return None
        arrived = sorted(
            flight for block, flight in self._flying.items() if block < base or block in here
        )
        self.base = max(self.base, base)
        self._ahead = {block for block in self._ahead | here if block >= self.base}
        order = max(order, arrived[-1].order if arrived else 0)
        still = {
            block: flight
            for block, flight in self._flying.items()
            if block >= base and block not in here
        }
        self._lost |= {block for block, flight in still.items() if flight.order < order}
        self._lost = {
            block for block in self._lost if block >= self.base and block not in self._ahead
        }
        self._flying = {block: flight for block, flight in still.items() if flight.order > order}
        round_trip_s = now_s - arrived[-1].at_s if arrived and not arrived[-1].repeat else None
        self.flights.heard(now_s, self.arrived, round_trip_s)
        return round_trip_s


def _ahead(base: int, bitmap: int) -> set[int]:
    """The blocks that a bitmap tells of."""
    return {base + 1 + bit for bit in range(bitmap.bit_length()) if bitmap >> bit & 1}
