"""The board's side of the link: bytes in, bytes out, a step of work at a time; no port, no clock,
no file (LINK sections 4 to 6).

The session owns the slots, the push under way, the queue of presses, the trace and the player; what
drives it gives it bytes, time and the frame that the clock has reached.
"""

import zlib
from collections import deque
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

from fxseq.link import messages as m
from fxseq.link.counts import Counts
from fxseq.link.frames import LARGEST_BLOCK, FrameDecoder, encode_frame
from fxseq.link.messages import ErrorCode
from fxseq.link.slots import Flash, FlashError, Mark, Slots
from fxseq.table.limits import VERSION as TABLE_VERSION

WAIT_EVERY_S = 0.25
"""A board at work says so at least this often (LINK 4.1 R3)."""
FRAME_NUMBERS = 1 << 32
"""Frames are told modulo this (SPEC 5.1 R3); those of a player are not."""
RELEASE_AFTER_S = 10.0
"""A clock that was told where to stop runs freely again once the host has been silent for this
long (LINK 6 R9).
"""
BACK_AFTER_S = 1.0
"""A line at any other than the base speed goes back to that once no whole frame has come for this
long, and nothing was being worked on (LINK 4.6 R2).
"""


class Playing(Protocol):
    """A table that plays, from power-up on."""

    frame: int

    def accepts(self, press: m.Timed) -> bool:
        """Whether the press names something that the table has."""

    def play(self, presses: list[m.Timed], until_frame: int) -> Any:
        """Play up to, and without, a frame; what comes back has `trace`, the events of these
        frames.
        """


@dataclass(frozen=True)
class Ability:
    """What a board can do, and how much it can hold."""

    name: str
    board_id: int = 0
    table_version: int = TABLE_VERSION
    most_rate_hz: int = 48_000
    most_channels: int = 255
    most_pwm_bits: int = 16
    most_voices: int = 16
    codings: int = 0b11111
    features: int = m.Feature.RUNS | m.Feature.READING | m.Feature.COPYING | m.Feature.HALVING
    block_bytes: int = LARGEST_BLOCK
    window: int = m.WIDEST_WINDOW
    press_room: int = 32
    trace_room: int = 256
    most_baud: int = m.MOST_BAUD
    """Where features have SPEED."""


class Refused(Exception):
    """A request is answered with an error."""

    def __init__(self, code: ErrorCode, detail: int = 0) -> None:
        super().__init__(code, detail)
        self.code = code
        self.detail = detail


@dataclass
class Push:
    """A table on its way into the idle slot."""

    tag: int
    length: int
    crc: int
    block_bytes: int
    halved: bool = False
    ready: bool = False
    base: int = 0
    bitmap: int = 0
    read_back: m.Message | None = None
    """The outcome of the read-back, once it is known."""
    commit: bool = False
    """Whether the mark follows a good read-back."""

    def goes_on_with(self, begin: m.Begin) -> bool:
        """Whether `begin` takes up what has come of this push; after a bad outcome it begins anew
        (LINK 4.1 R2).
        """
        return (self.length, self.crc) == (begin.length, begin.crc) and (
            self.read_back is None or self.good
        )

    @property
    def blocks(self) -> int:
        """How many the table has."""
        return -(-self.length // self.block_bytes)

    def halve(self) -> None:
        """Count in blocks of half the size. Raises Refused where that cannot be told."""
        if self.bitmap >> m.HALVED_AHEAD or self.blocks > m.MOST_BLOCKS // 2:
            raise Refused(ErrorCode.BAD_FIELD, self.bitmap)
        here = [self.base + 1 + bit for bit in range(m.HALVED_AHEAD) if self.bitmap >> bit & 1]
        self.halved = True
        self.block_bytes //= 2
        self.base = min(2 * self.base, self.blocks)
        self.bitmap = 0
        for number in (half for block in here for half in (2 * block, 2 * block + 1)):
            if number < self.blocks:
                self.take(number)

    def wants(self, number: int) -> bool:
        """Whether this block is missing and within the window."""
        ahead = number - self.base
        return ahead == 0 or (1 <= ahead <= m.WIDEST_WINDOW and not self.bitmap >> (ahead - 1) & 1)

    def take(self, number: int) -> None:
        """Note a block that `wants` agreed to."""
        if number > self.base:
            self.bitmap |= 1 << (number - self.base - 1)
            return
        self.base += 1
        while self.bitmap & 1:
            self.base = self.base + 1
            self.bitmap = self.bitmap >> 1
        self.bitmap >>= 1

    @property
    def good(self) -> bool:
        """Whether the read-back has found what was announced, to be played."""
        return self.read_back == m.Verified(self.length, self.crc)

    @property
    def status(self) -> m.Status:
        """How far it is."""
        return (m.Halved if self.halved else m.Status)(self.base, self.bitmap)


class Job(NamedTuple):
    """Work in small steps; ends with its answer. of: a request that it is the work of, where that
    matters.
    """

    tag: int
    steps: Generator[None, None, m.Message]
    of: m.Message | None = None


@dataclass
class Run:
    """The clock, the presses to come and the trace so far."""

    trace_room: int
    until: int = m.FOR_EVER
    presses: deque[m.Timed] = field(default_factory=deque)
    next_press: int = 0
    late: int = 0
    trace: deque[m.Timed] = field(default_factory=deque)
    events: int = 0
    """Events so far, with those that have fallen out of the trace, modulo 2^32."""

    def log(self, events: list[m.Timed]) -> None:
        """Append to the trace; the oldest events give way."""
        self.trace.extend(events)
        self.events = (self.events + len(events)) % FRAME_NUMBERS
        while len(self.trace) > self.trace_room:
            self.trace.popleft()


class BoardSession:
    """One board, from its power-up on."""

    def __init__(
        self,
        ability: Ability,
        flash: Flash,
        check: Callable[[bytes], None],
        start: Callable[[bytes], Playing],
        counts: Counts | None = None,
        asks: Callable[[bytes], bool] = lambda table: False,
    ) -> None:
        """check: raises ValueError, with an `offset` where it knows one, for a table that this
        board must not play. start: the player. counts: of a board that can; asks: whether a table
        asks for them.
        """
        self.ability = ability
        self.player: Playing | None = None
        self.baud = m.BASE_BAUD
        """At which the line has to run, for what comes and for what is returned from here on; it
        changes in `step` alone.
        """
        self._check = check
        self._start = start
        self._slots = Slots(flash, check)
        self._decoder = FrameDecoder()
        self._requests = m.REQUESTS if ability.features & m.Feature.RUNS else m.PUSH_REQUESTS
        if ability.features & m.Feature.READING:
            self._requests = {**self._requests, m.Read.KIND: m.Read}
        if ability.features & m.Feature.COPYING:
            self._requests = {**self._requests, m.Sum.KIND: m.Sum, m.Copy.KIND: m.Copy}
        if ability.features & m.Feature.SPEED:
            self._requests = {**self._requests, m.Speed.KIND: m.Speed}
        if ability.features & m.Feature.HALVING:
            self._requests = {**self._requests, m.Halve.KIND: m.Halve}
        self._counts = counts
        self._asks = asks
        if counts is not None:
            self._requests = {**self._requests, m.CountsQuery.KIND: m.CountsQuery}
        self._push: Push | None = None
        self._job: Job | None = None
        self._wait_at = 0.0
        self._heard_at = 0.0
        self._agreed: int | None = None
        self._alive_at = 0.0
        self._worked = False
        self._power_up()
        if counts is not None and counts.is_counting:
            counts.power_up()

    @property
    def busy(self) -> bool:
        """Whether `step` has work to do."""
        return self._job is not None

    @property
    def held(self) -> bool:
        """Whether the clock stands still at the frame it was told to reach."""
        return (
            self.player is not None
            and self._run.until != m.FOR_EVER
            and self.player.frame % FRAME_NUMBERS >= self._run.until
        )

    def receive(self, data: bytes, now_s: float) -> bytes:
        """Take bytes from the line; return the bytes to send."""
        return b"".join(self._answer(message, now_s) for message in self._decoder.feed(data))

    def step(self, now_s: float) -> bytes:
        """Do one small step of the work that is pending, if any; return the bytes to send. To be
        called all the time.
        """
        if self._run.until != m.FOR_EVER and now_s >= self._heard_at + RELEASE_AFTER_S:
            self._power_up()
        self._keep_speed(now_s)
        if self._counts is not None:
            rests = self._job is None and self._push is None and self._run.until == m.FOR_EVER
            self._counts.work(now_s, rests)
        if self._job is None:
            return b""
        tag, steps, _ = self._job
        try:
            next(steps)
        except StopIteration as done:
            self._job = None
            return _frame(done.value, tag)
        except FlashError:
            return _frame(self._flash_failed(), tag)
        if now_s < self._wait_at:
            return b""
        self._wait_at = now_s + WAIT_EVERY_S
        return _frame(m.Wait(), tag)

    def play(self, until_frame: int) -> Any:
        """Let the clock reach `until_frame`, or the frame where it is held; what was played,
        None where nothing was.
        """
        run = self._run
        player = self.player
        if player is None or self.held:
            return None
        turn = player.frame - player.frame % FRAME_NUMBERS
        until = until_frame if run.until == m.FOR_EVER else min(until_frame, turn + run.until)
        if until <= player.frame:
            return None
        due = []
        while run.presses and turn + run.presses[0][0] < until:
            frame, *what = run.presses.popleft()
            run.late = min(run.late + (turn + frame < player.frame), 0xFFFF)
            due.append((max(turn + frame, player.frame), *what))
        played = player.play(due, until)
        run.log(played.trace)
        if self._counts is not None and run.until == m.FOR_EVER:
            self._counts.events(kind for _, kind, *_ in played.trace)
        return played

    def _answer(self, data: bytes, now_s: float) -> bytes:
        self._heard_at = now_s
        try:
            tag, message = m.decode_message(data, self._requests)
        except m.BadMessage as bad:
            return _frame(m.Error(bad.code, bad.detail), bad.tag)
        try:
            answer = self._ACTS[type(message)](self, tag, message)
        except Refused as refused:
            answer = m.Error(refused.code, refused.detail)
        except FlashError:
            answer = self._flash_failed()
        if isinstance(answer, m.Wait):
            self._wait_at = now_s + WAIT_EVERY_S
        return _frame(answer, tag) if answer is not None else b""

    def _keep_speed(self, now_s: float) -> None:
        """The speed that was agreed, as long as somebody follows it."""
        if self._agreed is not None:
            self.baud, self._agreed = self._agreed, None
            self._alive_at = now_s
        if self._worked:
            self._alive_at = now_s
        self._worked = self._job is not None
        if now_s >= max(self._alive_at, self._heard_at) + BACK_AFTER_S:
            self.baud = m.BASE_BAUD

    def _flash_failed(self) -> m.Message:
        self._job = self._push = None
        if self._counts is not None:
            self._counts.flash_error()
        return m.Error(ErrorCode.FLASH, 0)

    def _power_up(self) -> None:
        """Frame 0 of the active table."""
        self._run = Run(self.ability.trace_room)
        mark = self._slots.active
        table = b"".join(self._slots.read(mark.slot, mark.length)) if mark is not None else None
        self.player = self._start(table) if table is not None else None
        if self._counts is not None:
            self._counts.is_counting = table is not None and self._asks(table)

    def _hello(self, tag: int, message: m.Hello) -> m.Message:
        able = self.ability
        active = self._slots.active
        lengths = [
            (mark.length, mark.crc) if mark is not None else (0, 0) for mark in self._slots.tables
        ]
        return m.Board(
            m.PROTOCOL_VERSION,
            able.table_version,
            able.most_rate_hz,
            able.most_channels,
            able.most_pwm_bits,
            able.most_voices,
            able.codings,
            able.features,
            able.block_bytes,
            able.window,
            able.press_room,
            able.trace_room,
            self._slots.slot_bytes,
            active.slot if active is not None else m.NO_SLOT,
            int(self.held),
            *lengths[0],
            *lengths[1],
            able.board_id,
            able.name,
        )

    def _begin(self, tag: int, message: m.Begin) -> m.Message:
        push = self._push
        if push is None or not push.goes_on_with(message):
            push = Push(tag, message.length, message.crc, self.ability.block_bytes)
            if push.length > self._slots.slot_bytes or push.blocks > m.MOST_BLOCKS:
                raise Refused(ErrorCode.TOO_LARGE, self._slots.slot_bytes)
            self._push = push
            self._job = Job(tag, self._erase(push))
        push.tag = tag
        if not push.ready or self._copies:
            self._job = self._job._replace(tag=tag)
        return push.status if push.ready else m.Wait()

    def _erase(self, push: Push) -> Generator[None, None, m.Message]:
        yield from self._slots.erase_idle(push.length)
        push.ready = True
        return push.status

    def _data(self, tag: int, message: m.Data) -> m.Message | None:
        push = self._under_way()
        if tag != push.tag or not push.ready:
            return None
        size = push.block_bytes
        if message.number >= push.blocks or len(message.block) != min(
            size, push.length - message.number * size
        ):
            raise Refused(ErrorCode.BAD_FIELD, message.number)
        if push.wants(message.number) and not self._copies:
            self._drop_sum()
            self._slots.write_idle(message.number * size, message.block)
            push.take(message.number)
        return push.status

    def _halve(self, tag: int, message: m.Halve) -> m.Message:
        push = self._under_way()
        if not push.ready or self._copies:
            return m.Wait()
        if not push.halved:
            push.halve()
        push.tag = tag
        return push.status

    def _verify(self, tag: int, message: m.Verify) -> m.Message:
        push = self._under_way()
        return self._finish(tag, push, commit=False)

    def _finish(self, tag: int, push: Push, commit: bool) -> m.Message:
        """The answer to VERIFY, or to the COMMIT of the table that is being pushed."""
        if not push.ready:
            return m.Wait()
        if push.base < push.blocks:
            return push.status
        if push.read_back is not None and not (commit and push.good):
            return push.read_back
        self._drop_sum()
        if self._job is None:
            self._job = Job(tag, self._read_back(push))
        elif commit or not push.commit:
            self._job = self._job._replace(tag=tag)
        push.commit |= commit
        return m.Wait()

    def _read_back(self, push: Push) -> Generator[None, None, m.Message]:
        """The outcome, and behind a good one the mark, where that is asked for."""
        if push.read_back is None:
            yield from self._read(push)
        if not (push.commit and push.good):
            return push.read_back
        self._slots.commit(push.length, push.crc)
        self._push = None
        self._power_up()
        return m.Committed(self._slots.active.slot)

    def _read(self, push: Push) -> Generator[None, None, None]:
        """What the slot holds now, and the check that every table must pass before it is played."""
        table = bytearray()
        for piece in self._slots.read(self._slots.idle, push.length):
            table += piece
            yield
        crc = m.table_crc(bytes(table))
        push.read_back = (
            m.Verified(push.length, crc) if crc != push.crc else self._judge(bytes(table), crc)
        )

    def _judge(self, table: bytes, crc: int) -> m.Message:
        """Whether a table that arrived as it was sent may be played."""
        if table[-m.CRC_BYTES :] != crc.to_bytes(m.CRC_BYTES, "little"):
            return m.Error(ErrorCode.BAD_TABLE, len(table) - m.CRC_BYTES)
        try:
            self._check(table)
        except ValueError as bad:
            return m.Error(ErrorCode.BAD_TABLE, getattr(bad, "offset", 0))
        return m.Verified(len(table), crc)

    def _commit(self, tag: int, message: m.Commit) -> m.Message:
        push = self._push
        active = self._slots.active
        if (
            push is None
            and active is not None
            and (active.length, active.crc) == (message.length, message.crc)
        ):
            return m.Committed(active.slot)
        if push is None or (push.length, push.crc) != (message.length, message.crc):
            raise Refused(ErrorCode.NOT_BEGUN)
        return self._finish(tag, push, commit=True)

    def _part(self, tag: int, message: m.Read) -> m.Message:
        active = self._active()
        if message.offset >= active.length:
            raise Refused(ErrorCode.BAD_FIELD, message.offset)
        count = min(active.length - message.offset, m.LONGEST_PART)
        data = b"".join(self._slots.read(active.slot, count, message.offset))
        return m.Part(message.offset, data)

    def _sum(self, tag: int, message: m.Sum) -> m.Message | None:
        self._must_play(message.offset, message.length)
        job = self._job
        if job is not None and not isinstance(job.of, m.Sum):
            return m.Wait()
        if job is not None and job.of == message:
            self._job = job._replace(tag=tag)
            return m.Wait()
        return self._begin_job(Job(tag, self._sum_up(message), message))

    def _sum_up(self, message: m.Sum) -> Generator[None, None, m.Message]:
        crc = 0
        for piece in self._slots.read(self._slots.active.slot, message.length, message.offset):
            crc = zlib.crc32(piece, crc)
            yield
        return m.Summed(message.offset, message.length, crc)

    def _copy(self, tag: int, message: m.Copy) -> m.Message | None:
        self._active()
        push = self._under_way()
        if tag != push.tag or not push.ready:
            return None
        size = push.block_bytes
        end = message.first + message.count
        if end > push.blocks:
            raise Refused(ErrorCode.BAD_FIELD, message.first)
        self._must_play(message.offset, min(end * size, push.length) - message.first * size)
        if self._copies:
            return m.Wait()
        numbers = range(message.first, end)
        if not any(map(push.wants, numbers)):
            return push.status
        return self._begin_job(Job(tag, self._copy_blocks(push, message), message))

    def _copy_blocks(self, push: Push, message: m.Copy) -> Generator[None, None, m.Message]:
        size = push.block_bytes
        for number in range(message.first, message.first + message.count):
            if push.wants(number):
                yield
                at = number * size
                count = min(size, push.length - at)
                offset = message.offset + at - message.first * size
                block = b"".join(self._slots.read(self._slots.active.slot, count, offset))
                self._slots.write_idle(at, block)
                push.take(number)
        return push.status

    @property
    def _copies(self) -> bool:
        """Whether blocks are being copied."""
        return self._job is not None and isinstance(self._job.of, m.Copy)

    def _begin_job(self, job: Job) -> None:
        """What is done at once needs no WAIT."""
        self._job = job
        self._wait_at = self._heard_at + WAIT_EVERY_S

    def _drop_sum(self) -> None:
        """Something else is to be done; the host asks again (LINK 3.22)."""
        if self._job is not None and isinstance(self._job.of, m.Sum):
            self._job = None

    def _active(self) -> Mark:
        """The mark of the table that plays. Raises Refused where none does."""
        if self._slots.active is None:
            raise Refused(ErrorCode.NO_TABLE)
        return self._slots.active

    def _under_way(self) -> Push:
        """Raises Refused where no push is."""
        if self._push is None:
            raise Refused(ErrorCode.NOT_BEGUN)
        return self._push

    def _must_play(self, offset: int, length: int) -> None:
        """Raises Refused where these bytes are not all within the table that plays."""
        if offset + length > self._active().length:
            raise Refused(ErrorCode.BAD_FIELD, offset)

    def _counted(self, tag: int, message: m.CountsQuery) -> m.Message:
        assert self._counts is not None
        return self._counts.told()

    def _speed(self, tag: int, message: m.Speed) -> m.Message:
        self._agreed = min(message.baud, self.ability.most_baud)
        return m.Agreed(self._agreed)

    def _clock(self, tag: int, message: m.Message) -> m.Message:
        player = self._playing()
        run = self._run
        return m.Clock(
            player.frame % FRAME_NUMBERS,
            run.until,
            run.next_press,
            self.ability.press_room - len(run.presses),
            run.late,
        )

    def _playing(self) -> Playing:
        if self.player is None:
            raise Refused(ErrorCode.NO_TABLE)
        return self.player

    def _restart(self, tag: int, message: m.Restart) -> m.Message:
        self._playing()
        self._power_up()
        self._run.until = 0
        return self._clock(tag, message)

    def _run_until(self, tag: int, message: m.Run) -> m.Message:
        self._playing()
        self._run.until = message.until
        return self._clock(tag, message)

    def _presses(self, tag: int, message: m.Presses) -> m.Message:
        """Take what is new of the presses, as far as there is room; all of them or none where
        one is at fault.
        """
        player = self._playing()
        run = self._run
        known = (run.next_press - message.first) & 0xFFFF
        new = message.presses[known:] if known < len(message.presses) else ()
        last = run.presses[-1][0] if run.presses else 0
        for place, press in enumerate(new):
            if press[0] < last or not player.accepts(press):
                raise Refused(ErrorCode.BAD_PRESS, (message.first + known + place) & 0xFFFF)
            last = press[0]
        new = new[: self.ability.press_room - len(run.presses)]
        run.presses.extend(new)
        run.next_press = (run.next_press + len(new)) & 0xFFFF
        return self._clock(tag, message)

    def _trace(self, tag: int, message: m.TraceQuery) -> m.Message:
        player = self._playing()
        run = self._run
        ago = min(max(run.events - message.first, 0), len(run.trace))
        events = tuple(run.trace)[len(run.trace) - ago :][: m.MOST_EVENTS]
        told = tuple((frame % FRAME_NUMBERS, *what) for frame, *what in events)
        return m.Events(player.frame % FRAME_NUMBERS, run.events - ago, told)

    _ACTS: dict[type[m.Message], Callable[..., m.Message | None]] = {
        m.Hello: _hello,
        m.Begin: _begin,
        m.Data: _data,
        m.Verify: _verify,
        m.Commit: _commit,
        m.Restart: _restart,
        m.Run: _run_until,
        m.Presses: _presses,
        m.ClockQuery: _clock,
        m.TraceQuery: _trace,
        m.Read: _part,
        m.Sum: _sum,
        m.Copy: _copy,
        m.Speed: _speed,
        m.CountsQuery: _counted,
        m.Halve: _halve,
    }


def _frame(message: m.Message, tag: int) -> bytes:
    return encode_frame(message.encode(tag))
