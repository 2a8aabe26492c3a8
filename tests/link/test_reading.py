"""A table is read back from a board as it is there, over whatever line, or not at all and in
words.
"""

import ctypes
from collections.abc import Callable
from dataclasses import replace

import pytest
from c_board import CBoard, compile_session, load
from c_players import Beats
from simulated import (
    BitErrors,
    Bursts,
    Clean,
    MemoryFlash,
    Nuisance,
    Wire,
    check,
    converse,
    make_board,
    make_table,
)
from test_lying_board import BOARD, TABLE
from test_lying_board import converse as converse_with

from fxseq.link import messages as m
from fxseq.link.host_push import push
from fxseq.link.host_read import ReadOut, read_table
from fxseq.link.host_session import PATIENCE_S, HostSession

PLAYS = replace(
    BOARD, active=1, features=8, length_1=len(TABLE), crc_1=m.table_crc(TABLE), slot_bytes=4096
)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    """Its answers have room for 62 bytes of a table."""
    path = tmp_path_factory.mktemp("small") / "small.so"
    compile_session(path, "-DFXL_BLOCK_BYTES=64", "-DFXL_EVENTS_MOST=7", "-DFXL_READ_BYTES=16")
    return load(path)


def loaded(make: Callable[[MemoryFlash], object], table: bytes) -> object:
    """A board that plays a table."""
    board = make(MemoryFlash(2 + 2 * 8, 4096))
    converse(HostSession(push(table, lambda board: []), "line"), board, Wire(), Wire())
    return board


def read_from(board: object, there: Wire, back: Wire) -> ReadOut:
    session = HostSession(read_table, "line")
    converse(session, board, there, back)
    return session.result


@pytest.mark.parametrize("side", ["python", "c"])
@pytest.mark.parametrize("size", [5, 33, 62, 347, 348, 349, 696, 697, 8 * 4096])
def test_any_length_is_read_whole(small: ctypes.CDLL, side: str, size: int) -> None:
    def c_board(flash: MemoryFlash) -> CBoard:
        return CBoard(small, flash, check, Beats)

    table = make_table(size)
    board = loaded(make_board if side == "python" else c_board, table)
    assert read_from(board, Wire(), Wire()).data == table


@pytest.mark.parametrize(
    "fault",
    [
        lambda seed: Clean(),
        lambda seed: BitErrors(1e-5, seed),
        lambda seed: BitErrors(1e-4, seed),
        Bursts,
        Nuisance,
    ],
)
def test_a_table_comes_whole_over_a_bad_line(fault: Callable[[int], Callable[[bytes], bytes]]):
    table = make_table(20_000)
    board = loaded(make_board, table)
    for seed in range(2):
        found = read_from(board, Wire(fault(seed)), Wire(fault(seed + 100)))
        assert found.data == table and found.board.playing == (20_000, m.table_crc(table))


def answering(part: Callable[[int], m.Message | None], board: m.Board = PLAYS) -> tuple[str, float]:
    """What the host says in the end, and when. part: what the board says of an offset."""

    def answer(request: m.Message) -> m.Message | None:
        return part(request.offset) if isinstance(request, m.Read) else board

    text, now, _ = converse_with(HostSession(read_table, "line"), answer)
    return text, now


def honest(offset: int) -> m.Part:
    return m.Part(offset, TABLE[offset : offset + 348])


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (lambda at: m.Part(at, TABLE[at : at + 31]), "it gives 31 bytes at a time"),
        (lambda at: m.Part(0, TABLE[:348]), "it gives 348 bytes from 0 on where 348 is asked for"),
        (
            lambda at: m.Part(at, TABLE[at : at + 348 - at // 700]),
            "it gives 347 bytes from 1044 on where 1044 is asked for",
        ),
        (lambda at: m.Part(at, bytes(348)), "it gives 348 bytes from 1392 on where 1392"),
        (lambda at: m.Error(m.ErrorCode.FLASH, 0) if at else honest(0), "the board could not"),
        (lambda at: honest(at) if at < 700 else m.Part(at, bytes(len(TABLE[at:][:348]))), "what was read"),
    ],
)  # fmt: skip
def test_a_board_that_lies_about_its_table_is_told(
    part: Callable[[int], m.Message], text: str
) -> None:
    told, now = answering(part)
    assert text in told and now < 1


def test_a_slot_that_is_too_small_for_its_table_is_told() -> None:
    told, _ = answering(honest, replace(PLAYS, slot_bytes=1000))
    assert told.startswith("line: the board's answers make no sense: it has 1500 bytes in 1000")


def test_silence_in_the_middle_ends_within_its_time() -> None:
    told, now = answering(lambda at: honest(at) if at < 700 else None)
    assert told == "line: no answer for 5 s. Check plug and cable, then try again."
    assert now < PATIENCE_S + 1


def test_words_without_end_that_nobody_asked_for_end_within_their_time() -> None:
    def answer(request: m.Message) -> m.Message | None:
        return PLAYS if isinstance(request, m.Hello) else None

    session = HostSession(read_table, "line")
    text, now, _ = converse_with(session, answer, unasked=m.Status(0, 0))
    assert text.startswith("line: no answer for 5 s.") and now < PATIENCE_S + 1
