"""Cycles and memory that the firmware for the ATmega328P takes, counted by libsimavr.

Cycles are those in which the pin PB0 is high, that is fxp_frame and the interrupts that come
meanwhile, of the firmware as it is.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np
from cases import FRAMES, PRESS
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1] / "boards"))

from avr_board import PORT, Built, EmulatedBoard, build  # noqa: E402

from fxseq.link import hello, open_port, prove, push  # noqa: E402
from fxseq.table import Coding, Table, encode  # noqa: E402


class Firmware:
    """The firmware, built into a folder."""

    def __init__(self, folder: Path) -> None:
        self._built = build(folder)
        self._image = folder / "image"

    def codings(self) -> list[Coding]:
        """Those that it can play."""
        with self._board() as board, open_port(board.where) as port:
            mask = hello(port).codings
        return [coding for coding in Coding if mask >> coding & 1]

    def play(self, tables: list[Table]) -> list[NDArray[np.integer]]:
        """Cycles of each frame of each table."""
        return [self._run(table)[0] for table in tables]

    def sizes(self, table: Table) -> str:
        """Code by part, state, and what stack and variables leave while a table plays."""
        make = ["make", "-s", "-C", PORT, f"BUILD={self._built.firmware.parent}", "sizes"]
        parts = subprocess.run(make, check=True, capture_output=True, text=True).stdout.strip()
        state = _bytes_of_variables(self._built)
        return (
            f"{parts}\nstate of the player: {state['player']} bytes; of the link:"
            f" {state['session']} bytes\nRAM never used by stack or variables:"
            f" {self._run(table)[1]} of 2048 bytes; a table with a gauge leaves less"
        )

    def _run(self, table: Table) -> tuple[NDArray[np.integer], int]:
        """Cycles of each frame, and bytes of RAM that were never used."""
        with self._board() as board:
            with open_port(board.where) as port:
                push(port, encode(table))
                prove(port, [PRESS], FRAMES)
            untouched = board.figures()["untouched"]
            # The last run but the one that followed it.
            return board.runs(table.channels, table.pwm_bits)[-2].costs[:FRAMES], untouched

    def _board(self) -> EmulatedBoard:
        return EmulatedBoard(self._built, self._image, "-x", "8")


def _bytes_of_variables(built: Built) -> dict[str, int]:
    symbols = subprocess.run(
        ["avr-nm", "-S", built.firmware], check=True, capture_output=True, text=True
    ).stdout
    return {
        parts[3]: int(parts[1], 16)
        for line in symbols.splitlines()
        if len(parts := line.split()) >= 4
    }
