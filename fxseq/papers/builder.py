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
from fxseq.power import Netlist, Schedule
from fxseq.power.netlist import GROUND, PLACES, RAIL, Net
from fxseq.runs import Performance, wiring_list
from fxseq.sequence import Finding
from fxseq.sequence.quantities import amount

_ROW_ENDS = 88
"""Letters of a row of joints; a net with more goes on in the next row."""


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
    return Section(
        "Groups",
        (
            *_told(wiring_list.string_table(plan)),
            *map(Text, wiring_list.beside(plan)),
            *_told(wiring_list.switch_table(plan)),
        ),
        on_new_page=True,
    )


def _lines(plan: Schedule) -> Section:
    plugs = tuple((said(name), pins) for name, pins in wiring_list.plugs(plan))
    return Section(
        "Supply lines and plugs",
        (
            *_told(wiring_list.line_table(plan)),
            *map(Text, wiring_list.regulator(plan)),
            Table(("plug", "pins in order"), plugs, ticks=True),
        ),
    )


def _told(table: wiring_list.Table) -> tuple[Block, ...]:
    """A table of the wiring list, with what it is of."""
    rows = tuple((said(name), *cells) for name, *cells in table.rows)
    return Text(f"{table.title}."), Table(tuple(table.head), rows)


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
