"""What the targets play while their cost is counted: the same tables everywhere, but for what a
target has no room for.
"""

import random
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fxseq import clips
from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.player import Press, PressKind
from fxseq.table import (
    ClipRecord,
    Coding,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    Merge,
    Mode,
    PlayClip,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    VoiceRule,
)

FRAMES = 330
SHOT_EVERY = 60
SETTLED_FROM = 210
"""Of a run. From the fourth shot on, four voices sound."""
PRESS = Press(5, PressKind.PRESS, 0, 0)
DOWN_BEFORE = 0b110
DOWN_FROM_PRESS = 0b101
"""Inputs: 0 goes down at the press, 1 is let go then, 2 is down all the time. With the press, the
selector turns from its start to position 1.
"""

FLICKER = FadeCurve((FadeSegment(Shape.FLICKER, 2000, 51400, 12850, 65536 // 60),), 0)
DECAY = FadeCurve((FadeSegment(Shape.STEP, 0, 65535), FadeSegment(Shape.DECAY, 400, 0)))
EASE = FadeCurve(
    (FadeSegment(Shape.EASE, 700, 65535), FadeSegment(Shape.EASE, 700, 2570)), 0
)
SOUND = PlayClip(0, 0, 3000)
ALIKE = StartFade(0, 0, 1)
ONE_BY_ONE = StartFade(0, 0, 2, 1)
FLICKERS = StartFade(0, 0, 0)


class Clock(NamedTuple):
    """Of a table."""

    rate_hz: int
    samples_per_frame: int


class Case(NamedTuple):
    """steps: of the effect that is shot every 60 frames. flickers: whether the ambient layer
    does.
    """

    voices: int
    channels: int
    steps: tuple[PlayClip | StartFade, ...] = ()
    flickers: bool = False


class Cost(NamedTuple):
    """Of a frame: the one in the middle once all goes on that will, and the dearest."""

    usual: int
    worst: int


class Played(NamedTuple):
    """A run: what each function took in each frame. functions: their names; counts: (frames,
    functions).
    """

    functions: tuple[str, ...]
    counts: NDArray[np.integer]

    def frames(self) -> NDArray[np.integer]:
        """What each frame took."""
        return self.counts.sum(axis=1)

    def dearest(self) -> dict[str, int]:
        """What each function took in the frame that took most, most first. Frame 0 is left out."""
        frame = 1 + int(self.frames()[1:].argmax())
        return {
            self.functions[i]: int(self.counts[frame, i])
            for i in np.argsort(-self.counts[frame], kind="stable")
            if self.counts[frame, i]
        }


class SampleCost(NamedTuple):
    """Of a sample put out by one voice, and of one more sample of the clip decoded on the way."""

    put_out: float
    decoded: float


CASES = {
    "idle, 6 channels": Case(2, 6),
    "1 voice, 6 channels": Case(1, 6, (SOUND,)),
    "2 voices, 6 channels": Case(2, 6, (SOUND,)),
    "6 channels fading alike": Case(2, 6, (ALIKE,)),
    "6 channels fading one by one": Case(2, 6, (ONE_BY_ONE,)),
    "6 channels flickering": Case(2, 6, (), True),
    "2 voices, 6 one by one over flicker": Case(2, 6, (SOUND, ONE_BY_ONE), True),
    "idle, 24 channels": Case(4, 24),
    "1 voice, 24 channels": Case(1, 24, (SOUND,)),
    "2 voices, 24 channels": Case(2, 24, (SOUND,)),
    "4 voices, 24 channels": Case(4, 24, (SOUND,)),
    "24 channels fading alike": Case(4, 24, (ALIKE,)),
    "24 channels fading one by one": Case(4, 24, (ONE_BY_ONE,)),
    "24 channels flickering": Case(4, 24, (), True),
    "4 voices, 24 channels alike": Case(4, 24, (SOUND, ALIKE)),
    "4 voices, 24 one by one over flicker": Case(4, 24, (SOUND, ONE_BY_ONE), True),
    "4 voices, 24 flickers at once over flicker": Case(4, 24, (SOUND, FLICKERS), True),
    "42 channels fading alike": Case(4, 42, (ALIKE,)),
    "42 channels fading one by one": Case(4, 42, (ONE_BY_ONE,)),
    "4 voices, 42 one by one over flicker": Case(4, 42, (SOUND, ONE_BY_ONE), True),
}


def case_table(case: Case, clock: Clock) -> Table:
    """All channels in one group; the clip in mu-law with a spread of the pitch, so that every
    sample lies between two of the clip.

    It lasts until the voice is needed for another shot, at any pitch.
    """
    samples = case.voices * SHOT_EVERY * clock.samples_per_frame * 11 // 10
    clip = ClipRecord(Coding.MULAW, 65536, samples, random.Random(2).randbytes(samples))
    effects = (
        EffectRecord(case.steps, pitch_spread=80, gain_spread=40),
        EffectRecord((StartFade(0, 0, 0, ambient=True),)),
    )
    shooting = (
        (TriggerRecord(Mode.REPEAT, Shots((0,), period=256 * SHOT_EVERY), input=0),)
        if case.steps
        else ()
    )
    flickering = (TriggerRecord(Mode.ALWAYS, Stay(begin=1)),) if case.flickers else ()
    return _table(clock, case.channels, case.voices, clip, effects, shooting + flickering)


def _table(
    clock: Clock,
    channels: int,
    voices: int,
    clip: ClipRecord,
    effects: tuple[EffectRecord, ...],
    triggers: tuple[TriggerRecord, ...],
) -> Table:
    return Table(
        *clock,
        channels,
        12,
        voices,
        VoiceRule.OLDEST,
        _light_mask(clock),
        7,
        (InputRecord(InputKind.BUTTON, 20),),
        (),
        (),
        (GroupRecord(0, channels, Merge.HIGHEST),),
        (FLICKER, DECAY, EASE),
        (clip,),
        effects,
        triggers,
    )


def _light_mask(clock: Clock) -> int:
    """The most turns that leave each channel 200 looks a second."""
    looks_hz = clock.rate_hz / clock.samples_per_frame
    return max(mask for mask in (0, 1, 3, 7) if looks_hz >= 200 * (mask + 1))


def frame_cost(counts: NDArray[np.integer]) -> Cost:
    """counts: of each frame of a run. Frame 0 is left out: it writes every duty, once."""
    return Cost(int(np.median(counts[SETTLED_FROM:])), int(counts[1:].max()))


def coding_tables(coding: Coding, clock: Clock) -> tuple[Table, Table]:
    """A voice that plays noise of full scale once, on a board that goes through one sample of
    the clip a sample, and through two.
    """
    samples = 1200  # a slot of the smallest board takes so many of 16 bits
    noise = np.random.default_rng(3).integers(-32768, 32768, samples).astype(np.int16)
    data = clips.encode(noise, coding.name.lower())
    effect = EffectRecord((PlayClip(0, 0, 3000),))
    trigger = TriggerRecord(Mode.ONCE, Shots((0,)), input=0)
    slow, fast = (
        _table(clock, 1, 1, ClipRecord(coding, step, samples, data), (effect,), (trigger,))
        for step in (65536, 2 * 65536)
    )
    return slow, fast


def sample_cost(slow: NDArray[np.integer], fast: NDArray[np.integer], clock: Clock) -> SampleCost:
    """slow, fast: counts of each frame of the two `coding_tables`."""
    sounding = slice(PRESS.frame + 2, PRESS.frame + 22)
    over = slice(SETTLED_FROM, None)
    put_out = slow[sounding].mean() - slow[over].mean()
    decoded = fast[sounding].mean() - slow[sounding].mean()
    return SampleCost(put_out / clock.samples_per_frame, decoded / clock.samples_per_frame)
