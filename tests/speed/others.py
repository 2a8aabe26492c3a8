"""Our push beside file transfers for serial lines, in real time: ZMODEM (`sz -8`, Debian: lrzsz)
and Kermit (`kermit`, Debian: ckermit), over the same lines (`lines.py`): `python
tests/speed/others.py`.

share = bytes of the table / (bytes that the line carries a second * time from the start of the
program that sends to its end); ours from HELLO to COMMITTED, so with its reading back. The other
two get a file of the same bytes. All must arrive whole, or the run counts as 0. On a machine that
has other things to do, put `chrt -r 10` before it: who comes too late for the line leaves it idle.
"""

import argparse
import contextlib
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "link"))

from lines import KINDS, Ends, Kind, opened  # noqa: E402
from simulated import MemoryFlash, make_board, make_table  # noqa: E402

from fxseq.link.driver import converse  # noqa: E402
from fxseq.link.host_push import push  # noqa: E402
from fxseq.link.host_session import HostSession  # noqa: E402
from fxseq.link.ports import open_port  # noqa: E402
from fxseq.link.virtual_board import PtyLine  # noqa: E402
from fxseq.sequence import LinkError  # noqa: E402

LONGEST_S = 120.0
"""After which a transfer is given up."""
KERMIT = "set carrier-watch off, set flow none, set file type binary, set file display none, fast"


def ours(ends: Ends, data: bytes, folder: Path) -> float:
    """To a board that is a process of its own, as the programs are that receive for the others."""
    board = [sys.executable, __file__, "--board", ends.board, str(folder / "got"), str(len(data))]
    with _running(board, stdout=subprocess.PIPE) as process:
        process.stdout.readline()
        with open_port(ends.host) as port:
            begun = time.monotonic()
            converse(port, HostSession(push(data, lambda board: []), "line"))
            return time.monotonic() - begun


def zmodem(ends: Ends, data: bytes, folder: Path) -> float:
    """`sz -8` to `rz`."""
    with open(ends.board, "r+b", buffering=0) as there, open(ends.host, "r+b", buffering=0) as here:
        with _running(["rz", "-q", "-y"], stdin=there, stdout=there, cwd=folder):
            begun = time.monotonic()
            sz = ["sz", "-q", "-8", "../got"]
            with _running(sz, stdin=here, stdout=here, cwd=folder) as sender:
                sender.wait(LONGEST_S)
            return time.monotonic() - begun


def kermit(ends: Ends, data: bytes, folder: Path) -> float:
    """C-Kermit, both ends."""

    def command(end: str, what: str) -> list[str]:
        return ["kermit", "-Y", "-q", "-l", end, "-C", f"{KERMIT}, {what}, exit"]

    with _running(command(ends.board, "receive"), cwd=folder) as receiver:
        time.sleep(0.3)
        begun = time.monotonic()
        with _running(command(ends.host, "send ../got"), cwd=folder) as sender:
            sender.wait(LONGEST_S)
        seconds = time.monotonic() - begun
        receiver.wait(10)
        return seconds


PROGRAMS: dict[str, Callable[[Ends, bytes, Path], float]] = {
    "fxseq": ours,
    "ZMODEM": zmodem,
    "Kermit": kermit,
}


@contextlib.contextmanager
def _running(command: list[str], **how: object) -> Iterator[subprocess.Popen[bytes]]:
    """A program, for as long as it is wanted; silent but for what is asked for."""
    quiet = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.DEVNULL)
    process = subprocess.Popen(command, **{**quiet, **how})
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def be_board(where: str, got: Path, size: int) -> None:
    """Take tables from a line; the last one that plays is written down."""
    board = make_board(MemoryFlash(2 + 2 * -(-size // 4096), 4096))
    end = os.open(where, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    line = PtyLine(end, where)
    print("ready", flush=True)
    plays = None
    while True:
        data = line.read(0.0 if board.busy else 1.0)
        now_s = time.monotonic()
        line.write(board.receive(data, now_s) + board.step(now_s))
        if board.player is not plays:
            plays = board.player
            got.write_bytes(plays.table)


def share(kind: Kind, program: str, data: bytes, seed: int) -> float:
    """Of one transfer; 0.0 where it was given up or the bytes are others."""
    with tempfile.TemporaryDirectory() as folder, opened(kind, seed) as ends:
        (Path(folder) / "got").write_bytes(data)
        received = Path(folder) / "there"
        received.mkdir()
        try:
            seconds = PROGRAMS[program](ends, data, received)
        except (subprocess.TimeoutExpired, LinkError):
            return 0.0
        with contextlib.suppress(FileNotFoundError):
            if (received / "got").read_bytes() == data:
                return len(data) / (kind.bytes_per_s * seconds)
        return 0.0


def main() -> None:
    """Print the shares: the median of some runs, and how many were whole."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3, help="of each program on each line")
    parser.add_argument("--size", type=int, default=65_536, help="bytes of the table")
    parser.add_argument("--programs", default=",".join(PROGRAMS), help="of these, with commas")
    parser.add_argument("--lines", default="", help="only lines whose name has this")
    parser.add_argument("--board", nargs=3, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.board:
        where, got, size = chosen.board
        be_board(where, Path(got), int(size))
    data = make_table(chosen.size)
    programs = chosen.programs.split(",")
    print(f"{'':32}" + "".join(f"{program:>16}" for program in programs))
    for kind in (kind for kind in KINDS if chosen.lines in kind.name):
        told = f"{kind.name:32}"
        for program in programs:
            shares = [share(kind, program, data, seed) for seed in range(chosen.runs)]
            whole = sum(map(bool, shares))
            told += f"{statistics.median(shares):8.3f} ({whole}/{len(shares)})".rjust(16)
        print(told, flush=True)


if __name__ == "__main__":
    main()
