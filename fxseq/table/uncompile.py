"""From a table back to a prop file that compiles to it, and to its clips as WAV files.

A table knows things by number only, so they are named by their turn. Times, rates, gains and
percents are the shortest decimals that come to what the table has. What a table does not say is
left out or, where a file must say it, has the least value and a remark.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from fxseq.clips import CodedClip, PreparedClip, decode, wav_of
from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape, level_from_percent
from fxseq.sequence import loads
from fxseq.sequence.board_parts import BoardPart, board_parts
from fxseq.sequence.edits import written
from fxseq.table import limits, units
from fxseq.table.compile import compile_sequence
from fxseq.table.names import Names
from fxseq.table.records import (
    ChangeCount,
    ClipRecord,
    EffectRecord,
    GroupRecord,
    InputKind,
    JointRecord,
    PlayClip,
    SelectorRecord,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    Use,
)

Keys = dict[str, Any]

NOT_IN_A_TABLE = (
    "supplies, regulator, amplifier, speaker, picture, the divider of a sensor of low cells",
    "the LEDs of a group: their number, colour and current are the least that a file may say",
    "press scripts, and who is the maker",
    "the recordings: clips are what is left of them in the table",
)
"""What is lost on the way to a board."""
NO_NAMES = (
    "what things are called: they have numbers here, in the order of the table. A table of a board"
    " with carries_names holds them",
    "title and revision",
)
"""And this, where the table does not carry it."""
_LED_CURRENT_MA = 0.01
_MOST_DIGITS = 12
_CHAINS = {Use.SHIFT_REGISTERS: "shift_registers", Use.DRIVERS: "drivers"}
_SOUNDS = {Use.I2S: "i2s", Use.PWM: "pwm"}


@dataclass(frozen=True)
class Uncompiled:
    """text: of the prop file. clips: WAV files by their path from its folder."""

    text: str
    clips: dict[str, bytes]


def uncompile(
    table: Table,
    title: str,
    part: str | None = None,
    names: Names | None = None,
    revision: str | None = None,
) -> Uncompiled:
    """The prop file of a table, and its clips.

    part: the ready-made board that the table is for; None for another one. names: for things by
    their turn, as far as they go. A table that no prop file compiles to comes back as another one:
    `compiles_to` tells.
    """
    maker = _Maker(table, part, names)
    lines = [
        "# Read back from a board. A table does not hold:",
        *(f"#   {lost}" for lost in not_in(names)),
        "",
        "format = 1",
        f"title = {written(title)}",
        *([f"revision = {written(revision)}"] if revision else []),
    ]
    for header, keys in maker.sections():
        lines += ["", f"[{header}]", *(f"{key} = {written(value)}" for key, value in keys.items())]
    return Uncompiled("\n".join(lines) + "\n", maker.files())


def not_in(names: Names | None) -> tuple[str, ...]:
    """What a table with such names, or without, does not hold of a prop file."""
    return NOT_IN_A_TABLE if names else (*NO_NAMES, *NOT_IN_A_TABLE)


def compiles_to(text: str, table: Table, names: Names | None = None) -> bool:
    """Whether the text that `uncompile` made of a table compiles to it. Raises FxError with what
    the text cannot say.
    """
    maker = _Maker(table, None, names)
    clips = {maker.name("clip", at): maker.prepared(at) for at in range(len(table.clips))}
    return compile_sequence(loads(text, "prop.toml"), clips).table == table


def shortest(low: float, high: float, is_right: Callable[[float], bool]) -> float:
    """The decimal of the fewest digits, between two numbers, that is right; their middle where
    none is. A decimal that lies between them is no farther from the middle than both.
    """
    middle = (low + high) / 2
    for digits in range(_MOST_DIGITS):
        value = round(middle, digits)
        if is_right(value):
            return int(value) if value == int(value) else value
    return middle


def _rounded(of_one: float, wanted: int, unit: Callable[[float], int]) -> float:
    """The shortest number that `unit` rounds to what is wanted; of_one: what comes to 1."""
    return shortest(
        (wanted - 0.5) * of_one, (wanted + 0.5) * of_one, lambda value: unit(value) == wanted
    )


def _percent(level: int) -> float:
    return _rounded(100 / 65535, level, level_from_percent)


def _gain_db(gain: int) -> float:
    low, high = (
        20 * math.log10(max(edge, 0.1) / units.gain_of(0)) for edge in (gain - 0.5, gain + 0.5)
    )
    return shortest(low, high, lambda value: units.gain_of(value) == gain)


def _given(**keys: Any) -> Keys:
    """The keys that say something: no 0, no "" and no empty list."""
    return {key: value for key, value in keys.items() if value}


class _Maker:
    """A table and how its parts are named."""

    def __init__(self, table: Table, part: str | None, names: Names | None) -> None:
        self.table = table
        self.part = part
        self.names = names
        self.frame_rate_hz = table.frame_rate_hz
        self.joints: dict[Use, list[JointRecord]] = {use: [] for use in Use}
        for joint in table.joints if part else ():
            self.joints[joint.use].append(joint)

    def sections(self) -> Iterable[tuple[str, Keys]]:
        """Header and keys of each table of the file, in its order."""
        table = self.table
        yield "board", self._board()
        yield from self._things("input", (self._input(at) for at in range(len(table.inputs))))
        selectors = enumerate(table.selectors)
        yield from self._things("selector", (self._selector(*each) for each in selectors))
        yield from self._things(
            "counter", ({"maximum": one.maximum, "start": one.start} for one in table.counters)
        )
        for at in self._order_of_groups():
            yield f"groups.{self.name('group', at)}", self._group(table.groups[at])
        yield from self._things("clip", map(self._clip, range(len(table.clips))))
        yield from self._things("fade", map(self._fade, table.fades))
        yield from self._things("effect", map(self._effect, table.effects))
        yield from self._things("trigger", map(self._trigger, table.triggers))

    def name(self, kind: str, at: int | None) -> str:
        """That of the thing at its turn among its kind; none where there is no thing."""
        if at is None:
            return ""
        known: Sequence[str] = getattr(self.names, f"{kind}s", ())
        return known[at] if at < len(known) else numbered(f"{kind}_{at + 1}", known)

    def _position(self, selector: int, place: int) -> str:
        known = self.names.positions[selector : selector + 1] if self.names else ()
        names = known[0] if known else ()
        return names[place] if place < len(names) else numbered(f"position_{place + 1}", names)

    def prepared(self, at: int) -> PreparedClip:
        """A clip as compiling takes it."""
        clip = self.table.clips[at]
        coded = self._coded(clip)
        samples = decode(clip.data, coded.coding, clip.samples, clip.loop_start)
        loop = None if clip.loop_start is None else (clip.loop_start, clip.samples)
        name = self.name("clip", at)
        return PreparedClip(name, samples, coded.rate_hz, coded.coding, clip.data, loop)

    def files(self) -> dict[str, bytes]:
        """The clips, by file."""
        return {
            self._file(at): wav_of(self._coded(clip), clip.samples)
            for at, clip in enumerate(self.table.clips)
        }

    def _file(self, at: int) -> str:
        return f"clips/{self.name('clip', at)}.wav"

    def _things(self, kind: str, things: Iterable[Keys]) -> Iterable[tuple[str, Keys]]:
        for at, keys in enumerate(things):
            yield f"{kind}s.{self.name(kind, at)}", keys

    def _board(self) -> Keys:
        table = self.table
        keys = {
            "sample_rate_hz": table.sample_rate_hz,
            "samples_per_frame": table.samples_per_frame,
            "channels": table.channels,
            "pwm_bits": table.pwm_bits,
            "voices": table.voices,
            "when_voices_run_out": table.voice_rule.name.lower(),
            "random_seed": table.seed,
            **_given(counts=table.asks_for_counts, carries_names=bool(table.names)),
        }
        if not self.part:
            return keys
        lights = [name for use, name in _CHAINS.items() if self.joints[use]]
        sound = [name for use, name in _SOUNDS.items() if self.joints[use]]
        kinds = _given(lights="".join(lights), sound="".join(sound))
        return {"part": self.part, **kinds, **_given(pins=self._board_pins()), **keys}

    def _board_pins(self) -> Keys:
        uses = {
            "lights": _CHAINS,
            "sound": _SOUNDS,
            "amplifier": [Use.AMPLIFIER],
            "volume": [Use.VOLUME],
        }
        return {
            key: joint.pin
            for key, some in uses.items()
            for use in some
            for joint in self.joints[use]
        }

    def _pin(self, use: Use, what: int) -> Keys:
        return {"pin": joint.pin for joint in self.joints[use] if joint.what == what}

    def _input(self, at: int) -> Keys:
        item = self.table.inputs[at]
        keys = {"kind": item.kind.name.lower(), "lockout_ms": self._ms(item.lockout)}
        if item.kind == InputKind.BUTTON:
            return keys | self._pin(Use.CONTACT, at)
        part = board_parts().get(self.part or "")
        for joint in self.joints[Use.CELLS]:
            if joint.what == at and part and part.full_v:
                keys |= {"low_v": self._low_v(joint.value, part)}
        return keys | self._pin(Use.CELLS, at)

    def _low_v(self, value: int, part: BoardPart) -> float:
        step_v = part.full_v * part.divider / 256
        return _rounded(
            step_v, value, lambda volts: units.cells_of(volts / part.divider, part.full_v)
        )

    def _selector(self, at: int, item: SelectorRecord) -> Keys:
        keys: Keys = {
            "positions": [self._position(at, place) for place in range(item.positions)],
            "start": self._position(at, item.start),
        }
        for joint in self.joints[Use.CODED]:
            if joint.what == at:
                keys |= {"coded": True, "pins": [joint.pin + bit for bit in range(joint.value)]}
        places = {one.value: one.pin for one in self.joints[Use.POSITION] if one.what == at}
        return keys | _given(pins=[places[place] for place in sorted(places)]) if places else keys

    def _order_of_groups(self) -> list[int]:
        """As they hang on the pins, which is the order of the file; else by channel."""
        firsts = [joint.what for joint in self.joints[Use.LIGHTS]]
        places = range(len(self.table.groups))
        if sorted(firsts) != sorted(group.first for group in self.table.groups):
            return list(places)
        return sorted(places, key=lambda at: firsts.index(self.table.groups[at].first))

    def _group(self, group: GroupRecord) -> Keys:
        return {
            "first_channel": group.first,
            "channels": group.channels,
            "leds": group.channels,
            "colour": "white",
            "current_ma": _LED_CURRENT_MA,
            "merge": group.merge.name.lower(),
            **_given(gauge=self.name("counter", group.gauge)),
            **self._pin(Use.LIGHTS, group.first),
        }

    def _coded(self, clip: ClipRecord) -> CodedClip:
        board_hz = self.table.sample_rate_hz
        return CodedClip(clip.coding.text, board_hz, clip.step, clip.data, clip.loop_start)

    def _clip(self, at: int) -> Keys:
        coded = self._coded(self.table.clips[at])
        keys: Keys = {"file": self._file(at), "coding": coded.coding}
        if coded.loop_start is not None:
            keys["loop"] = "file"
        if coded.wanted_hz != self.table.sample_rate_hz:
            keys["rate_hz"] = coded.wanted_hz
        return keys

    def _fade(self, fade: FadeCurve) -> Keys:
        first, *others = fade.segments
        is_start = bool(others) and (first.shape, first.length) == (Shape.STEP, 0)
        start: Keys = {}
        segments = list(fade.segments)
        if is_start and first.target != AMBIENT and fade.turn in (None, 1):
            start = {"from_percent": _percent(first.target)}
            segments = others
        loop = _given(loop=fade.turn is not None)
        return {**start, **loop, "segments": list(map(self._segment, segments))}

    def _segment(self, segment: FadeSegment) -> Keys:
        keys: Keys = {"shape": segment.shape.name.lower()}
        keys["to_percent"] = "ambient" if segment.target == AMBIENT else _percent(segment.target)
        keys |= _given(length_ms=self._ms(segment.length))
        if segment.shape == Shape.FLICKER:
            keys["low_percent"] = self._low_percent(segment)
            keys["every_ms"] = self._every_ms(segment.pace)
        return keys

    def _low_percent(self, segment: FadeSegment) -> float:
        step = segment.low / limits.LOW_UNIT
        found = shortest(
            (step - 0.5) * 100 / 255,
            (step + 0.5) * 100 / 255,
            lambda value: units.flicker_low_of(value, segment.target) == segment.low,
        )
        return min(max(found, 0), _percent(segment.target))

    def _every_ms(self, pace: int) -> float:
        """All frame counts of this pace count, from the fewest to the most."""
        fewest = 65536 // (pace + 1) + 1 if pace < 65535 else 1
        most = 65536 // pace
        frame_ms = 1000 / self.frame_rate_hz
        return shortest(
            (fewest - 0.5) * frame_ms,
            (most + 0.5) * frame_ms,
            lambda value: units.flicker_pace_of(self._frames(value) or 1) == pace,
        )

    def _effect(self, effect: EffectRecord) -> Keys:
        steps = effect.steps
        layer = any(isinstance(step, StartFade) and step.ambient for step in steps)
        return _given(
            layer="ambient" if layer else "",
            length_ms=self._ms(effect.length),
            pitch_spread_percent=_rounded(100 / 1024, effect.pitch_spread, units.pitch_spread_of),
            gain_spread_percent=_rounded(100 / 256, effect.gain_spread, units.gain_spread_of),
            sounds=[self._sound(step) for step in steps if isinstance(step, PlayClip)],
            lights=[self._light(step) for step in steps if isinstance(step, StartFade)],
            counts=[self._count(step) for step in steps if isinstance(step, ChangeCount)],
        )

    def _sound(self, step: PlayClip) -> Keys:
        keys: Keys = {"clip": self.name("clip", step.clip), **self._at(step.at)}
        keys |= _given(gain_db=_gain_db(step.gain))
        if step.release is not None:
            keys |= {"loop": True, "release_ms": self._ms(step.release)}
        return keys

    def _light(self, step: StartFade) -> Keys:
        return {
            "group": self.name("group", step.group),
            "fade": self.name("fade", step.fade),
            **self._at(step.at),
            **_given(stagger_ms=self._ms(step.stagger)),
        }

    def _count(self, step: ChangeCount) -> Keys:
        return {
            "counter": self.name("counter", step.counter),
            "change": step.change,
            **self._at(step.at),
        }

    def _at(self, frames: int) -> Keys:
        return _given(at_ms=self._ms(frames))

    def _trigger(self, trigger: TriggerRecord) -> Keys:
        action = trigger.action
        own = self._shots(action) if isinstance(action, Shots) else self._stay(action)
        return {
            "mode": trigger.mode.name.lower(),
            **_given(
                input=self.name("input", trigger.input),
                when={
                    self.name("selector", at): self._positions(at, mask)
                    for at, mask in trigger.conditions
                },
                after_held_ms=self._ms(trigger.hold),
                needs=self.name("counter", trigger.needs),
                empty=self.name("effect", trigger.empty),
            ),
            **own,
        }

    def _shots(self, shots: Shots) -> Keys:
        keys: Keys = {"effects": [self.name("effect", effect) for effect in shots.effects]}
        if shots.random:
            keys["choice"] = "random"
        if not shots.period:
            return keys
        keys["rate_per_s"] = self._rate_per_s(shots.period)
        keys |= _given(first_delay_ms=shots.first and self._first_delay_ms(shots.first))
        keys |= _given(burst=shots.burst if shots.burst > 1 else 0, limit=shots.limit)
        if shots.ramp_shots:
            keys["ramp_to_rate_per_s"] = self._rate_per_s(shots.ramp_period)
            keys["ramp_shots"] = shots.ramp_shots
        return keys

    def _stay(self, stay: Stay) -> Keys:
        return _given(
            begin=self.name("effect", stay.begin),
            during=self.name("effect", stay.during),
            end=self.name("effect", stay.end),
        )

    def _positions(self, selector: int, mask: int) -> str | list[str]:
        places = [place for place in range(mask.bit_length()) if mask >> place & 1]
        names = [self._position(selector, place) for place in places]
        return names[0] if len(names) == 1 else names

    def _frames(self, time_ms: float) -> int:
        return units.frames_of(time_ms, self.frame_rate_hz)

    def _ms(self, frames: int) -> float:
        """Time that comes to so many frames; a time that is not 0 never comes to none."""
        if abs(frames) == 1:
            return shortest(0, 1.5 * frames * 1000 / self.frame_rate_hz, self._comes_to(frames))
        return _rounded(1000 / self.frame_rate_hz, frames, self._frames)

    def _comes_to(self, frames: int) -> Callable[[float], bool]:
        return lambda time_ms: self._frames(time_ms) == frames

    def _rate_per_s(self, period: int) -> float:
        most = self.frame_rate_hz * 256
        return shortest(
            most / (period + 1),
            most / period,
            lambda rate: rate > 0 and units.period_of(rate, self.frame_rate_hz) == period,
        )

    def _first_delay_ms(self, first: int) -> float:
        step_ms = 1 / (self.frame_rate_hz * 0.256)
        return shortest(
            first * step_ms,
            (first + 1) * step_ms,
            lambda delay: units.first_period_of(delay, self.frame_rate_hz) == first,
        )


def numbered(name: str, taken: Sequence[str]) -> str:
    """A name by number that no other thing has."""
    while name in taken:
        name += "_"
    return name
