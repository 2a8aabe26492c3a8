"""The dearest frames that tables can ask for, against what the compiler takes them for:
`python tests/speed/worst.py [--tables 400]`.

Tables are drawn at random among what is dear: all voices in a dear coding at a high step, all that
there is started by one press, flickers on all channels, staggered fades, gauges, curves that end in
that very frame. Triggers of all modes act together in it: an input goes down, another is let go,
waits are over, shots are due, a selector turns. Each is played on the emulated Cortex-M0 and ATmega328P (cortex_m0.py, avr.py), and
its dearest frame held against the bound of `fxseq.table.frame_work`, which none may exceed. Of
those that the check `table.work` has nothing to say of, the dearest is told.

--fit prints the figures of `CYCLES` anew: the least that cover every frame of other such tables,
and are nearest to those of plain and crowded ones, in which the bound should be met (a linear
program).
"""

import argparse
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import NamedTuple

import avr
import cortex_m0
import numpy as np
from cases import PRESS, Clock, Played
from scipy.optimize import linprog

from fxseq import clips
from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape
from fxseq.table import (
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
    Table,
    TriggerRecord,
    VoiceRule,
)
from fxseq.table.frame_work import CYCLES, MOST_SHARE, FrameWork, Kind, frame_cycles

FRAMES = 20
MARGIN = 1.02
"""Of the fitted figures, over the frames that they cover."""
LEAST: dict[Kind, dict[str, int]] = {
    "cortex_m": {
        "condition": 50, "fading": 70, "gauge": 60, "let_go": 490, "mix": 38, "rank": 60,
        "sample": 30, "start": 65, "stop": 120, "trigger": 100, "voice": 150,
    },
    "avr": {
        "condition": 100, "fading": 200, "gauge": 250, "let_go": 1400, "mix": 140, "rank": 150,
        "sample": 80, "start": 200, "stop": 300, "trigger": 150, "voice": 300,
    },
}  # fmt: skip
"""Of the fitted figures, rounded from what functions took in single frames: else other things
that are always there with these could stand for them, but not where there are more voices,
samples, lights or triggers than are tried.
"""
AT_PRESS = PRESS.frame
"""Frame in which all comes together."""


class Target(NamedTuple):
    """A processor, and what the player's build for it has room for."""

    kind: Kind
    clock: Clock
    hz: float
    inputs: int
    channels: int
    voices: int
    triggers: int
    codings: Sequence[Coding]
    play: Callable[[list[Table]], list[Played]]


class Drawn:
    """A table from a seed."""

    def __init__(self, seed: int, target: Target) -> None:
        self.chance = Random(seed)
        self.target = target
        self.clips = [self.clip() for _ in range(2)]
        self.groups = self.split()
        self.fades: list[FadeCurve] = []
        self.voices = target.voices
        self.samples = target.clock.samples_per_frame

    def some(self, share: float) -> bool:
        return self.chance.random() < share

    def clip(self) -> ClipRecord:
        """Noise that loops."""
        chance = self.chance
        coding = chance.choice(self.target.codings)
        samples = chance.choice((32, 100, 400))
        step = chance.choice((16384, 65536, 65536, 131072, 196608, 262143))
        return ClipRecord(coding, step, samples, dear_bytes(chance, coding, samples), 0)

    def split(self) -> list[GroupRecord]:
        """All channels, in up to three groups."""
        channels = self.target.channels if self.some(0.8) else self.chance.randint(1, 4)
        groups: list[GroupRecord] = []
        while channels and len(groups) < 3:
            first = sum(group.channels for group in groups)
            count = channels if len(groups) == 2 else self.chance.randint(1, channels)
            gauge = 0 if self.some(0.2) else None
            groups.append(GroupRecord(first, count, self.chance.choice(list(Merge)), gauge))
            channels -= count
        return groups

    def fade(self) -> int:
        """Its index. Most are over, or come round, in the frame of the press."""
        while True:
            curve = self.curve()
            if curve.is_slow_enough(16, 8) and (curve.turn is None or curve.length):
                self.fades.append(curve)
                return len(self.fades) - 1

    def curve(self) -> FadeCurve:
        chance = self.chance
        lengths = chance.choice(
            ([AT_PRESS], [0, AT_PRESS], [2, 3], [0, 0, 5, 0], [1], [400], [0], [0] * 5 + [1, 4])
        )
        if self.some(0.05):
            lengths = [1] * chance.randint(20, 80)
        shape = None if self.some(0.4) else chance.choice(list(Shape))
        segments = tuple(self.segment(shape, length) for length in lengths)
        loops = self.some(0.5) and sum(lengths) > 0
        return FadeCurve(segments, chance.randrange(2) % len(lengths) if loops else None)

    def segment(self, shape: Shape | None, length: int) -> FadeSegment:
        chance = self.chance
        shape = chance.choice(list(Shape)) if shape is None else shape
        if shape == Shape.FLICKER and length:
            return FadeSegment(shape, length, 65535, 257 * chance.randrange(256), 30000)
        if shape == Shape.FLICKER:
            shape = Shape.EASE
        target = AMBIENT if self.some(0.2) else chance.randrange(65536)
        return FadeSegment(shape, length, target)

    def step(self, at: int) -> PlayClip | StartFade | ChangeCount:
        chance = self.chance
        kind = chance.random()
        if kind < 0.15:
            return PlayClip(at, chance.randrange(2), 3000, chance.choice((None, 50)))
        if kind < 0.25:
            return ChangeCount(at, 0, chance.choice((-1, 1)))
        group = chance.randrange(len(self.groups))
        ambient = self.groups[group].gauge is None and self.some(0.3)
        return StartFade(at, group, self.fade(), chance.choice((0, 0, 0, 1, -2)), ambient)

    def table(self) -> Table:
        chance = self.chance
        target = self.target
        always = [
            StartFade(0, group, self.fade(), 0, ambient)
            for group, record in enumerate(self.groups)
            for ambient in (True, False)
            if self.some(0.7) and not (ambient and record.gauge is not None)
        ]
        sounding = chance.randint(0, self.voices)
        always += [PlayClip(0, chance.randrange(2), 3000, 50) for _ in range(sounding)]
        always += [self.step(AT_PRESS) for _ in range(chance.choice((0, 0, 1, 3)))]
        spread = chance.choice((0, 0, 255))
        effects = [EffectRecord(tuple(always), 0, spread)]
        for _ in range(chance.randint(1, target.triggers - 1)):
            steps = tuple(self.step(0) for _ in range(chance.choice((0, 1, 1, 2, 4))))
            length = chance.choice((0, AT_PRESS))
            effects.append(EffectRecord(steps, length, chance.choice((0, 100))))
        plain = self.some(0.5)
        acting = [
            TriggerRecord(Mode.ONCE, Shots((effect,)), 0) if plain else self.trigger(effect)
            for effect in range(1, len(effects))
        ]
        return self.of(effects, (TriggerRecord(Mode.ALWAYS, Stay(0)), *acting))

    def trigger(self, effect: int) -> TriggerRecord:
        """One that most likely does something in the frame in which the first input goes down, the
        second is let go, the third has been down for a while and the selector turns from 0 to 1.
        """
        chance = self.chance
        mode = chance.choice(list(Mode))
        conditions = () if self.some(0.5) else ((0, chance.choice((1, 2, 3, 13))),)
        needs = 0 if self.some(0.2) else None
        at_input = None if mode == Mode.ALWAYS else chance.randrange(self.target.inputs)
        hold = chance.choice((0, AT_PRESS)) if at_input in (None, 2) else 0
        action: Shots | Stay = Stay(*(chance.choice((None, effect)) for _ in range(2)), effect)
        if mode == Mode.ONCE:
            action = Shots((effect,))
        elif mode == Mode.REPEAT:
            burst = chance.choice((1, 1, 2, 6))
            limit = chance.choice((0, burst))
            period = 256 * chance.choice((1, AT_PRESS))
            ramp = chance.choice((0, 0, 3))
            action = Shots((effect,), False, period, 0, burst, limit, ramp, 300 if ramp else 0)
        empty = None if needs is None else effect
        return TriggerRecord(mode, action, at_input, hold, conditions, needs, empty)

    def of(self, effects: Sequence[EffectRecord], triggers: Sequence[TriggerRecord]) -> Table:
        """What has been drawn, with these."""
        chance = self.chance
        return Table(
            self.target.clock.rate_hz,
            self.samples,
            self.target.channels,
            12,
            self.voices,
            chance.choice(list(VoiceRule)),
            chance.choice((0, 1, 3)),
            7,
            tuple(InputRecord(InputKind.BUTTON, AT_PRESS) for _ in range(self.target.inputs)),
            (SelectorRecord(4, 0),),
            (CounterRecord(12, 6),),
            tuple(self.groups),
            tuple(self.fades),
            tuple(self.clips),
            tuple(effects),
            tuple(triggers),
        )


class Crowded(Drawn):
    """A table in which all lights do the same, and more and more of it starts in the frame of the
    press; in that frame, all sounds may be let go.
    """

    def table(self) -> Table:
        chance = self.chance
        gauge = 0 if self.some(0.2) else None
        self.groups = [GroupRecord(0, self.target.channels, chance.choice(list(Merge)), gauge)]
        layers = (True, False) if gauge is None else (False,)
        under = [StartFade(0, 0, self.fade(), 0, ambient) for ambient in layers if self.some(0.8)]
        sounds = [PlayClip(0, chance.randrange(2), 3000, 50)] * chance.randint(0, self.voices)
        kinds = [StartFade(0, 0, self.fade(), 0, chance.choice(layers)), PlayClip(0, 0, 3000, 50)]
        step = chance.choice([*kinds[:1] * 3, kinds[1], ChangeCount(0, 0, -1)])
        effects = [
            EffectRecord(tuple(under)),
            EffectRecord((step,) * chance.randint(0, 6)),
            EffectRecord(tuple(sounds)),
        ]
        sounding = TriggerRecord(Mode.WHILE_HELD, Stay(2), 1)
        if self.some(0.5):
            sounding = TriggerRecord(Mode.ALWAYS, Stay(2))
        pressed = TriggerRecord(Mode.ONCE, Shots((1,)), 0)
        return self.of(effects, (TriggerRecord(Mode.ALWAYS, Stay(0)), sounding, pressed))


class Plain(Drawn):
    """A table that does one kind of thing in the frame of the press, beside what goes on."""

    def curve(self) -> FadeCurve:
        lengths = self.chance.choice(
            ([AT_PRESS], [AT_PRESS], [0, AT_PRESS], [AT_PRESS, 0, 0], [1] * 5)
        )
        shape = self.chance.choice(list(Shape))
        segments = [self.plain_segment(shape, length) for length in lengths]
        return FadeCurve(tuple(segments), 0 if self.some(0.7) else None)

    def plain_segment(self, shape: Shape, length: int) -> FadeSegment:
        """Its flickers go all the way down, and none goes to the ambient level."""
        if shape == Shape.FLICKER and length:
            return FadeSegment(shape, length, 65535, 0, 30000)
        shape = Shape.EASE if shape == Shape.FLICKER else shape
        return FadeSegment(shape, length, self.chance.randrange(65536))

    def table(self) -> Table:
        chance = self.chance
        target = self.target
        self.samples = chance.choice((8, target.clock.samples_per_frame, 32))
        self.voices = chance.randint(1, target.voices)
        self.clips = [self.clip()]
        gauge = 0 if self.some(0.2) else None
        channels = chance.randint(1, target.channels)
        self.groups = [GroupRecord(0, channels, chance.choice(list(Merge)), gauge)]
        lit = [
            StartFade(0, 0, self.fade(), 0, ambient)
            for ambient in (True, False)
            if self.some(0.6) and not (ambient and gauge is not None)
        ]
        heard = [PlayClip(0, 0, 3000, 50)] * (self.voices if self.some(0.7) else 0)
        effects = [EffectRecord((*lit, *heard))]
        for _ in range(chance.randint(0, target.triggers - 1)):
            effects.append(EffectRecord(()))
        kinds = [[], [ChangeCount(0, 0, 1)] * chance.randint(1, 4)]
        if heard:
            kinds.append([PlayClip(0, 0, 3000, 50)] * chance.randint(1, 4))
        for step in lit:
            for stagger in (0, 0, 1):
                kinds.append([StartFade(0, 0, step.fade, stagger, step.ambient)])
        steps = chance.choice(kinds)
        if self.some(0.3):
            late = tuple(replace(step, at=AT_PRESS) for step in steps)
            effects[0] = replace(effects[0], steps=effects[0].steps + late)
        elif len(effects) > 1:
            effects[1] = replace(effects[1], steps=tuple(steps))
        pressed = [
            TriggerRecord(Mode.ONCE, Shots((effect,)), 0, conditions=((0, 1 << position),))
            for effect in range(1, len(effects))
            for position in [1 if effect == 1 or self.some(0.4) else chance.choice((0, 2, 3))]
        ]
        return self.of(effects, (TriggerRecord(Mode.ALWAYS, Stay(0)), *pressed))


@cache
def rice_noise(samples: int) -> bytes:
    """What the encoder makes of noise at full scale, the longest numbers that it writes all the
    time.
    """
    noise = np.random.default_rng(3).integers(-32768, 32768, samples).astype(np.int16)
    return clips.encode(noise, Coding.LPC_RICE.text)


def dear_bytes(chance: Random, coding: Coding, samples: int) -> bytes:
    """Of a clip of less than one block."""
    if coding == Coding.LPC_RICE:
        return rice_noise(samples)
    data = bytearray(chance.randbytes(clips.byte_count(coding.text, samples)))
    if coding == Coding.IMA_ADPCM:
        data[2:4] = 88, 0
    return bytes(data)


def draw(seeds: Sequence[int], target: Target) -> list[Table]:
    """Of every third seed a crowded one."""
    return [(Drawn if seed % 3 else Crowded)(seed, target).table() for seed in seeds]


def dearest(target: Target, tables: list[Table]) -> list[int]:
    """Cycles of the dearest frame of each; of frame 0, which writes every duty, nothing."""
    return [int(played.frames()[1:].max()) for played in target.play(tables)]


def fitted(target: Target, met: list[Table], drawn: list[Table]) -> dict[str, int]:
    """The least figures that cover the frames of both, by those in which the bound should be met."""
    tables = met + drawn
    units = [FrameWork(table, target.kind).dearest() for table in tables]
    names = sorted(set().union(*units))
    counts = np.array([[one[name] for name in names] for one in units], float)
    taken = np.array(dearest(target, tables), float)
    excess = (counts / taken[:, None])[: len(met)].sum(axis=0)
    least = LEAST[target.kind]
    bounds = [(least.get(name, 0), None) for name in names]
    found = linprog(excess, -counts, -taken, bounds=bounds)
    over = counts @ found.x / taken
    for name, some in (("to be met", over[: len(met)]), ("drawn", over[len(met) :])):
        quarters = np.quantile(some, (0, 0.25, 0.5, 0.75, 1)).round(2)
        print(f"bound over what frames take, {name}: {quarters}")
    return {
        name: int(np.ceil(MARGIN * value)) for name, value in zip(names, found.x, strict=True)
    }


def print_worst(target: Target, tables: list[Table], first: int) -> None:
    """How near frames come to the bound, and the dearest that the check passes."""
    there = frame_cycles(tables[0], target.hz)
    bounds = [FrameWork(table, target.kind).worst_cycles for table in tables]
    taken = dearest(target, tables)
    shares = np.array(taken) / bounds
    passed = [i for i, bound in enumerate(bounds) if bound <= MOST_SHARE * there]
    worst = max(passed, key=lambda i: taken[i], default=0)
    print(
        f"{target.kind}: {len(tables)} tables; their dearest frames take {shares.min():.0%} to"
        f" {shares.max():.1%} of the bound ({first + shares.argmax()}), {np.median(shares):.0%} in"
        " the middle.\n"
        f"  passed by the check: {len(passed)}; the dearest, {first + worst}, takes {taken[worst]}"
        f" of {there:.0f} cycles, {taken[worst] / there:.0%} (bound {bounds[worst]:.0f})\n"
        f"  beyond the bound: {[first + int(i) for i in np.flatnonzero(shares > 1)]}"
    )


def targets(folder: Path) -> list[Target]:
    """The processors that cycles are known of."""
    small = avr.Player(folder / "avr", FRAMES)
    on_m0 = partial(cortex_m0.play, folder=folder, frames=FRAMES)
    return [
        Target("cortex_m", Clock(22050, 21), 48e6, 3, 24, 4, 12, tuple(Coding), on_m0),
        Target("avr", Clock(8000, 16), 16e6, 2, 6, 2, 4, avr.CODINGS, small.play),
    ]


def main() -> None:
    """Print either."""
    asked = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    asked.add_argument("--tables", type=int, default=400)
    asked.add_argument("--first", type=int, default=0, help="seed of the first one")
    asked.add_argument("--fit", action="store_true")
    given = asked.parse_args()
    first = given.first + 1_000_000 * given.fit
    with tempfile.TemporaryDirectory() as place:
        for target in targets(Path(place)):
            seeds = range(first, first + given.tables)
            if given.fit:
                plain, crowded, drawn = (
                    [kind(seed, target).table() for seed in seeds]
                    for kind in (Plain, Crowded, Drawn)
                )
                print(target.kind, fitted(target, plain + crowded, drawn), flush=True)
            else:
                print_worst(target, draw(seeds, target), first)


if __name__ == "__main__":
    main()
