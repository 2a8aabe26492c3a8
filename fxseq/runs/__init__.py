"""A prop loaded whole, played through a press script, and what physics makes of it: numbers alone,
which nobody judges here.

May import every floor below. `load_prop` reads a prop file and its clips, `perform` plays it.
"""

from fxseq.runs.conditioning import Conditioned, Sounding, condition_clips, conditioned
from fxseq.runs.results import board_wav, heard_wav, in_numbers, wav_bytes
from fxseq.runs.performance import Performance, Shot, perform
from fxseq.runs.prop import Prop, draft_clip, load_prop, make_prop, prepare_clips, prop_of
from fxseq.runs.wiring import wiring_of

__all__ = [
    "Conditioned", "Performance", "Prop", "Shot", "Sounding", "board_wav", "condition_clips",
    "conditioned", "draft_clip", "heard_wav", "in_numbers", "load_prop", "make_prop", "perform",
    "prepare_clips", "prop_of", "wav_bytes", "wiring_of",
]  # fmt: skip
