"""Cue points, loops and the claimed size of the sound, read from the chunks of a WAV or AIFF file.

Nothing here trusts a size in the file: whatever points outside the file, or does not hold together,
is passed over. Where a wrong size hides the way to the next chunk, the end of the file is searched
for `cue ` and `smpl`.

Layouts: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991),
`cue `; Multimedia Data Standards Update (Microsoft, 15 April 1994), `smpl`.
"""

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

CHUNK = b"fxsq"
"""Our own, in which a clip stands as a table has it."""
_BYTE_ORDER = {b"RIFF": "<", b"RIFX": ">", b"FORM": ">"}
_SOUND = (b"data", b"SSND")
_SIZE_NOT_KNOWN = 0x7FFF_0000
"""A program that writes to a pipe cannot know the size and fills in about 2 or 4 GB; common
practice, no source.
"""
_SEARCHED_BYTES = 2**20
_MOST_MARKS = 10_000
_MOST_CHUNKS = 1000
_FORWARD = 0


@dataclass(frozen=True)
class Marks:
    """What the chunks of a sound file say beside the sound.

    cues: positions in sample frames, ascending. loops: (start, end) in sample frames, end
    exclusive; only loops that run forward. claimed_bytes, present_bytes: size of the sound by its
    header, and what the file really holds of it. coded: content of the chunk that `coded` reads.
    """

    cues: tuple[int, ...] = ()
    loops: tuple[tuple[int, int], ...] = ()
    claimed_bytes: int = 0
    present_bytes: int = 0
    coded: bytes = b""

    @property
    def missing_share(self) -> float:
        """Part of the sound that the header claims but the file does not hold, 0 to 1."""
        if not self.claimed_bytes:
            return 0.0
        return 1 - self.present_bytes / self.claimed_bytes


@dataclass(frozen=True)
class _Chunk:
    ident: bytes
    start: int
    size: int


def scan(file: BinaryIO) -> Marks:
    """The marks of an open file; empty for a file that is neither RIFF nor AIFF. Never raises
    for bad content.
    """
    end = file.seek(0, os.SEEK_END)
    file.seek(0)
    order = _BYTE_ORDER.get(file.read(4))
    if order is None:
        return Marks()
    chunks = list(_walk(file, end, order))
    found = {chunk.ident: chunk for chunk in reversed(chunks)}
    if not _reaches_end(chunks, end):
        found = {**_search(file, end, order), **found}
    claimed, present = _sound_bytes(found, end)
    cues, loops = _cues(file, found, end, order), _loops(file, found, end, order)
    return Marks(cues, loops, claimed, present, _content(file, found.get(CHUNK)))


def _walk(file: BinaryIO, end: int, order: str) -> Iterator[_Chunk]:
    """The chunks in their order, up to the first that cannot be one or runs out of the file."""
    at = 12
    for _ in range(_MOST_CHUNKS):
        if at + 8 > end:
            return
        file.seek(at)
        ident, size = struct.unpack(f"{order}4sI", file.read(8))
        if not (ident.isascii() and ident.decode().isprintable()):
            return
        yield _Chunk(ident, at + 8, size)
        at += 8 + size + (size & 1)


def _reaches_end(chunks: list[_Chunk], end: int) -> bool:
    """Whether the walk ended where the file ends, give or take a padding byte."""
    return bool(chunks) and abs(chunks[-1].start + chunks[-1].size - end) <= 1


def _search(file: BinaryIO, end: int, order: str) -> dict[bytes, _Chunk]:
    """`cue ` and `smpl` chunks near the end of the file whose size agrees with their own count."""
    base = max(0, end - _SEARCHED_BYTES)
    file.seek(base)
    tail = file.read(end - base)
    found = {}
    for ident, header_bytes, count_at in ((b"cue ", 4, 0), (b"smpl", 36, 28)):
        at = tail.find(ident)
        while at >= 0 and ident not in found:
            size, count = _size_and_count(tail[at + 4 : at + 44], count_at, order)
            if (
                0 < count <= _MOST_MARKS
                and size >= header_bytes + 24 * count
                and at + 8 + size <= len(tail)
            ):
                found[ident] = _Chunk(ident, base + at + 8, size)
            at = tail.find(ident, at + 1)
    return found


def _size_and_count(head: bytes, count_at: int, order: str) -> tuple[int, int]:
    """Size and number of entries from the bytes that follow a chunk's name; zeros where they are
    cut off.
    """
    if len(head) < count_at + 8:
        return 0, 0
    return (
        struct.unpack_from(f"{order}I", head, 0)[0],
        struct.unpack_from(f"{order}I", head, count_at + 4)[0],
    )


def _sound_bytes(found: dict[bytes, _Chunk], end: int) -> tuple[int, int]:
    """Claimed and present bytes of the sound; equal where the header makes no claim."""
    for chunk in (found[ident] for ident in _SOUND if ident in found):
        present = max(0, end - chunk.start)
        known = 0 < chunk.size < _SIZE_NOT_KNOWN
        if known:
            return (chunk.size, min(chunk.size, present))
        return (present, present)
    return 0, 0


def _content(file: BinaryIO, chunk: _Chunk | None) -> bytes:
    if chunk is None:
        return b""
    file.seek(chunk.start)
    return file.read(chunk.size)


def _cues(file: BinaryIO, found: dict[bytes, _Chunk], end: int, order: str) -> tuple[int, ...]:
    """Sample offsets of the cue points. The offset counts from the block start, which is 0 in a
    file without a `wavl` list.
    """
    entries = _entries(file, found.get(b"cue "), end, order, header_bytes=4, count_at=0)
    return tuple(sorted(offset for _, _, _, _, _, offset in entries))


def _loops(
    file: BinaryIO, found: dict[bytes, _Chunk], end: int, order: str
) -> tuple[tuple[int, int], ...]:
    """Forward loops; the chunk's end is the last sample played, so one is added."""
    entries = _entries(file, found.get(b"smpl"), end, order, header_bytes=36, count_at=28)
    return tuple(
        (start, last + 1)
        for _, kind, start, last, _, _ in entries
        if kind == _FORWARD and start <= last
    )


def _entries(
    file: BinaryIO, chunk: _Chunk | None, end: int, order: str, header_bytes: int, count_at: int
) -> list[tuple[int, int, int, int, int, int]]:
    """The 24-byte entries of a chunk: as many as its count says and the file holds, whatever its
    size says.
    """
    if chunk is None or chunk.start + header_bytes > end:
        return []
    file.seek(chunk.start + count_at)
    count = struct.unpack(f"{order}I", file.read(4))[0]
    file.seek(chunk.start + header_bytes)
    data = file.read(24 * min(count, _MOST_MARKS))
    return list(struct.iter_unpack(f"{order}6I", data[: len(data) // 24 * 24]))
