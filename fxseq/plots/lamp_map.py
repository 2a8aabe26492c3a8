"""The prop's lamps with their numbers, as they are marked on its papers."""

import math
from collections.abc import Mapping
from collections.abc import Sequence as Seq
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fxseq.plots.lamps import photo
from fxseq.plots.sheet import EDGE_IN, WIDTH_IN, axes_at, head, head_in, new_figure
from fxseq.plots.theme import THEMES, Theme, ThemeName, outline_rgb, styled
from fxseq.sequence import Point, Sequence, all_led_places_mm
from fxseq.sequence.derived import is_placed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_HEIGHTS_IN = (6.6, 11.0)
"""Of the prop: as a rule, and where its lamps sit so close that it has to be larger."""
_PHOTO_SHARE = 0.35
_ROUND_PT = 22.0
"""Across the circle of a lamp, which its number fills."""
_LEAST_ROUND_PT = 12.0
"""Where there is less room, only some lamps have their number, above them."""
_EVERY = 5


def lamp_map_figure(
    sequence: Sequence,
    marks: Mapping[str, Seq[str]],
    folder: Path,
    theme: ThemeName = "light",
) -> "Figure":
    """Each lamp at its place. marks: of each group's lamps, in order."""
    colours = THEMES[theme]
    places = all_led_places_mm(sequence)
    remarks = [
        "Seen from the front. The number of a lamp is that of its mark: 7 is DS7.",
        "; ".join(_said(name, marks.get(name, ())) for name in places),
    ]
    loose = [name for name, group in sequence.groups.items() if not is_placed(group)]
    if loose:
        names = ", ".join(name.replace("_", " ") for name in loose)
        remarks.append(f"The file does not say where these sit, so they are in a row: {names}.")
    with styled(colours):
        title = f"{sequence.title}: lamps"
        left_mm, top_mm, right_mm, bottom_mm = _bounds_mm(sequence, places)
        top_in = head_in(title, remarks)
        room_in = WIDTH_IN - 2 * EDGE_IN
        apart_mm = _apart_mm(places)
        per_mm = _scale_pt(apart_mm, (right_mm - left_mm, bottom_mm - top_mm), room_in)
        height_in = per_mm * (bottom_mm - top_mm) / 72
        figure = new_figure(top_in + height_in + EDGE_IN)
        head(figure, title, remarks, colours)
        axes = axes_at(figure, EDGE_IN, top_in, WIDTH_IN - EDGE_IN, top_in + height_in)
        axes.set_axis_off()
        axes.set_aspect("equal")
        axes.set_xlim(left_mm, right_mm)
        axes.set_ylim(bottom_mm, top_mm)
        _draw_prop(axes, sequence, folder, colours.ink)
        for name, spots in places.items():
            round_pt = min(_ROUND_PT, 0.92 * per_mm * apart_mm[name])
            pen = _Pen(axes, round_pt, outline_rgb(sequence.groups[name].colour, colours), colours)
            pen.draw([mark.removeprefix("DS") for mark in marks.get(name, ())], spots)
    return figure


def _said(name: str, marks: Seq[str]) -> str:
    numbers = [mark.removeprefix("DS") for mark in marks]
    if not numbers:
        return f"{name.replace('_', ' ')}: stays dark"
    span = numbers[0] if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
    return f"{name.replace('_', ' ')}: {span}"


def _apart_mm(places: Mapping[str, list[Point]]) -> dict[str, float]:
    """How far the lamps of each group are from those next to them: only one in five is closer."""
    from scipy.spatial import KDTree

    spots = [spot for group in places.values() for spot in group]
    if len(spots) < 2:
        return dict.fromkeys(places, math.inf)
    tree = KDTree(spots)
    return {
        name: float(np.quantile(tree.query(group, k=2)[0][:, 1], 0.2))
        for name, group in places.items()
    }


def _scale_pt(
    apart_mm: Mapping[str, float], size_mm: tuple[float, float], room_in: float
) -> float:
    """Points for a millimetre of the prop: so many that each lamp has room for its number."""
    closest_mm = max(min(apart_mm.values(), default=math.inf), 1e-3)
    usual, most = (
        72 * min(height_in / size_mm[1], room_in / size_mm[0]) for height_in in _HEIGHTS_IN
    )
    return min(most, max(usual, _ROUND_PT / closest_mm))


@dataclass(frozen=True)
class _Pen:
    """Draws lamps of one group."""

    axes: "Axes"
    round_pt: float
    colour: str
    theme: Theme

    def draw(self, numbers: Seq[str], spots: Seq[Point]) -> None:
        """Each a circle with its number; where that has no room, a dot, and some with numbers."""
        style = {"mec": self.colour, "mfc": self.theme.ground, "mew": 1.8}
        is_dense = self.round_pt < _LEAST_ROUND_PT
        for place, (number, (x_mm, y_mm)) in enumerate(zip_longest(numbers, spots, fillvalue="")):
            self.axes.plot(x_mm, y_mm, "o", ms=max(self.round_pt, 3.0), **style)
            if not is_dense:
                size = self.round_pt / (2.0 if len(number) < 3 else 2.6)
                self.axes.text(x_mm, y_mm, number, ha="center", va="center", size=size)
            elif place % _EVERY == 0 or place == len(spots) - 1:
                self.axes.annotate(
                    number, (x_mm, y_mm), (0, 5), textcoords="offset points", ha="center", size=9
                )


def _bounds_mm(
    sequence: Sequence, places: dict[str, list[tuple[float, float]]]
) -> tuple[float, float, float, float]:
    picture = sequence.picture
    if picture:
        return 0.0, 0.0, picture.width_mm, picture.height_mm
    spots = [spot for group in places.values() for spot in group] or [(0.0, 0.0)]
    xs, ys = zip(*spots, strict=True)
    edge_mm = 10.0
    return min(xs) - edge_mm, min(ys) - edge_mm, max(xs) + edge_mm, max(ys) + edge_mm


def _draw_prop(axes: "Axes", sequence: Sequence, folder: Path, ink: str) -> None:
    picture = sequence.picture
    if picture is None:
        return
    if picture.image:
        extent = (0, picture.width_mm, picture.height_mm, 0)
        axes.imshow(
            photo(folder / picture.image), extent=extent, alpha=_PHOTO_SHARE, aspect="equal"
        )
    elif len(picture.outline_mm) > 2:
        xs, ys = zip(*picture.outline_mm, picture.outline_mm[0], strict=True)
        axes.plot(xs, ys, color=ink, lw=1.2)
