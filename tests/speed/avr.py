"""Cycles that the player takes on the ATmega328P, counted by libsimavr.

The player, compiled as the port compiles it, runs alone: no interrupt, no line, nothing that
depends on the time of day. So the counts are the same every time, however busy the computer is.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np
from cases import DOWN_BEFORE, DOWN_FROM_PRESS, FRAMES, PRESS, Played

sys.path.insert(0, str(Path(__file__).parents[1] / "boards"))

from nano_board import PORT  # noqa: E402

from fxseq.table import Coding, Table, encode  # noqa: E402

CODINGS = [coding for coding in Coding if coding not in (Coding.QOA, Coding.LPC_RICE)]
"""Those that the port can play."""
PROGRAM = """
#include "fxp.h"
#include <avr/io.h>
static struct fxp player;
static int16_t samples[32];
static uint16_t duties[FXP_MAX_CHANNELS];
int main(void)
{
    uint32_t fault;
    if (fxp_open(&player, 0x5E00, pgm_read_word((uint16_t)0x7FFE), &fault) != FXP_OK) {
        GPIOR0 = 4;
    }
    for (uint16_t frame = 0; frame < FRAMES; frame++) {
        uint8_t closed = frame >= PRESS ? DOWN_FROM_PRESS : DOWN_BEFORE;
        if (frame == PRESS) {
            fxp_select(&player, 0, 1);
        }
        GPIOR0 = 1;
        fxp_frame(&player, closed, closed, samples, duties);
        GPIOR0 = 2;
    }
    GPIOR0 = 3;
    for (;;) {
    }
}
"""


class Player:
    """The player alone and what counts it, built into a folder. frames: of each run."""

    def __init__(self, folder: Path, frames: int = FRAMES) -> None:
        self._folder = folder
        self._frames = frames
        folder.mkdir()
        program = folder / "alone.c"
        given = {
            "FRAMES": frames,
            "PRESS": PRESS.frame,
            "DOWN_BEFORE": DOWN_BEFORE,
            "DOWN_FROM_PRESS": DOWN_FROM_PRESS,
        }
        constants = ", ".join(f"{name} = {value}" for name, value in given.items())
        program.write_text(f"enum {{ {constants} }};" + PROGRAM)
        _make(folder, f"{folder}/nano.elf", f"SOURCES={program} $(PLAYER)")
        counter = Path(__file__).with_name("avr_count.c")
        flags = "-std=gnu11 -O2 -Wall -Wextra -Werror -isystem /usr/include/simavr".split()
        libraries = ["-lsimavr", "-lelf"]
        subprocess.run(
            ["cc", *flags, "-o", folder / "avr_count", counter, *libraries], check=True
        )
        symbols = [
            line.split()
            for line in _output(["avr-nm", "--numeric-sort", folder / "nano.elf"]).splitlines()
        ]
        starts = {int(at, 16): name for at, kind, name in symbols if kind in "tT"}
        self._names = tuple(starts.values())
        (folder / "starts").write_bytes(np.array(list(starts), "<u2").tobytes())

    def play(self, tables: list[Table]) -> list[Played]:
        """What each frame of each table takes."""
        return [self._run(encode(table)) for table in tables]

    def _run(self, table: bytes) -> Played:
        (self._folder / "table").write_bytes(table)
        done = subprocess.run(
            ["./avr_count", "nano.elf", "table", "starts", "counts"],
            cwd=self._folder,
            capture_output=True,
        )
        assert done.returncode == 0, done.stderr
        counts = np.fromfile(self._folder / "counts", "<u4").reshape(self._frames, len(self._names))
        return Played(self._names, counts)


def sizes(folder: Path) -> str:
    """Code of the firmware as it is, by part, and state."""
    folder.mkdir()
    firmware = folder / "nano.elf"
    parts = _make(folder, "sizes").strip()
    listed = [line.split() for line in _output(["avr-nm", "-S", firmware]).splitlines()]
    state = {words[3]: int(words[1], 16) for words in listed if len(words) == 4}
    return (
        f"{parts}\nstate of the player: {state['player']} bytes; of the link:"
        f" {state['session']} bytes"
    )


def _make(folder: Path, *arguments: str) -> str:
    return _output(["make", "-s", "-C", PORT, f"BUILD={folder}", *arguments])


def _output(command: list[str | Path]) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout
