"""Vectors of frames on the line (LINK.md section 2), and of every worked message of its section 3.

Frames are made here as the text words it, byte by byte, with a CRC bit by bit; neither side's
encoder is asked.
"""

import re
from pathlib import Path

from vector_files import Vector

TEXT = (Path(__file__).parents[2] / "firmware_spec" / "LINK.md").read_text(encoding="utf-8")
WORKED = re.findall(r"^Worked ([A-Z_]+), tag \d: `([0-9A-F ]+)`", TEXT, re.MULTILINE)


def crc(data: bytes) -> bytes:
    """CRC-32 of ISO-HDLC, bit by bit, least significant byte first."""
    value = 0xFFFFFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xEDB88320 if value & 1 else 0)
    return (value ^ 0xFFFFFFFF).to_bytes(4, "little")


def stuffed(data: bytes) -> bytes:
    """COBS as LINK 2 words it: cut at each 00 and after every 254 bytes without one; before each
    piece its length plus one.
    """
    out = b""
    piece = b""
    for place, byte in enumerate(data):
        if byte:
            piece += bytes([byte])
        if byte == 0 or (len(piece) == 254 and place < len(data) - 1):
            out = out + bytes([len(piece) + 1]) + piece
            piece = b""
    return out + bytes([len(piece) + 1]) + piece


def framed(message: bytes) -> bytes:
    return stuffed(message + crc(message)) + b"\0"


def received(
    id: str, rule: str, why: str, line: bytes, *messages: bytes, message: bytes | None = None
) -> Vector:
    made = {} if message is None else {"message": message.hex(" ").upper()}
    return {
        "id": id,
        "rules": [rule],
        "why": why,
        "format": 1,
        "result": "received",
        **made,
        "line": line.hex(" ").upper(),
        "messages": [each.hex(" ").upper() for each in messages],
    }


def whole(id: str, rule: str, why: str, message: bytes) -> Vector:
    return received(id, rule, why, framed(message), message, message=message)


def vectors() -> list[Vector]:
    worked = [
        whole(
            f"link-{name.lower().replace('_', '-')}",
            f"LINK 3.{place}",
            f"the worked {name}",
            bytes.fromhex(data),
        )
        for place, (name, data) in enumerate(WORKED, 1)
    ]
    return [*_sizes(), _otherwise(), *_dropped(), *worked]


def _sizes() -> list[Vector]:
    rule = "LINK 2 R1"
    ask = bytes([0x44])
    return [
        whole("link-one-byte", rule, "the least message", ask),
        whole("link-one-byte-00", rule, "a 00 is stuffed", b"\0"),
        *(
            whole(
                f"link-{count}-bytes-without-00",
                rule,
                "a piece may have 254 bytes; no 00 stands before what follows",
                _no_zero(count),
            )
            for count in (249, 250, 251)
        ),
        whole(
            "link-355-bytes", rule, "the longest message", bytes(range(1, 256)) + bytes(range(100))
        ),
        whole("link-355-bytes-of-00", rule, "the longest message, every byte stuffed", bytes(355)),
        received(
            "link-356-bytes", "LINK 2 R2", "one byte too many: dropped", framed(bytes([1] * 356))
        ),
    ]


def _no_zero(count: int) -> bytes:
    """A message so long, without 00 in it or in its CRC."""
    return next(
        m
        for start in range(1, 255)
        if 0 not in crc(m := bytes(1 + (start + place) % 255 for place in range(count)))
    )


def _otherwise() -> Vector:
    """254 bytes without 00, and behind them the empty piece that an encoder leaves out."""
    message = _no_zero(250)
    line = b"\xff" + message + crc(message) + b"\x01\0"
    return received(
        "link-empty-piece-behind-254-bytes",
        "LINK 2 R2",
        "what decodes is taken, though an encoder writes it otherwise",
        line,
        message,
    )


def _dropped() -> list[Vector]:
    rule = "LINK 2 R2"
    good = bytes.fromhex("A7 1A 04 00 00")
    line = framed(good)
    flipped = bytes([line[0]]) + bytes([line[1] ^ 1]) + line[2:]
    beyond = bytes([len(line) + 1]) + line[1:]
    return [
        received(
            "link-wrong-crc",
            rule,
            "a bit of the message is wrong: dropped, and the next frame is found",
            flipped + line,
            good,
        ),
        received(
            "link-length-byte-beyond-the-end",
            rule,
            "the first length byte reaches beyond the frame",
            beyond + line,
            good,
        ),
        received(
            "link-cut-frame",
            rule,
            "a frame loses its end, and takes the next one with it",
            line[:4] + line + line,
            good,
        ),
        received(
            "link-empty-message",
            rule,
            "a right CRC of nothing is no message",
            stuffed(crc(b"")) + b"\0" + line,
            good,
        ),
        received(
            "link-three-bytes",
            rule,
            "shorter than a CRC",
            bytes.fromhex("03 11 22 00") + line,
            good,
        ),
        received(
            "link-00-in-a-row",
            rule,
            "there is no frame between two 00",
            b"\0\0" + line + b"\0\0\0" + line,
            good,
            good,
        ),
        received(
            "link-long-noise",
            rule,
            "the next frame after the next 00 is found",
            b"\x55" * 1000 + b"\0" + line,
            good,
        ),
    ]
