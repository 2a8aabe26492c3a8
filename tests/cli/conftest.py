"""The command line called in this process or as a process of its own, a small prop to call it
on, and boards to push to.
"""

import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import pytest
from processes import WITH_US

from fxseq.cli.group import run
from fxseq.link import virtual_board
from fxseq.link.board_session import Ability

FXSEQ = [str(Path(sys.executable).with_name("fxseq"))]
LONGEST_S = 120
"""How long a command may take: a limit costs nothing where the test passes, and machines that
run tests may be slow.
"""
DEMO = Path(__file__).parents[2] / "demo_assets"


class Said(NamedTuple):
    """How a command ended, and what it put on stdout and stderr."""

    status: int
    out: str
    err: str


Fxseq = Callable[..., Said]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def fxseq(here: Path, capfd: pytest.CaptureFixture[str]) -> Fxseq:
    """Call the command line in this process."""

    def call(*arguments: str) -> Said:
        capfd.readouterr()
        status = run(list(arguments))
        return Said(status, *capfd.readouterr())

    return call


@pytest.fixture
def process(here: Path) -> Fxseq:
    """Call the command line as a process of its own."""

    def call(*arguments: str | bytes, stdout: int = subprocess.PIPE, **environment: str) -> Said:
        # As a maker's shell has it: with output kept in a buffer, which some machines that run
        # tests switch off.
        inherited = {
            name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"
        }
        done = subprocess.run(
            FXSEQ + list(arguments),
            stdout=stdout,
            stderr=subprocess.PIPE,
            env={**inherited, **environment},
            timeout=LONGEST_S,
        )
        return Said(done.returncode, (done.stdout or b"").decode(), done.stderr.decode())

    return call


@pytest.fixture
def lamp(here: Path) -> Path:
    """The demo's smallest prop, in the folder we work in."""
    shutil.copy(DEMO / "first_light.toml", here / "lamp.toml")
    (here / "clips").mkdir(exist_ok=True)
    shutil.copy(DEMO / "clips" / "crack_a.wav", here / "clips")
    return Path("lamp.toml")


@pytest.fixture
def starter(fxseq: Fxseq) -> Path:
    """The file that `fxseq new` writes: it has a repeating trigger, and amplifier, speaker and
    supply are described.
    """
    assert fxseq("new", "starter.toml").status == 0
    return Path("starter.toml")


@contextmanager
def running(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    """A command that goes on until it is stopped with Ctrl-C, which it must obey with status 0;
    `remarks`: what it said on stderr.
    """
    # Where pytest runs in the background of a shell, the signal is ignored, and a child would
    # inherit that.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        board = subprocess.Popen(
            [*WITH_US, *FXSEQ, *arguments],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    # Whoever waits for a line that never comes gets the end of the stream instead.
    too_long = threading.Timer(LONGEST_S, board.kill)
    too_long.start()
    try:
        yield board
        board.send_signal(signal.SIGINT)
        assert board.wait(LONGEST_S) == 0
        board.remarks = board.stderr.read()
    finally:
        too_long.cancel()
        board.kill()
        board.wait()
        board.stdout.close()
        board.stderr.close()


@contextmanager
def board_in_thread(folder: Path, ability: Ability | None = None) -> Iterator[str]:
    """A virtual board in a thread of this process; where it is reached."""
    stop = threading.Event()
    with virtual_board.open_tcp() as line:
        serving = threading.Thread(
            target=virtual_board.serve,
            args=(line, folder / "board.flash", ability),
            kwargs={"going": lambda: not stop.is_set()},
        )
        serving.start()
        try:
            yield line.where
        finally:
            stop.set()
            serving.join()


@pytest.fixture
def board() -> Callable[..., object]:
    """`with board(folder, ability) as where:`"""
    return board_in_thread


@pytest.fixture
def go_on() -> Callable[..., object]:
    """`with go_on("board", "--tcp", "0") as process:`"""
    return running
