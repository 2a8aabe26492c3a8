"""What the small board keeps, on the emulated chip with the image of the package and all its
interrupts: `python tests/speed/nano.py`.

Cases are those of cost.py, and of 150 tables drawn as in worst.py those whose bound comes near to
what is refused; a button is held from 0.5 s after power-up on. Then a table is pushed while another
plays. Needs what tests/boards/test_nano.py needs.
"""

import argparse
import re
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

import avr
import numpy as np
from cases import CASES, Clock, case_table
from worst import Target, draw

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("", "boards")]

from nano_board import HZ, MOST, Built, EmulatedBoard, Run, build, clock_of, joined  # noqa: E402

from fxseq.link import open_port, push  # noqa: E402
from fxseq.sequence.board_parts import board_parts  # noqa: E402
from fxseq.table import Table, encode  # noqa: E402
from fxseq.table.frame_work import FrameWork  # noqa: E402

CLOCKS = (Clock(8000, 16), Clock(11025, 16))
RUN_MS = 3000
HELD = ("-c", "0:500000:0")
QUICK = ("-x", "1000")
LATE = 1.5
"""Samples from one to the next, from which on a frame has come late."""


NEAR = 1.35
"""Share of a frame's time, by the bound, from which on a table drawn is played."""
DRAWN = 150


class Kept(NamedTuple):
    """late: share of the time. untouched: bytes between variables and stack."""

    late: float
    longest_ms: float
    untouched: int


def gaps_ms(run: Run) -> np.ndarray:
    return np.diff(run.at) / HZ * 1000


def kept(built: Built, folder: Path, table: Table) -> Kept:
    """A run from power-up with the button held."""
    image = folder / "image"
    image.unlink(missing_ok=True)
    with EmulatedBoard(built, image, "-x", "8") as board, open_port(board.where) as port:
        push(port, encode(table))
    board = EmulatedBoard(built, image, *QUICK, *HELD, "-e", str(RUN_MS))
    figures = board.wait()
    run = board.runs()[-1]
    gaps = gaps_ms(run)
    sample_ms = 1000 * clock_of(table.sample_rate_hz).sample_cycles / HZ
    late = gaps[gaps > LATE * sample_ms] - sample_ms
    return Kept(
        late.sum() / RUN_MS,
        max(late, default=0.0),
        figures["untouched"],
    )


def print_kept(name: str, found: Kept) -> None:
    late = f"{found.late:8.2%}{found.longest_ms:8.1f} ms"
    print(f"{name:36}{late}{found.untouched:6}", flush=True)


def pauses_ms(built: Built, folder: Path) -> tuple[float, float]:
    """The longest pause of the sound at an erasure or a write, and at a check of the table, while
    one like it is pushed.
    """
    image = folder / "image"
    image.unlink(missing_ok=True)
    table = encode(joined(case_table(CASES["idle, 6 channels"], CLOCKS[0])))
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        for _ in range(2):
            push(port, table)
        board.figures()
    run = board.runs()[-2]
    gaps = gaps_ms(run)
    at_write = np.histogram(run.written, run.at)[0] > 0
    return gaps[at_write].max(), gaps[~at_write].max()


def nearest() -> dict[str, Table]:
    """Tables drawn whose bound is just below what is refused."""
    target = Target(
        "avr", CLOCKS[0], HZ, 2, MOST["channels"], MOST["voices"], 4, avr.CODINGS, lambda tables: []
    )
    found = {}
    for seed, table in enumerate(draw(range(DRAWN), target)):
        share = FrameWork(table, "avr").share(HZ)
        if NEAR < share <= board_parts()["nano"].most_work:
            found[f"drawn, {seed}, bound {share:.2f}"] = table
    return found


def main() -> None:
    """Print all of it."""
    argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    ).parse_args()
    channels = MOST["channels"]
    fitting = {
        re.sub(r"\b6\b", str(channels), name): case._replace(channels=channels)
        for name, case in CASES.items()
        if case.voices <= MOST["voices"] and case.channels == 6
    }
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        built = build(folder)
        print("time by which sound is late, longest such pause, bytes never used")
        for clock in CLOCKS:
            print(f"\n{clock.samples_per_frame} samples a frame, {clock.rate_hz} Hz")
            for name, case in fitting.items():
                print_kept(name, kept(built, folder, joined(case_table(case, clock))))
        print("\ntables drawn, which come near to what is refused")
        for name, table in nearest().items():
            print_kept(name, kept(built, folder, joined(table)))
        write_ms, check_ms = pauses_ms(built, folder)
        print(
            f"\nwhile a table is pushed, sound pauses for {write_ms:.1f} ms at an erasure and a"
            f" write, and for {check_ms:.1f} ms at a check"
        )


if __name__ == "__main__":
    main()
