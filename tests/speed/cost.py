"""Size and cost of the player in C on each of its targets, beside the figures of the design:
`python tests/speed/cost.py`.

Needs gcc, clang, lld, gcc-arm-none-eabi, gcc-avr, avr-libc, libsimavr-dev, libelf-dev. cortex_m0.py
and avr.py say how each target counts: by what the emulated processor did, never by the time that
passed meanwhile. Nothing is measured on a chip.
"""

import argparse
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import avr
import cortex_m0
from c_targets import TARGETS, measure, most_state_bytes
from cases import (
    CASES,
    Case,
    Clock,
    Cost,
    Played,
    SampleCost,
    case_table,
    coding_tables,
    frame_cost,
    sample_cost,
)
from worst import draw, print_worst, targets

from fxseq.table import Coding, Table

DESIGN_CLOCK = Clock(22050, 21)
DESIGN_HZ = 48e6
DESIGN_SHARE = 0.28
DESIGN_VOICES = 4
DESIGN_CHANNELS = 24
AVR_HZ = 16e6
AVR_VOICES = 2
AVR_CHANNELS = 8
FUNCTIONS_SHOWN = 12
WORST_TABLES = 200
AVR_CLOCKS = (Clock(8000, 16), Clock(11025, 11))


class Counted(NamedTuple):
    """What a target took. hz: of the processor."""

    title: str
    clock: Clock
    hz: float
    runs: dict[str, Played]
    samples: dict[Coding, SampleCost]

    def frame_cycles(self) -> float:
        """That there are in the time of a frame."""
        return self.hz * self.clock.samples_per_frame / self.clock.rate_hz

    def frame_cost(self, case: str) -> Cost:
        return frame_cost(self.runs[case].frames())


def count(
    play: Callable[[list[Table]], list[Played]],
    title: str,
    clock: Clock,
    hz: float,
    cases: dict[str, Case],
    codings: Sequence[Coding],
) -> Counted:
    """Play cases and codings on a target."""
    runs = dict(zip(cases, play([case_table(case, clock) for case in cases.values()]), strict=True))
    samples = {}
    for coding in codings:
        slow, fast = play(list(coding_tables(coding, clock)))
        samples[coding] = sample_cost(slow.frames(), fast.frames(), clock)
    return Counted(title, clock, hz, runs, samples)


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


def all_counted(folder: Path) -> list[Counted]:
    """Of each target that is counted on."""
    small = avr.Player(folder / "avr-alone")
    return [
        count(
            lambda tables: cortex_m0.play(tables, folder),
            "Cortex-M0",
            DESIGN_CLOCK,
            DESIGN_HZ,
            fitting(cortex_m0.MOST_VOICES, cortex_m0.MOST_CHANNELS),
            list(Coding),
        ),
        *(
            count(
                small.play,
                "ATmega328P",
                clock,
                AVR_HZ,
                fitting(AVR_VOICES, AVR_CHANNELS),
                avr.CODINGS,
            )
            for clock in AVR_CLOCKS
        ),
    ]


def print_row(name: str, cells: Sequence[str]) -> None:
    print(f"{name:38}" + "".join(f"{cell:>28}" for cell in cells))


def print_frames(counted: Sequence[Counted]) -> None:
    """A row a case, and the dearest frame of what the design asks for."""
    print(
        "\ncycles of a frame, usual / worst (share of the frame's time); the input is pressed in all"
        " cases\n"
    )
    print_row("", [one.title for one in counted])
    print_row(
        "", [f"{one.clock.samples_per_frame} samples at {one.clock.rate_hz} Hz" for one in counted]
    )
    print_row(
        "",
        [
            f"at {one.hz / 1e6:.0f} MHz {one.frame_cycles():.0f} a frame"
            for one in counted
        ],
    )
    for name in CASES:
        print_row(name, [frame_cell(one, name) for one in counted])
    cortex = next(one for one in counted if one.hz == DESIGN_HZ)
    worst = max(cortex.frame_cost(name).worst for name in fitting(DESIGN_VOICES, DESIGN_CHANNELS))
    most = int(DESIGN_SHARE * cortex.frame_cycles())
    print(
        f"\n{cortex.title}, in the worst frame of {DESIGN_VOICES} voices and {DESIGN_CHANNELS}"
        f" channels: {against(worst, most).strip()}"
    )


def frame_cell(one: Counted, case: str) -> str:
    if case not in one.runs:
        return "does not fit"
    cost = one.frame_cost(case)
    return f"{cost.usual} / {cost.worst} ({cost.worst / one.frame_cycles():4.0%})"


def print_functions(counted: Sequence[Counted]) -> None:
    """Where the cycles go in the dearest frame of the dearest case."""
    for one in counted:
        case = max(one.runs, key=lambda case: one.frame_cost(case).worst)
        print(
            f"\n{one.title}, {one.clock.samples_per_frame} samples, the worst frame of {case!r},"
            " cycles by function\n"
        )
        for function, cycles in list(one.runs[case].dearest().items())[:FUNCTIONS_SHOWN]:
            print(f"{function:30}{cycles:8}")


def print_samples(counted: Sequence[Counted]) -> None:
    """A row a coding."""
    print(
        "\ncycles of a sample, of noise at full scale: put out by one voice at the clip's own rate / one more"
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


def print_bounds(folder: Path) -> None:
    """What the dearest table that the check `table.work` passes takes, beside its bound."""
    folder.mkdir()
    print("\nthe dearest frames that tables ask for (tests/speed/worst.py)\n")
    for target in targets(folder):
        print_worst(target, draw(range(WORST_TABLES), target), 0)


def main() -> None:
    """Print sizes, then what frames and samples cost, and the dearest frames."""
    argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    ).parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        print_sizes(folder)
        print(
            f"\nATmega328P, the port as it is, with {AVR_CHANNELS} channels and {AVR_VOICES}"
            f" voices\n{avr.sizes(folder / 'avr')}",
            flush=True,
        )
        counted = all_counted(folder)
        print_frames(counted)
        print_samples(counted)
        print_functions(counted)
        print_bounds(folder / "dearest")


if __name__ == "__main__":
    main()
