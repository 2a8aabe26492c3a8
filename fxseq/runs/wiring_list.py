"""The wiring list of a prop in words: tables with their heads, for the terminal and the page."""

from collections.abc import Iterator
from dataclasses import dataclass

from fxseq.acoustics import corner_hz, image_below_db, low_pass_loss_db, quantisation_ratio_db
from fxseq.power import GroupWiring, Schedule, SupplyLine
from fxseq.power.cells import Estimate
from fxseq.power.schedule import Resistor
from fxseq.power.wires import area_mm2
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.pins import pin_uses
from fxseq.sequence.quantities import amount, from_to, number

PLUGS = "Plugs, pins in order"
_STRINGS = [
    "group", "outputs", "LEDs", "in series", "strings", "resistor", "bands", "heat", "rated",
    "mA fresh", "mA flat",
]  # fmt: skip
_SWITCHES = [
    "group", "switch", "base or gate", "bands", "gate to ground", "bands", "mA from a pin",
]  # fmt: skip
_LINES = [
    "supply", "fresh", "LEDs mA", "sound mA", "board mA", "all mA", "fuse", "wire", "drop a metre",
]  # fmt: skip


@dataclass(frozen=True)
class Table:
    """Rows of cells, under a head. The first cell of a row names what it is of."""

    title: str
    head: list[str]
    rows: list[list[str]]


def head(plan: Schedule) -> str:
    """What the list is of."""
    return f"{plan.sequence.title}: wiring for {from_to(plan.span.flat_v, plan.span.fresh_v, 'V')}"


def string_table(plan: Schedule) -> Table:
    """Each group's LEDs, resistors and currents."""
    title = (
        "LED groups: LEDs in series, strings on each output, the resistor of each string (of each"
        " output where it is shared) and the current of a string (in brackets: its range from LED"
        " to LED)"
    )
    return Table(title, _STRINGS, [_string_row(group) for group in plan.groups])


def switch_table(plan: Schedule) -> Table:
    """What switches each group."""
    rows = [_switch_row(group) for group in plan.groups]
    return Table("Switches, one for each output", _SWITCHES, rows)


def line_table(plan: Schedule) -> Table:
    """Current, fuse and wire of each supply."""
    rows = [_line_row(line) for line in plan.lines]
    return Table("Supply lines, with everything on at once", _LINES, rows)


def beside(plan: Schedule) -> list[str]:
    """Groups whose resistors carry other LEDs, too."""
    return [
        f"The resistor of each output of '{group.name}' also carries: {group.beside}"
        for group in plan.groups
        if group.beside
    ]


def group_rows(plan: Schedule, name: str) -> list[tuple[str, str]]:
    """What the tables say of one group, as pairs of a term and what it is, for a narrow place."""
    [group] = [group for group in plan.groups if group.name == name]
    circuit = group.circuit
    if circuit.series == 0:
        return [("wired", "stays dark at this supply")]
    strings = dict(zip(_STRINGS, _string_row(group), strict=True))
    resistor = strings["resistor"]
    if strings["bands"] not in ("-", "no bands"):
        resistor = f"{resistor} ({strings['bands']})"
    leds = "1 LED" if circuit.series == 1 else f"{circuit.series} LEDs in series"
    each = f"{circuit.strings} string{'s' * (circuit.strings != 1)} of {leds}"
    rows = [
        ("each output lights", each),
        ("resistor", resistor),
        ("its heat and rating", f"{strings['heat']}, {strings['rated']}"),
        ("mA of a string, fresh", strings["mA fresh"]),
        ("mA of a string, flat", strings["mA flat"]),
        ("switch", group.circuit.switch),
    ]
    _, _, series, bands, hold_off, hold_bands, pin_ma = _switch_row(group)
    rows += [
        ("base or gate", f"{series} ({bands})"),
        ("gate to ground", f"{hold_off} ({hold_bands})"),
        ("mA from a pin", pin_ma),
    ]
    return [(term, cell) for term, cell in rows if not cell.startswith("-")]


def regulator(plan: Schedule) -> list[str]:
    """What the regulator has to do, if there is one."""
    found = plan.regulator
    if found is None:
        return []
    if found.needs_v:
        needs = f"needs {amount(found.needs_v, 'V')}"
    else:
        needs = f"gets {from_to(plan.span.flat_v, plan.span.fresh_v, 'V')}"
    feeds = ", ".join(found.feeds)
    return [
        f"Regulator, {found.kind.replace('_', ' ')}, {amount(found.output_v, 'V')} for {feeds}:"
        f" {needs}; with everything on at once it delivers {found.all_ma:.0f} mA and makes"
        f" {amount(found.heat_w, 'W', 2)} of heat on the freshest supply"
    ]


def plugs(plan: Schedule) -> list[tuple[str, str]]:
    """Each plug with its pins in order."""
    return [(plug.name, _plug_pins(plug.pins)) for plug in plan.connectors]


def _plug_pins(pins: tuple[str, ...]) -> str:
    first, second, *others = pins
    if not others:
        return f"1 {first}, 2 {second}"
    last = others[-1].removeprefix("channel ")
    return f"1 {first}, 2 to {len(pins)} {second.replace('channel', 'channels')} to {last}"


def pins_title(plan: Schedule) -> str:
    """Heading of `pins`."""
    return f"Pins of the board, a {plan.sequence.board.part}"


def pins(plan: Schedule) -> list[tuple[str, str]]:
    """Each pin of a ready-made board with where it leads; none of another board."""
    return [(use.label, use.leads_to) for use in pin_uses(plan.sequence)]


def pulses(plan: Schedule) -> Iterator[str]:
    """What sound as pulses costs, where it leaves a ready-made board so."""
    board = plan.sequence.board
    if board.sound != "pwm" or not plan.sequence.clips:
        return
    instead = ""
    if board_parts()[board.part].pins_for("i2s"):
        instead = ' With sound = "i2s" and an amplifier that takes it, there is none of this.'
    tone_hz = board.sample_rate_hz / 4
    below_db = image_below_db(tone_hz, board.sample_rate_hz)
    yield (
        "Sound leaves the board as pulses, which the resistor and the capacitor at its pin smooth."
        f" Its noise is some {quantisation_ratio_db(board.sound_bits):.0f} dB below full scale."
        f" The two take {low_pass_loss_db(tone_hz):.1f} dB at {tone_hz / 1000:.1f} kHz and 3 dB at"
        f" {corner_hz() / 1000:.1f} kHz. A tone of {tone_hz / 1000:.1f} kHz has a mirror image at"
        f" {(board.sample_rate_hz - tone_hz) / 1000:.1f} kHz, {below_db:.0f} dB weaker.{instead}"
    )


def _string_row(group: GroupWiring) -> list[str]:
    circuit = group.circuit
    layout = group.circuit.layout
    row = [
        group.name,
        _span(group.outputs),
        str(circuit.group.leds),
        str(circuit.series),
        str(circuit.strings),
    ]
    if circuit.series == 0:
        return [*row, *["stays dark"], *["-"] * 5]
    currents = map(_string_ma, (circuit.fresh_ma, circuit.flat_ma))
    if layout is None:
        if group.setting is None:
            return [*row, "none: driver", "-", "-", "-", *currents]
        ohm, bands = _resistor(group.setting)
        return [*row, f"{ohm}, sets its driver", bands, "-", "-", *currents]
    rated = f"{layout.rating_w:g} W" if layout.rating_w else "too much"
    ohm, bands = _resistor(group.resistor)
    if group.shares:
        ohm += ", shared"
    return [
        *row,
        ohm,
        bands,
        amount(layout.power_w, "W", 2),
        rated,
        *currents,
    ]


def _string_ma(current_ma: Estimate | None) -> str:
    if current_ma is None:
        return "not known"
    return f"{_ma(current_ma.typical)} ({_ma(current_ma.low)} to {_ma(current_ma.high)})"


def _switch_row(group: GroupWiring) -> list[str]:
    drive = group.drive
    if drive is None:
        return [group.name, group.circuit.switch, *["-"] * 5]
    return [
        group.name,
        group.circuit.switch,
        *_resistor(drive.series),
        *_resistor(drive.hold_off),
        _ma(drive.pin_ma, 2),
    ]


def _ma(current_ma: float, digits: int = 3) -> str:
    """A current in a column of them; less than a ten-thousandth counts as none."""
    return number(round(current_ma, 4), digits)


def _resistor(resistor: Resistor | None) -> list[str]:
    if resistor is None:
        return ["-", "-"]
    return [
        amount(resistor.ohm, "ohm", 6),
        " ".join(resistor.bands or ["no bands"]),
    ]


def _line_row(line: SupplyLine) -> list[str]:
    sound = "not known" if line.sound_ma is None else f"{line.sound_ma:.0f}"
    row = [
        line.name,
        amount(line.fresh_v, "V"),
        f"{line.light_ma:.0f}",
        sound,
        _ma(line.board_ma),
        f"{line.total_ma:.0f}",
    ]
    if line.gauge is None:
        return [*row, "none", "none", "-"]
    return [
        *row,
        f"{line.fuse_a:g} A" + ", resettable" * line.resettable,
        gauge_said(line.gauge),
        f"{line.drop_mv_per_m:.0f} mV",
    ]


def gauge_said(gauge: int | None) -> str:
    """A wire by its American gauge and its cross-section."""
    return "none" if gauge is None else f"AWG {gauge} ({area_mm2(gauge):.2f} mm2)"


def _span(numbers: range) -> str:
    if len(numbers) == 1:
        return f"{numbers[0]}"
    return f"{numbers[0]} to {numbers[-1]}"
