"""Conversations of a push (LINK 2 to 4), worked by hand from LINK.md: what the host says and
what a board must answer.
"""

from hand_link import framed
from hand_talk import (
    BAD_FIELD,
    BAD_PRESS,
    BAD_TABLE,
    BLOCK_BYTES,
    FOR_EVER,
    LONG,
    NO_TABLE,
    NOT_BEGUN,
    ONE,
    POWER,
    SHORT,
    SLOT_BYTES,
    TOO_LARGE,
    TWO,
    UNKNOWN_KIND,
    altered,
    ask_clock,
    ask_trace,
    begin,
    block,
    blocks,
    board,
    clock,
    commit,
    committed,
    copy,
    error,
    frames,
    hello,
    made,
    message,
    part,
    presses,
    push,
    raw,
    read,
    restart,
    run,
    say,
    status,
    sum_up,
    summed,
    talk,
    u16,
    u24,
    u32,
    verified,
    verify,
)
from vector_files import Vector

WIDE = bytes(20 * BLOCK_BYTES)
"""For the window; it is never read back."""
SPOILT = bytes([ONE[0] ^ 1]) + ONE[1:]
OTHER_END = ONE[:-1] + bytes([ONE[-1] ^ 1])
VOICES_AT = 19
UNSOUND = altered(ONE, VOICES_AT, "00")
"""It has no voices (SPEC 3.1)."""


def vectors() -> list[Vector]:
    parts = (_frames, _messages, _begin, _blocks, _read_back, _commit, _reading, _copying)
    return [vector for some in parts for vector in some()]


def _frames() -> list[Vector]:
    ask = framed(bytes.fromhex(hello()))
    told = board(2, 0)
    flipped = ask[:2] + bytes([ask[2] ^ 1]) + ask[3:]
    beyond = bytes([len(ask) + 1]) + ask[1:]
    full = bytes.fromhex(block(SHORT, 0))
    spoilt = framed(bytes.fromhex(block(SHORT, 1)))
    return [
        talk(
            "damaged-frames",
            "2 R2",
            "what is damaged is dropped without an answer, and the next frame is found",
            raw("HELLO with a flipped bit, then HELLO", flipped + ask, told),
            raw(
                "HELLO whose first length byte reaches beyond its end, then HELLO",
                beyond + ask,
                told,
            ),
            raw("a right CRC of nothing, then HELLO", framed(b"") + ask, told),
            raw("a thousand bytes 55 and a 00, then HELLO", b"\x55" * 1000 + b"\0" + ask, told),
            raw("a message of 356 bytes, then HELLO", framed(bytes([0x44] * 356)) + ask, told),
            raw("00 three times, HELLO twice", b"\0\0\0" + ask + ask, told, told),
        ),
        talk(
            "older-bytes",
            "2 R3",
            "half a frame is held; a 00 ends it, and HELLO is not lost with it",
            raw("the first five bytes of a HELLO", ask[:5]),
            raw("a HELLO without a 00 before it goes with them", ask),
            raw("the first five bytes again", ask[:5]),
            raw("00, HELLO", b"\0" + ask, told),
        ),
        talk(
            "half-a-block",
            "2 R3",
            "nor is COMMIT, behind a block that has lost its end",
            say("BEGIN", begin(SHORT), status(0)),
            blocks(SHORT)[0],
            raw(
                "block 1 without its last byte and its 00, then 00, COMMIT",
                spoilt[:-2] + b"\0" + framed(bytes.fromhex(commit(SHORT))),
                status(1, tag=3),
            ),
            say("DATA, block 1", block(SHORT, 1), status(2)),
            say("COMMIT", commit(SHORT), committed(0)),
            slots=(SHORT, b""),
        ),
        talk(
            "block-of-a-wrong-crc",
            "2 R2, 1 R2",
            "a damaged block is not written, and not answered",
            say("BEGIN", begin(SHORT), status(0)),
            raw(
                "block 0 with a flipped bit",
                framed(full)[:9] + bytes([framed(full)[9] ^ 0x10]) + framed(full)[10:],
            ),
            raw("block 1 without its last byte", spoilt[:-2] + b"\0"),
            say("VERIFY shows that none has arrived", verify(), status(0, tag=2)),
            *blocks(SHORT),
            say("VERIFY", verify(), verified(SHORT)),
            slots=(SHORT, b""),
        ),
        talk(
            "longest-message",
            "2 R1",
            "a board takes every message of up to 3 + block_bytes bytes (7), also one that is"
            " stuffed throughout",
            say("BEGIN", begin(WIDE), status(0)),
            say("a block of 00", block(WIDE, 0), status(1)),
        ),
        talk(
            "noise",
            "1 R2",
            "no bytes make a board stop playing or answering, or touch the table that plays",
            raw("256 bytes, each once", bytes(range(256))),
            *(
                raw(
                    f"256 bytes, multiples of {step}",
                    bytes(step * place % 256 for place in range(256)),
                )
                for step in (3, 7, 91)
            ),
            raw("00, HELLO", b"\0" + ask, board(0, 0, ONE)),
            frames(3),
            say("ASK_CLOCK", ask_clock(), clock(3, FOR_EVER)),
            plays=ONE,
            slots=(ONE, b""),
        ),
    ]


def _messages() -> list[Vector]:
    lengths = {
        "HELLO": (1, (0, 2)),
        "BEGIN": (2, (0, 7, 9)),
        "DATA": (3, (0, 1, 2)),
        "VERIFY": (4, (1, 2)),
        "COMMIT": (5, (0, 7, 9)),
        "RESTART": (6, (1, 4)),
        "RUN": (7, (0, 3, 5)),
        "PRESSES": (8, (0, 2, 9, 11)),
        "ASK_CLOCK": (9, (1,)),
        "ASK_TRACE": (10, (3, 5)),
        "SUM": (13, (0, 4, 7, 9)),
        "COPY": (14, (0, 4, 7, 9)),
    }
    malformed = [
        say(
            f"{name} with {count} bytes of fields",
            message(kind, 5, ("09 00 00 00 " * 3)[: 3 * count]),
            error(BAD_FIELD, None, 5),
        )
        for name, (kind, counts) in lengths.items()
        for count in counts
    ]
    unknown = [0, 11, *range(17, 29), 30, 31]
    absent = {
        "RESTART": restart(),
        "RUN": run(9),
        "PRESSES": presses(0, (0, 0, 0, 0)),
        "ASK_CLOCK": ask_clock(),
        "ASK_TRACE": ask_trace(0),
    }
    return [
        talk(
            "tags",
            "3 R1, 3.1",
            "an answer carries the tag of its request",
            *(
                say(f"HELLO, tag {tag}", hello(tag), board(2, 0, tag=tag))
                for tag in (0, 1, 2, 3, 4, 5, 6, 7, 0, 0, 5)
            ),
        ),
        talk(
            "other-versions",
            "3 R4, 3.1",
            "a HELLO of any version is answered, with the board's own; one with a byte more is"
            " malformed",
            *(
                say(f"HELLO, version {version}", hello(version=version), board(2, 0))
                for version in (0, 1, 2, 255)
            ),
            say(
                "HELLO, version 2, and a byte more",
                message(1, 1, "02 00"),
                error(BAD_FIELD, None, 1),
            ),
        ),
        talk(
            "unknown-kinds",
            "3 R2",
            "kinds that are not known, those of answers among them, whatever follows",
            *(
                say(f"kind {kind}", message(kind, 5), error(UNKNOWN_KIND, kind, 5))
                for kind in unknown
            ),
            *(
                say(
                    f"kind {kind}, 4 bytes",
                    message(kind, 2, "01 02 03 04"),
                    error(UNKNOWN_KIND, kind, 2),
                )
                for kind in unknown
            ),
        ),
        talk(
            "malformed",
            "3 R2",
            "too short or too long for its kind; this comes first (there is no table, no push)",
            *malformed,
        ),
        talk(
            "lengths-out-of-range",
            "3 R2, 3.2, 3.5",
            "a table has five bytes at least",
            say(
                "BEGIN, 4 bytes", message(2, 1, u32(4) + " 00 00 00 00"), error(BAD_FIELD, None, 1)
            ),
            say(
                "COMMIT, 4 bytes", message(5, 3, u32(4) + " 00 00 00 00"), error(BAD_FIELD, None, 3)
            ),
            say(
                "BEGIN, no bytes", message(2, 1, u32(0) + " 00 00 00 00"), error(BAD_FIELD, None, 1)
            ),
        ),
        talk(
            "no-table",
            "3.18",
            "nothing plays: no clock, no presses, no trace",
            *(
                say(name, asked, error(NO_TABLE, 0, int(asked[:2], 16) >> 5))
                for name, asked in absent.items()
            ),
            say("HELLO", hello(), board(2, 0)),
        ),
        talk(
            "no-push",
            "3.18",
            "no push is under way",
            say("DATA", block(ONE, 0), error(NOT_BEGUN, 0, 1)),
            say("DATA, tag 5", block(ONE, 0, 5), error(NOT_BEGUN, 0, 5)),
            say("VERIFY", verify(), error(NOT_BEGUN, 0, 2)),
            say("COMMIT", commit(ONE), error(NOT_BEGUN, 0, 3)),
        ),
        talk(
            "several-faults",
            "3 R5, 3.8",
            "the form first, then whether there is a table or a push, then the rest",
            say(
                "PRESSES of an input that is not there, a byte too long",
                presses(0, (0, 0, 9, 0)) + " 00",
                error(BAD_FIELD, None, 6),
            ),
            say(
                "PRESSES of an input that is not there, no table",
                presses(0, (0, 0, 9, 0)),
                error(NO_TABLE, 0, 6),
            ),
            say("DATA of a wrong size, no push", block(ONE, 0)[:-3], error(NOT_BEGUN, 0, 1)),
            *push(ONE, 0),
            say("PRESSES of a volume of 257", presses(0, (0, 3, 0, 257)), error(BAD_PRESS, 0, 6)),
            slots=(ONE, b""),
        ),
        talk(
            "begin-behind-hello",
            "4.1 R5",
            "both are answered, in their order",
            raw(
                "HELLO, BEGIN",
                framed(bytes.fromhex(hello(0))) + framed(bytes.fromhex(begin(TWO))),
                board(0, 0, ONE, tag=0),
                status(0),
            ),
            *blocks(TWO),
            say("COMMIT", commit(TWO), committed(1)),
            plays=ONE,
            slots=(ONE, TWO),
        ),
        talk(
            "hello-in-mid-push",
            "3.1",
            "HELLO is answered whatever else is going on, and changes nothing",
            say("BEGIN", begin(SHORT), status(0)),
            say("HELLO", hello(2), board(0, 0, ONE, tag=2)),
            say("DATA, block 0", block(SHORT, 0), status(1)),
            say("HELLO", hello(3), board(0, 0, ONE, tag=3)),
            say("DATA, block 1", block(SHORT, 1), status(2)),
            say("VERIFY", verify(), verified(SHORT)),
            plays=ONE,
            slots=(ONE, SHORT),
        ),
    ]


def _begin() -> list[Vector]:
    too_large = message(2, 1, f"{u32(SLOT_BYTES + 1)} 00 00 00 00")
    shorter = message(2, 1, f"{u32(len(LONG) - 1)} {begin(LONG)[15:]}")
    return [
        talk(
            "first-push",
            "4.1 R1, 4.2 R1, 4.3 R1, 4.4 R1, 5 R2, 6 R1",
            "a whole push to an empty board; before COMMIT nothing counts",
            say("HELLO: none plays", hello(), board(2, 0)),
            say("BEGIN", begin(ONE), status(0)),
            *blocks(ONE),
            say("HELLO: all blocks are there, but no mark", hello(), board(2, 0)),
            say("VERIFY", verify(), verified(ONE)),
            say("HELLO: still no mark", hello(), board(2, 0)),
            say("COMMIT", commit(ONE), committed(0)),
            say("HELLO", hello(), board(0, 0, ONE)),
            frames(6),
            say("ASK_CLOCK: it runs, for ever", ask_clock(), clock(6, FOR_EVER)),
            say("VERIFY: the push is over", verify(), error(NOT_BEGUN, 0, 2)),
            slots=(ONE, b""),
        ),
        talk(
            "table-plays-on",
            "4.1 R1, 5 R1, 4.4 R1",
            "the next table goes into the other slot while the first plays on; COMMIT starts it",
            frames(10),
            say("BEGIN", begin(LONG), status(0)),
            frames(5),
            say("ASK_CLOCK", ask_clock(), clock(15, FOR_EVER)),
            *blocks(LONG),
            frames(1),
            say("VERIFY", verify(), verified(LONG)),
            say("ASK_CLOCK", ask_clock(), clock(16, FOR_EVER)),
            say("COMMIT", commit(LONG), committed(1)),
            say("ASK_CLOCK", ask_clock(), clock(0, FOR_EVER)),
            say("HELLO", hello(), board(1, 0, ONE, LONG)),
            plays=ONE,
            slots=(ONE, LONG),
        ),
        talk(
            "repeated-begin",
            "4.1 R2, 3 R3",
            "a repeat keeps what has arrived, also after a good read-back",
            say("BEGIN", begin(LONG), status(0)),
            say("BEGIN again", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("DATA, block 2", block(LONG, 2), status(1, 1)),
            say("BEGIN again", begin(LONG), status(1, 1)),
            *(
                say(f"DATA, block {n}", block(LONG, n), status(*told))
                for n, told in ((1, (3, 0)), (3, (4, 0)), (4, (5, 0)))
            ),
            say("VERIFY", verify(), verified(LONG)),
            say("BEGIN again", begin(LONG), status(5)),
            say("COMMIT", commit(LONG), committed(0)),
            slots=(LONG, b""),
        ),
        talk(
            "push-taken-up",
            "4.1 R2, 4.2 R3",
            "another host goes on where the first was cut off: blocks now carry its tag",
            say("BEGIN, tag 1", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("DATA, block 3", block(LONG, 3), status(1, 0b10)),
            say("BEGIN, tag 6", begin(LONG, 6), status(1, 0b10, tag=6)),
            say("DATA, block 1, of the first host: ignored", block(LONG, 1)),
            say("DATA, block 1, tag 6", block(LONG, 1, 6), status(2, 0b1, tag=6)),
            say("DATA, block 2, tag 6", block(LONG, 2, 6), status(4, tag=6)),
            say("BEGIN, tag 2", begin(LONG, 2), status(4, tag=2)),
            say("DATA, block 4, tag 2", block(LONG, 4, 2), status(5, tag=2)),
            say("COMMIT", commit(LONG), committed(0)),
            slots=(LONG, b""),
        ),
        talk(
            "push-not-taken-up",
            "4.1 R2",
            "after a bad read-back any BEGIN begins anew, and after power-up too",
            say("BEGIN, tag 1", begin(ONE), status(0)),
            *blocks(SPOILT),
            say("VERIFY: another crc", verify(), verified(SPOILT)),
            say("BEGIN, tag 6: anew", begin(ONE, 6), status(0, tag=6)),
            say("DATA, block 0, tag 6", block(ONE, 0, 6), status(1, tag=6)),
            POWER,
            say("BEGIN, tag 6: anew", begin(ONE, 6), status(0, tag=6)),
        ),
        talk(
            "begin-after-commit",
            "4.1 R2",
            "once the push is over the same BEGIN is no repeat",
            *push(ONE, 0),
            say("BEGIN, as before", begin(ONE), status(0)),
            say("HELLO: slot 0 plays, slot 1 is being filled", hello(), board(0, 0, ONE)),
            slots=(ONE, b""),
        ),
        talk(
            "begin-anew",
            "4.1 R1",
            "another length or crc drops the push under way",
            say("BEGIN, tag 1", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("BEGIN, a byte less", shorter, status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say(
                "BEGIN of that length, another crc",
                shorter[:-2] + ("00" if shorter[-2:] != "00" else "01"),
                status(0),
            ),
            say("VERIFY: nothing is there", verify(), status(0, tag=2)),
        ),
        talk(
            "too-large",
            "3.2, 3.18",
            "longer than a slot: refused, and nothing is changed by it",
            say("BEGIN", begin(SHORT), status(0)),
            say("DATA, block 0", block(SHORT, 0), status(1)),
            say("BEGIN, a byte more than a slot", too_large, error(TOO_LARGE, SLOT_BYTES, 1)),
            say(
                "BEGIN, 2^32 - 1 bytes",
                message(2, 1, "FF FF FF FF 00 00 00 00"),
                error(TOO_LARGE, SLOT_BYTES, 1),
            ),
            say("DATA, block 1: the push goes on", block(SHORT, 1), status(2)),
            say("VERIFY", verify(), verified(SHORT)),
            say("BEGIN, just a slot", begin(WIDE), status(0)),
        ),
    ]


def _blocks() -> list[Vector]:
    other = bytes(BLOCK_BYTES)
    return [
        talk(
            "lost-block",
            "4.2 R2, 4.2 R5",
            "a block is lost: STATUS tells, and it alone is sent again",
            say("BEGIN", begin(LONG), status(0)),
            say("DATA, block 0", block(LONG, 0), status(1)),
            say("DATA, block 2 (1 was lost)", block(LONG, 2), status(1, 0b1)),
            say("DATA, block 3", block(LONG, 3), status(1, 0b11)),
            say("DATA, block 1", block(LONG, 1), status(4)),
            say("DATA, block 4, the last", block(LONG, 4), status(5)),
            say("VERIFY", verify(), verified(LONG)),
            slots=(LONG, b""),
        ),
        talk(
            "lost-last-block",
            "4.2 R6",
            "nothing later gives a lost last block away; VERIFY does",
            say("BEGIN", begin(SHORT), status(0)),
            say("DATA, block 0", block(SHORT, 0), status(1)),
            say("VERIFY", verify(), status(1, tag=2)),
            say("DATA, block 1", block(SHORT, 1), status(2)),
            say("VERIFY", verify(3), verified(SHORT, 3)),
            slots=(SHORT, b""),
        ),
        talk(
            "backward",
            "4.2 R2",
            "blocks in any order",
            say("BEGIN", begin(LONG), status(0)),
            *(
                say(f"DATA, block {n}", block(LONG, n), status(*told))
                for n, told in (
                    (4, (0, 0b1000)),
                    (3, (0, 0b1100)),
                    (1, (0, 0b1101)),
                    (2, (0, 0b1111)),
                    (0, (5, 0)),
                )
            ),
            say("VERIFY", verify(), verified(LONG)),
            slots=(LONG, b""),
        ),
        talk(
            "far-ahead",
            "4.2 R2",
            "16 blocks beyond base, not 17",
            say("BEGIN, 20 blocks", begin(WIDE), status(0)),
            say("DATA, block 17", block(WIDE, 17), status(0)),
            say("DATA, block 16", block(WIDE, 16), status(0, 1 << 15)),
            say("DATA, block 0", block(WIDE, 0), status(1, 1 << 14)),
            say("DATA, block 18", block(WIDE, 18), status(1, 1 << 14)),
            say("DATA, block 17", block(WIDE, 17), status(1, 1 << 15 | 1 << 14)),
        ),
        talk(
            "written-once",
            "4.2 R4, 3 R3",
            "a block that is there is not written again, whatever the repeat holds",
            say("BEGIN", begin(SHORT), status(0)),
            say("DATA, block 1", block(SHORT, 1), status(0, 1)),
            say(
                "DATA, block 1, other bytes", block(other + other[: len(SHORT) - 32], 1), status(0, 1)
            ),
            say("DATA, block 0", block(SHORT, 0), status(2)),
            say("DATA, block 0, other bytes", block(other, 0), status(2)),
            say("DATA, block 1, other bytes", block(other + other[: len(SHORT) - 32], 1), status(2)),
            say("VERIFY", verify(), verified(SHORT)),
            say("DATA after the read-back, other bytes", block(other, 0), status(2)),
            say("COMMIT", commit(SHORT), committed(0)),
            slots=(SHORT, b""),
        ),
        talk(
            "wrong-sizes",
            "4.2 R1, 4.2 R3",
            "every block has its one size; nothing is filled up",
            say("BEGIN", begin(SHORT), status(0)),
            say("DATA, block 0, a byte less", block(SHORT, 0)[:-3], error(BAD_FIELD, None, 1)),
            say("DATA, block 1, a byte less", block(SHORT, 1)[:-3], error(BAD_FIELD, None, 1)),
            say("DATA, block 1, a byte more", block(SHORT, 1) + " 00", error(BAD_FIELD, None, 1)),
            say(
                "DATA, block 1, filled up",
                message(3, 1, f"{u16(1)} {other.hex(' ')}"),
                error(BAD_FIELD, None, 1),
            ),
            say("DATA, block 2 of 2", message(3, 1, f"{u16(2)} 00"), error(BAD_FIELD, None, 1)),
            say(
                "DATA, block 65535",
                message(3, 1, f"{u16(65535)} {other.hex(' ')}"),
                error(BAD_FIELD, None, 1),
            ),
            say("VERIFY: none has been taken", verify(), status(0, tag=2)),
        ),
        talk(
            "tag-of-another-push",
            "4.2 R3, 3 R1",
            "a block with another tag than BEGIN's is ignored",
            say("BEGIN, tag 1", begin(ONE), status(0)),
            say("DATA, tag 2", block(ONE, 0, 2)),
            say("DATA, tag 0, of a wrong size", block(ONE, 0, 0)[:-3]),
            say("DATA, tag 0, beyond the table", message(3, 0, f"{u16(65535)} 00")),
            say(
                "DATA, tag 0, without a block: malformed",
                message(3, 0, "00 00"),
                error(BAD_FIELD, None, 0),
            ),
            say("VERIFY", verify(), status(0, tag=2)),
            say("DATA, tag 1", block(ONE, 0), status(1)),
        ),
    ]


def _read_back() -> list[Vector]:
    end = len(ONE) - 4
    coded = [("00 00 01 02 / 11 00 00 / 00 00 00", "IMA ADPCM, rate 65536, 17 samples, no loop")]
    ima = made(
        1, clips=coded, clip_data=[("00 00 00 00", "first sample 0, index 0"), ("10 " * 8, "codes")]
    )
    unsound_end = UNSOUND[:-1] + bytes([UNSOUND[-1] ^ 1])
    large = made(1, channels=9)
    return [
        talk(
            "other-bytes-arrived",
            "4.3 R1, 4.1 R2, 4.4 R3",
            "the CRC is that of what is in the slot; then the same BEGIN begins anew",
            say("BEGIN", begin(ONE), status(0)),
            *blocks(SPOILT),
            say("VERIFY: another crc", verify(), verified(SPOILT)),
            say("COMMIT", commit(ONE), verified(SPOILT, 3)),
            say("BEGIN, same tag: anew", begin(ONE), status(0)),
            *blocks(ONE),
            say("VERIFY", verify(), verified(ONE)),
            say("COMMIT", commit(ONE), committed(0)),
            slots=(ONE, b""),
        ),
        talk(
            "wrong-end",
            "4.3 R2, 4.1 R2",
            "the last four bytes are not the CRC",
            say("BEGIN", begin(ONE), status(0)),
            *blocks(OTHER_END),
            say("COMMIT", commit(ONE), error(BAD_TABLE, end, 3)),
            say("VERIFY", verify(), error(BAD_TABLE, end, 2)),
            say("BEGIN, same tag: anew", begin(ONE), status(0)),
        ),
        talk(
            "unsound-table",
            "4.3 R2",
            "a table that SPEC 4 refuses, at its offset; the one that plays plays on",
            say("BEGIN", begin(UNSOUND), status(0)),
            *blocks(UNSOUND),
            say(f"VERIFY: BAD_INDEX at {VOICES_AT}", verify(), error(BAD_TABLE, VOICES_AT, 2)),
            say("COMMIT", commit(UNSOUND), error(BAD_TABLE, VOICES_AT, 3)),
            say("HELLO", hello(), board(0, 0, TWO)),
            plays=TWO,
            slots=(TWO, b""),
        ),
        talk(
            "unsound-table-and-wrong-end",
            "4.3 R2",
            "the end is looked at first",
            say("BEGIN", begin(unsound_end), status(0)),
            *blocks(unsound_end),
            say("VERIFY", verify(), error(BAD_TABLE, end, 2)),
        ),
        talk(
            "more-than-the-board-can",
            "4.3 R2",
            "nine channels on a board of eight (the detail is any number)",
            say("BEGIN", begin(large), status(0)),
            *blocks(large),
            say("VERIFY", verify(), error(BAD_TABLE, None, 2)),
            say("COMMIT", commit(large), error(BAD_TABLE, None, 3)),
        ),
        *(
            talk(
                f"more-{name}-than-the-board-can",
                "4.3 R2, 3.11",
                f"{why} (the detail is any number)",
                say("BEGIN", begin(data), status(0)),
                *blocks(data),
                say("VERIFY", verify(), error(BAD_TABLE, None, 2)),
                say("COMMIT", commit(data), error(BAD_TABLE, None, 3)),
            )
            for name, why, data in (
                ("voices", "five voices on a board of four", altered(ONE, VOICES_AT, "05")),
                ("samples", "8001 samples a second on a board of 8000", altered(ONE, 12, "41 1F")),
                ("codings", "a clip in IMA ADPCM on a board without", ima),
            )
        ),
        talk(
            "other-bytes-that-are-unsound",
            "4.3 R2",
            "only bytes with the CRC of BEGIN are looked at any further",
            say("BEGIN", begin(ONE), status(0)),
            *blocks(unsound_end),
            say("VERIFY", verify(), verified(UNSOUND)),
        ),
        talk(
            "outcome-is-kept",
            "4.3 R3, 3 R3",
            "further VERIFYs get the same answer, until a BEGIN drops it",
            say("BEGIN", begin(ONE), status(0)),
            *blocks(ONE),
            *(say("VERIFY", verify(tag), verified(ONE, tag)) for tag in (2, 2, 3, 4)),
            say("BEGIN, tag 5", begin(UNSOUND, 5), status(0, tag=5)),
            *blocks(UNSOUND, 5),
            *(say("VERIFY", verify(tag), error(BAD_TABLE, VOICES_AT, tag)) for tag in (6, 6, 7)),
        ),
    ]


def _commit() -> list[Vector]:
    longer = message(5, 3, f"{u32(len(TWO) + 1)} {commit(TWO)[15:]}")
    return [
        talk(
            "commit-of-no-push",
            "4.4 R3",
            "COMMIT of another table than is pushed, or of what plays while one is pushed",
            say("COMMIT, no push", commit(TWO), error(NOT_BEGUN, 0, 3)),
            say("BEGIN", begin(TWO), status(0)),
            *blocks(TWO),
            say("COMMIT of what plays", commit(ONE), error(NOT_BEGUN, 0, 3)),
            say("COMMIT of another length", longer, error(NOT_BEGUN, 0, 3)),
            say(
                "COMMIT of another crc",
                commit(LONG[: len(TWO) - 4] + TWO[-4:]),
                error(NOT_BEGUN, 0, 3),
            ),
            say("HELLO", hello(), board(0, 0, ONE)),
            say("COMMIT", commit(TWO), committed(1)),
            plays=ONE,
            slots=(ONE, TWO),
        ),
        talk(
            "commit-while-blocks-are-missing",
            "4.4 R1, 4.2 R6",
            "it tells which, as VERIFY does, and commits nothing until all are there",
            say("BEGIN", begin(LONG), status(0)),
            say("COMMIT", commit(LONG), status(0, tag=3)),
            say("DATA, block 1", block(LONG, 1), status(0, 1)),
            say("COMMIT", commit(LONG), status(0, 1, tag=3)),
            *(
                say(f"DATA, block {n}", block(LONG, n), status(*told))
                for n, told in ((0, (2, 0)), (2, (3, 0)), (3, (4, 0)), (4, (5, 0)))
            ),
            say("HELLO: without a COMMIT, nothing counts", hello(), board(0, 0, ONE)),
            say("COMMIT", commit(LONG), committed(1)),
            say("HELLO", hello(), board(1, 0, ONE, LONG)),
            plays=ONE,
            slots=(ONE, LONG),
        ),
        talk(
            "repeated-commit",
            "4.4 R2, 3 R3",
            "the answer was lost: it comes again, nothing is written, and the clock runs on",
            *push(TWO, 1),
            frames(7),
            say("COMMIT again", commit(TWO), committed(1)),
            say("COMMIT again, tag 4", commit(TWO, 4), committed(1, 4)),
            say("ASK_CLOCK", ask_clock(), clock(7, FOR_EVER)),
            say("COMMIT of the older table", commit(ONE), error(NOT_BEGUN, 0, 3)),
            plays=ONE,
            slots=(ONE, TWO),
            marks=[(0, ONE), (1, TWO)],
        ),
    ]


def _reading() -> list[Vector]:
    long = made(5, samples=400)
    end = len(ONE)
    return [
        talk(
            "reads-what-plays",
            "3.20, 3.21",
            "a table comes back from any of its bytes on, while another one is pushed too, and then that one",
            say("READ from the start", read(0), part(ONE, 0)),
            say("READ from within", read(50), part(ONE, 50)),
            say("READ of the last byte", read(end - 1), part(ONE, end - 1)),
            say("READ from its end", read(end), error(BAD_FIELD, None, 4)),
            say("READ from far beyond", read(0xFFFFFFFF), error(BAD_FIELD, None, 4)),
            say("READ without its offset", message(12, 4), error(BAD_FIELD, None, 4)),
            say("READ with a byte more", read(0) + " 00", error(BAD_FIELD, None, 4)),
            say("BEGIN of another table", begin(long), status(0)),
            say("DATA, block 0", block(long, 0), status(1)),
            say("READ", read(0), part(ONE, 0)),
            *[
                say(f"DATA, block {number}", block(long, number), status(number + 1))
                for number in range(1, -(-len(long) // BLOCK_BYTES))
            ],
            say("COMMIT", commit(long), committed(1)),
            say("READ from the start", read(0), part(long, 0)),
            say("READ of what is left", read(348), part(long, 348)),
            plays=ONE,
            slots=(ONE, long),
        ),
        talk(
            "reads-nothing",
            "3.20, 3 R5",
            "without a table there is nothing to read, whatever the offset; and a message of a wrong size is told first",
            say("READ", read(0), error(NO_TABLE, 0, 4)),
            say("READ without its offset", message(12, 4), error(BAD_FIELD, None, 4)),
        ),
    ]


SOUND = bytes((7 * place * place + 13 * place) % 251 for place in range(190))
"""A clip in mu-law in which no two blocks are equal."""


def _with_sounds(seed: int, *sounds: bytes) -> bytes:
    """A table with these clips, one behind the other."""
    places = [sum(map(len, sounds[:number])) for number in range(len(sounds))]
    return made(
        seed,
        clips=[
            (f"00 00 01 01 / {u24(len(sound))} / {u24(place)}", "mu-law, rate 65536, no loop")
            for sound, place in zip(sounds, places, strict=True)
        ],
        clip_data=[(sound.hex(" "), "mu-law") for sound in sounds],
    )


def _copying() -> list[Vector]:
    had = _with_sounds(6, SOUND)
    other = _with_sounds(7, SOUND)
    moved = _with_sounds(6, bytes(range(5)), SOUND)
    changed = _with_sounds(6, SOUND[:100] + b"\0" + SOUND[101:])
    full = _with_sounds(6, (SOUND * 3)[: SLOT_BYTES - len(made(6, samples=1)) + 1])
    sound_at = had.index(SOUND)
    shift = moved.index(SOUND) - sound_at
    last = len(other) // BLOCK_BYTES
    return [
        talk(
            "copies-blocks",
            "4.5 R1, 3.24, 5 R1",
            "blocks that the board has come from the table that plays, which stays and plays on",
            frames(3),
            say("BEGIN", begin(other), status(0)),
            *blocks(other)[:3],
            say(
                "COPY of all but the last block",
                copy(3, last - 3, 3 * BLOCK_BYTES),
                status(last),
            ),
            say("DATA, the last block", block(other, last), status(last + 1)),
            say("ASK_CLOCK", ask_clock(), clock(3, FOR_EVER)),
            say("COMMIT", commit(other), committed(1)),
            plays=had,
            slots=(had, other),
        ),
        talk(
            "copies-from-an-odd-place",
            "4.5 R1",
            f"the bytes have moved by {shift} bytes",
            say("BEGIN", begin(moved), status(0)),
            *blocks(moved)[:4],
            say("COPY", copy(4, 4, 4 * BLOCK_BYTES - shift), status(8)),
            *[
                say(f"DATA, block {number}", block(moved, number), status(number + 1))
                for number in range(8, -(-len(moved) // BLOCK_BYTES))
            ],
            say("COMMIT", commit(moved), committed(1)),
            plays=had,
            slots=(had, moved),
        ),
        talk(
            "copies-a-short-block",
            "4.5 R1, 4.2 R1",
            "the last block has what is left of the table, and needs no more of the other",
            say("BEGIN of the table that plays", begin(had), status(0)),
            say("COPY of all", copy(0, last + 1, 0), status(last + 1)),
            say("VERIFY", verify(), verified(had)),
            say("COMMIT", commit(had), committed(1)),
            plays=had,
            slots=(had, had),
        ),
        talk(
            "copies-once",
            "4.5 R1, 4.2 R4, 3 R3",
            "what has come is left as it is, in a repeat and among what is copied",
            say("BEGIN", begin(had), status(0)),
            say("DATA, block 2", block(had, 2), status(0, 0b10)),
            say("COPY of 0 to 3", copy(0, 4, 0), status(4)),
            say("COPY again", copy(0, 4, 0), status(4)),
            say("COPY of other bytes there", copy(0, 4, 7), status(4)),
            say("COPY of 2 to the end", copy(2, last - 1, 2 * BLOCK_BYTES), status(last + 1)),
            say("VERIFY", verify(), verified(had)),
            say("COPY after the read-back", copy(0, 4, 7), status(last + 1)),
            say("COMMIT", commit(had), committed(1)),
            plays=had,
            slots=(had, had),
        ),
        talk(
            "copies-as-far-as-can-be-told",
            "4.5 R1, 4.2 R2",
            "16 blocks beyond base, not 17; the rest when block 0 has come",
            say("BEGIN, 20 blocks", begin(full), status(0)),
            say("COPY of 17 to 19", copy(17, 3, 17 * BLOCK_BYTES), status(0)),
            say("COPY of 1 to 19", copy(1, 19, BLOCK_BYTES), status(0, 0xFFFF)),
            say("DATA, block 0", block(full, 0), status(17)),
            say("COPY of 1 to 19 again", copy(1, 19, BLOCK_BYTES), status(20)),
            say("COMMIT", commit(full), committed(1)),
            plays=full,
            slots=(full, full),
        ),
        talk(
            "copies-in-another-hosts-name",
            "4.5 R1, 4.1 R2",
            "the tag is that of the last BEGIN",
            say("BEGIN, tag 1", begin(had), status(0)),
            say("COPY, tag 2: ignored", copy(0, 4, 0, 2)),
            say("COPY beyond all, tag 2: ignored", copy(0xFFFF, 0xFFFF, 0xFFFFFFFF, 2)),
            say("COPY, tag 1", copy(0, 4, 0), status(4)),
            say("BEGIN, tag 5", begin(had, 5), status(4, tag=5)),
            say("COPY, tag 1: ignored", copy(4, 1, 4 * BLOCK_BYTES)),
            say("COPY, tag 5", copy(4, 1, 4 * BLOCK_BYTES, 5), status(5, tag=5)),
            plays=had,
            slots=(had, b""),
        ),
        talk(
            "copies-nothing-from-outside",
            "4.5 R1, 1 R2, 3 R5",
            "no byte beyond the table that plays, and no block beyond the one that is pushed",
            say("COPY, no push", copy(0, 1, 0), error(NOT_BEGUN, 0, 1)),
            say("COPY of no blocks, no push", copy(0, 0, 0), error(BAD_FIELD, None, 1)),
            say("BEGIN", begin(full), status(0)),
            say(
                "COPY of 10 blocks of a table of less",
                copy(0, 10, 0),
                error(BAD_FIELD, None, 1),
            ),
            say(
                "COPY of a byte beyond the end",
                copy(0, 1, len(had) - BLOCK_BYTES + 1),
                error(BAD_FIELD, None, 1),
            ),
            say("COPY from the end", copy(0, 1, len(had)), error(BAD_FIELD, None, 1)),
            say("COPY from far beyond", copy(0, 1, 0xFFFFFFFF), error(BAD_FIELD, None, 1)),
            say(
                "COPY from where 32 bits come round",
                copy(0, 1, 0xFFFFFFFF - BLOCK_BYTES + 2),
                error(BAD_FIELD, None, 1),
            ),
            say("COPY of block 20 of 20", copy(20, 1, 0), error(BAD_FIELD, None, 1)),
            say("COPY of 19 and 20", copy(19, 2, 0), error(BAD_FIELD, None, 1)),
            say("COPY of 65535 blocks", copy(1, 65535, 0), error(BAD_FIELD, None, 1)),
            say("COPY of block 65535", copy(65535, 1, 0), error(BAD_FIELD, None, 1)),
            say("VERIFY: none has been written", verify(), status(0, tag=2)),
            say("COPY of the last bytes", copy(0, 1, len(had) - BLOCK_BYTES), status(1)),
            plays=had,
            slots=(had, had[-BLOCK_BYTES:]),
        ),
        talk(
            "copies-nothing-of-nothing",
            "3.22, 3.24, 3 R5",
            "without a table there is nothing to copy and nothing to sum up, with a push and without",
            say("SUM", sum_up(0, 1), error(NO_TABLE, 0, 4)),
            say("COPY, no push", copy(0, 1, 0), error(NO_TABLE, 0, 1)),
            say("BEGIN", begin(ONE), status(0)),
            say("COPY", copy(0, 1, 0), error(NO_TABLE, 0, 1)),
            say("SUM", sum_up(0, 1), error(NO_TABLE, 0, 4)),
            say("DATA, block 0", block(ONE, 0), status(1)),
        ),
        talk(
            "copies-other-bytes",
            "4.5 R4, 4.1 R2, 4.3 R1",
            "the read-back finds that they are not those that were meant; then all of them are sent",
            say("BEGIN", begin(changed), status(0)),
            say("COPY", copy(0, last + 1, 0), status(last + 1)),
            say("COMMIT: another crc", commit(changed), verified(had, 3)),
            say("BEGIN: anew", begin(changed), status(0)),
            *blocks(changed),
            say("COMMIT", commit(changed), committed(1)),
            plays=had,
            slots=(had, changed),
        ),
        talk(
            "sums-up",
            "3.22, 3.23",
            "the CRC of any bytes of the table that plays, also while another one is pushed",
            say("SUM of the sound", sum_up(sound_at, 190), summed(had, sound_at, 190)),
            say("SUM of a byte", sum_up(0, 1), summed(had, 0, 1)),
            say("SUM of all", sum_up(0, len(had)), summed(had, 0, len(had))),
            say("BEGIN", begin(other), status(0)),
            say("DATA, block 0", block(other, 0), status(1)),
            say("SUM of the last bytes", sum_up(len(had) - 9, 9, 7), summed(had, len(had) - 9, 9, 7)),
            say("SUM of nothing", sum_up(0, 0), error(BAD_FIELD, None, 4)),
            say("SUM of a byte beyond", sum_up(1, len(had)), error(BAD_FIELD, None, 4)),
            say("SUM from the end", sum_up(len(had), 1), error(BAD_FIELD, None, 4)),
            say("SUM that comes round", sum_up(0xFFFFFFFF, 2), error(BAD_FIELD, None, 4)),
            say("SUM of 2^32 - 1 bytes", sum_up(1, 0xFFFFFFFF), error(BAD_FIELD, None, 4)),
            say("DATA, block 1", block(other, 1), status(2)),
            plays=had,
            slots=(had, other[: 2 * BLOCK_BYTES]),
        ),
    ]
