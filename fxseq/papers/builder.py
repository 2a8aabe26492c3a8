"""Papers to build a prop from: what goes where, what is joined to what, what to measure."""

import textwrap
from collections.abc import Iterator
from pathlib import Path

from fxseq.checks import wiring_cautions
from fxseq.papers.document import Block, Drawing, Items, Section, Table, Text
from fxseq.papers.first_power import first_power
from fxseq.papers.leads import SAID, leads, leads_table
from fxseq.papers.parts_list import SPARES, parts_list, parts_table, ranges
from fxseq.papers.presses import begun, press_sentences, said
from fxseq.plots import board_figure, lamp_map_figure, wiring_figures
from fxseq.power import Netlist, Schedule
from fxseq.power.netlist import GROUND, PLACES, RAIL, Net, of_group
from fxseq.runs import Performance, wiring_list
from fxseq.sequence import Finding
from fxseq.sequence.derived import is_placed
from fxseq.sequence.model import Maker, Sequence
from fxseq.sequence.pins import code_bits, pin_uses
from fxseq.sequence.quantities import amount
from fxseq.sequence.wording import series

_PINS = {
    ("resistor",): (
        "R5/1 is end 1 of R5: of resistors, fuses, buttons and small capacitors either end will do."
    ),
    ("LED", "diode"): (
        "A and K are anode and cathode of an LED or a diode. K is the short leg and the flat side"
        " of an LED, and the end of a diode with the band."
    ),
    ("electrolytic",): "An electrolytic capacitor has a stripe at its minus.",
    ("potentiometer",): (
        "The clockwise end of a potentiometer is that to which its slider goes when it is turned"
        " clockwise, seen from the front."
    ),
    ("transistor",): "Which leg of a transistor is B, C or E is in its data sheet.",
    ("MOSFET",): "Which leg of a MOSFET is G, D or S is in its data sheet.",
    ("74HC595",): "15 QA of a shift register is its pin 15, which its data sheet calls QA.",
    ("",): "Pins that are in no row stay free.",
}
"""What to know of the pins of a part, by words of which its name has one."""
_UNFED = (
    "The prop file does not say what feeds the prop. So these papers lack all that depends on it:"
    " the parts with their values, diagrams, joints, wires and fuses, and what to measure at the"
    " first power-up. Describe it under [supplies.NAME] (fxseq new writes a file that shows how),"
    " and make the papers again."
)
_PLUGGED = (
    "A plug is wanted where a group can be unplugged. Its resistors are on the side of the LEDs; a"
    " channel is what the joints call switched or, without a switch, the output. Plugs, wire and"
    " solder are not in the list of parts."
)
_ROW_LETTERS = 96
"""Of a name and its joints; a net with more goes on in the next row."""


def builder_sections(
    run: Performance, plan: Schedule, joints: Netlist, found: list[Finding], props: int
) -> Iterator[Section]:
    """The papers, in the order in which a builder needs them."""
    sequence = plan.sequence
    folder = run.prop.path.parent
    yield _about(plan, joints)
    yield Section("Cautions", (Items(tuple(wiring_cautions(sequence))),))
    if joints.lamps:
        yield _lamps(plan, joints, folder)
    lines = parts_list(joints, props)
    yield Section("What to buy", (Text(SPARES), parts_table(lines, props)))
    yield _diagrams(plan)
    yield _joints(plan, joints)
    yield _groups(plan)
    yield _lines(plan)
    yield first_power(run, plan, joints)
    yield _program(run.prop.path.name, sequence.board.part)
    yield Section("What each press does", (Items(tuple(press_sentences(sequence))),))
    yield _open(plan, joints, found)


def unfed_sections(run: Performance, found: list[Finding]) -> Iterator[Section]:
    """What there is to say of a prop of which no supply is described: all that does not depend on
    it.
    """
    sequence = run.prop.sequence
    yield Section("The prop", (Text(_UNFED), *_told_by(sequence.maker)))
    yield Section("Cautions", (Items(tuple(wiring_cautions(sequence))),))
    if sequence.board.part:
        rows = tuple((use.label, use.leads_to) for use in pin_uses(sequence))
        yield Section("The board", (_board(sequence), Table(("pin", "leads to"), rows, ticks=True)))
    yield _program(run.prop.path.name, sequence.board.part)
    yield Section("What each press does", (Items(tuple(press_sentences(sequence))),))
    yield Section("What the checks say of it", (Items(tuple(map(_found, found))),))


def _told_by(maker: Maker | None) -> Iterator[Text]:
    """What the maker says to whoever builds the prop."""
    if maker is None:
        return
    yield from map(Text, maker.remarks)
    if maker.contact:
        yield Text(f"Questions: {maker.name}, {maker.contact}.")


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}{'s' * (count != 1)}"


def _board(sequence: Sequence) -> Drawing:
    return Drawing(lambda: board_figure(sequence), "The board from above with its pins by number")


def _about(plan: Schedule, joints: Netlist) -> Section:
    sequence = plan.sequence
    lamps = sum(map(len, (*joints.lamps.values(), *joints.beside.values())))
    fed = " or ".join(
        f"{said(line.name)} ({amount(line.fresh_v, 'V')} fresh)" for line in plan.lines
    )
    outputs = sum(group.channels for group in sequence.groups.values())
    text = (
        f"{_counted(lamps, 'LED')} on {_counted(outputs, 'output')}, fed by {fed}. Build it in the"
        " order of these pages and tick off what is done."
    )
    return Section("The prop", (Text(text), *_told_by(sequence.maker)))


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
        (
            Drawing(
                lambda: lamp_map_figure(plan.sequence, joints.lamps, folder),
                f"The prop from the front with its {sum(map(len, joints.lamps.values()))} lamps",
                may_turn=False,
            )
            if any(map(is_placed, plan.sequence.groups.values()))
            else Text("The file does not say where the lamps sit.")
        ),
        Table(("group", "marks", "lamps", "colour", "size"), rows, ticks=True),
        *(
            Text(
                f"{ranges(marks)}: the other LEDs on the resistors of {said(name)}. The file does"
                " not say where they sit, so they are not on the picture."
            )
            for name, marks in joints.beside.items()
        ),
    ]
    found = leads(plan)
    if found:
        blocks += [Text(SAID), leads_table(found)]
    return Section("Where the lamps are", tuple(blocks))


def _diagrams(plan: Schedule) -> Section:
    told = (
        "They show how it works; the joints behind them are all that there is to solder. Left out"
        " here: " + series(list(_not_drawn(plan)), "and") + "."
    )
    power, *groups = wiring_figures(plan)
    blocks: list[Block] = [
        Text(told),
        Drawing(lambda: power, "Diagram: supplies, board and sound"),
        *(Drawing(lambda sheet=sheet: sheet, "Diagram: a channel a group") for sheet in groups),
    ]
    if plan.sequence.board.part:
        blocks.append(_board(plan.sequence))
    return Section("Diagrams", tuple(blocks), on_new_page=True)


def _not_drawn(plan: Schedule) -> Iterator[str]:
    """What the joints have and no diagram."""
    board = plan.sequence.board
    yield "all channels of a group but the first"
    if board.part and board.lights != "pins" and plan.groups:
        yield "the chain that the outputs belong to"
    if board.part and board.sound == "pwm" and plan.sequence.clips:
        yield "what smooths the sound"
    inputs = plan.sequence.inputs.values()
    if board.part and any(item.kind == "low_battery" for item in inputs):
        yield "what tells low cells"
    if board.pins.volume is not None:
        yield "the volume"


def _joints(plan: Schedule, joints: Netlist) -> Section:
    """Every joint: what hangs together stands in one row, or in rows below each other."""
    first = (
        "Every row is one net: its pins are joined with each other and with nothing else; a net of"
        " many pins goes on in the rows below."
    )
    whats = "; ".join(part.what for part in joints.parts)
    told = (text for words, text in _PINS.items() if any(word in whats for word in words))
    blocks: list[Block] = [Text(first), Items(tuple(told))]
    for heading, nets in _by_place(plan, joints).items():
        if nets:
            blocks.append(_net_table(heading, nets))
    return Section("Joints", tuple(blocks), on_new_page=True)


def _by_place(plan: Schedule, joints: Netlist) -> dict[str, list[Net]]:
    """Nets in the order in which one would solder them: what has many pins first."""
    shared = [net for net in joints.nets if net.name in (GROUND, RAIL)]
    places = {"Ground and supply": shared}
    groups = [of_group(group.name) for group in plan.groups]
    for place in (*PLACES, *groups):
        places[begun(said(place))] = [
            net for net in joints.nets if net.place == place and net not in shared
        ]
    return places


def _net_table(heading: str, nets: list[Net]) -> Table:
    room = _ROW_LETTERS - max(len(net.name) for net in nets)
    rows = [(net.name, row) for net in nets for row in _rows(net, max(room, _ROW_LETTERS // 2))]
    return Table(("net", "pins that hang together"), tuple(rows), ticks=True, title=heading)


def _rows(net: Net, room: int) -> list[str]:
    """Its pins, a few in a row; no pin is torn apart."""
    text = ";  ".join(f"{mark}/{pin}".replace(" ", "\u00a0") for mark, pin in net.ends)
    return textwrap.wrap(text, room, break_long_words=False, break_on_hyphens=False)


def _groups(plan: Schedule) -> Section:
    return Section(
        "Groups",
        (
            *_told(wiring_list.string_table(plan)),
            *(Text(f"{text}.") for text in wiring_list.beside(plan)),
            *_told(wiring_list.switch_table(plan)),
            *_coded(plan),
        ),
        on_new_page=True,
    )


def _coded(plan: Schedule) -> Iterator[Table]:
    """Which contacts of a coded switch are closed, to find its pins with a meter."""
    for name, selector in plan.sequence.selectors.items():
        if not selector.coded:
            continue
        bits = range(code_bits(selector))
        rows = tuple(
            (said(position), *("closed" if number >> bit & 1 else "open" for bit in bits))
            for number, position in enumerate(selector.positions)
        )
        yield Table(
            ("position", *(f"bit {bit}" for bit in bits)), rows, title=f"The switch {said(name)}"
        )


def _lines(plan: Schedule) -> Section:
    plugs = tuple((said(name), pins) for name, pins in wiring_list.plugs(plan))
    return Section(
        "Supply lines and plugs",
        (
            *_told(wiring_list.line_table(plan)),
            *(Text(f"{text}.") for text in wiring_list.regulator(plan)),
            Table(("plug", "pins in order"), plugs, ticks=True, title=wiring_list.PLUGS),
            Text(_PLUGGED),
        ),
    )


def _told(table: wiring_list.Table) -> Iterator[Block]:
    """A table of the wiring list, with what its columns are."""
    rows = tuple((said(name), *cells) for name, *cells in table.rows)
    title, _, columns = table.title.partition(": ")
    yield Table(tuple(table.head), rows, title=title)
    if columns:
        yield Text(f"{begun(columns)}.")


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
    return Section("What is open", tuple(blocks))


def _found(finding: Finding) -> str:
    decided = f" Decided: {finding.decided}." if finding.decided else ""
    return f"{finding.weight.name.capitalize()}: {finding.subject}: {finding.figure}.{decided}"
