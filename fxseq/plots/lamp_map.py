"""The prop's lamps with their numbers, as they are marked on its papers."""

from collections.abc import Mapping
from collections.abc import Sequence as Seq
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

from fxseq.plots.lamps import photo
from fxseq.plots.sheet import EDGE_IN, WIDTH_IN, axes_at, head, head_in, new_figure
from fxseq.plots.theme import SMALL_PT, THEMES, ThemeName, outline_rgb, styled
from fxseq.sequence import Sequence, all_led_places_mm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_HIGHEST_IN = 11.0
_PHOTO_SHARE = 0.35
_CLEAR_PT = 7.0


def lamp_map_figure(
    sequence: Sequence,
    marks: Mapping[str, Seq[str]],
    folder: Path,
    theme: ThemeName = "light",
) -> "Figure":
    """Each lamp at its place. marks: of each group's lamps, in order."""
    colours = THEMES[theme]
    places = all_led_places_mm(sequence)
    remarks = ["Seen from the front. The number of a lamp is that of its mark: 7 is DS7."]
    with styled(colours):
        title = f"{sequence.title}: lamps"
        left_mm, top_mm, right_mm, bottom_mm = _bounds_mm(sequence, places)
        top_in = head_in(title, remarks)
        room_in = WIDTH_IN - 2 * EDGE_IN
        height_in = min(_HIGHEST_IN, room_in * (bottom_mm - top_mm) / (right_mm - left_mm))
        figure = new_figure(top_in + height_in + EDGE_IN)
        head(figure, title, remarks, colours)
        axes = axes_at(figure, EDGE_IN, top_in, WIDTH_IN - EDGE_IN, top_in + height_in)
        axes.set_axis_off()
        axes.set_aspect("equal")
        axes.set_xlim(left_mm, right_mm)
        axes.set_ylim(bottom_mm, top_mm)
        _draw_prop(axes, sequence, folder, colours.ink)
        for name, spots in places.items():
            colour = outline_rgb(sequence.groups[name].colour, colours)
            for mark, (x_mm, y_mm) in zip_longest(marks.get(name, ()), spots, fillvalue=""):
                axes.plot(x_mm, y_mm, "o", ms=2 * _CLEAR_PT, mfc=colours.ground, mec=colour, mew=2)
                number = mark.removeprefix("DS")
                axes.text(x_mm, y_mm, number, ha="center", va="center", size=SMALL_PT - 1)
    return figure


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
