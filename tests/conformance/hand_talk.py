"""What the conversations with a board (`hand_push.py`, `hand_run.py`, `hand_slots.py`) are written
with: messages by their fields, and steps.

Every message is put together here field by field, by the tables of LINK.md section 3, and framed as
in `hand_link.py`; no session and no encoder of ours is asked for an answer.
"""

from collections.abc import Sequence

from hand_link import crc, framed
from hand_work import NOTHING, ONCE, SWITCH, Record, table, u16, u24, u32
from vector_files import Vector, pieces

BLOCK_BYTES = 32
PRESS_ROOM = 4
TRACE_ROOM = 8
PAGE_BYTES = 64
SLOT_BYTES = 640
BASE_BAUD = 115_200
MOST_BAUD = 1_000_000
BOARD = {
    "table_version": 2,
    "most_rate_hz": 8000,
    "most_channels": 8,
    "most_pwm_bits": 16,
    "most_voices": 4,
    "codings": 3,
    "features": 0xF9,
    "block_bytes": BLOCK_BYTES,
    "window": 16,
    "press_room": PRESS_ROOM,
    "trace_room": TRACE_ROOM,
    "slot_bytes": SLOT_BYTES,
    "board_id": 7,
    "name": "bench",
    "page_bytes": PAGE_BYTES,
    "most_baud": MOST_BAUD,
}
"""The board of all conversations: what it says of itself in BOARD, the size of its pages, and the
highest speed of its line, of which it can keep each lower one.
"""
FOR_EVER = 0xFFFFFFFF
WAITS = [framed(bytes([0x13 + 32 * tag])) for tag in range(8)]

Step = dict[str, object]
Pressed = tuple[int, int, int, int]


def made(
    seed: int,
    samples: int = 0,
    input: int = 0,
    channels: int = 1,
    joints: Sequence[Record] = (),
    **of: Sequence[Record],
) -> bytes:
    """A table with two inputs, a selector of three positions and an effect that does nothing, on
    input 0. samples: mu-law, of clip data.

    of: clips and clip_data, where they are others.
    """
    clip = (f"00 00 01 01 / {u24(samples)} / 00 00 00", f"mu-law, rate 65536, {samples} samples, no loop")
    clips = of or {
        "clips": [clip] if samples else [],
        "clip_data": [("55 " * samples, "mu-law")] if samples else [],
    }
    lines = table(
        seed=seed,
        channels=channels,
        inputs=[SWITCH, SWITCH],
        selectors=[("03 00", "3 positions, first 0")],
        effects=[NOTHING],
        triggers=[ONCE if input == 0 else (f"{input << 3:02X} 00 00 / 00", "an input that is not there")],
        joints=joints,
        **clips,
    )
    return bytes.fromhex("".join(line.split(":")[0] for line in lines))


ONE = made(1)
TWO = made(2)
LONG = made(3, samples=60)
SHORT = bytes.fromhex("".join(line.split(":")[0] for line in table(seed=4, inputs=[SWITCH] * 2)))
"""Two blocks; ONE and TWO have three, LONG has five."""


def altered(data: bytes, at: int, new: str) -> bytes:
    """A table with other bytes from `at` on, and the CRC that it then has."""
    body = data[:at] + bytes.fromhex(new) + data[at + len(bytes.fromhex(new)) : -4]
    return body + crc(body)


def crc_of(data: bytes) -> str:
    """As in BEGIN (LINK 3.2): of all bytes but the last four."""
    return crc(data[:-4]).hex(" ").upper()


# Messages from the host.


def message(kind: int, tag: int, fields: str = "") -> str:
    return f"{kind + 32 * tag:02X} {fields}".strip()


def hello(tag: int = 1, version: int = 1) -> str:
    return message(1, tag, f"{version:02X}")


def begin(data: bytes, tag: int = 1) -> str:
    return message(2, tag, f"{u32(len(data))} {crc_of(data)}")


def block(data: bytes, number: int, tag: int = 1, size: int = BLOCK_BYTES) -> str:
    """DATA; without bytes where the table has no such block."""
    return message(3, tag, f"{u16(number)} {data[size * number :][:size].hex(' ').upper()}")


def verify(tag: int = 2) -> str:
    return message(4, tag)


def commit(data: bytes, tag: int = 3) -> str:
    return message(5, tag, f"{u32(len(data))} {crc_of(data)}")


def restart(tag: int = 4) -> str:
    return message(6, tag)


def run(until: int, tag: int = 5) -> str:
    return message(7, tag, u32(until))


def presses(first: int, *what: Pressed, tag: int = 6) -> str:
    return message(8, tag, " ".join([u16(first), *map(event, what)]))


def ask_clock(tag: int = 7) -> str:
    return message(9, tag)


def ask_trace(first: int, tag: int = 0) -> str:
    return message(10, tag, u32(first))


def ask_counts(tag: int = 2) -> str:
    return message(16, tag)


def speed(baud: int, tag: int = 4) -> str:
    return message(15, tag, u32(baud))


def read(offset: int, tag: int = 4) -> str:
    return message(12, tag, u32(offset))


def sum_up(offset: int, length: int, tag: int = 4) -> str:
    """SUM."""
    return message(13, tag, f"{u32(offset)} {u32(length)}")


def copy(first: int, count: int, offset: int, tag: int = 1) -> str:
    return message(14, tag, f"{u16(first)} {u16(count)} {u32(offset)}")


def halve(tag: int) -> str:
    return message(29, tag)


# Answers.


def board(active: int, held: int, slot_0: bytes = b"", slot_1: bytes = b"", tag: int = 1) -> str:
    tables = " ".join(
        f"{u32(len(data))} {crc_of(data)}" if data else "00 00 00 00 00 00 00 00"
        for data in (slot_0, slot_1)
    )
    sizes = f"{u16(BLOCK_BYTES)} 10 {PRESS_ROOM:02X} {u16(TRACE_ROOM)} {u32(SLOT_BYTES)}"
    return message(
        17,
        tag,
        f"01 02 40 1F 08 10 04 03 00 F9 {sizes} {active:02X} {held:02X} {tables} 07 00 00 00 62 65"
        " 6E 63 68",
    )


def status(base: int, bitmap: int = 0, tag: int = 1) -> str:
    return message(18, tag, f"{u16(base)} {u16(bitmap)}")


def halved(base: int, bitmap: int = 0, tag: int = 1) -> str:
    return message(30, tag, f"{u16(base)} {u16(bitmap)}")


def verified(data: bytes, tag: int = 2) -> str:
    return message(20, tag, f"{u32(len(data))} {crc_of(data)}")


def committed(slot: int, tag: int = 3) -> str:
    return message(21, tag, f"{slot:02X}")


def clock(
    frame: int, until: int, next_press: int = 0, room: int = PRESS_ROOM, late: int = 0, tag: int = 7
) -> str:
    return message(22, tag, f"{u32(frame)} {u32(until)} {u16(next_press)} {room:02X} {u16(late)}")


def trace(frame: int, first: int, *what: Pressed, tag: int = 0) -> str:
    return message(23, tag, " ".join([u32(frame), u32(first), *map(event, what)]))


def part(data: bytes, offset: int, tag: int = 4) -> str:
    """With the rest of the table, or 348 bytes of it."""
    return message(25, tag, f"{u32(offset)} {data[offset : offset + 348].hex(' ').upper()}")


def summed(data: bytes, offset: int, length: int, tag: int = 4) -> str:
    """Of bytes of this table."""
    bytes_crc = crc(data[offset : offset + length]).hex(" ").upper()
    return message(26, tag, f"{u32(offset)} {u32(length)} {bytes_crc}")


def counted(
    power_ups: int,
    shots: int,
    refusals: int = 0,
    flash_errors: int = 0,
    counting: int = 1,
    tag: int = 2,
) -> str:
    """Nothing measures cells here."""
    numbers = f"{u32(power_ups)} {u32(shots)} {u32(refusals)} {u16(flash_errors)}"
    return message(27, tag, f"{counting:02X} {numbers} FF FF")


def agreed(baud: int, tag: int = 4) -> str:
    return message(28, tag, u32(baud))


def event(what: Pressed) -> str:
    frame, kind, index, value = what
    return f"{u32(frame)} {kind:02X} {index:02X} {u16(value)}"


def error(code: int, detail: int | None, tag: int) -> str:
    """detail: None for any number."""
    return message(24, tag, f"{code:02X} {'?? ?? ?? ??' if detail is None else u32(detail)}")


UNKNOWN_KIND, BAD_FIELD, TOO_LARGE, NOT_BEGUN, BAD_TABLE, FLASH, NO_TABLE, BAD_PRESS = range(1, 9)


# Steps.


def say(says: str, asked: str, *answers: str) -> Step:
    """A message, and all answers to it but WAIT."""
    line = framed(bytes.fromhex(asked))
    return raw(says, line, *answers, asked=asked)


def raw(says: str, line: bytes, *answers: str, asked: str | None = None) -> Step:
    """Bytes as they are on the line."""
    step: Step = {
        "says": says,
        **({} if asked is None else {"message": asked}),
        "to_board": line.hex(" ").upper(),
        "answers": list(answers),
    }
    if any("?" in answer for answer in answers):
        return step
    return {
        **step,
        "from_board": (
            b"".join(framed(bytes.fromhex(answer)) for answer in answers).hex(" ").upper()
        ),
    }


def frames(count: int, hand: Sequence[int] = ()) -> Step:
    """Time for so many frames. hand: inputs whose contact a hand keeps closed."""
    return {
        "says": f"time for {count} frames",
        "frames": count,
        **({"closed": list(hand)} if hand else {}),
    }


def silence(duration_ms: int) -> Step:
    return {"says": f"nothing on the line for {duration_ms} ms", "silence_ms": duration_ms}


def run_at(baud: int) -> Step:
    return {"says": f"the board's end of the line now runs at {baud} baud", "baud": baud}


POWER: Step = {"says": "power fails, and comes back", "power_up": True}


FLASH_FAILS: Step = {
    "says": "the next write or erasure is not carried out, and the memory says so",
    "flash_fails": True,
}


def damage(slot: int, offset: int) -> Step:
    return {"says": f"bit 0 of byte {offset} of slot {slot} turns over", "damage": [slot, offset]}


def turn_over(place: int, offset: int) -> Step:
    return {
        "says": f"bit 0 of byte {offset} of place {place} of the marks turns over",
        "mark_bit": [place, offset],
    }


def count_bit(place: int, offset: int) -> Step:
    return {
        "says": f"bit 0 of byte {offset} of record {place} of the counts turns over",
        "count_bit": [place, offset],
    }


def blocks(data: bytes, tag: int = 1) -> list[Step]:
    count = -(-len(data) // BLOCK_BYTES)
    return [
        say(f"DATA, block {n}", block(data, n, tag), status(n + 1, tag=tag)) for n in range(count)
    ]


def push(data: bytes, slot: int) -> list[Step]:
    """From BEGIN to COMMITTED, nothing lost."""
    return [
        say(f"BEGIN, {len(data)} bytes", begin(data), status(0)),
        *blocks(data),
        say("VERIFY", verify(), verified(data)),
        say("COMMIT", commit(data), committed(slot)),
    ]


def talk(
    id: str,
    rules: str,
    why: str,
    *steps: Step,
    plays: bytes = b"",
    flash: bytes = b"",
    **after: object,
) -> Vector:
    """One conversation. rules: of LINK.md, parted by commas. plays: the table in slot 0, pushed
    before. flash: all of it, before power-up.

    after: `slots`, how each of them begins (nothing said of one without bytes); `marks`: for each
    of the places up to the last that is in use (slot, table), "other" for what is no whole mark of
    a table that can be there, None for one that is erased; `counts`: each of their places in
    turn, its bytes, None for one that is erased.
    """
    slots = after.pop("slots", (b"", b""))
    given = {"plays": pieces(plays)} if plays else {"flash": pieces(flash)} if flash else {}
    if "marks" in after:
        after["marks"] = [
            [mark[0], len(mark[1]), crc_of(mark[1])] if isinstance(mark, tuple) else mark
            for mark in after["marks"]
        ]
    return {
        "id": f"session-{id}",
        "rules": [f"LINK {rule.strip()}" for rule in rules.split(",")],
        "why": why,
        "format": 1,
        "result": "converses",
        "board": BOARD,
        **given,
        "steps": list(steps),
        "slots": [pieces(data) for data in slots],
        **after,
    }
