"""Tables with something wrong with them, from a seed."""

import zlib
from random import Random

HEADER_BYTES = 13


def mutant(table: bytes, seed: int) -> bytes:
    """One to three changes to a table's bytes; mostly with length, start of the clip data and
    CRC put right, so that a reader gets beyond them.
    """
    chance = Random(seed)
    records = int.from_bytes(table[9:13], "little")
    data = bytearray(table)
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        records += _change(chance, data, records)
    if chance.random() < 0.9:
        data[5:9] = len(data).to_bytes(4, "little")
        data[9:13] = max(records, 0).to_bytes(4, "little")
    if chance.random() < 0.02:
        data[9:13] = chance.choice((0, 12, 13, len(data) - 4, len(data) - 3, 2**32 - 1)).to_bytes(
            4, "little"
        )
    if chance.random() < 0.02:
        del data[chance.randrange(len(data)) :]
    elif chance.random() < 0.97:
        data[-4:] = zlib.crc32(data[:-4]).to_bytes(4, "little")
    return bytes(data)


def _change(chance: Random, data: bytearray, records: int) -> int:
    """One change, mostly within the records; gives by how much it moved their end."""
    first = HEADER_BYTES if chance.random() < 0.97 else 0
    at = chance.randrange(first, max(min(records, len(data) - 4), first + 1))
    kind = chance.choice(
        ("bit", "bit", "bit", "byte", "byte", "insert", "delete", "cut", "repeat", "number")
    )
    if kind == "bit":
        data[at] ^= 1 << chance.randrange(8)
    elif kind == "byte":
        data[at] = chance.choice(
            (0, 1, 127, 128, 255, data[at] + 1 & 255, data[at] - 1 & 255, chance.randrange(256))
        )
    elif kind == "insert":
        data.insert(at, chance.choice((0, 1, 255, chance.randrange(256))))
        return 1
    elif kind == "delete" and len(data) > 1:
        del data[at]
        return -1
    elif kind == "cut":
        gone = min(chance.randint(1, 9), len(data) - at)
        del data[at : at + gone]
        return -gone
    elif kind == "repeat":
        again = data[at : at + chance.randint(1, 9)]
        data[at:at] = again
        return len(again)
    elif kind == "number":  # one that goes on
        tail = bytes(
            (
                *(chance.choice((128, 255)) for _ in range(chance.randint(0, 4))),
                chance.choice((0, 1, 15, 16)),
            )
        )
        data[at] |= 128
        data[at + 1 : at + 1] = tail
        return len(tail)
    return 0
