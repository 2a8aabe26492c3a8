"""The vectors of firmware_spec/vectors as they are read and written (its README.md says what is
in them).
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(__file__).parents[2] / "firmware_spec" / "vectors"
MANIFEST = "manifest.json"
KINDS = ("PRESS", "RELEASE", "SELECT", "VOLUME")
TRACE_KINDS = (
    *KINDS,
    "START",
    "STOP",
    "SHOT",
    "EMPTY",
    "EFFECT",
    "SOUND",
    "CUT",
    "RELEASED",
    "FADE",
    "COUNT",
    "REFUSED",
)
SHORT = 1200  # samples, and numbers of duties' change points, that are written out
Event = tuple[int, int, int, int]
Vector = dict[str, object]


class Expected(NamedTuple):
    """What a run must give. samples: all of them; duties: one list a frame; trace: (frame, kind,
    index, value).
    """

    samples: list[int]
    duties: list[list[int]]
    trace: list[Event]
    saturated: int


def unpack(pieces: Iterable[object]) -> Iterator[object]:
    """A list in which a pair `[what, times]` stands for so many of it."""
    for piece in pieces:
        if isinstance(piece, list):
            yield from [piece[0]] * piece[1]
        else:
            yield piece


def table_bytes(vector: Vector) -> bytes:
    """Bytes of a table, whose pieces are text, or a text and how many times it stands there."""
    pieces = [piece if isinstance(piece, list) else (piece, 1) for piece in vector["table"]]
    return b"".join(bytes.fromhex(text) * times for text, times in pieces)


def events(vector: Vector) -> list[Event]:
    """Of a run, with kinds as numbers from 0 (LINK 3.8)."""
    return [
        (frame, KINDS.index(kind), index, value)
        for frame, kind, index, value in map(words, vector["events"])
    ]


def words(line: str) -> tuple[int, str, int, int]:
    frame, kind, index, value = line.split(" ")
    return int(frame), kind, int(index), int(value)


def trace(vector: Vector) -> list[Event]:
    return [
        (frame, TRACE_KINDS.index(kind) + 1, index, value)
        for frame, kind, index, value in map(words, vector["trace"])
    ]


def samples(vector: Vector) -> list[int] | None:
    return list(unpack(vector["samples"])) if "samples" in vector else None


def duties(vector: Vector) -> list[list[int]] | None:
    """One list a frame, from the change points of each channel."""
    if "duties" not in vector:
        return None
    columns = []
    for points in vector["duties"]:
        ends = [frame for frame, _ in points[1:]] + [vector["until_frame"]]
        columns.append(
            [
                duty
                for (frame, duty), end in zip(points, ends, strict=True)
                for _ in range(frame, end)
            ]
        )
    return [list(row) for row in zip(*columns, strict=True)]


def sha256(numbers: Iterable[int], signed: bool = False) -> str:
    """Of numbers of 16 bits, least significant byte first."""
    return hashlib.sha256(
        b"".join(number.to_bytes(2, "little", signed=signed) for number in numbers)
    ).hexdigest()


# Writing


def runs(values: Sequence[int]) -> list[object]:
    """The inverse of `unpack`: four and more of one value become a pair."""
    packed = []
    at = 0
    while at < len(values):
        end = at
        while end < len(values) and values[end] == values[at]:
            end += 1
        packed += [[values[at], end - at]] if end - at > 3 else values[at:end]
        at = end
    return packed


def pieces(data: bytes) -> list[object]:
    """A table's bytes as text: runs of 32 and more equal bytes as pairs."""
    packed = []
    at = 0
    plain = 0
    while at < len(data):
        end = at
        while end < len(data) and data[end] == data[at]:
            end += 1
        if end - at >= 32:
            packed += [data[plain:at].hex(" ").upper()] if at > plain else []
            packed.append([f"{data[at]:02X}", end - at])
            plain = end
        at = end
    return packed + ([data[plain:].hex(" ").upper()] if plain < len(data) else [])


def plays(
    head: Vector, data: bytes, until: int, given: Sequence[Event], expected: Expected
) -> Vector:
    """A vector of a run. head: id, rules, why, and hand where there is any."""
    columns = list(zip(*expected.duties, strict=True))
    points = [
        [[f, d] for f, d in enumerate(column) if f == 0 or d != column[f - 1]] for column in columns
    ]
    vector = {
        **head,
        "result": "plays",
        "table": pieces(data),
        "events": [f"{f} {KINDS[k]} {i} {v}" for f, k, i, v in given],
        "until_frame": until,
        "trace": [f"{f} {TRACE_KINDS[k - 1]} {i} {v}" for f, k, i, v in expected.trace],
    }
    if len(runs(expected.samples)) <= SHORT:
        vector["samples"] = runs(expected.samples)
    if sum(map(len, points)) <= SHORT:
        vector["duties"] = points
    return {
        **vector,
        "saturated": expected.saturated,
        "samples_sha256": sha256(expected.samples, signed=True),
        "duties_sha256": sha256(duty for row in expected.duties for duty in row),
    }


def written(vectors: Sequence[Vector]) -> str:
    """JSON, a field a line, and of lists of text an entry a line."""
    return (
        "[\n"
        + ",\n".join(
            "{\n" + ",\n".join(_field(name, value) for name, value in vector.items()) + "\n}"
            for vector in vectors
        )
        + "\n]\n"
    )


def _field(name: str, value: object) -> str:
    if isinstance(value, list) and name in ("hand", "trace", "duties", "steps") and value:
        inner = ",\n".join(f"    {json.dumps(entry)}" for entry in value)
        return f'  "{name}": [\n{inner}\n  ]'
    return f'  "{name}": {json.dumps(value)}'


@cache
def read_all() -> list[Vector]:
    """Every vector of the folder, in the order of the manifest."""
    manifest = json.loads((FOLDER / MANIFEST).read_text(encoding="utf-8"))
    return [
        vector
        for name in manifest["files"]
        for vector in json.loads((FOLDER / name).read_text(encoding="utf-8"))
    ]
