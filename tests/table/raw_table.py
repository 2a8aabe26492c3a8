"""Tables put together record by record, so that a single byte can be wrong, and both readers' word
on them.
"""

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import plain_reader

from fxseq.table import BadTable, Table, decode

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
}
"""SPEC 3: the sections in their order, and the bytes of a record."""
HEADER_BYTES = 50
BOARD = bytes.fromhex("01 00 00 00 22 56 15 00 02 2A 0C 04 00 03")
"""Bytes 8 to 21 of the worked header of SPEC 3.1."""


@dataclass(frozen=True)
class Raw:
    """A table's bytes, where each record begins, `at[section][index]`, and where the sections
    end.
    """

    data: bytes
    at: Mapping[str, Sequence[int]]
    end: int


def half(value: int) -> bytes:
    return value.to_bytes(2, "little")


def word(value: int) -> bytes:
    return value.to_bytes(4, "little")


def assemble(board: bytes = BOARD, clip_data: bytes = b"", **sections: Sequence[bytes]) -> Raw:
    """A table of these records, its length, counts and CRC right (SPEC 3)."""
    out = bytes(8) + board + b"".join(half(len(sections.get(name, ()))) for name in SIZES)
    at = {}
    for name, size in SIZES.items():
        records = sections.get(name, ())
        at[name] = [len(out) + size * index for index in range(len(records))]
        out += b"".join(records)
    end = len(out)
    filled = out + bytes(end % 2) + clip_data + bytes(len(clip_data) % 2)
    return Raw(seal(filled + bytes(4)), at, end)


def seal(data: bytes) -> bytes:
    """The same bytes with magic, version, length and CRC put right."""
    return reseal(b"fxsq" + word(len(data)) + data[8:16] + b"\2" + data[17:])


def reseal(data: bytes) -> bytes:
    """The same bytes with a CRC that fits."""
    return data[:-4] + word(zlib.crc32(data[:-4]))


def with_byte(data: bytes, at: int, value: int) -> bytes:
    """One byte changed, and the CRC put right."""
    return reseal(data[:at] + bytes([value]) + data[at + 1 :])


Verdict = tuple[str, int] | None


def verdict(data: bytes) -> Verdict:
    """(reason, offset) by `fxseq.table`, None where it accepts; asserts that the plain reader
    says the same.
    """
    return read_by_both(data)[0]


def read_by_both(data: bytes) -> tuple[Verdict, Table | None]:
    """The verdict, and what `fxseq.table` has read where it accepts."""
    mine, table = _by_reference(data)
    yours = _by_plain(data)
    assert mine == yours, f"fxseq.table says {mine}, the plain reader {yours}, of {data.hex(' ')}"
    return mine, table


def _by_reference(data: bytes) -> tuple[Verdict, Table | None]:
    try:
        return None, decode(data)
    except BadTable as fault:
        return (fault.reason.name, fault.offset), None


def _by_plain(data: bytes) -> Verdict:
    try:
        plain_reader.read(data)
    except plain_reader.Refused as fault:
        return fault.reason, fault.offset
    return None
