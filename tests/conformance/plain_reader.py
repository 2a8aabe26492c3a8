"""A second reader of the table, written from SPEC.md alone: byte by byte, in the order in which the
bytes stand.

It shares no code with `fxseq.table`. `read(data)` gives the records as plain namespaces or raises
`Refused`. Numbers in the comments are those of SPEC.md.
"""

import zlib
from collections.abc import Callable
from types import SimpleNamespace as Record

import plain_codings

POSITIONS_OF_MOST_CONDITIONS = 16
PLAY = 0
FADE = 1
COUNT = 2
ONCE, REPEAT, WHILE_HELD, ON_OFF, ALWAYS = range(5)
FLICKER = 4
MOST = {
    "inputs": 32,
    "selectors": 16,
    "counters": 16,
    "groups": 64,
    "fades": 255,
    "clips": 255,
    "effects": 255,
    "triggers": 64,
}  # 3 R2


class Refused(Exception):
    """The table is refused: `reason` of section 4, `offset` of the first fault."""

    def __init__(self, reason: str, offset: int) -> None:
        super().__init__(f"{reason} at {offset}")
        self.reason = reason
        self.offset = offset


class Bytes:
    """A place in the table and the end it must not pass (3 R3)."""

    def __init__(self, data: bytes, at: int, end: int) -> None:
        self.data = data
        self.at = at
        self.end = end
        self.field = at  # where the latest field began

    def raw_byte(self) -> int:
        if self.at >= self.end:
            raise Refused("BAD_RECORD", self.end)  # 3 R3: at that end
        self.at += 1
        return self.data[self.at - 1]

    def byte(self, least: int = 0, most: int = 255) -> int:  # 2.4, 3 R4
        self.field = self.at
        value = self.raw_byte()
        if not least <= value <= most:
            self.refuse()
        return value

    def index(self, records: list[Record]) -> int:  # 2.4 R1
        value = self.byte()
        if value >= len(records):
            raise Refused("BAD_INDEX", self.field)
        return value

    def number(self, least: int = 0, most: int = 2**32 - 1) -> int:  # 2.2
        self.field = self.at
        value = 0
        for place in range(5):
            byte = self.raw_byte()
            value += (byte & 0x7F) << (7 * place)
            if byte < 0x80:
                break
        else:
            raise Refused("BAD_NUMBER", self.field)  # more than five bytes
        if value >= 2**32 or (byte == 0 and place > 0):
            raise Refused("BAD_NUMBER", self.field)
        if not least <= value <= most:
            self.refuse()
        return value

    def signed(self, least: int, most: int) -> int:  # 2.3
        n = self.number()
        value = n // 2 if n % 2 == 0 else -((n + 1) // 2)
        if not least <= value <= most:
            self.refuse()
        return value

    def refuse(self, at: int | None = None) -> None:
        raise Refused("BAD_VALUE", self.field if at is None else at)  # 3 R4

    def more(self) -> bool:
        return self.at < self.end


def read(data: bytes) -> Record:
    """The whole table, checked in the order of 3 R1; raises Refused."""
    data_at = check_header(data)
    bytes_ = Bytes(data, 13, data_at)
    table = Record(clip_data=data[data_at:-4])
    read_board(bytes_, table)
    readers = (
        read_input,
        read_selector,
        read_counter,
        read_group,
        read_fade,
        read_clip,
        read_effect,
        read_trigger,
    )
    for name in MOST:
        setattr(table, name, [])
    for name, reader in zip(MOST, readers, strict=True):
        read_section(bytes_, table, name, reader)
    if bytes_.more():
        raise Refused("BAD_RECORD", bytes_.at)  # 3 R3: between the last section and data
    return table


def check_header(data: bytes) -> int:
    """3 R1, checks 1 to 6; gives the offset of the clip data."""
    size = len(data)
    if size < 17:
        raise Refused("BAD_LENGTH", size)
    if data[0:4] != bytes.fromhex("66 78 73 71"):
        raise Refused("BAD_MAGIC", 0)
    if data[4] != 1:
        raise Refused("BAD_VERSION", 4)
    if int.from_bytes(data[5:9], "little") != size:
        raise Refused("BAD_LENGTH", 5)
    if int.from_bytes(data[-4:], "little") != zlib.crc32(data[:-4]):
        raise Refused("BAD_CRC", size - 4)
    data_at = int.from_bytes(data[9:13], "little")
    if data_at < 13 or data_at > size - 4 or data_at > 65535:
        raise Refused("BAD_LENGTH", 9)
    return data_at


def read_section(
    bytes_: Bytes, table: Record, name: str, reader: Callable[[Bytes, Record], Record]
) -> None:
    count = bytes_.number(0, MOST[name])  # 3 R2
    for _ in range(count):
        size = bytes_.number()
        if bytes_.at + size > bytes_.end:
            raise Refused("BAD_RECORD", bytes_.field)  # 3 R3: at its size
        body = Bytes(bytes_.data, bytes_.at, bytes_.at + size)
        getattr(table, name).append(reader(body, table))
        if body.more():
            raise Refused("BAD_RECORD", body.at)  # 3 R3: bytes left in a body
        bytes_.at += size


def read_board(bytes_: Bytes, table: Record) -> None:  # 3.1
    table.sample_rate = bytes_.number(4000, 48000)
    table.samples_per_frame = bytes_.number(4, 256)
    table.channels = bytes_.byte(1, 255)
    table.pwm_bits = bytes_.byte(8, 16)
    table.voices = bytes_.byte(1, 16)
    table.voice_rule = bytes_.byte(0, 2)
    table.cut_ramp = bytes_.number(0, 2047)
    at = bytes_.at
    table.seed = int.from_bytes(bytes(bytes_.raw_byte() for _ in range(4)), "little")
    if table.seed == 0:
        bytes_.refuse(at)


def read_input(body: Bytes, table: Record) -> Record:  # 3.2
    return Record(kind=body.byte(0, 1), lockout=body.number(0, 65535))


def read_selector(body: Bytes, table: Record) -> Record:  # 3.3
    positions = body.byte(2, 16)
    return Record(positions=positions, start=body.byte(0, positions - 1))


def read_counter(body: Bytes, table: Record) -> Record:  # 3.4
    maximum = body.number(1, 65535)
    return Record(maximum=maximum, start=body.number(0, maximum))


def read_group(body: Bytes, table: Record) -> Record:  # 3.5
    before = table.groups[-1] if table.groups else Record(first=0, channels=0)
    first = body.byte(before.first + before.channels, table.channels - 1)  # R1
    channels = body.byte(1, table.channels - first)
    flags = body.byte(0, 0b11)  # 3 R5
    gauge = body.index(table.counters) if flags & 2 else None
    return Record(first=first, channels=channels, latest=bool(flags & 1), gauge=gauge)


def read_fade(body: Bytes, table: Record) -> Record:  # 3.6
    flags_at = body.at
    flags = body.byte(0, 0b11)
    start = body.number(0, 65535) if flags & 2 else None
    segments = [read_segment(body)]  # at least one
    while body.more():
        segments.append(read_segment(body))
    if flags & 1 and all(segment.length == 0 for segment in segments):
        body.refuse(flags_at)  # R3
    return Record(loop=bool(flags & 1), start=start, segments=segments)


def read_segment(body: Bytes) -> Record:  # 3.6
    head = body.byte()
    shape = head & 7
    ambient = bool(head & 8)
    if head > 15 or shape > FLICKER or (ambient and shape == FLICKER):  # 3 R5, R1
        body.refuse()
    flicker = shape == FLICKER
    segment = Record(
        shape=shape,
        ambient=ambient,
        length=body.number(1 if flicker else 0, 65535),
        target=0,
        low=0,
        every=0,
    )
    if not ambient:
        segment.target = body.number(0, 65535)
        if flicker:  # R2
            segment.low = body.number(0, segment.target)
            segment.every = body.number(1, 32767)
    return segment


def read_clip(body: Bytes, table: Record) -> Record:  # 3.7
    head = body.byte()
    if head & 0xE0 or head & 0x0F > plain_codings.RICE:
        body.refuse()
    coding = head & 0x0F
    step = body.number(2, 262143)
    samples = body.number(1, 2**24 - 1)
    place = body.number()
    place_at = body.field
    loop_start = None
    if head & 0x10:
        loop_start = body.number()
        if samples < 32 or loop_start > samples - 32:
            body.refuse()  # R2
    size = plain_codings.clip_bytes(coding, samples, loop_start, table.clip_data[place:])
    data = table.clip_data[place : place + size]
    if place + size > len(table.clip_data) or (
        coding == plain_codings.IMA and not plain_codings.ima_is_sound(data, samples, loop_start)
    ):
        raise Refused("BAD_DATA", place_at)  # R1, R4
    return Record(
        step=step,
        samples=plain_codings.decode_clip(coding, data, samples, loop_start),
        loop_start=loop_start,
    )


def read_effect(body: Bytes, table: Record) -> Record:  # 3.8
    flags = body.byte(0, 0b1111)
    effect = Record(ambient=bool(flags & 1), steps=[])
    effect.length = body.number(1, 65535) if flags & 2 else 0
    effect.pitch_spread = body.byte(1, 255) if flags & 4 else 0
    effect.gain_spread = body.byte(1, 255) if flags & 8 else 0
    at = 0
    while body.more():
        step = read_step(body, table, effect.ambient, at)
        at = step.at
        effect.steps.append(step)
    return effect


def read_step(body: Bytes, table: Record, ambient: bool, before: int) -> Record:  # 3.8
    head_at = body.at
    head = body.byte()
    kind = head & 3
    if kind == 3 or head & ~{PLAY: 0b11111, FADE: 0b01111, COUNT: 0b00111}[kind]:  # 3 R5
        body.refuse()
    at = before + (body.number(1, 65535) if head & 4 else 0)
    if at > 65535:
        body.refuse(head_at)  # R1
    if kind == PLAY:
        clip = body.index(table.clips)
        gain = body.number(0, 32767) if head & 8 else 4096
        return Record(
            kind=kind,
            at=at,
            clip=clip,
            gain=gain,
            looped=bool(head & 16),
            release=body.number(0, 65535) if head & 16 else 0,
        )
    if kind == FADE:
        group = body.index(table.groups)
        if ambient and table.groups[group].gauge is not None:
            raise Refused("BAD_INDEX", body.field)  # R2
        return Record(
            kind=kind,
            at=at,
            group=group,
            fade=body.index(table.fades),
            stagger=body.signed(-32768, 32767) if head & 8 else 0,
        )
    return Record(
        kind=kind, at=at, counter=body.index(table.counters), change=body.signed(-65535, 65535)
    )


def read_trigger(body: Bytes, table: Record) -> Record:  # 3.9
    head = body.byte()
    mode = head & 7
    if mode > ALWAYS or (head & 0x80 and mode >= WHILE_HELD) or (head & 0x40 and not head & 0x20):
        body.refuse()  # R1
    trigger = Record(mode=mode, random=bool(head & 0x80))
    trigger.input = None if mode == ALWAYS else body.index(table.inputs)
    trigger.hold = body.number(1, 65535) if head & 0x08 else 0
    trigger.conditions = read_conditions(body, table) if head & 0x10 else []
    trigger.needs = body.index(table.counters) if head & 0x20 else None
    trigger.empty = body.index(table.effects) if head & 0x40 else None
    if mode == ONCE:
        trigger.effects = read_choices(body, table)
    elif mode == REPEAT:
        read_repeat(body, table, trigger)
    else:
        flags = body.byte(1, 7)
        trigger.begin = body.index(table.effects) if flags & 1 else None
        trigger.during = body.index(table.effects) if flags & 2 else None
        trigger.end = body.index(table.effects) if flags & 4 else None
    return trigger


def read_conditions(body: Bytes, table: Record) -> list[tuple[int, int]]:
    conditions = []
    for _ in range(body.byte(1, POSITIONS_OF_MOST_CONDITIONS)):
        selector = body.index(table.selectors)
        conditions.append((selector, body.number(1, 2 ** table.selectors[selector].positions - 1)))
    return conditions


def read_choices(body: Bytes, table: Record) -> list[int]:
    effects = [body.index(table.effects)]  # at least one
    while body.more():
        effects.append(body.index(table.effects))
    return effects


def read_repeat(body: Bytes, table: Record, trigger: Record) -> None:
    flags = body.byte(0, 0b1111)
    trigger.period = body.number(256, 2**23 - 1)
    trigger.first = body.number(1, 2**31 - 1) if flags & 1 else 0
    trigger.burst = body.number(2, 255) if flags & 2 else 1
    trigger.limit = body.number(trigger.burst, 65535) if flags & 4 else 0
    trigger.ramp_shots = body.byte(1, 255) if flags & 8 else 0
    trigger.ramp_period = body.number(256, 2**23 - 1) if flags & 8 else 0
    trigger.effects = read_choices(body, table)
