"""The ready-made board seen from above, and where each of its pins leads."""

from typing import TYPE_CHECKING

from fxseq.plots.sheet import EDGE_IN, WIDTH_IN, axes_at, head, head_in, new_figure
from fxseq.plots.theme import THEMES, Theme, ThemeName, styled
from fxseq.sequence.board_parts import BoardPart, board_parts, number_of
from fxseq.sequence.model import Sequence
from fxseq.sequence.pins import pin_uses

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ROW_IN = 0.27
_HALF_WIDTH = 1.35
_GROUNDS = ("GND", "AGND")
_LOGIC = "3V3"
_KEPT = "kept for a serial line"


def board_figure(sequence: Sequence, theme: ThemeName = "light") -> "Figure":
    """The board of the file, which has to be a ready-made one."""
    part = board_parts()[sequence.board.part]
    colours = THEMES[theme]
    remarks = [
        f"{part.title}, seen from above. Pins that lead nowhere stay free.",
        "Join and check everything with the cells out and USB unplugged.",
    ]
    with styled(colours):
        title = f"{sequence.title}: the board's pins"
        top_in = head_in(title, remarks)
        rows = len(part.left)
        figure = new_figure(top_in + (rows + 1.6) * _ROW_IN + EDGE_IN)
        head(figure, title, remarks, colours)
        bottom_in = figure.get_size_inches()[1] - EDGE_IN
        axes = axes_at(figure, EDGE_IN, top_in, WIDTH_IN - EDGE_IN, bottom_in)
        axes.set_axis_off()
        axes.set_xlim(-5.25, 5.25)
        axes.set_ylim(-rows - 0.6, 1.4)
        _draw_board(axes, rows, part, colours)
        _draw_pins(axes, sequence, part, colours)
    return figure


def _draw_board(axes: "Axes", rows: int, part: BoardPart, theme: Theme) -> None:
    from matplotlib.patches import FancyBboxPatch

    style = {"boxstyle": "round,pad=0,rounding_size=0.12", "ec": theme.ink, "fc": theme.ground}
    axes.add_patch(FancyBboxPatch((-_HALF_WIDTH, -rows), 2 * _HALF_WIDTH, rows + 0.5, **style))
    plug = 0.5 if part.plug == "top" else -rows
    axes.add_patch(FancyBboxPatch((-0.35, plug - 0.4), 0.7, 0.8, **style))
    axes.text(0, plug, "USB", ha="center", va="center", color=theme.ink)


def _draw_pins(axes: "Axes", sequence: Sequence, part: BoardPart, theme: Theme) -> None:
    uses = {use.pin: use.leads_to for use in pin_uses(sequence)}
    joined = dict.fromkeys(_GROUNDS, "ground") | {part.supply_name: _supplied_by(sequence)}
    if sequence.groups and sequence.board.lights != "pins":
        joined[_LOGIC] = f"+ of the {sequence.board.lights.replace('_', ' ')}"
    places = len(part.left) + len(part.right)
    for row, (left, right) in enumerate(zip(part.left, part.right, strict=True)):
        for label, place, side in ((left, row + 1, -1), (right, places - row, 1)):
            leads = joined.get(label) or _leads(label, uses, part)
            _draw_pin(axes, -row - 0.5, side, label, place, leads, label in joined, theme)
    own = uses.get(part.supply_pin)
    if own and part.supply_pin not in map(number_of, (*part.left, *part.right)):
        text = f"GP{part.supply_pin},\non the board:\n{own}".replace(", ", ",\n")
        axes.text(0, -len(part.left) / 2, text, ha="center", va="center", color=theme.ink)


def _supplied_by(sequence: Sequence) -> str:
    """What feeds the board. The diode keeps what USB feeds to the same pin out of it."""
    regulator = sequence.regulator
    if regulator and "board" in regulator.feeds:
        return "+ of the regulator, through a Schottky diode"
    return "+ of the supply: fuse, switch, Schottky diode"


def _leads(label: str, uses: dict[int, str], part: BoardPart) -> str:
    number = number_of(label)
    if number is None:
        return ""
    if number in part.reserved:
        return _KEPT
    return uses.get(number, "")


def _draw_pin(
    axes: "Axes",
    height: float,
    side: int,
    label: str,
    place: int,
    leads: str,
    feeds: bool,
    theme: Theme,
) -> None:
    """A pin at the left (-1) or right (1) edge; what leads nowhere is quiet. feeds: it is for
    supply or ground.
    """
    is_used = bool(leads) and leads != _KEPT and not feeds
    ink = theme.ink if is_used or feeds else theme.quiet_ink
    inner, outer = ("left", "right") if side < 0 else ("right", "left")
    edge = side * _HALF_WIDTH
    fill = theme.ink if is_used else theme.ground
    axes.plot([edge], [height], marker="o", ms=5, mfc=fill, mec=ink)
    weight = "bold" if is_used else "normal"
    style = {"va": "center", "color": ink}
    quiet = {"va": "center", "color": theme.quiet_ink}
    axes.text(edge - side * 0.12, height, label, ha=inner, weight=weight, **style)
    axes.text(edge + side * 0.12, height, str(place), ha=outer, **quiet)
    if leads:
        axes.plot([edge + side * 0.42, edge + side * 0.6], [height] * 2, color=ink, lw=1)
        axes.text(edge + side * 0.68, height, leads, ha=outer, **style)
