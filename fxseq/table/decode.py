"""Bytes to table, with every check that makes a table sound (SPEC sections 3 and 4).

One pass from the first byte to the last: every reader of the same bytes reports the same reason at
the same offset.
"""

import zlib
from collections.abc import Callable, Iterator
from typing import TypeVar

from fxseq.clips import byte_count, sound
from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape, pace_of
from fxseq.table import limits
from fxseq.table.encode import LAST, NO_TERM, RANDOM_MODES, SegmentFlag, StepKind, TermKind
from fxseq.table.errors import BadTable, Reason
from fxseq.table.reader import Record
from fxseq.table.records import (
    ChangeCount,
    ClipRecord,
    Coding,
    CounterRecord,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    JointRecord,
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
    Use,
    VoiceRule,
)

Read = TypeVar("Read")

_LOW_24 = 0xFFFFFF
_KIND = 15
_UNUSED_BITS = 0x70


def decode(data: bytes) -> Table:
    """The table that the bytes hold. Raises BadTable with the first fault met."""
    return _Decoder(data).table()


def _check_header(data: bytes) -> None:
    """What every player refuses, but for the fields (SPEC 3 R1.1 to 5)."""
    header = Record(data, 0)
    end = len(data) - limits.CRC_BYTES
    if len(data) < limits.SMALLEST_TABLE:
        raise BadTable(Reason.BAD_LENGTH, len(data))
    header.require(data[:4] == limits.MAGIC, 0, Reason.BAD_MAGIC)
    header.require(header.raw(16, 1) == limits.VERSION, 16, Reason.BAD_VERSION)
    is_long = header.raw(4, 4) == len(data) and len(data) % 2 == 0
    header.require(is_long, 4, Reason.BAD_LENGTH)
    header.require(zlib.crc32(data[:end]) == header.raw(end, 4), end, Reason.BAD_CRC)


class _Decoder:
    """Bytes under examination: where each section begins, and what has been read of them."""

    def __init__(self, data: bytes) -> None:
        _check_header(data)
        self._data = data
        self._header = Record(data, 0)
        self._board = self._read_board()
        self._count: dict[str, int] = {}
        self._begin: dict[str, int] = {}
        self._size = {name: size for name, size, _ in limits.SECTIONS}
        at = limits.HEADER_BYTES
        for number, (name, size, most) in enumerate(limits.SECTIONS):
            self._count[name] = self._header.half(22 + 2 * number, 0, most)
            self._begin[name] = at
            at += self._count[name] * size
        self._filled = at
        self._clip_data = at + at % 2
        self._clips_end = 0
        self._end = len(data) - limits.CRC_BYTES
        fits = self._clip_data <= min(self._end, limits.RECORDS_END)
        self._header.require(fits, 22, Reason.BAD_LENGTH)

    def table(self) -> Table:
        inputs = self._each("inputs", _input)
        selectors = self._each("selectors", _selector)
        counters = self._each("counters", _counter)
        groups = tuple(self._groups())
        fades = tuple(self._fades())
        forms = self._each("forms", _form)
        loops = self._each("loops", _loop)
        clips = tuple(self._clips(forms, loops))
        effects = _Effects(self, groups, fades).read()
        triggers = _Triggers(self, selectors).read()
        joints = tuple(self._joint(record, selectors) for record in self.records("joints"))
        for at in range(self._filled, self._clip_data):
            Record(self._data, at).byte(0, 0, 0)
        return Table(
            **self._board,
            inputs=inputs,
            selectors=selectors,
            counters=counters,
            groups=groups,
            fades=fades,
            clips=clips,
            effects=effects,
            triggers=triggers,
            joints=joints,
            names=self._names(),
        )

    def count(self, section: str) -> int:
        """How many records a section has."""
        return self._count[section]

    def record(self, section: str, index: int) -> Record:
        """A record of a section."""
        return Record(self._data, self._begin[section] + index * self._size[section])

    def records(self, section: str) -> Iterator[Record]:
        """All records of a section."""
        return (self.record(section, index) for index in range(self._count[section]))

    def row_end(self, section: str, first: int) -> int:
        """Where the row of steps or terms ends that begins with `first`; at the latest behind
        the last one.
        """
        for index in range(first, self._count[section]):
            if self.record(section, index).raw(0, 1) & LAST:
                return index + 1
        return max(first, self._count[section])

    def require_used(self, section: str, used: int) -> None:
        """Refuse records that belong to nothing."""
        if used < self._count[section]:
            raise BadTable(Reason.BAD_VALUE, self.record(section, used).at)

    def _read_board(self) -> dict[str, int]:
        header = self._header
        return {
            "seed": header.word(8, *limits.SEED),
            "sample_rate_hz": header.half(12, *limits.SAMPLE_RATE_HZ),
            "samples_per_frame": header.half(14, *limits.SAMPLES_PER_FRAME),
            "channels": header.byte(17, *limits.CHANNELS),
            "pwm_bits": header.byte(18, *limits.PWM_BITS),
            "voices": header.byte(19, *limits.VOICES),
            "voice_rule": VoiceRule(header.byte(20, 0, max(VoiceRule))),
            "light_mask": header.one_of(21, limits.LIGHT_MASKS),
        }

    def _each(self, section: str, read: Callable[[Record], Read]) -> tuple[Read, ...]:
        return tuple(read(record) for record in self.records(section))

    def _groups(self) -> Iterator[GroupRecord]:
        free = 0
        channels = self._board["channels"]
        for record in self.records("groups"):
            first = record.byte(0, free, channels - 1)
            count = record.byte(1, 1, channels - first)
            merge = Merge(record.byte(2, 0, 1))
            free = first + count
            yield GroupRecord(first, count, merge, record.index_or_none(3, self.count("counters")))

    def _fades(self) -> Iterator[FadeCurve]:
        segments: list[FadeSegment] = []
        turn: int | None = None
        for place, record in enumerate(self.records("segments"), 1):
            segment, flags = _segment(record)
            is_last = bool(flags & SegmentFlag.LAST)
            turns = bool(flags & SegmentFlag.TURN)
            record.require(not (turns and turn is not None), 6)
            if turns:
                turn = len(segments)
            segments.append(segment)
            record.require(is_last or place < self.count("segments"), 6)
            if is_last:
                round_frames = sum(item.length for item in segments[turn:])
                record.require(turn is None or round_frames > 0, 6)
            record.require(_lasts(segments, turn if is_last else None), 6)
            if is_last:
                yield FadeCurve(tuple(segments), turn)
                segments = []
                turn = None

    def _clips(
        self, forms: tuple[tuple[int, Coding], ...], loops: tuple[tuple[int, int], ...]
    ) -> Iterator[ClipRecord]:
        used = 0
        data = self._data[self._clip_data : self._end]
        for record in self.records("clips"):
            samples = record.checked(0, record.raw(0, 4) & _LOW_24, *limits.CLIP_SAMPLES)
            step, coding = forms[record.index(3, len(forms))]
            place = record.raw(4, 4) & _LOW_24
            start = None
            if record.raw(7, 1) != 0xFF:
                is_next = record.raw(7, 1) == used and used < len(loops)
                record.require(is_next, 7, Reason.BAD_INDEX)
                start, loop_place = loops[used]
                used += 1
                record.require(start + limits.SHORTEST_LOOP <= samples, 7)
            clip = memoryview(data)[place:]
            end = place + byte_count(coding.text, samples, start, clip)
            record.require(end <= len(data), 4, Reason.BAD_DATA)
            self._clips_end = max(self._clips_end, end)
            if start is not None:
                second = place + (byte_count(coding.text, start, None, clip) if start else 0)
                loop = self.record("loops", used - 1)
                loop.require(loop_place == second, 4, Reason.BAD_DATA)
            is_sound = sound(data[place:end], coding.text, samples, start)
            record.require(is_sound, 4, Reason.BAD_DATA)
            yield ClipRecord(coding, step, samples, data[place:end], start)
        self.require_used("loops", used)

    def _names(self) -> bytes:
        """What stands behind the last byte of a clip, where that is names."""
        at = self._clip_data + self._clips_end + self._clips_end % 2
        data = self._data[at : self._end]
        is_names = data.startswith(limits.NAMES_MAGIC)
        return data.removeprefix(limits.NAMES_MAGIC) if is_names else b""

    def _joint(self, record: Record, selectors: tuple[SelectorRecord, ...]) -> JointRecord:
        use = Use(record.byte(0, 0, max(Use)))
        match use:
            case Use.LIGHTS | Use.SHIFT_REGISTERS | Use.DRIVERS:
                channels = self._board["channels"]
                what = record.byte(1, 0, channels - 1)
                value = record.byte(3, 1, channels - what)
            case Use.CONTACT | Use.CELLS:
                what = record.index(1, self.count("inputs"))
                value = record.byte(3, *((0, 0) if use == Use.CONTACT else (1, 255)))
            case Use.POSITION | Use.CODED:
                what = record.index(1, len(selectors))
                positions = (0, selectors[what].positions - 1)
                value = record.byte(3, *(positions if use == Use.POSITION else limits.CODED_BITS))
            case _:
                what = record.byte(1, 0, 0)
                value = record.byte(3, 0, 0)
        return JointRecord(use, what, record.raw(2, 1), value)


def _lasts(segments: list[FadeSegment], turn: int | None) -> bool:
    """Whether the segments in a row that end with the last of these take frames enough; also
    those round the end, if that is known.
    """
    most = limits.SEGMENTS_IN_A_ROW
    row = list(segments)
    if turn is not None:
        row += segments[turn:] * most
    return all(
        sum(item.length for item in row[begin : begin + most]) >= limits.FRAMES_OF_A_ROW
        for begin in range(max(len(segments) - most, 0), len(row) - most + 1)
    )


def _input(record: Record) -> InputRecord:
    value = record.half(0)
    return InputRecord(InputKind(value >> 15), value & limits.LOCKOUT[1])


def _selector(record: Record) -> SelectorRecord:
    positions = record.byte(0, *limits.POSITIONS)
    return SelectorRecord(positions, record.byte(1, 0, positions - 1))


def _counter(record: Record) -> CounterRecord:
    maximum = record.half(0, 1, limits.COUNT[1])
    return CounterRecord(maximum, record.half(2, 0, maximum))


def _segment(record: Record) -> tuple[FadeSegment, int]:
    """A segment, and the bits of its shape."""
    head = record.raw(6, 1)
    shape = head & 7
    to_ambient = bool(head & SegmentFlag.TO_AMBIENT)
    flickers = shape == Shape.FLICKER
    length = record.half(0, int(flickers), limits.FRAMES[1])
    target = record.half(2, 0, 0 if to_ambient else limits.LEVEL[1])
    if flickers:
        pace = record.half(4, *limits.FLICKER_PACE)
    else:
        pace = record.raw(4, 2)
        record.require(shape > max(Shape) or pace == pace_of(Shape(shape), length)[0], 4)
    record.require(shape <= max(Shape) and head < 64 and not (flickers and to_ambient), 6)
    if not flickers:
        record.require(record.raw(7, 1) == pace_of(Shape(shape), length)[1], 7)
        return FadeSegment(Shape(shape), length, AMBIENT if to_ambient else target), head
    low = record.checked(7, record.raw(7, 1) * limits.LOW_UNIT, 0, target)
    return FadeSegment(Shape.FLICKER, length, target, low, pace), head


def _form(record: Record) -> tuple[int, Coding]:
    """Step and coding."""
    step = record.checked(0, record.raw(0, 4) & _LOW_24, *limits.CLIP_STEP)
    return step, Coding(record.byte(3, 0, max(Coding)))


def _loop(record: Record) -> tuple[int, int]:
    """Start and place."""
    return record.word(0, 0, _LOW_24), record.word(4)


class _Effects:
    """Reads effects and their steps."""

    def __init__(
        self, decoder: _Decoder, groups: tuple[GroupRecord, ...], fades: tuple[FadeCurve, ...]
    ) -> None:
        self._decoder = decoder
        self._groups = groups
        self._fade_at = {place: index for index, place in enumerate(_fade_places(fades))}

    def read(self) -> tuple[EffectRecord, ...]:
        rows = []
        behind = 0
        for record in self._decoder.records("effects"):
            first = record.raw(0, 2)
            is_next = first == behind < self._decoder.count("steps")
            record.require(is_next, 0, Reason.BAD_INDEX)
            behind = self._decoder.row_end("steps", first)
            rows.append(range(first, behind))
        effects = tuple(self._effect(row) for row in rows)
        self._decoder.require_used("steps", behind)
        return effects

    def _effect(self, row: range) -> EffectRecord:
        steps: list[Step] = []
        now = length = pitch_spread = gain_spread = in_a_row = 0
        before = -1
        for index in row:
            record = self._decoder.record("steps", index)
            kind = self._kind(record, row, index, before)
            in_a_row = 0 if kind == StepKind.WAIT else in_a_row + 1
            record.require(in_a_row <= limits.STEPS_IN_A_ROW, 0)
            what = self._what(record, kind)
            value = self._value(record, kind, row, index)
            if kind == StepKind.LENGTH:
                length = value
            elif kind == StepKind.SPREAD:
                pitch_spread, gain_spread = what, value
            elif kind == StepKind.WAIT:
                now += value
                record.require(now <= limits.FRAMES[1], 2)
            elif kind != StepKind.WITH:
                operand = None
                if before == StepKind.WITH:
                    operand = self._decoder.record("steps", index - 1).raw(2, 2)
                steps.append(self._step(kind, now, what, value, operand))
            before = kind
        return EffectRecord(tuple(steps), length, pitch_spread, gain_spread)

    def _kind(self, record: Record, row: range, index: int, before: int) -> StepKind:
        head = record.raw(0, 1)
        kind = head & _KIND
        record.require(not head & _UNUSED_BITS and kind <= max(StepKind), 0)
        is_last = index == row[-1]
        if is_last:
            record.require(bool(head & LAST) and kind not in (StepKind.WAIT, StepKind.WITH), 0)
        if kind == StepKind.LENGTH:
            record.require(before < 0, 0)
        if kind == StepKind.SPREAD:
            record.require(before in (-1, StepKind.LENGTH), 0)
        if kind == StepKind.WITH:
            following = self._decoder.record("steps", index + 1).raw(0, 1) & _KIND
            takes = (StepKind.PLAY_LOOPED, StepKind.FADE, StepKind.FADE_AMBIENT)
            record.require(following in takes, 0)
        return StepKind(kind)

    def _what(self, record: Record, kind: StepKind) -> int:
        if kind == StepKind.SPREAD:
            return record.byte(1)
        if kind in (StepKind.PLAY, StepKind.PLAY_LOOPED):
            return record.index(1, self._decoder.count("clips"))
        if kind in (StepKind.ADD, StepKind.TAKE):
            return record.index(1, self._decoder.count("counters"))
        if kind not in (StepKind.FADE, StepKind.FADE_AMBIENT):
            return record.byte(1, 0, 0)
        group = record.index(1, len(self._groups))
        takes = kind == StepKind.FADE or self._groups[group].gauge is None
        record.require(takes, 1, Reason.BAD_INDEX)
        return group

    def _value(self, record: Record, kind: StepKind, row: range, index: int) -> int:
        if kind == StepKind.LENGTH:
            return record.half(2, int(len(row) > 1))
        if kind == StepKind.SPREAD:
            return record.half(2, int(record.raw(1, 1) == 0), 255)
        if kind in (StepKind.PLAY, StepKind.PLAY_LOOPED):
            return record.half(2, *limits.GAIN)
        if kind in (StepKind.WAIT, StepKind.ADD):
            return record.half(2, 1)
        if kind == StepKind.WITH:
            following = self._decoder.record("steps", index + 1).raw(0, 1) & _KIND
            return record.half(2, 2 if following == StepKind.PLAY_LOOPED else 1)
        value = record.half(2)
        if kind in (StepKind.FADE, StepKind.FADE_AMBIENT):
            record.require(value in self._fade_at, 2, Reason.BAD_INDEX)
            return self._fade_at[value]
        return value

    def _step(self, kind: StepKind, at: int, what: int, value: int, operand: int | None) -> Step:
        if kind == StepKind.PLAY:
            return PlayClip(at, what, value)
        if kind == StepKind.PLAY_LOOPED:
            return PlayClip(at, what, value, limits.RELEASE[0] if operand is None else operand)
        if kind in (StepKind.ADD, StepKind.TAKE):
            return ChangeCount(at, what, value if kind == StepKind.ADD else -value)
        stagger = operand or 0
        if stagger > limits.STAGGER[1]:
            stagger -= 65536
        return StartFade(at, what, value, stagger, kind == StepKind.FADE_AMBIENT)


def _fade_places(fades: tuple[FadeCurve, ...]) -> Iterator[int]:
    place = 0
    for fade in fades:
        yield place
        place += len(fade.segments)


class _Triggers:
    """Reads triggers, their terms and their choices."""

    def __init__(self, decoder: _Decoder, selectors: tuple[SelectorRecord, ...]) -> None:
        self._decoder = decoder
        self._selectors = selectors

    def read(self) -> tuple[TriggerRecord, ...]:
        heads = []
        choice = term = 0
        for record in self._decoder.records("triggers"):
            mode, random = self._mode(record)
            choices = record.byte(1, 1, 3 if mode.stays else limits.MOST_CHOICES)
            has_choices = record.raw(4, 2) == choice
            fits = choice + choices <= self._decoder.count("choices")
            record.require(has_choices and fits, 4, Reason.BAD_INDEX)
            row = self._row(record, mode, term)
            heads.append((record, mode, random, range(choice, choice + choices), row))
            choice += choices
            term = max(term, row.stop)
        terms = [self._terms(mode, row) for _, mode, _, _, row in heads]
        self._decoder.require_used("terms", term)
        triggers = tuple(
            self._trigger(head, found) for head, found in zip(heads, terms, strict=True)
        )
        self._decoder.require_used("choices", choice)
        return triggers

    def _mode(self, record: Record) -> tuple[Mode, bool]:
        head = record.raw(0, 1)
        number = head & 7
        record.require(number <= RANDOM_MODES + Mode.REPEAT, 0)
        random = number >= RANDOM_MODES
        mode = Mode(number - RANDOM_MODES if random else number)
        if mode == Mode.ALWAYS:
            record.require(head >> 3 == 0, 0)
        else:
            record.require(head >> 3 < self._decoder.count("inputs"), 0, Reason.BAD_INDEX)
        return mode, random

    def _row(self, record: Record, mode: Mode, behind: int) -> range:
        """Its terms: those behind those of the triggers before, if it has any."""
        term = record.raw(6, 2)
        if term == NO_TERM:
            record.require(mode != Mode.REPEAT, 6)
            return range(0)
        is_next = term == behind < self._decoder.count("terms")
        record.require(is_next, 6, Reason.BAD_INDEX)
        return range(term, self._decoder.row_end("terms", term))

    def _terms(
        self, mode: Mode, row: range
    ) -> tuple[dict[TermKind, int], tuple[tuple[int, int], ...]]:
        values: dict[TermKind, int] = {}
        conditions: list[tuple[int, int]] = []
        before = -1
        for index in row:
            record = self._decoder.record("terms", index)
            kind = self._term_kind(record, mode, before, values)
            is_last = index == row[-1]
            record.require(not is_last or bool(record.raw(0, 1) & LAST), 0)
            if kind == TermKind.CONDITION:
                record.require(len(conditions) < limits.MOST_CONDITIONS, 0)
                conditions.append(self._condition(record))
            else:
                values[kind] = self._term_value(record, kind, values)
            before = kind
        whole = mode != Mode.REPEAT or TermKind.PERIOD in values
        whole = whole and (TermKind.RAMP_PERIOD in values) == (TermKind.RAMP_SHOTS in values)
        if row:
            self._decoder.record("terms", row[-1]).require(whole, 0)
        return values, tuple(conditions)

    def _term_kind(
        self, record: Record, mode: Mode, before: int, values: dict[TermKind, int]
    ) -> TermKind:
        head = record.raw(0, 1)
        kind = head & _KIND
        record.require(not head & _UNUSED_BITS and kind <= max(TermKind), 0)
        again = kind == TermKind.CONDITION == before
        record.require(kind > before or again, 0)
        record.require(kind < TermKind.PERIOD or mode == Mode.REPEAT, 0)
        needed = {TermKind.EMPTY: TermKind.NEEDS, TermKind.RAMP_SHOTS: TermKind.RAMP_PERIOD}
        if kind in needed:
            record.require(needed[TermKind(kind)] in values, 0)
        return TermKind(kind)

    def _condition(self, record: Record) -> tuple[int, int]:
        selector = record.index(1, len(self._selectors))
        return selector, record.half(2, 1, (1 << self._selectors[selector].positions) - 1)

    def _term_value(self, record: Record, kind: TermKind, values: dict[TermKind, int]) -> int:
        if kind in (TermKind.NEEDS, TermKind.EMPTY):
            section = "counters" if kind == TermKind.NEEDS else "effects"
            what = record.index(1, self._decoder.count(section))
            record.half(2, 0, 0)
            return what
        low, high = {
            TermKind.PERIOD: limits.PERIOD,
            TermKind.FIRST: limits.FIRST_PERIOD,
            TermKind.BURST: (2, 255),
            TermKind.LIMIT: (values.get(TermKind.BURST, 1), limits.COUNT[1]),
            TermKind.RAMP_PERIOD: limits.PERIOD,
            TermKind.RAMP_SHOTS: (1, 255),
        }[kind]
        if high <= limits.COUNT[1]:
            record.byte(1, 0, 0)
            return record.half(2, low, high)
        return record.checked(1, record.raw(1, 1) << 16 | record.raw(2, 2), low, high)

    def _trigger(
        self,
        head: tuple[Record, Mode, bool, range, range],
        terms: tuple[dict[TermKind, int], tuple[tuple[int, int], ...]],
    ) -> TriggerRecord:
        record, mode, random, row, _ = head
        values, conditions = terms
        return TriggerRecord(
            mode,
            self._stay(row) if mode.stays else self._shots(random, row, values),
            None if mode == Mode.ALWAYS else record.raw(0, 1) >> 3,
            record.raw(2, 2),
            conditions,
            values.get(TermKind.NEEDS),
            values.get(TermKind.EMPTY),
        )

    def _shots(self, random: bool, row: range, values: dict[TermKind, int]) -> Shots:
        effects = self._decoder.count("effects")
        return Shots(
            tuple(self._decoder.record("choices", index).index(0, effects) for index in row),
            random,
            values.get(TermKind.PERIOD, 0),
            values.get(TermKind.FIRST, 0),
            values.get(TermKind.BURST, 1),
            values.get(TermKind.LIMIT, 0),
            values.get(TermKind.RAMP_SHOTS, 0),
            values.get(TermKind.RAMP_PERIOD, 0),
        )

    def _stay(self, row: range) -> Stay:
        effects = self._decoder.count("effects")
        records = [self._decoder.record("choices", index) for index in row]
        found = [record.index_or_none(0, effects) for record in records[:-1]]
        found.append(records[-1].index(0, effects))
        return Stay(*found)
