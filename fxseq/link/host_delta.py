"""What of a new table is on the board already, in the table that plays: found without reading all
of it back (LINK 4.5).
"""

import zlib
from collections.abc import Iterable, Iterator
from itertools import pairwise
from os.path import commonprefix
from typing import NamedTuple

from fxseq.link import messages as m
from fxseq.link.host_read import read_range
from fxseq.link.host_session import Steps, Talk, ask
from fxseq.table import limits

_WORTH_BLOCKS = 4
"""A table with fewer blocks of clip data is sent as it is: to ask would take as long."""
_PLACE = 0xFFFFFF


class Span(NamedTuple):
    """Bytes of a table."""

    at: int
    length: int


class Same(NamedTuple):
    """Bytes of the new table that the one that plays has too, from `source` on."""

    at: int
    length: int
    source: int

    @property
    def end(self) -> int:
        """Behind the last of them, in the new table."""
        return self.at + self.length

    def goes_on_with(self, other: "Same") -> bool:
        """Whether the other one follows in both tables."""
        return self.end == other.at and self.source + self.length == other.source


class Kept(NamedTuple):
    """What need not be sent. copies: whole blocks, in their order. sounds: runs of clip data of the
    new table; kept: how many of these the board has.
    """

    copies: list[m.Copy]
    sounds: int
    kept: int


class Records(NamedTuple):
    """Where the records of the clips stand in a table, and where the clip data begins."""

    clips: Span
    end: int


def find_kept(talk: Talk, board: m.Board, table: bytes) -> Steps[Kept]:
    """What the board has of this table. Raises LinkError where it does not answer."""
    nothing = Kept([], 0, 0)
    new = _records(table)
    if not (board.can_copy and board.has_table) or new is None:
        return nothing
    clip_bytes = len(table) - new.end
    if clip_bytes < _WORTH_BLOCKS * board.block_bytes:
        return nothing
    length = board.playing[0]
    head = yield from read_range(talk, length, 0, min(limits.HEADER_BYTES, length))
    old = _records(head)
    if old is None or not old.end <= min(clip_bytes, length):
        return nothing
    if len(head) < old.end:
        head += yield from read_range(talk, length, len(head), old.end)
    sounds = _sounds(table, new, len(table))
    there = _sounds(head, old, length)
    same = yield from _Sums(talk, table).find(sounds, there, board.block_bytes)
    found = sorted([*_same_ends(table[: new.end], head[: old.end]), *same])
    return Kept(list(_copies(found, board.block_bytes)), len(sounds), len(same))


class _Sums:
    """Finds equal sounds by their CRC; asks for none twice."""

    def __init__(self, talk: Talk, table: bytes) -> None:
        self._talk = talk
        self._table = table
        self._known: dict[Span, int] = {}

    def find(self, new: list[Span], old: list[Span], least_bytes: int) -> Steps[list[Same]]:
        """What the old sounds have of the new ones; of one in a row of its own only where it has
        `least_bytes`. Sounds that follow each other in both are asked for together.
        """
        found: dict[int, Same] = {}
        for row in _rows(new, old):
            if sum(same.length for same in row) >= least_bytes:
                found.update({same.at: same for same in (yield from self._of(row))})
        for same in (same for sound in new for same in _pairs(sound, old)):
            if same.at not in found and same.length >= least_bytes:
                found.update({one.at: one for one in (yield from self._of([same]))})
        return list(found.values())

    def _of(self, row: list[Same]) -> Steps[list[Same]]:
        """What of a row is equal: all, or what is of its halves."""
        first = row[0]
        source = Span(first.source, sum(same.length for same in row))
        if source not in self._known:
            _, answer = yield from ask(self._talk, m.Sum(*source), m.Summed)
            self._known[source] = answer.crc
        if self._known[source] == zlib.crc32(self._table[first.at :][: source.length]):
            return row
        half = len(row) // 2
        if not half:
            return []
        return (yield from self._of(row[:half])) + (yield from self._of(row[half:]))


def _pairs(sound: Span, old: list[Span]) -> list[Same]:
    """Old sounds that may be this one: of its length. Behind the last one a byte may fill up."""
    return [
        Same(sound.at, min(sound.length, source.length), source.at)
        for source in old
        if abs(sound.length - source.length) <= 1
    ]


def _rows(new: list[Span], old: list[Span]) -> list[list[Same]]:
    """Sounds that may be equal, in rows that stand the same way in both tables."""
    rows: list[list[Same]] = []
    for sound in new:
        pairs = _pairs(sound, old)
        after = [same for same in pairs if rows and rows[-1][-1].goes_on_with(same)]
        if after:
            rows[-1].append(after[0])
        elif pairs:
            rows.append([pairs[0]])
    return rows


def _same_ends(new: bytes, old: bytes) -> Iterator[Same]:
    """What the records begin and end with in both tables."""
    begin = len(commonprefix([new, old]))
    end = min(len(commonprefix([new[::-1], old[::-1]])), len(new) - begin)
    yield Same(0, begin, 0)
    yield Same(len(new) - end, end, len(old) - end)


def _copies(found: Iterable[Same], block_bytes: int) -> Iterator[m.Copy]:
    """The whole blocks within equal bytes."""
    runs: list[Same] = []
    for same in found:
        if runs and runs[-1].goes_on_with(same):
            runs[-1] = runs[-1]._replace(length=runs[-1].length + same.length)
        else:
            runs.append(same)
    for run in runs:
        first = -(-run.at // block_bytes)
        end = run.end // block_bytes
        if end > first:
            yield m.Copy(first, end - first, run.source + first * block_bytes - run.at)


def _records(data: bytes) -> Records | None:
    """By the header of a table (SPEC 3); None where it is none that this fxseq knows."""
    if len(data) < limits.HEADER_BYTES or data[:4] != limits.MAGIC or data[16] != limits.VERSION:
        return None
    at = limits.HEADER_BYTES
    clips = Span(at, 0)
    for number, (name, size, _) in enumerate(limits.SECTIONS):
        count = int.from_bytes(data[22 + 2 * number :][:2], "little")
        if name == "clips":
            clips = Span(at, count * size)
        at += count * size
    return Records(clips, at + at % 2)


def _sounds(data: bytes, records: Records, length: int) -> list[Span]:
    """The clip data of a table of this length, cut where a clip begins. data: at least its
    records.
    """
    end = length - limits.CRC_BYTES
    rows = range(records.clips.at, sum(records.clips), 8)
    places = {
        records.end + (int.from_bytes(data[row + 4 : row + 8], "little") & _PLACE) for row in rows
    }
    cuts = sorted(place for place in places if place < end)
    return [Span(at, until - at) for at, until in pairwise([*cuts, end])]
