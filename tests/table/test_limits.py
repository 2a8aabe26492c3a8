"""Every field at the ends of its range and one beyond each (SPEC 3.1 to 3.9), asked of both
readers.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import pytest
from raw_table import BOARD, SIZES, Raw, assemble, half, verdict, with_byte

SPEC_OF = {
    "inputs": "3.2",
    "selectors": "3.3",
    "counters": "3.4",
    "groups": "3.5",
    "segments": "3.6",
    "forms": "3.7",
    "loops": "3.7",
    "clips": "3.7",
    "effects": "3.8",
    "steps": "3.8",
    "triggers": "3.9",
    "terms": "3.9",
    "choices": "3.9",
    "joints": "3.10",
}
CLIP_BYTES = 4000
WHOLE = {
    "inputs": ["0000"] * 2,
    "selectors": ["0500"] * 2,
    "counters": ["0C000C00"] * 2,
    "groups": ["001800FF", "20040001"],
    "segments": ["0000FFFF00001000"] * 2,
    "forms": ["00000101", "00000100", "00000102", "00000103"],
    "clips": ["A00F0000000000FF"] * 2,
    "effects": ["0000", "0100", "0200"],
    "steps": ["80000000"] * 3,
}
"""Enough for every index. Forms are mu-law, PCM, IMA ADPCM and QOA; group 1 is a gauge of counter 1.
"""
ONCE = "00"
REPEAT = "01"


class Field(NamedTuple):
    """A field with its range, and the bytes of its record or row before and behind it.

    size: bytes; 0 for value + 65536 * what (SPEC 3.9). reason: of what is beyond.
    mode: of the trigger that has a term.
    """

    name: str
    section: str
    before: str
    size: int
    least: int
    most: int
    after: str
    reason: str = "BAD_VALUE"
    rules: tuple[str, ...] = ()
    mode: str = ONCE


def index(name: str, section: str, before: str, most: int, after: str, *rules: str) -> Field:
    size = 2 if name.endswith("-segment") else 1
    return Field(name, section, before, size, 0, most, after, "BAD_INDEX", rules)


def rate(name: str, before: str, size: int, value: int, after: str) -> Field:
    """What of a segment is the only one right."""
    return Field(name, "segments", before, size, value, value, after, rules=("3.6 R1",))


def of_repeat(name: str, before: str, size: int, least: int, most: int, after: str = "") -> Field:
    return Field(name, "terms", before, size, least, most, after, mode=REPEAT)


PLAY = "84000010"
FIELDS = [
    Field("input", "inputs", "", 2, 0, 65535, ""),
    Field("selector-positions", "selectors", "", 1, 2, 16, "00"),
    Field("selector-start", "selectors", "05", 1, 0, 4, ""),
    Field("counter-maximum", "counters", "", 2, 1, 65535, "0000"),
    Field("counter-start", "counters", "0C00", 2, 0, 12, ""),
    Field("group-first", "groups", "", 1, 36, 41, "0100FF"),
    Field("group-channels", "groups", "28", 1, 1, 2, "00FF"),
    Field("group-latest", "groups", "2802", 1, 0, 1, "FF"),
    index("group-gauge", "groups", "280200", 1, ""),
    Field("segment-length", "segments", "", 2, 0, 65535, "000000001000"),
    Field("flicker-length", "segments", "", 2, 1, 65535, "FFFF00101400"),
    Field("segment-target", "segments", "0000", 2, 0, 65535, "00001000"),
    Field("ambient-target", "segments", "0000", 2, 0, 0, "00001800"),
    Field("flicker-low", "segments", "05000A0A001014", 1, 0, 10, "", rules=("3.6 R1",)),
    Field("flicker-pace", "segments", "0500FFFF", 2, 2, 65535, "1400", rules=("3.6 R1",)),
    rate("step-pace", "1601FFFF", 2, 0, "1000"),
    rate("step-by", "1601FFFF000010", 1, 0, ""),
    rate("straight-pace", "16010000", 2, 30174, "1108"),
    rate("straight-by", "16010000DE7511", 1, 8, ""),
    rate("ease-pace-of-1", "01000000", 2, 32768, "1200"),
    rate("ease-by-of-1", "01000000008012", 1, 0, ""),
    rate("decay-pace-of-65535", "FFFF0000", 2, 16384, "130F"),
    rate("decay-by-of-65535", "FFFF0000004013", 1, 15, ""),
    rate("pace-without-length", "00000000", 2, 0, "1100"),
    rate("by-without-length", "00000000000011", 1, 0, ""),
    Field("form-step", "forms", "", 3, 2, 262143, "01"),
    Field("form-coding", "forms", "000001", 1, 0, 4, ""),
    Field("clip-samples", "clips", "", 3, 1, 2**24 - 1, "00000000FF"),
    index("clip-form", "clips", "0A0000", 3, "000000FF"),
    Field("clip-place", "clips", "0A000000", 3, 0, 3990, "FF", "BAD_DATA", ("3.7 R1",)),
    Field("clip-place-pcm", "clips", "0A000001", 3, 0, 3980, "FF", "BAD_DATA", ("3.7 R1",)),
    Field("length-what", "steps", "80", 1, 0, 0, "0000"),
    Field("length-value", "steps", "8000", 2, 0, 65535, ""),
    Field("length-before-a-step", "steps", "0000", 2, 1, 65535, PLAY, rules=("3.8 R3",)),
    Field("spread-pitch", "steps", "81", 1, 0, 255, "0100"),
    Field("spread-gain", "steps", "8101", 2, 0, 255, ""),
    Field("spread-gain-alone", "steps", "8100", 2, 1, 255, "", rules=("3.8 R3",)),
    Field("wait-what", "steps", "02", 1, 0, 0, "0100" + PLAY),
    Field("wait-value", "steps", "0200", 2, 1, 65535, PLAY),
    Field("second-wait", "steps", "0200FAFF040000100200", 2, 1, 5, PLAY, rules=("3.8 R3",)),
    Field("with-what", "steps", "03", 1, 0, 0, "020085000010"),
    Field("with-release", "steps", "0300", 2, 2, 65535, "85000010", rules=("3.8 R3",)),
    Field("with-stagger", "steps", "0300", 2, 1, 65535, "86000000", rules=("3.8 R3",)),
    Field("with-ambient-stagger", "steps", "0300", 2, 1, 65535, "87000000", rules=("3.8 R3",)),
    index("play-clip", "steps", "84", 1, "0010"),
    Field("play-gain", "steps", "8400", 2, 0, 32767, ""),
    index("looped-clip", "steps", "85", 1, "0010"),
    Field("looped-gain", "steps", "8500", 2, 0, 32767, ""),
    index("fade-group", "steps", "86", 1, "0000"),
    index("fade-segment", "steps", "8600", 1, ""),
    index("ambient-group", "steps", "87", 0, "0000", "3.8 R4"),  # group 1 has a gauge
    index("ambient-segment", "steps", "8700", 1, ""),
    index("add-counter", "steps", "88", 1, "0100"),
    Field("add-value", "steps", "8800", 2, 1, 65535, ""),
    index("take-counter", "steps", "89", 1, "0100"),
    Field("take-value", "steps", "8900", 2, 0, 65535, ""),
    index("condition-selector", "terms", "80", 1, "0100"),
    Field("condition-mask", "terms", "8000", 2, 1, 31, ""),
    index("needs-counter", "terms", "81", 1, "0000"),
    Field("needs-value", "terms", "8100", 2, 0, 0, ""),
    index("empty-effect", "terms", "0100000082", 2, "0000"),
    Field("empty-value", "terms", "010000008200", 2, 0, 0, ""),
    of_repeat("period", "83", 0, 256, 2**23 - 1),
    of_repeat("first", "0300000284", 0, 1, 2**24 - 1),
    of_repeat("burst-what", "0300000285", 1, 0, 0, "0200"),
    of_repeat("burst", "030000028500", 2, 2, 255),
    of_repeat("limit-what", "0300000286", 1, 0, 0, "0100"),
    of_repeat("limit", "030000028600", 2, 1, 65535),
    of_repeat("limit-of-burst-7", "03000002050007008600", 2, 7, 65535),
    of_repeat("ramp-period", "0300000207", 0, 256, 2**23 - 1, "88000500"),
    of_repeat("ramp-shots-what", "030000020700000288", 1, 0, 0, "0500"),
    of_repeat("ramp-shots", "03000002070000028800", 2, 1, 255),
    index("choice", "choices", "", 2, ""),
    index("second-choice", "choices", "02", 2, "00"),
    *(Field(f"lights-first-{use}", "joints", f"0{use}", 1, 0, 41, "FF01") for use in range(3)),
    *(Field(f"lights-count-{use}", "joints", f"0{use}2800", 1, 1, 2, "") for use in range(3)),
    index("contact-input", "joints", "03", 1, "0000"),
    Field("contact-value", "joints", "0300FF", 1, 0, 0, ""),
    index("cells-input", "joints", "04", 1, "0001"),
    Field("cells-value", "joints", "0400FF", 1, 1, 255, ""),
    index("position-selector", "joints", "05", 1, "0000"),
    Field("position-value", "joints", "0500FF", 1, 0, 4, ""),
    index("coded-selector", "joints", "06", 1, "0001"),
    Field("coded-value", "joints", "0600FF", 1, 1, 4, ""),
    *(Field(f"one-what-{use}", "joints", f"{use:02X}", 1, 0, 0, "FF00") for use in range(7, 11)),
    *(Field(f"one-value-{use}", "joints", f"{use:02X}00FF", 1, 0, 0, "") for use in range(7, 11)),
]


def written(size: int, value: int) -> bytes:
    if size == 0:
        return bytes([value >> 16]) + half(value & 0xFFFF)
    return value.to_bytes(size, "little")


def whole(**more: Sequence[bytes]) -> Raw:
    """The whole table with more records at the ends of its sections."""
    records = {
        name: [*(bytes.fromhex(text) for text in WHOLE.get(name, ())), *more.get(name, ())]
        for name in SIZES
    }
    return assemble(clip_data=bytes(CLIP_BYTES), **records)


def split(section: str, row: bytes) -> list[bytes]:
    size = SIZES[section]
    return [row[at : at + size] for at in range(0, len(row), size)]


def with_row(section: str, row: bytes, mode: str = ONCE) -> tuple[Raw, int]:
    """The whole table with one more record or row, what it belongs to with it, and where the row
    begins.
    """
    more = {section: split(section, row)}
    trigger = f"{mode} {1 if section == 'terms' else len(row):02X} 0000 0000"
    if section == "steps":
        more["effects"] = [bytes.fromhex("0300")]
    if section == "terms":
        more |= {"triggers": [bytes.fromhex(trigger + "0000")], "choices": [b"\0"]}
    if section == "choices":
        more["triggers"] = [bytes.fromhex(trigger + "FFFF")]
    raw = whole(**more)
    return raw, raw.at[section][len(WHOLE.get(section, ()))]


def tried(field: Field, value: int) -> tuple[Raw, int]:
    """A table in which the field has this value, and where the field stands."""
    before = bytes.fromhex(field.before)
    row = before + written(field.size, value) + bytes.fromhex(field.after)
    raw, at = with_row(field.section, row, field.mode)
    return raw, at + len(before)


def asked(section: str, row: str, mode: str = ONCE) -> tuple[tuple[str, int] | None, int]:
    """What both readers say of a table with this row, and where it begins."""
    raw, at = with_row(section, bytes.fromhex(row), mode)
    return verdict(raw.data), at


def ends() -> Iterator[tuple[Field, int]]:
    """The ends of each range, one within and one beyond, as far as the field has a form for it."""
    for field in FIELDS:
        near = {field.least + by for by in (-1, 0, 1)} | {field.most + by for by in (-1, 0, 1)}
        for value in sorted(near):
            if 0 <= value < 256 ** (field.size or 3):
                yield field, value


def expected(field: Field, value: int, at: int) -> tuple[str, int] | None:
    if field.name == "clip-samples" and value > CLIP_BYTES:
        return "BAD_DATA", at + 4
    return None if field.least <= value <= field.most else (field.reason, at)


def test_field_at_and_beyond_its_ends() -> None:
    wrong = []
    for field, value in ends():
        raw, at = tried(field, value)
        if verdict(raw.data) != expected(field, value, at):
            wrong.append((field.name, value, verdict(raw.data), at))
    assert wrong == []


def test_gauge_may_be_none() -> None:
    assert asked("groups", "28 02 00 FF")[0] is None


# What is not a plain range


def test_step_kinds_are_ten_and_a_last_bit() -> None:
    for head in range(256):
        text, at = asked("steps", f"{head:02X} 00 01 00 / 84 00 00 10".replace("/", ""))
        kind = head & 15
        if head & 0x70 or kind > 9:
            assert text == ("BAD_VALUE", at), head
        elif kind == 3 or (kind == 2 and head & 128):
            assert text == ("BAD_VALUE", at), head  # nothing that takes it, or nothing behind it
        elif head & 128:
            assert text == ("BAD_VALUE", at + 4), head  # what is behind belongs to nothing
        else:
            assert text is None, head


def test_shapes_are_five_and_bits_of_a_segment() -> None:
    for shape in range(256):
        record = "0000 0000 0000" if shape & 7 != 4 else "0100 FFFF 0010"
        target_is_wrong = shape & 15 == 12
        text, at = asked("segments", f"{record} {shape:02X} 00")
        if target_is_wrong:
            assert text == ("BAD_VALUE", at + 2), shape
        elif shape & 7 > 4 or shape > 63 or not shape & 16:
            assert text == ("BAD_VALUE", at + 6), shape
        elif shape & 32 and shape & 7 != 4:
            assert text == ("BAD_VALUE", at + 6), shape  # it goes round without a frame
        else:
            assert text is None, shape


def test_modes_are_seven_and_inputs_two() -> None:
    for head in range(256):
        mode = head & 7
        stays = mode in (2, 3, 4)
        choices = [bytes([0])] * (3 if stays else 1)
        terms = [bytes.fromhex("83000002")] if mode in (1, 6) else []
        term = "0000" if terms else "FFFF"
        trigger = bytes.fromhex(f"{head:02X} {len(choices):02X} 0000 0000 {term}")
        raw = whole(triggers=[trigger], choices=choices, terms=terms)
        at = raw.at["triggers"][0]
        if mode == 7 or (mode == 4 and head > 7):
            assert verdict(raw.data) == ("BAD_VALUE", at), head
        else:
            assert verdict(raw.data) == (None if head < 16 else ("BAD_INDEX", at)), head


def test_uses_of_pins_are_twelve() -> None:
    for use in range(256):
        value = 1 if use in (0, 1, 2, 4, 6) else 0
        text, at = asked("joints", f"{use:02X} 00 FF {value:02X}")
        assert text == (None if use < 12 else ("BAD_VALUE", at)), use


@pytest.mark.parametrize("count", [16, 17])
def test_trigger_has_up_to_16_conditions_and_may_name_a_selector_twice(count: int) -> None:
    text, at = asked("terms", "00000100" * (count - 1) + "80000100")
    assert text == (None if count == 16 else ("BAD_VALUE", at + 64))


@pytest.mark.parametrize("count", [32, 33])
def test_steps_in_a_row_are_32(count: int) -> None:
    text, at = asked("steps", "08000100" * (count - 1) + "88000100")
    assert text == (None if count == 32 else ("BAD_VALUE", at + 128))
    text, at = asked("steps", "08000100" * 20 + "02000100" + "08000100" * 20 + PLAY)
    assert text is None


@pytest.mark.parametrize("mode", ["02", "03", "04"])
def test_last_of_begin_during_and_end_is_not_none(mode: str) -> None:
    for row in ("00", "FF00", "FFFF00"):
        assert asked("choices", row, mode)[0] is None
    for row in ("FF", "00FF", "FF00FF"):
        text, at = asked("choices", row, mode)
        assert text == ("BAD_INDEX", at + len(row) // 2 - 1)


def slow(lengths: Sequence[int], turn: int | None = None) -> tuple[tuple[str, int] | None, int]:
    """What both readers say of steps of these lengths, and where the row begins."""
    last = len(lengths) - 1
    rows = [
        f"{half(length).hex()} 0000 0000"
        f" {(16 if place == last else 0) | (32 if place == turn else 0):02X} 00"
        for place, length in enumerate(lengths)
    ]
    return asked("segments", "".join(rows))


def test_16_segments_in_a_row_take_8_frames() -> None:
    assert slow([8] + [0] * 15)[0] is None
    assert slow([0] * 15 + [8])[0] is None
    text, at = slow([7] + [0] * 16)
    assert text == ("BAD_VALUE", at + 15 * 8 + 6)
    text, at = slow([8] + [0] * 15 + [7])
    assert text == ("BAD_VALUE", at + 16 * 8 + 6)
    assert slow([0] * 15)[0] is None


def test_16_segments_round_the_end_take_8_frames() -> None:
    assert slow([1, 0], 0)[0] is None
    text, at = slow([1, 0, 0], 0)
    assert text == ("BAD_VALUE", at + 2 * 8 + 6)
    assert slow([0, 0, 1], 2)[0] is None


def test_bytes_of_a_looped_clip_are_those_of_its_runs() -> None:
    # IMA ADPCM, 59 samples, loop from 15: runs of 15 and 44 samples take 4 + 7 and 4 + 22 bytes.
    clip = bytes.fromhex("3B0000 02 000000 00")
    for place, wanted in ((11, None), (10, "BAD_DATA"), (12, "BAD_DATA")):
        raw = whole(loops=[bytes.fromhex("0F000000") + half(place) + bytes(2)], clips=[clip])
        at = raw.at["loops"][0] + 4
        assert verdict(raw.data) == (None if wanted is None else (wanted, at))


@pytest.mark.parametrize("rest", [31, 32, 33])
def test_loop_has_32_samples(rest: int) -> None:
    loop = bytes.fromhex("0400000004000000")
    raw = whole(loops=[loop], clips=[bytes([4 + rest, 0, 0, 0, 0, 0, 0, 0])])
    at = raw.at["clips"][-1] + 7
    assert verdict(raw.data) == (None if rest >= 32 else ("BAD_VALUE", at))


@pytest.mark.parametrize("head, sound", [("00005800", True), ("00005900", False), ("00005801", False)])
def test_head_of_every_ima_block_is_looked_at(head: str, sound: bool) -> None:
    """The first block, the second one, and that of a loop's own run."""
    form = [bytes.fromhex("00000102")]
    for clip, loops, block in (
        ("020000 00 000000 FF", [], 0),
        ("FA0100 00 000000 FF", [], 256),
        ("010200 00 000000 00", ["E1010000 F4000000"], 244),
    ):
        data = bytes(block) + bytes.fromhex(head) + bytes(300)
        records = {"loops": [bytes.fromhex(loop) for loop in loops]}
        raw = assemble(clip_data=data, forms=form, clips=[bytes.fromhex(clip)], **records)
        at = raw.at["clips"][0] + 4
        assert verdict(raw.data) == (None if sound else ("BAD_DATA", at))


@pytest.mark.parametrize("section", ["steps", "terms", "choices", "loops"])
def test_record_that_belongs_to_nothing_is_refused_at_its_begin(section: str) -> None:
    raw = whole(**{section: [bytes(SIZES[section])]})
    assert verdict(raw.data) == ("BAD_VALUE", raw.at[section][-1])


def test_byte_that_fills_up_is_0() -> None:
    raw = whole(triggers=[bytes.fromhex("000100000000FFFF")], choices=[b"\0"])
    assert raw.end % 2 and verdict(raw.data) is None
    assert verdict(with_byte(raw.data, raw.end, 1)) == ("BAD_VALUE", raw.end)


BOARD_FIELDS = [
    ("seed", 8, 4, 1, 2**32 - 1),
    ("sample-rate", 12, 2, 4000, 48000),
    ("samples-per-frame", 14, 2, 4, 256),
    ("channels", 17, 1, 1, 255),
    ("pwm-bits", 18, 1, 8, 16),
    ("voices", 19, 1, 1, 16),
    ("voice-rule", 20, 1, 0, 2),
]
"""Name, offset, size, least and most."""
LIGHT_MASKS = (0, 1, 3, 7)
MOST = {
    "inputs": 32,
    "selectors": 16,
    "counters": 16,
    "groups": 64,
    "segments": 4095,
    "forms": 255,
    "loops": 255,
    "clips": 255,
    "effects": 255,
    "steps": 4095,
    "triggers": 64,
    "terms": 4095,
    "choices": 4095,
    "joints": 255,
}


def with_board(at: int, size: int, value: int) -> bytes:
    """A table without records, in whose header a field has this value."""
    board = BOARD[: at - 8] + value.to_bytes(size, "little") + BOARD[at - 8 + size :]
    return assemble(board).data


def board_ends() -> Iterator[tuple[str, int, int, int, bool]]:
    """Name, offset, size, value, and whether it is within the range."""
    for name, at, size, least, most in BOARD_FIELDS:
        for value in sorted({least - 1, least, most, most + 1}):
            if 0 <= value < 256**size:
                yield name, at, size, value, least <= value <= most


def test_board_field_at_and_beyond_its_ends() -> None:
    for name, at, size, value, within in board_ends():
        text = verdict(with_board(at, size, value))
        assert text == (None if within else ("BAD_VALUE", at)), f"{name} {value}"


def test_light_mask_is_one_of_four() -> None:
    for mask in range(256):
        text = verdict(with_board(21, 1, mask))
        assert text == (None if mask in LIGHT_MASKS else ("BAD_VALUE", 21)), mask


@pytest.mark.parametrize("section", SIZES)
def test_more_records_than_a_section_holds_are_refused_at_its_count(section: str) -> None:
    place = list(SIZES).index(section)
    raw = assemble(**{section: [bytes(SIZES[section])] * (MOST[section] + 1)})
    assert verdict(raw.data) == ("BAD_VALUE", 22 + 2 * place)
