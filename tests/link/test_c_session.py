"""The board's side in C (firmware_spec/player/fxl.h): over bad lines, through power cuts, and
against the Python one.
"""

import ctypes
import os
import random
import struct
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import c_fuzz
import pytest
from c_board import PLAYER, SOURCES, STRICT, CBoard, compile_session, load
from c_players import INPUTS, Beats, PressedBeats, Reference
from simulated import (
    BitErrors,
    Bursts,
    Clean,
    MemoryFlash,
    Nuisance,
    PowerCut,
    Wire,
    check,
    converse,
    make_table,
)
from small_tables import demo_table
from test_board_session import CRC, SPOILT, TABLE, tell
from test_speed import Losing

from fxseq.link import messages as m
from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.frames import encode_frame
from fxseq.link.host_proof import prove
from fxseq.link.host_push import Pushed, push
from fxseq.link.host_session import HostSession
from fxseq.link.slots import FlashError
from fxseq.link.virtual_board import TablePlayer
from fxseq.sequence import LinkError
from fxseq.table import decode, encode

SMALL = (
    "-DFXL_BLOCK_BYTES=64",
    "-DFXL_WINDOW=2",
    "-DFXL_PRESS_ROOM=8",
    "-DFXL_TRACE_ROOM=24",
    "-DFXL_EVENTS_MOST=7",
    "-DFXP_SMALL",
)
"""As on a chip with 2 KB of memory."""
SANITIZED = ("-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-fno-omit-frame-pointer")
SIZE = 20_000


@pytest.fixture(scope="session")
def libraries(tmp_path_factory: pytest.TempPathFactory) -> dict[str, ctypes.CDLL]:
    folder = tmp_path_factory.mktemp("fxl")
    compile_session(folder / "large.so")
    compile_session(folder / "small.so", *SMALL)
    return {"large": load(folder / "large.so"), "small": load(folder / "small.so")}


@pytest.fixture
def large(libraries: dict[str, ctypes.CDLL]) -> ctypes.CDLL:
    return libraries["large"]


@pytest.fixture
def small(libraries: dict[str, ctypes.CDLL]) -> ctypes.CDLL:
    return libraries["small"]


def make_c_board(library: ctypes.CDLL, flash: MemoryFlash | None = None) -> CBoard:
    return CBoard(library, flash or MemoryFlash(2 + 2 * 8, 4096), check, Beats)


@pytest.mark.parametrize("errors", [0.0, 1e-4])
def test_a_line_that_is_made_quicker(large: ctypes.CDLL, errors: float) -> None:
    ability = Ability("test board", features=m.Feature.SPEED, most_baud=1_000_000)
    board = CBoard(large, MemoryFlash(2 + 2 * 8, 4096), check, Beats, ability)
    table = make_table(SIZE)
    host = HostSession(push(table, lambda board: []), "line", baud=m.BASE_BAUD)
    wires = [Wire(BitErrors(errors, seed) if errors else Clean()) for seed in (1, 2)]
    seconds = converse(host, board, *wires)
    assert board.player.table == table and board.baud == m.BASE_BAUD
    assert host.result.baud == 1_000_000 and seconds < 0.5


def push_session(table: bytes, tag: int = 0) -> HostSession[Pushed]:
    return HostSession(push(table, lambda board: []), "line", tag)


def carry(
    board: CBoard, table: bytes, there: Wire | None = None, back: Wire | None = None, **how: float
) -> float:
    return converse(push_session(table), board, there or Wire(), back or Wire(), **how)


# Over the line.


@pytest.mark.parametrize("size", ["large", "small"])
@pytest.mark.parametrize(
    "fault",
    [
        lambda seed: Clean(),
        lambda seed: BitErrors(1e-5, seed),
        Bursts,
        lambda seed: BitErrors(1e-4, seed),
        Nuisance,
    ],
)
def test_table_arrives_and_plays_over_a_bad_line(
    libraries: dict[str, ctypes.CDLL], size: str, fault: Callable[[int], Callable[[bytes], bytes]]
) -> None:
    for seed in range(2):
        flash = MemoryFlash(2 + 2 * 8, 4096)
        table = make_table(SIZE, seed)
        board = make_c_board(libraries[size], flash)
        carry(board, table, Wire(fault(seed)), Wire(fault(seed + 100)))
        assert board.player.table == table
        assert make_c_board(libraries[size], flash).player.table == table


def test_table_arrives_over_a_line_that_reorders(large: ctypes.CDLL) -> None:
    board = make_c_board(large)
    table = make_table(SIZE)
    carry(board, table, Wire(late=0.01, seed=1), Wire(late=0.01, seed=2))
    assert board.player.table == table


@pytest.mark.parametrize("size", [5, 6, 63, 64, 65, 351, 352, 353, 704, 705, 8 * 4096])
def test_any_length_arrives_whole(large: ctypes.CDLL, small: ctypes.CDLL, size: int) -> None:
    for library in (large, small):
        board = make_c_board(library)
        table = make_table(size)
        carry(board, table)
        assert board.player.table == table


def test_slow_work_of_the_board_is_waited_for(large: ctypes.CDLL) -> None:
    """Half a second for each page and each read of 32 bytes."""
    board = make_c_board(large)
    table = make_table(1000)
    assert carry(board, table, step_s=0.5) > 16
    assert board.player.table == table


def test_tables_take_turns_in_the_slots_and_marks_in_their_pages(small: ctypes.CDLL) -> None:
    """Pages of 64 bytes hold four marks, so each page of marks is erased several times."""
    flash = MemoryFlash(2 + 2 * 4, 64)
    for turn in range(20):
        table = make_table(100 + turn, turn)
        carry(make_c_board(small, flash), table)
        assert make_c_board(small, flash).player.table == table


def test_hello_tells_what_the_board_is(small: ctypes.CDLL) -> None:
    session = push_session(make_table(100))
    converse(session, make_c_board(small), Wire(), Wire())
    numbers = (1, 2, 48_000, 255, 16, 16, 31, 153, 64, 2, 8, 24, 8 * 4096, 2, 0, 0, 0, 0, 0, 0)
    assert session.result.board == m.Board(*numbers, "test board")
    assert session.result.slot == 0


@pytest.mark.parametrize("size", ["small", "large"])
def test_sounds_that_the_board_has_are_copied(libraries: dict[str, ctypes.CDLL], size: str) -> None:
    """The second table has a sound more in front, of an odd number of bytes."""
    board = CBoard(libraries[size], MemoryFlash(2 + 2 * 8, 4096), lambda table: None, Beats)
    first = demo_table(6001)
    (clip,) = decode(first).clips
    front = replace(clip, samples=333, data=bytes(range(3, 114)) * 3)
    second = encode(replace(decode(first), clips=(front, clip)))
    carry(board, first)
    session = push_session(second, 3)
    converse(session, board, Wire(BitErrors(1e-5, 1)), Wire(BitErrors(1e-5, 2)), step_s=0.001)
    assert board.player.table == second
    assert (session.result.kept, session.result.sounds) == (1, 2)
    assert session.talk.sent_bytes < 3000


def test_table_that_the_player_refuses_leaves_the_old_one_playing(large: ctypes.CDLL) -> None:
    board = make_c_board(large)
    carry(board, make_table(100))
    with pytest.raises(LinkError, match="refuses the table"):
        carry(board, make_table(120, 1, b"bad"))
    assert board.player.table == make_table(100)


@pytest.mark.parametrize("spoilt", SPOILT.values(), ids=SPOILT)
def test_begin_after_a_bad_outcome_begins_anew(large: ctypes.CDLL, spoilt: bytes) -> None:
    board = make_c_board(large)
    for block, good in ((spoilt, False), (TABLE, True)):
        assert tell(board, m.Begin(100, CRC))[-1] == (1, m.Status(0, 0))
        tell(board, m.Data(0, block))
        assert (tell(board, m.Verify(), 2)[-1] == (2, m.Verified(100, CRC))) is good
    assert tell(board, m.Begin(100, CRC)) == [(1, m.Status(1, 0))]


# Flash memory that fails.


class Failing(MemoryFlash):
    """The operation number `fails` is not carried out; `says_so` or not."""

    fails = -1
    says_so = False

    def _put(self, offset: int, data: bytes) -> None:
        self.fails -= 1
        if self.fails != -1:
            super()._put(offset, data)
        elif self.says_so:
            raise FlashError


@pytest.mark.parametrize("says_so", [False, True])
def test_flash_that_leaves_out_any_operation_leaves_a_whole_table(
    small: ctypes.CDLL, says_so: bool
) -> None:
    """The push marks what plays, which fills a page of marks, erases 4 pages, writes 4 blocks,
    erases the other page of marks and writes a mark. Where nothing says that one was left out,
    the read-back has to show it; but 2 of the 5 erasures are of pages never written.
    """
    flash = Failing(2 + 2 * 4, 64)
    for turn in range(4):
        carry(make_c_board(small, flash), make_table(90, turn))
    before = bytes(flash.data)
    failed = 0
    for number in range(11):
        flash.data = bytearray(before)
        flash.fails = number
        flash.says_so = says_so
        board = make_c_board(small, flash)
        try:
            carry(board, make_table(200, 9))
        except LinkError:
            failed += 1
            assert (
                board.player.table == make_c_board(small, flash).player.table == make_table(90, 3)
            )
            carry(board, make_table(200, 9))
        assert board.player.table == make_c_board(small, flash).player.table == make_table(200, 9)
        assert flash.fails < -1
    assert failed == (11 if says_so else 9)


# Cuts.


def test_cut_at_any_byte_of_the_flash_leaves_the_old_table_or_the_new_one(
    small: ctypes.CDLL,
) -> None:
    """Five pushes, so that marks fill a page (4 of 16 bytes) and the other page is erased."""
    flash = MemoryFlash(2 + 2 * 4, 64)
    carry(make_c_board(small, flash), make_table(90, 0))
    for turn in range(1, 6):
        old = make_table(89 + turn, turn - 1)
        new = make_table(90 + turn, turn)
        before = bytes(flash.data)
        spent = flash.spent
        carry(make_c_board(small, flash), new)
        after = bytes(flash.data)
        total = flash.spent - spent
        outcomes = set()
        for budget in range(total):
            flash.data = bytearray(before)
            flash.budget = budget
            with pytest.raises(PowerCut):
                carry(make_c_board(small, flash), new)
            flash.budget = float("inf")
            outcomes.add(make_c_board(small, flash).player.table)
        assert {old} <= outcomes <= {old, new}
        flash.data = bytearray(after)


class CutOff(Exception):
    """The line is dead."""


class CutWire(Wire):
    """Dead after so many bytes."""

    left = 0

    def put(self, data: bytes, now_s: float) -> None:
        super().put(data[: self.left], now_s)
        self.left -= len(data)
        if self.left < 0:
            raise CutOff


def test_line_cut_at_any_byte_leaves_the_old_table_or_the_new_one(small: ctypes.CDLL) -> None:
    flash = MemoryFlash(2 + 2 * 4, 64)
    old = make_table(90, 1)
    new = make_table(200, 2)
    carry(make_c_board(small, flash), old)
    before = bytes(flash.data)
    outcomes = []
    left = 0
    while True:
        flash.data = bytearray(before)
        wire = CutWire()
        wire.left = left
        try:
            carry(make_c_board(small, flash), new, wire)
        except CutOff:
            outcomes.append(make_c_board(small, flash).player.table)
            left += 1
        else:
            break
    assert len(outcomes) > len(new)
    assert set(outcomes) == {old}


# A run.

PRESSES = [
    (3, 0, 0, 0),
    (3, 1, 0, 0),
    (40, 0, 0, 0),
    (90, 2, 0, 1),
    (90, 2, 0, 0),
    (91, 3, 0, 100),
    (150, 1, 0, 0),
    (160, 0, 0, 0),
    (390, 3, 0, 256),
]
FRAMES = 400


def run_of(
    board: CBoard | BoardSession, presses: list[m.Timed], there: Wire, back: Wire
) -> list[m.Timed]:
    session = HostSession(prove(presses, FRAMES), "line")
    converse(session, board, there, back, frames_per_s=1000.0)
    return session.result


# A small board's 24 events last no longer than it takes to ask for them again, so it needs a line
# that loses nothing.
@pytest.mark.parametrize(
    ("size", "fault"),
    [("large", lambda seed: BitErrors(3e-5, seed)), ("small", lambda seed: Clean())],
)
def test_run_on_the_board_has_the_trace_of_the_reference(
    libraries: dict[str, ctypes.CDLL], size: str, fault: Callable[[int], Callable[[bytes], bytes]]
) -> None:
    board = CBoard(libraries[size], MemoryFlash(2 + 2 * 8, 4096), lambda table: None, Reference)
    table = demo_table()
    carry(board, table)
    reference = TablePlayer(decode(table)).play(PRESSES, FRAMES).trace
    assert len(reference) > 40
    assert run_of(board, PRESSES, Wire(fault(1)), Wire(fault(2))) == [
        tuple(event) for event in reference
    ]
    board.play(10)
    assert board.player.frame == 10


def test_run_has_the_trace_that_the_python_session_gives(small: ctypes.CDLL) -> None:
    dice = random.Random(1)
    presses = sorted(
        (dice.randrange(20, FRAMES), dice.randrange(2), dice.randrange(INPUTS), 0)
        for _ in range(40)
    )
    boards = make_c_board(small), BoardSession(
        Ability("test board"), MemoryFlash(2 + 2 * 8, 4096), check, PressedBeats
    )
    for board in boards:
        carry(board, make_table(100))
    assert run_of(boards[0], presses, Wire(), Wire()) == run_of(boards[1], presses, Wire(), Wire())


@pytest.mark.parametrize(
    ("hand", "events"),
    [
        (0b00, [(2, 1, 0, 0), (5, 2, 0, 0)]),
        (0b01, [(0, 1, 0, 0)]),
        (0b10, [(0, 1, 1, 0), (2, 1, 0, 0), (5, 2, 0, 0)]),
    ],
)
def test_contact_is_closed_while_a_hand_or_a_virtual_press_closes_it(
    large: ctypes.CDLL, hand: int, events: list[m.Timed]
) -> None:
    """LINK 6 R10. The hand holds its contacts all the time."""
    board = make_c_board(large)
    carry(board, make_table(100))
    tell(board, m.Restart())
    tell(board, m.Presses(0, ((2, 0, 0, 0), (5, 1, 0, 0))))
    tell(board, m.Run(9))
    board.play(9, hand)
    trace = tell(board, m.TraceQuery(0))[0].message.events
    assert [event for event in trace if event[1] != 9] == events


# Against the Python session.


@pytest.mark.parametrize(("size", "count"), [("small", 300), ("large", 300), ("least", 50)])
def test_conversations_are_those_of_the_python_session(
    tmp_path: Path, size: str, count: int
) -> None:
    """Each with 40 messages."""
    compile_session(tmp_path / "session.so", *c_fuzz.BUILDS[size])
    library = load(tmp_path / "session.so")
    c_fuzz.every_form(library, size)
    for seed in range(count):
        c_fuzz.converse(library, size, seed)


def test_clock_that_comes_round_is_that_of_the_python_session(large: ctypes.CDLL) -> None:
    """2^32 frames are weeks; presses before and after, and runs that end on either side."""
    for until in (0, 7, 30, 2**32 - 4, 2**32 - 2, m.FOR_EVER):
        pair = c_fuzz.Pair(large, c_fuzz.ABILITIES["large"])
        pair.preload(make_table(60))
        pair.jump(2**32 - 10)
        presses = m.Presses(0, ((3, 0, 0, 0), (2**32 - 6, 0, 1, 0), (2**32 - 1, 1, 0, 0)))
        more = m.Presses(3, ((2, 0, 2, 0), (25, 1, 1, 0)))
        for message in (
            presses,
            m.Hello(),
            m.ClockQuery(),
            m.Presses(3, ((12, 0, 2, 0),)),
            m.Run(until),
            m.TraceQuery(0),
            m.Run(m.FOR_EVER),
            more,
            m.Run(until),
            m.Hello(),
            m.TraceQuery(2),
            m.ClockQuery(),
        ):
            pair.tell(encode_frame(message.encode(3)), True)
            pair.play(3)


@pytest.mark.parametrize("size", ["small", "large"])
def test_nothing_on_the_line_makes_it_leave_its_memory(tmp_path: Path, size: str) -> None:
    """Conversations and noise, with a session that stops at any access outside its memory and
    any operation that C does not define.
    """
    library = tmp_path / "sanitized.so"
    compile_session(library, *SANITIZED, *c_fuzz.BUILDS[size])
    preload = subprocess.run(
        ["gcc", "-print-file-name=libasan.so"], check=True, capture_output=True, text=True
    ).stdout.strip()
    environment = os.environ | {
        "LD_PRELOAD": preload,
        "ASAN_OPTIONS": "detect_leaks=0",
        "PYTHONMALLOC": "malloc",
    }
    command = [sys.executable, c_fuzz.__file__, str(library), size, "100"]
    ran = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stdout) == (0, "100 conversations, 100 times noise\n"), ran.stderr[
        -4000:
    ]


@pytest.mark.parametrize("blocks", [65_535, 65_536])
def test_more_blocks_than_can_be_numbered_are_refused(tmp_path: Path, blocks: int) -> None:
    """Slots of 65,600 blocks of 32 bytes."""
    compile_session(tmp_path / "session.so", *c_fuzz.BUILDS["small"])
    board = make_c_board(load(tmp_path / "session.so"), MemoryFlash(2 + 2 * 41 * 25, 2048))
    answer = board.receive(encode_frame(m.Begin(32 * blocks, 0).encode(1)), 0.0)
    expected = m.Wait() if blocks == 65_535 else m.Error(m.ErrorCode.TOO_LARGE, 32 * 65_600)
    assert answer == encode_frame(expected.encode(1))


@pytest.mark.parametrize("blocks", [32_767, 32_768])
def test_more_halves_than_can_be_numbered_are_refused(tmp_path: Path, blocks: int) -> None:
    compile_session(tmp_path / "session.so", *c_fuzz.BUILDS["small"])
    board = make_c_board(load(tmp_path / "session.so"), MemoryFlash(2 + 2 * 16, 65_536))
    assert tell(board, m.Begin(32 * blocks, 0))[-1].message == m.Status(0, 0)
    expected = m.Halved(0, 0) if blocks == 32_767 else m.Error(m.ErrorCode.BAD_FIELD, 0)
    assert tell(board, m.Halve(), 2) == [(2, expected)]


def test_bad_line_has_blocks_halved(large: ctypes.CDLL) -> None:
    table = make_table(30_000)
    board = make_c_board(large)
    asked = Losing(m.Halve)
    fault = BitErrors(2e-4, 1)
    converse(push_session(table), board, Wire(lambda data: asked(fault(data))), Wire())
    assert board.player.table == table and asked.seen == 1


@pytest.mark.parametrize("run", [None, *range(236, 260)])
def test_answer_with_a_long_run_of_bytes_that_are_not_zero_is_a_sound_frame(
    large: ctypes.CDLL, run: int | None
) -> None:
    """COBS cuts such a run after 254 bytes (LINK 2)."""
    body = bytearray(b"\xa5" * 8 * m.MOST_EVENTS)
    if run is not None:
        body[run] = 0

    class Given(Beats):
        def play_frame(self, closed: int, struck: int) -> list[m.Timed]:
            self.frame += 1
            return list(struct.iter_unpack("<IBBH", body))

    board = CBoard(large, MemoryFlash(2 + 2 * 8, 4096), check, Given)
    carry(board, make_table(100))
    board.play(1)
    answer = board.receive(encode_frame(m.TraceQuery(0).encode(2)), 0.0)
    events = m.Events(1, 0, tuple(struct.iter_unpack("<IBBH", body)))
    assert answer == encode_frame(events.encode(2))


@pytest.mark.parametrize("run", range(236, 260))
def test_block_with_a_long_run_of_bytes_that_are_not_zero_is_taken(
    large: ctypes.CDLL, run: int
) -> None:
    for table in (
        make_table(700, 1, b"\xa5" * run + b"\0" + b"\x5a" * 400),
        make_table(700, 1, b"\xa5" * 352 + b"\x5a" * run),
    ):
        board = make_c_board(large)
        carry(board, table)
        assert board.player.table == table


# Compilers and sizes.

HOSTS = {
    "gcc": ["gcc"],
    "clang": ["clang"],
    "cortex-m0": ["arm-none-eabi-gcc", "-mcpu=cortex-m0", "-mthumb"],
    "avr": ["avr-gcc", "-mmcu=atmega328p", *SMALL],
}


@pytest.mark.parametrize("compiler", HOSTS)
@pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.name)
def test_it_compiles_without_a_warning(tmp_path: Path, compiler: str, source: Path) -> None:
    subprocess.run(
        [
            *HOSTS[compiler],
            *STRICT,
            "-Os",
            "-ffreestanding",
            "-c",
            str(source),
            "-o",
            str(tmp_path / "out.o"),
        ],
        check=True,
    )


@pytest.mark.parametrize(("compiler", "most_bytes"), [("cortex-m0", 3200), ("avr", 532)])
def test_state_is_as_small_as_the_header_says(
    tmp_path: Path, compiler: str, most_bytes: int
) -> None:
    """With a player of 1 KB, nearly a quarter of the 2 KB of an ATmega328P is left for the port and
    the stack.
    """
    source = tmp_path / "size.c"
    source.write_text(
        f'#include "fxl.h"\ntypedef char fits[sizeof(struct fxl) <= {most_bytes} ? 1 : -1];\nextern'
        " fits unused;\n"
    )
    command = [
        *HOSTS[compiler],
        *STRICT,
        "-DFXL_WITHOUT_SPEED",
        "-DFXL_WITHOUT_COUNTS",
        "-ffreestanding",
        f"-I{PLAYER}",
        "-c",
        str(source),
        "-o",
        str(tmp_path / "out.o"),
    ]
    subprocess.run(command, check=True)


def test_size_outside_its_range_does_not_compile(tmp_path: Path) -> None:
    ran = subprocess.run(
        [
            "gcc",
            "-DFXL_BLOCK_BYTES=353",
            f"-I{PLAYER}",
            "-c",
            str(SOURCES[0]),
            "-o",
            str(tmp_path / "out.o"),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "a size is outside its range" in ran.stderr
