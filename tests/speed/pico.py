"""What the RP2040's program leaves of its processor's time:
`python tests/speed/pico.py [--seconds 60]`.

The image of the package plays on the emulated board (tests/boards/pico) in the chip's time: the
demo lantern under its own presses, over and over; the dear tables of tests/table/test_frame_work.py;
and of 400 tables drawn as in worst.py, as large as the board takes, the ten that come nearest to
what is refused. The lights of these are on chains of registers, where they take most,
and sound is pulses. Samples and duties must be those of the reference.

late: frames that were not there when the one before had been heard; there must be none. idle,
usual, worst: the least, middle and greatest share of the time from one frame to the next in which
the processor did not sleep. longest: the player's work on its dearest frame, as such a share.
Cycles are those of the emulator; there an access to flash memory takes no longer than one to RAM,
of which only tables above 192 KiB make any.
"""

import argparse
import sys
import tempfile
from collections import deque
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from cases import CASES, PRESS, Clock, case_table
from worst import FRAMES, Target, draw

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "boards"), str(TESTS / "conformance")]

from pico_board import IMAGE, EmulatedBoard, build, player_in, unpacked, with_table
from vector_files import sha256

from fxseq.link import HostSession, open_port
from fxseq.link import messages as m
from fxseq.link.driver import converse
from fxseq.link.host_session import Script, Steps, Talk, ask, pause
from fxseq.player import Player, Press, duties
from fxseq.runs import load_prop
from fxseq.sequence.board_parts import board_parts
from fxseq.table import Coding, JointRecord, Table, Use, decode, encode
from fxseq.table.frame_work import FrameWork, frame_cycles

LANTERN = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"
HZ = 125e6
CLOCK = Clock(22050, 21)
SMALLER = Target("cortex_m", CLOCK, 48e6, 3, 24, 4, 12, tuple(Coding), lambda tables: [])
WHOLE = Target("cortex_m", CLOCK, HZ, 3, 64, 8, 32, tuple(Coding), lambda tables: [])
"""What tests/table draws for, and what the board has room for; they are played here."""
DEAREST = 71
"""Seed of tests/table/test_frame_work.py; so is the case."""
KNOWN = "4 voices, 24 flickers at once over flicker"
TABLES = 400
LARGEST = 10
"""Of those tables: that many with the highest bound are played."""
PULSES = JointRecord(Use.PWM, 0, 18)
POLL_EVERY_S = 1.0
"""Of the listener's time; that of the chip is at most four times as long."""
CELLS_FULL = ("--volts", "26:2")
"""The lantern's 6 V, behind a divider by three."""


class Case(NamedTuple):
    """What is played, and until which frame."""

    table: bytes
    presses: Sequence[Press]
    until_frame: int


class Load(NamedTuple):
    """late: frames of these. loads: share of each frame's time in which the processor did not
    sleep. longest: of what the player took for a frame, in cycles, interrupts included.
    """

    frames: int
    late: int
    loads: Sequence[float]
    longest: int


def lantern(seconds: float) -> Case:
    """The demo and its own presses, again and again."""
    prop = load_prop(LANTERN)
    script, _ = prop.script()
    until = round(seconds * prop.compiled.table.frame_rate_hz)
    presses = [
        press._replace(frame=press.frame + begin)
        for begin in range(0, until, script.until_frame)
        for press in script.presses
        if press.frame + begin < until
    ]
    return Case(prop.compiled.data, presses, until)


def in_chains(table: Table) -> Table:
    """With its lights on registers, in one chain or two, and its sound as pulses."""
    halves = [table.channels] if table.channels <= 24 else [32, table.channels - 32]
    chains = [
        JointRecord(Use.SHIFT_REGISTERS, sum(halves[:place]), 2 + 4 * place, count)
        for place, count in enumerate(halves)
    ]
    return replace(table, joints=(*chains, PULSES))


def pressed_once(table: Table, frames: int = FRAMES) -> Case:
    return Case(encode(in_chains(table)), [PRESS], frames)


def largest() -> list[Table]:
    """Of the tables drawn, those that are not refused, highest bound first."""
    tables = draw(range(TABLES), WHOLE)
    bounds = [FrameWork(table, WHOLE.kind).worst_cycles for table in tables]
    most = board_parts()["pico"].most_work * frame_cycles(tables[0], HZ)
    passed = [place for place, bound in enumerate(bounds) if bound <= most]
    return [tables[place] for place in sorted(passed, key=lambda place: -bounds[place])][:LARGEST]


def conversation(case: Case) -> Script[None]:
    """A run of which the board is asked but now and then, since answers take it time, too."""

    def script(talk: Talk) -> Steps[None]:
        waiting = deque(tuple(map(int, press)) for press in case.presses)
        _, clock = yield from ask(talk, m.Restart(), m.Clock)
        while clock.frame < case.until_frame:
            some = tuple(waiting.popleft() for _ in range(min(len(waiting), clock.press_room)))
            if some:
                _, clock = yield from ask(talk, m.Presses(clock.next_press, some), m.Clock)
            if clock.until < case.until_frame:
                _, clock = yield from ask(talk, m.Run(case.until_frame), m.Clock)
            yield from pause(talk, POLL_EVERY_S)
            _, clock = yield from ask(talk, m.ClockQuery(), m.Clock)
            assert clock.late == 0
        yield from ask(talk, m.Restart(), m.Clock)

    return script


def played(case: Case, player: str, folder: Path) -> Load:
    """On a board that is switched on with the table; it must play as the reference does."""
    flash = folder / "flash"
    flash.write_bytes(with_table(unpacked(IMAGE.read_bytes()), case.table))
    with EmulatedBoard(flash, "--speed", "4", "--player", player, *CELLS_FULL) as board:
        with open_port(board.where) as port:
            converse(port, HostSession(conversation(case), port.where))
            run = board.run()
    reference = Player(decode(case.table)).play(case.presses, case.until_frame)
    assert run["frames"] == case.until_frame
    assert run["samples"] == sha256(reference.samples.tolist(), signed=True)
    assert run["duties"] == sha256(duties(reference).ravel().tolist())
    return Load(run["frames"], run["late"], run["loads"], run["longest"])


def told(name: str, case: Case, load: Load) -> str:
    there = frame_cycles(decode(case.table), HZ)
    idle, usual, worst = np.quantile(load.loads, (0, 0.5, 1))
    return (
        f"{name:43} {load.frames:6} {load.late:5} {idle:6.0%} {usual:6.0%} {worst:6.0%}"
        f" {load.longest / there:8.0%}"
    )


def main() -> None:
    """Print a line for each case."""
    asked = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    asked.add_argument("--seconds", type=float, default=60, help="of the demo")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        assert build(folder).read_bytes() == IMAGE.read_bytes()
        player = player_in(folder / "pico.elf")
        cases = {
            "demo lantern": lantern(given.seconds),
            KNOWN: pressed_once(case_table(CASES[KNOWN], CLOCK), 1000),
            "dearest of 100, 4 voices, 24 channels": pressed_once(draw([DEAREST], SMALLER)[0]),
        }
        for place, table in enumerate(largest(), 1):
            cases[f"just taken, 8 voices, 64 channels, {place}"] = pressed_once(table)
        print(f"{'':43} frames  late   idle  usual  worst  longest")
        for name, case in cases.items():
            print(told(name, case, played(case, player, folder)), flush=True)


if __name__ == "__main__":
    main()
