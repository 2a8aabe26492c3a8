"""Instructions that the player takes on a Cortex-M3, counted by QEMU.

The player runs on the emulated board of firmware_spec/ports/mps2, whose clock goes on by 1024 ns
with each instruction, so the board's timer counts instructions exactly and the same every time.
Instructions are not cycles: QEMU has no model of those.
"""

import sys
from pathlib import Path

import numpy as np
from cases import FRAMES, PRESS
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[1] / "boards"))

from mps2_board import Case, build, instructions, run_all  # noqa: E402

from fxseq.table import Table, encode  # noqa: E402


def play(tables: list[Table], folder: Path) -> list[NDArray[np.integer]]:
    """Instructions of each frame of each table."""
    results = run_all(
        build(folder), folder, [Case(encode(table), [PRESS], FRAMES) for table in tables]
    )
    assert all(result.status == 0 for result in results)
    return [instructions(result.ticks) for result in results]
