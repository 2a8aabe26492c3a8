"""The emulated ATmega328P of firmware_spec/ports/avr: built, started, stopped, and what it put
out.
"""

import shutil
import subprocess
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1]))  # for tests/speed

from switched_on import SwitchedOn  # noqa: E402

from fxseq.link import Port, hello, host_push
from fxseq.link import messages as m
from fxseq.link.driver import converse
from fxseq.link.host_session import HostSession, Script, Steps, Talk, ask
from fxseq.player import Press
from fxseq.table import Coding, Table, encode

PORT = Path(__file__).parents[2] / "firmware_spec" / "ports" / "avr"
NEEDED = {
    "avr-gcc": "gcc-avr",
    "avr-objcopy": "binutils-avr",
    "/usr/lib/avr/include/avr/io.h": "avr-libc",
    "/usr/include/simavr/sim_avr.h": "libsimavr-dev",
    "/usr/include/libelf.h": "libelf-dev",
    "cc": "gcc",
    "make": "make",
}
FLASH_BYTES = 32768
PAGE_BYTES = 128
SLOT_BYTES = 4096
SLOTS = 0x5E00
MOST_RATE_HZ = 16000
CLOCK_HZ = 16e6
MOST_CHANNELS = 6
MOST_VOICES = 2
MOST_INPUTS = 2
MOST_TRIGGERS = 4
MOST_SAMPLES = 16
TRACE_ROOM = 12
PRESS_ROOM = 4
_RECORD = np.dtype([("kind", "S1"), ("unused", "u1"), ("value", "<u2"), ("cycles", "<u4")])


class Built(NamedTuple):
    """Files of a build."""

    firmware: Path
    program: Path
    bridge: Path


class Run(NamedTuple):
    """What came out between two starts of the player. duties (frames, channels), costs in cycles
    (frames,).
    """

    samples: NDArray[np.int16]
    duties: NDArray[np.uint16]
    costs: NDArray[np.uint32]


def build(folder: Path) -> Built:
    """Compile firmware and bridge; a failure says which Debian packages are missing, or what the
    compiler said.
    """
    missing = [
        package
        for tool, package in NEEDED.items()
        if not (shutil.which(tool) or Path(tool).exists())
    ]
    assert not missing, f"the AVR board cannot be built: apt-get install {' '.join(missing)}"
    done = subprocess.run(
        ["make", "-C", PORT, f"BUILD={folder}", "all", "bridge"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return Built(folder / "fxseq_avr.elf", folder / "fxseq_avr.hex", folder / "fxseq_avr_bridge")


class EmulatedBoard(SwitchedOn):
    """One power-up of the board, with an image of its memories that outlives it."""

    def __init__(self, built: Built, image: Path, *options: str) -> None:
        self._log = image.with_suffix(".log")
        super().__init__([built.bridge, "-l", self._log, *options, built.program, image])

    def figures(self) -> dict[str, int]:
        """Switch it off; what it counted."""
        messages, status = self.end()
        assert status == 0, messages
        return {
            name: int(value) for name, value in (line.split() for line in messages.splitlines())
        }

    def runs(self, channels: int, bits: int) -> list[Run]:
        """After its end: what it put out, from each start of the player to the next."""
        log = np.fromfile(self._log, _RECORD)
        found = []
        for part in np.split(log, np.flatnonzero(log["kind"] == b"P"))[1:]:
            samples, duties, costs = (part[part["kind"] == kind] for kind in (b"S", b"D", b"F"))
            whole = len(duties) // channels * channels
            light = duties["value"][:whole].reshape(-1, channels) >> 16 - bits
            found.append(Run(samples["value"].astype(np.int16), light, costs["cycles"]))
        return found


def fits(table: Table) -> bool:
    """Whether the board can play a table, by the limits in its README."""
    return (
        table.sample_rate_hz <= MOST_RATE_HZ
        and table.channels <= MOST_CHANNELS
        and table.voices <= MOST_VOICES
        and len(table.inputs) <= MOST_INPUTS
        and len(table.triggers) <= MOST_TRIGGERS
        and table.samples_per_frame <= MOST_SAMPLES
        and len(encode(table)) <= SLOT_BYTES
        and all(clip.coding not in (Coding.QOA, Coding.LPC_RICE) for clip in table.clips)
    )


def active_table(port: Port) -> tuple[int, int]:
    """Length and CRC of the table that plays; 0, 0 for none."""
    board = hello(port)
    return ((board.length_0, board.crc_0), (board.length_1, board.crc_1), (0, 0))[board.active]


def push_unseen(port: Port, table: bytes) -> None:
    """Like `push`, but what the host itself would refuse goes to the board too."""
    converse(port, HostSession(host_push.push(table, lambda board: []), port.where))


def play_in_steps(
    port: Port, presses: Sequence[Press], until_frame: int, step: int = 4
) -> list[m.Timed]:
    """Like `prove`, but the clock is held after every `step` frames, so that the board can hold
    what is traced between two polls.
    """
    return converse(
        port,
        HostSession(
            _stepwise(presses, range(step, until_frame + step, step), until_frame), port.where
        ),
    )


def _stepwise(
    presses: Iterable[Press], stops: Iterable[int], until_frame: int
) -> Script[list[m.Timed]]:
    waiting = [tuple(map(int, press)) for press in presses]

    def script(talk: Talk) -> Steps[list[m.Timed]]:
        trace: list[m.Timed] = []
        _, clock = yield from ask(talk, m.Restart(), m.Clock)
        for stop in (min(stop, until_frame) for stop in stops):
            now = tuple(press for press in waiting if clock.until <= press[0] < stop)
            if now:
                yield from ask(talk, m.Presses(clock.next_press, now), m.Clock)
            _, clock = yield from ask(talk, m.Run(stop), m.Clock)
            while clock.frame < stop:
                _, clock = yield from ask(talk, m.ClockQuery(), m.Clock)
            while (events := (yield from ask(talk, m.TraceQuery(len(trace)), m.Events))[1]).events:
                assert events.first == len(trace)
                trace += events.events
            assert clock.late == 0
        yield from ask(talk, m.Restart(), m.Clock)
        return trace

    return script
