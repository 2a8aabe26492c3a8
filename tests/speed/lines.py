"""A serial line in real time between two pseudo-terminals: its speed, its delays, what an adaptor
holds back, and its faults. Whatever opens the two ends takes them for serial ports.
"""

import contextlib
import math
import multiprocessing
import os
import random
import select
import time
import tty
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from simulated import BitErrors, Clean

AHEAD_S = 0.02
"""What a serial port takes from its program before it is on the line."""
PIECE_BYTES = 32
LOST_BYTES = 20


class Losses:
    """Of every second, LOST_BYTES in a row are lost."""

    def __init__(self, bytes_per_s: int, seed: int) -> None:
        self._every = bytes_per_s
        self._at = random.Random(seed).randrange(bytes_per_s)

    def __call__(self, data: bytes) -> bytes:
        places = range(self._at, self._at + len(data))
        self._at += len(data)
        return bytes(
            byte
            for place, byte in zip(places, data, strict=True)
            if place % self._every >= LOST_BYTES
        )


@dataclass(frozen=True)
class Kind:
    """A line. hold_s: an adaptor on the host's side gives what came from the board only so often.
    bit_errors: of each bit, in both directions.
    """

    name: str
    baud: int = 115_200
    latency_s: float = 0.001
    hold_s: float = 0.0
    bit_errors: float = 0.0
    loses: bool = False

    @property
    def bytes_per_s(self) -> int:
        """That it carries: ten bits a byte."""
        return self.baud // 10

    def fault(self, seed: int) -> Callable[[bytes], bytes]:
        """What it does to bytes in one direction."""
        if self.loses:
            return Losses(self.bytes_per_s, seed)
        return BitErrors(self.bit_errors, seed) if self.bit_errors else Clean()


KINDS = [
    Kind("clean, 1 ms"),
    Kind("clean, 16 ms", latency_s=0.016),
    Kind("adaptor that holds for 16 ms", hold_s=0.016),
    Kind("bit errors 1e-5", bit_errors=1e-5),
    Kind("bit errors 1e-4", bit_errors=1e-4),
    Kind("20 bytes lost a second", loses=True),
    Kind("clean, 1 Mbit/s", baud=1_000_000),
]


class Way:
    """One direction."""

    def __init__(self, source: int, sink: int, kind: Kind, hold_s: float, seed: int) -> None:
        self.source = source
        self._sink = sink
        self._kind = kind
        self._hold_s = hold_s
        self._fault = kind.fault(seed)
        self._free_s = 0.0
        self._under_way: deque[tuple[float, bytes]] = deque()
        self._rest = b""

    def takes(self, now_s: float) -> bool:
        """Whether the port's own memory has room."""
        return self._free_s < now_s + AHEAD_S

    def take(self, now_s: float) -> None:
        """Bytes from the program at its begin."""
        with contextlib.suppress(BlockingIOError):
            data = os.read(self.source, PIECE_BYTES)
            self._free_s = max(self._free_s, now_s) + len(data) / self._kind.bytes_per_s
            at = self._free_s + self._kind.latency_s
            if self._hold_s:
                at = math.ceil(at / self._hold_s) * self._hold_s
            self._under_way.append((at, self._fault(data)))

    def give(self, now_s: float) -> None:
        """What has arrived."""
        while self._under_way and self._under_way[0][0] <= now_s:
            self._rest += self._under_way.popleft()[1]
        if self._rest:
            with contextlib.suppress(BlockingIOError):
                self._rest = self._rest[os.write(self._sink, self._rest) :]


class Ends(NamedTuple):
    """Names of the two ends."""

    host: str
    board: str


@contextlib.contextmanager
def opened(kind: Kind, seed: int = 0) -> Iterator[Ends]:
    """Such a line, for as long as it is wanted."""
    pairs = [os.openpty() for _ in range(2)]
    (host, _), (board, _) = pairs
    for master, slave in pairs:
        tty.setraw(slave)
        os.set_blocking(master, False)
    there = Way(host, board, kind, 0.0, 2 * seed)
    back = Way(board, host, kind, kind.hold_s, 2 * seed + 1)
    # In a process of its own, or it would wait for what the program at an end works out.
    carrier = multiprocessing.get_context("fork").Process(target=_carry, args=([there, back],))
    carrier.start()
    try:
        yield Ends(*(os.ttyname(slave) for _, slave in pairs))
    finally:
        carrier.terminate()
        carrier.join()
        for end in (end for pair in pairs for end in pair):
            os.close(end)


def _carry(ways: list[Way]) -> None:
    while True:
        now_s = time.monotonic()
        for way in ways:
            way.give(now_s)
        wanting = [way.source for way in ways if way.takes(now_s)]
        ready = select.select(wanting, [], [], 0.0005)[0] if wanting else []
        if not wanting:
            time.sleep(0.0005)
        for way in ways:
            if way.source in ready:
                way.take(time.monotonic())
