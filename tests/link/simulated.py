"""A serial line, a flash memory and a player for tests, all without hardware and in virtual
time.
"""

import heapq
import math
import random
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field

from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.host_session import HostSession
from fxseq.link.slots import ERASED, FlashError

BYTES_PER_S = 11_520
"""115 200 baud, eight data bits, one start and one stop bit."""
CHUNK = 32


class Clean:
    """Nothing happens to the bytes."""

    def __call__(self, data: bytes) -> bytes:
        return data


class BitErrors:
    """Each data bit is flipped with the same small probability."""

    def __init__(self, rate: float, seed: int) -> None:
        self._rate = rate
        self._random = random.Random(seed)
        self._next = self._gap()

    def _gap(self) -> int:
        return int(math.log(1 - self._random.random()) / math.log(1 - self._rate))

    def __call__(self, data: bytes) -> bytes:
        out = bytearray(data)
        while self._next < 8 * len(data):
            out[self._next // 8] ^= 1 << self._next % 8
            self._next += 1 + self._gap()
        self._next -= 8 * len(data)
        return bytes(out)


class Bursts:
    """Of every second's worth of bytes, 20 in a row are lost."""

    def __init__(self, seed: int) -> None:
        self._at = random.Random(seed).randrange(BYTES_PER_S)

    def __call__(self, data: bytes) -> bytes:
        out = bytearray()
        for byte in data:
            self._at = (self._at + 1) % BYTES_PER_S
            if self._at >= 20:
                out.append(byte)
        return bytes(out)


class Nuisance:
    """Now and then a piece comes twice, or garbage comes before it."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def __call__(self, data: bytes) -> bytes:
        dice = self._random.random()
        if dice < 0.01:
            return data + data
        return self._random.randbytes(10) + data if dice < 0.02 else data


class Gone(Exception):
    """Who sends is there no more."""


@dataclass
class Wire:
    """One direction of a line: takes its time, and does to the bytes what `fault` does. late:
    share of pieces that others overtake. bytes_per_s: of the end that sends, now; what the other
    end takes at another speed is garbage. quick_fault: instead of `fault`, from `quick_from` on.
    ends_at_s: when who sends is gone.
    """

    fault: Callable[[bytes], bytes] = field(default_factory=Clean)
    latency_s: float = 0.001
    late: float = 0.0
    seed: int = 0
    bytes_per_s: float = BYTES_PER_S
    quick_fault: Callable[[bytes], bytes] = field(default_factory=Clean)
    quick_from: float = math.inf
    ends_at_s: float = math.inf

    def __post_init__(self) -> None:
        self._queue: list[tuple[float, int, float, bytes]] = []
        self._free_at, self._count, self._random = 0.0, 0, random.Random(self.seed)

    def put(self, data: bytes, now_s: float) -> None:
        """Send."""
        if now_s > self.ends_at_s:
            raise Gone
        for start in range(0, len(data), CHUNK):
            piece = data[start : start + CHUNK]
            self._free_at = max(self._free_at, now_s) + len(piece) / self.bytes_per_s
            delay = 0.02 if self._random.random() < self.late else 0.0
            self._count += 1
            fault = self.quick_fault if self.bytes_per_s >= self.quick_from else self.fault
            heapq.heappush(
                self._queue,
                (
                    self._free_at + self.latency_s + delay,
                    self._count,
                    self.bytes_per_s,
                    fault(piece),
                ),
            )

    @property
    def next_s(self) -> float:
        """When the next piece arrives."""
        return self._queue[0][0] if self._queue else math.inf

    def take(self, now_s: float, bytes_per_s: float = 0.0) -> bytes:
        """What has arrived. bytes_per_s: of the end that takes it; 0 for the same as the other."""
        out = b""
        while self.next_s <= now_s:
            *_, sent_at, piece = heapq.heappop(self._queue)
            same = bytes_per_s in (0.0, sent_at)
            out += piece if same else self._random.randbytes(len(piece))
        return out


def converse(
    host: HostSession,
    board: BoardSession,
    there: Wire,
    back: Wire,
    *,
    step_s: float = 0.0,
    limit_s: float = 600.0,
    frames_per_s: float = 0.0,
    begin_s: float = 0.0,
) -> float:
    """Carry a conversation to its end in virtual time; the time when it ends. step_s: that each
    step of work takes the board. begin_s: the time when it begins.
    """
    now = work_at = begin_s
    frame_s = 1 / frames_per_s if frames_per_s else math.inf
    play_at = now + frame_s

    def ends() -> list[float]:
        """Bytes a second of host and board, where the line has a speed that can change."""
        return [host.talk.baud / 10, board.baud / 10] if host.talk.baud else [0.0, 0.0]

    def send(wire: Wire, data: bytes, bytes_per_s: float) -> None:
        wire.bytes_per_s = bytes_per_s or wire.bytes_per_s
        wire.put(data, now)

    while True:
        data = host.tick(now)
        send(there, data, ends()[0])
        if host.done:
            return now
        assert now < limit_s, "the conversation does not end"
        now = min(
            host.deadline_s,
            there.next_s,
            back.next_s,
            max(work_at, now) if board.busy else math.inf,
            play_at,
        )
        send(back, board.receive(there.take(now, ends()[1]), now), ends()[1])
        if now >= work_at:
            speed = ends()[1]
            send(back, board.step(now), speed)
            work_at = now + step_s
        if now >= play_at and board.player is not None:
            board.play(board.player.frame + 1)
        play_at = now + frame_s if now >= play_at else play_at
        data = host.receive(back.take(now, ends()[0]), now)
        send(there, data, ends()[0])


class PowerCut(BaseException):
    """The board has no power any more."""


@dataclass
class MemoryFlash:
    """Flash in memory; `budget` bytes can still be written or erased before the power fails, in
    the middle of an operation if need be.
    """

    pages: int = 10
    page_bytes: int = 64
    budget: float = math.inf

    def __post_init__(self) -> None:
        self.data = bytearray([ERASED]) * (self.pages * self.page_bytes)
        self.spent = 0

    def _put(self, offset: int, data: bytes) -> None:
        whole = len(data) <= self.budget
        data = data if whole else data[: int(self.budget)]
        self.data[offset : offset + len(data)] = data
        self.budget -= len(data)
        self.spent += len(data)
        if not whole:
            raise PowerCut

    def erase(self, page: int) -> None:
        assert 0 <= page < self.pages
        self._put(page * self.page_bytes, bytes([ERASED]) * self.page_bytes)

    def write(self, offset: int, data: bytes) -> None:
        if set(self.data[offset : offset + len(data)]) - {ERASED}:
            raise FlashError("not erased")
        assert 0 <= offset <= offset + len(data) <= len(self.data)
        self._put(offset, data)

    def read(self, offset: int, size: int) -> bytes:
        assert 0 <= offset <= offset + size <= len(self.data)
        return bytes(self.data[offset : offset + size])


@dataclass
class Played:
    """What the recorder 'played'."""

    trace: list[tuple[int, int, int, int]]


class Recorder:
    """A player that traces each press it is given, and a beat every tenth frame."""

    def __init__(self, table: bytes) -> None:
        self.table = table
        self.frame = 0

    def accepts(self, press: tuple[int, int, int, int]) -> bool:
        return press[2] < 4

    def play(self, presses: list[tuple[int, int, int, int]], until_frame: int) -> Played:
        beats = [(frame, 9, 0, 0) for frame in range(self.frame, until_frame) if frame % 10 == 0]
        assert all(self.frame <= press[0] < until_frame for press in presses)
        self.frame = until_frame
        return Played(sorted(beats + presses))


def make_table(size: int, seed: int = 1, start: bytes = b"") -> bytes:
    """Bytes that end in their own CRC-32."""
    body = (start + random.Random(seed).randbytes(size))[: size - 4]
    return body + zlib.crc32(body).to_bytes(4, "little")


def check(table: bytes) -> None:
    """A table may be played unless it starts with `bad`."""
    if table.startswith(b"bad"):
        raise ValueError("not a table")


def make_board(flash: MemoryFlash, **ability: object) -> BoardSession:
    """A board with this flash, fresh from power-up."""
    return BoardSession(Ability("test board", **ability), flash, check, Recorder)
