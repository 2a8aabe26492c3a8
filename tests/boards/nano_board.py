"""The emulated board of firmware_spec/ports/nano, with the image that the package has: started,
stopped, and what is decoded from its pins.
"""

import shutil
import subprocess
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
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
from fxseq.player import Press, TraceEvent, TraceKind
from fxseq.sequence.board_parts import board_parts
from fxseq.table import Coding, JointRecord, Table, Use, encode

PORT = Path(__file__).parents[2] / "firmware_spec" / "ports" / "nano"
IMAGE = Path(__file__).parents[2] / "fxseq" / "firmware" / "nano.hex"
NEEDED = {
    "avr-gcc": "gcc-avr",
    "avr-objcopy": "binutils-avr",
    "/usr/lib/avr/include/avr/io.h": "avr-libc",
    "/usr/include/simavr/sim_avr.h": "libsimavr-dev",
    "/usr/include/libelf.h": "libelf-dev",
    "cc": "gcc",
    "make": "make",
}
_PART = board_parts()["nano"]
MOST = _PART.most
FLASH_BYTES = 32768
PAGE_BYTES = 128
SLOT_BYTES = _PART.keys["flash_for_table_bytes"]
BOOT_SECTION = 0x7E00
SLOTS = BOOT_SECTION - 2 * SLOT_BYTES
HZ = 16_000_000
LIGHT_BITS = 10
LIGHT_PINS = (2, 3, 4, 5, 6, 7, 8, 11, 12, 13)
FIRST_CONTACT = 14
CONTACTS = 6
TRACE_ROOM = 40
PRESS_ROOM = 8
PRESSES_A_MESSAGE = 4
_MIDDLE = 0x8000
_BEHIND_CYCLES = 70
"""The edges of light behind the clock: what its interrupts take until then."""
_RECORD = np.dtype([("kind", "S1"), ("unused", "u1"), ("value", "<u2"), ("cycles", "<u4")])


class Built(NamedTuple):
    """Files of a build. program: as the package has it."""

    hex: Path
    bridge: Path
    program: Path


class Run(NamedTuple):
    """What came out between two starts of the player. begin, end: cycles, the second that of the
    last record. at: of each sample; widths: of its two pulses, the upper part times 256. edges:
    cycle, pin, level. written: cycles at which a page was erased or written.
    """

    begin: int
    end: int
    at: NDArray[np.int64]
    widths: NDArray[np.int64]
    edges: NDArray[np.int64]
    written: NDArray[np.int64]


class Clock(NamedTuple):
    """What the port makes of a sample rate. A light period has `samples`."""

    ticks: int
    tick_cycles: int
    samples: int

    @property
    def sample_cycles(self) -> int:
        return self.ticks * self.tick_cycles

    @property
    def period_cycles(self) -> int:
        """Of the light."""
        return self.sample_cycles * self.samples

    @property
    def widths(self) -> int:
        """Of a pulse of the sound."""
        return self.ticks if self.tick_cycles == 8 else 2 * self.ticks


def clock_of(rate_hz: int) -> Clock:
    """By the README of the port."""
    tick = 8 if rate_hz >= 7844 else 32
    samples = 16 if rate_hz < 6400 else 32 if rate_hz < 12800 else 64
    return Clock((HZ // tick + rate_hz // 2) // rate_hz, tick, samples)


def before(run: Run, cycle: int) -> Run:
    """What came out before then."""
    early = run.at < cycle
    edges = run.edges[run.edges[:, 0] < cycle]
    return run._replace(end=cycle, at=run.at[early], widths=run.widths[early], edges=edges)


def pins_of(table: Table) -> list[int]:
    """The pin of each channel."""
    lights = [joint for joint in table.joints if joint.use == Use.LIGHTS]
    return [joint.pin + step for joint in lights for step in range(joint.value)]


def traced_so_far(port: Port) -> list[TraceEvent]:
    """All that the board holds of the trace, while it plays on."""
    return [
        TraceEvent(frame, TraceKind(kind), index, value)
        for frame, kind, index, value in converse(port, HostSession(_traced, port.where))
    ]


def play_until(port: Port, frame: int) -> None:
    """Wait until the board has come so far."""
    while converse(port, HostSession(_clock, port.where)).frame < frame:
        pass


def _clock(talk: Talk) -> Steps[m.Clock]:
    return (yield from ask(talk, m.ClockQuery(), m.Clock))[1]


def _traced(talk: Talk) -> Steps[list[m.Timed]]:
    trace: list[m.Timed] = []
    while (events := (yield from ask(talk, m.TraceQuery(len(trace)), m.Events))[1]).events:
        assert events.first == len(trace)
        trace += events.events
    return trace


def widths_of(samples: NDArray[np.integer], clock: Clock) -> NDArray[np.int64]:
    """Of the two pulses of each sample."""
    levels = samples.astype(np.int64) + _MIDDLE
    upper = (levels >> 8) * clock.widths + ((levels & 255) * clock.widths >> 8)
    return (upper >> 8) << 8 | (upper & 255) * clock.widths >> 8


class Light(NamedTuple):
    """Light periods: the cycle at which each begins, and for how many units each pin was high."""

    at: NDArray[np.int64]
    units: NDArray[np.floating]


def light_of(run: Run, clock: Clock, pins: Sequence[int]) -> Light:
    """Measured from the edges; only whole periods."""
    unit = clock.period_cycles / 2**LIGHT_BITS
    first = run.begin + clock.sample_cycles - unit + _BEHIND_CYCLES
    count = max(int((run.end - first) // clock.period_cycles), 0)
    borders = first + np.arange(count + 1) * clock.period_cycles
    units = np.empty((count, len(pins)))
    for place, pin in enumerate(pins):
        edges = run.edges[run.edges[:, 1] == pin]
        high = np.concatenate([[0], np.cumsum(np.diff(edges[:, 0]) * edges[:-1, 2])])
        at = np.searchsorted(edges[:, 0], borders, "right") - 1
        known = np.where(at < 0, 0, at)
        since = (borders - edges[known, 0]) * edges[known, 2] if len(edges) else 0 * borders
        total = (high[known] if len(edges) else 0) + since
        units[:, place] = np.diff(np.where(at < 0, 0, total)) / unit
    return Light(borders[:-1].astype(np.int64), units)


def steps_of(light: Light) -> NDArray[np.floating]:
    """Of 2^10 - 1: the highest bit has a unit more than its share."""
    return light.units - (light.units > 2 ** (LIGHT_BITS - 1) - 0.5)


def build(folder: Path, port: Path = PORT) -> Built:
    """Compile firmware and bridge; a failure says which Debian packages are missing, or what the
    compiler said.
    """
    missing = [
        package
        for tool, package in NEEDED.items()
        if not (shutil.which(tool) or Path(tool).exists())
    ]
    assert not missing, f"the board cannot be built: apt-get install {' '.join(missing)}"
    done = subprocess.run(
        ["make", "-C", port, f"BUILD={folder}", "all", "bridge"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return Built(folder / "nano.hex", folder / "nano_bridge", IMAGE)


def _counted(messages: str, status: int) -> dict[str, int]:
    assert status == 0, messages
    return {name: int(value) for name, value in (line.split() for line in messages.splitlines())}


class EmulatedBoard(SwitchedOn):
    """One power-up of the board, with an image of its memories that outlives it."""

    def __init__(self, built: Built, image: Path, *options: str) -> None:
        self._log = image.with_suffix(".log")
        super().__init__([built.bridge, "-l", self._log, *options, built.program, image])

    def figures(self) -> dict[str, int]:
        """Switch it off; what it counted."""
        return _counted(*self.end())

    def wait(self) -> dict[str, int]:
        """For its end, where an option says when that is; what it counted."""
        return _counted(self._process.communicate()[1], self._process.returncode)

    def runs(self) -> list[Run]:
        """After its end: what it put out, from each start of the player to the next."""
        log = np.fromfile(self._log, _RECORD)
        cycles = log["cycles"].astype(np.int64)
        cycles += np.cumsum(np.diff(cycles, prepend=0) < 0) << 32
        kinds = log["kind"]
        found = []
        begins = [*np.flatnonzero(kinds == b"P"), len(log)]
        for first, behind in pairwise(begins):
            part = np.arange(first, behind)
            samples, edges, written = (part[kinds[part] == kind] for kind in (b"S", b"E", b"W"))
            values = log["value"].astype(np.int64)
            found.append(
                Run(
                    int(cycles[first]),
                    int(cycles[behind - 1]),
                    cycles[samples],
                    values[samples],
                    np.stack([cycles[edges], values[edges] >> 8, values[edges] & 255], axis=1),
                    cycles[written],
                )
            )
        return found


def joined(table: Table) -> Table:
    """With light, sound and contacts as far as the board has pins, and no more bits than it
    has.
    """
    contacts = min(len(table.inputs), CONTACTS)
    return replace(
        table,
        pwm_bits=min(table.pwm_bits, LIGHT_BITS),
        joints=(
            JointRecord(Use.LIGHTS, 0, 2, min(table.channels, 7)),
            *[JointRecord(Use.LIGHTS, 7, 11, 1)][: max(table.channels - 7, 0)],
            JointRecord(Use.PWM, 0, 9),
            *(JointRecord(Use.CONTACT, n, FIRST_CONTACT + n) for n in range(contacts)),
        ),
    )


def fits(table: Table) -> bool:
    """Whether the board can play a table, by the limits of the part, once it is joined."""
    return (
        table.sample_rate_hz <= MOST["sample_rate_hz"]
        and table.channels <= MOST["channels"]
        and table.voices <= MOST["voices"]
        and len(table.inputs) <= MOST["inputs"]
        and len(table.selectors) <= MOST["selectors"]
        and len(table.counters) <= MOST["counters"]
        and len(table.triggers) <= MOST["triggers"]
        and table.samples_per_frame <= MOST["samples_per_frame"]
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
