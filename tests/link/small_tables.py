"""Small tables that the reference player plays."""

import random

from fxseq.light import FadeCurve, FadeSegment, Shape
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
    Table,
    TriggerRecord,
    VoiceRule,
    encode,
)


def demo_table(clip_samples: int = 3000, seed: int = 1) -> bytes:
    """A held trigger that repeats every 25 frames: a clip, a fade on three channels, a counter."""
    clip = ClipRecord(
        Coding.MULAW, 65_536, clip_samples, random.Random(seed).randbytes(clip_samples)
    )
    fade = FadeCurve((FadeSegment(Shape.STEP, 0, 65535), FadeSegment(Shape.STRAIGHT, 20, 0)))
    return encode(
        Table(
            sample_rate_hz=22_050,
            samples_per_frame=21,
            channels=3,
            pwm_bits=12,
            voices=2,
            voice_rule=VoiceRule.OLDEST,
            light_mask=3,
            seed=seed,
            inputs=(InputRecord(InputKind.BUTTON, 10),),
            selectors=(SelectorRecord(2, 0),),
            counters=(CounterRecord(100, 100),),
            groups=(GroupRecord(0, 3, Merge.HIGHEST),),
            fades=(fade,),
            clips=(clip,),
            effects=(
                EffectRecord((PlayClip(0, 0, 4096), StartFade(0, 0, 0, 2), ChangeCount(1, 0, -1))),
            ),
            triggers=(TriggerRecord(Mode.REPEAT, Shots((0,), period=25 * 256), 0),),
        )
    )
