"""Papers to build a prop from: what goes where, what is joined to what, what to measure."""

import textwrap
from collections.abc import Iterator
from pathlib import Path

from fxseq.checks import wiring_cautions
from fxseq.papers.document import Block, Drawing, Items, Section, Table, Text
from fxseq.papers.first_power import first_power
from fxseq.papers.leads import SAID, leads, leads_table
from fxseq.papers.parts_list import SPARES, parts_list, parts_table, ranges
from fxseq.papers.presses import press_sentences, said
from fxseq.plots import board_figure, lamp_map_figure, wiring_figure
from fxseq.power import GroupWiring, Netlist, Schedule
from fxseq.power.netlist import GROUND, PLACES, RAIL, Net
from fxseq.power.schedule import Resistor
from fxseq.power.wires import diameter_m
from fxseq.runs import Performance
from fxseq.sequence import Finding
from fxseq.sequence.quantities import amount, number

_ROW_ENDS = 88
"""Letters of a row of joints; a net with more goes on in the next row."""
_SWITCHES = {"mosfet": "MOSFET", "pin": "the pin itself"}


def builder_sections(
    run: Performance, plan: Schedule, joints: Netlist, found: list[Finding], props: int
) -> Iterator[Section]:
    """The papers, in the order in which a builder needs them."""
    sequence = plan.sequence
    folder = run.prop.path.parent
    yield _about(run, plan)
    yield _lamps(plan, joints, folder)
    lines = parts_list(joints, props)
    yield Section("What to buy", (parts_table(lines, props), Text(SPARES)), on_new_page=True)
    yield _diagrams(plan)
    yield _joints(plan, joints)
    yield _groups(plan)
    yield _lines(plan)
    yield first_power(run, plan, joints)
    yield _program(run.prop.path.name, sequence.board.part)
    yield Section("What each press does", (Items(tuple(press_sentences(sequence))),))
    yield _open(plan, joints, found)
    yield Section("Cautions", (Items(tuple(wiring_cautions(sequence))),))


def _about(run: Performance, plan: Schedule) -> Section:
    sequence = plan.sequence
    maker = sequence.maker
    lamps = sum(group.leds for group in sequence.groups.values())
    fed = " or ".join(
        f"{said(line.name)} ({amount(line.fresh_v, 'V')} fresh)" for line in plan.lines
    )
    texts = [
        f"{lamps} LEDs on {sum(group.channels for group in sequence.groups.values())} outputs, fed"
        f" by {fed}. Build it in the order of these pages and tick off what is done.",
        *(maker.remarks if maker else []),
    ]
    if maker and maker.contact:
        texts.append(f"Questions: {maker.name}, {maker.contact}.")
    return Section("The prop", tuple(map(Text, texts)))


def _lamps(plan: Schedule, joints: Netlist, folder: Path) -> Section:
    rows = tuple(
        (
            said(name), ranges(marks), str(len(marks)),
            plan.sequence.groups[name].colour.replace("_", " "),
            f"{plan.sequence.groups[name].size_mm:g} mm",
        )
        for name, marks in joints.lamps.items()
    )  # fmt: skip
    blocks: list[Block] = [
        Drawing(
            lambda: lamp_map_figure(plan.sequence, joints.lamps, folder),
            f"The prop from the front with its {sum(map(len, joints.lamps.values()))} lamps",
        ),
        Table(("group", "marks", "lamps", "colour", "size"), rows, ticks=True),
    ]
    found = leads(plan.sequence)
    if found:
        blocks += [Text(f"Wires to the lamps. {SAID}"), leads_table(found)]
    return Section("Where the lamps are", tuple(blocks))


def _diagrams(plan: Schedule) -> Section:
    blocks: list[Block] = [
        Drawing(lambda: wiring_figure(plan), "Diagram: supplies, board, sound, one channel a group")
    ]
    if plan.sequence.board.part:
        board = Drawing(
            lambda: board_figure(plan.sequence), "The board from above with its pins by number"
        )
        blocks.append(board)
    return Section("Diagrams", tuple(blocks), on_new_page=True)


def _joints(plan: Schedule, joints: Netlist) -> Section:
    """Every joint: what hangs together stands in one row, or in rows below each other."""
    first = (
        "Every row is one net: its pins are joined with each other and with nothing else; a net of"
        " many pins goes on in the rows below. R5/1 is pin 1 of R5; A and K are anode and cathode"
        " of an LED or a diode (K: the short leg, the flat side, the end with the band)."
    )
    blocks: list[Block] = [Text(first)]
    for heading, nets in _by_place(plan, joints).items():
        if nets:
            blocks += [Text(heading), _net_table(nets)]
    return Section("Joints", tuple(blocks), on_new_page=True)


def _by_place(plan: Schedule, joints: Netlist) -> dict[str, list[Net]]:
    """Nets in the order in which one would solder them: what has many pins first."""
    shared = [net for net in joints.nets if net.name in (GROUND, RAIL)]
    places = {"Ground and supply": shared}
    for place in (*PLACES, *(group.name for group in plan.groups)):
        places[said(place).capitalize()] = [
            net for net in joints.nets if net.place == place and net not in shared
        ]
    return places


def _net_table(nets: list[Net]) -> Table:
    rows = [(net.name, row) for net in nets for row in _rows(net)]
    return Table(("net", "pins that hang together"), tuple(rows), ticks=True)


def _rows(net: Net) -> list[str]:
    """Its pins, a few in a row; no pin is torn apart."""
    text = ";  ".join(f"{mark}/{pin}".replace(" ", "\u00a0") for mark, pin in net.ends)
    return textwrap.wrap(text, _ROW_ENDS, break_long_words=False, break_on_hyphens=False)


def _groups(plan: Schedule) -> Section:
    strings = Table(
        (
            "group",
            "outputs",
            "LEDs",
            "in series",
            "strings",
            "resistor",
            "heat",
            "mA fresh",
            "mA flat",
        ),
        tuple(map(_string_row, plan.groups)),
    )
    switches = Table(
        ("group", "switch", "base or gate", "gate to ground", "mA from a pin"),
        tuple(map(_switch_row, plan.groups)),
    )
    return Section(
        "Groups",
        (
            Text("Of each string, with the resistor's colour bands. In brackets: from LED to LED."),
            strings,
            Text("What switches them, one for each output."),
            switches,
        ),
        on_new_page=True,
    )


def _string_row(group: GroupWiring) -> tuple[str, ...]:
    circuit, layout = group.circuit, group.circuit.layout
    row = (
        said(group.name), _span(group.outputs), str(circuit.group.leds), str(circuit.series),
        str(circuit.strings),
    )  # fmt: skip
    if circuit.series == 0:
        return (*row, "stays dark", "-", "-", "-")
    currents = tuple(
        (
            f"{number(each.typical)} ({number(each.low)} to {number(each.high)})"
            if each
            else "not known"
        )
        for each in (circuit.fresh_ma, circuit.flat_ma)
    )
    fitted = group.resistor or group.setting
    heat = "-"
    if layout:
        rating = f"{layout.rating_w:g} W" if layout.rating_w else "no common one"
        heat = f"{amount(layout.power_w, 'W', 2)} of {rating}"
    shared = ", shared" if group.shares else ""
    return (*row, _resistor(fitted) + shared, heat, *currents)


def _switch_row(group: GroupWiring) -> tuple[str, ...]:
    drive = group.drive
    switch = _SWITCHES.get(group.circuit.switch, group.circuit.switch)
    if drive is None:
        return (said(group.name), switch, "-", "-", "-")
    return (
        said(group.name), switch, _resistor(drive.series), _resistor(drive.hold_off),
        number(round(drive.pin_ma, 4), 2),
    )  # fmt: skip


def _lines(plan: Schedule) -> Section:
    rows = []
    for line in plan.lines:
        fuse = (
            f"{line.fuse_a:g} A" + ", resettable" * line.resettable if line.fuse_a else "none fits"
        )
        wire = "none" if line.gauge is None else _wire(line.gauge)
        drop = "-" if line.drop_mv_per_m is None else f"{line.drop_mv_per_m:.0f} mV"
        sound = "not known" if line.sound_ma is None else f"{line.sound_ma:.0f}"
        rows.append(
            (said(line.name), amount(line.fresh_v, "V"), f"{line.light_ma:.0f}", sound,
             number(line.board_ma), f"{line.total_ma:.0f}", fuse, wire, drop)
        )  # fmt: skip
    head = (
        "supply", "fresh", "LEDs mA", "sound mA", "board mA", "all mA", "fuse", "wire",
        "drop a metre",
    )  # fmt: skip
    plugs = Table(
        ("plug", "pins in order"),
        tuple((said(plug.name), _pins(plug.pins)) for plug in plan.connectors),
        ticks=True,
    )
    return Section(
        "Supply lines and plugs",
        (
            Text("With everything on at once: all LEDs lit, the loudest tone, the board."),
            Table(head, tuple(rows)),
            plugs,
        ),
    )


def _pins(pins: tuple[str, ...]) -> str:
    first, second, *others = pins
    if not others:
        return f"1 {first}, 2 {second}"
    channels = f"{second.replace('channel', 'channels')} to {others[-1].removeprefix('channel ')}"
    return f"1 {first}, 2 to {len(pins)} {channels}"


def _wire(gauge: int) -> str:
    area_mm2 = 3.14159265 / 4 * (1000 * diameter_m(gauge)) ** 2
    return f"AWG {gauge} ({area_mm2:.2f} mm²)"


def _program(file: str, part: str | None) -> Section:
    if part is None:
        return Section(
            "Program and table",
            (Text(f"Once the board has its player: fxseq push {file}, then fxseq prove {file}."),),
        )
    steps = (
        f"Give the board its program, once: fxseq firmware {part} --install. It says each step.",
        "Take the cells out, join the board to the computer, and see that it is there: fxseq ports",
        f"Send the table: fxseq push {file}",
        f"Let the board prove that it does what the preview did: fxseq prove {file}",
    )
    return Section("Program and table", (Items(steps, "numbers"),))


def _open(plan: Schedule, joints: Netlist, found: list[Finding]) -> Section:
    blocks: list[Block] = []
    for heading, rows in (
        ("Assumed, because the file does not give it:", plan.assumed),
        ("Not described, so not counted:", plan.missing),
        ("Led to nothing:", joints.open_ends),
        ("What the checks say of it:", tuple(map(_found, found))),
    ):
        if rows:
            blocks += [Text(heading), Items(tuple(rows))]
    return Section("What is open", tuple(blocks), on_new_page=True)


def _found(finding: Finding) -> str:
    decided = f" Decided: {finding.decided}." if finding.decided else ""
    return f"{finding.weight.name.capitalize()}: {finding.subject}: {finding.figure}.{decided}"


def _resistor(resistor: Resistor | None) -> str:
    if resistor is None:
        return "-"
    return f"{amount(resistor.ohm, 'ohm', 6)}: {' '.join(resistor.bands or ['no colour code'])}"


def _span(numbers: range) -> str:
    return f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
