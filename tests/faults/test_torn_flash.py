"""Power that fails within a write or an erasure, with bits that read by chance from then on: a
whole table plays, and the right one.

Both board's sides, push after push in one memory (LINK 1 R1, 5). More of it: FXSEQ_CUTS=5000 pytest
tests/faults/test_torn_flash.py.
"""

import os
import random
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from c_board import CBoard, compile_session, load
from c_players import Beats
from simulated import PowerCut, check, make_board, make_table
from torn_flash import TornFlash

from fxseq.link import messages as m
from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.frames import encode_frame

CUTS = int(os.environ.get("FXSEQ_CUTS", "500"))
FIRST_SEED = 120
"""A board that marks nothing again fails with seeds 122 and 185, early enough for the few cuts
of every day.
"""
BLOCK_BYTES = 64
TABLES = [make_table(90 + seed, seed) for seed in range(6)]
Board = BoardSession | CBoard


class TrustingBoard(CBoard):
    """Which mark counts is not always the same here: what may be touched is judged by what plays
    afterwards.
    """

    def _spare(self, offset: int, count: int) -> None:
        assert offset >= self._playing.stop or offset + count <= self._playing.start


@pytest.fixture(scope="module", params=["python", "c"])
def power_up(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[TornFlash], Board]:
    if request.param == "python":
        return partial(make_board, block_bytes=BLOCK_BYTES)
    path = tmp_path_factory.mktemp("torn") / "session.so"
    compile_session(path, f"-DFXL_BLOCK_BYTES={BLOCK_BYTES}")
    library = load(path)
    ability = Ability("test board", block_bytes=BLOCK_BYTES)
    return lambda flash: TrustingBoard(library, flash, check, Beats, ability)


def push(board: Board, table: bytes) -> bool:
    """Whether the board has said that the table plays."""
    head = len(table), m.table_crc(table)
    blocks = [
        m.Data(number, table[BLOCK_BYTES * number :][:BLOCK_BYTES])
        for number in range(-(-len(table) // BLOCK_BYTES))
    ]
    for message in (m.Begin(*head), *blocks, m.Verify(), m.Commit(*head)):
        out = board.receive(encode_frame(message.encode(1)), 0.0)
        while board.busy:
            out += board.step(0.0)
    return out.endswith(encode_frame(m.Committed(0).encode(1))) or out.endswith(
        encode_frame(m.Committed(1).encode(1))
    )


def pushed_into(flash: TornFlash, board: Board, table: bytes, may_play: set[bytes]) -> set[bytes]:
    """Push; what may play from then on. Until a slot is erased, all that could play before still
    may.
    """
    plays = board.player.table
    flash.begin()
    try:
        done = push(board, table)
    except PowerCut:
        done = False
    if done:
        return {table}
    return ({plays} if flash.erases_slot else may_play) | ({table} if flash.marks_new else set())


def a_life(power_up: Callable[[TornFlash], Board], seed: int) -> int:
    """A board that is pushed to some ten times, and loses its power within most of the pushes;
    how often it did.
    """
    dice = random.Random(seed)
    # In some lives the power fails again and again within the first mark.
    again = dice.choice([(), (0, 0, 0, 1) * 5])
    flash = TornFlash(random.Random(seed + 1))
    assert push(power_up(flash), TABLES[0])
    may_play = {TABLES[0]}
    cuts = 0
    for _ in range(10):
        for _ in range(dice.choice([1, 1, 2, 3])):
            board = power_up(flash)
            assert board.player is not None, f"no table plays (seed {seed}, {cuts} cuts)"
            assert board.player.table in may_play, f"another table plays (seed {seed}, {cuts} cuts)"
        for _ in range(dice.choice([1, 1, 1, 2])):
            flash.cut_at = dice.choice([None, *again, *range(9)])
            may_play = pushed_into(flash, board, dice.choice(TABLES), may_play)
            if flash.cut_at is not None and flash.operations > flash.cut_at:
                cuts += 1
                break
    return cuts


def test_power_that_fails_within_writes_and_erasures_leaves_a_whole_table(
    power_up: Callable[[TornFlash], Board],
) -> None:
    cuts = 0
    seed = FIRST_SEED
    while cuts < CUTS:
        cuts += a_life(power_up, seed)
        seed += 1
