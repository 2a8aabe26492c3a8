"""Conversations of pushes whose blocks are halves (LINK 4.7), worked by hand from LINK.md."""

from hand_talk import (
    BAD_FIELD,
    BLOCK_BYTES,
    LONG,
    NOT_BEGUN,
    ONE,
    POWER,
    TWO,
    Step,
    begin,
    block,
    commit,
    committed,
    copy,
    error,
    halve,
    halved,
    made,
    message,
    push,
    say,
    status,
    talk,
    verified,
    verify,
)
from vector_files import Vector

HALF = BLOCK_BYTES // 2
WIDE = bytes(20 * BLOCK_BYTES)
"""For the window; it is never read back."""
SPOILT = bytes([ONE[0] ^ 1]) + ONE[1:]
HAD = made(6, samples=180)
"""Nine blocks, 18 halves."""


def halves(data: bytes, first: int, tag: int = 5) -> list[Step]:
    """What is left from this half on."""
    count = -(-len(data) // HALF)
    return [
        say(f"DATA, half {n}", block(data, n, tag, HALF), halved(n + 1, tag=tag))
        for n in range(first, count)
    ]


def vectors() -> list[Vector]:
    return [*_halving(), *_of_what_has_come(), *_with_others()]


def _halving() -> list[Vector]:
    return [
        talk(
            "halves",
            "3.29, 3.30, 4.7 R1, 4.2 R1",
            "from HALVE on blocks are half as long and have its tag; what has come counts on",
            say("BEGIN, tag 1", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("DATA, block 1", block(LONG, 1), status(2)),
            say("HALVE, tag 5", halve(5), halved(4, tag=5)),
            say("DATA, half 4, tag 1: ignored", block(LONG, 4, 1, HALF)),
            say("DATA, block 2, tag 1: ignored", block(LONG, 2)),
            say("a whole block, tag 5", block(LONG, 2, 5), error(BAD_FIELD, None, 5)),
            say("half 10 of 10", message(3, 5, "0A 00 00"), error(BAD_FIELD, None, 5)),
            say("DATA, half 5", block(LONG, 5, 5, HALF), halved(4, 1, tag=5)),
            say("VERIFY shows what has come", verify(), halved(4, 1, tag=2)),
            say("DATA, half 4", block(LONG, 4, 5, HALF), halved(6, tag=5)),
            *halves(LONG, 6),
            say("VERIFY", verify(), verified(LONG)),
            say("COMMIT", commit(LONG), committed(0)),
            *push(TWO, 1),
            slots=(LONG, TWO),
        ),
        talk(
            "halves-once",
            "4.7 R1, 3 R3",
            "a repeat changes nothing, and one with another tag no more than the tag",
            say("BEGIN, tag 1", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("HALVE, tag 5", halve(5), halved(2, tag=5)),
            say("HALVE, tag 5, again", halve(5), halved(2, tag=5)),
            say("DATA, half 3", block(LONG, 3, 5, HALF), halved(2, 1, tag=5)),
            say("HALVE, tag 6", halve(6), halved(2, 1, tag=6)),
            say("DATA, half 2, tag 5: ignored", block(LONG, 2, 5, HALF)),
            say("DATA, half 2, tag 6", block(LONG, 2, 6, HALF), halved(4, tag=6)),
            *halves(LONG, 4, 6),
            say("COMMIT", commit(LONG), committed(0)),
            slots=(LONG, b""),
        ),
        talk(
            "halves-refused",
            "3.29, 4.7 R1, 3 R5",
            "with a block beyond base + 7 there, halves cannot be told of",
            say("HALVE, no push", halve(5), error(NOT_BEGUN, 0, 5)),
            say("HALVE of a byte, no push", message(29, 5, "00"), error(BAD_FIELD, None, 5)),
            say("BEGIN", begin(WIDE), status(0)),
            say("DATA, block 8", block(WIDE, 8), status(0, 0x80)),
            say("HALVE", halve(5), error(BAD_FIELD, None, 5)),
            say("DATA, block 0, tag 1", block(WIDE, 0), status(1, 0x40)),
            say("HALVE", halve(5), halved(2, 0x6000, tag=5)),
            slots=(WIDE[:BLOCK_BYTES], b""),
        ),
    ]


def _of_what_has_come() -> list[Vector]:
    return [
        talk(
            "halves-of-what-is-ahead",
            "4.7 R1, 4.2 R4",
            "each block that has come is two halves, the last one of this table a single one",
            say("BEGIN", begin(ONE), status(0)),
            say("DATA, block 2, the last", block(ONE, 2), status(0, 0b10)),
            say("HALVE", halve(5), halved(0, 0b1000, tag=5)),
            say("half 4 again: left as it is", block(SPOILT, 4, 5, HALF), halved(0, 0b1000, tag=5)),
            *(
                say(f"DATA, half {n}", block(ONE, n, 5, HALF), halved(n + 1, 0b100 >> n, tag=5))
                for n in range(3)
            ),
            say("DATA, half 3", block(ONE, 3, 5, HALF), halved(5, tag=5)),
            say("COMMIT", commit(ONE), committed(0)),
            slots=(ONE, b""),
        ),
        talk(
            "halves-of-all",
            "4.7 R1, 4.3 R3",
            "where all has come, all halves are there; the outcome stays",
            say("BEGIN", begin(ONE), status(0)),
            *(say(f"DATA, block {n}", block(ONE, n), status(n + 1)) for n in range(3)),
            say("HALVE", halve(5), halved(5, tag=5)),
            say("VERIFY", verify(), verified(ONE)),
            say("HALVE", halve(6), halved(5, tag=6)),
            say("VERIFY", verify(), verified(ONE)),
            say("COMMIT", commit(ONE), committed(0)),
            slots=(ONE, b""),
        ),
    ]


def _with_others() -> list[Vector]:
    last = -(-len(HAD) // HALF) - 1
    return [
        talk(
            "halves-taken-up",
            "4.7 R1, 4.1 R2",
            "a BEGIN that takes the push up is answered in halves, and has the tag",
            say("BEGIN, tag 1", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("HALVE, tag 5", halve(5), halved(2, tag=5)),
            say("DATA, half 3", block(LONG, 3, 5, HALF), halved(2, 1, tag=5)),
            say("BEGIN, tag 6", begin(LONG, 6), halved(2, 1, tag=6)),
            say("DATA, half 2, tag 5: ignored", block(LONG, 2, 5, HALF)),
            say("DATA, half 2, tag 6", block(LONG, 2, 6, HALF), halved(4, tag=6)),
            *halves(LONG, 4, 6),
            say("COMMIT", commit(LONG), committed(0)),
            slots=(LONG, b""),
        ),
        talk(
            "halves-are-over",
            "4.7 R1, 4.1 R1",
            "a push that begins anew has whole blocks: of another table, after a bad read-back,"
            " after power-up",
            say("BEGIN", begin(LONG), status(0)),
            say("HALVE", halve(5), halved(0, tag=5)),
            say("BEGIN of another table", begin(ONE), status(0)),
            say("DATA, block 0, spoilt", block(SPOILT, 0), status(1)),
            say("HALVE", halve(5), halved(2, tag=5)),
            *halves(ONE, 2),
            say("VERIFY: another crc", verify(), verified(SPOILT)),
            say("BEGIN: anew", begin(ONE), status(0)),
            say("HALVE", halve(5), halved(0, tag=5)),
            POWER,
            say("HALVE: the push is over", halve(5), error(NOT_BEGUN, 0, 5)),
            say("BEGIN", begin(ONE), status(0)),
            *(say(f"DATA, block {n}", block(ONE, n), status(n + 1)) for n in range(3)),
            say("COMMIT", commit(ONE), committed(0)),
            slots=(ONE, b""),
        ),
        talk(
            "halves-copied",
            "4.7 R1, 4.5 R1",
            "COPY counts in halves too",
            say("BEGIN", begin(HAD), status(0)),
            say("COPY of block 0", copy(0, 1, 0), status(1)),
            say("HALVE", halve(5), halved(2, tag=5)),
            say("COPY, tag 1: ignored", copy(2, 1, 2 * HALF)),
            say("COPY of half 18 of 18", copy(18, 1, 0, 5), error(BAD_FIELD, None, 5)),
            say("COPY of half 2", copy(2, 1, 2 * HALF, 5), halved(3, tag=5)),
            say("COPY of the others", copy(3, last - 2, 3 * HALF, 5), halved(last + 1, tag=5)),
            say("COMMIT", commit(HAD), committed(1)),
            plays=HAD,
            slots=(HAD, HAD),
        ),
    ]
