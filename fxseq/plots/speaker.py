"""What a speaker can do on its amplifier: loudest tones and what holds them, excursion of the
cone, impedance.
"""

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from fxseq.acoustics import HOLDS, Reach
from fxseq.advice import Rig
from fxseq.plots.clips import dress_bands
from fxseq.plots.sheet import Part, dress, legend, limit_line, stacked
from fxseq.plots.theme import THEMES, Theme, ThemeName, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LEVEL_IN = 2.6
_LOW_IN = 1.5
_LEFT_IN = 0.75
_RIGHT_IN = 1.05
_RANGE_DB = 50
_DASHES = {
    "full scale": "-",
    "rail": (0, (6, 1.5)),
    "power": (0, (2, 1.5)),
    "excursion": (0, (6, 1.5, 1.5, 1.5)),
}
"""Told apart without their colours too."""


def speaker_figure(found: Reach, rig: Rig, text: list[str], theme: ThemeName = "light") -> "Figure":
    """Over frequency: level of the loudest lasting tone at the hand, excursion of the cone at
    it, impedance. said: in words, below the title.
    """
    colours = THEMES[theme]
    parts = [
        Part(height_in, with_axis, partial(draw, found=found, rig=rig, theme=colours))
        for draw, height_in, with_axis in (
            (_draw_level, _LEVEL_IN, False),
            (_draw_way, _LOW_IN, False),
            (_draw_impedance, _LOW_IN, True),
        )
    ]
    with styled(colours):
        return stacked(
            "The speaker alone: how loud it can be, tone by tone",
            text,
            parts,
            _LEFT_IN,
            _RIGHT_IN,
            colours,
        )


def _draw_level(axes: "Axes", found: Reach, rig: Rig, theme: Theme) -> None:
    dress(
        axes,
        f"Loudest continuous tone {100 * rig.sequence.listening.hand_m:g} cm away, and what"
        " limits it",
        "dB re 20 µPa",
        _LEFT_IN - 0.15,
        theme.ink,
    )
    spread_db = rig.tone_uncertainty_db
    axes.fill_between(
        found.frequencies_hz,
        found.level_db - spread_db,
        found.level_db + spread_db,
        color=theme.first,
        alpha=0.15,
        linewidth=0,
    )
    for place, (name, colour) in enumerate(
        zip(HOLDS, (theme.quiet_ink, theme.first, theme.second, theme.alarm), strict=True)
    ):
        held = found.held_by == place
        if held.any():
            # With the next point of each stretch, so that no gap is left where another takes over.
            drawn = held | np.concatenate([[False], held[:-1]])
            axes.plot(
                found.frequencies_hz,
                np.where(drawn, found.level_db, np.nan),
                color=colour,
                linestyle=_DASHES[name],
                linewidth=1.8,
                label=name,
            )
    _dress(axes, found, with_axis=False)
    top_db = 10 * np.ceil((float(found.level_db.max()) + spread_db) / 10)
    axes.set_ylim(top_db - _RANGE_DB, top_db)
    legend(axes)


def _draw_way(axes: "Axes", found: Reach, rig: Rig, theme: Theme) -> None:
    limit_mm = rig.speaker.excursion_mm
    may = "no limit in the file" if limit_mm is None else f"limit {limit_mm:g} mm"
    dress(axes, f"Cone travel from rest at that tone; {may}", "mm", _LEFT_IN - 0.15, theme.ink)
    axes.plot(found.frequencies_hz, found.excursion_mm, color=theme.first, linewidth=1.8)
    if limit_mm is not None and limit_mm < 3 * found.excursion_mm.max():
        limit_line(axes, limit_mm, "excursion_mm", theme)
    _dress(axes, found, with_axis=False)
    axes.set_ylim(0, 1.15 * max(float(axes.dataLim.y1), float(found.excursion_mm.max())))


def _draw_impedance(axes: "Axes", found: Reach, rig: Rig, theme: Theme) -> None:
    dress(axes, "Impedance at its terminals", "ohm", _LEFT_IN - 0.15, theme.ink)
    axes.plot(
        found.frequencies_hz,
        found.impedance_ohm,
        color=theme.first,
        linewidth=1.8,
        label="calculated",
    )
    axes.axhline(
        rig.speaker.impedance_ohm,
        color=theme.quiet_ink,
        linestyle="--",
        linewidth=1.2,
        label="nominal",
    )
    _dress(axes, found, with_axis=True)
    axes.set_ylim(0, 1.15 * float(found.impedance_ohm.max()))
    legend(axes)


def _dress(axes: "Axes", found: Reach, *, with_axis: bool) -> None:
    dress_bands(axes)
    axes.tick_params(labelbottom=with_axis)
    if not with_axis:
        axes.set_xlabel("")
