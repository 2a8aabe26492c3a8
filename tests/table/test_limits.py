"""Every field at the ends of its range and one beyond each (SPEC 3.1 to 3.9), asked of both
readers.
"""

from collections.abc import Iterator, Sequence

import pytest
from raw_table import Verdict, assemble, number, verdict, with_byte

BYTE = "byte"
NUMBER = "number"
SIGNED = "signed"
INDEX = "index"
Field = tuple[str, int, int]
"""Form, least, most. For an index: most is the last record there is."""

MULAW_DATA = bytes(4000)
INPUT = "0000"
SELECTOR = "0500"
COUNTER = "0C0C"
GROUP = "001800"
CLIP = "0180800480 1F00"
FADE = "000000FFFF03"
EFFECT = "00"
WHOLE = {
    "inputs": [INPUT] * 2,
    "selectors": [SELECTOR] * 2,
    "counters": [COUNTER] * 2,
    "groups": [GROUP, "20040201"],
    "fades": [FADE] * 2,
    "clips": [CLIP] * 2,
    "effects": [EFFECT] * 3,
}
"""Enough for every index. Group 1 is a gauge of counter 1."""

# Section, bytes before the field, field, bytes after it. Heads and flags have tests of their own
# below.
FIELDS: list[tuple[str, str, Field, str]] = [
    ("inputs", "", (BYTE, 0, 1), "00"),
    ("inputs", "00", (NUMBER, 0, 65535), ""),
    ("selectors", "", (BYTE, 2, 16), "00"),
    ("selectors", "05", (BYTE, 0, 4), ""),
    ("counters", "", (NUMBER, 1, 65535), "00"),
    ("counters", "0C", (NUMBER, 0, 12), ""),
    ("groups", "", (BYTE, 36, 41), "0100"),
    ("groups", "28", (BYTE, 1, 2), "00"),
    ("groups", "280202", (INDEX, 0, 1), ""),
    ("fades", "02", (NUMBER, 0, 65535), "000000"),
    ("fades", "0000", (NUMBER, 0, 65535), "00"),
    ("fades", "000000", (NUMBER, 0, 65535), ""),
    ("fades", "0004", (NUMBER, 1, 65535), "010001"),
    ("fades", "000401FEFF03", (NUMBER, 0, 65534), "01"),
    ("fades", "000401FEFF0300", (NUMBER, 1, 32767), ""),
    ("clips", "", (BYTE, 0, 4), "808004 01 00"),
    ("clips", "", (BYTE, 16, 20), "808004 20 00 00"),
    ("clips", "01", (NUMBER, 2, 262143), "0100"),
    ("clips", "01808004", (NUMBER, 1, 4000), "00"),
    ("clips", "02808004", (NUMBER, 1, 7888), "00"),  # 15 blocks of 256 bytes, then 4 + 312 / 2
    ("clips", "03808004", (NUMBER, 1, 9920), "00"),  # 16 + 256 * 8 bytes, then 16 + 240 * 8
    ("clips", "018080040A", (NUMBER, 0, 3990), ""),
    ("clips", "0080800405", (NUMBER, 0, 3990), ""),
    ("clips", "118080042800", (NUMBER, 0, 8), ""),
    ("effects", "02", (NUMBER, 1, 65535), ""),
    ("effects", "04", (BYTE, 1, 255), ""),
    ("effects", "08", (BYTE, 1, 255), ""),
    ("effects", "0004", (NUMBER, 1, 65535), "00"),
    ("effects", "0000", (INDEX, 0, 1), ""),
    ("effects", "000800", (NUMBER, 0, 32767), ""),
    ("effects", "001000", (NUMBER, 0, 65535), ""),
    ("effects", "0001", (INDEX, 0, 1), "00"),
    ("effects", "0101", (INDEX, 0, 0), "00"),  # group 1 has a gauge
    ("effects", "000100", (INDEX, 0, 1), ""),
    ("effects", "00090000", (SIGNED, -32768, 32767), ""),
    ("effects", "0002", (INDEX, 0, 1), "00"),
    ("effects", "000200", (SIGNED, -65535, 65535), ""),
    ("triggers", "00", (INDEX, 0, 1), "00"),
    ("triggers", "0800", (NUMBER, 1, 65535), "00"),
    ("triggers", "100001", (INDEX, 0, 1), "0100"),
    ("triggers", "10000100", (NUMBER, 1, 31), "00"),
    ("triggers", "2000", (INDEX, 0, 1), "00"),
    ("triggers", "600000", (INDEX, 0, 2), "00"),
    ("triggers", "0000", (INDEX, 0, 2), ""),
    ("triggers", "000002", (INDEX, 0, 2), ""),
    ("triggers", "010000", (NUMBER, 256, 2**23 - 1), "00"),
    ("triggers", "0100018002", (NUMBER, 1, 2**31 - 1), "00"),
    ("triggers", "0100028002", (NUMBER, 2, 255), "00"),
    ("triggers", "0100048002", (NUMBER, 1, 65535), "00"),
    ("triggers", "010006800207", (NUMBER, 7, 65535), "00"),
    ("triggers", "0100088002", (BYTE, 1, 255), "800200"),
    ("triggers", "010008800205", (NUMBER, 256, 2**23 - 1), "00"),
    ("triggers", "020001", (INDEX, 0, 2), ""),
    ("triggers", "0401", (INDEX, 0, 2), ""),
]


SAMPLES = ("01808004", "02808004", "03808004")
"""What stands before `samples` of a clip, in each coding."""


def written(form: str, value: int) -> bytes:
    if form in (BYTE, INDEX):
        return bytes([value])
    if form == SIGNED:
        value = value * 2 if value >= 0 else -value * 2 - 1  # 2.3
    return number(value)


def asked(section: str, before: str, middle: bytes, after: str) -> tuple[Verdict, int]:
    """What both readers say of a table with this body last in its section, and where `middle`
    stands in it.
    """
    bodies = {name: [bytes.fromhex(text) for text in texts] for name, texts in WHOLE.items()}
    bodies.setdefault(section, []).append(bytes.fromhex(before) + middle + bytes.fromhex(after))
    raw = assemble(clip_data=MULAW_DATA, **bodies)
    return verdict(raw.data), raw.at[section][-1] + len(bytes.fromhex(before))


def ends() -> Iterator[tuple[str, str, Field, str, int]]:
    for section, before, field, after in FIELDS:
        for value in sorted(
            {field[1] - 1, field[1], field[1] + 1, field[2] - 1, field[2], field[2] + 1}
        ):
            if field[0] == SIGNED or 0 <= value <= (
                255 if field[0] in (BYTE, INDEX) else 2**32 - 1
            ):
                yield section, before, field, after, value


def judged_well(section: str, before: str, field: Field, after: str, value: int) -> bool:
    form, least, most = field
    text, at = asked(section, before, written(form, value), after)
    if least <= value <= most:
        # Within its range the field is no fault; what an end of it does to later fields is their
        # test.
        return text is None or text[1] > at
    if section == "clips" and before in ("018080040A", "0080800405") and value > most:
        return text == ("BAD_DATA", at)
    if section == "clips" and before in SAMPLES and value > most:
        return text == (
            "BAD_DATA",
            at + 2,
        )  # so many samples are allowed, but the data are 4000 bytes: reported at place
    return text == ("BAD_INDEX" if form == INDEX else "BAD_VALUE", at)


def test_field_at_and_beyond_its_ends() -> None:
    assert [case for case in ends() if not judged_well(*case)] == []


@pytest.mark.parametrize("section", WHOLE)
def test_the_tables_that_the_limits_are_tried_on_are_whole(section: str) -> None:
    last = {"groups": "280200"}.get(section, WHOLE[section][-1])
    assert asked(section, last, b"", "")[0] is None


# What is not a plain range


def test_segment_head_is_a_shape_and_for_all_but_flicker_the_ambient_bit() -> None:
    for head in range(256):
        text, at = asked(
            "fades", "00", bytes([head]), {4: "01010001"}.get(head, "01" if head & 8 else "0101")
        )
        assert text == (None if head in (0, 1, 2, 3, 4, 8, 9, 10, 11) else ("BAD_VALUE", at)), head


def test_step_head_has_the_bits_of_its_kind() -> None:
    for head in range(256):
        kind = head & 3
        waits = "01" if head & 4 else ""
        options = {0: "00" * (head >> 3 & 1) + "00" * (head >> 4 & 1), 1: "00" * (head >> 3 & 1)}
        fields = {0: "00", 1: "0000", 2: "0000", 3: ""}[kind] + options.get(kind, "")
        allowed = head & ~{0: 0x1F, 1: 0x0F, 2: 0x07, 3: 0}[kind] == 0 and kind != 3
        text, at = asked("effects", "00", bytes([head]), waits + fields)
        assert text == (None if allowed else ("BAD_VALUE", at)), head


def test_trigger_head_is_a_mode_and_options_that_go_together() -> None:
    for head in range(256):
        mode = head & 7
        fields = ["" if mode == 4 else "00", "01", "01 00 01", "00", "00"]
        options = fields[0] + "".join(fields[bit] for bit in range(1, 5) if head >> (bit + 2) & 1)
        action = {0: "00", 1: "00 8002 00"}.get(mode, "01 00")
        text, at = asked("triggers", "", bytes([head]), options + action)
        wrong = mode > 4 or (head & 0x80 and mode > 1) or (head & 0x40 and not head & 0x20)
        assert text == (("BAD_VALUE", at) if wrong else None), head


@pytest.mark.parametrize(
    ("section", "before", "allowed"),
    [
        ("effects", "", 16),
        ("triggers", "0100", 16),
        ("triggers", "0200", 8),
        ("fades", "", 4),
        ("groups", "2801", 4),
    ],
)
def test_flags_that_are_not_defined_must_be_0(section: str, before: str, allowed: int) -> None:
    for flags in range(allowed, 256):
        text, at = asked(section, before, bytes([flags]), "00" * 12)
        assert text == ("BAD_VALUE", at)


@pytest.mark.parametrize("count", [0, 1, 16, 17])
def test_trigger_has_1_to_16_conditions_and_may_name_a_selector_twice(count: int) -> None:
    text, at = asked("triggers", "1000", bytes([count]), "0001" * count + "00")
    assert text == (None if count in (1, 16) else ("BAD_VALUE", at))


def test_stay_trigger_without_any_effect_is_refused() -> None:
    text, at = asked("triggers", "0200", b"\0", "")
    assert text == ("BAD_VALUE", at)


@pytest.mark.parametrize(
    ("section", "before"), [("fades", "00"), ("triggers", "0000"), ("triggers", "0100008002")]
)
def test_one_at_least_that_is_missing_is_a_field_past_the_end(section: str, before: str) -> None:
    text, at = asked(section, before, b"", "")
    assert text == ("BAD_RECORD", at)


def test_times_of_an_effect_end_at_65535() -> None:
    # Steps at 65535 - 5 and 5 or 6 frames later; the fault is reported at the head, before the
    # counter that does not exist is seen.
    early = "00 06" + number(65530).hex() + "0000"
    assert asked("effects", early, b"\x06", "05 0000")[0] is None
    text, at = asked("effects", early, b"\x06", "06 0900")
    assert text == ("BAD_VALUE", at)


@pytest.mark.parametrize("samples", [1, 31])
def test_clip_that_is_too_short_for_a_loop_is_refused_at_its_loop_start(samples: int) -> None:
    text, at = asked("clips", "11808004" + f"{samples:02x}" + "00", b"\0", "")
    assert text == ("BAD_VALUE", at)


def test_form_of_loop_start_comes_before_its_range() -> None:
    text, at = asked("clips", "118080040500", b"\x80\x00", "")
    assert text == ("BAD_NUMBER", at)


def test_loop_of_a_clip_comes_before_its_data() -> None:
    # 4000 samples from place 1 do not fit; loop_start is out of its range as well.
    text, at = asked("clips", "11808004A01F01", b"\xff\x7f", "")
    assert text == ("BAD_VALUE", at)


@pytest.mark.parametrize("run_bytes", [(4 + 7, 4 + 22), (0, 4 + 29)])
def test_bytes_of_coded_clip_are_those_of_its_runs(run_bytes: tuple[int, int]) -> None:
    # IMA ADPCM, 59 samples, loop from 15 or from 0: two runs or one, up to the last byte of the
    # data or one beyond.
    size = sum(run_bytes)
    loop = "0F" if run_bytes[0] else "00"
    for place, expected in ((4000 - size, None), (4001 - size, "BAD_DATA")):
        text, at = asked("clips", "128080043B", bytes.fromhex(number(place).hex()), loop)
        assert text == (None if expected is None else (expected, at))


@pytest.mark.parametrize(
    "data, expected", [("0000 58 00", None), ("0000 59 00", "BAD_DATA"), ("0000 58 01", "BAD_DATA")]
)
def test_head_of_every_ima_block_is_checked(data: str, expected: str | None) -> None:
    """The first block, the second one, that of a loop from 0, and that of a loop's own run."""
    for clip, block in (
        ("0280800402 00", 0),
        ("02808004FA03 00", 256),
        ("128080042900 00", 0),
        ("128080048104 00 E103", 244),
    ):
        bodies = {"clips": [bytes.fromhex(clip)]}
        raw = assemble(clip_data=bytes(block) + bytes.fromhex(data) + bytes(300), **bodies)
        text = verdict(raw.data)
        assert (text and text[0]) == expected


@pytest.mark.parametrize(
    ("section", "most"),
    [
        ("inputs", 32),
        ("selectors", 16),
        ("counters", 16),
        ("groups", 64),
        ("fades", 255),
        ("clips", 255),
        ("effects", 255),
        ("triggers", 64),
    ],
)
def test_section_holds_so_many_and_no_more(section: str, most: int) -> None:
    small = {
        "inputs": "0000",
        "selectors": "0200",
        "counters": "0100",
        "fades": "00000000",
        "clips": "0102 01 00",
        "effects": "00",
    }
    bodies: dict[str, Sequence[bytes]] = {"effects": [b"\0"]}
    for count in (most, most + 1):
        made = (
            [bytes([first, 1, 0]) for first in range(count)]
            if section == "groups"
            else [bytes.fromhex(small.get(section, "0401 00"))] * count
        )
        raw = assemble(
            b"\xa2\xac\x01\x15\xff\x0c\x04\x00\x58\x01\0\0\0", bytes(1), **{**bodies, section: made}
        )
        assert verdict(raw.data) == (
            None if count == most else ("BAD_VALUE", raw.count_at[section])
        )


BOARD_FIELDS = [
    ("", (NUMBER, 4000, 48000), "15 2A 0C 04 00 58 01000000"),
    ("A2AC01", (NUMBER, 4, 256), "2A 0C 04 00 58 01000000"),
    ("A2AC01 15", (BYTE, 1, 255), "0C 04 00 58 01000000"),
    ("A2AC01 15 2A", (BYTE, 8, 16), "04 00 58 01000000"),
    ("A2AC01 15 2A 0C", (BYTE, 1, 16), "00 58 01000000"),
    ("A2AC01 15 2A 0C 04", (BYTE, 0, 2), "58 01000000"),
    ("A2AC01 15 2A 0C 04 00", (NUMBER, 0, 2047), "01000000"),
]


@pytest.mark.parametrize(("before", "field", "after"), BOARD_FIELDS)
def test_board_field_at_and_beyond_its_ends(before: str, field: Field, after: str) -> None:
    form, least, most = field
    for value in {max(least - 1, 0), least, most, most + 1} - ({256} if form == BYTE else set()):
        text = verdict(
            assemble(bytes.fromhex(before) + written(form, value) + bytes.fromhex(after)).data
        )
        assert text == (
            None if least <= value <= most else ("BAD_VALUE", 13 + len(bytes.fromhex(before)))
        )


@pytest.mark.parametrize(
    ("seed", "text"), [("00000000", ("BAD_VALUE", 22)), ("FFFFFFFF", None), ("00000001", None)]
)
def test_seed_is_any_but_zero(seed: str, text: Verdict) -> None:
    assert verdict(assemble(bytes.fromhex("A2AC01 15 2A 0C 04 00 58" + seed)).data) == text


# Numbers and records


@pytest.mark.parametrize(
    ("bytes_", "reason", "offset"),
    [
        (
            "FF FF FF FF 0F",
            "BAD_VALUE",
            0,
        ),  # 2^32 - 1 is a number, though none that a lockout may be
        ("80 80 80 80 10", "BAD_NUMBER", 0),  # 2^32
        (
            "FF FF FF FF 80",
            "BAD_NUMBER",
            0,
        ),  # a sixth byte would follow; that there is none does not matter
        ("80 80 80 80 80 00", "BAD_NUMBER", 0),
        ("80 80 80 80 00", "BAD_NUMBER", 0),
        ("80 00", "BAD_NUMBER", 0),
        ("80 80", "BAD_RECORD", 2),
        ("", "BAD_RECORD", 0),
        ("FF FF FF FF", "BAD_RECORD", 4),
        ("05 00", "BAD_RECORD", 1),  # a byte is left
    ],
)
def test_number_that_is_none_or_does_not_end(bytes_: str, reason: str, offset: int) -> None:
    text, at = asked("inputs", "00", bytes.fromhex(bytes_), "")
    assert text == (reason, at + offset)


def test_record_that_reaches_past_the_data_is_refused_at_its_size() -> None:
    raw = assemble(triggers=[b""])
    size_at = raw.at["triggers"][0] - 1
    assert verdict(with_byte(raw.data, size_at, 1)) == ("BAD_RECORD", size_at)


def test_section_that_promises_more_records_than_there_are_ends_at_the_data() -> None:
    raw = assemble()
    assert verdict(with_byte(raw.data, raw.count_at["triggers"], 1)) == (
        "BAD_RECORD",
        len(raw.data) - 4,
    )
