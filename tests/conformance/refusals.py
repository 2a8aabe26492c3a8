"""Vectors of tables that are refused, each with one fault, and of those just within a limit, which
are accepted.

`refused` is what every player refuses (SPEC 3 R1), `unsound` what a reader that checks all of
section 3 refuses and a player need not. The expected reason and offset are counted here: where the
field stands, and what its range says. No reader is asked.
"""

import sys
from pathlib import Path

from spec_text import rules
from vector_files import Vector, pieces

sys.path.insert(0, str(Path(__file__).parents[1] / "table"))

import test_limits  # noqa: E402
from raw_table import SIZES, Raw, assemble, half, reseal, seal, with_byte, word  # noqa: E402

RULE_OF_INDEX = ("2.2",)


def vector(result: str, id: str, of: tuple[str, ...], why: str, data: bytes) -> Vector:
    return {
        "id": id,
        "rules": list(of),
        "why": why,
        "format": 1,
        "result": result,
        "table": pieces(data),
    }


def refused(id: str, of: tuple[str, ...], why: str, data: bytes, error: str, offset: int) -> Vector:
    return {**vector("refused", id, of, why, data), "error": error, "offset": offset}


def unsound(id: str, of: tuple[str, ...], why: str, data: bytes, error: str, offset: int) -> Vector:
    return {**vector("unsound", id, of, why, data), "error": error, "offset": offset}


def accepted(id: str, of: tuple[str, ...], why: str, data: bytes) -> Vector:
    return vector("accepted", id, of, why, data)


# Limits: each field at its ends and one beyond


def limits() -> list[Vector]:
    fields = [_at_limit(field, value) for field, value in test_limits.ends()]
    return [*fields, *_board_limits(), *_counts(), *_coded_clips(), *_ima_heads(), *_rice_lengths()]


def _at_limit(field: test_limits.Field, value: int) -> Vector:
    raw, at = test_limits.tried(field, value)
    of = (test_limits.SPEC_OF[field.section], *field.rules, "3 R2")
    if field.reason == "BAD_INDEX":
        of = (*of, *RULE_OF_INDEX)
    why = f"{field.name} may be {field.least} to {field.most}"
    if field.least == field.most:
        why = f"{field.name} may be {field.least} only"
    id = f"{field.name}-{value}"
    fault = test_limits.expected(field, value, at)
    return unsound(id, of, why, raw.data, *fault) if fault else accepted(id, of, why, raw.data)


def _board_limits() -> list[Vector]:
    found = []
    ranges = {name: (least, most) for name, _, _, least, most in test_limits.BOARD_FIELDS}
    for name, at, size, value, within in test_limits.board_ends():
        data = test_limits.with_board(at, size, value)
        why = f"{name} may be {ranges[name][0]} to {ranges[name][1]}"
        found.append(_of_header(f"board-{name}-{value}", why, data, at, within))
    for mask in range(9):
        data = test_limits.with_board(21, 1, mask)
        within = mask in test_limits.LIGHT_MASKS
        why = "light_mask may be 0, 1, 3 or 7"
        found.append(_of_header(f"board-light-mask-{mask}", why, data, 21, within))
    return found


def _of_header(id: str, why: str, data: bytes, at: int, within: bool) -> Vector:
    of = ("3.1", "3 R1.6")
    if within:
        return accepted(id, of, why, data)
    return refused(id, of, why, data, "BAD_VALUE", at)


def _counts() -> list[Vector]:
    """So many records of each section, and one more (3); two more where it matters by itself."""
    found = []
    for place, (name, most) in enumerate(test_limits.MOST.items()):
        of = ("3 R1.6", test_limits.SPEC_OF[name])
        why = f"at most {most} {name}"
        if name in SMALL:
            found.append(accepted(f"{name}-{most}", of, why, _full(name, most)))
        beyond = assemble(**{name: [bytes(SIZES[name])] * (most + 1)}).data
        found.append(
            refused(f"{name}-{most + 1}", of, why, beyond, "BAD_VALUE", 22 + 2 * place)
        )
    return found


SMALL = {
    "inputs": "0000",
    "selectors": "0200",
    "counters": "01000000",
    "groups": "",
    "segments": "0000000000001000",
    "forms": "00000101",
}
"""Records that may stand alone, so many as there may be."""


def _full(name: str, most: int) -> bytes:
    board = bytes.fromhex("01000000 2256 1500 02 FF 0C 04 00 03")
    records = [bytes.fromhex(SMALL[name])] * most
    if name == "groups":
        records = [bytes([first, 1, 0, 0xFF]) for first in range(most)]
    return assemble(board, **{name: records}).data


def _coded_clips() -> list[Vector]:
    """3.7 R1 and R3: as many samples as 4000 bytes hold in each coding, and one more. IMA ADPCM: 15
    blocks of 256 bytes, then 4 + 312 / 2. QOA: 16 + 256 * 8 bytes, then 16 + 240 * 8.
    """
    found = []
    for form, (name, most) in enumerate(
        (("mulaw", 4000), ("pcm", 2000), ("ima", 7888), ("qoa", 9920))
    ):
        for samples in (most, most + 1):
            clip = samples.to_bytes(3, "little") + bytes([form, 0, 0, 0, 0xFF])
            raw, at = test_limits.with_row("clips", clip)
            id = f"{name}-samples-{samples}"
            of = ("3.7", "3.7 R1", "3.7 R3")
            why = f"4000 bytes hold {most} samples"
            if samples == most:
                found.append(accepted(id, of, why, raw.data))
            else:
                found.append(unsound(id, of, why, raw.data, "BAD_DATA", at + 4))
    return found


def _ima_heads() -> list[Vector]:
    """3.7 R4, in the first block, in the second one (505 samples, 256 bytes), and in the run of
    a loop (481 samples before it, 244 bytes).
    """
    clips = {
        "first-block": ("020000 00 000000 FF", [], 0),
        "second-block": ("FA0100 00 000000 FF", [], 256),
        "loop": ("010200 00 000000 00", ["E1010000 F4000000"], 244),
    }
    found = []
    for name, (clip, loops, before) in clips.items():
        for head in ("00005800", "00005900", "0000FF00", "00005801"):
            raw = assemble(
                clip_data=bytes(before) + bytes.fromhex(head) + bytes(20),
                forms=[bytes.fromhex("00000102")],
                loops=[bytes.fromhex(loop) for loop in loops],
                clips=[bytes.fromhex(clip)],
            )
            id = f"ima-head-{name}-{head[4:].lower()}"
            why = "an index above 88 would be looked up outside the steps; the byte behind it is 0"
            if head == "00005800":
                found.append(accepted(id, ("3.7 R4",), why, raw.data))
            else:
                at = raw.at["clips"][0] + 4
                found.append(unsound(id, ("3.7 R4",), why, raw.data, "BAD_DATA", at))
    return found


def _rice_lengths() -> list[Vector]:
    """3.7 R5: a length that ends the clip data, one byte more, and lengths that are not whole; of
    one run, and of that of a loop.
    """
    clips = {
        "run": ("020000 00 000000 FF", [], ""),
        "loop": ("010200 00 000000 00", [word(481) + word(4)], "010000 77"),
    }
    why = "a length reaches to the end of the clip data at most"
    found = []
    for name, (clip, loops, before) in clips.items():
        for last, good in (("010000 AA", True), ("020000 AA", False), ("0100", False), ("", False)):
            raw = assemble(
                clip_data=bytes.fromhex(before + last),
                forms=[bytes.fromhex("00000104")],
                loops=loops,
                clips=[bytes.fromhex(clip)],
            )
            id = f"rice-length-{name}-{last[:6].strip().lower() or 'none'}"
            at = raw.at["clips"][0] + 4
            of = ("3.7 R5", "3.7 R1")
            if good:
                found.append(accepted(id, of, why, raw.data))
            else:
                found.append(unsound(id, of, why, raw.data, "BAD_DATA", at))
    return found


# Layout: header, rows, rules about several fields


def layout() -> list[Vector]:
    lists = (_lengths, _header, _rows, _triggers, _uses, _loops, _first_of_two)
    return [found for each in lists for found in each()]


def _lengths() -> list[Vector]:
    whole = assemble().data
    found = [
        refused("empty", ("3 R1.1",), "nothing at all", b"", "BAD_LENGTH", 0),
        refused("51-bytes", ("3 R1.1",), "52 bytes are the least", whole[:51], "BAD_LENGTH", 51),
        accepted("52-bytes", ("3 R1.1", "3 R1.7"), "a header and a CRC are a table", whole),
    ]
    for change in (-2, 2):
        data = reseal(whole[:4] + word(len(whole) + change) + whole[8:])
        why = "length is that of the whole table"
        id = f"length-{'less' if change < 0 else 'more'}-by-2"
        found.append(refused(id, ("3 R1.4",), why, data, "BAD_LENGTH", 4))
    odd = seal(whole[:-4] + bytes(5))
    found.append(refused("odd-length", ("3 R1.4",), "length is even", odd, "BAD_LENGTH", 4))
    behind = whole + b"\0\0"
    found.append(
        refused("bytes-behind", ("3 R1.4",), "two bytes too many", behind, "BAD_LENGTH", 4)
    )
    return [*found, *_clip_data_begin()]


def _clip_data_begin() -> list[Vector]:
    """3 R1.7: 65535 at most, and not behind the CRC."""
    of = ("3 R1.7",)
    why = "the clip data begins at 65535 at the latest, and not behind the CRC"
    record = bytes.fromhex("0000000000001000")
    short = assemble(segments=[record]).data
    beyond = seal(short[:-8] + bytes(4))
    # 4095 segments and 4095 steps take 49140 bytes, and with the header and 3990 terms and 384 choices 65534.
    more = {"segments": [record] * 4095, "steps": [bytes(4)] * 4095}
    fits = assemble(**more, terms=[bytes(4)] * 3990, choices=[b"\0"] * 384).data
    late = assemble(**more, terms=[bytes(4)] * 3990, choices=[b"\0"] * 385).data
    steps_at = 50 + 8 * 4095
    return [
        refused("records-pass-the-end", of, why, beyond, "BAD_LENGTH", 22),
        unsound(
            "clip-data-at-65534",
            ("3 R1.7", "3 R2"),
            why + "; here all steps belong to nothing",
            fits,
            "BAD_VALUE",
            steps_at,
        ),
        refused("clip-data-at-65536", of, why, late, "BAD_LENGTH", 22),
    ]


def _header() -> list[Vector]:
    whole = assemble().data
    found = []
    for place in range(4):
        broken = reseal(whole[:place] + bytes([whole[place] ^ 0x20]) + whole[place + 1 :])
        why = "every byte of the magic counts"
        found.append(refused(f"magic-byte-{place}", ("3 R1.2",), why, broken, "BAD_MAGIC", 0))
    for version in (0, 1, 3):
        data = with_byte(whole, 16, version)
        why = "a reader of version 2 reads version 2 only"
        found.append(
            refused(f"version-{version}", ("3 R1.3",), why, data, "BAD_VERSION", 16)
        )
    for place in range(4):
        at = len(whole) - 4 + place
        data = whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]
        why = "every byte of the CRC counts"
        found.append(
            refused(f"crc-byte-{place}", ("3 R1.5",), why, data, "BAD_CRC", len(whole) - 4)
        )
    return [*found, *_order_of_checks(whole)]


def _order_of_checks(whole: bytes) -> list[Vector]:
    """Each table has two faults, and the one of the earlier check is told."""
    version = whole[:16] + b"\1" + whole[17:]
    cases = [
        ("length-before-magic", "3 R1.1", bytes(51), "BAD_LENGTH", 51),
        ("magic-before-version", "3 R1.2", b"\0" + version[1:], "BAD_MAGIC", 0),
        ("version-before-length", "3 R1.3", version + b"\0", "BAD_VERSION", 16),
        ("length-before-crc", "3 R1.4", whole[:4] + b"\0" + whole[5:], "BAD_LENGTH", 4),
        ("crc-before-seed", "3 R1.5", whole[:8] + b"\0" + whole[9:], "BAD_CRC", 50),
    ]
    two = reseal(whole[:8] + bytes(4) + half(1) + whole[14:])
    mask = reseal(whole[:21] + b"\2" + half(33) + whole[24:])
    count = reseal(whole[:22] + half(1) + half(17) + whole[26:])
    cases += [
        ("seed-before-rate", "3 R1.6", two, "BAD_VALUE", 8),
        ("mask-before-counts", "3 R1.6", mask, "BAD_VALUE", 21),
        ("counts-before-clip-data", "3 R1.6", count, "BAD_VALUE", 24),
    ]
    why = "checks have an order, and the first that fails is told"
    return [refused(id, (rule, "4"), why, data, *fault) for id, rule, data, *fault in cases]


def _row(
    id: str,
    of: tuple[str, ...],
    why: str,
    section: str,
    row: str,
    error: str = "",
    offset: int = 0,
    mode: str = test_limits.ONCE,
) -> Vector:
    """A row behind the others of its section; offset: of the fault within it."""
    raw, at = test_limits.with_row(section, bytes.fromhex(row), mode)
    if error:
        return unsound(id, of, why, raw.data, error, at + offset)
    return accepted(id, of, why, raw.data)


VALUE = "BAD_VALUE"
INDEX = "BAD_INDEX"
PLAY = test_limits.PLAY


def _rows() -> list[Vector]:
    """Heads with bits, and what stands before and behind what."""
    cases = [
        ("form-bit-18", "3.7", "forms", "00000501", VALUE, 0),
        ("shape-5", "3.6 R2", "segments", "0000000000001500", VALUE, 6),
        ("shape-bit-6", "3.6 R2", "segments", "0000000000005000", VALUE, 6),
        ("shape-bit-7", "3.6 R2", "segments", "0000000000009000", VALUE, 6),
        ("flicker-to-ambient", "3.6 R2", "segments", "0500000000101C00", VALUE, 6),
        ("fade-without-end", "3.6 R3", "segments", "0000000000000000", VALUE, 6),
        ("two-turns", "3.6 R3", "segments", "0900000000002000" "0900000000003000", VALUE, 14),
        ("turn-without-a-frame", "3.6 R3", "segments", "0900000000000000" "0000000000003000",
         VALUE, 14),
        ("turn-of-a-frame", "3.6 R3", "segments", "0100000000003000", "", 0),
        ("row-of-7-frames", "3.6 R4", "segments", "0700000000000000" + "0000000000000000" * 15
         + "0000000000001000", VALUE, 15 * 8 + 6),
        ("row-of-8-frames", "3.6 R4", "segments", "0800000000000000" + "0000000000000000" * 14
         + "0000000000001000", "", 0),
        ("15-segments-without-a-frame", "3.6 R4", "segments", "0000000000000000" * 14
         + "0000000000001000", "", 0),
        ("row-that-begins-before-the-turn", "3.6 R4", "segments", "0000000000000000" * 12
         + "0100000000003000", VALUE, 102),
        ("round-of-1-frame-in-3", "3.6 R4", "segments", "0000000000002000" "0000000000000000"
         "0100000000001000", VALUE, 22),
        ("round-of-1-frame-in-2", "3.6 R4", "segments", "0000000000002000" "0100000000001000",
         "", 0),
        ("step-kind-10", "3.8 R2", "steps", "8A000000", VALUE, 0),
        ("step-bit-4", "3.8", "steps", "94000010", VALUE, 0),
        ("length-behind-a-step", "3.8 R2", "steps", "04000010" "80000500", VALUE, 4),
        ("spread-before-length", "3.8 R2", "steps", "01010000" "80000500", VALUE, 4),
        ("two-spreads", "3.8 R2", "steps", "01010000" "81010000", VALUE, 4),
        ("length-and-spread", "3.8 R2", "steps", "00000500" "81010000", "", 0),
        ("with-before-play", "3.8 R2", "steps", "03000500" + PLAY, VALUE, 0),
        ("wait-at-the-end", "3.8 R2", "steps", "82000500", VALUE, 0),
        ("with-at-the-end", "3.8 R2", "steps", "83000500", VALUE, 0),
        ("effect-without-end", "3.8 R2", "steps", "04000010", VALUE, 0),
        ("32-steps-in-a-row", "3.8 R2", "steps", "08000100" * 31 + "88000100", "", 0),
        ("33-steps-in-a-row", "3.8 R2", "steps", "08000100" * 32 + "88000100", VALUE, 128),
        ("waits-of-65535", "3.8 R3", "steps", "0200FEFF" "04000010" "02000100" + PLAY, "", 0),
        ("waits-of-65536", "3.8 R3", "steps", "0200FFFF" "04000010" "02000100" + PLAY, VALUE, 10),
        ("group-that-touches", "3.5", "groups", "240100FF", "", 0),
        ("group-that-overlaps", "3.5", "groups", "230100FF", VALUE, 0),
        ("group-without-gauge", "3.5", "groups", "240100FF", "", 0),
    ]  # fmt: skip
    why = "one step to either side of the rule"
    found = [_row(id, (rule, "3 R2"), why, *rest) for id, rule, *rest in cases]
    return [*found, *_fade_names()]


def _fade_names() -> list[Vector]:
    """3.8 R4: the second segment of a fade is none by which it may be named."""
    fade = [bytes.fromhex("0000FFFF00000000"), bytes.fromhex("0000FFFF00001000")]
    found = []
    for segment in (2, 3):
        step = bytes.fromhex("8600") + half(segment)
        raw = test_limits.whole(segments=fade, effects=[half(3)], steps=[step])
        why = "a fade is named by its first segment"
        id = f"fade-of-segment-{segment}"
        if segment == 2:
            found.append(accepted(id, ("3.8 R4",), why, raw.data))
        else:
            at = raw.at["steps"][-1] + 2
            found.append(unsound(id, ("3.8 R4",), why, raw.data, INDEX, at))
    return found


def _triggers() -> list[Vector]:
    repeat = test_limits.REPEAT
    needs = "01000000"
    cases = [
        ("terms-descend", "3.9 R2", "01000000" "80000100", VALUE, 4, "00"),
        ("needs-twice", "3.9 R2", needs + "81010000", VALUE, 4, "00"),
        ("empty-without-needs", "3.9 R2", "82000000", VALUE, 0, "00"),
        ("period-of-once", "3.9 R2", "83000002", VALUE, 0, "00"),
        ("repeat-without-period", "3.9 R2", "81000000", VALUE, 0, repeat),
        ("ramp-without-shots", "3.9 R2", "03000002" "87000002", VALUE, 4, repeat),
        ("ramp-without-period", "3.9 R2", "03000002" "88000500", VALUE, 4, repeat),
        ("term-kind-9", "3.9", "89000000", VALUE, 0, repeat),
        ("term-bit-4", "3.9", "91000000", VALUE, 0, "00"),
        ("terms-without-end", "3.9 R2", needs, VALUE, 0, "00"),
        ("16-conditions", "3.9 R2", "00000100" * 15 + "80000100", "", 0, "00"),
        ("17-conditions", "3.9 R2", "00000100" * 16 + "80000100", VALUE, 64, "00"),
        ("whole-repeat-at-random", "3.9", "03000002" "04000003" "05000200" "06000300"
         "07000005" "88000900", "", 0, "06"),
    ]  # fmt: skip
    why = "one step to either side of the rule"
    found = [
        _row(id, (rule, "3 R2"), why, "terms", row, error, offset, mode)
        for id, rule, row, error, offset, mode in cases
    ]
    for mode in ("02", "03", "04"):
        none = _row(f"mode-{mode}-none", ("3.9 R3",), "the last is there", "choices", "FF02FF", INDEX,
                    2, mode)  # fmt: skip
        one = _row(f"mode-{mode}-one", ("3.9 R3",), "the last is there", "choices", "FF02",
                   mode=mode)  # fmt: skip
        found += [none, one]
    return [*found, *_heads(), *_rows_of_triggers()]


def _heads() -> list[Vector]:
    """The first bytes of a trigger."""
    cases = [
        ("mode-7", "0701 0000 0000 FFFF", VALUE, 0),
        ("input-2", "1001 0000 0000 FFFF", INDEX, 0),
        ("always-with-an-input", "0C03 0000 0000 FFFF", VALUE, 0),
        ("once-without-choice", "0000 0000 0000 FFFF", VALUE, 1),
        ("while-held-of-none", "0200 0000 0000 FFFF", VALUE, 1),
        ("while-held-of-four", "0204 0000 0000 FFFF", VALUE, 1),
        ("another-choice", "0001 0000 0100 FFFF", INDEX, 4),
        ("choices-beyond-the-last", "0005 0000 0000 FFFF", INDEX, 4),
        ("term-beyond-the-last", "0001 0000 0000 0000", INDEX, 6),
        ("repeat-without-terms", "0101 0000 0000 FFFF", VALUE, 6),
    ]
    found = []
    for id, trigger, error, offset in cases:
        raw = test_limits.whole(triggers=[bytes.fromhex(trigger)], choices=[b"\0"] * 4)
        rule = "3.9 R1" if error == INDEX else "3.9"
        at = raw.at["triggers"][0] + offset
        found.append(unsound(id, (rule, "3 R2"), "the head of a trigger", raw.data, error, at))
    return found


def _uses() -> list[Vector]:
    """Each use of a pin, and one beyond the last."""
    why = "uses are 0 to 11"
    values = {use: 1 if use in (0, 1, 2, 4, 6) else 0 for use in range(12)}
    found = [
        _row(f"joint-use-{use}", ("3.10",), why, "joints", f"{use:02X}00FF{value:02X}")
        for use, value in values.items()
    ]
    beyond = _row("joint-use-12", ("3.10", "3 R2"), why, "joints", "0C00FF00", VALUE, 0)
    return [*found, beyond]


def _rows_of_triggers() -> list[Vector]:
    """3.9 R1: choices and terms of a trigger stand behind those of the triggers before."""
    first = "0002 0000 0000 0000"
    terms = [bytes.fromhex("01000000"), bytes.fromhex("82010000"), bytes.fromhex("80010200")]
    found = []
    for choice in (1, 2):
        for term in (1, 2):
            second = bytes.fromhex("0801 0900") + half(choice) + half(term)
            raw = test_limits.whole(
                triggers=[bytes.fromhex(first), second], terms=terms, choices=[b"\0"] * 3
            )
            id = f"second-trigger-choice-{choice}-term-{term}"
            of = ("3.9 R1", "3 R2")
            why = "the second trigger's are choice 2 and term 2"
            at = raw.at["triggers"][1] + (4 if choice == 1 else 6)
            if (choice, term) == (2, 2):
                found.append(accepted(id, of, why, raw.data))
            else:
                found.append(unsound(id, of, why, raw.data, INDEX, at))
    return found


def _loops() -> list[Vector]:
    """3.7 R2 and R3, and what belongs to nothing (3 R2)."""
    found = []
    for rest in (31, 32, 33):
        raw = test_limits.whole(
            loops=[bytes.fromhex("0400000004000000")],
            clips=[bytes([4 + rest, 0, 0, 0, 0, 0, 0, 0])],
        )
        id = f"loop-of-{rest}-samples"
        of = ("3.7 R2", "3.7")
        at = raw.at["clips"][-1] + 7
        fault = (VALUE, at) if rest < 32 else None
        found.append(_told(id, of, "a loop needs 32 samples", raw, fault))
    for place in (3, 4, 5):
        loop = bytes.fromhex("04000000") + word(place)
        raw = test_limits.whole(loops=[loop], clips=[bytes([36, 0, 0, 0, 0, 0, 0, 0])])
        why = "a loop from sample 4 in mu-law stands 4 bytes behind the clip's place"
        fault = None if place == 4 else ("BAD_DATA", raw.at["loops"][0] + 4)
        found.append(_told(f"loop-place-{place}", ("3.7 R3",), why, raw, fault))
    for start in (2**24 - 1, 2**24):
        raw = test_limits.whole(
            loops=[word(start) + bytes(4)], clips=[bytes([36, 0, 0, 0, 0, 0, 0, 0])]
        )
        fault = (VALUE, raw.at["clips"][-1] + 7 if start < 2**24 else raw.at["loops"][0])
        found.append(_told(f"loop-start-{start}", ("3.7",), "0 to 2^24 - 1", raw, fault))
    for index in (0, 1, 2):
        loops = [bytes.fromhex("0400000004000000")] * 2
        clips = [bytes([36, 0, 0, 0, 0, 0, 0, n]) for n in (0, index)]
        raw = test_limits.whole(loops=loops, clips=clips)
        fault = None if index == 1 else (INDEX, raw.at["clips"][-1] + 7)
        why = "the second clip with a loop has loop 1"
        found.append(_told(f"second-loop-{index}", ("3.7", "2.2"), why, raw, fault))
    return [*found, *_left_over(), *_effects()]


def _told(
    id: str, of: tuple[str, ...], why: str, raw: Raw, fault: tuple[str, int] | None
) -> Vector:
    return unsound(id, of, why, raw.data, *fault) if fault else accepted(id, of, why, raw.data)


def _left_over() -> list[Vector]:
    found = []
    for section in ("loops", "steps", "terms", "choices"):
        raw = test_limits.whole(**{section: [bytes(SIZES[section])]})
        fault = (VALUE, raw.at[section][-1])
        found.append(_told(f"{section}-of-nothing", ("3 R2",), "it belongs to nothing", raw, fault))
    once = {"triggers": [bytes.fromhex("000100000000FFFF")], "choices": [b"\0"]}
    raw = test_limits.whole(**once)
    why = "one choice makes the sections odd"
    found.append(accepted("byte-that-fills-up", ("3 R2",), why, raw.data))
    filled = with_byte(raw.data, raw.end, 1)
    found.append(unsound("byte-that-fills-up-is-1", ("3 R2",), why, filled, VALUE, raw.end))
    return found


def _effects() -> list[Vector]:
    """3.8 R1: the fourth effect begins behind the third, with step 3."""
    found = []
    for first in (2, 3, 4):
        raw = test_limits.whole(effects=[half(first)], steps=[bytes.fromhex(PLAY)] * 1)
        fault = None if first == 3 else (INDEX, raw.at["effects"][-1])
        why = "each begins behind the last step of the one before it"
        found.append(_told(f"effect-from-step-{first}", ("3.8 R1",), why, raw, fault))
    return found


def _first_of_two() -> list[Vector]:
    """Two faults, of which the first in the order of 3 R2 is told."""
    cases = [
        ("target-before-pace", "segments", "0000 0500 0100 1800", VALUE, 2),
        ("pace-before-shape", "segments", "1601 0000 0000 5108", VALUE, 4),
        ("shape-before-by", "segments", "0000 0000 0000 5001", VALUE, 6),
        ("by-before-the-end", "segments", "0000 0000 0000 0001", VALUE, 7),
        ("samples-before-form", "clips", "000000 09 FFFFFF FF", VALUE, 0),
        ("form-before-place", "clips", "0A0000 09 FFFFFF FF", INDEX, 3),
        ("loop-before-place", "clips", "0A0000 00 FFFFFF 00", INDEX, 7),
        ("kind-before-what", "steps", "9409 0010", VALUE, 0),
        ("row-before-what", "steps", "0309 0000 8400 0010", VALUE, 0),
        ("what-before-value", "steps", "8409 FFFF", INDEX, 1),
        ("gauge-before-segment", "steps", "8701 0900", INDEX, 1),
        ("kind-before-terms-what", "terms", "8309 0000", VALUE, 0),
        ("first-of-two-records", "steps", "0409 0010 8A00 0000", INDEX, 1),
    ]
    why = "fields are checked one after the other, and with each the rules told at it"
    return [_row(id, ("3 R2", "4"), why, *rest) for id, *rest in cases]


assert set(rules()) >= {rule for field in test_limits.FIELDS for rule in field.rules}
