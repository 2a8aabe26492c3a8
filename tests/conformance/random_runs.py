"""Tables and presses from a seed, some hundred a second: what `strategies` draws with hypothesis,
without its search, over wider ranges.

Every choice comes from one `random.Random`, so a seed is a case and says which one failed.
"""

from random import Random

from coded_data import clip_data, slow_turn

from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape
from fxseq.player import Press, PressKind
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
from strategies import Run

MOST_AT_ONCE = 15
"""Steps of an effect in one frame: each may take two records, and length and spread come before
them (SPEC 3.8 R2).
"""
Step = PlayClip | StartFade | ChangeCount


def long_run(seed: int) -> Run:
    """Few things a second, but for 200,000 frames and with waits as long as they may be: counts
    of 16 bits and 65535 shots come to their ends.
    """
    chance = Random(seed)
    table = _Maker(chance, slow=True).table()
    presses: list[Press] = []
    for _ in range(40):
        presses += _gesture(chance, table, chance.randrange(199_000))
    return Run(table, tuple(presses), 200_000)


def random_run(seed: int) -> Run:
    """The case of a seed: mostly a small table, where everything meets everything; now and then
    one with a board's real sizes.
    """
    chance = Random(seed)
    table = _Maker(chance, large=chance.random() < 0.05).table()
    presses = []
    frame = 0
    for _ in range(chance.randint(6, 25)):
        frame += chance.choice((0, chance.randint(0, 4), chance.randint(0, 50)))
        presses += _gesture(chance, table, frame)
        frame = presses[-1].frame
    until = min(max(frame + chance.randint(1, 80), 40), 600)
    return Run(table, tuple(press for press in presses if press.frame < until), until)


def _gesture(chance: Random, table: Table, frame: int) -> list[Press]:
    """A press, a release, a bounce, a tap of no length, a hold, a selector moved or the volume
    turned.
    """
    kind = chance.choice(("press", "release", "bounce", "tap", "hold", "select", "volume"))
    if kind == "volume":
        return [Press(frame, PressKind.VOLUME, 0, chance.choice((0, 256, chance.randint(0, 256))))]
    if kind == "select" and table.selectors:
        index = chance.randrange(len(table.selectors))
        return [
            Press(
                frame, PressKind.SELECT, index, chance.randrange(table.selectors[index].positions)
            )
        ]
    index = chance.randrange(len(table.inputs))
    closing = PressKind.PRESS
    opening = PressKind.RELEASE
    if kind == "bounce":
        edges = [
            frame + wait
            for wait in sorted(chance.randint(0, 4) for _ in range(chance.randint(3, 5)))
        ]
        return [Press(at, (closing, opening)[order % 2], index) for order, at in enumerate(edges)]
    if kind in ("tap", "hold"):
        return [
            Press(frame, closing, index),
            Press(frame + (chance.randint(0, 60) if kind == "hold" else 0), opening, index),
        ]
    return [Press(frame, opening if kind == "release" else closing, index)]


class _Maker:
    """One table. Records are made in the order of SPEC 3, each from those before it."""

    def __init__(self, chance: Random, large: bool = False, slow: bool = False) -> None:
        self.chance = chance
        self.large = large
        self.slow = slow

    def table(self) -> Table:
        chance = self.chance
        self.channels = chance.randint(1, 255) if self.large else chance.randint(1, 7)
        self.inputs = tuple(
            InputRecord(chance.choice(tuple(InputKind)), chance.choice((0, 1, 2, 5, 20, 32767)))
            for _ in self._times(1, 3)
        )
        self.selectors = tuple(self._selector() for _ in self._times(0, 2))
        self.counters = tuple(self._counter() for _ in self._times(0, 2))
        self.groups = tuple(self._groups())
        self.fades = tuple(self._fade() for _ in self._times(1, 4))
        self.clips = tuple(self._clip() for _ in self._times(1, 3))
        self.effects = tuple(self._effect() for _ in self._times(2, 6))
        return Table(
            chance.choice((4000, 22050, 48000)),
            chance.randint(4, 256) if self.large else chance.randint(4, 8),
            self.channels,
            chance.randint(8, 16),
            chance.randint(1, 16) if self.large else chance.randint(1, 3),
            chance.choice(tuple(VoiceRule)),
            chance.choice((0, 1, 3, 7)),
            chance.randint(1, 2**32 - 1),
            self.inputs,
            self.selectors,
            self.counters,
            self.groups,
            self.fades,
            self.clips,
            self.effects,
            tuple(self._trigger() for _ in self._times(2, 6)),
        )

    def _times(self, least: int, most: int) -> range:
        return range(self.chance.randint(least, most))

    def _maybe(self, value: int, otherwise: int = 0) -> int:
        return value if self.chance.random() < 0.5 else otherwise

    def _ends(self, low: int, high: int) -> int:
        """Any value of a range, its two ends often."""
        return self.chance.choice(
            (low, high, self.chance.randint(low, high), self.chance.randint(low, high))
        )

    def _length(self, low: int = 0) -> int:
        chance = self.chance
        if self.slow:
            return chance.choice(
                (low, chance.randint(40, 500), chance.randint(30_000, 65_535), 65_535)
            )
        return chance.choice(
            (
                chance.randint(low, 3),
                chance.randint(low, 40),
                chance.randint(low, 40),
                chance.randint(low, 500),
            )
        )

    def _selector(self) -> SelectorRecord:
        positions = self.chance.choice((2, 2, 3, 16))
        return SelectorRecord(positions, self.chance.randrange(positions))

    def _counter(self) -> CounterRecord:
        maximum = self.chance.choice((1, 2, 3, 5, 6, 65535))
        return CounterRecord(maximum, self._maybe(maximum, self._ends(0, maximum)))

    def _groups(self) -> list[GroupRecord]:
        groups = []
        free = 0
        while free < self.channels and len(groups) < 4:
            first = self.chance.randint(free, min(free + 1, self.channels - 1))
            count = self.chance.randint(1, self.channels - first)
            gauge = self.chance.choice((None, *range(len(self.counters))))
            groups.append(GroupRecord(first, count, self.chance.choice(tuple(Merge)), gauge))
            free = first + count
        return groups

    def _fade(self) -> FadeCurve:
        segments = tuple(self._segment() for _ in self._times(1, 4))
        turn = self.chance.choice((None, 0, self.chance.randrange(len(segments))))
        return FadeCurve(segments, slow_turn(segments, turn))

    def _segment(self) -> FadeSegment:
        shape = self.chance.choice(tuple(Shape))
        target = self.chance.choice((AMBIENT, 0, 65535, self.chance.randint(0, 65535)))
        if shape != Shape.FLICKER:
            return FadeSegment(shape, self._length(), target)
        target = max(target, 0)
        return FadeSegment(
            shape,
            self._length(1),
            target,
            self.chance.randint(0, target // 257) * 257,
            self.chance.choice((65535, *(65536 // every for every in range(2, 10)), 851, 2)),
        )

    def _clip(self) -> ClipRecord:
        chance = self.chance
        coding = self.chance.choice(tuple(Coding))
        samples = chance.choice(
            (
                chance.randint(1, 4),
                chance.randint(32, 40),
                chance.randint(1, 400),
                chance.randint(400, 1600),
            )
        )
        step = chance.choice((65536, chance.randint(20000, 120000), self._ends(2, 262143)))
        loop_start = (
            self._ends(0, samples - 32) if samples >= 32 and chance.random() < 0.7 else None
        )
        data = clip_data(chance.choice((chance.randbytes, _loudest)), coding, samples, loop_start)
        return ClipRecord(coding, step, samples, data, loop_start)

    def _effect(self) -> EffectRecord:
        chance = self.chance
        steps: list[Step] = []
        at = 0
        for _ in self._times(0, chance.choice((2, 5, 5, 20))):
            at = min(at + self._maybe(self._length()), 65535)
            if sum(step.at == at for step in steps) < MOST_AT_ONCE:
                steps.append(self._step(at))
        return EffectRecord(
            tuple(steps),
            self._maybe(self._length()),
            self._maybe(self._ends(1, 255)),
            self._maybe(self._ends(1, 255)),
        )

    def _step(self, at: int) -> Step:
        chance = self.chance
        kind = chance.choice(
            (PlayClip, *([StartFade] if self.groups else []), *([ChangeCount] if self.counters else []))
        )
        if kind is PlayClip:
            gain = chance.choice((4096, chance.randint(0, 8192), 32767))
            return PlayClip(
                at,
                chance.randrange(len(self.clips)),
                gain,
                chance.choice((None, 1, chance.randint(1, 40), 65535)),
            )
        if kind is StartFade:
            stagger = self._maybe(chance.choice((chance.randint(-5, 9), -32768, 32767)))
            group = chance.randrange(len(self.groups))
            ambient = self.groups[group].gauge is None and chance.random() < 0.5
            return StartFade(at, group, chance.randrange(len(self.fades)), stagger, ambient)
        return ChangeCount(
            at, chance.randrange(len(self.counters)), chance.choice((*range(-3, 4), -65535, 65535))
        )

    def _trigger(self) -> TriggerRecord:
        chance = self.chance
        mode = self.chance.choice(tuple(Mode))
        effects = range(len(self.effects))
        needs = chance.choice((None, *range(len(self.counters))))
        return TriggerRecord(
            mode,
            self._stay() if mode.stays else self._shots(mode == Mode.REPEAT),
            None if mode == Mode.ALWAYS else chance.randrange(len(self.inputs)),
            self._maybe(self._length()),
            self._conditions(),
            needs,
            None if needs is None else chance.choice((None, *effects)),
        )

    def _conditions(self) -> tuple[tuple[int, int], ...]:
        if not self.selectors or self.chance.random() < 0.5:
            return ()
        chosen = [self.chance.randrange(len(self.selectors)) for _ in self._times(1, 2)]
        return tuple(
            (index, self.chance.randint(1, 2 ** self.selectors[index].positions - 1))
            for index in chosen
        )

    def _stay(self) -> Stay:
        named = self.chance.randint(1, 7)
        return Stay(
            *(
                self.chance.randrange(len(self.effects)) if named & bit else None
                for bit in (1, 2, 4)
            )
        )

    def _shots(self, repeats: bool) -> Shots:
        chance = self.chance
        effects = tuple(chance.randrange(len(self.effects)) for _ in self._times(1, 4))
        if not repeats:
            return Shots(effects, chance.random() < 0.5)
        periods = (
            (256, 20_000, 2**23 - 1)
            if self.slow
            else (256, chance.randint(256, 2000), chance.randint(256, 12000), 2**23 - 1)
        )
        burst = chance.choice((1, 2, 3, 5, 255))
        ramp_shots = self._maybe(chance.choice((1, 2, 5, 255)))
        return Shots(
            effects,
            chance.random() < 0.5,
            chance.choice(periods),
            self._maybe(chance.choice((1, 255, chance.randint(1, 12000), 2**24 - 1))),
            burst,
            self._maybe(burst + chance.randint(0, 6)),
            ramp_shots,
            chance.choice((256, chance.randint(256, 12000), 2**23 - 1)) if ramp_shots else 0,
        )


def _loudest(size: int) -> bytes:
    """Full scale, so that sums are held: mu-law 00 is the lowest sample, PCM 7FFF and 8000 in
    turn are the ends.
    """
    return (bytes((0xFF, 0x7F, 0x00, 0x80)) * size)[:size]
