"""The wiring of a prop as a sheet: supplies, board and sound, below them buttons and selectors,
then one channel of each group.
"""

import textwrap
from collections.abc import Sequence
from itertools import accumulate
from typing import TYPE_CHECKING

from fxseq.plots.controls import controls_height, draw_controls, said_of_controls
from fxseq.plots.pen import CELL, CELLS_A_ROW, INCH, LINE, NAME_LETTERS, Pen, Place
from fxseq.plots.sheet import EDGE_IN, WIDTH_IN, axes_at, counted, head, head_in, new_figure
from fxseq.plots.theme import THEMES, ThemeName, outline_rgb, styled
from fxseq.power import GroupWiring, Schedule, SupplyLine
from fxseq.power.schedule import Resistor
from fxseq.sequence.derived import leds_per_channel
from fxseq.sequence.quantities import amount, from_to, quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_AMPLIFIER_KINDS = {"class_d": "class D", "class_ab": "class AB"}
_OUTPUTS = {"bridge": "bridge-tied", "single": "single-ended"}
_LETTERS = 39
_SUPPLY = 3.4
_TEXTS_AT = 8.9
_SWITCH_AT = 5.6
_GROUND_AT = 7.4
_BOARD_AT = 12.6
_AMPLIFIER_AT = 18.6
_FUSED_AT = 5.4
_THROW_AT = 6.3
_POLE_AT = 7.9
_RAIL_AT = 9.6
_EDGE = 0.7
_LEGEND = (
    "A and K: anode and cathode. K is the short leg and the flat side of an LED, and the end of a"
    " diode with the band."
)


def wiring_figure(plan: Schedule, theme: ThemeName = "light") -> "Figure":
    """The diagram of a schedule. Everything on it but buttons and selectors stands in the
    schedule too.
    """
    return _sheet(plan, theme, "wiring", True, plan.groups)


def wiring_figures(plan: Schedule, theme: ThemeName = "light") -> list["Figure"]:
    """The same on several sheets, so that each can be larger on paper: what feeds and controls,
    then a row of groups on each.
    """
    first = _sheet(plan, theme, "supplies, board and sound", True, ())
    rows = (plan.groups[at : at + CELLS_A_ROW] for at in range(0, len(plan.groups), CELLS_A_ROW))
    return [first, *(_sheet(plan, theme, "groups", False, row) for row in rows)]


def _sheet(
    plan: Schedule,
    theme: ThemeName,
    of: str,
    with_power: bool,
    groups: Sequence[GroupWiring],
) -> "Figure":
    colours = THEMES[theme]
    with styled(colours):
        title = f"{plan.sequence.title}: {of}"
        remarks = _remarks(plan, with_power, bool(groups))
        rows = [groups[at : at + CELLS_A_ROW] for at in range(0, len(groups), CELLS_A_ROW)]
        controls_at = _power_height(plan) if with_power else _EDGE
        under = controls_at + (controls_height(plan) if with_power else 0.0)
        tops = list(accumulate(map(_row_height, rows), initial=under))
        top_in = head_in(title, remarks)
        figure = new_figure(top_in + tops[-1] * INCH + EDGE_IN)
        head(figure, title, remarks, colours)
        axes = axes_at(
            figure, EDGE_IN, top_in, WIDTH_IN - EDGE_IN, figure.get_size_inches()[1] - EDGE_IN
        )
        pen = Pen(axes, colours)
        if with_power:
            _draw_power(pen, plan)
            draw_controls(pen, plan, -controls_at)
        for row, top in zip(rows, tops, strict=False):
            for place, group in enumerate(row):
                _draw_group(pen, group, (place * CELL, -top))
        pen.finish(tops[-1])
    return figure


def _remarks(plan: Schedule, with_power: bool, with_groups: bool) -> list[str]:
    voltages = f"For {from_to(plan.span.flat_v, plan.span.fresh_v, 'V')}."
    drawn = " One channel of each group is drawn." if with_groups else ""
    return [
        f"{voltages}{drawn} What the file does not describe is left out.",
        _LEGEND,
        *(said_of_controls(plan) if with_power else []),
    ]


def _power_height(plan: Schedule) -> float:
    return 2.6 + max(4.0, (len(plan.lines) - 1) * _SUPPLY + 2.2)


def _row_height(groups: Sequence[GroupWiring]) -> float:
    return _TEXTS_AT + max(len(_texts(group)) for group in groups) * LINE + 0.9


def _draw_power(pen: Pen, plan: Schedule) -> None:
    heights = [-1.2 - place * _SUPPLY for place in range(len(plan.lines))]
    for line, height in zip(plan.lines, heights, strict=True):
        _draw_supply(pen, plan, line, height)
    if plan.sequence.changeover == "switch" and len(heights) > 1:
        _draw_changeover(pen, plan, heights)
    else:
        _draw_joint(pen, plan, heights)
    _draw_rails(pen, plan, _RAIL_AT, heights[0])
    _draw_board(pen, plan, heights[0])
    if plan.sequence.amplifier is not None:
        _draw_sound(pen, plan, heights[0])


def _draw_rails(pen: Pen, plan: Schedule, bus: float, top: float) -> None:
    """From the supplies to board and amplifier; for what a regulator feeds through it, and for
    the rest past it on a rail above.
    """
    found = plan.regulator
    upper = top + 0.95
    ends = {"board": _BOARD_AT}
    if plan.sequence.amplifier is not None:
        ends["amplifier"] = _AMPLIFIER_AT
    fed = [x for name, x in ends.items() if found is None or name in found.feeds]
    past = [x for x in ends.values() if x not in fed]
    start = bus
    if found is not None:
        pen.line((bus, top), (bus + 0.3, top))
        pen.box(
            bus + 0.3,
            top + 0.5,
            2.1,
            1.0,
            f"{amount(found.output_v, 'V')}\n{found.kind.replace('_', ' ')}",
        )
        pen.line((bus + 0.55, top - 0.5), (bus + 0.55, top - 1.1))
        pen.ground((bus + 0.55, top - 1.1))
        start = bus + 2.4
        if "lights" in found.feeds:
            pen.text(
                (bus + 0.85, top - 0.6),
                "for lights" if not fed else "and lights",
                color=pen.theme.quiet_ink,
            )
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


def _draw_supply(pen: Pen, plan: Schedule, line: SupplyLine, height: float) -> None:
    if plan.sequence.supplies[line.name].kind == "cells":
        pen.between(pen.symbols.Battery, (2.8, height), (0.8, height))
    else:
        pen.box(1.0, height + 0.5, 1.6, 1.0, "adaptor")
        pen.line((2.6, height), (2.8, height))
        pen.line((0.8, height), (1.0, height))
    pen.line((0.8, height), (0.8, height - 0.6))
    pen.ground((0.8, height - 0.6))
    pen.text((2.7, height - 0.08), "1 +")
    pen.text((0.7, height + 0.08), "2 \u2212", va="bottom", ha="right")
    pen.between(pen.symbols.FuseIEC, (2.8, height), (_FUSED_AT, height))
    _write_supply(pen, line, height)


def _write_supply(pen: Pen, line: SupplyLine, height: float) -> None:
    fuse = "no fuse fits"
    wire = "share the load"
    if line.fuse_a is not None:
        kind = "resettable" if line.resettable else "fuse"
        fuse = f"{kind} {line.fuse_a:g} A"
        wire = f"AWG {line.gauge}"
    if line.resettable:
        pen.text((3.2, height + 0.45), fuse, ha="left", va="bottom")
    else:
        pen.text((4.1, height + 0.45), fuse, ha="center", va="bottom")
    pen.text((4.1, height - 0.45), wire, ha="center")
    names = textwrap.wrap(line.name, NAME_LETTERS)
    pen.text((1.5, height - 0.75), "\n".join(names), weight="bold")
    text = f"{amount(line.fresh_v, 'V')} fresh; all at once {line.total_ma:.0f} mA"
    pen.text((1.5, height - 0.75 - len(names) * LINE), text, color=pen.theme.quiet_ink)


def _draw_changeover(pen: Pen, plan: Schedule, heights: Sequence[float]) -> None:
    """One contact that goes from supply to supply, drawn at the first: no position of it joins
    two of them.
    """
    top = heights[0]
    middle = (heights[0] + heights[-1]) / 2
    for height in heights:
        pen.line((_FUSED_AT, height), (_THROW_AT, height))
    pen.line((_THROW_AT, top), (_POLE_AT, middle), (_RAIL_AT, middle), (_RAIL_AT, top))
    for place in ((_POLE_AT, middle), *((_THROW_AT, height) for height in heights)):
        pen.dot(place, hollow=True)
    sizes = dict.fromkeys(
        plan.sequence.supplies[line.name].bulk_capacitor_uf for line in plan.lines
    )
    _draw_capacitor(pen, [size for size in sizes if size], middle)
    pen.text((6.8, top + 0.75), "changeover or switched socket", ha="center", va="bottom")
    pen.text((7.25, top - 0.05), "breaks before\nit makes")


def _draw_joint(pen: Pen, plan: Schedule, heights: Sequence[float]) -> None:
    for line, height in zip(plan.lines, heights, strict=True):
        _draw_way(pen, plan, height)
        size = plan.sequence.supplies[line.name].bulk_capacitor_uf
        _draw_capacitor(pen, [size] if size else [], height)
    for height in heights[:-1]:
        pen.dot((_RAIL_AT, height))
    pen.line((_RAIL_AT, heights[-1]), (_RAIL_AT, heights[0]))
    if len(heights) > 1:
        text = "a diode in each" if plan.sequence.changeover else "nothing keeps them apart"
        pen.text((6.8, heights[0] + 0.75), text, ha="center", va="bottom")


def _draw_way(pen: Pen, plan: Schedule, height: float) -> None:
    """From a supply's fuse to the rail: past what keeps it apart from others, if there are any."""
    start = (_FUSED_AT, height)
    end = (_RAIL_AT, height)
    if len(plan.lines) == 1:
        pen.line(start, end)
    elif plan.sequence.changeover == "diodes":
        pen.between(pen.symbols.Schottky, start, (8.2, height))
        pen.line((8.2, height), end)
        pen.text((6.55, height - 0.3), "A", ha="right", color=pen.theme.quiet_ink)
        pen.text((7.05, height - 0.3), "K", color=pen.theme.quiet_ink)
    else:
        pen.line(start, (6.2, height))
        pen.text((6.8, height), "?", ha="center", va="center", weight="bold", color=pen.theme.alarm)
        pen.line((7.4, height), end)


def _draw_capacitor(pen: Pen, sizes_uf: Sequence[float], height: float) -> None:
    """That from the rail to ground, if there is one."""
    if not sizes_uf:
        return
    pen.dot((8.9, height))
    pen.between(pen.symbols.Capacitor2, (8.9, height), (8.9, height - 1.5))
    pen.ground((8.9, height - 1.5))
    pen.text((9.05, height - 0.2), "+")
    pen.text(
        (8.5, height - 0.75),
        "\n".join(quantity(size, "uF") for size in sizes_uf),
        ha="right",
        va="center",
    )


def _draw_board(pen: Pen, plan: Schedule, top: float) -> None:
    board = plan.sequence.board
    takes = f"{board.current_ma:g} mA" if board.current_ma else "current not described"
    pen.line((_BOARD_AT, top), (_BOARD_AT, top - 1))
    pen.box(10.9, top - 1, 3.4, 2.6, f"board\n{takes}\noutputs of {board.pin_v:g} V")
    pen.line((_BOARD_AT, top - 3.6), (_BOARD_AT, top - 4))
    pen.ground((_BOARD_AT, top - 4))


def _draw_sound(pen: Pen, plan: Schedule, top: float) -> None:
    amplifier = plan.sequence.amplifier
    speaker = plan.sequence.speaker
    middle = top - 2.25
    pen.line((14.3, middle), (16.9, middle), arrow="->")
    pen.text((15.6, middle + 0.2), "sound", ha="center", va="bottom")
    pen.line((_AMPLIFIER_AT, top), (_AMPLIFIER_AT, top - 1))
    pen.box(
        16.9,
        top - 1,
        3.4,
        2.6,
        f"amplifier\n{_AMPLIFIER_KINDS[amplifier.kind]}\n{_OUTPUTS[amplifier.output]}",
    )
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
    pen.text((21.2, ends["in1"][1] + 0.1), "1 +", va="bottom")
    pen.text((21.2, ends["in2"][1] - 0.1), "2 \u2212")
    pen.text((22.7, middle - 1.3), f"speaker\n{speaker.impedance_ohm:g} ohm", color=pen.theme.ink)


def _draw_group(pen: Pen, group: GroupWiring, corner: Place) -> None:
    left, top = corner
    x = left + 3.4
    circuit = group.circuit
    for place, (text, style) in enumerate(_texts(group)):
        pen.text(
            (left + 0.2, top - _TEXTS_AT - place * LINE),
            text,
            **(style or {"color": pen.theme.quiet_ink}),
        )
    if circuit.series == 0:
        pen.text(
            (left + 0.2, top - 3),
            "stays dark at this supply:\nnothing to draw",
            color=pen.theme.alarm,
        )
        return
    _draw_feed(pen, group, x, top)
    lamp_at = top
    if group.resistor:
        lamp_at = top - 2
        pen.between(pen.symbols.ResistorIEC, (x, top), (x, lamp_at))
        pen.text((x + 0.45, top - 1), amount(group.resistor.ohm, "ohm", 6), va="center")
    _draw_lamps(pen, group, x, lamp_at, top - _SWITCH_AT)
    if group.shares:
        for height in (lamp_at, top - _SWITCH_AT):
            pen.dot((x, height))
            pen.line((x, height), (x + 1.4, height), ls="--")
        pen.text((x + 1.5, lamp_at), f"{counted(circuit.strings - 1, 'string')}\nmore", va="center")
    _SWITCHES[circuit.switch](pen, group, (x, top - _SWITCH_AT), left, top - _GROUND_AT)


def _draw_feed(pen: Pen, group: GroupWiring, x: float, top: float) -> None:
    if group.circuit.switch == "pin":
        pen.dot((x, top), hollow=True)
        pen.text((x - 0.3, top), _outputs(group), ha="right", va="center")
        return
    pen.line((x - 2.2, top), (x + 1.6, top))
    pen.dot((x, top))
    regulator = group.circuit.regulator
    plus = "+"
    if regulator:
        plus += amount(regulator.output_v, "V")
    pen.text((x + 1.7, top), plus, va="center")
    pen.text((x + 0.25, top - 0.1), "1", color=pen.theme.quiet_ink)


def _draw_lamps(pen: Pen, group: GroupWiring, x: float, start: float, end: float) -> None:
    """The LEDs of a string: two at the most, dashes standing for those between."""
    colour = outline_rgb(group.circuit.group.colour, pen.theme)
    series = group.circuit.series
    pen.between(pen.symbols.LED, (x, start), (x, start - 1.5), color=colour)
    pen.text((x - 0.3, start - 0.55), "A", ha="right", va="bottom", color=pen.theme.quiet_ink)
    pen.text((x - 0.3, start - 0.95), "K", ha="right", color=pen.theme.quiet_ink)
    if series == 1:
        pen.line((x, start - 1.5), (x, end))
    else:
        pen.line((x, start - 1.5), (x, end + 1.5), ls="--" if series > 2 else "-")
        pen.between(pen.symbols.LED, (x, end + 1.5), (x, end), color=colour)
    if series > 2:
        pen.text((x + 0.4, start - 1.75), f"{series} in all", va="center")


def _draw_transistor(
    pen: Pen, group: GroupWiring, place: Place, left: float, ground: float
) -> None:
    ends = pen.at(pen.symbols.BjtNpn(circle=True), place, "collector")
    pen.line(ends["emitter"], (place[0], ground))
    pen.ground((place[0], ground))
    _name_pins(
        pen, {"C": ends["collector"], "B": ends["base"], "E": ends["emitter"]}, "NPN\ntransistor"
    )
    _draw_output(pen, group, ends["base"], left)


def _draw_mosfet(pen: Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    ends = pen.at(pen.symbols.NMos(), place, "drain")
    pen.line(ends["source"], (place[0], ground))
    pen.ground((place[0], ground))
    _name_pins(
        pen, {"D": ends["drain"], "G": ends["gate"], "S": ends["source"]}, "N-channel\nMOSFET"
    )
    _draw_output(pen, group, ends["gate"], left)
    gate = (ends["gate"][0] - 0.15, ends["gate"][1])
    pen.dot(gate)
    pen.between(pen.symbols.ResistorIEC, gate, (gate[0], gate[1] - 1.4))
    pen.ground((gate[0], gate[1] - 1.4))
    pen.text(
        (gate[0] - 0.4, gate[1] - 0.75),
        amount(group.drive.hold_off.ohm, "ohm", 6),
        ha="right",
        va="center",
    )


def _name_pins(pen: Pen, pins: dict[str, Place], kind: str) -> None:
    """The letters of a switch at its ends, in the order upper, controlling, lower, and beside it
    what it is.
    """
    (high, upper), (control, middle), (low, lower) = pins.items()
    pen.text((upper[0] + 0.3, upper[1] - 0.1), high, color=pen.theme.quiet_ink)
    pen.text(
        (middle[0] - 0.05, middle[1] + 0.08),
        control,
        ha="right",
        va="bottom",
        color=pen.theme.quiet_ink,
    )
    pen.text((lower[0] + 0.3, lower[1]), low, va="bottom", color=pen.theme.quiet_ink)
    pen.text((upper[0] + 0.9, (upper[1] + lower[1]) / 2), kind, va="center")


def _draw_output(pen: Pen, group: GroupWiring, end: Place, left: float) -> None:
    start = (left + 0.5, end[1])
    pen.dot(start, hollow=True)
    pen.between(pen.symbols.ResistorIEC, start, end)
    pen.text(
        ((start[0] + end[0]) / 2, end[1] + 0.4),
        amount(group.drive.series.ohm, "ohm", 6),
        ha="center",
        va="bottom",
    )
    pen.text((start[0] - 0.3, end[1] + 1.0), _outputs(group), va="bottom")
    pen.text((left + 3.7, end[1] + 1.15), _pins(group), color=pen.theme.quiet_ink, va="bottom")


def _draw_driver(pen: Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    x, height = place
    pen.box(x - 1.3, height, 2.6, 1.3, "constant-\ncurrent driver")
    pen.line((x, height - 1.3), (x, ground))
    pen.ground((x, ground))
    pen.line((left + 0.5, height - 0.65), (x - 1.3, height - 0.65))
    pen.dot((left + 0.5, height - 0.65), hollow=True)
    pen.text((left + 0.2, height + 0.15), _outputs(group), va="bottom")
    pen.text((x + 0.3, height + 0.15), _pins(group), color=pen.theme.quiet_ink, va="bottom")


def _draw_pin(pen: Pen, group: GroupWiring, place: Place, left: float, ground: float) -> None:
    pen.line(place, (place[0], ground))
    pen.ground((place[0], ground))
    pen.text((place[0] + 0.3, ground + 7.3), "2", color=pen.theme.quiet_ink)
    pen.text((place[0] + 0.3, ground + 0.2), "1", color=pen.theme.quiet_ink, va="bottom")


_SWITCHES = {
    "transistor": _draw_transistor,
    "mosfet": _draw_mosfet,
    "driver": _draw_driver,
    "pin": _draw_pin,
}


def _span(numbers: range) -> str:
    if len(numbers) == 1:
        return f"{numbers[0]}"
    return f"{numbers[0]} to {numbers[-1]}"


def _outputs(group: GroupWiring) -> str:
    return f"output{'s' * (len(group.outputs) > 1)} {_span(group.outputs)}"


def _pins(group: GroupWiring) -> str:
    return _span(range(2, 2 + len(group.outputs)))


def _texts(group: GroupWiring) -> list[tuple[str, dict[str, str]]]:
    """Name and figures of a group, line by line, with how the name looks."""
    names = [(line, {"weight": "bold"}) for line in textwrap.wrap(group.name, NAME_LETTERS)]
    return [
        *names,
        *((line, {}) for text in _said(group) for line in textwrap.wrap(text, _LETTERS)),
    ]


def _said(group: GroupWiring) -> list[str]:
    circuit = group.circuit
    layout = group.circuit.layout
    leds = counted(leds_per_channel(circuit.group), "LED")
    colour = circuit.group.colour.replace("_", " ")
    texts = [f"{counted(circuit.group.channels, 'channel')}, {leds} each, {colour}"]
    if circuit.strings > 1:
        texts.append(f"{circuit.strings} strings a channel{_resistors(group)}")
    if group.beside:
        texts.append(f"beside them: {group.beside}")
    if layout is not None and circuit.series:
        flat = "not known"
        if circuit.flat_ma:
            flat = amount(circuit.flat_ma.typical, "mA")
        texts.append(f"{amount(layout.fresh_ma.typical, 'mA')} a string fresh, {flat} flat")
        rating = f"{layout.rating_w:g} W" if layout.rating_w else "no common rating"
        texts.append(
            f"{amount(group.resistor.ohm, 'ohm', 6)}, {rating}: {_colours(group.resistor)}"
        )
    elif circuit.series:
        texts.append(
            f"{amount(circuit.fresh_ma.typical, 'mA')} a string, held by the driver within"
            f" {circuit.fresh_ma.high / circuit.fresh_ma.typical - 1:.0%}"
        )
        if group.setting is not None:
            texts.append(
                f"{amount(group.setting.ohm, 'ohm', 6)} sets it: {_colours(group.setting)}"
            )
    if group.drive is not None:
        texts.append(f"{amount(group.drive.pin_ma, 'mA', 2)} out of each output")
    return [
        *texts,
        (
            f"plug: 1 {group.common}, {_pins(group)}"
            f" {'channels in order' if len(group.outputs) > 1 else 'channel'}"
        ),
    ]


def _resistors(group: GroupWiring) -> str:
    """How strings side by side have theirs."""
    if group.shares:
        return ", all on one resistor"
    if group.circuit.layout:
        return ", each with a resistor of its own"
    return ""


def _colours(resistor: Resistor) -> str:
    if resistor.bands:
        return " ".join(resistor.bands)
    return "no colour code"
