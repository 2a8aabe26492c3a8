"""What a board counts stays counted: over power that fails at any byte, whatever stands in the
pages of its records, and on both board's sides alike.
"""

import ctypes
import random
from collections.abc import Callable

import pytest
from c_board import CBoard, compile_session, load
from simulated import MemoryFlash, Played, PowerCut, check, make_table

from fxseq.link import messages as m
from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.counts import COUNT_PAGES, EVERY_S, RECORD_BYTES, CountRecord, Counts
from fxseq.link.frames import FrameDecoder, encode_frame

ABILITY = Ability("test board", features=m.Feature.RUNS | m.Feature.COUNTING)
TABLE = make_table(90)
PAGE_BYTES = 64
SHOT, EMPTY, REFUSED = 7, 8, 15
Board = BoardSession | CBoard
PowerUp = Callable[[MemoryFlash, MemoryFlash], Board]


class Firing:
    """Traces a shot in each frame, and the rest now and then."""

    def __init__(self, table: bytes) -> None:
        self.table = table
        self.frame = 0

    def play(self, presses: list[m.Timed], until_frame: int) -> Played:
        events = [
            event for _ in range(self.frame, until_frame) for event in self.play_frame(0, 0)
        ]
        return Played(events)

    def play_frame(self, closed: int, struck: int) -> list[m.Timed]:
        frame = self.frame
        self.frame += 1
        kinds = [SHOT, *[EMPTY, REFUSED] * (frame == 1)]
        return [(frame, kind, 0, 0) for kind in kinds]


def asks(table: bytes) -> bool:
    return True


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    path = tmp_path_factory.mktemp("counts") / "session.so"
    compile_session(path)
    return load(path)


def python_board(flash: MemoryFlash, counts: MemoryFlash) -> BoardSession:
    return BoardSession(ABILITY, flash, check, Firing, Counts(counts), asks)


@pytest.fixture(params=["python", "c"])
def power_up(request: pytest.FixtureRequest, library: ctypes.CDLL) -> PowerUp:
    if request.param == "python":
        return python_board
    return lambda flash, counts: CBoard(library, flash, check, Firing, ABILITY, counts, asks)


@pytest.fixture(scope="module")
def loaded() -> bytes:
    """Flash memory with the table in it."""
    flash = MemoryFlash()
    board = BoardSession(ABILITY, flash, check, Firing)
    crc = m.table_crc(TABLE)
    for message in (m.Begin(len(TABLE), crc), m.Data(0, TABLE), m.Commit(len(TABLE), crc)):
        board.receive(encode_frame(message.encode(0)), 0.0)
        while board.busy:
            board.step(0.0)
    return bytes(flash.data)


def memory(data: bytes) -> MemoryFlash:
    flash = MemoryFlash()
    flash.data[:] = data
    return flash


def pages(image: bytes = b"") -> MemoryFlash:
    """For two records each."""
    flash = MemoryFlash(COUNT_PAGES, PAGE_BYTES)
    flash.data[: len(image)] = image
    return flash


def told(board: Board) -> m.Counts:
    out = board.receive(encode_frame(m.CountsQuery().encode(1)), 0.0)
    (message,) = FrameDecoder().feed(out)
    return m.decode_message(message).message


def live(board: Board, frames: int = 3) -> None:
    """Shots, and time enough to put them on record."""
    board.step(0.0)
    board.play(frames)
    for _ in range(2):
        board.step(EVERY_S)


def test_shots_and_refusals_are_counted_and_kept(power_up: PowerUp, loaded: bytes) -> None:
    counts = pages()
    for lives in range(1, 12):
        board = power_up(memory(loaded), counts)
        live(board)
        assert told(board) == m.Counts(1, lives, 3 * lives, 2 * lives, 0, 0xFFFF)


def test_a_cut_at_any_byte_loses_no_more_than_what_no_record_has(
    power_up: PowerUp, loaded: bytes
) -> None:
    """Lives in a row, so that pages fill up (2 records) and are erased more than once."""
    counts = pages()
    for lives in range(8):
        before, spent = bytes(counts.data), counts.spent
        live(power_up(memory(loaded), counts))
        total = counts.spent - spent
        assert total >= 2 * RECORD_BYTES
        seen = set()
        for budget in range(total):
            cut = pages(before)
            cut.budget = budget
            with pytest.raises(PowerCut):
                live(power_up(memory(loaded), cut))
            cut.budget = float("inf")
            found = told(power_up(memory(loaded), cut))
            seen.add((found.power_ups, found.shots))
        # What was on record, once more on; with this power-up; with its shots.
        assert seen <= {(lives + 1, 3 * lives), (lives + 2, 3 * lives), (lives + 2, 3 * lives + 3)}
        assert (lives + 2, 3 * lives) in seen


def test_records_are_minutes_apart(power_up: PowerUp, loaded: bytes) -> None:
    counts = pages()
    board = power_up(memory(loaded), counts)
    board.step(0.0)
    for second in range(1, 1000):
        board.play(second)
        board.step(float(second))
    assert counts.spent == RECORD_BYTES * (1 + 3) + PAGE_BYTES


def test_nothing_is_written_while_it_would_be_heard(library: ctypes.CDLL, loaded: bytes) -> None:
    counts = pages()
    board = CBoard(library, memory(loaded), check, Firing, ABILITY, counts, asks)
    spent = counts.spent
    board.is_quiet = False
    live(board)
    assert counts.spent == spent
    board.is_quiet = True
    board.step(EVERY_S + 1)
    assert counts.spent == spent + RECORD_BYTES


def test_nothing_is_written_while_a_push_is_under_way(power_up: PowerUp, loaded: bytes) -> None:
    counts = pages()
    board = power_up(memory(loaded), counts)
    spent = counts.spent
    board.receive(encode_frame(m.Begin(90, 1).encode(0)), 0.0)
    while board.busy:
        board.step(0.0)
    live(board)
    assert counts.spent == spent and told(board).shots == 3


def test_the_lowest_voltage_is_kept(library: ctypes.CDLL, loaded: bytes) -> None:
    measured = iter([0xFFFF, 40_000, 39_000, 41_000, 41_000, 41_000])
    boards: list[Callable[[MemoryFlash], Board]] = [
        lambda counts: CBoard(
            library, memory(loaded), check, Firing, ABILITY, counts, asks, lambda: next(measured)
        ),
        lambda counts: BoardSession(
            ABILITY, memory(loaded), check, Firing, Counts(counts, lambda: next(measured)), asks
        ),
    ]
    for make in boards:
        measured = iter([0xFFFF, 40_000, 39_000, 41_000, 41_000, 41_000])
        counts = pages()
        board = make(counts)
        for second in (0.0, 1.0, 2.0, EVERY_S, EVERY_S):
            board.step(second)
        assert told(board).lowest == 39_000
        assert CountRecord(2, 1, lowest=39_000).encode() in bytes(counts.data)


def test_whatever_stands_in_the_pages_both_sides_read_the_same(
    library: ctypes.CDLL, loaded: bytes
) -> None:
    chance = random.Random(7)
    for _ in range(200):
        image = b"".join(any_page(chance) for _ in range(COUNT_PAGES))
        sides = pages(image), pages(image)
        boards = (
            python_board(memory(loaded), sides[0]),
            CBoard(library, memory(loaded), check, Firing, ABILITY, sides[1], asks),
        )
        for board in boards:
            live(board)
        assert told(boards[0]) == told(boards[1])
        assert sides[0].data == sides[1].data


def any_page(chance: random.Random) -> bytes:
    page = b""
    while len(page) + RECORD_BYTES <= PAGE_BYTES:
        number = chance.choice((0, 1, 2, 3, 9, 0xFFFFFFFE, 0xFFFFFFFF))
        record = CountRecord(number, chance.randrange(99), chance.randrange(99)).encode()
        page += chance.choice((record, chance.randbytes(RECORD_BYTES), b"\xff" * RECORD_BYTES))
    return page.ljust(PAGE_BYTES, b"\xff")
