"""The dearest frame that a table may ask for, in cycles of a board's processor.

It is a bound, not a forecast: whatever can start together starts, as far as inputs and selectors
allow it (`acting`), what is under way goes on as dear as it can, every voice plays the dearest
clip, every channel is looked at, and the dearest segment of each layer ends just then.
"""

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Literal, NamedTuple

from fxseq.light import AMBIENT, FadeCurve, Shape
from fxseq.table.acting import Gate, Held, Turn, gates, holds, turns
from fxseq.table.records import (
    RUNNING_EFFECTS,
    ChangeCount,
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
        "along": 229, "back": 35, "block": 479, "channel": 91, "condition": 160, "decay": 155,
        "divide": 471, "duty": 176, "ease": 132, "effect": 651, "end": 184, "fading": 72, "flat":
        138, "flicker": 139, "frame": 0, "gauge": 62, "ima_adpcm": 72, "let_go": 500, "look": 76,
        "lpc_rice": 288, "mix": 39, "mulaw": 15, "pcm16": 7, "place": 0, "play": 276, "qoa": 179,
        "rank": 62, "run": 321, "sample": 31, "start": 67, "step": 195, "stop": 123, "straight":
        140, "trigger": 102, "voice": 402,
    },
    "avr": {
        "along": 637, "back": 31, "block": 0, "channel": 401, "condition": 102, "decay": 668,
        "divide": 576, "duty": 1069, "ease": 678, "effect": 1166, "end": 324, "fading": 260, "flat":
        218, "flicker": 743, "frame": 0, "gauge": 638, "ima_adpcm": 139, "let_go": 1428, "look": 0,
        "mix": 143, "mulaw": 56, "pcm16": 49, "place": 99, "play": 959, "rank": 153, "run": 976,
        "sample": 189, "start": 204, "step": 718, "stop": 306, "straight": 291, "trigger": 153,
        "voice": 306,
    },
}  # fmt: skip
"""What each thing takes at the most: figures that cover every frame which `python
tests/speed/worst.py --fit --tables 1000` played on the emulated processors. They are one of many
such sets; sums are what they were made for.
"""


_UNIT = {shape: shape.name.lower() for shape in Shape} | {Shape.STEP: "flat"}
"""Of a segment under way; `step` is one of an effect."""


class Units(dict[str, int]):
    """How often each thing is done that CYCLES has, and what all of it takes, known from the
    start: of thousands that are held against each other, few are looked into. Not to be changed.
    """

    def __init__(self, counts: Mapping[str, int], cycles: float) -> None:
        """cycles: endless in a coding that the processor cannot decode."""
        super().__init__(counts)
        self.cycles = cycles

    def __missing__(self, unit: str) -> int:
        return 0

    def __add__(self, other: "Units") -> "Units":
        counts = dict(self)
        for unit, count in other.items():
            counts[unit] = counts.get(unit, 0) + count
        return Units(counts, self.cycles + other.cycles)

    def times(self, count: int) -> "Units":
        """All of it so often."""
        if count == 0:
            return NOTHING
        return Units({unit: count * each for unit, each in self.items()}, count * self.cycles)


NOTHING = Units({}, 0)


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
            sum((self._look(layer) for layer in layers), self._units(look=1)) for layers in fades
        ]
        self._ends = [sum((self._end(layer) for layer in layers), NOTHING) for layers in fades]
        self._effects = [self._moments(effect) for effect in table.effects]
        self._by_input: dict[int | None, list[int]] = {}
        for index, trigger in enumerate(table.triggers):
            self._by_input.setdefault(trigger.input, []).append(index)
        self._known: dict[tuple[int, Gate], Units] = {}
        self._most_at: dict[tuple[int, Held, Turn | None], Units] = {}
        self._acts = self._acting()
        self._goes_on = [self._later(trigger) for trigger in table.triggers]

    @property
    def dearest_trigger(self) -> int:
        """Index of the one that does most in the dearest frame."""
        does = [
            self._together((now, *later))
            + max(map(self._lasts, self._steps_of(trigger)), default=0)
            for trigger, now, later in zip(
                self._table.triggers, self._acts, self._goes_on, strict=True
            )
        ]
        return does.index(max(does))

    def dearest_step(self, trigger: int) -> tuple[int, Step] | None:
        """Of what a trigger may start: what takes most while it lasts, and the index of its effect;
        None where it starts nothing.
        """
        steps = self._steps_of(self._table.triggers[trigger])
        return max(steps, key=self._lasts, default=None)

    def dearest(self) -> Units:
        """What the dearest frame does."""
        return self.sound() + self.light() + self.starts()

    @property
    def worst_cycles(self) -> float:
        """What the dearest frame takes."""
        return self.dearest().cycles

    def share(self, clock_hz: float) -> float:
        """What part of the time of a frame the dearest takes."""
        return self.worst_cycles / frame_cycles(self._table, clock_hz)

    def sound(self) -> Units:
        """Mixing, with the dearest clip in all voices."""
        table = self._table
        samples = table.samples_per_frame
        blocks = -(-samples // BLOCK_SAMPLES)
        voices = [
            self._voice(step, effect)
            for effect in table.effects
            for step in effect.steps
            if isinstance(step, PlayClip)
        ]
        once = self._units(frame=1, block=blocks, sample=samples)
        return once + self._most(voices).times(table.voices)

    def _voice(self, played: PlayClip, effect: EffectRecord) -> Units:
        clip = self._table.clips[played.clip]
        samples = self._table.samples_per_frame
        step = clip.step * (4096 + 4 * effect.pitch_spread) >> 12
        decoded = (samples * step >> 16) + 1
        shortest = _SHORTEST_BLOCK if clip.loop_start is None else clip.samples - clip.loop_start
        return self._units(
            voice=-(-samples // BLOCK_SAMPLES),
            mix=samples,
            run=decoded // min(shortest, _SHORTEST_BLOCK) + 1,
            fading=-(-samples // 4) if self._may_be_held(played) else 0,
            **{clip.coding.text: decoded},
        )

    def _may_be_held(self, step: Step) -> bool:
        return (
            isinstance(step, PlayClip)
            and step.release is not None
            and self._table.clips[step.clip].loop_start is not None
        )

    def light(self) -> Units:
        """A look at each channel, on both of whose layers segments end."""
        units = self._units(channel=self._table.channels)
        for group, look, end in zip(self._table.groups, self._looks, self._ends, strict=True):
            units += (look + end + self._units(duty=1)).times(group.channels)
        return units

    def starts(self) -> Units:
        """What triggers do together in their dearest frame, and effects that go on."""
        conditions = sum(len(trigger.conditions) for trigger in self._table.triggers)
        units = self._units(trigger=len(self._table.triggers), condition=conditions)
        later = sorted(chain(*self._goes_on), key=_cycles, reverse=True)
        return sum([*self._acts, *later[:RUNNING_EFFECTS]], units)

    # ---- triggers ----

    def _acting(self) -> list[Units]:
        """What each trigger starts in the frame in which all start most. Each selector sets a
        bound for them all.
        """
        bounds = [
            max(map(self._at_turn, possible), key=self._together) for possible in turns(self._table)
        ]
        return min(bounds, key=self._together)

    def _at_turn(self, turn: Turn | None) -> list[Units]:
        """What each starts at the most while a selector does this."""
        started: dict[int, Units] = {}
        for at_input in self._by_input.values():
            records = [self._table.triggers[trigger] for trigger in at_input]
            dearest = max(
                (
                    [self._at(trigger, held, turn) for trigger in at_input]
                    for held in holds(records)
                ),
                key=self._together,
            )
            started |= zip(at_input, dearest, strict=True)
        return [units for _, units in sorted(started.items())]

    def _at(self, trigger: int, held: Held, turn: Turn | None) -> Units:
        record = self._table.triggers[trigger]
        if turn is not None and all(selector != turn.selector for selector, _ in record.conditions):
            turn = None  # which it does not heed
        if (trigger, held, turn) not in self._most_at:
            acts = (self._act(trigger, gate) for gate in gates(record, held, turn))
            self._most_at[trigger, held, turn] = self._most(acts)
        return self._most_at[trigger, held, turn]

    def _act(self, trigger: int, gate: Gate) -> Units:
        """What a trigger starts (SPEC 5.4)."""
        if (trigger, gate) not in self._known:
            record = self._table.triggers[trigger]
            action = record.action
            self._known[trigger, gate] = (
                self._shoot(record, action, gate)
                if isinstance(action, Shots)
                else self._stay(record, action, gate)
            )
        return self._known[trigger, gate]

    def _shoot(self, trigger: TriggerRecord, action: Shots, gate: Gate) -> Units:
        """A shot. A burst that goes on after its input was let go may end with one where the next
        begins.
        """
        bursts = action.burst > 1
        if trigger.mode == Mode.ONCE:
            shots = int(gate.rises and gate.fresh)
        else:
            shots = int(gate.was_open or gate.is_open or bursts)
            shots += gate.rises and bursts and (action.limit > 0 or trigger.needs is not None)
        shot = self._most(map(self._first, (*action.effects, trigger.empty)))
        return (shot + self._units(divide=int(action.ramp_shots > 0))).times(shots)

    def _stay(self, trigger: TriggerRecord, action: Stay, gate: Gate) -> Units:
        """A begin, a going on, or an end, before which it may go on."""
        begin, during = self._first(action.begin), self._first(action.during)
        begins = begin if self._length(action.begin) else begin + during
        begins = self._most((begins, self._first(trigger.empty)))
        goes_on = during if self._length(action.begin) or self._length(action.during) else NOTHING
        end = self._first(action.end) + self._let_go(action)
        if trigger.mode != Mode.ON_OFF:
            if gate.was_open:
                return goes_on if gate.is_open else goes_on + end
            return begins if gate.is_open else NOTHING
        if not gate.fresh:
            return goes_on
        return self._most((goes_on + end, begins if gate.rises else NOTHING))

    def _let_go(self, action: Stay) -> Units:
        """What it holds is forgotten, and all voices are let go if they may be its."""
        held = [self._table.effects[at] for at in (action.begin, action.during) if at is not None]
        loops = any(self._may_be_held(step) for effect in held for step in effect.steps)
        return self._units(stop=1, let_go=self._table.voices if loops else 0)

    def _first(self, effect: int | None) -> Units:
        """What starts with an effect."""
        return NOTHING if effect is None else self._effects[effect][0].units

    def _length(self, effect: int | None) -> int:
        return 0 if effect is None else self._table.effects[effect].length

    def _later(self, trigger: TriggerRecord) -> list[Units]:
        """What effects that it started before do in the frame in which they do most, one each.
        What it holds is forgotten where it ends.
        """
        action = trigger.action
        again = self._from_press_to_press(trigger)
        if isinstance(action, Shots):
            periods = (action.period, action.ramp_period, action.first)
            if action.period:
                again = min(again // 2, *(period // 256 for period in periods if period))
            one = self._dearest_row((*action.effects, trigger.empty), again)
            return one * (2 if action.burst > 1 else 1)  # the next burst may begin at once
        return (
            self._dearest_row((action.begin,), _FOR_EVER)
            + self._dearest_row((action.during,), self._length(action.during) or _FOR_EVER)
            + self._dearest_row((action.end, trigger.empty), again)
        )

    def _dearest_row(self, effects: Iterable[int | None], gap: int) -> list[Units]:
        """The most that these do behind their starts in one frame, if those are so many frames
        apart: what lies nearer to each other cannot come together.
        """
        named = {effect for effect in effects if effect is not None}
        found = sorted(
            (moment for effect in named for moment in self._effects[effect][1:]),
            key=lambda moment: moment.frame,
        )
        frames: list[int] = []
        best: list[tuple[float, list[Units]]] = [(0.0, [])]
        for frame, units in found:
            cycles, before = best[bisect_right(frames, frame - max(gap, 1))]
            frames.append(frame)
            best.append(max(best[-1], (cycles + units.cycles, [*before, units]), key=_first))
        return best[-1][1]

    def _from_press_to_press(self, trigger: TriggerRecord) -> int:
        """Frames, at the least: a lock-out down, and one up. A selector is taken not to be
        quicker, there and back.
        """
        if trigger.input is None:
            return _FOR_EVER if not trigger.conditions else 1
        return 2 * max(1, self._table.inputs[trigger.input].lockout)

    def _steps_of(self, trigger: TriggerRecord) -> list[tuple[int, Step]]:
        """Steps of all effects of a trigger, with the indices of these."""
        action = trigger.action
        if isinstance(action, Shots):
            named = {*action.effects, trigger.empty}
        else:
            named = {action.begin, action.during, action.end, trigger.empty}
        effects = sorted(effect for effect in named if effect is not None)
        return [(effect, step) for effect in effects for step in self._table.effects[effect].steps]

    def _lasts(self, started: tuple[int, Step]) -> float:
        """Cycles of a step's clip in all voices, or of its fade on all lights, where most ends."""
        effect, step = started
        table = self._table
        match step:
            case PlayClip():
                return table.voices * self._voice(step, table.effects[effect]).cycles
            case StartFade():
                look = self._look((step.fade,)) + self._end((step.fade,))
                return table.groups[step.group].channels * look.cycles
        return 0.0

    # ---- effects ----

    def _moments(self, effect: EffectRecord) -> list[Moment]:
        """What it does at its start, then at each frame in which it does more."""
        found: dict[int, Units] = {0: self._units(effect=1)}
        place = self._units(place=1)
        for step in effect.steps:
            for frame, units in self._step(step):
                found[frame] = found.get(frame, place) + units
        return [Moment(frame, units) for frame, units in sorted(found.items())]

    def _step(self, step: Step) -> Iterator[Moment]:
        table = self._table
        match step:
            case PlayClip():
                yield Moment(step.at, self._units(step=1, play=1, rank=table.voices))
            case StartFade():
                channels = table.groups[step.group].channels
                one = self._start(step)
                yield Moment(step.at, self._units(step=1))
                if step.stagger == 0:
                    yield Moment(step.at, one.times(channels))
                along = one + self._units(along=1)
                for place in range(channels if step.stagger else 0):
                    yield Moment(step.at + place * abs(step.stagger), along)
            case ChangeCount():
                yield Moment(step.at, self._units(step=1))
                for group, look in zip(table.groups, self._looks, strict=True):
                    if group.gauge == step.counter:
                        shown = (look + self._units(gauge=1)).times(group.channels)
                        yield Moment(step.at, shown + self._units(divide=1))

    def _start(self, step: StartFade) -> Units:
        """A curve that starts on one channel."""
        fade = self._table.fades[step.fade]
        begin = 0
        while begin < len(fade.segments) and fade.segments[begin].length == 0:
            begin += 1
        known = begin > 0 and fade.segments[begin - 1].target != AMBIENT
        units = self._units(start=1, end=begin)
        return units if known and not step.ambient else units + self._looks[step.group]

    # ---- looks ----

    def _look(self, fades: Iterable[int]) -> Units:
        """A look at a layer with one of these fades."""
        return self._most(
            self._units(**{_UNIT[segment.shape]: 1})
            for fade in fades
            for segment in self._table.fades[fade].segments
        )

    def _end(self, fades: Iterable[int]) -> Units:
        """What a look has to do besides where most ends. After that, nothing does in this frame."""
        return self._most(
            units for fade in fades for units in self._endings(self._table.fades[fade])
        )

    def _endings(self, fade: FadeCurve) -> Iterator[Units]:
        """What ends together with each of its segments."""
        for place in range(len(fade.segments)):
            end = flicker = back = 0
            at: int | None = place
            for _ in range(_ENDS):
                end += 1
                flicker += fade.segments[at].shape == Shape.FLICKER
                if at < len(fade.segments) - 1:
                    at += 1
                else:
                    back += len(fade.segments) - (fade.turn or 0)
                    at = fade.turn
                if at is None or fade.segments[at].length:
                    break
            yield self._units(end=end, flicker=flicker, back=back)

    def _units(self, **counts: int) -> Units:
        known = {unit: count for unit, count in counts.items() if count}
        return Units(
            known, sum(count * self._cycles.get(unit, math.inf) for unit, count in known.items())
        )

    def _together(self, many: Iterable[Units]) -> float:
        return sum(map(_cycles, many))

    def _most(self, many: Iterable[Units]) -> Units:
        return max(many, key=_cycles, default=NOTHING)


def _steps(table: Table) -> Iterator[Step]:
    return (step for effect in table.effects for step in effect.steps)


def _first(one: tuple[float, list[Units]]) -> float:
    return one[0]


def _cycles(units: Units) -> float:
    return units.cycles


def frame_cycles(table: Table, clock_hz: float) -> float:
    """Cycles that there are in the time of a frame."""
    return clock_hz * table.samples_per_frame / table.sample_rate_hz
