"""Vectors of tables that are refused, each with one fault, and of those just within a limit, which
are accepted.

The expected reason and offset are counted here: where the field stands, and what its range says. No
reader is asked.
"""

import sys
from pathlib import Path

from spec_text import rules
from vector_files import Vector, pieces

sys.path.insert(0, str(Path(__file__).parents[1] / "table"))

import test_limits  # noqa: E402
from raw_table import BOARD, Raw, assemble, number, reseal, seal, with_byte  # noqa: E402

SECTION_OF = {
    name: f"3.{place}"
    for place, name in enumerate(
        ("inputs", "selectors", "counters", "groups", "fades", "clips", "effects", "triggers"), 2
    )
}
# section, bytes before the field -> name of the field, and rules beyond 3 R4 and the section's own
NAMES = {
    ("inputs", ""): ("input-kind",),
    ("inputs", "00"): ("input-lockout",),
    ("selectors", ""): ("selector-positions",),
    ("selectors", "05"): ("selector-start",),
    ("counters", ""): ("counter-maximum",),
    ("counters", "0C"): ("counter-start",),
    ("groups", ""): ("group-first", "3.5 R1"),
    ("groups", "28"): ("group-channels", "3.5 R1"),
    ("groups", "280202"): ("group-gauge", "2.4 R1"),
    ("fades", "02"): ("fade-start",),
    ("fades", "0000"): ("segment-length",),
    ("fades", "0004"): ("flicker-length", "3.6 R2"),
    ("fades", "000000"): ("segment-target",),
    ("fades", "000401FEFF03"): ("flicker-low", "3.6 R2"),
    ("fades", "000401FEFF0300"): ("flicker-every", "3.6 R2"),
    ("clips", "01"): ("clip-step",),
    ("clips", "01808004"): ("clip-samples", "3.7 R1"),
    ("clips", "02808004"): ("clip-samples-ima", "3.7 R1", "3.7 R3"),
    ("clips", "03808004"): ("clip-samples-qoa", "3.7 R1", "3.7 R3"),
    ("clips", "018080040A"): ("clip-place-mulaw", "3.7 R1"),
    ("clips", "0080800405"): ("clip-place-pcm", "3.7 R1"),
    ("clips", "118080042800"): ("clip-loop-start", "3.7 R2"),
    ("effects", "02"): ("effect-length",),
    ("effects", "04"): ("effect-pitch-spread",),
    ("effects", "08"): ("effect-gain-spread",),
    ("effects", "0004"): ("step-wait",),
    ("effects", "0000"): ("play-clip", "2.4 R1"),
    ("effects", "000800"): ("play-gain",),
    ("effects", "001000"): ("play-release",),
    ("effects", "0001"): ("fade-group", "2.4 R1"),
    ("effects", "0101"): ("fade-group-with-gauge", "3.8 R2"),
    ("effects", "000100"): ("fade-fade", "2.4 R1"),
    ("effects", "00090000"): ("fade-stagger", "2.3"),
    ("effects", "0002"): ("count-counter", "2.4 R1"),
    ("effects", "000200"): ("count-change", "2.3"),
    ("triggers", "00"): ("trigger-input", "2.4 R1"),
    ("triggers", "0800"): ("trigger-hold",),
    ("triggers", "100001"): ("condition-selector", "2.4 R1"),
    ("triggers", "10000100"): ("condition-mask",),
    ("triggers", "2000"): ("trigger-needs", "2.4 R1"),
    ("triggers", "600000"): ("trigger-empty", "2.4 R1"),
    ("triggers", "0000"): ("once-effect", "2.4 R1"),
    ("triggers", "000002"): ("once-second-effect", "2.4 R1"),
    ("triggers", "010000"): ("repeat-period",),
    ("triggers", "0100018002"): ("repeat-first",),
    ("triggers", "0100028002"): ("repeat-burst",),
    ("triggers", "0100048002"): ("repeat-limit",),
    ("triggers", "010006800207"): ("repeat-limit-of-burst-7",),
    ("triggers", "0100088002"): ("repeat-ramp-shots",),
    ("triggers", "010008800205"): ("repeat-ramp-period",),
    ("triggers", "020001"): ("stay-begin", "2.4 R1"),
    ("triggers", "0401"): ("always-begin", "2.4 R1"),
}
CLIP_SAMPLES = [("clips", before) for before in test_limits.SAMPLES]
BOARD_NAMES = (
    "sample-rate",
    "samples-per-frame",
    "channels",
    "pwm-bits",
    "voices",
    "voice-rule",
    "cut-ramp",
)


def refused(id: str, of: tuple[str, ...], why: str, data: bytes, error: str, offset: int) -> Vector:
    return {
        "id": id,
        "rules": list(of),
        "why": why,
        "format": 1,
        "result": "refused",
        "table": pieces(data),
        "error": error,
        "offset": offset,
    }


def accepted(id: str, of: tuple[str, ...], why: str, data: bytes) -> Vector:
    return {
        "id": id,
        "rules": list(of),
        "why": why,
        "format": 1,
        "result": "accepted",
        "table": pieces(data),
    }


def raw_with(section: str, body: bytes) -> Raw:
    """The whole table of the limits' tests with one more record in a section."""
    bodies = {
        name: [bytes.fromhex(text) for text in texts] for name, texts in test_limits.WHOLE.items()
    }
    bodies.setdefault(section, []).append(body)
    return assemble(clip_data=test_limits.MULAW_DATA, **bodies)


# Limits: each field at its ends and one beyond


def limits() -> list[Vector]:
    found = [
        _at_limit(*case)
        for case in test_limits.ends()
        if (case[0], case[1]) != ("clips", "") and _alone(*case)
    ]
    return [*found, *_board_limits(), *_counts(), *_data_limits(), *_ima_heads(), *_rice_lengths()]


def _alone(section: str, before: str, field: test_limits.Field, _: str, value: int) -> bool:
    """Not the values that leave a later field without a range of its own, and not the clip with
    a sample too many, whose data are missing.
    """
    form, least, most = field
    if least <= value <= most and (section, before) in (
        ("selectors", ""),
        ("counters", ""),
        ("groups", ""),
        *CLIP_SAMPLES,
    ):
        return value in (least, most) and (section, before) != ("groups", "") or value == least
    return (section, before) not in CLIP_SAMPLES or value < least


def _at_limit(
    section: str, before: str, field: test_limits.Field, after: str, value: int
) -> Vector:
    form, least, most = field
    name, *more = NAMES[section, before]
    own = SECTION_OF[section]
    middle = test_limits.written(form, value)
    raw = raw_with(section, bytes.fromhex(before) + middle + bytes.fromhex(after))
    at = raw.at[section][-1] + len(bytes.fromhex(before))
    of = (own, *more, *(() if form == "index" else ("3 R4",)))
    id = f"{name}-{value}".replace("--", "-minus-")
    if least <= value <= most:
        return accepted(id, of, f"{name} may be {least} to {most}", raw.data)
    error = (
        "BAD_DATA"
        if name.startswith("clip-place")
        else "BAD_INDEX" if form == "index" else "BAD_VALUE"
    )
    return refused(id, of, f"{name} may be {least} to {most}", raw.data, error, at)


def _board_limits() -> list[Vector]:
    found = []
    for name, (before, (form, least, most), after) in zip(
        BOARD_NAMES, test_limits.BOARD_FIELDS, strict=True
    ):
        for value in sorted(
            {max(least - 1, 0), least, least + 1, most - 1, most, most + 1}
            - ({256} if form == "byte" else set())
        ):
            data = assemble(
                bytes.fromhex(before) + test_limits.written(form, value) + bytes.fromhex(after)
            ).data
            why = f"{name} may be {least} to {most}"
            of = ("3.1", "3 R4")
            within = least <= value <= most
            id = f"board-{name}-{value}"
            found.append(
                accepted(id, of, why, data)
                if within
                else refused(id, of, why, data, "BAD_VALUE", 13 + len(bytes.fromhex(before)))
            )
    for seed in (0, 1, 2**32 - 1):
        data = assemble(BOARD[:9] + seed.to_bytes(4, "little")).data
        why = "seed may be 1 to 2^32 - 1: from 0 every draw would be 0"
        of = ("3.1", "3 R4")
        found.append(
            accepted(f"board-seed-{seed}", of, why, data)
            if seed
            else refused("board-seed-0", of, why, data, "BAD_VALUE", 22)
        )
    return found


def _counts() -> list[Vector]:
    """So many records of each kind, one less and one more (3 R2)."""
    small = {
        "inputs": "0000",
        "selectors": "0200",
        "counters": "0100",
        "fades": "00000000",
        "clips": "0102 01 00",
        "effects": "00",
        "triggers": "0401 00",
    }
    most = {
        "inputs": 32,
        "selectors": 16,
        "counters": 16,
        "groups": 64,
        "fades": 255,
        "clips": 255,
        "effects": 255,
        "triggers": 64,
    }
    board = bytes.fromhex("A2 AC 01 15 FF 0C 04 00 58 01 00 00 00")
    found = []
    for name, limit in most.items():
        for count in (limit - 1, limit, limit + 1):
            made = [
                bytes([n, 1, 0]) if name == "groups" else bytes.fromhex(small[name])
                for n in range(count)
            ]
            raw = assemble(board, bytes(1), **{"effects": [b"\0"], name: made})
            of = ("3 R2", SECTION_OF[name])
            why = f"at most {limit} {name}"
            if count <= limit:
                found.append(accepted(f"{name}-{count}", of, why, raw.data))
            else:
                found.append(
                    refused(f"{name}-{count}", of, why, raw.data, "BAD_VALUE", raw.count_at[name])
                )
    return found


def _data_limits() -> list[Vector]:
    """3 R1.6: data from 13 to length - 4, and 65535 at most. What passes this check here fails
    the next: a field past it, or bytes left.
    """
    whole = assemble().data
    empty = 13 + len(BOARD) + 8
    why = "data may be 13 to length - 4 and at most 65535"
    found = []
    for at in (12, 13, 14, len(whole) - 5, len(whole) - 3):
        data = seal(whole, at)
        if 13 <= at <= len(whole) - 4:  # the board or a count is cut short, at that end
            found.append(
                refused(
                    f"data-at-{at}",
                    ("3 R1.6", "3 R3"),
                    why + "; here a field passes its end",
                    data,
                    "BAD_RECORD",
                    at,
                )
            )
        else:
            found.append(refused(f"data-at-{at}", ("3 R1.6",), why, data, "BAD_LENGTH", 9))
    long = whole[:empty] + bytes(65540 - empty) + bytes(4)
    for at in (65534, 65535):
        found.append(
            refused(
                f"data-at-{at}",
                ("3 R1.6", "3 R3"),
                why + "; here bytes are left behind the sections",
                seal(long, at),
                "BAD_RECORD",
                empty,
            )
        )
    return [*found, refused("data-at-65536", ("3 R1.6",), why, seal(long, 65536), "BAD_LENGTH", 9)]


def _ima_heads() -> list[Vector]:
    """3.7 R4, in the first block, in the second one (505 samples, 256 bytes), and in the run of
    a loop (481 samples before it, 244 bytes).
    """
    clips = {
        "first-block": ("02808004 02 00", 0),
        "second-block": ("02808004 FA03 00", 256),
        "loop": ("12808004 8104 00 E103", 244),
    }
    found = []
    for name, (clip, before) in clips.items():
        for head in ("00005800", "00005900", "0000FF00", "00005801"):
            raw = assemble(
                clip_data=bytes(before) + bytes.fromhex(head) + bytes(20),
                clips=[bytes.fromhex(clip)],
            )
            id = f"ima-head-{name}-{head[4:].lower()}"
            why = "an index above 88 would be looked up outside the steps; the byte behind it is 0"
            place = raw.at["clips"][0] + (5 if name == "first-block" else 6)
            good = head == "00005800"
            found.append(
                accepted(id, ("3.7 R4",), why, raw.data)
                if good
                else refused(id, ("3.7 R4",), why, raw.data, "BAD_DATA", place)
            )
    return found


def _rice_lengths() -> list[Vector]:
    """3.7 R5: a length that ends the clip data, one byte more, and lengths that are not whole; of
    one run, and of that of a loop.
    """
    clips = {"run": ("04808004 02 00", ""), "loop": ("14808004 8104 00 E103", "010000 77")}
    why = "a length reaches to the end of the clip data at most"
    found = []
    for name, (clip, before) in clips.items():
        for last, good in (
            ("020000 AA55", True),
            ("030000 AA55", False),
            ("0200", False),
            ("", False),
        ):
            data = bytes.fromhex(before + last)
            raw = assemble(clip_data=data, clips=[bytes.fromhex(clip)])
            id = f"rice-length-{name}-{last[:6].strip().lower() or 'none'}"
            place = raw.at["clips"][0] + (5 if name == "run" else 6)
            found.append(
                accepted(id, ("3.7 R5",), why, raw.data)
                if good
                else refused(id, ("3.7 R5",), why, raw.data, "BAD_DATA", place)
            )
    return found


# Layout: header, numbers, records, flags, rules about several fields


def layout() -> list[Vector]:
    return [*_header(), *_numbers(), *_records(), *_flags(), *_across_fields()]


def _header() -> list[Vector]:
    whole = assemble().data
    found = [
        refused("empty", ("3 R1.1",), "nothing at all", b"", "BAD_LENGTH", 0),
        refused(
            "16-bytes",
            ("3 R1.1",),
            "17 bytes are the least that is looked at",
            whole[:16],
            "BAD_LENGTH",
            16,
        ),
        refused(
            "17-bytes",
            ("3 R1.1", "3 R1.4"),
            "17 bytes are enough to look at magic, version and length",
            whole[:17],
            "BAD_LENGTH",
            5,
        ),
    ]
    for place in range(4):
        broken = reseal(whole[:place] + bytes([whole[place] ^ 0x20]) + whole[place + 1 :])
        found.append(
            refused(
                f"magic-byte-{place}",
                ("3 R1.2",),
                "every byte of the magic counts",
                broken,
                "BAD_MAGIC",
                0,
            )
        )
    for version in (0, 2):
        found.append(
            refused(
                f"version-{version}",
                ("3 R1.3", "3 R5"),
                "a reader of version 1 reads version 1 only",
                with_byte(whole, 4, version),
                "BAD_VERSION",
                4,
            )
        )
    found.append(
        refused(
            "version-before-crc",
            ("3 R1.3", "4"),
            "the version comes before length and CRC",
            whole[:4] + b"\2" + whole[5:-1],
            "BAD_VERSION",
            4,
        )
    )
    for change in (-1, 1):
        length = (len(whole) + change).to_bytes(4, "little")
        data = reseal(whole[:5] + length + whole[9:])
        found.append(
            refused(
                f"length-{'less' if change < 0 else 'more'}-by-1",
                ("3 R1.4",),
                "length is that of the whole table",
                data,
                "BAD_LENGTH",
                5,
            )
        )
    found.append(
        refused(
            "byte-behind", ("3 R1.4",), "a byte behind the table", whole + b"\0", "BAD_LENGTH", 5
        )
    )
    for place in range(4):
        data = (
            whole[: len(whole) - 4 + place]
            + bytes([whole[len(whole) - 4 + place] ^ 1])
            + whole[len(whole) - 3 + place :]
        )
        found.append(
            refused(
                f"crc-byte-{place}",
                ("3 R1.5",),
                "every byte of the CRC counts",
                data,
                "BAD_CRC",
                len(whole) - 4,
            )
        )
    found.append(
        refused(
            "crc-before-data",
            ("3 R1.5", "4"),
            "a wrong CRC is told before a wrong offset",
            whole[:9] + b"\0" + whole[10:],
            "BAD_CRC",
            len(whole) - 4,
        )
    )
    return found


def _numbers() -> list[Vector]:
    cases = [
        (
            "number-2-to-the-32-less-1",
            "FF FF FF FF 0F",
            "BAD_VALUE",
            0,
            "it is a number, though none that a lockout may be",
        ),
        ("number-2-to-the-32", "80 80 80 80 10", "BAD_NUMBER", 0, "a number is below 2^32"),
        ("number-of-six-bytes", "80 80 80 80 80 00", "BAD_NUMBER", 0, "at most five bytes"),
        (
            "fifth-byte-goes-on",
            "FF FF FF FF 80",
            "BAD_NUMBER",
            0,
            "bit 7 in the fifth byte, and no sixth byte there",
        ),
        ("longer-form-in-two-bytes", "85 00", "BAD_NUMBER", 0, "5 is written 05"),
        ("longer-form-of-0", "80 00", "BAD_NUMBER", 0, "0 is written 00"),
        ("longer-form-in-five-bytes", "80 80 80 80 00", "BAD_NUMBER", 0, "0 is written 00"),
        (
            "number-ends-with-its-body",
            "80 80",
            "BAD_RECORD",
            2,
            "the body ends before the number does: a field past its end",
        ),
        (
            "four-bytes-and-no-fifth",
            "FF FF FF FF",
            "BAD_RECORD",
            4,
            "as above, before it can be seen whether it is below 2^32",
        ),
    ]
    found = []
    for id, bytes_, error, offset, why in cases:
        raw = raw_with("inputs", b"\0" + bytes.fromhex(bytes_))
        found.append(
            refused(
                id,
                ("2.2 R1", *(("3 R3",) if error == "BAD_RECORD" else ())),
                why,
                raw.data,
                error,
                raw.at["inputs"][-1] + 1 + offset,
            )
        )
    raw = raw_with("effects", bytes.fromhex("00 02 00 83 00"))
    found.append(
        refused(
            "signed-in-a-longer-form",
            ("2.3", "2.2 R1"),
            "a signed is a number first",
            raw.data,
            "BAD_NUMBER",
            raw.at["effects"][-1] + 3,
        )
    )
    return found


def _records() -> list[Vector]:
    found = []
    raw = raw_with("inputs", b"\0\5\0")
    found.append(
        refused(
            "byte-left-in-a-body",
            ("3 R3",),
            "a later version would need it: version 1 refuses it",
            raw.data,
            "BAD_RECORD",
            raw.at["inputs"][-1] + 2,
        )
    )
    raw = raw_with("inputs", b"")
    found.append(
        refused(
            "body-of-no-bytes",
            ("3 R3",),
            "a field past the end of its body",
            raw.data,
            "BAD_RECORD",
            raw.at["inputs"][-1],
        )
    )
    raw = assemble(triggers=[b""])
    size_at = raw.at["triggers"][0] - 1
    found.append(
        refused(
            "body-past-data",
            ("3 R3",),
            "the size is looked at before the body",
            with_byte(raw.data, size_at, 1),
            "BAD_RECORD",
            size_at,
        )
    )
    raw = assemble()
    promised = with_byte(raw.data, raw.count_at["triggers"], 1)
    found.append(
        refused(
            "record-that-is-not-there",
            ("3 R3",),
            "a size past data",
            promised,
            "BAD_RECORD",
            len(raw.data) - 4,
        )
    )
    left = assemble(clip_data=b"\0").data
    found.append(
        refused(
            "byte-left-before-data",
            ("3 R3",),
            "nothing may stand between sections and data",
            seal(left, len(left) - 4),
            "BAD_RECORD",
            len(left) - 5,
        )
    )
    for id, section, before in (
        ("fade-without-segment", "fades", "00"),
        ("once-without-effect", "triggers", "0000"),
        ("repeat-without-effect", "triggers", "0100008002"),
    ):
        raw = raw_with(section, bytes.fromhex(before))
        at = raw.at[section][-1] + len(bytes.fromhex(before))
        found.append(
            refused(
                id,
                ("3 R3", SECTION_OF[section]),
                "one at least: the first is a field past the end",
                raw.data,
                "BAD_RECORD",
                at,
            )
        )
    return found


def _flags() -> list[Vector]:
    """3 R5: the lowest bit that is not defined, and the kinds behind the last."""
    cases = [
        ("group-flags-4", "groups", "2801", "04", "3.5"),
        ("fade-flags-4", "fades", "", "04", "3.6"),
        ("segment-head-5", "fades", "00", "05", "3.6"),
        ("segment-head-16", "fades", "00", "10", "3.6"),
        ("flicker-to-ambient", "fades", "00", "0C", "3.6 R1"),
        ("clip-head-5", "clips", "", "05", "3.7"),
        ("clip-head-32", "clips", "", "20", "3.7"),
        ("effect-flags-16", "effects", "", "10", "3.8"),
        ("step-kind-3", "effects", "00", "03", "3.8"),
        ("play-head-32", "effects", "00", "20", "3.8"),
        ("fade-head-16", "effects", "00", "11", "3.8"),
        ("count-head-8", "effects", "00", "0A", "3.8"),
        ("trigger-mode-5", "triggers", "", "05", "3.9 R1"),
        ("random-while-held", "triggers", "", "82", "3.9 R1"),
        ("random-on-off", "triggers", "", "83", "3.9 R1"),
        ("random-always", "triggers", "", "84", "3.9 R1"),
        ("empty-without-needs", "triggers", "", "40", "3.9 R1"),
        ("repeat-flags-16", "triggers", "0100", "10", "3.9"),
        ("stay-flags-0", "triggers", "0200", "00", "3.9"),
        ("stay-flags-8", "triggers", "0200", "08", "3.9"),
        ("conditions-0", "triggers", "1000", "00", "3.9"),
        ("conditions-17", "triggers", "1000", "11", "3.9"),
    ]
    found = []
    for id, section, before, value, rule in cases:
        raw = raw_with(section, bytes.fromhex(before) + bytes.fromhex(value) + bytes(12))
        at = raw.at[section][-1] + len(bytes.fromhex(before))
        own = ("3 R4",) if id[:4] in ("stay", "cond") and id != "stay-flags-8" else ("3 R5",)
        found.append(
            refused(
                id, (rule, *own), "told at its byte, whatever follows", raw.data, "BAD_VALUE", at
            )
        )
    for count in (1, 16):
        raw = raw_with("triggers", b"\x10\0" + bytes([count]) + b"\0\1" * count + b"\0")
        found.append(
            accepted(
                f"conditions-{count}", ("3.9",), "a selector may be named more than once", raw.data
            )
        )
    return found


def _across_fields() -> list[Vector]:
    """Rules about several fields (4), and which of two faults is the first."""
    found = []

    def add(
        id: str,
        of: tuple[str, ...],
        why: str,
        section: str,
        body: str,
        error: str = "",
        offset: int = 0,
    ) -> None:
        raw = raw_with(section, bytes.fromhex(body))
        found.append(
            refused(id, of, why, raw.data, error, raw.at[section][-1] + offset)
            if error
            else accepted(id, of, why, raw.data)
        )

    add(
        "loop-of-no-length",
        ("3.6 R3", "4"),
        "a player would go round for ever; seen at the end of the body",
        "fades",
        "01 00 00 FF FF 03 00 00 00",
        "BAD_VALUE",
        0,
    )
    add(
        "loop-with-one-length",
        ("3.6 R3",),
        "one segment with a length is enough",
        "fades",
        "01 00 00 FF FF 03 00 01 00",
    )
    add(
        "left-byte-before-loop-of-no-length",
        ("3.6 R3", "4"),
        "a second segment is read first, and it is cut short",
        "fades",
        "01 00 00 FF FF 03 00",
        "BAD_RECORD",
        7,
    )
    late = "00 06" + number(65530).hex() + "0000"
    add("step-at-65534", ("3.8 R1",), "at may be up to 65535", "effects", late + "06 04 0000")
    add("step-at-65535", ("3.8 R1",), "at may be up to 65535", "effects", late + "06 05 0000")
    add(
        "step-at-65536",
        ("3.8 R1", "4"),
        "told at head, before the counter that is not there",
        "effects",
        late + "06 06 0900",
        "BAD_VALUE",
        7,
    )
    for samples in (31, 32, 33):
        body = f"11 808004 {samples:02X} 00 00"
        add(
            f"loop-of-{samples}-samples",
            ("3.7 R2",),
            "a loop needs 32 samples",
            "clips",
            body,
            *(("BAD_VALUE", 6) if samples < 32 else ()),
        )
    add(
        "loop-start-before-data",
        ("3.7 R1", "3.7 R2", "4"),
        "loop_start comes before the place and its bytes",
        "clips",
        "11 808004 A01F 01 FF7F",
        "BAD_VALUE",
        7,
    )
    add(
        "form-of-loop-start-before-its-range",
        ("4", "3.7 R2"),
        "first the form, then the range",
        "clips",
        "11 808004 05 00 80 00",
        "BAD_NUMBER",
        6,
    )
    add(
        "index-before-what-follows",
        ("4", "2.4 R1"),
        "fields are checked one after the other",
        "effects",
        "00 01 09 09",
        "BAD_INDEX",
        2,
    )
    add(
        "gauge-before-the-fade-index",
        ("3.8 R2", "4"),
        "told at the group, before the fade that is not there",
        "effects",
        "01 01 01 09",
        "BAD_INDEX",
        2,
    )
    most = "allowed, though there are not so many"
    add(
        "clip-samples-16777215",
        ("3.7", "3 R4"),
        most,
        "clips",
        "01 808004 FFFFFF07 00",
        "BAD_DATA",
        8,
    )
    add(
        "clip-samples-16777216",
        ("3.7", "3 R4"),
        "told before the data are looked for",
        "clips",
        "01 808004 80808008 00",
        "BAD_VALUE",
        4,
    )
    add(
        "empty-without-needs-repeat",
        ("3.9 R1",),
        "as for every mode",
        "triggers",
        "41 00 00 00 8002 00",
        "BAD_VALUE",
        0,
    )
    add(
        "group-that-touches",
        ("3.5 R1",),
        "first may be the end of the group before",
        "groups",
        "24 01 00",
    )
    add(
        "group-that-overlaps",
        ("3.5 R1",),
        "channel 35 is taken",
        "groups",
        "23 01 00",
        "BAD_VALUE",
        0,
    )
    add(
        "kind-before-the-wait",
        ("3.8", "3 R5", "4"),
        "told at head, before the wait that has no form",
        "effects",
        "00 07 80 00",
        "BAD_VALUE",
        1,
    )
    add(
        "shape-before-the-length",
        ("3.6", "3 R5", "4"),
        "told at head, before the length that has no form",
        "fades",
        "00 05 80 00",
        "BAD_VALUE",
        1,
    )
    add(
        "flicker-to-ambient-before-the-length",
        ("3.6 R1", "4"),
        "as above",
        "fades",
        "00 0C 80 00",
        "BAD_VALUE",
        1,
    )
    add(
        "wait-before-the-time-of-the-step",
        ("3.8 R1", "4"),
        "a wait beyond its own range is told at the wait",
        "effects",
        late + "06 808004 0000",
        "BAD_VALUE",
        8,
    )
    add(
        "data-before-the-byte-that-is-left",
        ("3.7 R1", "4"),
        "the last field's rules come before what is behind it",
        "clips",
        "01 808004 FFFFFF07 00 00",
        "BAD_DATA",
        8,
    )
    raw = assemble(
        clip_data=bytes(10),
        clips=[bytes.fromhex("01 808004 0A 00"), bytes.fromhex("00 808004 05 00")],
    )
    found.append(
        accepted("clips-that-share-bytes", ("3.7 R1", "3.7"), "clips may share bytes", raw.data)
    )
    return found


assert set(rules()) >= {rule for _, *of in NAMES.values() for rule in of}
