"""Table to bytes (SPEC section 3). Deterministic: the same table gives the same bytes
everywhere.
"""

import zlib
from collections.abc import Iterable, Sequence
from enum import IntEnum

from fxseq.clips import byte_count
from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape, pace_of
from fxseq.table import limits
from fxseq.table.records import (
    ChangeCount,
    ClipRecord,
    EffectRecord,
    InputRecord,
    PlayClip,
    Shots,
    StartFade,
    Step,
    Table,
    TriggerRecord,
)

NONE = 0xFF
NO_TERM = 0xFFFF
LAST = 0x80
RANDOM_MODES = 5
"""What is added to a mode whose effects are chosen at random."""


class SegmentFlag(IntEnum):
    """Bits of a segment's shape."""

    TO_AMBIENT = 8
    LAST = 16
    TURN = 32


class StepKind(IntEnum):
    """Kinds of steps (SPEC 3.8)."""

    LENGTH = 0
    SPREAD = 1
    WAIT = 2
    WITH = 3
    PLAY = 4
    PLAY_LOOPED = 5
    FADE = 6
    FADE_AMBIENT = 7
    ADD = 8
    TAKE = 9


class TermKind(IntEnum):
    """Kinds of terms (SPEC 3.9)."""

    CONDITION = 0
    NEEDS = 1
    EMPTY = 2
    PERIOD = 3
    FIRST = 4
    BURST = 5
    LIMIT = 6
    RAMP_PERIOD = 7
    RAMP_SHOTS = 8


def encode(table: Table) -> bytes:
    """The bytes of a table whose values are within the ranges of SPEC section 3."""
    data, places = _lay_out(table.clips)
    data += limits.NAMES_MAGIC + table.names if table.names else b""
    sections = _sections(table, places)
    records = b"".join(b"".join(section) for section in sections)
    records += bytes(len(records) % 2)
    length = limits.HEADER_BYTES + len(records) + len(data) + limits.CRC_BYTES
    body = _header(table, length, [len(section) for section in sections]) + records + data
    return body + _word(zlib.crc32(body))


def record_counts(table: Table) -> dict[str, int]:
    """How many records each section has."""
    sections = _sections(table, [0] * len(table.clips))
    return {
        name: len(section)
        for (name, _, _), section in zip(limits.SECTIONS, sections, strict=True)
    }


def _half(value: int) -> bytes:
    return value.to_bytes(2, "little")


def _word(value: int) -> bytes:
    return value.to_bytes(4, "little")


def _or_none(index: int | None) -> int:
    return NONE if index is None else index


def _lay_out(clips: Iterable[ClipRecord]) -> tuple[bytes, list[int]]:
    """Clip data one after the other, equal data once, and the place of each clip's data."""
    data = bytearray()
    known: dict[bytes, int] = {}
    places = []
    for clip in clips:
        if clip.data not in known:
            known[clip.data] = len(data)
            data += clip.data
        places.append(known[clip.data])
    return bytes(data) + bytes(len(data) % 2), places


def _header(table: Table, length: int, counts: Iterable[int]) -> bytes:
    return (
        limits.MAGIC
        + _word(length)
        + _word(table.seed)
        + _half(table.sample_rate_hz)
        + _half(table.samples_per_frame)
        + bytes([limits.VERSION, table.channels, table.pwm_bits, table.voices])
        + bytes([table.voice_rule, table.light_mask])
        + b"".join(_half(count) for count in counts)
    )


def _sections(table: Table, places: Sequence[int]) -> list[list[bytes]]:
    forms = sorted({_form(clip) for clip in table.clips})
    looped = [
        (clip, place)
        for clip, place in zip(table.clips, places, strict=True)
        if clip.loop_start is not None
    ]
    effects = [_steps(effect, table.fade_places) for effect in table.effects]
    terms = [_terms(trigger) for trigger in table.triggers]
    choices = [_choices(trigger) for trigger in table.triggers]
    return [
        [_input(item) for item in table.inputs],
        [bytes([item.positions, item.start]) for item in table.selectors],
        [_half(item.maximum) + _half(item.start) for item in table.counters],
        [
            bytes([item.first, item.channels, item.merge, _or_none(item.gauge)])
            for item in table.groups
        ],
        [row for fade in table.fades for row in _segments(fade)],
        forms,
        [_loop(clip, place) for clip, place in looped],
        _clips(table.clips, places, forms),
        [_half(first) for first in _firsts(effects)],
        [step for steps in effects for step in steps],
        _triggers(table.triggers, terms, choices),
        [term for row in terms for term in row],
        [bytes([choice]) for row in choices for choice in row],
        [bytes([item.use, item.what, item.pin, item.value]) for item in table.joints],
    ]


def _firsts(rows: Iterable[Sequence[object]]) -> list[int]:
    """Index of the first of each row, where the rows stand one behind the other."""
    firsts = []
    behind = 0
    for row in rows:
        firsts.append(behind)
        behind += len(row)
    return firsts


def _input(item: InputRecord) -> bytes:
    return _half(item.lockout | item.kind << 15)


def _segments(fade: FadeCurve) -> list[bytes]:
    last = len(fade.segments) - 1
    return [
        _segment(
            segment,
            (SegmentFlag.LAST if place == last else 0)
            | (SegmentFlag.TURN if place == fade.turn else 0),
        )
        for place, segment in enumerate(fade.segments)
    ]


def _segment(segment: FadeSegment, flags: int) -> bytes:
    target = segment.target
    if target == AMBIENT:
        target = 0
        flags |= SegmentFlag.TO_AMBIENT
    if segment.shape == Shape.FLICKER:
        pace = segment.pace
        by = segment.low // limits.LOW_UNIT
    else:
        pace, by = pace_of(segment.shape, segment.length)
    return (
        _half(segment.length) + _half(target) + _half(pace) + bytes([segment.shape | flags, by])
    )


def _form(clip: ClipRecord) -> bytes:
    return _word(clip.step | clip.coding << 24)


def _loop(clip: ClipRecord, place: int) -> bytes:
    lead = clip.loop_start or 0
    before = byte_count(clip.coding.text, lead, None, clip.data) if lead else 0
    return _word(lead) + _word(place + before)


def _clips(
    clips: Iterable[ClipRecord], places: Iterable[int], forms: Sequence[bytes]
) -> list[bytes]:
    rows = []
    loops = 0
    for clip, place in zip(clips, places, strict=True):
        loop = NONE
        if clip.loop_start is not None:
            loop = loops
            loops += 1
        form = forms.index(_form(clip))
        rows.append(_word(clip.samples | form << 24) + _word(place | loop << 24))
    return rows


def _row(entries: Sequence[tuple[int, int, int]]) -> list[bytes]:
    """Steps or terms of one effect or trigger: kind, what, value."""
    return [
        bytes([kind | (LAST if place == len(entries) else 0), what]) + _half(value)
        for place, (kind, what, value) in enumerate(entries, 1)
    ]


def _steps(effect: EffectRecord, fade_places: Sequence[int]) -> list[bytes]:
    entries: list[tuple[int, int, int]] = []
    if effect.length or not (effect.steps or effect.pitch_spread or effect.gain_spread):
        entries.append((StepKind.LENGTH, 0, effect.length))
    if effect.pitch_spread or effect.gain_spread:
        entries.append((StepKind.SPREAD, effect.pitch_spread, effect.gain_spread))
    now = 0
    for step in effect.steps:
        if step.at > now:
            entries.append((StepKind.WAIT, 0, step.at - now))
            now = step.at
        entries += _step(step, fade_places)
    return _row(entries)


def _step(step: Step, fade_places: Sequence[int]) -> list[tuple[int, int, int]]:
    match step:
        case PlayClip(release=None):
            return [(StepKind.PLAY, step.clip, step.gain)]
        case PlayClip():
            return [
                *_with(step.release, limits.RELEASE[0]),
                (StepKind.PLAY_LOOPED, step.clip, step.gain),
            ]
        case StartFade():
            kind = StepKind.FADE_AMBIENT if step.ambient else StepKind.FADE
            return [*_with(step.stagger, 0), (kind, step.group, fade_places[step.fade])]
        case ChangeCount():
            kind = StepKind.ADD if step.change > 0 else StepKind.TAKE
            return [(kind, step.counter, abs(step.change))]


def _with(value: int, usual: int) -> list[tuple[int, int, int]]:
    return [] if value == usual else [(StepKind.WITH, 0, value & 0xFFFF)]


def _triggers(
    triggers: Sequence[TriggerRecord],
    terms: Sequence[Sequence[bytes]],
    choices: Sequence[Sequence[int]],
) -> list[bytes]:
    starts = zip(_firsts(choices), _firsts(terms), strict=True)
    return [
        bytes([_mode(trigger) | (trigger.input or 0) << 3, len(row)])
        + _half(trigger.hold)
        + _half(choice)
        + _half(term if own else NO_TERM)
        for trigger, row, own, (choice, term) in zip(
            triggers, choices, terms, starts, strict=True
        )
    ]


def _mode(trigger: TriggerRecord) -> int:
    random = isinstance(trigger.action, Shots) and trigger.action.random
    return trigger.mode + (RANDOM_MODES if random else 0)


def _terms(trigger: TriggerRecord) -> list[bytes]:
    entries = [(TermKind.CONDITION, selector, mask) for selector, mask in trigger.conditions]
    if trigger.needs is not None:
        entries.append((TermKind.NEEDS, trigger.needs, 0))
    if trigger.empty is not None:
        entries.append((TermKind.EMPTY, trigger.empty, 0))
    if isinstance(trigger.action, Shots):
        entries += [
            (kind, value >> 16, value & 0xFFFF) for kind, value in _rate(trigger.action)
        ]
    return _row(entries)


def _rate(shots: Shots) -> list[tuple[TermKind, int]]:
    values = {
        TermKind.PERIOD: shots.period,
        TermKind.FIRST: shots.first,
        TermKind.BURST: shots.burst if shots.burst > 1 else 0,
        TermKind.LIMIT: shots.limit,
        TermKind.RAMP_PERIOD: shots.ramp_period if shots.ramp_shots else 0,
        TermKind.RAMP_SHOTS: shots.ramp_shots,
    }
    return [(kind, value) for kind, value in values.items() if value and shots.period]


def _choices(trigger: TriggerRecord) -> list[int]:
    action = trigger.action
    if isinstance(action, Shots):
        return list(action.effects)
    effects = [action.begin, action.during, action.end]
    while effects and effects[-1] is None:
        effects.pop()
    return [_or_none(effect) for effect in effects]
