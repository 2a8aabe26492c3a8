"""The port for the Cortex-M3, under QEMU: a board to push to and to prove, whose power may fail,
and a player like the others.

More: `FXSEQ_MPS2_CUTS=200 FXSEQ_MPS2_CASES=10000 pytest tests/boards/test_mps2.py`.
"""

import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import mps2_board
import numpy as np
import pytest
import vector_files
from c_host import REASONS, in_order
from mps2_board import Board, Case, Result, instructions, run_all
from mutations import mutant
from random_runs import long_run, random_run
from small_tables import demo_table

from fxseq.link import Port, hello, open_port, prove, push
from fxseq.link.messages import table_crc
from fxseq.player import Player, Press, PressKind, duties
from fxseq.runs import load_prop
from fxseq.sequence import LinkError
from fxseq.table import BadTable, decode, encode

CUTS = int(os.environ.get("FXSEQ_MPS2_CUTS", "4"))
CASES = int(os.environ.get("FXSEQ_MPS2_CASES", "60"))
CHUNK = 250
FXSEQ = Path(sys.executable).with_name("fxseq")
LANTERN = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"
FIRST_SLOT = 2 * 4096
SECONDS_PROVED = 10

Start = Callable[[], Board]


@pytest.fixture(scope="session")
def programs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return mps2_board.build(tmp_path_factory.mktemp("mps2"))


@pytest.fixture
def start(programs: Path, tmp_path: Path) -> Iterator[Start]:
    """Switches on the board of this test, whose flash memory stays; it is off in the end, and
    has reported nothing.
    """
    boards: list[Board] = []

    def start() -> Board:
        boards.append(Board(programs, tmp_path))
        return boards[-1]

    yield start
    for board in boards:
        board.cut_power()
        assert board.text == ""


def fxseq(*arguments: str) -> str:
    """What the command says on stdout."""
    done = subprocess.run([FXSEQ, *arguments], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def lantern() -> bytes:
    """Of the demo, 97 KB."""
    return load_prop(LANTERN).compiled.data


@pytest.fixture(scope="module")
def flash(programs: Path, lantern: bytes, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What the flash memory holds once the command has pushed the demo to a new board, and the
    power is off.
    """
    folder = tmp_path_factory.mktemp("pushed")
    board = Board(programs, folder)
    try:
        text = fxseq("push", str(LANTERN), "--port", board.where)
    finally:
        board.cut_power()
    assert text.startswith(
        f"MPS2 AN385 on {board.where} now plays {LANTERN} ({len(lantern)} bytes in slot 0, "
    )
    assert board.text == ""
    return (folder / "flash").read_bytes()


@pytest.fixture
def start_pushed(start: Start, tmp_path: Path, flash: bytes) -> Start:
    """As `start`, with the demo on the board."""
    (tmp_path / "flash").write_bytes(flash)
    return start


def test_it_holds_what_was_pushed_and_plays_it_after_a_power_cut(
    start_pushed: Start, flash: bytes, lantern: bytes
) -> None:
    assert flash[FIRST_SLOT : FIRST_SLOT + len(lantern)] == lantern
    with open_port(start_pushed().where) as port:
        found = hello(port)
    assert (found.active, found.length_0, found.crc_0) == (0, len(lantern), table_crc(lantern))
    assert (found.length_1, found.crc_1) == (0, 0)


def test_the_command_proves_it(start_pushed: Start) -> None:
    presses = "tap flare @0.2, hold flare @0.5..1.5, set ring storm @1"
    text = fxseq("prove", str(LANTERN), "--presses", presses, "--port", start_pushed().where)
    assert f" plays {LANTERN} as the reference does: " in text


def script(table: bytes, seconds: int, seed: int) -> tuple[list[Press], int]:
    """Presses of every kind at about two a second, and the frame that ends them."""
    dice = random.Random(seed)
    known = decode(table)
    until = round(seconds * known.frame_rate_hz)
    presses = []
    frame = 0
    while (frame := frame + dice.randrange(50, 1400)) < until - 600:
        kind = dice.choice(["tap", "tap", "hold", "select", "volume"])
        if kind == "select":
            index = dice.randrange(len(known.selectors))
            presses.append(
                Press(
                    frame, PressKind.SELECT, index, dice.randrange(known.selectors[index].positions)
                )
            )
        elif kind == "volume":
            presses.append(Press(frame, PressKind.VOLUME, 0, dice.randint(0, 256)))
        else:
            index = dice.randrange(len(known.inputs))
            length = dice.randrange(30, 60) if kind == "tap" else dice.randrange(200, 500)
            presses += [
                Press(frame, PressKind.PRESS, index, 0),
                Press(frame + length, PressKind.RELEASE, index, 0),
            ]
    return in_order(presses), until


def test_ten_seconds_give_the_trace_of_the_reference(start_pushed: Start, lantern: bytes) -> None:
    presses, until = script(lantern, SECONDS_PROVED, 5)
    with open_port(start_pushed().where) as port:
        trace = prove(port, presses, until)
    assert {press.kind for press in presses} == set(PressKind) - {
        PressKind.HELD
    }  # which no link carries
    assert trace == Player(decode(lantern)).play(presses, until).trace
    assert len(trace) > 3 * len(presses)


class CutPort:
    """A port whose board loses its power once `left` bytes have gone to it, after a moment in
    which it may get to work on them.
    """

    def __init__(self, port: Port, board: Board, left: int, moment_s: float) -> None:
        self.where = port.where
        self.read = port.read
        self.baud = 0
        self._port = port
        self._board = board
        self._left = left
        self._moment_s = moment_s

    def write(self, data: bytes) -> None:
        """Pass on what is left of the bytes."""
        passing = data[: self._left]
        self._left = self._left - len(data)
        self._port.write(passing)
        if passing and self._left <= 0:
            time.sleep(self._moment_s)
            self._board.cut_power()


def playing(port: Port) -> tuple[int, int]:
    """Length and CRC-32 of the table that plays, once some frames of it have been played."""
    found = hello(port)
    assert found.has_table
    trace = prove(port, [Press(1, PressKind.PRESS, 0, 0)], 20)
    assert [event.frame for event in trace][:1] == [1]
    return ((found.length_0, found.crc_0), (found.length_1, found.crc_1))[found.active]


def test_power_that_fails_in_a_push_leaves_the_old_table_or_the_new_one(start: Start) -> None:
    dice = random.Random(7)
    old = demo_table(8000, 1)
    outcomes = []
    board = start()
    with open_port(board.where) as port:
        total = push(port, old).sent_bytes
    board.cut_power()
    for cut in range(CUTS):
        new = demo_table(8000, cut + 2)
        place = total - dice.randrange(60) if cut % 2 == 0 else dice.randrange(1, total)
        board = start()
        with open_port(board.where) as port:
            try:
                push(CutPort(port, board, place, dice.choice([0.0, 0.0005, 0.002, 0.02])), new)
            except LinkError:
                pass  # what it says is the business of tests/faults
            board.cut_power()
        board = start()
        with open_port(board.where) as port:
            found = playing(port)
        board.cut_power()
        assert found in (
            (len(table), table_crc(table)) for table in (old, new)
        ), f"cut {cut} at byte {place}"
        outcomes.append(found == (len(new), table_crc(new)))
        old = new if outcomes[-1] else old
    assert False in outcomes


def assert_plays(case: Case, result: Result, name: str) -> None:
    """As the reference. Trace first: what sounds and shines wrong mostly began wrong."""
    played = Player(decode(case.table)).play(case.presses, case.until_frame)
    assert result.status == 0, f"{name}: refused, {REASONS[result.status]} at {result.offset}"
    assert result.trace == [tuple(map(int, event)) for event in played.trace], name
    assert np.array_equal(result.duties, duties(played)), name
    assert np.array_equal(result.samples, played.samples), name
    assert result.saturated == played.saturated, name


@pytest.mark.parametrize(
    "seeds", [range(first, min(first + CHUNK, CASES)) for first in range(0, CASES, CHUNK)], ids=str
)
def test_it_gives_what_the_reference_gives(programs: Path, tmp_path: Path, seeds: range) -> None:
    runs = {seed: random_run(seed) for seed in seeds}
    cases = [
        Case(encode(run.table), in_order(run.presses), run.until_frame) for run in runs.values()
    ]
    for seed, case, result in zip(seeds, cases, run_all(programs, tmp_path, cases), strict=True):
        assert_plays(case, result, f"random_run({seed})")


def test_it_gives_what_the_reference_gives_in_long_runs(programs: Path, tmp_path: Path) -> None:
    runs = [long_run(seed) for seed in (0, 13)]
    cases = [Case(encode(run.table), in_order(run.presses), run.until_frame) for run in runs]
    for case, result in zip(cases, run_all(programs, tmp_path, cases), strict=True):
        assert_plays(case, result, "long run")


def test_it_plays_what_is_sound_and_survives_what_is_not(programs: Path, tmp_path: Path) -> None:
    """Whatever stands in a record, the board goes on (SPEC 1 R1); damage to the header it refuses
    as the reference does.
    """
    cases = [Case(mutant(encode(random_run(seed).table), seed), (), 3) for seed in range(100)]
    unsound = 0
    for seed, (case, result) in enumerate(
        zip(cases, run_all(programs, tmp_path, cases), strict=True)
    ):
        try:
            decode(case.table)
        except BadTable as fault:
            unsound += 1
            if result.status:
                told = (REASONS[result.status], result.offset)
                assert told == (fault.reason.name, fault.offset), f"mutant({seed})"
        else:
            assert_plays(case, result, f"mutant({seed})")
    assert unsound > 50


def test_it_gives_what_every_vector_says(programs: Path, tmp_path: Path) -> None:
    vectors = [vector for vector in vector_files.read_all() if "table" in vector]
    cases = []
    for vector in vectors:
        events = vector_files.events(vector) if vector["result"] == "plays" else []
        cases.append(
            Case(
                vector_files.table_bytes(vector),
                [Press(*event) for event in events],
                vector.get("until_frame", 1),
            )
        )
    for vector, result in zip(vectors, run_all(programs, tmp_path, cases), strict=True):
        refusal = (
            (vector["error"], vector["offset"]) if vector["result"] == "refused" else ("OK", 0)
        )
        assert (REASONS[result.status], result.offset) == refusal, vector["id"]
        if vector["result"] != "plays":
            continue
        assert result.trace == vector_files.trace(vector), vector["id"]
        assert (
            vector_files.sha256(result.samples.tolist(), signed=True) == vector["samples_sha256"]
        ), vector["id"]
        assert (
            vector_files.sha256(result.duties.ravel().tolist()) == vector["duties_sha256"]
        ), vector["id"]
        assert result.saturated == vector["saturated"], vector["id"]


def test_instructions_are_counted_alike_each_time(programs: Path, tmp_path: Path) -> None:
    run = random_run(3)
    case = Case(encode(run.table), in_order(run.presses), run.until_frame)
    first, second = (
        instructions(result.ticks) for result in run_all(programs, tmp_path, [case, case])
    )
    (again,) = (instructions(result.ticks) for result in run_all(programs, tmp_path, [case]))
    assert np.array_equal(first, second) and np.array_equal(first, again)
    assert first.min() > 100


def test_a_board_without_the_name_of_its_file_says_so(programs: Path, tmp_path: Path) -> None:
    ended = mps2_board.run_to_end(programs / "fxp_mps2.elf", tmp_path)
    assert ended.returncode == 2 and ended.stderr.startswith(
        "fxp_mps2: say which file is the flash memory"
    )


def test_a_file_that_is_no_flash_memory_is_refused(programs: Path, tmp_path: Path) -> None:
    (tmp_path / "flash").write_bytes(bytes(600_000))
    ended = mps2_board.run_to_end(programs / "fxp_mps2.elf", tmp_path, "flash")
    assert (ended.returncode, ended.stderr) == (
        2,
        "fxp_mps2: cannot read and write this file as flash memory, or it is too long: flash\n",
    )


@pytest.mark.parametrize(
    ("cases", "arguments", "why"),
    [
        (b"", (), "say which files"),
        (b"", ("none", "results"), "the cases cannot be read"),
        (b"\x05\0\0", ("cases", "results"), "the cases end in the middle of one"),
        (b"\xff" * 12, ("cases", "results"), "a case is too large"),
    ],
)
def test_cases_that_cannot_be_run_are_refused(
    programs: Path, tmp_path: Path, cases: bytes, arguments: tuple[str, ...], why: str
) -> None:
    (tmp_path / "cases").write_bytes(cases)
    ended = mps2_board.run_to_end(programs / "fxp_mps2_runs.elf", tmp_path, *arguments)
    assert ended.returncode == 2 and ended.stderr.startswith(f"fxp_mps2_runs: {why}")
