"""The port for the Cortex-M3 under QEMU: built, run as a board on a TCP port, and given whole
runs from a file.
"""

import shutil
import socket
import struct
import subprocess
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))  # for tests/speed

from processes import WITH_US  # noqa: E402

from fxseq.player import Press

PORT = Path(__file__).parents[2] / "firmware_spec" / "ports" / "mps2"
PACKAGES = {
    "qemu-system-arm": "qemu-system-arm",
    "arm-none-eabi-gcc": "gcc-arm-none-eabi",
    "make": "make",
}
"""Debian package of each program."""
LONGEST_S = 600.0
NS_PER_TICK = 40
ICOUNT_SHIFT = 10
NS_PER_INSTRUCTION = 2**ICOUNT_SHIFT
"""QEMU's clock goes on by this much with each instruction, so the board's timer counts
instructions.
"""


class Case(NamedTuple):
    """A run: frames 0 to until_frame - 1, presses in order of frames."""

    table: bytes
    presses: Sequence[Press]
    until_frame: int


class Result(NamedTuple):
    """status, offset: of a refusal, as in fxp.h without its sign, and then the rest is empty; 0
    where the table was played.

    samples (frames * samples_per_frame,) int16; duties (frames, channels) uint16; trace rows
    (frame, kind, index, value); ticks (frames,): of the board's timer, in fxp_frame.
    """

    status: int
    offset: int
    samples: NDArray[np.int16]
    duties: NDArray[np.uint16]
    trace: list[tuple[int, int, int, int]]
    saturated: int
    ticks: NDArray[np.uint32]


def build(folder: Path, **variables: str) -> Path:
    """Build both programs into a folder; a failure shows what the compiler said."""
    missing = sorted(
        {package for program, package in PACKAGES.items() if shutil.which(program) is None}
    )
    assert not missing, f"missing for the emulated Cortex-M3: apt install {' '.join(missing)}"
    command = [
        "make",
        "-C",
        str(PORT),
        f"BUILD={folder}",
        *(f"{name}={value}" for name, value in variables.items()),
    ]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return folder


def _machine(program: Path, *arguments: str) -> list[str]:
    host = ",".join(f"arg={argument}" for argument in (program.stem, *arguments))
    return [
        "qemu-system-arm",
        "-M",
        "mps2-an385",
        "-kernel",
        str(program),
        "-display",
        "none",
        "-monitor",
        "none",
        "-semihosting-config",
        f"enable=on,target=native,{host}",
    ]


class Board:
    """A board that is switched on, with its flash memory in the file `flash` of a folder; it
    runs once somebody opens its port.
    """

    def __init__(self, programs: Path, folder: Path) -> None:
        self._log = folder / "log"
        # A socket that listens already: who opens the port at once gets through, however long QEMU
        # takes to start.
        with socket.create_server(("127.0.0.1", 0)) as listener, self._log.open("w") as log:
            self.where = f"socket://127.0.0.1:{listener.getsockname()[1]}"
            line = [
                "-chardev",
                f"socket,id=line,fd={listener.fileno()},server=on,wait=on",
                "-serial",
                "chardev:line",
            ]
            command = [*_machine(programs / "fxp_mps2.elf", "flash"), *line]
            self._process = subprocess.Popen(
                [*WITH_US, *command],
                cwd=folder,
                stdout=log,
                stderr=log,
                pass_fds=[listener.fileno()],
            )

    @property
    def text(self) -> str:
        """What the board reported, without what QEMU says."""
        return "".join(
            line
            for line in self._log.read_text().splitlines(keepends=True)
            if "QEMU waiting" not in line
        )

    def cut_power(self) -> None:
        """SIGKILL: nothing is finished."""
        self._process.kill()
        self._process.wait()


def run_to_end(program: Path, folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a program that ends by itself, in a folder, without a line and with a clock that
    counts instructions.
    """
    command = [
        *_machine(program, *arguments),
        "-serial",
        "none",
        "-icount",
        f"shift={ICOUNT_SHIFT}",
    ]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=LONGEST_S)


def run_all(programs: Path, folder: Path, cases: Iterable[Case]) -> list[Result]:
    """Play whole runs, one after the other in one emulation, with a clock that counts
    instructions.
    """
    cases = list(cases)
    (folder / "cases").write_bytes(b"".join(map(_packed, cases)))
    done = run_to_end(programs / "fxp_mps2_runs.elf", folder, "cases", "results")
    assert (done.returncode, done.stderr) == (0, ""), done
    reader = _Reader((folder / "results").read_bytes())
    results = [reader.result(case.until_frame) for case in cases]
    assert reader.at == len(reader.data)
    return results


def _packed(case: Case) -> bytes:
    events = b"".join(struct.pack("<IBBH", *press) for press in case.presses)
    return (
        struct.pack("<3I", len(case.table), len(case.presses), case.until_frame)
        + case.table
        + events
    )


class _Reader:
    """Results from their bytes."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0

    def result(self, frames: int) -> Result:
        """The next one."""
        status, offset, samples_per_frame, channels, events, saturated = self._take(
            "<u4", 6
        ).tolist()
        if status:
            frames = 0
        trace = list(struct.iter_unpack("<IBBH", self._take("u1", 8 * events).tobytes()))
        samples = self._take("<i2", frames * samples_per_frame)
        duties = self._take("<u2", frames * channels).reshape(frames, channels)
        return Result(status, offset, samples, duties, trace, saturated, self._take("<u4", frames))

    def _take(self, form: str, count: int) -> NDArray[np.generic]:
        taken = np.frombuffer(self.data, form, count, self.at)
        self.at += taken.nbytes
        return taken


def instructions(ticks: NDArray[np.uint32]) -> NDArray[np.int64]:
    """How many instructions so many ticks of the timer are, to one."""
    return np.rint(ticks.astype(np.int64) * NS_PER_TICK / NS_PER_INSTRUCTION).astype(np.int64)
