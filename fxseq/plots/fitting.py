"""How bytes buy sound, as a picture: the whole table, and each clip with all its candidates."""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from fxseq.advice import Candidate, Fit, Outcome
from fxseq.plots.sheet import (
    AXIS_IN,
    EDGE_IN,
    HEADING_IN,
    WIDTH_IN,
    axes_at,
    dress,
    head,
    head_in,
    new_figure,
)
from fxseq.plots.theme import THEMES, Theme, ThemeName, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_COLUMNS = 3
_WHOLE_IN = 2.2
_PANEL_IN = 1.3
_LEFT_IN = 0.7
_MARKS = {"pcm16": "s", "mulaw": "o", "ima_adpcm": "^", "qoa": "D", "lpc_rice": "P"}
_NAMES = {
    "pcm16": "16 bit",
    "mulaw": "mu-law",
    "ima_adpcm": "IMA ADPCM",
    "qoa": "QOA",
    "lpc_rice": "LPC-Rice",
}
_MOST_DB = 60.0
"""1/64 as loud. Softer losses, and candidates without loss, are drawn here."""


def fit_figure(
    fitted: Fit,
    picked: Mapping[str, Candidate],
    outcome: Outcome,
    table_bytes: int,
    theme: ThemeName = "light",
) -> "Figure":
    """Kilobytes against what is lost, for the table and for each clip; what is picked is marked, by
    what it loses when it is played.

    table_bytes: room for the table.
    """
    colours = THEMES[theme]
    with styled(colours):
        if math.isfinite(outcome.below_sound_db):
            loss = f"the loss sounds {outcome.below_sound_db:.0f} dB softer"
        else:
            loss = "no loss is heard"
        title = f"A table of {outcome.table_bytes / 1024:.1f} KB: {loss}"
        remarks = [
            (
                "How much softer than the sound its loss sounds, to the ear of who holds the prop,"
                " over the press script."
            ),
            "Higher is better: 10 dB softer is half as loud.",
        ]
        rows = math.ceil(len(picked) / _COLUMNS)
        figure = new_figure(
            head_in(title, remarks)
            + HEADING_IN
            + _WHOLE_IN
            + AXIS_IN
            + rows * (HEADING_IN + _PANEL_IN)
            + AXIS_IN
            + EDGE_IN
        )
        top_in = head(figure, title, remarks, colours) + HEADING_IN
        _draw_whole(
            axes_at(figure, _LEFT_IN + EDGE_IN, top_in, WIDTH_IN * 0.72, top_in + _WHOLE_IN),
            fitted,
            outcome,
            table_bytes,
            colours,
        )
        _key(figure, top_in, colours)
        for place, name in enumerate(picked):
            axes = _cell(figure, top_in + _WHOLE_IN + AXIS_IN, place)
            _draw_clip(axes, fitted, picked[name], colours)
            axes.set_ylabel("dB softer" if place % _COLUMNS == 0 else "")
            if place + _COLUMNS >= len(picked):
                axes.set_xlabel("KB (1024 bytes) of the clip")
    return figure


def _draw_whole(
    axes: "Axes", fitted: Fit, outcome: Outcome, table_bytes: int, theme: Theme
) -> None:
    curve = fitted.curve()
    dress(axes, "The whole table", "dB softer", _LEFT_IN - 0.1, theme.ink)
    axes.plot(
        [size / 1024 for size, _ in curve],
        [min(below, _MOST_DB) for _, below in curve],
        color=theme.first,
        marker="o",
        markersize=3,
    )
    axes.plot(
        outcome.table_bytes / 1024,
        min(outcome.below_sound_db, _MOST_DB),
        "o",
        color=theme.second,
        markersize=9,
    )
    axes.axvline(table_bytes / 1024, color=theme.alarm, linestyle=(0, (5, 2)), linewidth=1.2)
    _kilobytes(axes)
    axes.set_xlabel("KB (1024 bytes) of the table")


def _draw_clip(axes: "Axes", fitted: Fit, picked: Candidate, theme: Theme) -> None:
    dress(axes, picked.clip, None, 0.0, theme.ink)
    for coding, mark in _MARKS.items():
        found = [each for each in fitted.candidates[picked.clip] if each.coding == coding]
        points = [
            (each.bytes / 1024, min(fitted.clip_below_sound_db(each), _MOST_DB)) for each in found
        ]
        axes.plot(
            *zip(*points, strict=True) if points else ((), ()),
            mark,
            color=theme.quiet_ink,
            markersize=3,
            markerfacecolor="none",
        )
    here = (picked.bytes / 1024, min(fitted.clip_below_sound_db(picked), _MOST_DB))
    axes.plot(*here, _MARKS[picked.coding], color=theme.second, markersize=8)
    axes.set_ylim(-3, _MOST_DB + 4)
    _kilobytes(axes)


def _kilobytes(axes: "Axes") -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())


def _cell(figure: "Figure", top_in: float, place: int) -> "Axes":
    row, column = divmod(place, _COLUMNS)
    across_in = (WIDTH_IN - 2 * EDGE_IN) / _COLUMNS
    below_in = top_in + row * (HEADING_IN + _PANEL_IN) + HEADING_IN
    left_in = EDGE_IN + column * across_in + _LEFT_IN
    return axes_at(
        figure, left_in, below_in, EDGE_IN + (column + 1) * across_in - 0.1, below_in + _PANEL_IN
    )


def _key(figure: "Figure", top_in: float, theme: Theme) -> None:
    """What the marks mean, beside the upper axes."""
    from matplotlib.lines import Line2D

    axes = axes_at(figure, WIDTH_IN * 0.74, top_in, WIDTH_IN - EDGE_IN, top_in + _WHOLE_IN)
    axes.set_axis_off()
    marks = [
        Line2D(
            [],
            [],
            color=theme.quiet_ink,
            linestyle="",
            marker=mark,
            markersize=4,
            markerfacecolor="none",
            label=f"candidate in {_NAMES[coding]}",
        )
        for coding, mark in _MARKS.items()
    ]
    axes.legend(
        handles=[
            Line2D(
                [],
                [],
                color=theme.second,
                linestyle="",
                marker="o",
                markersize=8,
                label="picked (in the shape of its coding)",
            ),
            Line2D(
                [],
                [],
                color=theme.first,
                marker="o",
                markersize=3,
                label="best at each size, clips judged alone",
            ),
            Line2D(
                [],
                [],
                color=theme.alarm,
                linestyle=(0, (5, 2)),
                linewidth=1.2,
                label="memory for the table",
            ),
            *marks,
        ],
        loc="center left",
        handlelength=2.4,
        labelspacing=0.7,
    )
