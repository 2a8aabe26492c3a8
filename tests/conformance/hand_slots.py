"""Conversations of slots and marks (LINK 1 and 5), worked by hand from LINK.md: power that fails, memory that is damaged, flash images."""

from hand_link import crc
from hand_talk import (
    FLASH, FLASH_FAILS, FOR_EVER, LONG, NOT_BEGUN, ONE, PAGE_BYTES, POWER, SLOT_BYTES, TWO, ask_clock, begin, block, blocks, board, clock,
    commit, crc_of, damage, error, frames, hello, made, push, say, status, talk, turn_over, u32, verified, verify,
)  # fmt: skip
from vector_files import Vector

EMPTY, OTHER = None, "other"
UNSOUND, OTHER_LONG, NINE_CHANNELS = made(1, input=2), made(4, samples=99), made(1, channels=9)
LAST_TURN = 0xFFFFFFFF


def mark(turn: int, data: bytes) -> bytes:
    """As the table of LINK 5 has it."""
    return mark_of(turn, len(data), crc_of(data))


def mark_of(turn: int, length: int, crc_then: str) -> bytes:
    fields = bytes.fromhex(f"{u32(turn)} {u32(length)} {crc_then}")
    return fields + crc(fields)


def cut_mark(turn: int, data: bytes) -> bytes:
    """A mark of which bit 0 of byte 9 is not yet right."""
    whole = mark(turn, data)
    return whole[:9] + bytes([whole[9] ^ 1]) + whole[10:]


def image(page_0: list[bytes], page_1: list[bytes], slot_0: bytes, slot_1: bytes) -> bytes:
    """A whole flash memory; the rest of every page and slot is erased."""
    pages = b"".join(b"".join(page).ljust(PAGE_BYTES, b"\xff") for page in (page_0, page_1))
    return pages + b"".join(slot.ljust(SLOT_BYTES, b"\xff") for slot in (slot_0, slot_1))


def vectors() -> list[Vector]:
    return [*_power(), *_damage(), *_marks()]


def _power() -> list[Vector]:
    plays_one = say("HELLO: the old table plays", hello(), board(0, 0, ONE))
    return [
        talk("power-fails-in-a-push", "1 R1, 5 R2, 5 R3", "before the mark the old table plays, whole, wherever the power fails",
            say("BEGIN", begin(TWO), status(0)), POWER, plays_one,
            say("VERIFY: no push is under way", verify(), error(NOT_BEGUN, 0, 2)),
            say("BEGIN", begin(TWO), status(0)), blocks(TWO)[0], POWER, plays_one,
            say("BEGIN", begin(TWO), status(0)), *blocks(TWO), POWER, plays_one,
            say("BEGIN", begin(TWO), status(0)), *blocks(TWO), say("VERIFY", verify(), verified(TWO)), POWER, plays_one,
            say("COMMIT: the push is gone", commit(TWO), error(NOT_BEGUN, 0, 3)),
            *push(TWO, 1), POWER,
            say("HELLO: the new table plays", hello(), board(1, 0, ONE, TWO)), plays=ONE, slots=(ONE, TWO)),
        talk("power-fails-in-the-first-push", "1 R1, 5 R3", "nothing plays before the first mark",
            say("BEGIN", begin(ONE), status(0)), *blocks(ONE), say("VERIFY", verify(), verified(ONE)), POWER,
            say("HELLO", hello(), board(2, 0)),
            *push(ONE, 0), POWER,
            say("HELLO", hello(), board(0, 0, ONE)), slots=(ONE, b"")),
        talk("power-up-plays", "6 R1, 5 R3", "power-up begins at frame 0, and the clock runs for ever",
            frames(9), POWER, frames(4),
            say("ASK_CLOCK", ask_clock(), clock(4, FOR_EVER)), plays=ONE, slots=(ONE, b"")),
        talk("slots-take-turns", "5 R1", "every push goes to the slot that does not play, and spares the other",
            *push(TWO, 1), *push(LONG, 0),
            say("HELLO", hello(), board(0, 0, LONG, TWO)),
            *push(ONE, 1), POWER,
            say("HELLO", hello(), board(1, 0, LONG, ONE)), plays=ONE, slots=(LONG, ONE)),
        talk("longer-table-is-erased-for", "4.1 R1", "what an earlier table left in the slot is erased, as far as the new one goes",
            *push(LONG, 1), *push(TWO, 0), *push(OTHER_LONG, 1),
            say("HELLO", hello(), board(1, 0, TWO, OTHER_LONG)), plays=ONE, slots=(TWO, OTHER_LONG)),
        talk("flash-fails-at-an-erasure", "3.18", "the push is dropped, the old table plays on", FLASH_FAILS,
            say("BEGIN", begin(TWO), error(FLASH, 0, 1)),
            say("DATA", block(TWO, 0), error(NOT_BEGUN, 0, 1)),
            say("HELLO", hello(), board(0, 0, ONE)), plays=ONE, slots=(ONE, b"")),
        talk("flash-fails-at-the-begin-of-another", "3.18, 4.1 R1", "the older push is gone with the new one",
            say("BEGIN", begin(TWO), status(0)), blocks(TWO)[0], FLASH_FAILS,
            say("BEGIN of another table, tag 4", begin(LONG, 4), error(FLASH, 0, 4)),
            say("DATA, block 1 of the older one", block(TWO, 1), error(NOT_BEGUN, 0, 1)),
            say("DATA, block 0 of the newer one", block(LONG, 0, 4), error(NOT_BEGUN, 0, 4)),
            say("COMMIT", commit(TWO), error(NOT_BEGUN, 0, 3)),
            *push(TWO, 1), plays=ONE, slots=(ONE, TWO)),
        talk("flash-fails-at-a-block", "3.18", "the push is dropped, the old table plays on",
            say("BEGIN", begin(TWO), status(0)), blocks(TWO)[0], FLASH_FAILS,
            say("DATA, block 1", block(TWO, 1), error(FLASH, 0, 1)),
            say("VERIFY", verify(), error(NOT_BEGUN, 0, 2)),
            *push(TWO, 1), plays=ONE, slots=(ONE, TWO)),
        talk("flash-fails-at-the-mark", "3.18, 5 R2", "without a mark the old table plays on, now and after a power-up",
            say("BEGIN", begin(TWO), status(0)), *blocks(TWO), say("VERIFY", verify(), verified(TWO)), FLASH_FAILS,
            say("COMMIT", commit(TWO), error(FLASH, 0, 3)),
            say("COMMIT: the push is dropped", commit(TWO), error(NOT_BEGUN, 0, 3)),
            say("VERIFY", verify(), error(NOT_BEGUN, 0, 2)), POWER,
            say("HELLO", hello(), board(0, 0, ONE)), plays=ONE, slots=(ONE, b"")),
    ]  # fmt: skip


def _damage() -> list[Vector]:
    return [
        talk("newest-table-is-damaged", "5 R3", "then the other slot's table plays; the damaged slot is idle",
            *push(TWO, 1), damage(1, 20), POWER,
            say("HELLO", hello(), board(0, 0, ONE)),
            frames(3),
            say("ASK_CLOCK", ask_clock(), clock(3, FOR_EVER)),
            *push(LONG, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, LONG)), plays=ONE, slots=(ONE, LONG)),
        talk("end-of-the-newest-table-is-damaged", "5 R3", "it does not end in its crc any more",
            *push(TWO, 1), damage(1, len(TWO) - 1), POWER,
            say("HELLO", hello(), board(0, 0, ONE)), plays=ONE, slots=(ONE, b"")),
        talk("other-table-is-damaged", "5 R3, 3.11", "HELLO tells what was last known: from the power-up on, nothing of the damaged one",
            *push(TWO, 1), damage(0, 20),
            say("HELLO", hello(), board(1, 0, ONE, TWO)), POWER,
            say("HELLO", hello(), board(1, 0, b"", TWO)), plays=ONE, slots=(b"", TWO)),
        talk("both-tables-are-damaged", "5 R3", "none plays, and slot 0 is idle",
            *push(TWO, 1), damage(0, 20), damage(1, 20), POWER,
            say("HELLO", hello(), board(2, 0)),
            *push(LONG, 0),
            say("HELLO", hello(), board(0, 0, LONG)), plays=ONE, slots=(LONG, b"")),
    ]  # fmt: skip


def _marks() -> list[Vector]:
    full = [mark(1, LONG), mark(2, ONE), mark(3, TWO), mark(4, ONE)]
    cut = mark(3, TWO)[:9]
    bad_crc = mark(3, TWO)[:15] + bytes([mark(3, TWO)[15] ^ 1])
    return [
        talk("mark-goes-behind-the-last", "5 R6", "the first place behind everything that is not FF",
            say("HELLO", hello(), board(0, 0, ONE, TWO)),
            *push(LONG, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, LONG)),
            flash=image(full[2:], [], ONE, TWO), slots=(ONE, LONG), marks=[(1, TWO), (0, ONE), (0, ONE), (1, LONG)]),
        talk("gap-before-junk", "5 R6", "behind everything that is not FF, not into a gap before it",
            *push(TWO, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, TWO)),
            flash=image([mark(2, ONE), b"\xff" * 16, b"\x55" * 16], [], ONE, b""), slots=(ONE, TWO),
            marks=[(0, ONE), EMPTY, OTHER, (0, ONE), (1, TWO)]),
        talk("one-bit-before-the-end-of-a-place", "5 R6", "a place is in use if any of its bits is 0",
            *push(TWO, 1),
            flash=image([mark(2, ONE), b"\xff" * 15 + b"\x7f"], [], ONE, b""), slots=(ONE, TWO),
            marks=[(0, ONE), OTHER, (0, ONE), (1, TWO)]),
        talk("marked-again", "5 R8", "what plays is marked once more, before the first erasure after a power-up, and only then",
            say("BEGIN", begin(TWO), status(0)),
            say("BEGIN, tag 4", begin(TWO, 4), status(0, tag=4)),
            say("HELLO", hello(), board(0, 0, ONE)),
            flash=image([mark(2, ONE)], [], ONE, LONG), slots=(ONE, b""), marks=[(0, ONE), (0, ONE)]),
        talk("marked-again-after-each-power-up", "5 R8", "in the page of the mark that counts, or, where that is full, the other",
            say("BEGIN", begin(TWO), status(0)), POWER,
            say("HELLO", hello(), board(0, 0, ONE)),
            say("BEGIN", begin(TWO), status(0)), POWER,
            say("HELLO", hello(), board(0, 0, ONE)),
            *push(TWO, 1), POWER,
            flash=image([mark(1, LONG), mark(2, ONE)], [mark(0, LONG)] * 4, ONE, b""), slots=(ONE, TWO),
            marks=[(1, LONG), (0, ONE), (0, ONE), (0, ONE), (0, ONE), (1, TWO)]),
        talk("nothing-is-marked-where-nothing-plays", "5 R8", "an empty board has no table to mark again",
            say("BEGIN", begin(TWO), status(0)), slots=(b"", b""), marks=[]),
        talk("flash-fails-when-marked-again", "5 R8, 3.18", "then nothing is erased: the table in the idle slot is still whole",
            FLASH_FAILS,
            say("BEGIN", begin(LONG), error(FLASH, 0, 1)),
            say("DATA", block(LONG, 0), error(NOT_BEGUN, 0, 1)),
            say("HELLO", hello(), board(0, 0, ONE, TWO)), POWER,
            say("HELLO", hello(), board(0, 0, ONE, TWO)),
            *push(LONG, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, LONG)),
            flash=image([mark(3, TWO), mark(4, ONE)], [], ONE, TWO), slots=(ONE, LONG)),
        talk("cut-marks-that-read-whole-later", "5 R9, 5 R8", "two marks were cut and read whole later: they are older than what came since",
            say("HELLO", hello(), board(0, 0, ONE)),
            *push(TWO, 1), turn_over(1, 9), turn_over(2, 9), POWER,
            say("HELLO", hello(), board(1, 0, ONE, TWO)),
            flash=image([mark(2, ONE), *(cut_mark(turn, ONE) for turn in (4, 6))], [], ONE, b""), slots=(ONE, TWO)),
        talk("erased-places-before-a-cut-mark", "5 R9", "places before one that was cut count too: they may have been cut at once",
            *push(TWO, 1), turn_over(3, 9), POWER,
            say("HELLO", hello(), board(1, 0, ONE, TWO)),
            flash=image([mark(2, ONE), b"\xff" * 32, cut_mark(8, ONE)], [], ONE, b""), slots=(ONE, TWO)),
        talk("equal-turns", "5 R5", "of two marks with one turn the one that stands further on counts, here of a table that is not there",
            say("HELLO", hello(), board(0, 0, ONE)),
            flash=image([mark(2, ONE), mark(3, TWO), mark(3, LONG)], [], ONE, TWO), slots=(ONE, TWO)),
        talk("equal-turns-in-both-pages", "5 R5", "page 1 stands behind page 0",
            say("HELLO", hello(), board(1, 0, ONE, TWO)),
            *push(LONG, 0),
            flash=image([mark(3, LONG), mark(2, LONG)], [mark(3, TWO), mark(2, ONE)], ONE, TWO), slots=(LONG, TWO),
            marks=[(1, LONG), (0, LONG), EMPTY, EMPTY, (1, TWO), (0, ONE), (1, TWO), (0, LONG)]),
        talk("page-of-marks-is-full", "5 R4, 5 R6", "the other page is erased, the full one with the mark that counts is left alone",
            *push(LONG, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, LONG)),
            *push(TWO, 0),
            flash=image(full, [mark(0, TWO)] * 3, ONE, TWO), slots=(TWO, LONG),
            marks=[(1, LONG), (0, ONE), (1, TWO), (0, ONE), (0, ONE), (1, LONG), (1, LONG), (0, TWO)]),
        talk("highest-turn-is-the-newest", "5 R5, 5 R3", "not the last place, nor the last page; turns are plain numbers",
            say("HELLO", hello(), board(0, 0, ONE, TWO)),
            *push(LONG, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, LONG)),
            flash=image([mark(0x80000006, ONE), mark(5, TWO)], [mark(0x7FFFFFFF, TWO), mark(2, LONG)], ONE, TWO), slots=(ONE, LONG),
            marks=[(0, ONE), (1, TWO), (0, ONE), (1, LONG), (1, TWO), (0, LONG)]),
        talk("mark-is-cut", "5 R2, 5 R5, 5 R6", "a mark cut short does not count, and its place is not used again",
            say("HELLO", hello(), board(0, 0, ONE)),
            *push(TWO, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, TWO)),
            flash=image([mark(2, ONE), cut], [], ONE, TWO), slots=(ONE, TWO), marks=[(0, ONE), OTHER, (0, ONE), (1, TWO)]),
        talk("mark-with-a-wrong-crc", "5 R5", "a mark whose last four bytes are wrong does not count",
            say("HELLO", hello(), board(0, 0, ONE)),
            flash=image([mark(2, ONE), bad_crc], [], ONE, TWO), slots=(ONE, TWO), marks=[(0, ONE), OTHER]),
        talk("newer-mark-of-a-damaged-table", "5 R3, 5 R6", "the new mark goes to the page of what plays, with a turn above all whole ones",
            say("HELLO", hello(), board(1, 0, b"", TWO)),
            *push(ONE, 0), POWER,
            say("HELLO", hello(), board(0, 0, ONE, TWO)),
            flash=image([mark(6, LONG)], [mark(3, TWO)], LONG[:-1], TWO), slots=(ONE, TWO),
            marks=[(0, LONG), EMPTY, EMPTY, EMPTY, (1, TWO), (1, TWO), (0, ONE)]),
        talk("older-mark-of-a-slot", "5 R3", "only the newest mark of a slot is asked: its older ones tell of tables that are gone",
            say("HELLO: slot 0's newest mark is of another table", hello(), board(1, 0, b"", TWO)),
            flash=image([mark(2, ONE), mark(3, TWO), mark(4, LONG)], [], ONE, TWO), slots=(ONE, TWO), marks=[(0, ONE), (1, TWO), (0, LONG)]),
        talk("mark-of-an-unsound-table", "5 R3", "length and crc are right, and SPEC 4 refuses it",
            say("HELLO", hello(), board(1, 0, b"", TWO)),
            flash=image([mark(3, TWO), mark(4, UNSOUND)], [], UNSOUND, TWO), slots=(UNSOUND, TWO), marks=[(1, TWO), (0, UNSOUND)]),
        talk("mark-of-a-table-beyond-the-board", "5 R3", "a sound table of nine channels on a board of eight is not played at power-up either",
            say("HELLO", hello(), board(1, 0, b"", TWO)),
            flash=image([mark(3, TWO), mark(4, NINE_CHANNELS)], [], NINE_CHANNELS, TWO), slots=(NINE_CHANNELS, TWO),
            marks=[(1, TWO), (0, NINE_CHANNELS)]),
        talk("mark-of-a-length-beyond-the-slot", "5 R5, 5 R3", "no table has such a length: the mark does not count, and an older one does",
            say("HELLO", hello(), board(0, 0, ONE)),
            *push(TWO, 1), POWER,
            say("HELLO", hello(), board(1, 0, ONE, TWO)),
            flash=image([mark(2, ONE), mark_of(6, SLOT_BYTES + 1, crc_of(ONE)), mark_of(4, 4, "00 00 00 00")], [], ONE, b""),
            slots=(ONE, TWO), marks=[(0, ONE), OTHER, OTHER, (0, ONE), (1, TWO)]),
        talk("no-turn-is-left", "5 R6, 1 R1", "a turn that wrapped would be the oldest at power-up: COMMIT fails, and the old table plays on",
            *push(TWO, 1),
            say("BEGIN", begin(LONG), status(0)),
            *blocks(LONG),
            say("VERIFY", verify(), verified(LONG)),
            say("COMMIT", commit(LONG), error(FLASH, 0, 3)),
            say("COMMIT again: the push is gone", commit(LONG), error(NOT_BEGUN, 0, 3)),
            say("HELLO", hello(), board(1, 0, b"", TWO)), POWER,
            say("HELLO", hello(), board(1, 0, b"", TWO)),
            flash=image([mark(LAST_TURN - 3, ONE)], [], ONE, b""), slots=(LONG, TWO), marks=[(0, ONE), (0, ONE), (1, TWO)]),
        talk("last-turn-of-a-damaged-table", "5 R6, 1 R1", "it is whole all the same, and no turn is left",
            say("HELLO", hello(), board(0, 0, ONE)),
            say("BEGIN", begin(TWO), error(FLASH, 0, 1)),
            say("VERIFY", verify(), error(NOT_BEGUN, 0, 2)), POWER,
            say("HELLO", hello(), board(0, 0, ONE)),
            flash=image([mark(2, ONE), mark(LAST_TURN, LONG)], [], ONE, LONG[:-1]), slots=(ONE, LONG[:-1]), marks=[(0, ONE), (1, LONG)]),
        talk("raised-beyond-the-last-turn", "5 R6, 5 R9", "a turn that is raised must not wrap either",
            say("BEGIN", begin(TWO), error(FLASH, 0, 1)), POWER,
            say("HELLO", hello(), board(0, 0, ONE)),
            flash=image([mark(LAST_TURN - 3, ONE), b"\x55" * 16], [], ONE, b""), slots=(ONE, b""), marks=[(0, ONE), OTHER]),
    ]  # fmt: skip
