"""From a sequence and its prepared clips to a table and the names of what is in it.

Only what a trigger can reach goes into the table; what no trigger reaches costs the board nothing.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

from fxseq.clips import PreparedClip
from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape, level_from_percent
from fxseq.sequence import Fault, TableError, frame_rate_hz, start_count, start_position
from fxseq.sequence import model as m
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.pins import Joint, joints_of
from fxseq.table import limits, units
from fxseq.table.encode import encode, record_counts
from fxseq.table.names import Called, Names, packed
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


@dataclass(frozen=True)
class Compiled:
    """A table, its bytes, and the names of what is in it."""

    table: Table
    names: Names
    data: bytes


LOOKS_HZ = 200
"""How often each channel is looked at, at the least, where the board has so many frames: steps of
5 ms are too short to be seen as such. Common practice, no source. [Hz]
"""


def compile_sequence(sequence: m.Sequence, clips: Mapping[str, PreparedClip]) -> Compiled:
    """The table of a valid sequence. `clips`: every clip that an effect in reach of a trigger
    plays.

    Raises TableError with every value that is within the file's ranges but does not fit into a
    table.
    """
    compiler = _Compiler(sequence, clips)
    table = compiler.table()
    if not compiler.faults:
        compiler.faults += _too_many(record_counts(table))
    if compiler.faults:
        raise TableError(*compiler.faults)
    return Compiled(table, compiler.names, encode(table))


def _too_many(counts: Mapping[str, int]) -> list[Fault]:
    """A fault for each kind of record of which a table cannot hold so many."""
    remedy = "Leave some out."
    faults = [
        Fault("table", f"{counts[name]} {name}", f"at most {most}", remedy)
        for name, _, most in limits.SECTIONS
        if counts[name] > most
    ]
    size = limits.HEADER_BYTES + sum(counts[name] * size for name, size, _ in limits.SECTIONS)
    if size > limits.RECORDS_END:
        told = f"{size} bytes without the clips"
        faults.append(Fault("table", told, f"at most {limits.RECORDS_END} bytes", remedy))
    return faults


def clips_in_reach(sequence: m.Sequence) -> list[str]:
    """Names of the clips that some trigger can play, in the file's order."""
    used = {
        sound.clip for name in effects_in_reach(sequence) for sound in sequence.effects[name].sounds
    }
    return [name for name in sequence.clips if name in used]


def effects_in_reach(sequence: m.Sequence) -> list[str]:
    """Names of the effects that some trigger can start, in the file's order."""
    used = {name for trigger in sequence.triggers.values() for name in _effects_of(trigger)}
    return [name for name in sequence.effects if name in used]


def _effects_of(trigger: m.Trigger) -> Iterable[str]:
    return [
        name
        for name in (*trigger.effects, trigger.begin, trigger.during, trigger.end, trigger.empty)
        if name is not None
    ]


def _names(sequence: m.Sequence) -> Names:
    effects = effects_in_reach(sequence)
    used = {light.fade for name in effects for light in sequence.effects[name].lights}
    fades = tuple(name for name in sequence.fades if name in used)
    return Names(
        inputs=tuple(sequence.inputs),
        selectors=tuple(sequence.selectors),
        positions=tuple(tuple(selector.positions) for selector in sequence.selectors.values()),
        counters=tuple(sequence.counters),
        groups=tuple(sorted(sequence.groups, key=lambda name: sequence.groups[name].first_channel)),
        fades=fades,
        segments=tuple(name for name in fades for _ in range(_segments_of(sequence.fades[name]))),
        clips=tuple(clips_in_reach(sequence)),
        effects=tuple(effects),
        triggers=tuple(sequence.triggers),
    )


def _light_mask(frame_rate_hz: float) -> int:
    """The fewest looks at a channel that still follow every fade smoothly."""
    return max(
        mask for mask in limits.LIGHT_MASKS if mask == 0 or frame_rate_hz >= LOOKS_HZ * (mask + 1)
    )


def _segments_of(fade: m.Fade) -> int:
    """How many the table has of it: a level to start from is one more."""
    return len(fade.segments) + (fade.from_percent is not None)


class _Compiler:
    """One compilation: the sequence, the names in order, and the faults met so far."""

    def __init__(self, sequence: m.Sequence, clips: Mapping[str, PreparedClip]) -> None:
        self.sequence = sequence
        self.clips = clips
        self.names = _names(sequence)
        self.faults: list[Fault] = []
        self.frame_rate_hz = frame_rate_hz(sequence.board)

    def table(self) -> Table:
        board = self.sequence.board
        names = self.names
        sequence = self.sequence
        self._count_records()
        clips = tuple(self._clip(name, self.clips[name]) for name in names.clips)
        return Table(
            sample_rate_hz=board.sample_rate_hz,
            samples_per_frame=board.samples_per_frame,
            channels=board.channels,
            pwm_bits=board.pwm_bits,
            voices=board.voices,
            voice_rule=VoiceRule[board.when_voices_run_out.upper()],
            light_mask=_light_mask(self.frame_rate_hz),
            seed=board.random_seed,
            inputs=tuple(self._input(name, item) for name, item in sequence.inputs.items()),
            selectors=tuple(_selector(item) for item in sequence.selectors.values()),
            counters=tuple(
                CounterRecord(item.maximum, start_count(item))
                for item in sequence.counters.values()
            ),
            groups=tuple(self._group(sequence.groups[name]) for name in names.groups),
            fades=tuple(self._slow_fade(name, sequence.fades[name]) for name in names.fades),
            clips=clips,
            effects=tuple(
                self._effect(name, sequence.effects[name], clips) for name in names.effects
            ),
            triggers=tuple(self._trigger(name, item) for name, item in sequence.triggers.items()),
            joints=self._joints(),
            names=self._carried() if board.carries_names else b"",
        )

    def _joints(self) -> tuple[JointRecord, ...]:
        board = self.sequence.board
        counts = (JointRecord(Use.COUNTS, 0, 0),) if board.counts else ()
        return (*(_joint(joint, board) for joint in joints_of(self.sequence)), *counts)

    def _carried(self) -> bytes:
        return packed(Called(self.sequence.title, self.sequence.revision, self.names))

    def _count_records(self) -> None:
        named = {field.name: len(getattr(self.names, field.name)) for field in fields(Names)}
        self.faults += _too_many({name: named.get(name, 0) for name, _, _ in limits.SECTIONS})

    def _fit(self, where: str, key: str, value: int, allowed: tuple[int, int], unit: str) -> int:
        """`value` where it is within the table's range; else a fault, and a value that is."""
        low, high = allowed
        if not low <= value <= high:
            self.faults.append(
                Fault(
                    where,
                    f"{key} comes to {value} {unit}",
                    f"{low} to {high} {unit}",
                    "Change it, or the board's rates.",
                )
            )
        return min(max(value, low), high)

    def _frames(
        self, where: str, key: str, time_ms: float, allowed: tuple[int, int] = limits.FRAMES
    ) -> int:
        """Frames of a time, where the table has room for so many."""
        return self._fit(
            where, key, units.frames_of(time_ms, self.frame_rate_hz), allowed, "frames"
        )

    def _input(self, name: str, item: m.Input) -> InputRecord:
        return InputRecord(
            InputKind[item.kind.upper()],
            self._frames(f"input '{name}'", "lockout_ms", item.lockout_ms, limits.LOCKOUT),
        )

    def _group(self, item: m.Group) -> GroupRecord:
        gauge = None if item.gauge is None else self.names.counters.index(item.gauge)
        return GroupRecord(item.first_channel, item.channels, Merge[item.merge.upper()], gauge)

    def _fade(self, name: str, fade: m.Fade) -> FadeCurve:
        segments = tuple(self._segment(f"fade '{name}'", segment) for segment in fade.segments)
        start: tuple[FadeSegment, ...] = ()
        if fade.from_percent is not None:
            start = (FadeSegment(Shape.STEP, 0, level_from_percent(fade.from_percent)),)
        return FadeCurve(start + segments, len(start) if fade.loop else None)

    def _slow_fade(self, name: str, fade: m.Fade) -> FadeCurve:
        """The curve of a fade; a fault where more segments end in one look than a board ends."""
        curve = self._fade(name, fade)
        row = limits.SEGMENTS_IN_A_ROW
        frames = limits.FRAMES_OF_A_ROW
        if not curve.is_slow_enough(row, frames):
            self.faults.append(
                Fault(
                    f"fade '{name}'",
                    f"{row} segments in a row take less than {frames} frames together",
                    f"{frames * 1000 / self.frame_rate_hz:.3g} ms or more",
                    "Make them longer, or leave some out: nobody sees them one by one.",
                )
            )
        return curve

    def _segment(self, where: str, segment: m.Segment) -> FadeSegment:
        length = self._frames(where, "length_ms", segment.length_ms)
        if segment.to_percent == "ambient":
            return FadeSegment(Shape[segment.shape.upper()], length, AMBIENT)
        if segment.shape != "flicker":
            return FadeSegment(
                Shape[segment.shape.upper()], length, level_from_percent(segment.to_percent)
            )
        every = self._frames(where, "every_ms", segment.every_ms or 0, limits.FLICKER_EVERY)
        level = level_from_percent(segment.to_percent)
        return FadeSegment(
            Shape.FLICKER,
            max(length, 1),
            level,
            units.flicker_low_of(segment.low_percent or 0, level),
            units.flicker_pace_of(every),
        )

    def _clip(self, name: str, clip: PreparedClip) -> ClipRecord:
        where = f"clip '{name}'"
        samples = self._fit(where, "its length", len(clip.samples), limits.CLIP_SAMPLES, "samples")
        step = self._fit(
            where,
            "rate_hz",
            units.clip_step_of(clip.rate_hz, self.sequence.board.sample_rate_hz),
            limits.CLIP_STEP,
            "/ 65536 of the board's",
        )
        return ClipRecord(
            Coding[clip.coding.upper()],
            step,
            samples,
            clip.data,
            None if clip.loop is None else clip.loop[0],
        )

    def _effect(self, name: str, effect: m.Effect, clips: tuple[ClipRecord, ...]) -> EffectRecord:
        where = f"effect '{name}'"
        steps: list[Step] = [self._sound(where, sound) for sound in effect.sounds]
        ambient = effect.layer == "ambient"
        steps += [self._light(where, light, ambient) for light in effect.lights]
        steps += [
            ChangeCount(
                self._frames(where, "at_ms", count.at_ms),
                self.names.counters.index(count.counter),
                count.change,
            )
            for count in effect.counts
        ]
        steps.sort(key=lambda step: step.at)
        self._spread_out(where, steps)
        return EffectRecord(
            steps=tuple(steps),
            length=self._effect_length(name, effect, steps, clips),
            pitch_spread=units.pitch_spread_of(effect.pitch_spread_percent),
            gain_spread=units.gain_spread_of(effect.gain_spread_percent),
        )

    def _spread_out(self, where: str, steps: list[Step]) -> None:
        """A fault where more is to happen at one time than a board does in one frame."""
        at_once = Counter(step.at for step in steps)
        for frame, count in at_once.items():
            if count > limits.STEPS_AT_ONCE:
                self.faults.append(
                    Fault(
                        where,
                        f"{count} sounds, lights and counts at"
                        f" {frame * 1000 / self.frame_rate_hz:.4g} ms",
                        f"at most {limits.STEPS_AT_ONCE} at one time",
                        "Give some of them another at_ms, or leave them out.",
                    )
                )

    def _sound(self, where: str, sound: m.Sound) -> PlayClip:
        release = None
        if sound.loop:
            release = max(self._frames(where, "release_ms", sound.release_ms), limits.RELEASE[0])
        return PlayClip(
            self._frames(where, "at_ms", sound.at_ms),
            self.names.clips.index(sound.clip),
            units.gain_of(sound.gain_db),
            release,
        )

    def _light(self, where: str, light: m.Light, ambient: bool) -> StartFade:
        stagger = self._frames(where, "stagger_ms", light.stagger_ms, limits.STAGGER)
        at = self._frames(where, "at_ms", light.at_ms)
        group = self.names.groups.index(light.group)
        return StartFade(at, group, self.names.fades.index(light.fade), stagger, ambient)

    def _effect_length(
        self, name: str, effect: m.Effect, steps: list[Step], clips: tuple[ClipRecord, ...]
    ) -> int:
        """Frames until a held effect starts over. Only `begin` and `during` ever do, and not one
        whose parts loop by themselves.
        """
        held = [
            trigger
            for trigger in self.sequence.triggers.values()
            if name in (trigger.begin, trigger.during)
        ]
        if effect.length_ms is not None:
            return self._frames(f"effect '{name}'", "length_ms", effect.length_ms)
        endless = any(sound.loop for sound in effect.sounds) or any(
            self.sequence.fades[light.fade].loop for light in effect.lights
        )
        if not held or (endless and any(trigger.during == name for trigger in held)):
            return 0
        return self._fit(
            f"effect '{name}'",
            "its length",
            max((self._step_end(step, clips) for step in steps), default=0),
            limits.FRAMES,
            "frames",
        )

    def _step_end(self, step: Step, clips: tuple[ClipRecord, ...]) -> int:
        match step:
            case PlayClip(release=None):
                # A clip that was cut to fit must not make a held effect start over sooner.
                whole = self.clips[self.names.clips[step.clip]].meant_samples
                return step.at + math.ceil(whole / self.sequence.board.samples_per_frame)
            case StartFade():
                group = self.sequence.groups[self.names.groups[step.group]]
                fade = self.sequence.fades[self.names.fades[step.fade]]
                length = 0 if fade.loop else self._fade(self.names.fades[step.fade], fade).length
                return step.at + length + abs(step.stagger) * (group.channels - 1)
        return step.at

    def _trigger(self, name: str, trigger: m.Trigger) -> TriggerRecord:
        where = f"trigger '{name}'"
        names = self.names
        mode = Mode[trigger.mode.upper()]
        return TriggerRecord(
            mode=mode,
            action=self._stay(trigger) if mode.stays else self._shots(where, trigger),
            input=None if trigger.input is None else names.inputs.index(trigger.input),
            hold=self._frames(where, "after_held_ms", trigger.after_held_ms),
            conditions=tuple(
                self._condition(selector, positions) for selector, positions in trigger.when.items()
            ),
            needs=None if trigger.needs is None else names.counters.index(trigger.needs),
            empty=self._index(trigger.empty),
        )

    def _condition(self, selector: str, positions: str | list[str]) -> tuple[int, int]:
        index = self.names.selectors.index(selector)
        wanted = {positions} if isinstance(positions, str) else set(positions)
        return index, sum(1 << self.names.positions[index].index(position) for position in wanted)

    def _index(self, effect: str | None) -> int | None:
        return None if effect is None else self.names.effects.index(effect)

    def _stay(self, trigger: m.Trigger) -> Stay:
        return Stay(
            self._index(trigger.begin), self._index(trigger.during), self._index(trigger.end)
        )

    def _shots(self, where: str, trigger: m.Trigger) -> Shots:
        effects = tuple(self.names.effects.index(effect) for effect in trigger.effects)
        random = trigger.choice == "random"
        if trigger.rate_per_s is None:
            return Shots(effects, random)
        first = trigger.first_delay_ms
        return Shots(
            effects,
            random,
            self._period(where, "rate_per_s", trigger.rate_per_s),
            (
                0
                if first is None
                else self._fit(
                    where,
                    "first_delay_ms",
                    units.first_period_of(first, self.frame_rate_hz),
                    limits.FIRST_PERIOD,
                    "/ 256 frames",
                )
            ),
            trigger.burst,
            trigger.limit or 0,
            trigger.ramp_shots or 0,
            (
                0
                if trigger.ramp_to_rate_per_s is None
                else self._period(where, "ramp_to_rate_per_s", trigger.ramp_to_rate_per_s)
            ),
        )

    def _period(self, where: str, key: str, rate_per_s: float) -> int:
        period = units.period_of(rate_per_s, self.frame_rate_hz)
        return self._fit(where, key, period, limits.PERIOD, "/ 256 frames")


def _joint(joint: Joint, board: m.Board) -> JointRecord:
    value = joint.value
    if joint.use == "cells":
        part = board_parts()[board.part]
        value = units.cells_of(joint.value, part.full_v)
    return JointRecord(Use[joint.use.upper()], joint.index, joint.pin, int(value))


def _selector(item: m.Selector) -> SelectorRecord:
    return SelectorRecord(len(item.positions), item.positions.index(start_position(item)))
