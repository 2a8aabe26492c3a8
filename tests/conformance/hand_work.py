"""The basic vectors: tables written byte by byte, and what they must give, worked by hand from
SPEC.md.

No player and no encoder is asked for anything here: what stands below is bytes with their meaning
and numbers with their working. Sizes, counts, offsets and the CRC are counted (the CRC by zlib,
which is not ours). `make_vectors.py` writes the vectors from it.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

Record = tuple[str, str]
"""Hexadecimal and meaning. Parts stand between slashes: the segments of a fade and the steps of an
effect; of a clip its form, its samples, its place and, if it has one, its loop; of a trigger its
head and hold, its terms, and last its choices. The indexes in between are counted here.
"""
SIZES = {
    "inputs": 2,
    "selectors": 2,
    "counters": 4,
    "groups": 4,
    "segments": 8,
    "forms": 4,
    "loops": 8,
    "clips": 8,
    "effects": 2,
    "steps": 4,
    "triggers": 8,
    "terms": 4,
    "choices": 1,
    "joints": 4,
}  # SPEC 3


def u16(value: int) -> str:
    """A half (SPEC 2.2), in hexadecimal."""
    return value.to_bytes(2, "little").hex(" ").upper()


def u24(value: int) -> str:
    return value.to_bytes(3, "little").hex(" ").upper()


def u32(value: int) -> str:
    return value.to_bytes(4, "little").hex(" ").upper()


def parts(bytes_: str) -> list[str]:
    return bytes_.split(" / ")


def row_records(records: Sequence[Record], what: str) -> tuple[list[Record], list[int]]:
    """Segments of fades or steps of effects one behind the other, and where each row begins."""
    rows = []
    firsts = []
    for place, (bytes_, meaning) in enumerate(records):
        firsts.append(len(rows))
        rows += [(part, f"{what} {place}: {meaning}") for part in parts(bytes_)]
    return rows, firsts


def clip_records(records: Sequence[Record]) -> dict[str, list[Record]]:
    forms: list[str] = []
    loops: list[Record] = []
    clips = []
    for place, (bytes_, meaning) in enumerate(records):
        form, samples, where, *loop = parts(bytes_)
        if form not in forms:
            forms.append(form)
        index = f"{len(loops):02X}" if loop else "FF"
        loops += [(part, f"loop of clip {place}") for part in loop]
        clips.append((f"{samples} {forms.index(form):02X} {where} {index}", f"clip {place}: {meaning}"))
    named = [(form, f"form {place}") for place, form in enumerate(forms)]
    return {"forms": named, "loops": loops, "clips": clips}


def trigger_records(records: Sequence[Record]) -> dict[str, list[Record]]:
    triggers = []
    terms: list[Record] = []
    choices: list[Record] = []
    for place, (bytes_, meaning) in enumerate(records):
        head, *own, chosen = parts(bytes_)
        mode, hold = head[:2], head[3:]
        effects = chosen.split(" ")
        first = u16(len(terms)) if own else "FF FF"
        triggers.append(
            (
                f"{mode} {len(effects):02X} {hold} {u16(len(choices))} {first}",
                f"trigger {place}: {meaning}",
            )
        )
        terms += [(part, f"term of trigger {place}") for part in own]
        choices += [(effect, f"choice of trigger {place}") for effect in effects]
    return {"triggers": triggers, "terms": terms, "choices": choices}


def sections(of: dict[str, Sequence[Record]]) -> dict[str, list[Record]]:
    """The records of each section of SPEC 3."""
    segments, _ = row_records(of.get("fades", ()), "fade")
    steps, firsts = row_records(of.get("effects", ()), "effect")
    found = {name: [] for name in SIZES}
    for name in ("inputs", "selectors", "counters", "groups", "joints"):
        found[name] = [
            (bytes_, f"{name[:-1]} {place}: {meaning}")
            for place, (bytes_, meaning) in enumerate(of.get(name, ()))
        ]
    return {
        **found,
        "segments": segments,
        **clip_records(of.get("clips", ())),
        "effects": [(u16(first), f"effect {n}: its first step") for n, first in enumerate(firsts)],
        "steps": steps,
        **trigger_records(of.get("triggers", ())),
    }


def first_segments(fades: Sequence[Record]) -> list[int]:
    """By which a fade is named."""
    return row_records(fades, "fade")[1]


def table(
    channels: int = 1,
    pwm_bits: int = 16,
    voices: int = 1,
    rule: int = 0,
    mask: int = 0,
    frame: int = 4,
    clip_data: Sequence[Record] = (),
    seed: int = 1,
    **of: Sequence[Record],
) -> list[str]:
    """A table of these records as lines `BYTES: meaning`. 4000 samples a second, `frame` a frame.
    """
    found = sections(of)
    body = [record for name in SIZES for record in found[name]]
    body_bytes = sum(SIZES[name] * len(found[name]) for name in SIZES)
    fill = [("00", "fills up to an even offset")]
    data = [*clip_data, *fill * (sum(len(bytes.fromhex(text)) for text, _ in clip_data) % 2)]
    rest = [*body, *fill * (body_bytes % 2), *data]
    length = 50 + sum(len(bytes.fromhex(bytes_)) for bytes_, _ in rest) + 4
    board = f"02 {channels:02X} {pwm_bits:02X} {voices:02X} {rule:02X} {mask:02X}"
    head = [
        ("66 78 73 71", "magic"),
        (u32(length), f"length {length}"),
        (u32(seed), f"seed {seed}"),
        (f"A0 0F {u16(frame)}", f"4000 Hz, {frame} samples a frame"),
        (
            board,
            (
                f"version 2, channels {channels}, {pwm_bits} bits, voices {voices}, voice rule"
                f" {rule}, light_mask {mask}"
            ),
        ),
        *((u16(len(found[name])), f"{name}: {len(found[name])}") for name in SIZES),
    ]
    lines = [*head, *rest]
    crc = zlib.crc32(bytes.fromhex("".join(bytes_ for bytes_, _ in lines)))
    return [f"{bytes_}: {meaning}" for bytes_, meaning in (*lines, (u32(crc), "CRC-32, by zlib"))]


@dataclass(frozen=True)
class Hand:
    """One basic vector.

    events and trace: `FRAME KIND INDEX VALUE`. duties: for each channel (frame, duty) from which it
    changes; None is dark. samples: values, or (value, times); None is silent.
    """

    id: str
    rules: tuple[str, ...]
    why: str
    table: list[str]
    until: int
    events: tuple[str, ...]
    trace: tuple[str, ...]
    work: tuple[str, ...]
    samples: tuple[int | tuple[int, int], ...] | None = None
    duties: tuple[tuple[tuple[int, int], ...], ...] | None = None
    saturated: int = 0


def press(start: int, end: int, index: int = 0) -> tuple[str, str]:
    return f"{start} PRESS {index} 0", f"{end} RELEASE {index} 0"


def once(
    frame: int, trigger: int = 0, effect: int = 0, shots: int = 0, index: int | None = None
) -> tuple[str, ...]:
    """What a once trigger on an input of its own number traces when it fires."""
    return (
        f"{frame} PRESS {trigger if index is None else index} 0",
        f"{frame} SHOT {trigger} {shots}",
        f"{frame} EFFECT {effect} {trigger}",
    )


def pcm(*values: int) -> Record:
    """PCM samples, least significant byte first, two's complement."""
    return b"".join(value.to_bytes(2, "little", signed=True) for value in values).hex(
        " "
    ).upper(), "PCM " + " ".join(map(str, values))


def flat(value: int, count: int) -> Record:
    return pcm(*[value] * count)[0], f"PCM {value}, {count} times"


def duty16(level: int) -> int:
    """6.6 R1 at 16 bits, worked in `duty_work`."""
    return int(duty_work(level).rsplit(" ", 1)[1])


def duty_work(level: int) -> str:
    """The working of 6.6 R1 at 16 bits, to be read with the rule: its last word is the duty."""
    if level == 65535:
        return "level 65535: duty is full, 65535"
    if level < 5243:
        y = (level * 7255 + 32768) >> 16
        return (
            f"level {level}: y = ({level} * 7255 + 32768) >> 16 = {y}; duty = ({y} * 65535 + 32768)"
            f" >> 16 = {(y * 65535 + 32768) >> 16}"
        )
    q = ((level + 10486) * 56497) >> 16
    s = (q * q + 32768) >> 16
    y = (s * q + 32768) >> 16
    return (
        f"level {level}: q = {q}, s = {s}, y = {y}; duty = ({y} * 65535 + 32768) >> 16 ="
        f" {(y * 65535 + 32768) >> 16}"
    )


def shone(first: int, *levels: int) -> tuple[tuple[int, int], ...]:
    """Change points of a channel of 16 bits that has these levels from frame `first` on, and the
    last of them for good.
    """
    found = [(0, 0)]
    for frame, level in enumerate(levels, first):
        if found[-1][1] != duty16(level):
            found.append((frame, duty16(level)))
    return tuple(found[1:] if found[1:2] and found[1][0] == 0 else found)


SWITCH = ("00 00", "a switch, no lock-out")
NOTHING = ("80 00 00 00", "no steps")
ONCE = ("00 00 00 / 00", "once, input 0, effect 0")


def singles(count: int) -> list[Record]:
    return [(f"{n << 3:02X} 00 00 / {n:02X}", f"once, input {n}, effect {n}") for n in range(count)]
