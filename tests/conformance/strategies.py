"""Tables and presses as hypothesis draws them: small enough to play fast, dense enough that
everything meets everything.

`tables()` are for playing: every mode and option, few frames a sample, few voices. `wide_tables()`
are for the bytes alone: every field over its whole range. Both are valid by SPEC section 3.

`FXSEQ_CASES=20000 pytest tests/conformance/test_two_players.py` tries that many, others each time,
in place of the same few hundred.
"""

import os
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

from coded_data import clip_data, slow_turn
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

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
    JointRecord,
    Merge,
    Mode,
    PlayClip,
    SelectorRecord,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    Use,
    VoiceRule,
)

CASES = int(os.environ.get("FXSEQ_CASES", "0"))


def often(examples: int) -> settings:
    """Try so many examples. Generating a table takes longer than hypothesis expects of an
    example.
    """
    slow = [HealthCheck.too_slow, HealthCheck.data_too_large]
    return settings(
        max_examples=CASES or examples,
        derandomize=not CASES,
        database=None,
        deadline=None,
        suppress_health_check=slow,
    )


Value = TypeVar("Value")
Draw = Callable[[st.SearchStrategy[Value]], Value]


@dataclass(frozen=True)
class Ranges:
    """How far the fields go: `small` for playing, `whole` as far as SPEC lets them."""

    sample_rates: st.SearchStrategy[int]
    samples_per_frame: st.SearchStrategy[int]
    channels: st.SearchStrategy[int]
    voices: st.SearchStrategy[int]
    lockouts: st.SearchStrategy[int]
    maxima: st.SearchStrategy[int]
    lengths: st.SearchStrategy[int]
    paces: st.SearchStrategy[int]
    waits: st.SearchStrategy[int]
    staggers: st.SearchStrategy[int]
    changes: st.SearchStrategy[int]
    clip_samples: st.SearchStrategy[int]
    periods: st.SearchStrategy[int]
    firsts: st.SearchStrategy[int]
    bursts: st.SearchStrategy[int]
    limits: st.SearchStrategy[int]


@cache
def ends(low: int, high: int) -> st.SearchStrategy[int]:
    """Any value of a range, its two ends often."""
    return st.one_of(st.sampled_from((low, high)), st.integers(low, high))


SMALL = Ranges(
    sample_rates=st.just(4000),
    samples_per_frame=st.integers(4, 8),
    channels=st.integers(1, 7),
    voices=st.integers(1, 3),
    lockouts=st.sampled_from((0, 1, 2, 5, 20)),
    maxima=st.one_of(st.integers(1, 6), st.just(65535)),
    lengths=st.one_of(st.integers(0, 3), st.integers(0, 40)),
    paces=st.integers(7000, 65535),
    waits=st.one_of(st.integers(1, 3), st.integers(1, 40)),
    staggers=st.integers(-5, 9),
    changes=st.one_of(st.integers(-3, 3), st.just(-65535), st.just(65535)),
    clip_samples=st.one_of(
        st.integers(1, 4), st.integers(32, 40), st.integers(32, 40), st.integers(1, 400)
    ),
    periods=st.one_of(st.integers(256, 2000), st.integers(256, 12000)),
    firsts=st.one_of(st.integers(1, 300), st.integers(1, 12000)),
    bursts=st.integers(2, 5),
    limits=st.integers(0, 6),
)
WHOLE = Ranges(
    sample_rates=ends(4000, 48000),
    samples_per_frame=ends(4, 256),
    channels=ends(1, 255),
    voices=ends(1, 16),
    lockouts=ends(0, 32767),
    maxima=ends(1, 65535),
    lengths=ends(0, 65535),
    paces=ends(2, 65535),
    waits=ends(1, 9000),
    staggers=ends(-32768, 32767),
    changes=ends(-65535, 65535),
    clip_samples=st.one_of(st.just(1), st.integers(1, 300)),
    periods=ends(256, 2**23 - 1),
    firsts=ends(1, 2**24 - 1),
    bursts=ends(2, 255),
    limits=ends(0, 65535 - 255),
)


@st.composite
def _tables(draw: Draw, ranges: Ranges) -> Table:
    channels = draw(ranges.channels)
    counters = draw(_several(_counters(ranges), 0, 2))
    groups = _groups(draw, channels, len(counters))
    fades = draw(_several(_fades(ranges), 1, 4))
    clips = draw(_several(_clips(ranges), 1, 3))
    inputs = draw(
        _several(st.builds(InputRecord, st.sampled_from(InputKind), ranges.lockouts), 1, 2)
    )
    selectors = draw(_several(_selectors(), 0, 2))
    effects = draw(_several(_effects(ranges, groups, len(fades), len(clips), len(counters)), 2, 6))
    triggers = draw(
        _several(_triggers(ranges, len(inputs), selectors, len(counters), len(effects)), 2, 6)
    )
    return Table(
        draw(ranges.sample_rates),
        draw(ranges.samples_per_frame),
        channels,
        draw(st.integers(8, 16)),
        draw(ranges.voices),
        draw(st.sampled_from(VoiceRule)),
        draw(st.sampled_from((0, 1, 3, 7))),
        draw(ends(1, 2**32 - 1)),
        inputs,
        selectors,
        counters,
        groups,
        fades,
        clips,
        effects,
        triggers,
        draw(st.lists(_joints(channels, len(inputs), selectors), max_size=3).map(tuple)),
    )


def tables() -> st.SearchStrategy[Table]:
    """Tables to be played for some hundred frames."""
    return _tables(SMALL)


def wide_tables() -> st.SearchStrategy[Table]:
    """Tables whose fields go as far as SPEC lets them; most are too slow to play."""
    return _tables(WHOLE)


@cache
def _several(
    items: st.SearchStrategy[Value], least: int, most: int
) -> st.SearchStrategy[tuple[Value, ...]]:
    """Any number of items, all numbers alike: `lists` alone would mostly draw few."""
    return st.integers(least, most).flatmap(
        lambda count: st.lists(items, min_size=count, max_size=count).map(tuple)
    )


@cache
@st.composite
def _counters(draw: Draw, ranges: Ranges) -> CounterRecord:
    maximum = draw(ranges.maxima)
    return CounterRecord(maximum, draw(st.one_of(st.just(maximum), ends(0, maximum))))


@cache
@st.composite
def _selectors(draw: Draw) -> SelectorRecord:
    positions = draw(ends(2, 16) if draw(st.booleans()) else st.just(2))
    return SelectorRecord(positions, draw(st.integers(0, positions - 1)))


def _groups(draw: Draw, channels: int, counters: int) -> tuple[GroupRecord, ...]:
    groups = []
    free = 0
    while free < channels and len(groups) < 4:
        first = draw(st.integers(free, min(free + 1, channels - 1)))
        count = draw(st.integers(1, channels - first))
        gauge = draw(st.one_of(st.none(), st.integers(0, counters - 1))) if counters else None
        groups.append(GroupRecord(first, count, draw(st.sampled_from(Merge)), gauge))
        free = first + count
    return tuple(groups)


@cache
@st.composite
def _segments(draw: Draw, ranges: Ranges) -> FadeSegment:
    shape = draw(st.sampled_from(Shape))
    target = draw(st.one_of(st.just(AMBIENT), st.sampled_from((0, 65535)), st.integers(0, 65535)))
    if shape != Shape.FLICKER:
        return FadeSegment(shape, draw(ranges.lengths), target)
    target = max(target, 0)
    return FadeSegment(
        shape,
        max(draw(ranges.lengths), 1),
        target,
        draw(st.integers(0, target // 257)) * 257,
        draw(ranges.paces),
    )


@cache
@st.composite
def _fades(draw: Draw, ranges: Ranges) -> FadeCurve:
    segments = draw(_several(_segments(ranges), 1, 4))
    turn = draw(st.one_of(st.none(), st.integers(0, len(segments) - 1)))
    return FadeCurve(segments, slow_turn(segments, turn))


@cache
@st.composite
def _clips(draw: Draw, ranges: Ranges) -> ClipRecord:
    coding = draw(st.sampled_from(Coding))
    samples = draw(ranges.clip_samples)
    step = draw(st.one_of(st.just(65536), st.integers(20000, 120000), ends(2, 262143)))
    chance = random.Random(draw(st.integers(0, 2**32 - 1)))
    loop_start = (
        draw(st.one_of(st.none(), ends(0, samples - 32), ends(0, samples - 32)))
        if samples >= 32
        else None
    )
    data = clip_data(chance.randbytes, coding, samples, loop_start)
    return ClipRecord(coding, step, samples, data, loop_start)


@st.composite
def _effects(
    draw: Draw,
    ranges: Ranges,
    groups: tuple[GroupRecord, ...],
    fades: int,
    clips: int,
    counters: int,
) -> EffectRecord:
    kinds = ["play", *(["fade"] if groups else []), *(["count"] if counters else [])]
    steps = []
    at = 0
    for _ in range(draw(st.one_of(st.integers(0, 5), st.integers(2, 5)))):
        at += draw(st.one_of(st.just(0), ranges.waits))
        steps.append(
            _step(draw, ranges, draw(st.sampled_from(kinds)), at, groups, fades, clips, counters)
        )
    length = draw(st.one_of(st.just(0), ranges.lengths))
    return EffectRecord(tuple(steps), length, draw(_spreads()), draw(_spreads()))


@cache
def _spreads() -> st.SearchStrategy[int]:
    return st.one_of(st.just(0), ends(1, 255))


def _step(
    draw: Draw,
    ranges: Ranges,
    kind: str,
    at: int,
    groups: Sequence[GroupRecord],
    fades: int,
    clips: int,
    counters: int,
) -> PlayClip | StartFade | ChangeCount:
    if kind == "play":
        gain = draw(st.one_of(st.just(4096), st.integers(0, 8192), st.just(32767)))
        return PlayClip(
            at,
            draw(st.integers(0, clips - 1)),
            gain,
            draw(st.one_of(st.none(), ends(1, 65535), st.integers(1, 40))),
        )
    if kind == "fade":
        stagger = draw(st.one_of(st.just(0), ranges.staggers))
        group = draw(st.integers(0, len(groups) - 1))
        ambient = groups[group].gauge is None and draw(st.booleans())
        return StartFade(at, group, draw(st.integers(0, fades - 1)), stagger, ambient)
    return ChangeCount(at, draw(st.integers(0, counters - 1)), draw(ranges.changes))


@st.composite
def _triggers(
    draw: Draw,
    ranges: Ranges,
    inputs: int,
    selectors: tuple[SelectorRecord, ...],
    counters: int,
    effects: int,
) -> TriggerRecord:
    mode = draw(st.sampled_from(Mode))
    effect = st.integers(0, effects - 1)
    action = draw(_stays(effect) if mode.stays else _shots(ranges, effect, mode == Mode.REPEAT))
    needs = draw(st.one_of(st.none(), st.integers(0, counters - 1))) if counters else None
    return TriggerRecord(
        mode,
        action,
        None if mode == Mode.ALWAYS else draw(st.integers(0, inputs - 1)),
        draw(st.one_of(st.just(0), ranges.lengths)),
        draw(_conditions(selectors)),
        needs,
        None if needs is None else draw(st.one_of(st.none(), effect)),
    )


@st.composite
def _joints(
    draw: Draw, channels: int, inputs: int, selectors: tuple[SelectorRecord, ...]
) -> JointRecord:
    uses = [use for use in Use if selectors or use not in (Use.POSITION, Use.CODED)]
    use = draw(st.sampled_from(uses))
    what, value = 0, st.just(0)
    if use <= Use.DRIVERS:
        what = draw(st.integers(0, channels - 1))
        value = st.integers(1, channels - what)
    elif use <= Use.CELLS:
        what = draw(st.integers(0, inputs - 1))
        value = st.integers(1, 255) if use == Use.CELLS else value
    elif use <= Use.CODED:
        what = draw(st.integers(0, len(selectors) - 1))
        last = selectors[what].positions - 1
        value = st.integers(0, last) if use == Use.POSITION else st.integers(1, 4)
    return JointRecord(use, what, draw(ends(0, 255)), draw(value))


@st.composite
def _conditions(draw: Draw, selectors: tuple[SelectorRecord, ...]) -> tuple[tuple[int, int], ...]:
    if not selectors or draw(st.booleans()):
        return ()
    chosen = draw(st.lists(st.integers(0, len(selectors) - 1), max_size=2))
    return tuple(
        (index, draw(st.integers(1, 2 ** selectors[index].positions - 1))) for index in chosen
    )


@st.composite
def _stays(draw: Draw, effect: st.SearchStrategy[int]) -> Stay:
    named = draw(st.integers(1, 7))
    return Stay(*(draw(effect) if named & bit else None for bit in (1, 2, 4)))


@st.composite
def _shots(draw: Draw, ranges: Ranges, effect: st.SearchStrategy[int], repeats: bool) -> Shots:
    effects = draw(_several(effect, 1, 4))
    random_choice = draw(st.booleans())
    if not repeats:
        return Shots(effects, random_choice)
    burst = draw(st.one_of(st.just(1), ranges.bursts))
    limit = draw(ranges.limits)
    ramp_shots = draw(st.one_of(st.just(0), ends(1, 255), st.integers(1, 5)))
    return Shots(
        effects,
        random_choice,
        draw(ranges.periods),
        draw(st.one_of(st.just(0), ranges.firsts)),
        burst,
        limit + burst - 1 if limit else 0,
        ramp_shots,
        draw(ranges.periods) if ramp_shots else 0,
    )


@dataclass(frozen=True)
class Run:
    """A table, what a hand does to it, and until when it is played."""

    table: Table
    presses: tuple[Press, ...]
    until_frame: int


@st.composite
def runs(draw: Draw) -> Run:
    """A table and presses dense enough to meet: bounces, taps of no length, selectors moved in
    mid-hold, volume changes.
    """
    table = draw(tables())
    presses = []
    frame = 0
    for _ in range(draw(st.integers(6, 25))):
        frame += draw(st.one_of(st.just(0), st.integers(0, 4), st.integers(0, 50)))
        presses += _gesture(draw, table, frame)
        frame = presses[-1].frame
    presses = [press for press in presses if press.frame < 600]
    return Run(table, tuple(presses), min(max(frame + draw(st.integers(1, 80)), 40), 600))


def _gesture(draw: Draw, table: Table, frame: int) -> list[Press]:
    """A press, a release, a bounce, a tap of no length, a selector moved or the volume turned."""
    kind = draw(st.sampled_from(("press", "release", "bounce", "tap", "hold", "select", "volume")))
    if kind == "volume":
        return [Press(frame, PressKind.VOLUME, 0, draw(ends(0, 256)))]
    if kind == "select" and table.selectors:
        index = draw(st.integers(0, len(table.selectors) - 1))
        return [
            Press(
                frame,
                PressKind.SELECT,
                index,
                draw(st.integers(0, table.selectors[index].positions - 1)),
            )
        ]
    index = draw(st.integers(0, len(table.inputs) - 1))
    closing = PressKind.PRESS
    opening = PressKind.RELEASE
    if kind == "tap":
        return [Press(frame, closing, index), Press(frame, opening, index)]
    if kind == "hold":
        return [
            Press(frame, closing, index),
            Press(frame + draw(st.integers(0, 60)), opening, index),
        ]
    if kind == "bounce":
        edges = [
            frame + wait
            for wait in sorted(draw(st.lists(st.integers(0, 4), min_size=3, max_size=5)))
        ]
        return [Press(at, (closing, opening)[order % 2], index) for order, at in enumerate(edges)]
    return [Press(frame, opening if kind == "release" else closing, index)]
