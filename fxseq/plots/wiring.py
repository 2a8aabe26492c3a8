"""The wiring of a prop as a sheet: supplies, board and sound in the first row, below it of each group one channel."""
import textwrap
from collections.abc import Callable, Sequence
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Any

from fxseq.plots.sheet import EDGE_IN, WIDTH_IN, axes_at, counted, head, head_in, new_figure
from fxseq.plots.theme import SMALL_PT, THEMES, Theme, ThemeName, outline_rgb, styled
from fxseq.power import GroupWiring, Schedule, SupplyLine
from fxseq.power.schedule import Resistor
from fxseq.sequence.derived import leds_per_channel
from fxseq.sequence.quantities import amount, from_to, quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INCH = 0.4
"""A unit of the drawing. [in]"""
_CELLS_A_ROW = 4
_CELL = (WIDTH_IN - 2 * EDGE_IN) / _INCH / _CELLS_A_ROW
_LETTERS = 39
_LINE = 0.42
_SUPPLY = 3.4
_TEXTS_AT = 8.9
_SWITCH_AT = 5.6
_GROUND_AT = 7.4
_NAME_LETTERS = 27
_BOARD_AT, _AMPLIFIER_AT = 12.6, 18.6

Place = tuple[float, float]


def wiring_figure(plan: Schedule, theme: ThemeName = "light") -> "Figure":
    """The diagram of a schedule. Everything on it stands in the schedule too."""
    colours = THEMES[theme]
    with styled(colours):
        title = f"{plan.sequence.title}: wiring"
        voltages = f"For {from_to(plan.span.flat_v, plan.span.fresh_v, 'V')}"
        remarks = [f"{voltages}. Of each group one channel is drawn. What the file does not describe is left out."]
        rows = [plan.groups[at:at + _CELLS_A_ROW] for at in range(0, len(plan.groups), _CELLS_A_ROW)]
        tops = list(accumulate(map(_row_height, rows), initial=_power_height(plan)))
        top_in = head_in(title, remarks)
        figure = new_figure(top_in + tops[-1] * _INCH + EDGE_IN)
        head(figure, title, remarks, colours)
        axes = axes_at(figure, EDGE_IN, top_in, WIDTH_IN - EDGE_IN, figure.get_size_inches()[1] - EDGE_IN)
        pen = _Pen(axes, colours)
        _draw_power(pen, plan)
        for row, top in zip(rows, tops, strict=False):
            for place, group in enumerate(row):
                _draw_group(pen, group, (place * _CELL, -top))
        pen.finish(tops[-1])
    return figure


class _Pen:
    """Symbols of schemdraw and text, in units of the drawing, x to the right and y up."""

    def __init__(self, axes: "Axes", theme: Theme) -> None:
        import schemdraw
        from schemdraw import elements

        self.axes, self.theme, self.symbols = axes, theme, elements
        self._drawing = schemdraw.Drawing(canvas=axes, show=False)
        self._drawing.config(unit=2, fontsize=SMALL_PT, lw=1.1, color=theme.ink, bgcolor=theme.ground)

    def finish(self, height: float) -> None:
        """Put the symbols onto the axes, which show all of the sheet and nothing of their own."""
        self._drawing.draw(show=False)
        self.axes.set_axis_off()
        self.axes.set_xlim(0, _CELL * _CELLS_A_ROW)
        self.axes.set_ylim(-height, 0)

    def line(self, *places: Place, **look: Any) -> None:
        """A wire from place to place."""
        for start, end in pairwise(places):
            self._drawing.add(self.symbols.Line(**look).at(start).to(end))

    def between(self, kind: Callable[..., Any], start: Place, end: Place, **look: Any) -> None:
        """A symbol with two ends."""
        self._drawing.add(kind(**look).endpoints(start, end))

    def at(self, symbol: Any, place: Place, anchor: str | None = None) -> dict[str, Place]:
        """A symbol upright, one of its anchors at a place; where its anchors are."""
        put = symbol.theta(0).at(place)
        self._drawing.add(put.anchor(anchor) if anchor else put)
        return {name: (where.x, where.y) for name, where in put.absanchors.items()}

    def box(self, left: float, top: float, width: float, height: float, text: str) -> None:
        """A box with text in its middle."""
        self._drawing.add(self.symbols.Rect(corner1=(0, 0), corner2=(width, -height)).theta(0).at((left, top)))
        self.text((left + width / 2, top - height / 2), text, ha="center", va="center")

    def ground(self, place: Place) -> None:
        """The ground symbol."""
        self.at(self.symbols.Ground(), place)

    def dot(self, place: Place, *, hollow: bool = False) -> None:
        """A joint, or hollow the end of a wire."""
        self.at(self.symbols.Dot(open=hollow), place)

    def text(self, place: Place, text: str, **look: Any) -> None:
        """Text, its upper left corner there unless told otherwise."""
        self.axes.text(*place, text, **{"va": "top", "color": self.theme.ink, **look})


def _power_height(plan: Schedule) -> float:
    return 2.6 + max(4.0, (len(plan.lines) - 1) * _SUPPLY + 2.2)


def _row_height(groups: Sequence[GroupWiring]) -> float:
    return _TEXTS_AT + max(len(_texts(group)) for group in groups) * _LINE + 0.9


def _draw_power(pen: _Pen, plan: Schedule) -> None:
    top, bus = -1.2, 9.6
    for place, line in enumerate(plan.lines):
        _draw_supply(pen, plan, line, top - place * _SUPPLY, bus)
        if place < len(plan.lines) - 1:
            pen.dot((bus, top - place * _SUPPLY))
    pen.line((bus, top - (len(plan.lines) - 1) * _SUPPLY), (bus, top))
    if plan.sequence.changeover == "switch" and len(plan.lines) > 1:
        pen.line((6.8, top - (len(plan.lines) - 1) * _SUPPLY + 0.3), (6.8, top + 0.1), ls="--")
    _draw_rails(pen, plan, bus, top)
    _draw_board(pen, plan, top)
    if plan.sequence.amplifier is not None:
        _draw_sound(pen, plan, top)


def _draw_rails(pen: _Pen, plan: Schedule, bus: float, top: float) -> None:
    """From the supplies to board and amplifier; for what a regulator feeds through it, and for the rest past it on a rail above."""
    found, upper = plan.regulator, top + 0.95
    ends = {"board": _BOARD_AT, **({"amplifier": _AMPLIFIER_AT} if plan.sequence.amplifier is not None else {})}
    fed = [x for name, x in ends.items() if found is None or name in found.feeds]
    past = [x for x in ends.values() if x not in fed]
    start = bus
    if found is not None:
        pen.line((bus, top), (bus + 0.3, top))
        pen.box(bus + 0.3, top + 0.5, 2.1, 1.0, f"{amount(found.output_v, 'V')}\n{found.kind.replace('_', ' ')}")
        pen.line((bus + 0.55, top - 0.5), (bus + 0.55, top - 1.1))
        pen.ground((bus + 0.55, top - 1.1))
        start = bus + 2.4
        if "lights" in found.feeds:
            pen.text((bus + 0.85, top - 0.6), "for lights" if not fed else "and lights", color=pen.theme.quiet_ink)
    for height, begin, places in ((top, start, fed), (upper, bus, past)):
        if places:
            pen.line((begin, height), (places[-1], height))
        for x in places[:-1]:
            pen.dot((x, height))
    if past:
        pen.dot((bus, top))
        pen.line((bus, top), (bus, upper))
    for x in past:
        pen.line((x, upper), (x, top))


def _draw_supply(pen: _Pen, plan: Schedule, line: SupplyLine, height: float, bus: float) -> None:
    supply = plan.sequence.supplies[line.name]
    if supply.kind == "cells":
        pen.between(pen.symbols.Battery, (2.8, height), (0.8, height))
    else:
        pen.box(1.0, height + 0.5, 1.6, 1.0, "adaptor")
        pen.line((2.6, height), (2.8, height))
        pen.line((0.8, height), (1.0, height))
    pen.line((0.8, height), (0.8, height - 0.6))
    pen.ground((0.8, height - 0.6))
    pen.text((2.9, height + 0.35), "1", color=pen.theme.quiet_ink, va="center")
    pen.text((0.65, height + 0.1), "2", color=pen.theme.quiet_ink, va="center", ha="right")
    pen.between(pen.symbols.FuseIEC, (2.8, height), (5.4, height))
    _draw_contact(pen, plan, height, line is plan.lines[0])
    pen.line((8.2, height), (bus, height))
    if supply.bulk_capacitor_uf:
        pen.between(pen.symbols.Capacitor2, (8.9, height), (8.9, height - 1.5))
        pen.ground((8.9, height - 1.5))
        pen.text((8.5, height - 0.75), quantity(supply.bulk_capacitor_uf, "uF"), ha="right", va="center")
    _write_supply(pen, line, height)


def _write_supply(pen: _Pen, line: SupplyLine, height: float) -> None:
    kind = "resettable" if line.resettable else "fuse"
    fuse, wire = ("no fuse fits", "share the load") if line.fuse_a is None else (f"{kind} {line.fuse_a:g} A", f"AWG {line.gauge}")
    pen.text((3.2 if line.resettable else 4.1, height + 0.45), fuse, ha="left" if line.resettable else "center", va="bottom")
    pen.text((4.1, height - 0.45), wire, ha="center")
    names = textwrap.wrap(line.name, _NAME_LETTERS)
    pen.text((1.5, height - 0.75), "\n".join(names), weight="bold")
    said = f"{amount(line.fresh_v, 'V')} fresh; all at once {line.total_ma:.0f} mA"
    pen.text((1.5, height - 0.75 - len(names) * _LINE), said, color=pen.theme.quiet_ink)


def _draw_contact(pen: _Pen, plan: Schedule, height: float, closed: bool) -> None:
    start, end, kind = (5.4, height), (8.2, height), plan.sequence.changeover
    if len(plan.lines) == 1:
        pen.line(start, end)
    elif kind is None:
        pen.line(start, (6.2, height))
        pen.text((6.8, height), "?", ha="center", va="center", weight="bold", color=pen.theme.alarm)
        pen.line((7.4, height), end)
    else:
        pen.between(pen.symbols.Schottky if kind == "diodes" else pen.symbols.Switch, start, end)
    if closed and len(plan.lines) > 1:
        said = {None: "nothing keeps them apart", "diodes": "a diode in each", "switch": "change-over"}[kind]
        pen.text((6.8, height + 0.75), said, ha="center", va="bottom")


def _draw_board(pen: _Pen, plan: Schedule, top: float) -> None:
    board = plan.sequence.board
    takes = f"{board.current_ma:g} mA" if board.current_ma else "current not described"
    pen.line((_BOARD_AT, top), (_BOARD_AT, top - 1))
    pen.box(10.9, top - 1, 3.4, 2.6, f"board\n{takes}\noutputs of {board.pin_v:g} V")
    pen.line((_BOARD_AT, top - 3.6), (_BOARD_AT, top - 4))
    pen.ground((_BOARD_AT, top - 4))


def _draw_sound(pen: _Pen, plan: Schedule, top: float) -> None:
    amplifier, speaker, middle = plan.sequence.amplifier, plan.sequence.speaker, top - 2.25
    pen.line((14.3, middle), (16.9, middle), arrow="->")
    pen.text((15.6, middle + 0.2), "sound", ha="center", va="bottom")
    pen.line((_AMPLIFIER_AT, top), (_AMPLIFIER_AT, top - 1))
    pen.box(16.9, top - 1, 3.4, 2.6, f"amplifier\n{amplifier.kind.replace('_', ' ').replace('class d', 'class D').replace('class ab', 'class AB')}\n"
            f"{amplifier.output}{'-tied' if amplifier.output == 'bridge' else '-ended'}")
    pen.line((_AMPLIFIER_AT, top - 3.6), (_AMPLIFIER_AT, top - 4))
    pen.ground((_AMPLIFIER_AT, top - 4))
    if speaker is None:
        pen.text((20.6, middle), "speaker not described", va="center", color=pen.theme.alarm)
        return
    ends = pen.at(pen.symbols.Speaker(), (22.6, middle + 0.25), "in1")
    pen.line((20.3, ends["in1"][1]), ends["in1"])
    if amplifier.output == "bridge":
        pen.line((20.3, ends["in2"][1]), ends["in2"])
    else:
        pen.line(ends["in2"], (22.2, ends["in2"][1]), (22.2, top - 4))
        pen.ground((22.2, top - 4))
    pen.text((21.2, ends["in1"][1] + 0.1), "1", color=pen.theme.quiet_ink, va="bottom")
    pen.text((21.2, ends["in2"][1] - 0.1), "2", color=pen.theme.quiet_ink)
    pen.text((22.7, middle - 1.3), f"speaker\n{speaker.impedance_ohm:g} ohm", color=pen.theme.ink)


def _draw_group(pen: _Pen, group: GroupWiring, corner: Place) -> None:
    left, top = corner
    x, circuit = left + 3.4, group.circuit
    for place, (text, look) in enumerate(_texts(group)):
        pen.text((left + 0.2, top - _TEXTS_AT - place * _LINE), text, **(look or {"color": pen.theme.quiet_ink}))
    if circuit.series == 0:
        pen.text((left + 0.2, top - 3), "stays dark at this supply:\nnothing to draw", color=pen.theme.alarm)
        return
    _draw_feed(pen, group, x, top)
    lamp_at = top - 2 if group.resistor else top
    if group.resistor:
        pen.between(pen.symbols.ResistorIEC, (x, top), (x, lamp_at))
        pen.text((x + 0.45, top - 1), amount(group.resistor.ohm, "ohm", 6), va="center")
    _draw_lamps(pen, group, x, lamp_at, top - _SWITCH_AT)
    if group.shares:
        for height in (lamp_at, top - _SWITCH_AT):
            pen.dot((x, height))
            pen.line((x, height), (x + 1.4, height), ls="--")
        pen.text((x + 1.5, lamp_at), f"{counted(circuit.strings - 1, 'string')}\nmore", va="center")
    _SWITCHES[circuit.switch](pen, group, (x, top - _SWITCH_AT), left, top - _GROUND_AT)


def _draw_feed(pen: _Pen, group: GroupWiring, x: float, top: float) -> None:
    if group.circuit.switch == "pin":
        pen.dot((x, top), hollow=True)
        pen.text((x - 0.3, top), _outputs(group), ha="right", va="center")
        return
    pen.line((x - 2.2, top), (x + 1.6, top))
    pen.dot((x, top))
    regulator = group.circuit.regulator
    pen.text((x + 1.7, top), f"+{amount(regulator.output_v, 'V')}" if regulator else "+", va="center")
    pen.text((x + 0.25, top - 0.1), "1", color=pen.theme.quiet_ink)


def _draw_lamps(pen: _Pen, group: GroupWiring, x: float, start: float, end: float) -> None:
    """The LEDs of a string: two at the most, dashes standing for those between."""
    colour, series = outline_rgb(group.circuit.group.colour, pen.theme), group.circuit.series
    pen.between(pen.symbols.LED, (x, start), (x, start - 1.5), color=colour)
    if series == 1:
        pen.line((x, start - 1.5), (x, end))
    else:
        pen.line((x, start - 1.5), (x, end + 1.5), ls="--" if series > 2 else "-")
        pen.between(pen.symbols.LED, (x, end + 1.5), (x, end), color=colour)
    if series > 2:
        pen.text((x + 0.4, start - 1.75), f"{series} in all", va="center")


def _draw_transistor(pen: _Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    ends = pen.at(pen.symbols.BjtNpn(circle=True), place, "collector")
    pen.line(ends["emitter"], (place[0], ground))
    pen.ground((place[0], ground))
    _draw_output(pen, group, ends["base"], left)


def _draw_mosfet(pen: _Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    ends = pen.at(pen.symbols.NMos(), place, "drain")
    pen.line(ends["source"], (place[0], ground))
    pen.ground((place[0], ground))
    _draw_output(pen, group, ends["gate"], left)
    gate = (ends["gate"][0] - 0.15, ends["gate"][1])
    pen.between(pen.symbols.ResistorIEC, gate, (gate[0], gate[1] - 1.4))
    pen.ground((gate[0], gate[1] - 1.4))
    pen.text((gate[0] - 0.4, gate[1] - 0.75), amount(group.drive.hold_off.ohm, "ohm", 6), ha="right", va="center")


def _draw_output(pen: _Pen, group: GroupWiring, end: Place, left: float) -> None:
    start = (left + 0.5, end[1])
    pen.dot(start, hollow=True)
    pen.between(pen.symbols.ResistorIEC, start, end)
    pen.text(((start[0] + end[0]) / 2, end[1] + 0.4), amount(group.drive.series.ohm, "ohm", 6), ha="center", va="bottom")
    pen.text((start[0] - 0.3, end[1] + 1.0), _outputs(group), va="bottom")
    pen.text((left + 3.7, end[1] + 1.15), _pins(group), color=pen.theme.quiet_ink, va="bottom")


def _draw_driver(pen: _Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    x, height = place
    pen.box(x - 1.3, height, 2.6, 1.3, "constant-\ncurrent driver")
    pen.line((x, height - 1.3), (x, ground))
    pen.ground((x, ground))
    pen.line((left + 0.5, height - 0.65), (x - 1.3, height - 0.65))
    pen.dot((left + 0.5, height - 0.65), hollow=True)
    pen.text((left + 0.2, height + 0.15), _outputs(group), va="bottom")
    pen.text((x + 0.3, height + 0.15), _pins(group), color=pen.theme.quiet_ink, va="bottom")


def _draw_pin(pen: _Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    pen.line(place, (place[0], ground))
    pen.ground((place[0], ground))
    pen.text((place[0] + 0.3, ground + 7.3), "2", color=pen.theme.quiet_ink)
    pen.text((place[0] + 0.3, ground + 0.2), "1", color=pen.theme.quiet_ink, va="bottom")


_SWITCHES = {"transistor": _draw_transistor, "mosfet": _draw_mosfet, "driver": _draw_driver, "pin": _draw_pin}


def _span(numbers: range) -> str:
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"


def _outputs(group: GroupWiring) -> str:
    return f"output{'s' * (len(group.outputs) > 1)} {_span(group.outputs)}"


def _pins(group: GroupWiring) -> str:
    return _span(range(2, 2 + len(group.outputs)))


def _texts(group: GroupWiring) -> list[tuple[str, dict[str, str]]]:
    """Name and figures of a group, line by line, with how the name looks."""
    names = [(line, {"weight": "bold"}) for line in textwrap.wrap(group.name, _NAME_LETTERS)]
    return [*names, *((line, {}) for text in _said(group) for line in textwrap.wrap(text, _LETTERS))]


def _said(group: GroupWiring) -> list[str]:
    circuit, layout = group.circuit, group.circuit.layout
    leds, colour = counted(leds_per_channel(circuit.group), "LED"), circuit.group.colour.replace("_", " ")
    texts = [f"{counted(circuit.group.channels, 'channel')}, {leds} each, {colour}"]
    if circuit.strings > 1:
        resistors = ", all on one resistor" if group.shares else ", each with a resistor of its own" if layout else ""
        texts.append(f"{circuit.strings} strings a channel{resistors}")
    if layout is not None and circuit.series:
        texts.append(f"{amount(layout.fresh_ma.typical, 'mA')} a string fresh, {amount(layout.flat_ma.typical, 'mA')} flat")
        rating = f"{layout.rating_w:g} W" if layout.rating_w else "no common rating"
        texts.append(f"{amount(group.resistor.ohm, 'ohm', 6)}, {rating}: {_colours(group.resistor)}")
    elif circuit.series:
        texts.append(f"{amount(circuit.fresh_ma.typical, 'mA')} a string, held by the driver within {circuit.fresh_ma.high / circuit.fresh_ma.typical - 1:.0%}")
        if group.setting is not None:
            texts.append(f"{amount(group.setting.ohm, 'ohm', 6)} sets it: {_colours(group.setting)}")
    if group.drive is not None:
        texts.append(f"{amount(group.drive.pin_ma, 'mA', 2)} out of each output")
    return [*texts, f"plug: 1 {group.common}, {_pins(group)} {'channels in order' if len(group.outputs) > 1 else 'channel'}"]


def _colours(resistor: Resistor) -> str:
    return " ".join(resistor.bands) if resistor.bands else "no code of colours"
