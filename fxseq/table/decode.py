"""Bytes to table, with every check that makes a table safe to play (SPEC sections 3 and 4).

One pass from the first byte to the last: whatever a record refers to stands before it, so the first
fault met is the one reported, and every reader of the same bytes reports the same reason at the
same offset.
"""

import zlib
from collections.abc import Callable
from typing import TypeVar

from fxseq.clips import byte_count, sound
from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape
from fxseq.table import limits
from fxseq.table.errors import BadTable, Reason
from fxseq.table.reader import Reader
from fxseq.table.records import (
    ChangeCount,
    ClipRecord,
    Coding,
    CounterRecord,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    Merge,
    Mode,
    PlayClip,
    SelectorRecord,
    Shots,
    StartFade,
    Stay,
    Step,
    Table,
    TriggerRecord,
    VoiceRule,
)

Record = TypeVar("Record")


def decode(data: bytes) -> Table:
    """The table that the bytes hold. Raises BadTable with the first fault met."""
    start, end = _header(data)
    reader = Reader(data, limits.HEADER_BYTES, start)
    board = _board(reader)
    inputs = _section(reader, limits.MOST_INPUTS, _input)
    selectors = _section(reader, limits.MOST_SELECTORS, _selector)
    counters = _section(reader, limits.MOST_COUNTERS, _counter)
    groups = _groups(reader, board["channels"], len(counters))
    fades = _section(reader, limits.MOST_FADES, _fade)
    clips = _section(reader, limits.MOST_CLIPS, lambda record: _clip(record, data[start:end]))
    effects = _section(
        reader,
        limits.MOST_EFFECTS,
        lambda record: _effect(record, groups, len(fades), len(clips), len(counters)),
    )
    triggers = _section(
        reader,
        limits.MOST_TRIGGERS,
        lambda record: _trigger(record, inputs, selectors, len(counters), len(effects)),
    )
    reader.finish()
    return Table(
        **board,
        inputs=inputs,
        selectors=selectors,
        counters=counters,
        groups=groups,
        fades=fades,
        clips=clips,
        effects=effects,
        triggers=triggers,
    )


def _header(data: bytes) -> tuple[int, int]:
    """Start and end of the clip data, once the bytes are known to be a whole, undamaged table."""
    if len(data) < limits.SMALLEST_TABLE:
        raise BadTable(Reason.BAD_LENGTH, len(data))
    if data[:4] != limits.MAGIC:
        raise BadTable(Reason.BAD_MAGIC, 0)
    if data[4] != limits.VERSION:
        raise BadTable(Reason.BAD_VERSION, 4)
    end = len(data) - 4
    if int.from_bytes(data[5:9], "little") != len(data):
        raise BadTable(Reason.BAD_LENGTH, 5)
    if zlib.crc32(data[:end]) != int.from_bytes(data[end:], "little"):
        raise BadTable(Reason.BAD_CRC, end)
    start = int.from_bytes(data[9:13], "little")
    if not limits.HEADER_BYTES <= start <= min(end, limits.RECORDS_END):
        raise BadTable(Reason.BAD_LENGTH, 9)
    return start, end


def _board(reader: Reader) -> dict[str, int]:
    return {
        "sample_rate_hz": reader.number(*limits.SAMPLE_RATE_HZ),
        "samples_per_frame": reader.number(*limits.SAMPLES_PER_FRAME),
        "channels": reader.byte(*limits.CHANNELS),
        "pwm_bits": reader.byte(*limits.PWM_BITS),
        "voices": reader.byte(*limits.VOICES),
        "voice_rule": VoiceRule(reader.byte(0, max(VoiceRule))),
        "cut_ramp": reader.number(*limits.CUT_RAMP),
        "seed": reader.word(*limits.SEED),
    }


def _section(reader: Reader, most: int, parse: Callable[[Reader], Record]) -> tuple[Record, ...]:
    records = []
    for _ in range(reader.number(0, most)):
        record = reader.record()
        records.append(parse(record))
        record.finish()
    return tuple(records)


def _input(record: Reader) -> InputRecord:
    return InputRecord(InputKind(record.byte(0, max(InputKind))), record.number(*limits.FRAMES))


def _selector(record: Reader) -> SelectorRecord:
    positions = record.byte(*limits.POSITIONS)
    return SelectorRecord(positions, record.byte(0, positions - 1))


def _counter(record: Reader) -> CounterRecord:
    maximum = record.number(1, limits.COUNT[1])
    return CounterRecord(maximum, record.number(0, maximum))


def _groups(reader: Reader, channels: int, counters: int) -> tuple[GroupRecord, ...]:
    free = 0

    def group(record: Reader) -> GroupRecord:
        nonlocal free
        first = record.byte(free, channels - 1)
        count = record.byte(1, channels - first)
        flags = record.byte(0, 3)
        free = first + count
        return GroupRecord(
            first, count, Merge(flags & 1), record.index(counters) if flags & 2 else None
        )

    return _section(reader, limits.MOST_GROUPS, group)


def _fade(record: Reader) -> FadeCurve:
    at = record.at
    flags = record.byte(0, 3)
    start = record.number(*limits.LEVEL) if flags & 2 else None
    segments = [_segment(record)]
    while record.more():
        segments.append(_segment(record))
    fade = FadeCurve(tuple(segments), start, bool(flags & 1))
    if fade.loop and fade.length == 0:
        raise BadTable(Reason.BAD_VALUE, at)
    return fade


def _segment(record: Reader) -> FadeSegment:
    at = record.at
    head = record.byte(0, 8 | max(Shape))
    if head & 7 > max(Shape) or head == 8 | Shape.FLICKER:
        raise BadTable(Reason.BAD_VALUE, at)
    shape = Shape(head & 7)
    if shape == Shape.FLICKER:
        length = record.number(1, limits.FRAMES[1])
        target = record.number(*limits.LEVEL)
        return FadeSegment(
            shape, length, target, record.number(0, target), record.number(*limits.FLICKER_EVERY)
        )
    length = record.number(*limits.FRAMES)
    return FadeSegment(shape, length, AMBIENT if head & 8 else record.number(*limits.LEVEL))


def _clip(record: Reader, data: bytes) -> ClipRecord:
    at = record.at
    head = record.byte(0, 16 | max(Coding))
    if head & 15 > max(Coding):
        raise BadTable(Reason.BAD_VALUE, at)
    step = record.number(*limits.CLIP_STEP)
    samples = record.number(*limits.CLIP_SAMPLES)
    at = record.at
    place = record.number(0)
    loop_start = record.number(0, samples - limits.SHORTEST_LOOP) if head & 16 else None
    coding = Coding(head & 15)
    end = place + byte_count(coding.text, samples, loop_start, memoryview(data)[place:])
    if end > len(data) or not sound(data[place:end], coding.text, samples, loop_start):
        raise BadTable(Reason.BAD_DATA, at)
    return ClipRecord(coding, step, samples, data[place:end], loop_start)


def _effect(
    record: Reader, groups: tuple[GroupRecord, ...], fades: int, clips: int, counters: int
) -> EffectRecord:
    flags = record.byte(0, 15)
    ambient = bool(flags & 1)
    length = record.number(1, limits.FRAMES[1]) if flags & 2 else 0
    pitch_spread = record.byte(1, 255) if flags & 4 else 0
    gain_spread = record.byte(1, 255) if flags & 8 else 0
    steps: list[Step] = []
    while record.more():
        steps.append(
            _step(record, steps[-1].at if steps else 0, groups, fades, clips, counters, ambient)
        )
    return EffectRecord(tuple(steps), ambient, length, pitch_spread, gain_spread)


def _step(
    record: Reader,
    before: int,
    groups: tuple[GroupRecord, ...],
    fades: int,
    clips: int,
    counters: int,
    ambient: bool,
) -> Step:
    start = record.at
    head = record.byte(0, 31)
    kind = head & 3
    options = head >> 3
    if kind == 3 or options > (3, 1, 0)[kind]:
        raise BadTable(Reason.BAD_VALUE, start)
    at = before + (record.number(1, limits.FRAMES[1]) if head & 4 else 0)
    if at > limits.FRAMES[1]:
        raise BadTable(Reason.BAD_VALUE, start)
    if kind == 0:
        clip = record.index(clips)
        gain = record.number(*limits.GAIN) if options & 1 else limits.UNITY_GAIN
        return PlayClip(at, clip, gain, record.number(*limits.FRAMES) if options & 2 else None)
    if kind == 1:
        group_at = record.at
        group = record.index(len(groups))
        if ambient and groups[group].gauge is not None:
            raise BadTable(Reason.BAD_INDEX, group_at)
        fade = record.index(fades)
        return StartFade(at, group, fade, record.signed(*limits.STAGGER) if options & 1 else 0)
    return ChangeCount(at, record.index(counters), record.signed(-limits.COUNT[1], limits.COUNT[1]))


def _trigger(
    record: Reader,
    inputs: tuple[InputRecord, ...],
    selectors: tuple[SelectorRecord, ...],
    counters: int,
    effects: int,
) -> TriggerRecord:
    at = record.at
    head = record.byte(*limits.BYTE)
    if (
        head & 7 > max(Mode)
        or (head & 128 and Mode(head & 7).stays)
        or (head & 64 and not head & 32)
    ):
        raise BadTable(Reason.BAD_VALUE, at)
    mode = Mode(head & 7)
    source = record.index(len(inputs)) if mode != Mode.ALWAYS else None
    hold = record.number(1, limits.FRAMES[1]) if head & 8 else 0
    conditions = _conditions(record, selectors) if head & 16 else ()
    needs = record.index(counters) if head & 32 else None
    empty = record.index(effects) if head & 64 else None
    action = (
        _stay(record, effects) if mode.stays else _shots(record, mode, bool(head & 128), effects)
    )
    return TriggerRecord(mode, action, source, hold, conditions, needs, empty)


def _conditions(
    record: Reader, selectors: tuple[SelectorRecord, ...]
) -> tuple[tuple[int, int], ...]:
    conditions = []
    for _ in range(record.byte(1, limits.MOST_SELECTORS)):
        selector = record.index(len(selectors))
        conditions.append((selector, record.number(1, (1 << selectors[selector].positions) - 1)))
    return tuple(conditions)


def _shots(record: Reader, mode: Mode, random: bool, effects: int) -> Shots:
    period = first = limit = ramp_shots = ramp_period = 0
    burst = 1
    if mode == Mode.REPEAT:
        flags = record.byte(0, 15)
        period = record.number(*limits.PERIOD)
        first = record.number(*limits.FIRST_PERIOD) if flags & 1 else 0
        burst = record.number(2, 255) if flags & 2 else 1
        limit = record.number(burst, limits.COUNT[1]) if flags & 4 else 0
        if flags & 8:
            ramp_shots = record.byte(1, 255)
            ramp_period = record.number(*limits.PERIOD)
    choices = [record.index(effects)]
    while record.more():
        choices.append(record.index(effects))
    return Shots(tuple(choices), random, period, first, burst, limit, ramp_shots, ramp_period)


def _stay(record: Reader, effects: int) -> Stay:
    flags = record.byte(1, 7)
    begin, during, end = (record.index(effects) if flags & bit else None for bit in (1, 2, 4))
    return Stay(begin, during, end)
