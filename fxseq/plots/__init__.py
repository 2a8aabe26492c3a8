"""Figures of a clip, before and after and for its speaker, of that speaker alone, of a run, of a
sweep, of a fit, of the wiring and of the board, and an animated picture of the lights.

May import `checks`, `tune`, `fit` and every floor below them. Values in, a figure or the bytes of a
file out; only `save` and `animation` write. matplotlib and Pillow are imported when something is
drawn, not before.
"""

from fxseq.plots.animation import animation, animation_bytes
from fxseq.plots.board import board_figure
from fxseq.plots.clips import clip_figure
from fxseq.plots.fitting import fit_figure
from fxseq.plots.for_speaker import for_speaker_figure
from fxseq.plots.lamp_map import lamp_map_figure
from fxseq.plots.preview import preview_figure
from fxseq.plots.saving import pages_bytes, picture_bytes, save
from fxseq.plots.speaker import speaker_figure
from fxseq.plots.tuning import tune_figure
from fxseq.plots.wiring import wiring_figure, wiring_figures

__all__ = [
    "animation", "animation_bytes", "board_figure", "clip_figure", "fit_figure",
    "for_speaker_figure", "lamp_map_figure", "pages_bytes", "picture_bytes", "preview_figure",
    "save", "speaker_figure", "tune_figure", "wiring_figure", "wiring_figures",
]  # fmt: skip
