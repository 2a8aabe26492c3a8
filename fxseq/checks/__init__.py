"""A prop put to the test: loaded whole, played through a press script, taken through the physics, and judged.

May import every floor below. `load_prop` reads a sequence and its clips, `perform` plays it, `findings` says what is wrong.
"""
from fxseq.checks.conditioning import Conditioned, Sounding, condition_clips
from fxseq.checks.explanations import EXPLANATIONS
from fxseq.checks.findings import findings, findings_without_playing
from fxseq.checks.for_speaker import Alone, Recommendation, Rig, recommend, rig_of
from fxseq.checks.performance import Performance, Shot, perform
from fxseq.checks.prop import Prop, load_prop, make_prop, prepare_clip, prepare_clips
from fxseq.checks.wiring import wiring_cautions, wiring_of

__all__ = [
    "Alone", "Conditioned", "EXPLANATIONS", "Performance", "Prop", "Recommendation", "Rig", "Shot", "Sounding", "condition_clips", "findings",
    "findings_without_playing", "load_prop", "make_prop", "perform", "prepare_clip", "prepare_clips", "recommend", "rig_of", "wiring_cautions",
    "wiring_of",
]
