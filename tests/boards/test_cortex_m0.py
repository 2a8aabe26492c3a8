"""The counts behind the Cortex-M0's cycles (tests/speed/cost.py) beside those of QEMU, which
counts by its clock.
"""

import sys
from pathlib import Path

import mps2_board
import numpy as np

from fxseq.table import encode

sys.path.insert(0, str(Path(__file__).parents[1] / "speed"))

import cortex_m0  # noqa: E402
from cases import CASES, FRAMES, PRESS, Clock, case_table  # noqa: E402

CLOCK_READINGS = 13
"""Instructions of the board around a frame that are counted with it."""


def test_frame_takes_the_instructions_that_qemu_counts(tmp_path: Path) -> None:
    """The same code for the same chip, in frames without effects: what is traced takes
    instructions of the board.
    """
    table = encode(case_table(CASES["4 voices, 24 one by one over flicker"], Clock(22050, 21)))
    chip = cortex_m0.Chip(*cortex_m0.build(tmp_path, cortex_m0.DESIGN_CHANNELS), table)
    programs = mps2_board.build(tmp_path, CPU="cortex-m0", LIMITS="")
    counted = mps2_board.instructions(
        mps2_board.run_all(programs, tmp_path, [mps2_board.Case(table, [PRESS], FRAMES)])[0].ticks
    )
    found = []
    for frame in range(FRAMES):
        chip.frame(int(frame >= PRESS.frame))
        found.append(chip.instructions)
    differs = np.flatnonzero(counted - CLOCK_READINGS != found)
    assert len(differs) < 10, differs
