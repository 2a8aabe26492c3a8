"""A board process killed in the middle of a push: started again, it plays the old table or the new
one.

Each kill comes behind a byte of the push drawn from a seeded generator, one in three of them near
the end, where the mark is written. More of them: FXSEQ_KILLS=500 pytest tests/faults.
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from processes import WITH_US
from small_tables import demo_table

from fxseq.link import Port, hello, open_port, prove, push
from fxseq.link.messages import table_crc
from fxseq.sequence import LinkError

KILLS = int(os.environ.get("FXSEQ_KILLS", "8"))


class Board:
    """A virtual board as a process of its own."""

    def __init__(self, flash: Path, line: str) -> None:
        command = [sys.executable, "-m", "fxseq.link.virtual_board", "--flash", str(flash), line]
        self._process = subprocess.Popen([*WITH_US, *command], stdout=subprocess.PIPE, text=True)
        self.where = self._process.stdout.readline().strip()

    def kill(self) -> None:
        """SIGKILL: no chance to finish anything."""
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        self._process.stdout.close()


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[[str], Board]]:
    """Starts boards with the same flash; none is left behind."""
    boards = []

    def start(line: str) -> Board:
        boards.append(Board(tmp_path / "flash", line))
        return boards[-1]

    yield start
    for board in boards:
        board.kill()


class KillingPort:
    """A port that kills the board once `left` bytes have gone to it, after a moment in which it
    may get to work on them.
    """

    def __init__(self, port: Port, board: Board, left: int, moment_s: float) -> None:
        self.where = port.where
        self.read = port.read
        self.baud = 0
        self._port = port
        self._board = board
        self._left = left
        self._moment_s = moment_s

    def write(self, data: bytes) -> None:
        """Pass on what is left of the bytes."""
        passing = data[: self._left]
        self._left = self._left - len(data)
        self._port.write(passing)
        if passing and self._left <= 0:
            time.sleep(self._moment_s)
            self._board.kill()


def checksum(table: bytes) -> tuple[int, int]:
    return len(table), table_crc(table)


def playing(board: Board) -> tuple[int, int]:
    """Length and CRC-32 of the table that plays, once some frames of it have been played."""
    with open_port(board.where) as port:
        found = hello(port)
        assert found.has_table
        prove(port, [], 20)
    return ((found.length_0, found.crc_0), (found.length_1, found.crc_1))[found.active]


@pytest.mark.parametrize(
    ("line", "kills"), [("--pty", KILLS - KILLS // 3), ("--tcp=0", KILLS // 3)]
)
def test_killed_board_plays_the_old_table_or_the_new_one(
    start: Callable[[str], Board], line: str, kills: int
) -> None:
    dice = random.Random(line)
    old = demo_table(8000, 1)
    board = start(line)
    with open_port(board.where) as port:
        total = push(port, old).sent_bytes
    outcomes = []
    for kill in range(kills):
        new = demo_table(8000, kill + 2)
        place = total - dice.randrange(60) if kill % 3 == 0 else dice.randrange(1, total)
        with open_port(board.where) as port:
            try:
                push(KillingPort(port, board, place, dice.choice([0.0, 0.001, 0.03])), new)
            except LinkError as error:
                assert "The board" in str(error) or place < 10
            board.kill()
        board = start(line)
        found = playing(board)
        assert found in (checksum(old), checksum(new)), f"kill {kill} at byte {place}"
        outcomes.append(found == checksum(new))
        old = new if outcomes[-1] else old
    assert False in outcomes
