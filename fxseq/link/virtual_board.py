"""A virtual board: the reference player behind the link, on a pseudo-terminal or a TCP port of
this machine, its slots in a file.
"""

import argparse
import contextlib
import os
import select
import socket
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Protocol

from fxseq.link import faults
from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.counts import COUNT_PAGES, Counts
from fxseq.link.fit import unfit
from fxseq.link.flash_file import FlashFile
from fxseq.link.messages import Feature, Timed
from fxseq.link.slots import MARK_PAGES, Flash, FlashError
from fxseq.player import Played, Player, Press, PressKind
from fxseq.table import Table, decode

PAGE_BYTES = 4096
SLOT_BYTES = 262_144
TICK_S = 0.02
SLOW_TICK_S = 0.002
LONGEST_LAG_S = 0.25
"""A board that did not get to run for longer than this goes on from there instead of catching
up.
"""


_FEATURES = Feature.RUNS | Feature.READING | Feature.COPYING | Feature.COUNTING | Feature.HALVING


class Line(Protocol):
    """One end of a byte stream: where others reach it, and bytes in and out without blocking."""

    where: str

    def read(self, timeout_s: float) -> bytes:
        """What has come, none after the timeout."""

    def write(self, data: bytes) -> None:
        """Send; what nobody takes is lost, as on a wire."""


class TcpLine:
    """A TCP port of 127.0.0.1 that serves one client after the other."""

    def __init__(self, listener: socket.socket) -> None:
        self.where = f"socket://127.0.0.1:{listener.getsockname()[1]}"
        self._listener = listener
        self._client: socket.socket | None = None

    def read(self, timeout_s: float) -> bytes:
        """What the client sent; lets the next one in when it is gone."""
        source = self._client or self._listener
        if not select.select([source], [], [], timeout_s)[0]:
            return b""
        if self._client is None:
            self._client = self._listener.accept()[0]
            self._client.setblocking(False)
            self._client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            return b""
        try:
            data = self._client.recv(4096)
        except OSError:
            data = b""
        if not data:
            self.close()
        return data

    def write(self, data: bytes) -> None:
        """Send to the client, if there is one."""
        if self._client is not None:
            with contextlib.suppress(OSError):
                self._client.send(data)

    def close(self) -> None:
        """Let the client go."""
        if self._client is not None:
            self._client.close()
            self._client = None


class PtyLine:
    """A pseudo-terminal; what opens its other end takes it for a serial port."""

    def __init__(self, master: int, where: str) -> None:
        self.where = where
        self._master = master

    def read(self, timeout_s: float) -> bytes:
        """What was written to the other end."""
        if not select.select([self._master], [], [], timeout_s)[0]:
            return b""
        return os.read(self._master, 4096)

    def write(self, data: bytes) -> None:
        """Send; a full buffer means that nobody reads."""
        with contextlib.suppress(BlockingIOError):
            os.write(self._master, data)


class Trickle:
    """Bytes on a line that carries so many a second."""

    def __init__(self, bytes_per_s: float) -> None:
        self._bytes_per_s = bytes_per_s
        self._waiting = b""
        self._free_s = 0.0

    def put(self, data: bytes, now_s: float) -> None:
        """Send."""
        if not self._waiting:
            self._free_s = max(self._free_s, now_s)
        self._waiting += data

    def take(self, now_s: float) -> bytes:
        """What has arrived since the last time."""
        count = min(len(self._waiting), max(int((now_s - self._free_s) * self._bytes_per_s), 0))
        taken = self._waiting[:count]
        self._waiting = self._waiting[count:]
        self._free_s += count / self._bytes_per_s
        return taken


class SlowLine:
    """Another line at the speed of a serial one of so many baud: ten bits a byte."""

    def __init__(self, line: Line, baud: int) -> None:
        self.where = line.where
        self._line = line
        self._in = Trickle(baud / 10)
        self._out = Trickle(baud / 10)

    def read(self, timeout_s: float) -> bytes:
        """What has come, none after a moment."""
        data = self._line.read(min(timeout_s, SLOW_TICK_S))
        now_s = time.monotonic()
        self._in.put(data, now_s)
        return self._in.take(now_s)

    def write(self, data: bytes) -> None:
        """Send; to be called all the time, with nothing too."""
        now_s = time.monotonic()
        self._out.put(data, now_s)
        self._line.write(self._out.take(now_s))


@contextlib.contextmanager
def open_tcp(port: int = 0) -> Iterator[TcpLine]:
    """A line on this TCP port of 127.0.0.1; 0 for any that is free. Raises LinkError."""
    with socket.socket() as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind(("127.0.0.1", port))
        except OSError:
            raise faults.tcp_port_taken(port) from None
        listener.listen(1)
        line = TcpLine(listener)
        try:
            yield line
        finally:
            line.close()


@contextlib.contextmanager
def open_pty() -> Iterator[PtyLine]:
    """A line on a new pseudo-terminal. Raises LinkError on systems without."""
    try:
        import pty
        import tty
    except ImportError:
        raise faults.no_pty() from None
    # The far end stays open here too: a terminal that nobody has open would fail every read.
    master, slave = pty.openpty()
    try:
        tty.setraw(slave)
        os.set_blocking(master, False)
        yield PtyLine(master, os.ttyname(slave))
    finally:
        os.close(slave)
        os.close(master)


class TablePlayer:
    """The reference player, fed with presses as the link carries them."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self._player = Player(table)

    @property
    def frame(self) -> int:
        """Next frame to play."""
        return self._player.frame

    def accepts(self, press: Timed) -> bool:
        """Whether the table has the input or position, or the volume is within its range."""
        _, kind, index, value = press
        if kind in (PressKind.PRESS, PressKind.RELEASE):
            return index < len(self.table.inputs)
        if kind == PressKind.SELECT:
            return (
                index < len(self.table.selectors) and value < self.table.selectors[index].positions
            )
        return kind == PressKind.VOLUME and value <= 256

    def play(self, presses: Sequence[Timed], until_frame: int) -> Played:
        """Play up to, and without, `until_frame`."""
        return self._player.play(
            [Press(frame, PressKind(kind), index, value) for frame, kind, index, value in presses],
            until_frame,
        )


def make_session(flash: Flash, ability: Ability, counts: Flash | None = None) -> BoardSession:
    """A board session that plays with the reference player. counts: flash for them, of a board
    that counts.
    """

    def check(data: bytes) -> None:
        lacking = unfit(decode(data), ability, ability.name)
        if lacking:
            raise ValueError(str(lacking[0]))

    return BoardSession(
        ability,
        flash,
        check,
        lambda data: TablePlayer(decode(data)),
        Counts(counts) if counts is not None else None,
        lambda data: decode(data).asks_for_counts,
    )


class RealTime:
    """Lets a board's clock run with the clock on the wall."""

    def __init__(self, session: BoardSession, now_s: float) -> None:
        self._session = session
        self._now_s = now_s
        self._frames_due = 0.0

    def play(self, now_s: float) -> Played | None:
        """Play the frames that are due."""
        lag = min(now_s - self._now_s, LONGEST_LAG_S)
        self._now_s = now_s
        player = self._session.player
        if player is None or self._session.held:
            self._frames_due = 0.0
            return None
        self._frames_due += lag * player.table.frame_rate_hz
        whole = int(self._frames_due)
        self._frames_due -= whole
        return self._session.play(player.frame + whole)


def serve(
    line: Line,
    flash_path: Path,
    ability: Ability | None = None,
    *,
    slot_bytes: int = SLOT_BYTES,
    on_table: Callable[[Table | None], None] | None = None,
    on_played: Callable[[Played], None] | None = None,
    going: Callable[[], bool] = lambda: True,
) -> None:
    """Be a board on this line, as long as `going` says so.

    flash_path: file with the slots; made where it does not exist, and one for counts beside it.
    on_table: called at power-up and whenever the player starts anew. on_played: called with every
    stretch that was played. Raises LinkError where a file cannot be used.
    """
    own_id = zlib.crc32(str(flash_path.resolve()).encode())
    ability = ability or Ability("virtual board", board_id=own_id, features=_FEATURES)
    pages = MARK_PAGES + 2 * -(-slot_bytes // PAGE_BYTES)
    try:
        with ExitStack() as files:
            flash = files.enter_context(FlashFile(flash_path, pages, PAGE_BYTES))
            counts = None
            if ability.features & Feature.COUNTING:
                beside = flash_path.with_name(f"{flash_path.name}.counts")
                counts = files.enter_context(FlashFile(beside, COUNT_PAGES, PAGE_BYTES))
            _loop(line, make_session(flash, ability, counts), on_table, on_played, going)
    except FlashError as error:
        raise faults.flash_unusable(str(flash_path), str(error)) from None
    except OSError as error:
        raise faults.flash_unusable(
            str(flash_path), (error.strerror or str(error)).lower()
        ) from None


def _loop(
    line: Line,
    session: BoardSession,
    on_table: Callable[[Table | None], None] | None,
    on_played: Callable[[Played], None] | None,
    going: Callable[[], bool],
) -> None:
    clock = RealTime(session, time.monotonic())
    shown: object = clock
    while going():
        if on_table is not None and session.player is not shown:
            shown = session.player
            on_table(session.player.table if session.player is not None else None)
        data = line.read(0.0 if session.busy else TICK_S)
        now_s = time.monotonic()
        line.write(session.receive(data, now_s) if data else b"")
        line.write(session.step(now_s))
        played = clock.play(now_s)
        if played is not None and on_played is not None:
            on_played(played)


def main(arguments: Sequence[str] | None = None) -> None:
    """A virtual board as a process of its own; prints where it is reached."""
    parser = argparse.ArgumentParser(prog="python -m fxseq.link.virtual_board", description=__doc__)
    parser.add_argument(
        "--flash",
        type=Path,
        required=True,
        help="file with the slots; made where it does not exist",
    )
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument(
        "--tcp", type=int, metavar="PORT", help="TCP port of 127.0.0.1; 0 for any that is free"
    )
    where.add_argument("--pty", action="store_true", help="pseudo-terminal")
    chosen = parser.parse_args(arguments)
    with open_pty() if chosen.pty else open_tcp(chosen.tcp) as line:
        print(line.where, flush=True)
        serve(line, chosen.flash)


if __name__ == "__main__":
    main()
