"""Blocks of half the size on a bad line (LINK 4.7), in virtual time."""

import random
from collections.abc import Callable

import pytest
from simulated import (
    BitErrors,
    Bursts,
    Clean,
    Gone,
    MemoryFlash,
    Wire,
    converse,
    make_board,
    make_table,
)
from test_delta import SOUNDS, new_board, with_sounds
from test_speed import FEATURES, QUICK_FROM, Losing

from fxseq.link import messages as m
from fxseq.link.board_session import Ability, BoardSession, Push, Refused
from fxseq.link.host_push import FRAME_BYTES, LOOKED_AT, push, repeats_to_halve
from fxseq.link.host_session import HostSession
from fxseq.link.slots import MARK_BYTES

TABLE = make_table(40_000)
Fault = Callable[[bytes], bytes]
WHOLE = Ability("").features & ~m.Feature.HALVING


def board_of(**ability: object) -> BoardSession:
    return make_board(MemoryFlash(2 + 2 * 16, 4096), **ability)


def host_of(table: bytes = TABLE, tag: int = 0) -> HostSession:
    return HostSession(push(table, lambda board: []), "line", tag)


class Both:
    """Two faults after each other."""

    def __init__(self, first: Losing, second: Fault) -> None:
        self.first = first
        self._second = second

    def __call__(self, data: bytes) -> bytes:
        return self._second(self.first(data))


def halvings(fault: Fault, board: BoardSession, latency_s: float = 0.001) -> int:
    """How many HALVE a push has taken, over a line with such a fault."""
    line = Both(Losing(m.Halve), fault)
    converse(host_of(), board, Wire(line, latency_s), Wire(latency_s=latency_s))
    assert board.player.table == TABLE
    return line.first.seen


@pytest.mark.parametrize("block_bytes", [352, 128, 64])
def test_as_many_repeats_as_halve_a_block_mean_that_halves_carry_more(block_bytes: int) -> None:
    """Bit errors that lose so many blocks, and the share of the line that is left of both sizes."""
    come = 1 - repeats_to_halve(block_bytes) / LOOKED_AT
    survives = come ** (1 / (block_bytes + FRAME_BYTES))
    whole, half = (
        size / (size + FRAME_BYTES) * survives ** (size + FRAME_BYTES)
        for size in (block_bytes, block_bytes // 2)
    )
    assert half > 1.02 * whole


@pytest.mark.parametrize(
    ("rate", "window", "gain"), [(1e-4, 16, 1.06), (2e-4, 16, 1.2), (2e-4, 3, 1.1)]
)
def test_a_bad_line_carries_more(rate: float, window: int, gain: float) -> None:
    seconds = [0.0, 0.0]
    for seed in range(2):
        for which, features in enumerate((WHOLE, WHOLE | m.Feature.HALVING)):
            wires = [Wire(BitErrors(rate, 2 * seed + way)) for way in (0, 1)]
            board = board_of(features=features, window=window)
            seconds[which] += converse(host_of(), board, *wires)
            assert board.player.table == TABLE
    assert seconds[0] > gain * seconds[1]


@pytest.mark.parametrize(
    "fault", [Clean(), BitErrors(1e-5, 3), Bursts(1)], ids=["clean", "1e-5", "20"]
)
def test_blocks_stay_whole_where_few_are_lost(fault: Fault) -> None:
    assert halvings(fault, board_of()) == 0


def test_a_bad_line_is_asked_once() -> None:
    assert halvings(BitErrors(1e-4, 1), board_of()) == 1


def test_blocks_stay_whole_where_the_window_would_not_hold_enough_halves() -> None:
    assert halvings(BitErrors(1e-4, 1), board_of(), latency_s=0.1) == 0


@pytest.mark.parametrize(("quickest", "halved"), [(m.BASE_BAUD, 1), (m.MOST_BAUD, 0)])
def test_blocks_are_halved_at_the_base_speed_alone(quickest: int, halved: int) -> None:
    """A line that bears no other speed, and one that does; both are bad."""
    lines = [Both(Losing(m.Halve), BitErrors(1e-4, seed)) for seed in (1, 2)]
    quick = lines if quickest > m.BASE_BAUD else [lambda data: b""] * 2
    wires = [
        Wire(line, quick_fault=fault, quick_from=QUICK_FROM)
        for line, fault in zip(lines, quick, strict=True)
    ]
    board = board_of(features=FEATURES)
    host = HostSession(push(TABLE, lambda board: []), "line", baud=m.BASE_BAUD)
    converse(host, board, *wires)
    assert board.player.table == TABLE
    assert (host.result.baud, lines[0].first.seen) == (quickest, halved)


def test_blocks_stay_whole_on_a_board_without_halves() -> None:
    assert halvings(BitErrors(1e-4, 1), board_of(features=WHOLE)) == 0


@pytest.mark.parametrize(
    ("there", "back"),
    [(Losing(m.Halve, 0, 1), Losing(m.Halve)), (Losing(m.Halve), Losing(m.Halved, 0, 1))],
    ids=["question", "answer"],
)
def test_what_gets_lost_is_asked_again(there: Losing, back: Losing) -> None:
    board = board_of()
    converse(host_of(), board, Wire(Both(there, BitErrors(1e-4, 1))), Wire(back))
    assert board.player.table == TABLE and there.seen == 3


@pytest.mark.parametrize("at_s", [1.5, 1.7, 1.9, 2.1, 2.3, 2.5])
def test_the_next_host_goes_on_with_halves(at_s: float) -> None:
    """Each byte is written once; only what has not come is sent."""
    board = board_of()
    flash = board._slots._flash
    with pytest.raises(Gone):
        converse(host_of(), board, Wire(BitErrors(2e-4, 5), ends_at_s=at_s), Wire())
    under_way = board._push
    assert under_way.halved
    come = under_way.base * under_way.block_bytes
    follower = host_of(tag=3)
    converse(follower, board, Wire(), Wire())
    assert board.player.table == TABLE
    assert follower.talk.sent_bytes < (len(TABLE) - come) * 1.06 + 60
    assert flash.spent == 10 * 4096 + len(TABLE) + MARK_BYTES


def test_power_that_fails_in_a_push_of_halves_brings_whole_blocks_back() -> None:
    flash = MemoryFlash(2 + 2 * 16, 4096)
    with pytest.raises(Gone):
        converse(host_of(), make_board(flash), Wire(BitErrors(2e-4, 5), ends_at_s=2.0), Wire())
    board = make_board(flash)
    follower = host_of()
    converse(follower, board, Wire(), Wire())
    assert board.player.table == TABLE and follower.talk.sent_bytes < 1.04 * len(TABLE)


def test_copies_that_were_found_before_are_made_in_halves() -> None:
    table = with_sounds(random.Random(1).randbytes(16_000), *SOUNDS[:2])
    board, copied, halved = new_board(), Losing(m.Copy), Losing(m.Halve)
    session = host_of(table)
    converse(session, board, Wire(Both(copied, Both(halved, BitErrors(1e-4, 1)))), Wire())
    assert board.player.table == table and copied.seen > 0 and halved.seen > 0
    assert session.result.kept == 2 and session.talk.sent_bytes < 30_000


@pytest.mark.parametrize("blocks", [32_767, 32_768])
def test_a_table_whose_halves_cannot_be_numbered_keeps_whole_blocks(blocks: int) -> None:
    under_way = Push(0, 352 * blocks, 0, 352)
    if blocks == 32_767:
        under_way.halve()
        assert under_way.blocks == 65_534
    else:
        with pytest.raises(Refused):
            under_way.halve()
        assert not under_way.halved and under_way.blocks == blocks
