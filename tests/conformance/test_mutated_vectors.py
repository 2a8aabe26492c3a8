"""Tables of the vectors with something wrong with them: both readers refuse them at the same byte
for the same reason, or all players play the same. What only readers refuse does no harm in C.

More cases: `FXSEQ_MUTANT_CASES=100000 pytest tests/conformance/test_mutated_vectors.py`.
"""

import os
from functools import cache

import plain_player
import plain_reader
import pytest
from c_host import Batch, Refused
from mutations import HEADER_BYTES, mutant
from vector_files import read_all, table_bytes
from wasm_host import Module

from fxseq.player import Player, Press, PressKind, duties
from fxseq.table import BadTable, decode

CASES = int(os.environ.get("FXSEQ_MUTANT_CASES", "3000"))
CHUNKS = [range(first, min(first + 500, CASES)) for first in range(0, CASES, 500)]
FRAMES = 40
MOST_BYTES = 5000
"""The three longer tables of the vectors are filled up with clip data, which no mutation is
about.
"""
Said = Refused | tuple
PRESSES = [Press(frame, PressKind(frame % 2), 0) for frame in range(2, FRAMES, 3)]
"""Of a table that nobody knows the inputs of; one without any refuses them."""


@cache
def tables() -> list[bytes]:
    """Tables of the vectors that are worth damaging."""
    found = [table_bytes(vector) for vector in read_all() if "table" in vector]
    return [table for table in found if 54 <= len(table) <= MOST_BYTES]


def presses(inputs: int) -> list[Press]:
    """Every input for a while, one frame after the other."""
    given = [(1 + index, PressKind.PRESS, index) for index in range(inputs)] + [
        (15 + 2 * index, PressKind.RELEASE, index) for index in range(inputs)
    ]
    return sorted(Press(*press) for press in given if press[0] < FRAMES)


def by_reference(data: bytes) -> tuple[Said, list[Press]]:
    """And the presses of the run, if there was one."""
    try:
        table = decode(data)
    except BadTable as fault:
        return Refused(fault.reason.name, fault.offset), []
    given = presses(len(table.inputs))
    played = Player(table).play(given, FRAMES)
    return (
        [tuple(map(int, event)) for event in played.trace],
        duties(played).tolist(),
        played.samples.tolist(),
        played.saturated,
    ), given


def by_plain(data: bytes, given: list[Press]) -> Said:
    try:
        samples, shone, trace, saturated = plain_player.play(
            data, [tuple(map(int, press)) for press in given], FRAMES
        )
    except plain_reader.Refused as fault:
        return Refused(fault.reason, fault.offset)
    return trace, shone, samples, saturated


def by_c(player: Batch | Module, data: bytes, given: list[Press]) -> Said:
    run = player.play(data, given, FRAMES)
    return (
        run
        if isinstance(run, Refused)
        else (run.trace, run.duties.tolist(), run.samples.tolist(), run.saturated)
    )


def may_play(text: Said) -> bool:
    """Whether it is no player's duty to refuse this, but a reader's alone (SPEC 3 R2)."""
    of_all = ("BAD_MAGIC", "BAD_VERSION", "BAD_LENGTH", "BAD_CRC")
    return isinstance(text, Refused) and text.reason not in of_all and text.offset >= HEADER_BYTES


@pytest.mark.parametrize("seeds", CHUNKS, ids=lambda seeds: f"{seeds.start}..{seeds.stop - 1}")
def test_players_say_the_same_of_a_mutant(c_batch: Batch, wasm: Module, seeds: range) -> None:
    refused = 0
    for seed in seeds:
        data = mutant(tables()[seed % len(tables())], seed)
        text, given = by_reference(data)
        refused += isinstance(text, Refused)
        case = f"mutant of table {seed % len(tables())}, {seed}: {data.hex(' ')}"
        assert by_plain(data, given) == text, case
        for name, player in (("c", c_batch), ("wasm", wasm)):
            said = by_c(player, data, PRESSES if isinstance(text, Refused) else given)
            assert said == text or may_play(text), f"{name}, {case}"
    assert 0.1 * len(seeds) < refused < 0.98 * len(seeds)
