"""The player in C, built from firmware_spec and fed many cases in one process
(firmware_spec/ports/host/README.md, batch).
"""

import os
import struct
import subprocess
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq.player import Press

FIRMWARE = Path(__file__).parents[2] / "firmware_spec"
HOST = FIRMWARE / "ports" / "host"
SANITIZED = "-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all"
REASONS = (
    "OK", "BAD_MAGIC", "BAD_VERSION", "BAD_LENGTH", "BAD_CRC", "BAD_VALUE", "TOO_MANY", "NO_SUCH",
)  # fmt: skip


class Refused(NamedTuple):
    """Why a table was not played."""

    reason: str
    offset: int


class Run(NamedTuple):
    """What a run gave. samples (frames * samples_per_frame,) int16; duties (frames, channels)
    uint16; trace rows (frame, kind, index, value).
    """

    samples: NDArray[np.int16]
    duties: NDArray[np.uint16]
    trace: list[tuple[int, int, int, int]]
    saturated: int


def make(folder: Path, target: str, **variables: str) -> Path:
    """Build one target of the host's Makefile into a folder; a failure shows what the compiler
    said.
    """
    command = [
        "make",
        "-C",
        str(HOST),
        f"BUILD={folder}",
        *(f"{name}={value}" for name, value in variables.items()),
        str(folder / target),
    ]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return folder / target


class Batch:
    """A process that takes cases and gives results as `fxp_host --batch` does."""

    def __init__(self, command: Path, *arguments: str | Path) -> None:
        """Without arguments, `command` is fxp_host."""
        environment = {**os.environ, "ASAN_OPTIONS": "abort_on_error=1"}
        self._process = subprocess.Popen(
            [command, *(arguments or ["--batch"])], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment
        )

    def close(self) -> None:
        """End it; a leak or a fault found by a sanitizer shows in its exit status."""
        self._process.stdin.close()
        self._process.stdout.close()
        assert self._process.wait() == 0

    def play(self, table: bytes, presses: Sequence[Press], until_frame: int) -> Run | Refused:
        """Play frames 0 to until_frame - 1; presses in order of frames."""
        events = b"".join(struct.pack("<IBBH", *press) for press in presses)
        self._process.stdin.write(
            struct.pack("<3I", len(table), len(presses), until_frame) + table + events
        )
        self._process.stdin.flush()
        status, offset, samples_per_frame, channels, traced, saturated = struct.unpack(
            "<6I", self._take(24)
        )
        if status:
            return Refused(REASONS[status], offset)
        trace = list(struct.iter_unpack("<IBBH", self._take(8 * traced)))
        samples = np.frombuffer(self._take(2 * until_frame * samples_per_frame), "<i2")
        duties = np.frombuffer(self._take(2 * until_frame * channels), "<u2").reshape(
            until_frame, channels
        )
        return Run(samples, duties, trace, saturated)

    def _take(self, size: int) -> bytes:
        data = self._process.stdout.read(size)
        assert len(data) == size, "the C player ended in mid-case; see its message above"
        return data


def in_order(presses: Iterable[Press]) -> list[Press]:
    """Presses in order of frames, those of one frame as they came."""
    return sorted(presses, key=lambda press: press.frame)
