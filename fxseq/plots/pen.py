"""What the sheet of the wiring is drawn with."""

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from fxseq.plots.sheet import EDGE_IN, WIDTH_IN
from fxseq.plots.theme import SMALL_PT, Theme

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INCH = 0.4
"""A unit of the drawing. [in]"""
CELLS_A_ROW = 4
CELL = (WIDTH_IN - 2 * EDGE_IN) / INCH / CELLS_A_ROW
LINE = 0.42
NAME_LETTERS = 27

Place = tuple[float, float]


class Pen:
    """Symbols of schemdraw and text, in units of the drawing, x to the right and y up."""

    def __init__(self, axes: "Axes", theme: Theme) -> None:
        import schemdraw
        from schemdraw import elements

        self.axes = axes
        self.theme = theme
        self.symbols = elements
        self._drawing = schemdraw.Drawing(canvas=axes, show=False)
        self._drawing.config(
            unit=2, fontsize=SMALL_PT, lw=1.1, color=theme.ink, bgcolor=theme.ground
        )

    def finish(self, height: float) -> None:
        """Put the symbols onto the axes, which show all of the sheet and nothing of their own."""
        self._drawing.draw(show=False)
        self.axes.set_axis_off()
        self.axes.set_xlim(0, CELL * CELLS_A_ROW)
        self.axes.set_ylim(-height, 0)

    def line(self, *places: Place, **style: Any) -> None:
        """A wire from place to place."""
        for start, end in pairwise(places):
            self._drawing.add(self.symbols.Line(**style).at(start).to(end))

    def between(self, kind: Callable[..., Any], start: Place, end: Place, **style: Any) -> None:
        """A symbol with two ends."""
        self._drawing.add(kind(**style).endpoints(start, end))

    def at(self, symbol: Any, place: Place, anchor: str | None = None) -> dict[str, Place]:
        """A symbol upright, one of its anchors at a place; where its anchors are."""
        put = symbol.theta(0).at(place)
        self._drawing.add(put.anchor(anchor) if anchor else put)
        return {name: (where.x, where.y) for name, where in put.absanchors.items()}

    def box(self, left: float, top: float, width: float, height: float, text: str) -> None:
        """A box with text in its middle."""
        self._drawing.add(
            self.symbols.Rect(corner1=(0, 0), corner2=(width, -height)).theta(0).at((left, top))
        )
        self.text((left + width / 2, top - height / 2), text, ha="center", va="center")

    def ground(self, place: Place) -> None:
        """The ground symbol."""
        self.at(self.symbols.Ground(), place)

    def dot(self, place: Place, *, hollow: bool = False) -> None:
        """A joint, or hollow the end of a wire."""
        self.at(self.symbols.Dot(open=hollow), place)

    def text(self, place: Place, text: str, **style: Any) -> None:
        """Text, its upper left corner there unless told otherwise."""
        self.axes.text(*place, text, **{"va": "top", "color": self.theme.ink, **style})
