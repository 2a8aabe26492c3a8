"""A prop put to the test: loaded whole, played through a press script, taken through the physics, and judged.

May import every floor below. `load_prop` reads a sequence and its clips, `perform` plays it, `findings` says what is wrong.
"""
from fxseq.checks.conditioning import Conditioned, Sounding, condition_clips
from fxseq.checks.explanations import EXPLANATIONS
from fxseq.checks.findings import findings, findings_without_playing
from fxseq.checks.for_speaker import Alone, Recommendation, Rig, recommend, rig_of
from fxseq.checks.performance import Performance, Shot, perform
from fxseq.checks.prop import Prop, draft_clip, load_prop, make_prop, prepare_clip, prepare_clips
from fxseq.checks.wav import board_wav, heard_wav, wav_bytes
from fxseq.checks.wiring import wiring_cautions, wiring_findings, wiring_of

__all__ = [
    "Alone", "Conditioned", "EXPLANATIONS", "Performance", "Prop", "Recommendation", "Rig", "Shot", "Sounding", "board_wav", "condition_clips",
    "draft_clip", "findings", "findings_without_playing", "heard_wav", "load_prop", "make_prop", "perform", "prepare_clip", "prepare_clips", "recommend",
    "rig_of", "wav_bytes", "wiring_cautions", "wiring_findings", "wiring_of",
]
