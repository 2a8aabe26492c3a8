"""The conversation that pushes a table: blocks through the window, read-back, commit (LINK
section 4).
"""

import math
from collections import deque
from collections.abc import Callable, Sequence
from typing import NamedTuple

from fxseq.link import faults
from fxseq.link import messages as m
from fxseq.link.host_delta import Kept, find_kept
from fxseq.link.host_session import (
    LONGEST_WORK_S,
    PATIENCE_S,
    REPEAT_EVERY_S,
    STUCK_S,
    Progress,
    Script,
    Steps,
    Talk,
    ask,
    hello_and,
)
from fxseq.link.host_speed import change_speed, leave_speed, slower
from fxseq.link.window import Flights, Window
from fxseq.sequence.errors import Fault, LinkError

FIRST_TIMEOUT_S = 1.0
SHORTEST_TIMEOUT_S = 0.05
REPEATS_PER_BLOCK = 10
"""Repeats of blocks allowed, per block of the table, before the line is given up."""
WORTH_S = 1.0
"""What is quicker than this at the base speed is sent at it: to change it takes time too."""
LOOKED_AT = 32
MOST_REPEATS = 20
"""Blocks over which repeats are counted, and so many of them that a lower speed is taken.

Half the speed carries half as much at best, so up to 16 nothing is gained, and chance alone goes
somewhat above. Simulated, with bit errors from 3e-5 to 5e-4 at 2,000,000 baud and none or a quarter
of them below: 4 took up to eight times as long as the best limit, 16 up to 1.8 times, 20 up to 1.3.
"""
FRAME_BYTES = 9
"""What a block costs the line beside its own bytes: kind, number, CRC and framing (LINK 7)."""
DEAF_S = 1.0
"""Silence after which the board may have gone back to the base speed (LINK 4.6)."""


class Pushed(NamedTuple):
    """seconds: from the first hello to the commit; transfer_s of these, from the first block on.
    repeated: blocks. baud: of the line at the end, 0 where it has none. sounds, kept: of the table;
    those of them that were on the board already, 0 of 0 where that was not looked for.
    """

    board: m.Board
    slot: int
    seconds: float
    transfer_s: float
    repeated: int
    sounds: int = 0
    kept: int = 0
    baud: int = 0


def repeats_to_halve(block_bytes: int) -> int:
    """So many repeats among LOOKED_AT blocks, and halves will carry more.

    What comes with probability q costs (B + 9) / q bytes of the line; as two halves, of which each
    comes with sqrt(q), it costs 2 (B / 2 + 9) / sqrt(q). So halves are better below
    q = ((B + 9) / (B + 18))^2, with blocks of 352 where more than 4.8 % are lost. Chance goes above
    that by three standard deviations (Poisson).
    """
    whole = (block_bytes + FRAME_BYTES) / (block_bytes + 2 * FRAME_BYTES)
    lost = LOOKED_AT * (1 - whole**2)
    return round(lost + 3 * math.sqrt(lost))


class Timeout:
    """When to ask after blocks that nothing is heard of: smoothed round trip plus four deviations.

    As in RFC 6298 (its constants from memory); doubled each time in vain, but only up to the first
    time-out.
    """

    def __init__(self, first_s: float = FIRST_TIMEOUT_S) -> None:
        self._first_s = self._base_s = first_s
        self._mean_s: float | None = None
        self._deviation_s = 0.0
        self._in_vain = 0

    @property
    def seconds(self) -> float:
        """The time-out now."""
        return min(self._base_s * 2**self._in_vain, max(self._base_s, self._first_s))

    def expired(self) -> None:
        """It passed in vain."""
        self._in_vain = min(self._in_vain + 1, 8)

    def heard(self, round_trip_s: float | None) -> None:
        """Something came; how long the newest block took, where that is known."""
        self._in_vain = 0
        if round_trip_s is None:
            return
        if self._mean_s is None:
            self._mean_s = round_trip_s
            self._deviation_s = round_trip_s / 2
        else:
            self._deviation_s += (abs(round_trip_s - self._mean_s) - self._deviation_s) / 4
            self._mean_s += (round_trip_s - self._mean_s) / 8
        self._base_s = max(self._mean_s + 4 * self._deviation_s, SHORTEST_TIMEOUT_S)


class Restarted(Exception):
    """The board knows nothing of the push any more."""


class BadReadBack(Exception):
    """The slot holds another table than was sent, or one that must not be played."""

    def __init__(self, fault: LinkError) -> None:
        super().__init__(fault)
        self.fault = fault


class Spoilt(Exception):
    """The read-back was bad, and some of the table was on the board before."""


def push(table: bytes, unfit: Callable[[m.Board], list[Fault]]) -> Script[Pushed]:
    """The conversation. unfit: names what the board cannot do for this table.

    A board that restarts meanwhile is pushed to once more; one whose read-back is bad is given all
    of the table once, where it had some of it before.
    """

    def script(talk: Talk) -> Steps[Pushed]:
        begun = talk.now_s
        restarts = 0
        anew = False
        while restarts < 2:
            try:
                pushed = yield from _attempt(talk, table, unfit, begun, anew)
                yield from leave_speed(talk)
                return pushed
            except Restarted:
                restarts += 1
            except Spoilt:
                anew = True
        raise faults.restarted(talk.where, talk.aftermath)

    return script


def _attempt(
    talk: Talk,
    table: bytes,
    unfit: Callable[[m.Board], list[Fault]],
    begun: float,
    anew: bool,
) -> Steps[Pushed]:
    """anew: all of the table, whatever the board has of it."""
    begin = m.Begin(len(table), m.table_crc(table))
    board, [tag] = yield from hello_and(talk, begin)
    found = unfit(board)
    most_bytes = min(board.slot_bytes, m.MOST_BLOCKS * board.block_bytes)
    if len(table) > most_bytes:
        found.append(faults.too_large(talk.where, len(table), most_bytes))
    if found:
        raise LinkError(*found)
    _, status = yield from ask(talk, begin, m.Status, sent_with=tag)
    blocks_of = board.halved() if isinstance(status, m.Halved) else board
    kept = Kept([], 0, 0) if anew else (yield from find_kept(talk, blocks_of, table))
    transfer = Transfer(talk, table, blocks_of, tag, status, kept.copies)
    try:
        slot = yield from transfer.run()
    except BadReadBack as bad:
        if anew or not transfer.takes_up:
            raise bad.fault from None
        raise Spoilt from None
    return Pushed(
        board,
        slot,
        talk.now_s - begun,
        talk.now_s - transfer.begun_s,
        transfer.window.repeated,
        kept.sounds,
        kept.kept,
        talk.baud,
    )


class Transfer:
    """From the first block to the commit."""

    def __init__(
        self,
        talk: Talk,
        table: bytes,
        board: m.Board,
        tag: int,
        status: m.Status,
        copies: Sequence[m.Copy],
    ) -> None:
        """board: with blocks as the status counts them. status: what has come before. copies: what
        need not be sent, in order. Raises LinkError where the status cannot be.
        """
        self.begun_s = talk.now_s
        self._talk = talk
        self._table = table
        self._crc = m.table_crc(table)
        self._board = board
        self.window = self._window(status)
        self.takes_up = bool(copies) or self.window.arrived > 0
        """Whether some of the table was on the board before."""
        self._copies = deque(copies)
        self._copy_sent = False
        self._before_bytes = self._done_bytes
        self._tag = tag
        self._halving: int | None = None
        """Tag of the HALVE that is not answered yet."""
        self._timeout = self._first_timeout()
        self._before_commit = talk.aftermath
        self._asked: dict[int, int] = {}
        """Order of sending of each question, by its tag."""
        self._ask_now = False
        self._asked_last = False
        copied = sum(copy.count for copy in copies)
        left_s = (self._blocks - self.window.arrived - copied) * self._size * 10 / m.BASE_BAUD
        self._hurries = board.takes_speed and talk.baud == m.BASE_BAUD and left_s > WORTH_S
        self._repeats: deque[bool] = deque(maxlen=LOOKED_AT)
        """Of the blocks sent last: whether each was a repeat."""

    def run(self) -> Steps[int]:
        """The slot. Raises BadReadBack, and LinkError on another error of the board, on silence and
        on a line too bad.
        """
        talk = self._talk
        if self._hurries:
            yield from self._change_speed(m.MOST_BAUD)
        heard = further = talk.now_s
        arrived = self.window.arrived
        works = False
        while True:
            self._send()
            arrival = yield min(talk.now_s + self._timeout.seconds, heard + PATIENCE_S)
            if arrival is None:
                if talk.now_s >= heard + PATIENCE_S:
                    raise faults.no_answer(talk.where, talk.now_s - heard, talk.aftermath)
                self._timeout.expired()
                self._ask_now = True
            elif arrival.tag == self._tag or arrival.tag in self._asked:
                if isinstance(arrival.message, m.Committed):
                    return arrival.message.slot
                self._take(arrival)
                heard = talk.now_s
                works = isinstance(arrival.message, m.Wait)
            if self.window.arrived > arrived:
                arrived = self.window.arrived
                further = talk.now_s
            elif works and talk.now_s >= further + LONGEST_WORK_S:
                raise faults.still_at_work(talk.where, talk.now_s - further, talk.aftermath)
            elif not works and talk.now_s >= further + STUCK_S:
                raise self._stuck(talk.now_s - further)
            deaf_s = PATIENCE_S / 2 if works else DEAF_S
            if talk.baud > talk.first_baud and (self._is_bad or talk.now_s >= heard + deaf_s):
                yield from self._change_speed(slower(talk.baud))
                heard = talk.now_s

    @property
    def _size(self) -> int:
        """Bytes of a block."""
        return self._board.block_bytes

    @property
    def _blocks(self) -> int:
        return -(-len(self._table) // self._size)

    @property
    def _done_bytes(self) -> int:
        return min(self.window.arrived * self._size, len(self._table))

    def _window(self, status: m.Status) -> Window:
        """For what is still to come."""
        window = Window(self._blocks, self._board.window)
        try:
            window.resume(status.base, status.bitmap)
        except ValueError as wrong:
            raise faults.nonsense(self._talk.where, str(wrong)) from None
        return window

    @property
    def _is_bad(self) -> bool:
        """Whether half the speed would carry more."""
        return sum(self._repeats) >= MOST_REPEATS

    @property
    def _should_halve(self) -> bool:
        """Whether blocks of half the size would carry more, as long as enough are left."""
        return (
            self._board.can_halve
            and self._talk.baud == self._talk.first_baud
            and sum(self._repeats) >= repeats_to_halve(self._size)
            and self.window.unsent >= LOOKED_AT
            and self.window.flights.leave_room(self._board.window)
            and self._blocks <= m.MOST_BLOCKS // 2
        )

    def _first_timeout(self) -> Timeout:
        """Short at a speed that the board would leave."""
        quick = self._talk.baud > self._talk.first_baud
        return Timeout(REPEAT_EVERY_S if quick else FIRST_TIMEOUT_S)

    def _change_speed(self, baud: int) -> Steps[None]:
        """Go on at another speed, and measure anew what the line carries."""
        talk = self._talk
        yield from change_speed(talk, baud)
        self._timeout = self._first_timeout()
        self.window.flights = Flights()
        self._ask_now = bool(self._repeats)
        self._repeats.clear()

    def _send(self) -> None:
        """What the window allows, and a question where all is sent or nothing is heard."""
        talk = self._talk
        while self._copies and self._copies[0].first + self._copies[0].count <= self.window.base:
            self._copies.popleft()
            self._copy_sent = False
        self.window.until = self._copies[0].first if self._copies else self._blocks
        if self._halving is not None or self._should_halve:
            most_ahead = m.HALVED_AHEAD + 1
            if self.window.ahead <= most_ahead and not self._copy_sent:
                self._halve()
                return
            self.window.until = min(self.window.until, self.window.base + most_ahead)
        while (block := self.window.next_block()) is not None:
            talk.send(
                m.Data(block, self._table[block * self._size : (block + 1) * self._size]), self._tag
            )
            self._repeats.append(self.window.sent(block, talk.now_s))
            self._asked_last = False
        if self._copies and self.window.base >= self._copies[0].first:
            self._copy(self._copies[0])
        elif self._ask_now or (self.window.all_sent and not self._asked_last):
            self._ask()

    def _copy(self, copy: m.Copy) -> None:
        """Have it copied, and nothing else meanwhile: everything before it is there."""
        if self._copy_sent and not self._ask_now:
            return
        self._talk.request(copy, self._tag)
        self.window.copied(copy.first + copy.count)
        self._copy_sent = True
        self._ask_now = self._asked_last = False

    def _halve(self) -> None:
        """Have blocks halved, and send nothing else until they are."""
        if self._halving is not None and not self._ask_now:
            return
        if self._halving is None:
            self._halving = self._new_tag()
        self._talk.request(m.Halve(), self._halving)
        self._ask_now = self._asked_last = False

    def _halved(self, status: m.Halved) -> None:
        """Go on with halves. Of what was under way, the board has what it tells of."""
        repeated = self.window.repeated
        self._board = self._board.halved()
        self.window = self._window(status)
        self.window.repeated = repeated
        self._copies = deque(m.Copy(2 * c.first, 2 * c.count, c.offset) for c in self._copies)
        self._tag = self._halving
        self._halving = None
        self._asked.clear()
        self._repeats.clear()

    def _new_tag(self) -> int:
        """For a question: another one than that of blocks. The status that answers it tells of all
        that was sent before.
        """
        tag = self._talk.new_tag()
        if tag == self._tag:
            tag = self._talk.new_tag()
        self._asked[tag] = self.window.next_order()
        return tag

    def _ask(self) -> None:
        """What has arrived; where that may be all, for the commit."""
        talk = self._talk
        tag = self._new_tag()
        if self.window.all_sent:
            talk.aftermath = faults.UNDECIDED
        talk.request(
            m.Commit(len(self._table), self._crc) if self.window.all_sent else m.Verify(), tag
        )
        self._ask_now = False
        self._asked_last = True

    def _take(self, arrival: m.Tagged) -> None:
        """Act on an answer."""
        talk = self._talk
        message = arrival.message
        # Whatever else it says, it has not committed.
        talk.aftermath = talk.aftermath if isinstance(message, m.Wait) else self._before_commit
        if isinstance(message, m.Error):
            if message.code == m.ErrorCode.NOT_BEGUN:
                raise Restarted
            refused = faults.refused(talk.where, message, talk.aftermath)
            raise BadReadBack(refused) if message.code == m.ErrorCode.BAD_TABLE else refused
        if isinstance(message, m.Verified):
            if message != m.Verified(len(self._table), self._crc):
                raise BadReadBack(faults.read_back_wrong(talk.where, talk.aftermath))
            message = m.Status(self._blocks, 0)
        if isinstance(message, m.Halved) and arrival.tag == self._halving:
            self._halved(message)
        if isinstance(message, m.Status):
            order = self._asked.get(arrival.tag, 0)
            self._timeout.heard(self.window.heard(message.base, message.bitmap, talk.now_s, order))
            self._asked_last &= arrival.tag not in self._asked
            if self.window.repeated > REPEATS_PER_BLOCK * (self._blocks + 10):
                raise self._stuck(0.0)
            self._report()

    def _stuck(self, seconds: float) -> LinkError:
        """Why it gets no further."""
        if self.window.repeated:
            return faults.bad_line(self._talk.where, self.window.repeated, self._talk.aftermath)
        return faults.stuck(self._talk.where, seconds, self._talk.aftermath)

    def _report(self) -> None:
        done = self._done_bytes
        seconds = self._talk.now_s - self.begun_s
        rate = (done - self._before_bytes) / seconds if seconds > 0 else 0.0
        left = len(self._table) - done
        self._talk.progress = Progress(done, len(self._table), rate, left / rate if rate else 0.0)
