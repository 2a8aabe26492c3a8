"""Table to bytes (SPEC section 3). Deterministic: the same table gives the same bytes
everywhere.
"""

import zlib
from collections.abc import Iterable

from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape
from fxseq.table.limits import HEADER_BYTES, MAGIC, UNITY_GAIN, VERSION
from fxseq.table.records import (
    ChangeCount,
    ClipRecord,
    EffectRecord,
    GroupRecord,
    PlayClip,
    Shots,
    StartFade,
    Stay,
    Step,
    Table,
    TriggerRecord,
)


def encode(table: Table) -> bytes:
    """The bytes of a table whose values are within the ranges of SPEC section 3."""
    data, places = _lay_out(table.clips)
    records = _board(table) + b"".join(_section(bodies) for bodies in _sections(table, places))
    start = HEADER_BYTES + len(records)
    length = start + len(data) + 4
    head = MAGIC + bytes([VERSION]) + length.to_bytes(4, "little") + start.to_bytes(4, "little")
    body = head + records + data
    return body + zlib.crc32(body).to_bytes(4, "little")


def number(value: int) -> bytes:
    """A whole number, seven bits a byte, least significant first, in its shortest form (SPEC
    2.2).
    """
    out = bytearray()
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def signed(value: int) -> bytes:
    """A signed number: 0, -1, 1, -2, 2 ... as 0, 1, 2, 3, 4 ... (SPEC 2.3)."""
    return number(value * 2 if value >= 0 else -value * 2 - 1)


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
    return bytes(data), places


def _section(bodies: list[bytes]) -> bytes:
    return number(len(bodies)) + b"".join(number(len(body)) + body for body in bodies)


def _sections(table: Table, places: list[int]) -> list[list[bytes]]:
    return [
        [bytes([item.kind]) + number(item.lockout) for item in table.inputs],
        [bytes([item.positions, item.start]) for item in table.selectors],
        [number(item.maximum) + number(item.start) for item in table.counters],
        [_group(item) for item in table.groups],
        [_fade(item) for item in table.fades],
        [_clip(item, place) for item, place in zip(table.clips, places, strict=True)],
        [_effect(item) for item in table.effects],
        [_trigger(item) for item in table.triggers],
    ]


def _board(table: Table) -> bytes:
    return (
        number(table.sample_rate_hz)
        + number(table.samples_per_frame)
        + bytes(
            [table.channels, table.pwm_bits, table.voices, table.voice_rule, table.light_mask]
        )
        + table.seed.to_bytes(4, "little")
    )


def _optional(*fields: bytes | None) -> tuple[int, bytes]:
    """Flag bits for the fields that are there, lowest bit first, and those fields."""
    flags = sum(1 << bit for bit, field in enumerate(fields) if field is not None)
    return flags, b"".join(field for field in fields if field is not None)


def _byte(value: int | None) -> bytes | None:
    return None if value is None else bytes([value])


def _group(group: GroupRecord) -> bytes:
    flags, rest = _optional(b"" if group.merge else None, _byte(group.gauge))
    return bytes([group.first, group.channels, flags]) + rest


def _fade(fade: FadeCurve) -> bytes:
    flags, rest = _optional(
        b"" if fade.loop else None, None if fade.start is None else number(fade.start)
    )
    return bytes([flags]) + rest + b"".join(_segment(segment) for segment in fade.segments)


def _segment(segment: FadeSegment) -> bytes:
    if segment.target == AMBIENT:
        return bytes([segment.shape | 8]) + number(segment.length)
    body = bytes([segment.shape]) + number(segment.length) + number(segment.target)
    return (
        body + number(segment.low) + number(segment.every)
        if segment.shape == Shape.FLICKER
        else body
    )


def _clip(clip: ClipRecord, place: int) -> bytes:
    loop = b"" if clip.loop_start is None else number(clip.loop_start)
    return (
        bytes([clip.coding | (0 if clip.loop_start is None else 16)])
        + number(clip.step)
        + number(clip.samples)
        + number(place)
        + loop
    )


def _effect(effect: EffectRecord) -> bytes:
    flags, rest = _optional(
        b"" if effect.ambient else None,
        number(effect.length) if effect.length else None,
        bytes([effect.pitch_spread]) if effect.pitch_spread else None,
        bytes([effect.gain_spread]) if effect.gain_spread else None,
    )
    return bytes([flags]) + rest + _steps(effect.steps)


def _steps(steps: Iterable[Step]) -> bytes:
    out = b""
    before = 0
    for step in steps:
        kind, fixed, options = _step(step)
        waits, wait = _optional(number(step.at - before) if step.at > before else None)
        flags, rest = _optional(*options)
        out += bytes([kind | waits << 2 | flags << 3]) + wait + fixed + rest
        before = step.at
    return out


def _step(step: Step) -> tuple[int, bytes, tuple[bytes | None, ...]]:
    match step:
        case PlayClip():
            gain = number(step.gain) if step.gain != UNITY_GAIN else None
            return (
                0,
                bytes([step.clip]),
                (gain, None if step.release is None else number(step.release)),
            )
        case StartFade():
            return (
                1,
                bytes([step.group, step.fade]),
                (signed(step.stagger) if step.stagger else None,),
            )
        case ChangeCount():
            return 2, bytes([step.counter]) + signed(step.change), ()


def _trigger(trigger: TriggerRecord) -> bytes:
    conditions = bytes([len(trigger.conditions)]) + b"".join(
        bytes([selector]) + number(mask) for selector, mask in trigger.conditions
    )
    flags, rest = _optional(
        number(trigger.hold) if trigger.hold else None,
        conditions if trigger.conditions else None,
        _byte(trigger.needs),
        _byte(trigger.empty),
    )
    action = _shots(trigger.action) if isinstance(trigger.action, Shots) else _stay(trigger.action)
    random = isinstance(trigger.action, Shots) and trigger.action.random
    return (
        bytes([trigger.mode | flags << 3 | random << 7])
        + (_byte(trigger.input) or b"")
        + rest
        + action
    )


def _shots(shots: Shots) -> bytes:
    if not shots.period:
        return bytes(shots.effects)
    flags, rest = _optional(
        number(shots.first) if shots.first else None,
        number(shots.burst) if shots.burst > 1 else None,
        number(shots.limit) if shots.limit else None,
        bytes([shots.ramp_shots]) + number(shots.ramp_period) if shots.ramp_shots else None,
    )
    return bytes([flags]) + number(shots.period) + rest + bytes(shots.effects)


def _stay(stay: Stay) -> bytes:
    flags, rest = _optional(_byte(stay.begin), _byte(stay.during), _byte(stay.end))
    return bytes([flags]) + rest
