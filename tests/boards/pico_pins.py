"""A board with the RP2040 that plays the table in its flash memory from power-up, and what its pins
say: light, words and pulses, decoded from edges in time.
"""

import json
import os
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pico_board import HZ, IMAGE, NODE, PACKAGES, ROM, unpacked, with_table

from fxseq.table import JointRecord, Table, Use, encode

LISTENER = Path(__file__).parent / "pico" / "pins.mjs"
UNIT = 23
PLANES = 12
PIN_PERIOD = UNIT * (2**PLANES - 1)
"""Cycles of a light period of pins (firmware_spec/ports/pico/README.md)."""

Level = tuple[float, int, int]
"""Milliseconds, pin, and 1 or 0."""


def rows(table: Table) -> list[tuple[int, int, int, int]]:
    """Joints as the emulator takes them."""
    return [(int(joint.use), joint.what, joint.pin, joint.value) for joint in table.joints]


class Chain(NamedTuple):
    """latched: rows of the cycle and what each output shows from then on. blanks: rows of cycle
    and level. shortest: cycles of parts of the signals.
    """

    latched: list[tuple[int, list[int]]]
    blanks: list[tuple[int, int]]
    shortest: dict[str, int]


class Pins:
    """What came out, by the joint it came out of."""

    def __init__(self, table: Table, heard: list) -> None:
        self._by_joint = dict(zip(table.joints, heard, strict=True))

    def edges(self, joint: JointRecord) -> NDArray[np.int64]:
        """Rows of cycle, pin, level."""
        return np.array(self._by_joint[joint], dtype=np.int64).reshape(-1, 3)

    def chain(self, joint: JointRecord) -> Chain:
        """What its registers or drivers were told."""
        found = self._by_joint[joint]
        return Chain(
            [(at, outputs) for at, outputs in found["shown"]],
            [(at, level) for at, level in found["blanks"]],
            found["shortest"],
        )

    def words(self, joint: JointRecord) -> NDArray[np.int64]:
        """Rows of cycle, channel (0: left), bits, value."""
        return np.array(self._by_joint[joint], dtype=np.int64).reshape(-1, 4)


class Run(NamedTuple):
    """busy: share of each millisecond in which the processor did not sleep. resets: by its watchdog.
    broken: rules of the chip, in words.
    """

    pins: Pins
    busy: NDArray[np.floating]
    resets: int
    broken: list[str]


def run(
    folder: Path,
    table: Table,
    run_ms: int,
    levels: Sequence[Level] = (),
    volts: Sequence[tuple[float, int, float]] = (),
) -> Run:
    """Switch on a board with the image of the package and this table, for so long. levels: what
    pulls pins down and lets go of them; volts: rows of milliseconds, pin and voltage.
    """
    script = {"ms": run_ms, "joints": rows(table), "levels": list(levels), "volts": list(volts)}
    files = [folder / name for name in ("rom", "flash", "script", "result")]
    files[0].write_bytes(ROM)
    files[1].write_bytes(with_table(unpacked(IMAGE.read_bytes()), encode(table)))
    files[2].write_text(json.dumps(script))
    done = subprocess.run(
        [NODE if NODE.exists() else shutil.which("node") or "node", LISTENER, *files],
        capture_output=True,
        text=True,
        env={**os.environ, "NODE_MODULES_OF": f"{PACKAGES}/"},
    )
    assert done.returncode == 0, done.stderr
    result = json.loads(files[3].read_text())
    return Run(Pins(table, result["joints"]), np.array(result["busy"]), result["resets"], result["broken"])


def pin_periods(
    edges: NDArray[np.int64], pins: Sequence[int], until: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Light periods of pins: the cycles at which they begin, and the duties in each, shape
    (periods, pins), in units of time. Every edge must stand where a plane ends.
    """
    ends = UNIT * (2 ** np.arange(PLANES + 1) - 1)
    places = [
        begin
        for begin in edges[0, 0] - ends[:-1]
        if np.isin((edges[:, 0] - begin) % PIN_PERIOD, ends[:-1]).all()
    ]
    assert places, "edges where no plane ends"
    begins = np.arange(places[0], until, PIN_PERIOD)
    high = np.stack([_high_until(edges[edges[:, 1] == pin], begins) for pin in pins], axis=1)
    cycles = np.diff(high, axis=0)
    assert (cycles % UNIT == 0).all()
    return begins[:-1], cycles // UNIT


def _high_until(edges: NDArray[np.int64], times: NDArray[np.int64]) -> NDArray[np.int64]:
    """For how many cycles a pin, low at first, has been high until each time."""
    at = np.concatenate([[0], edges[:, 0]])
    level = np.concatenate([[0], edges[:, 2]])
    high = np.concatenate([[0], np.cumsum(np.diff(at) * level[:-1])])
    last = np.searchsorted(at, times, side="right") - 1
    return high[last] + level[last] * (times - at[last])


def shift_periods(chain: Chain, outputs: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Light periods of shift registers: the cycles at which they begin, with the end of the last
    one, shape (periods + 1,), and the duties in each, shape (periods, outputs), in units of time.
    Each plane must be lit for twice as long as the one before, from its latch on and at one go.
    """
    latched = np.array([cycle for cycle, _ in chain.latched])
    bits = np.array([shown[:outputs] for _, shown in chain.latched])
    dark = np.array([cycle for cycle, level in chain.blanks if level == 1])
    ends = np.append(dark, latched[-1])[np.searchsorted(dark, latched[:-1], side="right")]
    lit = np.minimum(ends, latched[1:]) - latched[:-1]
    again = [cycle for cycle, level in chain.blanks if level == 0]
    assert set(again) <= set(latched), "lit before its bits are there"
    periods = len(lit) // PLANES
    planes = lit[: periods * PLANES].reshape(periods, PLANES)
    assert (planes == UNIT * 2 ** np.arange(PLANES)).all(), "a plane of another time"
    duties = np.einsum(
        "pbo,b->po",
        bits[: periods * PLANES].reshape(periods, PLANES, outputs),
        2 ** np.arange(PLANES),
    )
    return latched[: periods * PLANES + 1 : PLANES], duties


def pulses(edges: NDArray[np.int64], period: int) -> tuple[int, NDArray[np.int64]]:
    """Pulses of one pin whose counter goes up and down: the cycle at which the first one that is
    not empty begins, and the compare value of each. All gaps must have their middle in that of a
    period, or of some.
    """
    first = int(np.argmax(edges[:, 2] == 0))
    falls = edges[first::2, 0]
    rises = edges[first + 1 :: 2, 0]
    falls = falls[: len(rises)]
    assert len(np.unique((falls + rises) % period)) == 1, "pulses to one side"
    single = int(np.argmax(rises - falls < period))
    phase = int(falls[single] + rises[single] - period) // 2
    begin = int(falls[0]) - (int(falls[0]) - phase) % period
    high = _high_until(edges, np.arange(begin, rises[-1], period))
    return begin, np.diff(high) // 2


def of_use(table: Table, use: Use) -> JointRecord:
    """The joint of a table with this use, of which there is one."""
    (joint,) = [joint for joint in table.joints if joint.use is use]
    return joint
