"""The player in C on each of its targets: how it is compiled, and what it takes there in code,
data, state and stack.
"""

import re
import subprocess
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

PLAYER = Path(__file__).parents[2] / "firmware_spec" / "player"
STRICT = "-std=c99 -pedantic -Wall -Wextra -Wconversion -Wsign-conversion -Werror".split()
SOURCES = sorted(PLAYER.glob("fxp_*.c"))
# What a port does with the player: with it all of the player is linked, without it none.
PORT = """
#include "fxp.h"
volatile uint32_t in;
#ifdef WITH_PLAYER
struct fxp player;
int16_t samples[256];
uint16_t duties[FXP_MAX_CHANNELS];
uint32_t offset;
#endif
int main(void);
int main(void)
{
#ifdef WITH_PLAYER
    fxp_open(&player, (fxp_table)(uintptr_t)in, in, &offset);
    for (;;) {
        fxp_select(&player, (uint8_t)in, (uint8_t)in);
        fxp_volume(&player, (uint16_t)in);
        fxp_frame(&player, in, in, samples, duties);
    }
#endif
    return 0;
}
"""


@dataclass(frozen=True)
class Target:
    """A compiler for a machine, with the options that its port has. prefix: of its binutils. most_code_bytes: the figure of the
    design, if there is one.
    """

    name: str
    compile: tuple[str, ...]
    prefix: str
    link: tuple[str, ...] = ()
    most_code_bytes: int | None = None
    call_bytes: int = 0
    """What a call puts on the stack, where -fstack-usage does not count it."""


OPEN = "fxp_open_24_4_8_4_8_12_1_1_24"
"""The name of fxp_open with the limits of fxp_config.h."""
_EXPORTS = tuple(
    f"-Wl,--export={name}" for name in (OPEN, "fxp_select", "fxp_volume", "fxp_frame")
)
TARGETS = (
    Target("host", ("gcc", "-Os"), "", ("-Wl,--gc-sections",), call_bytes=8),
    Target(
        "Cortex-M0",
        (
            "arm-none-eabi-gcc",
            "-mcpu=cortex-m0",
            "-mthumb",
            "-Os",
            "-fno-tree-scev-cprop",
            "-ffreestanding",
            "-DFXP_TABLE_ALIGNED",
        ),
        "arm-none-eabi-",
        ("-nostdlib", "-Wl,--gc-sections", "-Wl,-e,main", "-lgcc"),
        7680,
    ),
    Target(
        "Cortex-M0 without QOA and LPC-Rice",
        (
            "arm-none-eabi-gcc",
            "-mcpu=cortex-m0",
            "-mthumb",
            "-Os",
            "-fno-tree-scev-cprop",
            "-ffreestanding",
            "-DFXP_TABLE_ALIGNED",
            "-DFXP_QOA=0",
            "-DFXP_RICE=0",
        ),
        "arm-none-eabi-",
        ("-nostdlib", "-Wl,--gc-sections", "-Wl,-e,main", "-lgcc"),
        7680,
    ),
    Target(
        "ATmega328P",
        (
            "avr-gcc",
            "-mmcu=atmega328p",
            "-Os",
            "-mcall-prologues",
            "-mstrict-X",
            "-fira-algorithm=priority",
            "-fno-inline-small-functions",
            "-fno-move-loop-invariants",
            "-mrelax",
            "-DFXP_QOA=0",
            "-DFXP_RICE=0",
            "-include",
            str(PLAYER / "fxp_avr.h"),
        ),
        "avr-",
        ("-Wl,--gc-sections",),
        13 * 1024,
        2,
    ),
    Target(
        "wasm32",
        ("clang", "--target=wasm32", "-Os", "-ffreestanding", "-mbulk-memory"),
        "",
        ("-nostdlib", "-Wl,--no-entry", *_EXPORTS),
    ),
)
MOST_STATE_BYTES = 1024
"""Of the design, which was drawn up without LPC-Rice."""
RICE_STATE_BYTES = 4 * 12
"""SPEC 6.1 R13: what LPC-Rice keeps of 4 voices besides."""


def most_state_bytes(target: "Target") -> int:
    """The figure of the design, and what LPC-Rice adds where it is built in."""
    return MOST_STATE_BYTES + (0 if "-DFXP_RICE=0" in target.compile else RICE_STATE_BYTES)


@dataclass(frozen=True)
class Sizes:
    """Bytes. code: with constants. data: variables of the player's own. stack: of the deepest
    chain of calls below fxp_frame and fxp_open, None if not derived.
    """

    code: int
    data: int
    state: int
    stack: dict[str, int] | None


def measure(target: Target, folder: Path) -> Sizes:
    """Build the player for a target in a folder, with warnings as errors, and measure it. Raises
    AssertionError with what the compiler said.
    """
    (folder / "port.c").write_text(PORT)
    state = _state_bytes(target, folder)
    if target.name == "wasm32":
        code, data = _wasm_bytes(
            _build(target, folder, "-DWITH_PLAYER", "port.c", *map(str, SOURCES))
        )
        return Sizes(code, data, state, None)
    empty = _section_bytes(target, _build(target, folder, "port.c"))
    full = _build(target, folder, "-DWITH_PLAYER", "-fstack-usage", "port.c", *map(str, SOURCES))
    code, data = (
        with_it - without
        for with_it, without in zip(_section_bytes(target, full), empty, strict=True)
    )
    return Sizes(
        code,
        data,
        state,
        {entry: _deepest(target, full, folder, entry) for entry in ("fxp_open", "fxp_frame")},
    )


def in_build(name: str, names: Iterable[str]) -> str:
    """That of `names` by which a function goes in a build (fxp_config.h)."""
    return next(found for found in names if re.fullmatch(rf"{name}(_\d+)*", found))


def _run(command: list[str], folder: Path) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stderr}"
    return done.stdout


def _build(target: Target, folder: Path, *arguments: str) -> Path:
    sections = ["-ffunction-sections", "-fdata-sections", f"-I{PLAYER}"]
    _run([*target.compile, *STRICT, *sections, *arguments, *target.link, "-o", "program"], folder)
    return folder / "program"


def _section_bytes(target: Target, program: Path) -> tuple[int, int]:
    """Code with constants, and initialized data."""
    text, data = (
        _run([f"{target.prefix}size", str(program)], program.parent).splitlines()[1].split()[:2]
    )
    return int(text), int(data)


def _state_bytes(target: Target, folder: Path) -> int:
    (folder / "state.c").write_text(
        '#include "fxp.h"\nextern char state[];\nchar state[sizeof(struct fxp)];\n'
    )
    emit = ["-S", "-emit-llvm"] if target.compile[0] == "clang" else ["-S", "-fno-common"]
    text = _run([*target.compile, f"-I{PLAYER}", *emit, "state.c", "-o", "-"], folder)
    return int(re.search(r"state = .*\[(\d+) x i8\]|\.size\s+state,\s*(\d+)", text).expand(r"\1\2"))


def _wasm_bytes(module: Path) -> tuple[int, int]:
    """Bytes of the code and of the data section (WebAssembly Core Specification 1.0, 5.5.2: ids
    10 and 11).
    """
    data = module.read_bytes()
    at = 8
    sizes = {10: 0, 11: 0}
    while at < len(data):
        section = data[at]
        at = at + 1
        size = 0
        shift = 0
        while True:
            byte = data[at]
            at = at + 1
            size = size | (byte & 127) << shift
            shift = shift + 7
            if byte < 128:
                break
        if section in sizes:
            sizes[section] = size
        at += size
    return sizes[10], sizes[11]


def _frames(folder: Path) -> dict[str, int]:
    """Stack of each function for itself, as the compiler says (-fstack-usage)."""
    frames = {}
    for usage in folder.glob("*.su"):
        for line in usage.read_text().splitlines():
            where, size, _ = line.split("\t")
            frames[where.rsplit(":", 1)[-1]] = int(size)
    return frames


def _calls(target: Target, program: Path) -> Iterator[tuple[str, str]]:
    """(caller, called) for every call and every jump into another function."""
    caller = ""
    for line in _run(
        [f"{target.prefix}objdump", "-d", "--no-show-raw-insn", str(program)], program.parent
    ).splitlines():
        if head := re.match(r"[0-9a-f]+ <([^>+]+)>:", line):
            caller = head[1]
        elif (
            jump := re.search(r"\t(?:bl?|call|jmp|rcall|rjmp)[a-z.]*\s.*<([^>+]+)>", line)
        ) and jump[1] != caller:
            yield caller, jump[1]


def _deepest(target: Target, program: Path, folder: Path, entry: str) -> int:
    """Stack below a call of `entry`: the sum along the chain of calls where it is largest. There
    is no recursion, so there is a largest one.
    """
    frames = _frames(folder)
    calls = {}
    for caller, called in _calls(target, program):
        calls.setdefault(caller, set()).add(called)

    def below(function: str, above: tuple[str, ...]) -> int:
        assert function not in above, f"recursion: {' -> '.join((*above, function))}"
        called = [
            name for name in calls.get(function, ()) if name in frames
        ]  # the compiler's helpers take next to nothing and call each other
        return (
            frames[function]
            + target.call_bytes
            + max((below(name, (*above, function)) for name in called), default=0)
        )

    return below(in_build(entry, frames), ())
