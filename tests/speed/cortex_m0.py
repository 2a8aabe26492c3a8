"""What a frame costs on a Cortex-M0, in processor cycles: `python tests/speed/cortex_m0.py` (needs unicorn and arm-none-eabi-gcc).

The player's own code for that chip runs in the emulator unicorn, and each instruction is charged what Arm's Cortex-M0 Technical Reference
Manual (DDI 0432) says for memory without wait states and the one-cycle multiplier: one cycle; loads and stores two; push, pop and multiple
loads and stores one and one for each register; a branch that is taken three; a call four; pop to the program counter four and one for each
register. (From memory of its table of instruction timings; not measured on a chip.)
"""

import argparse
import random
import struct
import subprocess
import tempfile
from pathlib import Path

from c_targets import PLAYER, PORT, SOURCES, STRICT, TARGETS
from unicorn import UC_ARCH_ARM, UC_HOOK_CODE, UC_MODE_MCLASS, UC_MODE_THUMB, Uc
from unicorn.arm_const import UC_ARM_REG_LR, UC_ARM_REG_R0, UC_ARM_REG_SP

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.table import (
    ClipRecord, Coding, EffectRecord, GroupRecord, InputKind, InputRecord, Merge, Mode, PlayClip, Shots, StartFade, Stay, Table, TriggerRecord,
    VoiceRule, encode,
)  # fmt: skip

CLOCK_HZ = 48e6
RATE_HZ, SAMPLES_PER_FRAME = 22050, 21
SHARE_OF_DESIGN = 0.25
CODE, TABLE, RAM, STACK_TOP, RETURN = 0x1000, 0x100000, 0x20000000, 0x20008000, 0x80000


def cycles(half: int, size: int) -> tuple[int, int]:
    """Cycles of an instruction by its first halfword: where the next one follows, and where it does not."""
    registers, first = (half & 0xFF).bit_count(), half >> 12
    if size == 4:
        return 4, 4
    if half & 0xFF00 == 0xBD00:
        return 4 + registers, 4 + registers
    if half & 0xFF00 == 0xB500:
        return 2 + registers, 2 + registers
    if half & 0xF600 == 0xB400 or first == 12:
        return 1 + registers, 1 + registers
    if first in (5, 6, 7, 8, 9) or half & 0xF800 == 0x4800:
        return 2, 2
    return 1, 3


class Chip:
    """The player, linked for a Cortex-M0, with one table."""

    def __init__(self, program: bytes, symbols: dict[str, int], table: bytes) -> None:
        self._symbols, self.cycles = symbols, 0
        self._last: tuple[int, int, int] | None = None
        self._emulator = Uc(UC_ARCH_ARM, UC_MODE_THUMB | UC_MODE_MCLASS)
        for start, size in ((0, 0x90000), (TABLE, 0x100000), (RAM, 0x10000)):
            self._emulator.mem_map(start, size)
        self._emulator.mem_write(CODE, program)
        self._emulator.mem_write(TABLE, table)
        self._emulator.hook_add(UC_HOOK_CODE, self._count)
        assert self.call("fxp_open", symbols["player"], TABLE, len(table), symbols["offset"]) == 0

    def _count(self, emulator: Uc, at: int, size: int, _: object) -> None:
        if self._last is not None:
            behind, follows, jumps = self._last
            self.cycles += follows if at == behind else jumps
        half = struct.unpack("<H", emulator.mem_read(at, 2))[0]
        self._last = (at + size, *cycles(half, size))

    def call(self, function: str, *arguments: int) -> int:
        """Call a function; `cycles` is then what it took."""
        for register, value in enumerate(arguments[:4]):
            self._emulator.reg_write(UC_ARM_REG_R0 + register, value)
        stack = b"".join(struct.pack("<I", value) for value in arguments[4:])
        self._emulator.mem_write(STACK_TOP - len(stack), stack)
        self._emulator.reg_write(UC_ARM_REG_SP, STACK_TOP - len(stack))
        self._emulator.reg_write(UC_ARM_REG_LR, RETURN | 1)
        self.cycles, self._last = 0, None
        self._emulator.emu_start(self._symbols[function] | 1, RETURN)
        return self._emulator.reg_read(UC_ARM_REG_R0)

    def frame(self, closed: int) -> int:
        """Play a frame; give its cycles."""
        self.call("fxp_frame", *(self._symbols["player"], closed, closed, self._symbols["samples"], self._symbols["duties"]))
        return self.cycles


def build(folder: Path) -> tuple[bytes, dict[str, int]]:
    """The player's program memory from CODE on, and its symbols."""
    target = next(target for target in TARGETS if target.name == "Cortex-M0")
    (folder / "port.c").write_text(PORT)
    places = [f"-Wl,-Ttext={CODE:#x}", f"-Wl,-Tdata={RAM:#x}"]
    command = [*target.compile, *STRICT, "-ffunction-sections", "-DWITH_PLAYER", f"-I{PLAYER}", "port.c", *map(str, SOURCES), *target.link, *places]
    subprocess.run([*command, "-o", "program"], cwd=folder, check=True)
    subprocess.run(["arm-none-eabi-objcopy", "-O", "binary", "-R", ".bss", "program", "image"], cwd=folder, check=True)
    names = subprocess.run(["arm-none-eabi-nm", "program"], cwd=folder, check=True, capture_output=True, text=True).stdout
    return (folder / "image").read_bytes(), {line.split()[2]: int(line.split()[0], 16) for line in names.splitlines() if len(line.split()) == 3}


FLICKER = FadeCurve((FadeSegment(Shape.FLICKER, 2000, 200, 50, 60),), None, True)
DECAY = FadeCurve((FadeSegment(Shape.STEP, 0, 255), FadeSegment(Shape.DECAY, 400, 0)))
EASE = FadeCurve((FadeSegment(Shape.EASE, 700, 255), FadeSegment(Shape.EASE, 700, 10)), None, True)
SHOT = PlayClip(0, 0, 3000)
CASES = {  # steps of the effect that is shot every 60 frames, whether the ambient layer flickers, voices
    "idle": (None, False, 4),
    "1 voice": ((SHOT,), False, 1),
    "2 voices": ((SHOT,), False, 2),
    "4 voices": ((SHOT,), False, 4),
    "24 channels fading alike": ((StartFade(0, 0, 1),), False, 4),
    "24 channels fading one by one": ((StartFade(0, 0, 2, 1),), False, 4),
    "24 channels flickering": (None, True, 4),
    "4 voices, 24 channels fading alike": ((SHOT, StartFade(0, 0, 1)), False, 4),
    "4 voices, 24 fading one by one over flicker": ((SHOT, StartFade(0, 0, 2, 1)), True, 4),
}


def case_table(steps: tuple[PlayClip | StartFade, ...] | None, flickers: bool, voices: int) -> bytes:
    """24 channels in one group; clips in mu-law at the board's rate with a spread of the pitch, so that every sample is interpolated."""
    effects = (EffectRecord(steps or (), pitch_spread=80, gain_spread=40), EffectRecord((StartFade(0, 0, 0),), ambient=True))
    triggers = [TriggerRecord(Mode.REPEAT, Shots((0,), period=256 * 60), input=0)] if steps else []
    triggers += [TriggerRecord(Mode.ALWAYS, Stay(begin=1))] if flickers else []
    clip = ClipRecord(Coding.MULAW, 65536, 6000, random.Random(2).randbytes(6000))
    return encode(Table(
        RATE_HZ, SAMPLES_PER_FRAME, 24, 12, voices, VoiceRule.OLDEST, 88, 7, (InputRecord(InputKind.BUTTON, 20),), (), (),
        (GroupRecord(0, 24, Merge.HIGHEST),), (FLICKER, DECAY, EASE), (clip,), effects, tuple(triggers),
    ))  # fmt: skip


def main() -> None:
    """Print the middle and the worst frame of each case."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    whole = CLOCK_HZ * SAMPLES_PER_FRAME / RATE_HZ
    print(f"cycles a frame at {CLOCK_HZ / 1e6:.0f} MHz, {RATE_HZ} Hz; the design allows {SHARE_OF_DESIGN:.0%} = {SHARE_OF_DESIGN * whole:.0f}\n")
    with tempfile.TemporaryDirectory() as folder:
        program, symbols = build(Path(folder))
    for name, case in CASES.items():
        chip = Chip(program, symbols, case_table(*case))
        costs = [chip.frame(int(frame > 5)) for frame in range(330)][6:]
        middle, worst = sorted(costs[200:])[len(costs[200:]) // 2], max(costs)
        print(f"{name:45} usual {middle:6} ({middle / whole:5.1%})   worst {worst:6} ({worst / whole:5.1%})", flush=True)


if __name__ == "__main__":
    main()
