"""A sheet of axes, placed by the inch, so that what is written on it has its room however many
lanes there are.
"""

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fxseq.plots.theme import HEADING_PT, SMALL_PT, TITLE_PT, Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN = 11.0
EDGE_IN = 0.25
HEADING_IN = 0.46
AXIS_IN = 0.45
_TITLE_IN = 0.34
_LINE_IN = 0.19
_UNIT_IN = 0.2
_TICKS_IN = 0.48
_NOTES_IN = 1.0
_BOLD = 1.12
_WIDEST = 0.61
"""Mean width of the letters of a word set in DejaVu Sans, over its size; few words have more."""


@dataclass(frozen=True)
class Part:
    """Axes of their own below others. with_axis: whether room is left below for the axis and its
    unit.
    """

    height_in: float
    with_axis: bool
    draw: Callable[["Axes"], None]


@dataclass(frozen=True)
class Row:
    """One quantity: what it is called, how high it is drawn and what draws it.

    unit: of its upright axis, None for lanes that are things. names, notes: what is written at the
    left and at the right of its lanes.
    """

    heading: str
    unit: str | None
    height_in: float
    draw: Callable[["Axes"], None]
    names: Sequence[str] = ()
    notes: Sequence[str] = ()


def counted(number: float, word: str) -> str:
    """A number of things."""
    return f"{number:g} {word}{'s' * (number != 1)}"


def text_width_in(text: str, size_pt: float = SMALL_PT) -> float:
    """Room that a line of text takes, with a little to spare."""
    return len(text) * size_pt * _WIDEST / 72


def sheet(
    title: str, remarks: Sequence[str], rows: Sequence[Row], end_s: float, theme: Theme
) -> "Figure":
    """Rows one below the other over one time axis, 0 to `end_s`. Call it within `styled`."""
    left_in = EDGE_IN + _UNIT_IN + max(_TICKS_IN, *(_beside_in(row.names) for row in rows))
    right_in = WIDTH_IN - EDGE_IN - max(_NOTES_IN, *(_beside_in(row.notes) for row in rows))
    figure = new_figure(
        head_in(title, remarks)
        + sum(row.height_in + HEADING_IN for row in rows)
        + AXIS_IN
        + EDGE_IN
    )
    top_in = head(figure, title, remarks, theme)
    for row in rows:
        top_in += HEADING_IN
        axes = axes_at(figure, left_in, top_in, right_in, top_in + row.height_in)
        top_in += row.height_in
        axes.set_xlim(0, end_s)
        axes.tick_params(labelbottom=row is rows[-1])
        dress(axes, row.heading, row.unit, max(_TICKS_IN, _beside_in(row.names)), theme.ink)
        row.draw(axes)
        for place, note in zip(axes.get_yticks(), row.notes, strict=bool(row.notes)):
            write_beside(axes, place, note, theme.quiet_ink)
    figure.axes[-1].set_xlabel("time (s)")
    return figure


def stacked(
    title: str,
    remarks: Sequence[str],
    parts: Sequence[Part],
    left_in: float,
    right_in: float,
    theme: Theme,
) -> "Figure":
    """Parts one below the other, each with an axis across of its own. left_in, right_in: room
    beside them. Call it within `styled`.
    """
    height_in = sum(part.height_in + HEADING_IN + AXIS_IN * part.with_axis for part in parts)
    figure = new_figure(head_in(title, remarks) + height_in + EDGE_IN)
    top_in = head(figure, title, remarks, theme)
    for part in parts:
        top_in += HEADING_IN
        part.draw(
            axes_at(figure, EDGE_IN + left_in, top_in, WIDTH_IN - right_in, top_in + part.height_in)
        )
        top_in += part.height_in + AXIS_IN * part.with_axis
    return figure


def _beside_in(texts: Sequence[str]) -> float:
    return max((text_width_in(text) + 0.15 for text in texts), default=0.0)


def new_figure(height_in: float) -> "Figure":
    """An empty figure that belongs to no window."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, height_in))
    FigureCanvasAgg(figure)
    return figure


def head_in(title: str, remarks: Sequence[str]) -> float:
    """How far down title and remarks go. [in]"""
    return EDGE_IN + sum(height_in for _, _, height_in in _head_lines(title, remarks))


def head(figure: "Figure", title: str, remarks: Sequence[str], theme: Theme) -> float:
    """Title and remarks at the top left, broken into lines; how far down they go. [in]"""
    across_in, down_in = figure.get_size_inches()
    top_in = EDGE_IN
    for line, size_pt, height_in in _head_lines(title, remarks):
        if size_pt == TITLE_PT:
            style = {"color": theme.ink, "weight": "bold"}
        else:
            style = {"color": theme.quiet_ink}
        figure.text(
            EDGE_IN / across_in, 1 - top_in / down_in, line, size=size_pt, va="top", **style
        )
        top_in += height_in
    return top_in


def _head_lines(title: str, remarks: Sequence[str]) -> list[tuple[str, float, float]]:
    """Each line with its size [pt] and the height it takes [in]."""
    titles = [(line, TITLE_PT, _TITLE_IN) for line in _wrapped(title, TITLE_PT * _BOLD)]
    return titles + [
        (line, HEADING_PT, _LINE_IN) for remark in remarks for line in _wrapped(remark, HEADING_PT)
    ]


def _wrapped(text: str, size_pt: float) -> list[str]:
    return textwrap.wrap(text, int((WIDTH_IN - 2 * EDGE_IN) / text_width_in("n", size_pt)))


def axes_at(
    figure: "Figure", left_in: float, top_in: float, right_in: float, bottom_in: float
) -> "Axes":
    """Axes between these edges, measured from the upper left corner of the figure."""
    across_in, down_in = figure.get_size_inches()
    return figure.add_axes(
        (
            left_in / across_in,
            1 - bottom_in / down_in,
            (right_in - left_in) / across_in,
            (bottom_in - top_in) / down_in,
        )
    )


def dress(axes: "Axes", heading: str, unit: str | None, unit_left_in: float, colour: str) -> None:
    """Heading above the axes; unit of the upright axis so far to its left."""
    # At a height that is given, or matplotlib measures all ticks to find one.
    axes.set_title(heading, loc="left", y=1.0, weight="bold", pad=6, color=colour)
    if unit:
        axes.set_ylabel(unit)
        axes.yaxis.set_label_coords(-unit_left_in / width_in(axes), 0.5)


def width_in(axes: "Axes") -> float:
    """Width of the axes. [in]"""
    return float(axes.get_position().width * axes.figure.get_size_inches()[0])


def write_beside(axes: "Axes", height: float, text: str, colour: str) -> None:
    """At the right of the axes, at a height in their own unit."""
    axes.text(
        1.0,
        height,
        f"  {text}",
        transform=axes.get_yaxis_transform(),
        color=colour,
        va="center_baseline",
    )


def limit_line(axes: "Axes", limit: float, text: str, theme: Theme) -> None:
    """A limit across the axes, named at its right end."""
    axes.axhline(limit, color=theme.alarm, linestyle=(0, (5, 2)), linewidth=1.2)
    write_beside(axes, limit, text, theme.alarm)


def legend(axes: "Axes") -> None:
    """Names of the lines on the line of the heading, at its right end."""
    spacing = {"borderpad": 0.2, "borderaxespad": 0.0, "handlelength": 1.8, "columnspacing": 1.4}
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=4, **spacing)
