"""Tables put together byte by byte, so that a single byte can be wrong, and both readers' word
on them.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import plain_reader

from fxseq.table import BadTable, decode

SECTIONS = ("inputs", "selectors", "counters", "groups", "fades", "clips", "effects", "triggers")
BOARD = bytes.fromhex("A2 AC 01 15 2A 0C 04 00 03 01 00 00 00")  # the worked board of SPEC 3.1


@dataclass(frozen=True)
class Raw:
    """A table's bytes, and where each record's body begins: `at[section][index]`, and
    `count_at[section]`.
    """

    data: bytes
    at: dict[str, list[int]]
    count_at: dict[str, int]


def number(value: int) -> bytes:
    """SPEC 2.2, by the book: seven bits a byte, least significant first."""
    rest = value >> 7
    return bytes([value & 0x7F | (0x80 if rest else 0)]) + (number(rest) if rest else b"")


def assemble(board: bytes = BOARD, clip_data: bytes = b"", **sections: Sequence[bytes]) -> Raw:
    """A table of these bodies, its lengths and its CRC right (SPEC 3)."""
    out = b"\0" * 13 + board
    at = {}
    count_at = {}
    for name in SECTIONS:
        bodies = sections.get(name, ())
        count_at[name] = len(out)
        out += number(len(bodies))
        at[name] = []
        for body in bodies:
            out += number(len(body))
            at[name].append(len(out))
            out += body
    return Raw(seal(out + clip_data + b"\0" * 4, len(out)), at, count_at)


def seal(data: bytes, data_at: int | None = None) -> bytes:
    """The same bytes with magic, version, length and CRC put right; `data` too, where it is
    given.
    """
    place = data[9:13] if data_at is None else data_at.to_bytes(4, "little")
    body = b"fxsq\x01" + len(data).to_bytes(4, "little") + place + data[13:-4]
    return body + zlib.crc32(body).to_bytes(4, "little")


def reseal(data: bytes) -> bytes:
    """The same bytes with a CRC that fits."""
    return data[:-4] + zlib.crc32(data[:-4]).to_bytes(4, "little")


def with_byte(data: bytes, at: int, value: int) -> bytes:
    """One byte changed, and the CRC put right."""
    return reseal(data[:at] + bytes([value]) + data[at + 1 :])


Verdict = tuple[str, int] | None


def verdict(data: bytes) -> Verdict:
    """(reason, offset) by `fxseq.table`, None where it accepts; asserts that the plain reader
    says the same.
    """
    mine = _by_reference(data)
    yours = _by_plain(data)
    assert mine == yours, f"fxseq.table says {mine}, the plain reader {yours}, of {data.hex(' ')}"
    return mine


def _by_reference(data: bytes) -> Verdict:
    try:
        decode(data)
    except BadTable as fault:
        return fault.reason.name, fault.offset
    return None


def _by_plain(data: bytes) -> Verdict:
    try:
        plain_reader.read(data)
    except plain_reader.Refused as fault:
        return fault.reason, fault.offset
    return None
