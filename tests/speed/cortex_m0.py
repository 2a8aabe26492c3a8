"""Cycles that the player takes on a Cortex-M0, by a table of what its instructions take.

The player's own code for that chip runs in the emulator unicorn, and each instruction is charged
what Arm's Cortex-M0 Technical Reference Manual (DDI 0432) says for memory without wait states and
the one-cycle multiplier: one cycle; loads and stores two; push, pop and multiple loads and stores
one and one for each register; a branch that is taken three; a call four; pop to the program counter
four and one for each register, that one included. (From memory of its table of instruction timings;
not measured on a chip. That the instructions are all counted is held against QEMU by
tests/boards/test_cortex_m0.py.)
"""

import struct
import subprocess
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from c_targets import PLAYER, PORT, SOURCES, STRICT, TARGETS, in_build
from cases import DOWN_BEFORE, DOWN_FROM_PRESS, FRAMES, PRESS, Played
from unicorn import UC_ARCH_ARM, UC_HOOK_BLOCK, UC_MODE_MCLASS, UC_MODE_THUMB, Uc
from unicorn.arm_const import UC_ARM_REG_LR, UC_ARM_REG_R0, UC_ARM_REG_SP

from fxseq.table import Table, encode

CODE = 0x1000
TABLE = 0x100000
RAM = 0x20000000
STACK_TOP = 0x20008000
RETURN = 0x80000
DESIGN_CHANNELS = 24
MOST_CHANNELS = 42
MOST_VOICES = 4


class _Block(NamedTuple):
    """Instructions that are run one after the other. cycles: of all but the last; follows,
    jumps: of that one, by where it leads.
    """

    function: str
    instructions: int
    cycles: int
    behind: int
    follows: int
    jumps: int


class Chip:
    """The player, linked for a Cortex-M0, with one table."""

    def __init__(self, program: bytes, symbols: dict[str, int], table: bytes) -> None:
        self._symbols = symbols
        self._functions = sorted((at & ~1, name) for name, at in symbols.items() if at < RAM)
        self.by_function: Counter[str] = Counter()
        self.instructions = 0
        self._blocks: dict[tuple[int, int], _Block] = {}
        self._last: _Block | None = None
        self._emulator = Uc(UC_ARCH_ARM, UC_MODE_THUMB | UC_MODE_MCLASS)
        for start, size in ((0, 0x90000), (TABLE, 0x100000), (RAM, 0x10000)):
            self._emulator.mem_map(start, size)
        self._emulator.mem_write(CODE, program)
        self._emulator.mem_write(TABLE, table)
        self._emulator.hook_add(UC_HOOK_BLOCK, self._count)
        opens = in_build("fxp_open", symbols)
        assert self.call(opens, symbols["player"], TABLE, len(table), symbols["offset"]) == 0

    def _count(self, emulator: Uc, at: int, size: int, _: object) -> None:
        if self._last is not None:
            self._charge(self._last.follows if at == self._last.behind else self._last.jumps)
        if (at, size) not in self._blocks:
            function = self._functions[bisect_right(self._functions, (at, "~")) - 1][1]
            self._blocks[at, size] = _block(function, at, bytes(emulator.mem_read(at, size)))
        self._last = self._blocks[at, size]
        self._charge(self._last.cycles)
        self.instructions += self._last.instructions

    def _charge(self, cycles: int) -> None:
        self.by_function[self._last.function] += cycles

    @property
    def cycles(self) -> int:
        """What the last call took."""
        return self.by_function.total()

    def call(self, function: str, *arguments: int) -> int:
        """Call a function; `cycles`, `by_function` and `instructions` are then what it took."""
        for register, value in enumerate(arguments[:4]):
            self._emulator.reg_write(UC_ARM_REG_R0 + register, value)
        stack = b"".join(struct.pack("<I", value) for value in arguments[4:])
        self._emulator.mem_write(STACK_TOP - len(stack), stack)
        self._emulator.reg_write(UC_ARM_REG_SP, STACK_TOP - len(stack))
        self._emulator.reg_write(UC_ARM_REG_LR, RETURN | 1)
        self.by_function = Counter()
        self.instructions = 0
        self._last = None
        self._emulator.emu_start(self._symbols[function] | 1, RETURN)
        self._charge(self._last.jumps)
        return self._emulator.reg_read(UC_ARM_REG_R0)

    def turn(self) -> None:
        """Turn the first selector, if there is one, to its second position."""
        self.call("fxp_select", self._symbols["player"], 0, 1)

    def frame(self, closed: int) -> int:
        """Play a frame; give its cycles."""
        self.call(
            "fxp_frame",
            *(
                self._symbols["player"],
                closed,
                closed,
                self._symbols["samples"],
                self._symbols["duties"],
            ),
        )
        return self.cycles


def _block(function: str, at: int, code: bytes) -> _Block:
    *firsts, last = _instructions(code)
    cycles = sum(follows for follows, _ in firsts)
    return _Block(function, len(firsts) + 1, cycles, at + len(code), *last)


def _instructions(code: bytes) -> Iterator[tuple[int, int]]:
    """Cycles of each: where the next one follows, and where it does not."""
    at = 0
    while at < len(code):
        half = int.from_bytes(code[at : at + 2], "little")
        is_long = half >> 11 > 0b11100
        yield (4, 4) if is_long else _cycles(half)
        at += 4 if is_long else 2


def _cycles(half: int) -> tuple[int, int]:
    registers = (half & 0xFF).bit_count()
    first = half >> 12
    if half & 0xFF00 == 0xBD00:
        return 5 + registers, 5 + registers
    if half & 0xFF00 == 0xB500:
        return 2 + registers, 2 + registers
    if half & 0xF600 == 0xB400 or first == 12:
        return 1 + registers, 1 + registers
    if first in (5, 6, 7, 8, 9) or half & 0xF800 == 0x4800:
        return 2, 2
    return 1, 3


def build(folder: Path, channels: int) -> tuple[bytes, dict[str, int]]:
    """The player's program memory from CODE on, for so many channels at most, and its symbols."""
    target = next(target for target in TARGETS if target.name == "Cortex-M0")
    (folder / "port.c").write_text(PORT)
    options = [
        "-ffunction-sections",
        "-DWITH_PLAYER",
        f"-DFXP_MAX_CHANNELS={channels}",
        f"-I{PLAYER}",
    ]
    places = [f"-Wl,-Ttext={CODE:#x}", f"-Wl,-Tdata={RAM:#x}"]
    command = [
        *target.compile,
        *STRICT,
        *options,
        "port.c",
        *map(str, SOURCES),
        *target.link,
        *places,
    ]
    subprocess.run([*command, "-o", "program"], cwd=folder, check=True)
    subprocess.run(
        ["arm-none-eabi-objcopy", "-O", "binary", "-R", ".bss", "program", "image"],
        cwd=folder,
        check=True,
    )
    names = subprocess.run(
        ["arm-none-eabi-nm", "program"], cwd=folder, check=True, capture_output=True, text=True
    ).stdout
    return (folder / "image").read_bytes(), {
        name: int(at, 16)
        for at, kind, name in (line.split() for line in names.splitlines() if line[0] != " ")
        if kind != "a" and not name.startswith("$")
    }


def play(tables: list[Table], folder: Path, frames: int = FRAMES) -> list[Played]:
    """Cycles of each frame of each table, by the build of the design where that has channels
    enough.
    """
    builds = {channels: build(folder, channels) for channels in (DESIGN_CHANNELS, MOST_CHANNELS)}
    return [
        _run(
            Chip(
                *builds[DESIGN_CHANNELS if table.channels <= DESIGN_CHANNELS else MOST_CHANNELS],
                encode(table),
            ),
            frames,
        )
        for table in tables
    ]


def _run(chip: Chip, frames: int) -> Played:
    counted = []
    for frame in range(frames):
        if frame == PRESS.frame:
            chip.turn()
        chip.frame(DOWN_FROM_PRESS if frame >= PRESS.frame else DOWN_BEFORE)
        counted.append(chip.by_function)
    functions = tuple(sorted(set().union(*counted)))
    return Played(
        functions, np.array([[counts[function] for function in functions] for counts in counted])
    )
