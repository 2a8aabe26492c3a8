"""A second reader of the table, written from SPEC.md alone: record by record, field by field, in the
order in which they stand.

It shares no code with `fxseq.table`. `read(data)` gives the records as plain namespaces or raises
`Refused`. Numbers in the comments are those of SPEC.md.
"""

import zlib
from collections.abc import Callable
from types import SimpleNamespace as Record
from typing import TypeVar

import plain_codings

Result = TypeVar("Result")
PLAY, FADE, COUNT = range(3)  # what a step does
ONCE, REPEAT, WHILE_HELD, ON_OFF, ALWAYS = range(5)
STEP, STRAIGHT, EASE, DECAY, FLICKER = range(5)
NONE = 0xFF
HEADER_BYTES = 50
SECTIONS = {  # 3: bytes of a record, and most records
    "inputs": (2, 32),
    "selectors": (2, 16),
    "counters": (4, 16),
    "groups": (4, 64),
    "segments": (8, 4095),
    "forms": (4, 255),
    "loops": (8, 255),
    "clips": (8, 255),
    "effects": (2, 255),
    "steps": (4, 4095),
    "triggers": (8, 64),
    "terms": (4, 4095),
    "choices": (1, 4095),
    "joints": (4, 255),
}


class Refused(Exception):
    """The table is refused: `reason` of section 4, `offset` of the first fault."""

    def __init__(self, reason: str, offset: int) -> None:
        super().__init__(f"{reason} at {offset}")
        self.reason = reason
        self.offset = offset


class Fields:
    """The bytes of a table, read at an offset and checked at once."""

    def __init__(self, data: bytes) -> None:
        self.data = data

    def raw(self, at: int, size: int = 1) -> int:  # 2.2
        return int.from_bytes(self.data[at : at + size], "little")

    def value(self, at: int, size: int, least: int, most: int) -> int:
        value = self.raw(at, size)
        require(least <= value <= most, at)
        return value

    def byte(self, at: int, least: int = 0, most: int = 255) -> int:
        return self.value(at, 1, least, most)

    def half(self, at: int, least: int = 0, most: int = 65535) -> int:
        return self.value(at, 2, least, most)

    def index(self, at: int, count: int, size: int = 1) -> int:
        value = self.raw(at, size)
        require(value < count, at, "BAD_INDEX")
        return value

    def index_or_none(self, at: int, count: int) -> int | None:
        return None if self.raw(at) == NONE else self.index(at, count)


def require(holds: bool, at: int, reason: str = "BAD_VALUE") -> None:
    if not holds:
        raise Refused(reason, at)


def read(data: bytes) -> Record:
    """The whole table, checked in the order of 3 R1 and R2; raises Refused."""
    table = read_header(data)
    reader = Reader(Fields(data), table)
    table.inputs = reader.each("inputs", reader.read_input)
    table.selectors = reader.each("selectors", reader.read_selector)
    table.counters = reader.each("counters", reader.read_counter)
    table.groups = []
    reader.each("groups", reader.read_group)
    table.fades = {}
    reader.read_segments()
    table.forms = reader.each("forms", reader.read_form)
    reader.loops = reader.each("loops", reader.read_loop)
    table.clips = []
    reader.each("clips", reader.read_clip)
    reader.require_used("loops", reader.loops_used)
    steps_at = reader.each("effects", reader.read_effect)
    table.effects = reader.read_steps(steps_at)
    table.triggers = []
    reader.each("triggers", reader.read_trigger)
    reader.read_terms()
    reader.read_choices()
    table.joints = reader.each("joints", reader.read_joint)
    if table.sections_end % 2:
        require(data[table.sections_end] == 0, table.sections_end)  # R2
    return table


def check_length(data: bytes) -> None:
    """3 R1, checks 1 to 5."""
    size = len(data)
    require(size >= HEADER_BYTES + 4, size, "BAD_LENGTH")
    require(data[0:4] == bytes.fromhex("66 78 73 71"), 0, "BAD_MAGIC")
    require(data[16] == 2, 16, "BAD_VERSION")
    length = int.from_bytes(data[4:8], "little")
    require(length == size and size % 2 == 0, 4, "BAD_LENGTH")
    require(int.from_bytes(data[-4:], "little") == zlib.crc32(data[:-4]), size - 4, "BAD_CRC")


def read_header(data: bytes) -> Record:
    """3 R1; gives the fields of 3.1, and where each section begins."""
    check_length(data)
    fields = Fields(data)
    table = Record(
        seed=fields.value(8, 4, 1, 2**32 - 1),
        sample_rate=fields.half(12, 4000, 48000),
        samples_per_frame=fields.half(14, 4, 256),
        channels=fields.byte(17, 1, 255),
        pwm_bits=fields.byte(18, 8, 16),
        voices=fields.byte(19, 1, 16),
        voice_rule=fields.byte(20, 0, 2),
        light_mask=fields.byte(21, 0, 7),
        count={},
        begin={},
    )
    require(table.light_mask in (0, 1, 3, 7), 21)
    at = HEADER_BYTES
    for place, (name, (size, most)) in enumerate(SECTIONS.items()):
        table.count[name] = fields.half(22 + 2 * place, 0, most)
        table.begin[name] = at
        at += size * table.count[name]
    table.sections_end = at
    data_at = at + at % 2
    require(data_at <= min(65535, len(data) - 4), 22, "BAD_LENGTH")
    table.clip_data = data[data_at:-4]
    return table


class Reader:
    """3.2 to 3.10: a method for each section, in their order; what is read goes into `table`."""

    def __init__(self, fields: Fields, table: Record) -> None:
        self.fields = fields
        self.table = table
        self.loops: list[Record] = []
        self.loops_used = 0

    def at(self, section: str, index: int) -> int:
        return self.table.begin[section] + index * SECTIONS[section][0]

    def places(self, section: str) -> list[int]:
        return [self.at(section, index) for index in range(self.table.count[section])]

    def each(self, section: str, read_one: Callable[[int], Result]) -> list[Result]:
        return [read_one(at) for at in self.places(section)]

    def read_input(self, at: int) -> Record:  # 3.2
        value = self.fields.raw(at, 2)
        return Record(lockout=value & 0x7FFF, sense=value >> 15)

    def read_selector(self, at: int) -> Record:  # 3.3
        positions = self.fields.byte(at, 2, 16)
        return Record(positions=positions, start=self.fields.byte(at + 1, 0, positions - 1))

    def read_counter(self, at: int) -> Record:  # 3.4
        maximum = self.fields.half(at, 1)
        return Record(maximum=maximum, start=self.fields.half(at + 2, 0, maximum))

    def read_group(self, at: int) -> None:  # 3.5
        groups = self.table.groups
        end = groups[-1].first + groups[-1].channels if groups else 0
        first = self.fields.byte(at, end, self.table.channels - 1)
        groups.append(
            Record(
                first=first,
                channels=self.fields.byte(at + 1, 1, self.table.channels - first),
                latest=self.fields.byte(at + 2, 0, 1),
                gauge=self.fields.index_or_none(at + 3, self.table.count["counters"]),
            )
        )

    # 3.6

    def read_segments(self) -> None:
        row: list[Record] = []
        for index, at in enumerate(self.places("segments")):
            row.append(self.read_segment(at))
            require(sum(segment.turn for segment in row) <= 1, at + 6)  # R3
            require(row[-1].last or index + 1 < self.table.count["segments"], at + 6)
            if row[-1].last:
                self.table.fades[index - len(row) + 1] = read_fade(row)
                row = []
            else:
                require_slow(row)

    def read_segment(self, at: int) -> Record:
        head = self.fields.raw(at + 6)
        shape = head & 7
        ambient = head >> 3 & 1
        segment = Record(
            at=at,
            shape=shape,
            ambient=ambient,
            last=head >> 4 & 1,
            turn=head >> 5 & 1,
            length=self.fields.half(at, 1 if shape == FLICKER else 0),
            target=self.fields.half(at + 2, 0, 0 if ambient else 65535),
            pace=self.fields.half(at + 4),
            by=self.fields.byte(at + 7),
        )
        segment.low = segment.by * 257 if shape == FLICKER else 0
        b, pace = rate(segment)  # R1
        if shape == FLICKER:
            require(segment.pace >= 2, at + 4)
        elif shape < FLICKER:
            require(segment.pace == pace, at + 4)
        require(head < 64 and shape <= FLICKER and not (shape == FLICKER and ambient), at + 6)  # R2
        by_is_right = segment.low <= segment.target if shape == FLICKER else segment.by == b
        require(by_is_right, at + 7)
        return segment

    # 3.7

    def read_form(self, at: int) -> Record:
        step = self.fields.value(at, 3, 2, 2**18 - 1)
        return Record(step=step, coding=self.fields.byte(at + 3, 0, plain_codings.RICE))

    def read_loop(self, at: int) -> Record:
        start = self.fields.value(at, 4, 0, 2**24 - 1)
        return Record(at=at, start=start, place=self.fields.raw(at + 4, 4))

    def read_clip(self, at: int) -> None:
        samples = self.fields.value(at, 3, 1, 2**24 - 1)
        form = self.table.forms[self.fields.index(at + 3, len(self.table.forms))]
        place = self.fields.raw(at + 4, 3)
        loop = self.loop_of(at + 7)
        start = None if loop is None else loop.start
        if start is not None:
            require(samples - start >= 32, at + 7)  # R2
        size = plain_codings.clip_bytes(
            form.coding, samples, start, self.table.clip_data[place:]
        )
        data = self.table.clip_data[place : place + size]
        require(len(data) == size, at + 4, "BAD_DATA")  # R1
        if loop is not None:  # R3
            lead = 0
            if start > 0:
                lead = plain_codings.clip_bytes(
                    form.coding, start, None, self.table.clip_data[place:]
                )
            require(loop.place == place + lead, loop.at + 4, "BAD_DATA")
        if form.coding == plain_codings.IMA:  # R4
            sound = plain_codings.ima_is_sound(data, samples, start)
            require(sound, at + 4, "BAD_DATA")
        self.table.clips.append(
            Record(
                step=form.step,
                form=self.fields.raw(at + 3),
                place=place,
                loop=loop,
                samples=plain_codings.decode_clip(form.coding, data, samples, start),
                loop_start=start,
            )
        )

    def loop_of(self, at: int) -> Record | None:
        index = self.fields.raw(at)
        if index == NONE:
            return None
        require(index == self.loops_used and index < len(self.loops), at, "BAD_INDEX")
        self.loops_used += 1
        return self.loops[index]

    # 3.8

    def read_effect(self, at: int) -> int:
        """The index of its first step."""
        index = (at - self.table.begin["effects"]) // 2
        expected = 0 if index == 0 else self.behind("steps", self.fields.raw(at - 2, 2))
        step = self.fields.index(at, self.table.count["steps"], 2)
        require(step == expected, at, "BAD_INDEX")  # R1
        return step

    def behind(self, section: str, index: int) -> int:
        """The record behind a row that begins with this one."""
        while index < self.table.count[section]:
            index += 1
            if self.fields.raw(self.at(section, index - 1)) & 0x80:
                break
        return index

    def read_steps(self, firsts: list[int]) -> list[Record]:
        rows = [range(first, self.behind("steps", first)) for first in firsts]
        effects = [self.read_effect_row(row) for row in rows]
        self.require_used("steps", rows[-1].stop if rows else 0)
        return effects

    def require_used(self, section: str, used: int) -> None:  # 3 R2
        require(used == self.table.count[section], self.at(section, used))

    def read_effect_row(self, row: range) -> Record:
        effect = Record(length=0, pitch_spread=0, gain_spread=0, now=0, in_a_row=0, steps=[])
        given = 0
        for index in row:
            step = self.read_step_kind(index)
            require_step_in_row(effect, index - row.start, step)
            self.read_step_fields(effect, step)
            if step.kind == WITH:
                given = step.value
            elif step.kind >= PLAY_ONCE:
                effect.steps.append(done_by(step, effect.now, given))
                given = 0
        return effect

    def read_step_kind(self, index: int) -> Record:  # R2
        at = self.at("steps", index)
        head = self.fields.raw(at)
        kind = head & 0x0F
        step = Record(at=at, kind=kind, last=head >> 7)
        step.behind = self.fields.raw(at + 4) & 0x0F
        require(not head & 0x70 and kind <= TAKE, at)
        require(step.last or index + 1 < self.table.count["steps"], at)
        require(not (step.last and kind in (WAIT, WITH)), at)
        if kind == WITH:
            require(step.behind in (PLAY_LOOPED, FADE_EFFECT, FADE_AMBIENT), at)
        return step

    def read_step_fields(self, effect: Record, step: Record) -> None:
        kind = step.kind
        count = self.table.count
        if kind in (LENGTH, WAIT, WITH):
            step.what = self.fields.byte(step.at + 1, 0, 0)
        elif kind == SPREAD:
            step.what = self.fields.byte(step.at + 1)
        else:
            of = "clips" if kind <= PLAY_LOOPED else "groups" if kind <= FADE_AMBIENT else "counters"
            step.what = self.fields.index(step.at + 1, count[of])
        if kind == FADE_AMBIENT:  # R4
            gauge = self.table.groups[step.what].gauge
            require(gauge is None, step.at + 1, "BAD_INDEX")
        least, most = STEP_VALUES.get(kind, (0, 65535))
        if kind in (FADE_EFFECT, FADE_AMBIENT):
            step.value = self.fields.raw(step.at + 2, 2)
            require(step.value in self.table.fades, step.at + 2, "BAD_INDEX")
        else:
            step.value = self.fields.half(step.at + 2, least, most)
        require_value(effect, step)

    # 3.9

    def read_trigger(self, at: int) -> None:
        head = self.fields.raw(at)
        mode = head & 7
        require(mode <= RANDOM_REPEAT, at)
        input_ = head >> 3
        if mode == ALWAYS:
            require(input_ == 0, at)
        else:
            require(input_ < self.table.count["inputs"], at, "BAD_INDEX")
        stays = mode in (WHILE_HELD, ON_OFF, ALWAYS)
        trigger = Record(
            mode=mode % RANDOM_ONCE,
            random=mode >= RANDOM_ONCE,
            input=None if mode == ALWAYS else input_,
            choices=self.fields.byte(at + 1, 1, 3 if stays else 255),
            hold=self.fields.raw(at + 2, 2),
            choice=self.fields.raw(at + 4, 2),
            conditions=[],
            needs=None,
            empty=None,
            period=0,
            first=0,
            burst=1,
            limit=0,
            ramp_period=0,
            ramp_shots=0,
        )
        before = self.table.triggers
        expected = before[-1].choice + before[-1].choices if before else 0
        within = trigger.choice + trigger.choices <= self.table.count["choices"]
        require(trigger.choice == expected and within, at + 4, "BAD_INDEX")  # R1
        trigger.term = self.term_of(at + 6)
        require(trigger.term is not None or trigger.mode != REPEAT, at + 6)  # R2
        before.append(trigger)

    def term_of(self, at: int) -> int | None:
        term = self.fields.raw(at, 2)
        if term == 0xFFFF:
            return None
        named = [t.term for t in self.table.triggers if t.term is not None]
        expected = self.behind("terms", named[-1]) if named else 0
        within = term < self.table.count["terms"]
        require(term == expected and within, at, "BAD_INDEX")  # R1
        return term

    def read_terms(self) -> None:
        used = 0
        for trigger in self.table.triggers:
            if trigger.term is not None:
                used = self.behind("terms", trigger.term)
                self.read_term_row(range(trigger.term, used), trigger)
        self.require_used("terms", used)

    def read_term_row(self, row: range, trigger: Record) -> None:
        given: dict[int, int] = {}  # value of each kind
        last_kind = 0
        for index in row:
            at = self.at("terms", index)
            head = self.fields.raw(at)
            kind = head & 0x0F
            require(not head & 0x70 and kind <= RAMP_SHOTS, at)
            require(kind >= last_kind and kind not in given, at)  # R2
            require(kind != EMPTY or NEEDS in given, at)
            require(kind < PERIOD or trigger.mode == REPEAT, at)
            require(kind != RAMP_SHOTS or RAMP_PERIOD in given, at)
            require(kind != CONDITION or len(trigger.conditions) < 16, at)
            require(index + 1 < row.stop or head >> 7, at)  # the last of the table
            last_kind = kind
            what, value = self.read_term(at, kind, given)
            if kind == CONDITION:
                trigger.conditions.append((what, value))
            else:
                given[kind] = what if kind in (NEEDS, EMPTY) else value
        require(trigger.mode != REPEAT or PERIOD in given, at)
        require(RAMP_PERIOD not in given or RAMP_SHOTS in given, at)
        for kind, value in given.items():
            setattr(trigger, TERM_NAMES[kind], value)

    def read_term(self, at: int, kind: int, given: dict[int, int]) -> tuple[int, int]:
        if kind in (PERIOD, FIRST, RAMP_PERIOD):
            least, most = (1, 2**24 - 1) if kind == FIRST else (256, 2**23 - 1)
            value = self.fields.raw(at + 2, 2) + 65536 * self.fields.raw(at + 1)
            require(least <= value <= most, at + 1)
            return 0, value
        if kind == CONDITION:
            what = self.fields.index(at + 1, len(self.table.selectors))
            most = 2 ** self.table.selectors[what].positions - 1
            return what, self.fields.half(at + 2, 1, most)
        if kind in (NEEDS, EMPTY):
            of = "counters" if kind == NEEDS else "effects"
            what = self.fields.index(at + 1, self.table.count[of])
            return what, self.fields.half(at + 2, 0, 0)
        what = self.fields.byte(at + 1, 0, 0)
        least, most = {
            BURST: (2, 255),
            LIMIT: (given.get(BURST, 1), 65535),
            RAMP_SHOTS: (1, 255),
        }[kind]
        return what, self.fields.half(at + 2, least, most)

    def read_choices(self) -> None:
        places = iter(self.places("choices"))
        effects = self.table.count["effects"]
        for trigger in self.table.triggers:
            row = [next(places) for _ in range(trigger.choices)]
            if trigger.mode in (ONCE, REPEAT):
                trigger.effects = [self.fields.index(at, effects) for at in row]
            else:
                chosen = [self.fields.index_or_none(at, effects) for at in row[:-1]]
                chosen.append(self.fields.index(row[-1], effects))  # R3
                chosen += [None] * (3 - len(chosen))
                trigger.begin, trigger.during, trigger.end = chosen
        for at in places:
            require(False, at)  # 3 R2: belongs to nothing

    def read_joint(self, at: int) -> Record:  # 3.10
        joint = Record(use=self.fields.byte(at, 0, 11), pin=self.fields.raw(at + 2))
        least, most = 0, 0
        if joint.use <= 2:
            channels = self.table.channels
            joint.what = self.fields.byte(at + 1, 0, channels - 1)
            least, most = 1, channels - joint.what
        elif joint.use <= 4:
            joint.what = self.fields.index(at + 1, self.table.count["inputs"])
            least, most = (0, 0) if joint.use == 3 else (1, 255)
        elif joint.use <= 6:
            joint.what = self.fields.index(at + 1, self.table.count["selectors"])
            last = self.table.selectors[joint.what].positions - 1
            least, most = (0, last) if joint.use == 5 else (1, 4)
        else:
            joint.what = self.fields.byte(at + 1, 0, 0)
        joint.value = self.fields.byte(at + 3, least, most)
        return joint


def rate(segment: Record) -> tuple[int, int]:  # 3.6 R1
    """`by` and pace of what does not flicker."""
    if segment.shape == STEP or segment.length == 0:
        return 0, 0
    b = segment.length.bit_length() - 1
    return b, 2 ** (15 + b) // segment.length


def require_slow(row: list[Record]) -> None:  # 3.6 R4
    if len(row) >= 16:
        require(sum(segment.length for segment in row[-16:]) >= 8, row[-1].at + 6)


def read_fade(row: list[Record]) -> Record:  # 3.6 R3
    turns = [place for place, segment in enumerate(row) if segment.turn]
    turn = turns[0] if turns else None
    at = row[-1].at + 6
    require(turn is None or any(segment.length for segment in row[turn:]), at)
    require_slow(row)
    if turn is not None:
        for begin in range(len(row)):  # R4, round the end
            played = [*row[begin:], *(row[turn:] * 16)][:16]
            require(sum(segment.length for segment in played) >= 8, at)
    return Record(segments=row, turn=turn)


LENGTH, SPREAD, WAIT, WITH, PLAY_ONCE, PLAY_LOOPED, FADE_EFFECT, FADE_AMBIENT, ADD, TAKE = range(10)
STEP_VALUES = {SPREAD: (0, 255), WAIT: (1, 65535), PLAY_ONCE: (0, 32767), PLAY_LOOPED: (0, 32767),
               ADD: (1, 65535)}  # fmt: skip
(CONDITION, NEEDS, EMPTY, PERIOD, FIRST, BURST, LIMIT, RAMP_PERIOD, RAMP_SHOTS) = range(9)
TERM_NAMES = {
    NEEDS: "needs",
    EMPTY: "empty",
    PERIOD: "period",
    FIRST: "first",
    BURST: "burst",
    LIMIT: "limit",
    RAMP_PERIOD: "ramp_period",
    RAMP_SHOTS: "ramp_shots",
}
RANDOM_ONCE, RANDOM_REPEAT = 5, 6


def require_step_in_row(effect: Record, place: int, step: Record) -> None:  # 3.8 R2
    """place: of the step within its effect."""
    effect.in_a_row = 0 if step.kind == WAIT else effect.in_a_row + 1
    require(effect.in_a_row <= 32, step.at)
    require(step.kind != LENGTH or place == 0, step.at)
    behind_length = place == 1 and effect.length > 0
    require(step.kind != SPREAD or place == 0 or behind_length, step.at)


def require_value(effect: Record, step: Record) -> None:  # 3.8 R3
    """What an effect has of its length, spread and waits is set."""
    at = step.at + 2
    if step.kind == LENGTH:
        require(step.value > 0 or step.last, at)
        effect.length = step.value
    elif step.kind == SPREAD:
        require(step.what > 0 or step.value > 0, at)
        effect.pitch_spread = step.what
        effect.gain_spread = step.value
    elif step.kind == WAIT:
        effect.now += step.value
        require(effect.now <= 65535, at)
    elif step.kind == WITH:
        require(step.value >= (2 if step.behind == PLAY_LOOPED else 1), at)


def done_by(step: Record, at: int, given: int) -> Record:
    """given: value of the `with` before it, or 0."""
    if step.kind in (PLAY_ONCE, PLAY_LOOPED):
        return Record(
            kind=PLAY,
            at=at,
            clip=step.what,
            gain=step.value,
            looped=step.kind == PLAY_LOOPED,
            release=given or 1,
        )
    if step.kind in (FADE_EFFECT, FADE_AMBIENT):
        return Record(
            kind=FADE,
            at=at,
            group=step.what,
            fade=step.value,
            ambient=step.kind == FADE_AMBIENT,
            stagger=given - 65536 if given >= 32768 else given,
        )
    change = step.value if step.kind == ADD else -step.value
    return Record(kind=COUNT, at=at, counter=step.what, change=change)
