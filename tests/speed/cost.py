"""Size and cost of the player in C on each of its targets, beside the figures of the design:
`python tests/speed/cost.py`.

Needs gcc, clang, lld, gcc-arm-none-eabi, gcc-avr, avr-libc, qemu-system-arm, libsimavr-dev,
libelf-dev. mps2.py, cortex_m0.py and avr.py say how each target counts; nothing is measured on a
chip.
"""

import argparse
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import avr
import cortex_m0
import mps2
import numpy as np
from c_targets import TARGETS, measure, most_state_bytes
from cases import (
    CASES,
    Case,
    Clock,
    Cost,
    SampleCost,
    case_table,
    coding_tables,
    frame_cost,
    sample_cost,
)
from numpy.typing import NDArray

from fxseq.table import Coding, Table

DESIGN_CLOCK = Clock(22050, 21)
DESIGN_HZ = 48e6
DESIGN_SHARE = 0.25
DESIGN_VOICES = 4
DESIGN_CHANNELS = 24
AVR_HZ = 16e6
AVR_VOICES = 2
AVR_CHANNELS = 6
AVR_CLOCKS = (Clock(8000, 16), Clock(11025, 11))


class Counted(NamedTuple):
    """What a target took. hz: of the processor, None where instructions were counted."""

    title: str
    clock: Clock
    hz: float | None
    frames: dict[str, Cost]
    samples: dict[Coding, SampleCost]

    def frame_cycles(self) -> float:
        """That there are in the time of a frame."""
        return self.hz * self.clock.samples_per_frame / self.clock.rate_hz


def count(
    play: Callable[[list[Table]], Sequence[NDArray[np.integer]]],
    title: str,
    clock: Clock,
    hz: float | None,
    cases: dict[str, Case],
    codings: Sequence[Coding],
) -> Counted:
    """Play cases and codings on a target."""
    tables = [case_table(case, clock) for case in cases.values()]
    counts = list(
        play([*tables, *(table for coding in codings for table in coding_tables(coding, clock))])
    )
    frames = {name: frame_cost(counts.pop(0)) for name in cases}
    return Counted(
        title,
        clock,
        hz,
        frames,
        {coding: sample_cost(counts.pop(0), counts.pop(0), clock) for coding in codings},
    )


def fitting(voices: int, channels: int) -> dict[str, Case]:
    return {
        name: case
        for name, case in CASES.items()
        if case.voices <= voices and case.channels <= channels
    }


def against(value: int, most: int | None) -> str:
    """A figure beside its limit."""
    if most is None:
        return f"{value:6}"
    return f"{value:6} of {most}" + (f" ({value - most} too many)" if value > most else "")


def print_sizes(folder: Path) -> None:
    """A line a target."""
    print(
        "bytes; code with constants, state for 4 voices, 24 channels, 8 inputs and 12 triggers,"
        " stack below fxp_open and fxp_frame\n"
    )
    for target in TARGETS:
        place = folder / target.name
        place.mkdir()
        sizes = measure(target, place)
        stack = (
            "not derived"
            if sizes.stack is None
            else ", ".join(f"{entry} {size}" for entry, size in sizes.stack.items())
        )
        print(
            f"{target.name:11} code {against(sizes.code, target.most_code_bytes):32} data"
            f" {sizes.data:3}   state {against(sizes.state, most_state_bytes(target)):16} stack"
            f" {stack}",
            flush=True,
        )


def all_counted(folder: Path, firmware: avr.Firmware) -> list[Counted]:
    """Of each target that is counted on."""
    most = fitting(cortex_m0.MOST_VOICES, cortex_m0.MOST_CHANNELS)
    codings = list(Coding)
    return [
        count(
            lambda tables: mps2.play(tables, folder),
            "Cortex-M3, instructions",
            DESIGN_CLOCK,
            None,
            most,
            codings,
        ),
        count(
            lambda tables: cortex_m0.play(tables, folder),
            "Cortex-M0, cycles",
            DESIGN_CLOCK,
            DESIGN_HZ,
            most,
            codings,
        ),
        *(
            count(
                firmware.play,
                "ATmega328P, cycles",
                clock,
                AVR_HZ,
                fitting(AVR_VOICES, AVR_CHANNELS),
                firmware.codings(),
            )
            for clock in AVR_CLOCKS
        ),
    ]


def print_row(name: str, cells: Sequence[str]) -> None:
    print(f"{name:38}" + "".join(f"{cell:>28}" for cell in cells))


def print_frames(counted: Sequence[Counted]) -> None:
    """A row a case, and the dearest frame of what the design asks for."""
    print(
        "\na frame, usual / worst (share of the frame's time); the input is pressed in all cases\n"
    )
    print_row("", [one.title for one in counted])
    print_row(
        "", [f"{one.clock.samples_per_frame} samples at {one.clock.rate_hz} Hz" for one in counted]
    )
    print_row(
        "",
        [
            f"at {one.hz / 1e6:.0f} MHz {one.frame_cycles():.0f} a frame" if one.hz else ""
            for one in counted
        ],
    )
    for name in CASES:
        print_row(name, [frame_cell(one, one.frames.get(name)) for one in counted])
    cortex = next(one for one in counted if one.hz == DESIGN_HZ)
    worst = max(cortex.frames[name].worst for name in fitting(DESIGN_VOICES, DESIGN_CHANNELS))
    most = int(DESIGN_SHARE * cortex.frame_cycles())
    print(
        f"\n{cortex.title}, in the worst frame of {DESIGN_VOICES} voices and {DESIGN_CHANNELS}"
        f" channels: {against(worst, most).strip()}"
    )


def frame_cell(one: Counted, cost: Cost | None) -> str:
    if cost is None:
        return "does not fit"
    share = f" ({cost.worst / one.frame_cycles():4.0%})" if one.hz else ""
    return f"{cost.usual} / {cost.worst}{share}"


def print_samples(counted: Sequence[Counted]) -> None:
    """A row a coding."""
    print(
        "\na sample, of noise at full scale: put out by one voice at the clip's own rate / one more"
        " sample of the clip decoded\n"
    )
    print_row("", [one.title for one in counted])
    for coding in Coding:
        found = [one.samples.get(coding) for one in counted]
        print_row(
            coding.name,
            [
                "not played" if cost is None else f"{cost.put_out:.0f} / {cost.decoded:.0f}"
                for cost in found
            ],
        )


def main() -> None:
    """Print sizes, then what frames and samples cost."""
    argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    ).parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        print_sizes(folder)
        firmware = avr.Firmware(folder / "avr")
        dearest = case_table(list(fitting(AVR_VOICES, AVR_CHANNELS).values())[-1], AVR_CLOCKS[0])
        print(
            f"\nATmega328P, the port as it is, with {AVR_CHANNELS} channels and {AVR_VOICES}"
            f" voices\n{firmware.sizes(dearest)}",
            flush=True,
        )
        counted = all_counted(folder, firmware)
        print_frames(counted)
        print_samples(counted)


if __name__ == "__main__":
    main()
