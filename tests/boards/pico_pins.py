"""A board with the RP2040 that plays the table in its flash memory from power-up, and what its pins
say: light, words and pulses, decoded from edges in time.
"""

import json
import os
import struct
import subprocess
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq.table import JointRecord, Table, Use, encode

FOLDER = Path(__file__).parent / "pico"
HZ = 125_000_000
FLASH = 0x10000000
FLASH_BYTES = 2 * 1024 * 1024
MARKS_AT = 128 * 1024
SLOT_AT = MARKS_AT + 2 * 4096
PIN_UNIT = 28
PIN_PLANES = 12
PIN_PERIOD = PIN_UNIT * (2**PIN_PLANES - 1)
"""Cycles of a light period of pins (firmware_spec/ports/pico/README.md)."""
CYCLES_A_BIT = 10
LATCH_CYCLES = 12

Level = tuple[float, int, int]
"""Milliseconds, pin, and 1 or 0."""


class Chip(NamedTuple):
    """Files that an emulated board is made of. node_modules: the folder that has it."""

    rom: Path
    uf2: Path
    node_modules: Path


class Chain(NamedTuple):
    """latched: rows of the cycle and what each output shows from then on. blanks: rows of cycle
    and level. shortest: cycles of parts of the signals.
    """

    latched: list[tuple[int, list[int]]]
    blanks: list[tuple[int, int]]
    shortest: dict[str, int]


class Pins:
    """What came out, by the joint it came out of. busy: share of each millisecond in which the
    processor did not sleep.
    """

    def __init__(self, table: Table, result: dict) -> None:
        self.busy = np.array(result["busy"])
        self.resets: int = result["resets"]
        self.broken: list[str] = result["broken"]
        self._by_joint = dict(zip(table.joints, result["joints"], strict=True))

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


def flash_memory(uf2: bytes, table: bytes) -> bytes:
    """Flash memory with the firmware and a table that is marked, in slot 0 (LINK 5)."""
    memory = bytearray(b"\xff" * FLASH_BYTES)
    for block in range(0, len(uf2), 512):
        (address,) = struct.unpack_from("<I", uf2, block + 12)
        at = address - FLASH
        memory[at : at + 256] = uf2[block + 32 : block + 288]
    mark = struct.pack("<2I", 2, len(table)) + table[-4:]
    mark += struct.pack("<I", zlib.crc32(mark))
    memory[MARKS_AT : MARKS_AT + len(mark)] = mark
    memory[SLOT_AT : SLOT_AT + len(table)] = table
    return bytes(memory)


def run(
    folder: Path,
    chip: Chip,
    table: Table,
    run_ms: int,
    levels: Sequence[Level] = (),
    volts: Sequence[tuple[float, int, float]] = (),
) -> Pins:
    """Switch a board on for so long. levels: what pulls pins down and lets go of them; volts: rows
    of milliseconds, pin and voltage.
    """
    (folder / "flash").write_bytes(flash_memory(chip.uf2.read_bytes(), encode(table)))
    joints = [(int(joint.use), joint.what, joint.pin, joint.value) for joint in table.joints]
    environment = {**os.environ, "NODE_MODULES_OF": f"{chip.node_modules}/"}
    script = {"ms": run_ms, "joints": joints, "levels": list(levels), "volts": list(volts)}
    (folder / "script").write_text(json.dumps(script))
    command = [
        "node",
        str(FOLDER / "pins.mjs"),
        str(chip.rom),
        *(str(folder / name) for name in ("flash", "script", "result")),
    ]
    done = subprocess.run(command, capture_output=True, text=True, env=environment)
    assert done.returncode == 0, done.stderr
    return Pins(table, json.loads((folder / "result").read_text()))


def pin_periods(
    edges: NDArray[np.int64], pins: Sequence[int], until: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Light periods of pins: the cycles at which they begin, and the duties in each, shape
    (periods, pins), in units of time. Every edge must stand where a plane ends.
    """
    ends = PIN_UNIT * (2 ** np.arange(PIN_PLANES + 1) - 1)
    places = [
        begin
        for begin in edges[0, 0] - ends[:-1]
        if np.isin((edges[:, 0] - begin) % PIN_PERIOD, ends[:-1]).all()
    ]
    assert places, "edges where no plane ends"
    begins = np.arange(places[0], until, PIN_PERIOD)
    high = np.stack([_high_until(edges[edges[:, 1] == pin], begins) for pin in pins], axis=1)
    cycles = np.diff(high, axis=0)
    assert (cycles % PIN_UNIT == 0).all()
    return begins[:-1], cycles // PIN_UNIT


def _high_until(edges: NDArray[np.int64], times: NDArray[np.int64]) -> NDArray[np.int64]:
    """For how many cycles a pin, low at first, has been high until each time."""
    at = np.concatenate([[0], edges[:, 0]])
    level = np.concatenate([[0], edges[:, 2]])
    high = np.concatenate([[0], np.cumsum(np.diff(at) * level[:-1])])
    last = np.searchsorted(at, times, side="right") - 1
    return high[last] + level[last] * (times - at[last])


def shift_periods(
    chain: Chain, outputs: int, registers: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
    """Light periods of shift registers: the cycles at which they begin, the duties in each, shape
    (periods, outputs), and how many units of time a period has. Planes must follow each other by
    twice the time.
    """
    at = np.array([cycle for cycle, _ in chain.latched])
    bits = np.array([shown[:outputs] for _, shown in chain.latched])
    unit = -(-registers // 3) * 24 * CYCLES_A_BIT + LATCH_CYCLES
    planes = np.log2(np.diff(at) / unit)
    assert (planes == np.round(planes)).all(), "a plane of no whole time"
    count = int(planes.max()) + 1
    periods = len(planes) // count
    assert (planes[: periods * count].reshape(periods, count) == np.arange(count)).all()
    duties = np.einsum(
        "pbo,b->po", bits[: periods * count].reshape(periods, count, outputs), 2 ** np.arange(count)
    )
    return at[: periods * count : count], duties, 2**count - 1


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
