"""The image for the RP2040 against every vector and against random runs of the reference: the trace
as the link tells it, samples and duties as its player has left them in RAM. One session, many
tables.

More: FXSEQ_PICO_CASES=500 pytest tests/boards/test_pico_vectors.py
"""

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from nano_board import play_in_steps, push_unseen
from c_host import in_order
from pico_board import IMAGE, EmulatedBoard, beyond, player_in, unpacked
from random_runs import random_run
from vector_files import Vector, events, read_all, sha256, table_bytes, trace

from fxseq.link import Port, open_port, push
from fxseq.link.messages import table_crc
from fxseq.player import Player, Press, duties
from fxseq.sequence import LinkError
from fxseq.table import decode, encode

CASES = int(os.environ.get("FXSEQ_PICO_CASES", "25"))
PRESS_ROOM, TRACE_ROOM = 32, 256
"""Of the board (LINK 3.11)."""
LONGEST = 10_000
"""Frames of a vector that is played though there are few cases. One has more, which take 106 s."""


@pytest.fixture(scope="module")
def player(pico_program: Path) -> str:
    """Where its functions are in the image of the package."""
    return player_in(pico_program)


class Session(NamedTuple):
    """With a board that is on."""

    board: EmulatedBoard
    port: Port


@pytest.fixture
def session(player: str, tmp_path: Path) -> Iterator[Session]:
    flash = tmp_path / "flash"
    flash.write_bytes(unpacked(IMAGE.read_bytes()))
    with EmulatedBoard(flash, "--usb", "--speed", "1000", "--player", player) as board:
        with open_port(board.where) as port:
            yield Session(board, port)


class Played(NamedTuple):
    """A run: its trace; SHA-256 of all samples and of all duties."""

    trace: Sequence[tuple[int, ...]]
    samples: str
    duties: str


def busiest(told: Sequence[tuple[int, ...]], frames: int) -> int:
    """The most of these, each of which begins with its frame, in so many frames played at once."""
    return max(Counter(one[0] // frames for one in told).values(), default=0)


def played(
    session: Session, table: bytes, presses: Sequence[Press], expected: Played, until: int
) -> Played:
    """What the board plays, its clock held where it could no more hold what is to come."""
    step = until
    while busiest(presses, step) > PRESS_ROOM or busiest(expected.trace, step) > TRACE_ROOM:
        step = -(-step // 2)
    push(session.port, table)
    found = play_in_steps(session.port, presses, until, step)
    run = session.board.run()
    assert run["frames"] == until
    return Played(found, run["samples"], run["duties"])


def refused_at(session: Session, table: bytes, offset: int) -> None:
    """Where the last four bytes are not the CRC of those before, LINK 4.3 R2 has the board say so
    before anything else.
    """
    sealed = table_crc(table) == int.from_bytes(table[-4:], "little")
    at = offset if sealed else len(table) - 4
    with pytest.raises(LinkError, match=rf"it found a fault at byte {at}\b"):
        push_unseen(session.port, table)


def vectors(*results: str) -> list[Vector]:
    return [vector for vector in read_all() if vector["result"] in results]


def test_it_gives_what_every_vector_says(session: Session) -> None:
    left_out = []
    for vector in vectors("plays"):
        table = table_bytes(vector)
        too_much = beyond(decode(table))
        if too_much is not None:
            refused_at(session, table, too_much)
            left_out.append(vector["id"])
        elif vector["until_frame"] > LONGEST and CASES < 500:
            left_out.append(vector["id"])
        else:
            presses = [Press(*event) for event in events(vector)]
            hashes = vector["samples_sha256"], vector["duties_sha256"]
            expected = Played(trace(vector), *hashes)
            found = played(session, table, presses, expected, vector["until_frame"])
            assert found == expected, vector["id"]
    assert set(left_out) <= {"mixed-31", "frames-beyond-16-bits"}


def test_it_refuses_what_vectors_say_is_refused(session: Session) -> None:
    refused = [vector for vector in vectors("refused") if len(table_bytes(vector)) >= 5]
    assert len(refused) > 50
    for vector in refused:
        refused_at(session, table_bytes(vector), vector["offset"])


def test_it_takes_tables_that_are_sound_unless_they_are_too_much(session: Session) -> None:
    """Those that join something to pins are for test_pico_joints.py."""
    tables = [table_bytes(vector) for vector in vectors("accepted")]
    tables = [table for table in tables if not decode(table).joints]
    for table in tables[:: 1 if CASES >= 500 else 10]:
        too_much = beyond(decode(table))
        if too_much is None:
            push(session.port, table)
        else:
            refused_at(session, table, too_much)


def test_random_tables_equal_the_reference(session: Session) -> None:
    for seed in range(CASES):
        run = random_run(seed)
        table = encode(run.table)
        too_much = beyond(run.table)
        if too_much is not None:
            refused_at(session, table, too_much)
            continue
        presses = in_order(run.presses)
        reference = Player(run.table).play(presses, run.until_frame)
        expected = Played(
            [tuple(map(int, event)) for event in reference.trace],
            sha256(reference.samples.tolist(), signed=True),
            sha256(duties(reference).ravel().tolist()),
        )
        found = played(session, table, presses, expected, run.until_frame)
        assert found == expected, f"seed {seed}"
