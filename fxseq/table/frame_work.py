"""The dearest frame that a table may ask for, in cycles of a board's processor: what all its
triggers may do at one time, while all else goes on.

It is a bound, not a forecast: every trigger acts in the same frame, every voice plays the dearest
clip, every channel is looked at, and the dearest segment of each layer ends just then.
"""

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from fxseq.light import AMBIENT, FadeCurve, Shape
from fxseq.table.records import (
    ChangeCount,
    ClipRecord,
    EffectRecord,
    Mode,
    PlayClip,
    Shots,
    StartFade,
    Stay,
    Step,
    Table,
    TriggerRecord,
)

Kind = Literal["avr", "cortex_m"]
Units = Counter[str]
"""How often each thing is done that CYCLES has."""

BLOCK_SAMPLES = 24
"""Samples that a player mixes at once (`FXP_BLOCK`)."""
_SHORTEST_BLOCK = 505
"""Samples of a block of IMA ADPCM (SPEC 3.7); those of the other codings are longer."""
_FOR_EVER = 65536
_ENDS = 32
"""Segments that end in one look at the most, whatever a fade says (SPEC 3.6 R4)."""

MOST_SHARE = 0.9
"""Of the time of a frame that its dearest may take; the rest is for interrupts."""

CYCLES: dict[Kind, dict[str, int]] = {
    "cortex_m": {
        "along": 411, "back": 50, "block": 512, "channel": 45, "condition": 213, "decay": 124,
        "duty": 198, "ease": 85, "effect": 832, "end": 204, "flat": 75, "flicker": 149,
        "frame": 0, "gauge": 586, "ima_adpcm": 79, "look": 29, "lpc_rice": 298, "mix": 47,
        "mulaw": 26, "pcm16": 20, "place": 0, "play": 452, "qoa": 198, "rank": 185, "run": 331,
        "sample": 39, "start": 0, "step": 344, "straight": 69, "trigger": 0, "voice": 0,
    },
    "avr": {
        "along": 536, "back": 50, "block": 0, "channel": 200, "condition": 0, "decay": 585,
        "duty": 629, "ease": 826, "effect": 1931, "end": 439, "flat": 325, "flicker": 678,
        "frame": 0, "gauge": 1764, "ima_adpcm": 143, "look": 0, "mix": 231, "mulaw": 65,
        "pcm16": 43, "place": 227, "play": 1371, "rank": 0, "run": 701, "sample": 196, "start": 0,
        "step": 511, "straight": 393, "trigger": 0, "voice": 0,
    },
}  # fmt: skip
"""What each thing takes at the most: the least figures that cover every frame which
`python tests/speed/worst.py --fit` played on the emulated processors.
"""


_UNIT = {shape: shape.name.lower() for shape in Shape} | {Shape.STEP: "flat"}
"""Of a segment under way; `step` is one of an effect."""


class Moment(NamedTuple):
    """Units of what an effect does, `frame` frames after its start."""

    frame: int
    units: Units


class FrameWork:
    """The dearest frame of a table. kind: of processor."""

    def __init__(self, table: Table, kind: Kind) -> None:
        self._table = table
        self._cycles = CYCLES[kind]
        fades: list[tuple[set[int], set[int]]] = [(set(), set()) for _ in table.groups]
        for step in _steps(table):
            if isinstance(step, StartFade):
                fades[step.group][not step.ambient].add(step.fade)
        self._looks = [
            sum((self._look(layer) for layer in layers), Counter({"look": 1})) for layers in fades
        ]
        self._ends = [sum((self._end(layer) for layer in layers), Counter()) for layers in fades]
        self._effects = [self._moments(effect) for effect in table.effects]
        self.triggers = [self._trigger(trigger) for trigger in table.triggers]
        """What each does in its dearest frame."""

    def cycles(self, units: Units) -> float:
        """What they take; endless in a coding that the processor cannot decode."""
        return sum(count * self._cycles.get(unit, math.inf) for unit, count in units.items())

    def dearest(self) -> Units:
        """What the dearest frame does."""
        return self.sound() + self.light() + self.starts()

    @property
    def worst_cycles(self) -> float:
        """What the dearest frame takes."""
        return self.cycles(self.dearest())

    def sound(self) -> Units:
        """Mixing, with the dearest clip in all voices."""
        table = self._table
        samples = table.samples_per_frame
        blocks = -(-samples // BLOCK_SAMPLES)
        voices = [
            self._voice(table.clips[step.clip], effect)
            for effect in table.effects
            for step in effect.steps
            if isinstance(step, PlayClip)
        ]
        units = Counter({"frame": 1, "block": blocks, "sample": samples})
        for unit, count in self._most(voices).items():
            units[unit] += table.voices * count
        return units

    def _voice(self, clip: ClipRecord, effect: EffectRecord) -> Units:
        samples = self._table.samples_per_frame
        step = clip.step * (4096 + 4 * effect.pitch_spread) >> 12
        decoded = (samples * step >> 16) + 1
        shortest = _SHORTEST_BLOCK if clip.loop_start is None else clip.samples - clip.loop_start
        return Counter({
            "voice": -(-samples // BLOCK_SAMPLES),
            "mix": samples,
            clip.coding.text: decoded,
            "run": decoded // min(shortest, _SHORTEST_BLOCK) + 1,
        })

    def light(self) -> Units:
        """A look at each channel, on both of whose layers segments end."""
        units = Counter({"channel": self._table.channels})
        for group, look, end in zip(self._table.groups, self._looks, self._ends, strict=True):
            units += _times(group.channels, look + end + Counter({"duty": 1}))
        return units

    def starts(self) -> Units:
        """What triggers do together: those that positions of selectors rule out at one time, do
        no more than what they did before goes on with.
        """
        table = self._table
        resting = [self._most([self._later(trigger)]) for trigger in table.triggers]
        units = Counter({"trigger": len(table.triggers)})
        units["condition"] = sum(len(trigger.conditions) for trigger in table.triggers)
        together = sum(self.triggers, Counter())
        for selector, record in enumerate(table.selectors):
            at = [
                sum(
                    (
                        active if _allows(trigger, selector, position) else rest
                        for trigger, active, rest in zip(
                            table.triggers, self.triggers, resting, strict=True
                        )
                    ),
                    Counter(),
                )
                for position in range(record.positions)
            ]
            together = min(together, self._most(at), key=self.cycles)
        return units + together

    # ---- triggers ----

    def _trigger(self, trigger: TriggerRecord) -> Units:
        """What one does in a frame, and what goes on of what it did before."""
        action = trigger.action
        empty = self._first(trigger.empty)
        if isinstance(action, Shots):
            shot = self._most([empty, *map(self._first, action.effects)])
            stops = trigger.mode == Mode.REPEAT and (action.limit or trigger.needs is not None)
            now = _times(2 if stops else 1, shot)  # the last shot, and the first of a new press
        else:
            begin, during, end = map(self._first, (action.begin, action.during, action.end))
            now = self._most([empty, begin + during, during + end])
            if trigger.mode == Mode.ALWAYS and not trigger.conditions and not trigger.hold:
                now = during if self._goes_on(action) else Counter()
        return now + self._later(trigger)

    def _first(self, effect: int | None) -> Units:
        """What starts with an effect."""
        return Counter() if effect is None else self._effects[effect][0].units

    def _goes_on(self, action: Stay) -> bool:
        """Whether it starts anything behind the frame in which it begins."""
        named = (action.begin, action.during)
        return any(self._table.effects[effect].length for effect in named if effect is not None)

    def _later(self, trigger: TriggerRecord) -> Units:
        """The most that effects which it started before do in one frame. What it holds is
        forgotten where it ends.
        """
        action = trigger.action
        again = self._from_press_to_press(trigger)
        if isinstance(action, Shots):
            periods = (action.period, action.ramp_period, action.first)
            if action.period:
                again = min(again // 2, *(period // 256 for period in periods if period))
            return self._together((*action.effects, trigger.empty), again)
        held = (action.begin, action.during)
        lengths = [self._table.effects[effect].length for effect in held if effect is not None]
        goes_on = min(filter(None, lengths), default=_FOR_EVER)
        return self._together(held, goes_on) + self._together((action.end, trigger.empty), again)

    def _together(self, effects: Iterable[int | None], gap: int) -> Units:
        """The most that these do behind their starts in one frame, if those are so many frames
        apart: what lies nearer to each other cannot come together.
        """
        named = {effect for effect in effects if effect is not None}
        moments = sorted(
            (moment for effect in named for moment in self._effects[effect][1:]),
            key=lambda moment: moment.frame,
        )
        frames: list[int] = []
        best: list[tuple[float, Units]] = [(0.0, Counter())]
        for frame, units in moments:
            cycles, before = best[bisect_right(frames, frame - max(gap, 1))]
            frames.append(frame)
            best.append(max(best[-1], (cycles + self.cycles(units), before + units), key=_first))
        return best[-1][1]

    def _from_press_to_press(self, trigger: TriggerRecord) -> int:
        """Frames, at the least: a lock-out down, and one up. A selector is taken not to be
        quicker, there and back.
        """
        if trigger.input is None:
            return _FOR_EVER if not trigger.conditions else 1
        return 2 * max(1, self._table.inputs[trigger.input].lockout)

    # ---- effects ----

    def _moments(self, effect: EffectRecord) -> list[Moment]:
        """What it does at its start, then at each frame in which it does more."""
        found: dict[int, Units] = {0: Counter({"effect": 1})}
        for step in effect.steps:
            for frame, units in self._step(step):
                found[frame] = found.get(frame, Counter({"place": 1})) + units
        return [Moment(frame, units) for frame, units in sorted(found.items())]

    def _step(self, step: Step) -> Iterator[Moment]:
        table = self._table
        match step:
            case PlayClip():
                yield Moment(step.at, Counter({"step": 1, "play": 1, "rank": table.voices}))
            case StartFade():
                channels = table.groups[step.group].channels
                one = self._start(step)
                yield Moment(step.at, Counter({"step": 1}))
                if step.stagger == 0:
                    yield Moment(step.at, _times(channels, one))
                for place in range(channels if step.stagger else 0):
                    yield Moment(step.at + place * abs(step.stagger), one + Counter({"along": 1}))
            case ChangeCount():
                yield Moment(step.at, Counter({"step": 1}))
                for group, look in zip(table.groups, self._looks, strict=True):
                    if group.gauge == step.counter:
                        yield Moment(step.at, _times(group.channels, look + Counter({"gauge": 1})))

    def _start(self, step: StartFade) -> Units:
        """A curve that starts on one channel."""
        fade = self._table.fades[step.fade]
        begin = 0
        while begin < len(fade.segments) and fade.segments[begin].length == 0:
            begin += 1
        known = begin > 0 and fade.segments[begin - 1].target != AMBIENT
        units = Counter({"start": 1, "end": begin})
        return units if known and not step.ambient else units + self._looks[step.group]

    # ---- looks ----

    def _look(self, fades: Iterable[int]) -> Units:
        """A look at a layer with one of these fades."""
        return self._most(
            Counter({_UNIT[segment.shape]: 1})
            for fade in fades
            for segment in self._table.fades[fade].segments
        )

    def _end(self, fades: Iterable[int]) -> Units:
        """What a look has to do besides where most ends. After that, nothing does in this frame."""
        return self._most(units for fade in fades for units in _ends(self._table.fades[fade]))

    def _most(self, many: Iterable[Units]) -> Units:
        return max(many, key=self.cycles, default=Counter())


def _ends(fade: FadeCurve) -> Iterator[Units]:
    """What ends together with each of its segments."""
    for place in range(len(fade.segments)):
        units: Units = Counter()
        at: int | None = place
        for _ in range(_ENDS):
            units["end"] += 1
            units["flicker"] += fade.segments[at].shape == Shape.FLICKER
            if at < len(fade.segments) - 1:
                at += 1
            else:
                units["back"] += len(fade.segments) - (fade.turn or 0)
                at = fade.turn
            if at is None or fade.segments[at].length:
                break
        yield units


def _steps(table: Table) -> Iterator[Step]:
    return (step for effect in table.effects for step in effect.steps)


def _first(one: tuple[float, Units]) -> float:
    return one[0]


def _allows(trigger: TriggerRecord, selector: int, position: int) -> bool:
    return all(mask >> position & 1 for at, mask in trigger.conditions if at == selector)


def _times(count: int, units: Units) -> Units:
    return Counter({unit: count * each for unit, each in units.items()})


def frame_cycles(table: Table, clock_hz: float) -> float:
    """Cycles that there are in the time of a frame."""
    return clock_hz * table.samples_per_frame / table.sample_rate_hz
