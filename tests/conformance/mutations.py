"""Tables with something wrong with them, from a seed."""

import zlib
from random import Random

HEADER_BYTES = 50
COUNTS = range(22, 50, 2)  # SPEC 3.1
SIZES = (2, 2, 4, 4, 8, 4, 8, 8, 2, 4, 8, 4, 1, 4)  # SPEC 3


def sealed(data: bytes) -> bytes:
    """The same bytes with length and CRC put right."""
    body = data[:4] + len(data).to_bytes(4, "little") + data[8:-4]
    return body + zlib.crc32(body).to_bytes(4, "little")


def records_end(table: bytes) -> int:
    """Where the sections end, by the counts of the header."""
    counts = [int.from_bytes(table[at : at + 2], "little") for at in COUNTS]
    return HEADER_BYTES + sum(size * count for size, count in zip(SIZES, counts, strict=True))


def mutant(table: bytes, seed: int) -> bytes:
    """One to three changes to a table's bytes; mostly with length and CRC put right, so that a
    reader gets beyond them.
    """
    chance = Random(seed)
    data = bytearray(table)
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        _change(chance, data, min(records_end(data), len(data) - 4))
    if chance.random() < 0.02:
        del data[chance.randrange(8, len(data)) :]
    elif chance.random() < 0.96:
        return sealed(bytes(data))
    return bytes(data)


def _change(chance: Random, data: bytearray, end: int) -> None:
    """One change, mostly within the records."""
    first = HEADER_BYTES if chance.random() < 0.9 else 8
    at = chance.randrange(min(first, end - 1), end)
    kind = chance.choice(("bit", "bit", "bit", "byte", "byte", "swap", "repeat", "cut", "count"))
    if kind == "bit":
        data[at] ^= 1 << chance.randrange(8)
    elif kind == "byte":
        near = (data[at] + 1 & 255, data[at] - 1 & 255)
        data[at] = chance.choice((0, 1, 127, 128, 255, *near, chance.randrange(256)))
    elif kind == "swap":
        other = chance.randrange(min(first, end - 1), end)
        data[at], data[other] = data[other], data[at]
    elif kind == "repeat":
        again = data[at : at + chance.choice((2, 4, 8))]
        data[at : at + len(again)] = data[at - len(again) : at]
    elif kind == "cut":
        del data[at : at + min(chance.choice((2, 4, 8)), end - at) // 2 * 2]
    elif kind == "count":
        place = chance.choice(COUNTS)
        data[place] = data[place] + chance.choice((-1, 1)) & 255
