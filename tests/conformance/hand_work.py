"""The basic vectors: tables written byte by byte, and what they must give, worked by hand from
SPEC.md.

No player and no encoder is asked for anything here: what stands below is bytes with their meaning
and numbers with their working. Sizes, counts, offsets and the CRC are counted (the CRC by zlib,
which is not ours). `make_vectors.py` writes the vectors from it.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

SECTIONS = ("inputs", "selectors", "counters", "groups", "fades", "clips", "effects", "triggers")
Record = tuple[str, str]
"""Hexadecimal and meaning."""


def number(value: int) -> str:
    """SPEC 2.2, in hexadecimal."""
    low = value & 127
    rest = value >> 7
    return f"{low | 128:02X} {number(rest)}" if rest else f"{low:02X}"


def u32(value: int) -> str:
    return value.to_bytes(4, "little").hex(" ").upper()


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
    board = (
        (
            f"A0 1F {frame:02X} {channels:02X} {pwm_bits:02X} {voices:02X} {rule:02X} {mask:02X}"
            f" {u32(seed)}"
        ),
        (
            f"4000 Hz, {frame} samples a frame, channels {channels}, {pwm_bits} bits, "
            f"voices {voices}, voice rule {rule}, light_mask {mask}, seed {seed}"
        ),
    )
    body = [board]
    for section in SECTIONS:
        records = of.get(section, ())
        body.append((number(len(records)), f"{section}: {len(records)}"))
        for place, (bytes_, meaning) in enumerate(records):
            body.append(
                (
                    f"{number(len(bytes.fromhex(bytes_)))} {bytes_}".strip(),
                    f"{section[:-1]} {place}: {meaning}",
                )
            )
    data_at = 13 + sum(len(bytes.fromhex(bytes_)) for bytes_, _ in body)
    length = data_at + sum(len(bytes.fromhex(bytes_)) for bytes_, _ in clip_data) + 4
    head = [
        ("66 78 73 71", "magic"),
        ("01", "version"),
        (u32(length), f"length {length}"),
        (u32(data_at), f"data at {data_at}"),
    ]
    lines = [*head, *body, *clip_data]
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
NOTHING = ("00", "no steps")
ONCE = ("00 00 00", "once, input 0, effect 0")


def singles(count: int) -> list[Record]:
    return [(f"00 {n:02X} {n:02X}", f"once, input {n}, effect {n}") for n in range(count)]
