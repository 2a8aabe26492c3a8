"""Messages of the link, each a dataclass with a kind and bounded fields (LINK section 3).

A message is one byte of kind (bits 0..4) and tag (bits 5..7), then its fields in order,
little-endian, then, in some kinds, a rest of variable length that runs to the end of the message.
"""

import struct
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from enum import IntEnum, IntFlag
from functools import cache
from typing import Annotated, Any, ClassVar, NamedTuple, Self, get_args, get_type_hints

from fxseq.link.frames import LARGEST_BLOCK

PROTOCOL_VERSION = 1
TAGS = 8
WIDEST_WINDOW = 16
HALVED_AHEAD = 7
"""Blocks beyond base that can be halved: those of one more would reach beyond the bitmap."""
MOST_BLOCKS = 0xFFFF
LONGEST_NAME = 24
TIMED_BYTES = 8
CRC_BYTES = 4
MOST_PRESSES = 32
MOST_EVENTS = 43
LONGEST_PART = 348
SHORTEST_TABLE = CRC_BYTES + 1
FOR_EVER = 0xFFFFFFFF
"""As the frame where a clock stops: it never does."""
NO_SLOT = 2
BASE_BAUD = 115_200
MOST_BAUD = 2_000_000
"""Speed of a line whose speed can change, until it is changed, and the highest."""


def table_crc(table: bytes) -> int:
    """By which the link knows a table: CRC-32 over all but its last four bytes, which hold that
    same CRC (SPEC 3).

    Over the whole table it would be 2144DF1C for every sound table, the same for all of them.
    """
    return zlib.crc32(table[:-CRC_BYTES])


class ErrorCode(IntEnum):
    """Why a board refuses a message (LINK 3.18)."""

    UNKNOWN_KIND = 1
    BAD_FIELD = 2
    TOO_LARGE = 3
    NOT_BEGUN = 4
    BAD_TABLE = 5
    FLASH = 6
    NO_TABLE = 7
    BAD_PRESS = 8


class Feature(IntFlag):
    """What a board has, as BOARD tells it (LINK 3.11)."""

    RUNS = 1
    SOUND = 2
    LIGHT = 4
    READING = 8
    COPYING = 16
    SPEED = 32
    COUNTING = 64
    HALVING = 128


class BadMessage(ValueError):
    """An intact frame that holds no message of this protocol version."""

    def __init__(self, code: ErrorCode, tag: int, detail: int) -> None:
        super().__init__(f"{code.name} ({detail})")
        self.code = code
        self.tag = tag
        self.detail = detail


class OtherVersion(BadMessage):
    """The answer of a board that speaks another version of the protocol."""

    def __init__(self, tag: int, version: int) -> None:
        super().__init__(ErrorCode.BAD_FIELD, tag, version)
        self.version = version


class Number(NamedTuple):
    """A field of fixed size: its `struct` code and range."""

    code: str
    lowest: int
    highest: int


class Rest(NamedTuple):
    """The variable end of a message: its size in bytes, and how it becomes a value and bytes
    again.
    """

    smallest: int
    largest: int
    read: Callable[[bytes], Any]
    write: Callable[[Any], bytes]


Timed = tuple[int, int, int, int]
"""A press or a trace event: frame, kind, index, value."""
_TIMED = struct.Struct("<IBBH")


def _read_timed(data: bytes) -> tuple[Timed, ...]:
    return tuple(_TIMED.iter_unpack(data))


def _write_timed(items: tuple[Timed, ...]) -> bytes:
    return b"".join(_TIMED.pack(*item) for item in items)


def _read_name(data: bytes) -> str:
    name = data.decode("utf-8")
    if not name.isprintable():
        raise ValueError("a name must be printable")
    return name


U8 = Annotated[int, Number("B", 0, 255)]
U16 = Annotated[int, Number("H", 0, 0xFFFF)]
U32 = Annotated[int, Number("I", 0, 0xFFFFFFFF)]
Count = Annotated[int, Number("I", 1, 0xFFFFFFFF)]
Length = Annotated[int, Number("I", SHORTEST_TABLE, 0xFFFFFFFF)]
Baud = Annotated[int, Number("I", BASE_BAUD, MOST_BAUD)]
SlotIndex = Annotated[int, Number("B", 0, 1)]
Name = Annotated[str, Rest(0, LONGEST_NAME, _read_name, str.encode)]
Block = Annotated[bytes, Rest(1, LARGEST_BLOCK, bytes, bytes)]
SomeBytes = Annotated[bytes, Rest(1, LONGEST_PART, bytes, bytes)]
SomePresses = Annotated[
    tuple[Timed, ...], Rest(TIMED_BYTES, MOST_PRESSES * TIMED_BYTES, _read_timed, _write_timed)
]
SomeEvents = Annotated[
    tuple[Timed, ...], Rest(0, MOST_EVENTS * TIMED_BYTES, _read_timed, _write_timed)
]


@dataclass(frozen=True)
class Message:
    """Base of all messages."""

    KIND: ClassVar[int]

    def encode(self, tag: int) -> bytes:
        """The bytes of the message. Raises ValueError where a field is outside its range."""
        layout = _layout(type(self))
        values = [getattr(self, field.name) for field in fields(self)]
        rest = b""
        if layout.rest is not None:
            rest = layout.rest.write(values.pop())
            if not layout.rest.smallest <= len(rest) <= layout.rest.largest:
                raise ValueError(f"{self!r}: the rest has {len(rest)} bytes")
        if layout.outside(values) is not None:
            raise ValueError(f"{self!r}: a field is outside its range")
        return bytes([tag << 5 | self.KIND]) + layout.packing.pack(*values) + rest

    @classmethod
    def decode_fields(cls, tag: int, body: bytes) -> Self:
        """The message whose fields are `body`; raises BadMessage."""
        layout = _layout(cls)
        size = layout.packing.size
        smallest, largest = layout.rest[:2] if layout.rest is not None else (0, 0)
        if not size + smallest <= len(body) <= size + largest:
            raise BadMessage(ErrorCode.BAD_FIELD, tag, len(body))
        values = list(layout.packing.unpack_from(body))
        outside = layout.outside(values)
        if outside is not None:
            raise BadMessage(ErrorCode.BAD_FIELD, tag, outside)
        if layout.rest is not None:
            try:
                values.append(layout.rest.read(body[size:]))
            except (ValueError, struct.error):
                raise BadMessage(ErrorCode.BAD_FIELD, tag, size) from None
        return cls(*values)


@dataclass(frozen=True)
class Layout:
    """How a kind of message is packed."""

    packing: struct.Struct
    numbers: tuple[Number, ...]
    rest: Rest | None

    def outside(self, values: list[int]) -> int | None:
        """Which value is outside its range, counted from 0."""
        pairs = enumerate(zip(values, self.numbers, strict=True))
        return next(
            (
                place
                for place, (value, number) in pairs
                if not number.lowest <= value <= number.highest
            ),
            None,
        )


@cache
def _layout(cls: type[Message]) -> Layout:
    hints = get_type_hints(cls, include_extras=True)
    marks = [get_args(hints[field.name])[1] for field in fields(cls)]
    rest = marks.pop() if marks and isinstance(marks[-1], Rest) else None
    return Layout(struct.Struct("<" + "".join(mark.code for mark in marks)), tuple(marks), rest)


# From the host to the board.


@dataclass(frozen=True)
class Hello(Message):
    """Who is there?"""

    KIND: ClassVar[int] = 1
    version: U8 = PROTOCOL_VERSION


@dataclass(frozen=True)
class Begin(Message):
    """A table of this length and `table_crc` is to be written to the idle slot."""

    KIND: ClassVar[int] = 2
    length: Length
    crc: U32


@dataclass(frozen=True)
class Data(Message):
    """One block of the table; carries the tag of its Begin, or of the Halve behind it."""

    KIND: ClassVar[int] = 3
    number: U16
    block: Block


@dataclass(frozen=True)
class Verify(Message):
    """Read the slot back."""

    KIND: ClassVar[int] = 4


@dataclass(frozen=True)
class Commit(Message):
    """Read the table of this length and `table_crc` back, and make it the one that plays."""

    KIND: ClassVar[int] = 5
    length: Length
    crc: U32


@dataclass(frozen=True)
class Restart(Message):
    """Power-up anew: clock at frame 0 and held, no presses, no trace."""

    KIND: ClassVar[int] = 6


@dataclass(frozen=True)
class Run(Message):
    """Let the clock run up to, and without, this frame."""

    KIND: ClassVar[int] = 7
    until: U32


@dataclass(frozen=True)
class Presses(Message):
    """Presses in order of time; `first` is the number of the first one since the restart, modulo
    65536.
    """

    KIND: ClassVar[int] = 8
    first: U16
    presses: SomePresses


@dataclass(frozen=True)
class ClockQuery(Message):
    """Where is the clock?"""

    KIND: ClassVar[int] = 9


@dataclass(frozen=True)
class TraceQuery(Message):
    """Trace events from this number on."""

    KIND: ClassVar[int] = 10
    first: U32


@dataclass(frozen=True)
class Boot(Message):
    """Leave everything, and wait for a new firmware in the chip's boot loader. Answered by Wait."""

    KIND: ClassVar[int] = 11


@dataclass(frozen=True)
class Read(Message):
    """Bytes of the table that plays, from this offset on."""

    KIND: ClassVar[int] = 12
    offset: U32


@dataclass(frozen=True)
class Sum(Message):
    """What is the CRC of these bytes of the table that plays?"""

    KIND: ClassVar[int] = 13
    offset: U32
    length: Count


@dataclass(frozen=True)
class Copy(Message):
    """`count` blocks from `first` on are the bytes of the table that plays from `offset` on;
    carries the tag of Data.
    """

    KIND: ClassVar[int] = 14
    first: U16
    count: Annotated[int, Number("H", 1, 0xFFFF)]
    offset: U32


@dataclass(frozen=True)
class Speed(Message):
    """Go on at this speed of the line, or as near below it as the board can."""

    KIND: ClassVar[int] = 15
    baud: Baud


@dataclass(frozen=True)
class CountsQuery(Message):
    """What has the board counted?"""

    KIND: ClassVar[int] = 16


@dataclass(frozen=True)
class Halve(Message):
    """From here on, blocks are half as long; what has come counts on."""

    KIND: ClassVar[int] = 29


# From the board to the host.


@dataclass(frozen=True)
class Board(Message):
    """Answer to Hello: what the board is, what it can do, and what it holds. A slot without a whole
    table has length 0 and CRC 0."""

    KIND: ClassVar[int] = 17
    version: U8
    table_version: U8
    most_rate_hz: U16
    most_channels: U8
    most_pwm_bits: U8
    most_voices: U8
    codings: U16
    features: U8
    block_bytes: Annotated[int, Number("H", 32, LARGEST_BLOCK)]
    window: Annotated[int, Number("B", 1, WIDEST_WINDOW)]
    press_room: U8
    trace_room: U16
    slot_bytes: Length
    active: Annotated[int, Number("B", 0, NO_SLOT)]
    held: Annotated[int, Number("B", 0, 1)]
    length_0: U32
    crc_0: U32
    length_1: U32
    crc_1: U32
    board_id: U32
    name: Name

    @classmethod
    def decode_fields(cls, tag: int, body: bytes) -> Self:
        """As in Message, but of another version nothing except the version is read."""
        if body and body[0] != PROTOCOL_VERSION:
            raise OtherVersion(tag, body[0])
        return super().decode_fields(tag, body)

    @property
    def proves_runs(self) -> bool:
        """Whether it plays press scripts and tells what it did (LINK 6)."""
        return bool(self.features & Feature.RUNS)

    @property
    def can_be_read(self) -> bool:
        """Whether it gives its table back (LINK 3.20)."""
        return bool(self.features & Feature.READING)

    @property
    def can_copy(self) -> bool:
        """Whether it takes blocks from the table that plays, and gives that back (LINK 3.24)."""
        return self.can_be_read and bool(self.features & Feature.COPYING)

    @property
    def takes_speed(self) -> bool:
        """Whether the line to it can be made quicker (LINK 4.6)."""
        return bool(self.features & Feature.SPEED)

    @property
    def can_halve(self) -> bool:
        """Whether it takes blocks of half the size (LINK 4.7)."""
        return bool(self.features & Feature.HALVING)

    def halved(self) -> "Board":
        """The board as it is for a push whose blocks are halves: it halves no further."""
        return replace(
            self, block_bytes=self.block_bytes // 2, features=self.features & ~Feature.HALVING
        )

    @property
    def counts(self) -> bool:
        """Whether it counts for a table that asks for it (LINK 8)."""
        return bool(self.features & Feature.COUNTING)

    @property
    def has_table(self) -> bool:
        """Whether a table plays."""
        return self.active != NO_SLOT

    @property
    def playing(self) -> tuple[int, int]:
        """Length and CRC of the table that plays; only of a board that has one."""
        return ((self.length_0, self.crc_0), (self.length_1, self.crc_1))[self.active]


@dataclass(frozen=True)
class Status(Message):
    """Every block below `base` is in the slot; bit i of `bitmap` stands for block base + 1 + i."""

    KIND: ClassVar[int] = 18
    base: U16
    bitmap: U16


@dataclass(frozen=True)
class Wait(Message):
    """Still at work on the request with this tag."""

    KIND: ClassVar[int] = 19


@dataclass(frozen=True)
class Verified(Message):
    """What the slot reads back as."""

    KIND: ClassVar[int] = 20
    length: Length
    crc: U32


@dataclass(frozen=True)
class Committed(Message):
    """The table in this slot plays now and after every power-up."""

    KIND: ClassVar[int] = 21
    slot: SlotIndex


@dataclass(frozen=True)
class Clock(Message):
    """The next frame to play, where the clock will stop, and how many presses can be taken and from
    which number on.

    late: presses since the restart that came too late to act at their frame.
    """

    KIND: ClassVar[int] = 22
    frame: U32
    until: U32
    next_press: U16
    press_room: U8
    late: U16


@dataclass(frozen=True)
class Events(Message):
    """Trace events from number `first` on, in order; `frame`: the trace is complete up to, and
    without, this frame.
    """

    KIND: ClassVar[int] = 23
    frame: U32
    first: U32
    events: SomeEvents


@dataclass(frozen=True)
class Error(Message):
    """The request with this tag is refused."""

    KIND: ClassVar[int] = 24
    code: U8
    detail: U32


@dataclass(frozen=True)
class Part(Message):
    """Bytes of the table that plays, from this offset on; one at least."""

    KIND: ClassVar[int] = 25
    offset: U32
    data: SomeBytes


@dataclass(frozen=True)
class Summed(Message):
    """CRC-32 of these bytes of the table that plays."""

    KIND: ClassVar[int] = 26
    offset: U32
    length: Count
    crc: U32


@dataclass(frozen=True)
class Counts(Message):
    """What the board has counted. counting: whether it does at present. lowest: of the input of
    low cells, in 1/65536 of the most that it measures; FFFF for not measured.
    """

    KIND: ClassVar[int] = 27
    counting: Annotated[int, Number("B", 0, 1)]
    power_ups: U32
    shots: U32
    refusals: U32
    flash_errors: U16
    lowest: U16


@dataclass(frozen=True)
class Agreed(Message):
    """The speed at which the board goes on behind this answer."""

    KIND: ClassVar[int] = 28
    baud: Baud


@dataclass(frozen=True)
class Halved(Status):
    """Status of a push whose blocks are halves."""

    KIND: ClassVar[int] = 30


PUSH_REQUESTS: dict[int, type[Message]] = {
    kind.KIND: kind for kind in (Hello, Begin, Data, Verify, Commit)
}
"""All that every board knows (LINK 3 R2)."""
REQUESTS: dict[int, type[Message]] = PUSH_REQUESTS | {
    kind.KIND: kind for kind in (Restart, Run, Presses, ClockQuery, TraceQuery)
}
"""All that a board with runs knows."""
KINDS: dict[int, type[Message]] = REQUESTS | {
    kind.KIND: kind
    for kind in (
        Boot, Read, Sum, Copy, Speed, CountsQuery, Halve, Board, Status, Wait, Verified, Committed,
        Clock, Events, Error, Part, Summed, Counts, Agreed, Halved,
    )
}  # fmt: skip


class Tagged(NamedTuple):
    """A message and its tag."""

    tag: int
    message: Message


def decode_message(data: bytes, kinds: Mapping[int, type[Message]] = KINDS) -> Tagged:
    """The message that the bytes of a frame hold, where it is of one of these kinds; raises
    BadMessage.
    """
    tag = data[0] >> 5
    kind = data[0] & 31
    if kind not in kinds:
        raise BadMessage(ErrorCode.UNKNOWN_KIND, tag, kind)
    return Tagged(tag, kinds[kind].decode_fields(tag, data[1:]))
