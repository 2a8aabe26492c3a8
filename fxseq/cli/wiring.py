"""fxseq wiring."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import (
    finding_head,
    json_option,
    output_folder,
    result,
    sequence_argument,
    table_text,
    theme_option,
    writable_folder,
)
from fxseq.sequence.quantities import amount, from_to, number

if TYPE_CHECKING:
    from fxseq.power import GroupWiring, Schedule, SupplyLine
    from fxseq.power.cells import Estimate
    from fxseq.power.schedule import Resistor
    from fxseq.sequence import Finding, Sequence
    from fxseq.sequence.model import Board

_WIDTH = 140


@click.command()
@sequence_argument
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the diagram. Default: NAME_wiring in the current folder.",
)
@theme_option
@json_option
def command(sequence: Path, out: Path | None, theme: str, as_json: bool) -> None:
    """Write the wiring list: resistors, switches, wires, fuses, plugs, and a diagram.

    It needs the prop file alone. For each group it says how the LEDs are wired, for the whole range
    of the supplies. For each supply it says which wire and fuse it needs with everything on at
    once. It writes wiring.svg and wiring.png, and of a ready-made board its pins, board.svg and
    board.png.
    """
    from fxseq.checks import wiring_cautions, wiring_findings
    from fxseq.power import circuits
    from fxseq.plots import board_figure, save, wiring_figure
    from fxseq.runs import wiring_of
    from fxseq.sequence import load
    from fxseq.sequence.pins import pin_uses

    folder = writable_folder(out or Path(f"{sequence.stem}_wiring"))
    described = load(sequence)
    needs_supply(sequence, described)
    plan = wiring_of(described)
    output_folder(folder)
    drawn = {"wiring": wiring_figure(plan, theme)}
    if described.board.part:
        drawn["board"] = board_figure(described, theme)
    files = [folder / f"{name}.{kind}" for name in drawn for kind in ("svg", "png")]
    for path in files:
        save(drawn[path.stem], path)
    found = wiring_findings(described, circuits(described))
    cautions = wiring_cautions(described)
    values = {
        **plan.as_dict(),
        "pins": [vars(use) for use in pin_uses(described)],
        "findings": [finding.as_dict() for finding in found],
        "cautions": cautions,
        "files": [str(path) for path in files],
    }
    result(_text(plan, found, cautions, sequence, files), values, as_json)


def needs_supply(path: Path, described: "Sequence") -> None:
    """Raises SequenceError where nothing feeds the prop."""
    from fxseq.sequence import Fault, SequenceError

    if not described.supplies:
        remedy = (
            "Describe what feeds the prop under [supplies.NAME]; `fxseq new` writes a file that"
            " shows how."
        )
        what = "no supply is described, so there is nothing to wire"
        raise SequenceError(Fault(f"{path}: supplies", what, remedy=remedy))


def _text(
    plan: "Schedule", found: list["Finding"], cautions: list[str], sequence: Path, files: list[Path]
) -> str:
    head = f"{plan.sequence.title}: wiring for {from_to(plan.span.flat_v, plan.span.fresh_v, 'V')}"
    parts = [
        head,
        *_groups(plan),
        f"Supply lines, with everything on at once\n\n{_lines(plan)}",
        *_regulator(plan),
        f"Plugs, pins in order\n\n{_plugs(plan)}",
        *_pins(plan),
    ]
    if found:
        parts.append(
            "\n".join(
                [
                    *(finding_head(finding) for finding in found),
                    f"Limits, sources and remedies: fxseq check {sequence}",
                ]
            )
        )
    if plan.assumed:
        parts.append(_listed("Assumed, because the file does not give it", plan.assumed))
    parts += [
        _listed("Not described, so not counted", plan.missing),
        f"Drawn: {', '.join(path.name for path in files)} in {files[0].parent}",
        _listed("Cautions", cautions),
    ]
    return "\n\n".join(parts)


def _regulator(plan: "Schedule") -> list[str]:
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


def _listed(heading: str, texts: "tuple[str, ...] | list[str]") -> str:
    return "\n".join(
        [
            heading,
            *(
                textwrap.fill(text, _WIDTH, initial_indent="  - ", subsequent_indent="    ")
                for text in texts
            ),
        ]
    )


def _groups(plan: "Schedule") -> list[str]:
    if not plan.groups:
        return ["No groups of LEDs."]
    strings = [
        "group", "outputs", "LEDs", "in series", "strings", "resistor", "bands", "heat", "rated",
        "mA fresh", "mA flat",
    ]  # fmt: skip
    switches = [
        "group",
        "switch",
        "base or gate",
        "bands",
        "gate to ground",
        "bands",
        "mA from a pin",
    ]
    return [
        "LED groups: LEDs in series, strings on each output, the resistor of each string (of each"
        " output where it is shared) and the current of a\nstring (in brackets: its range from LED"
        " to LED)\n\n" + table_text(strings, map(_string_row, plan.groups)),
        *(
            f"The resistor of each output of '{group.name}' also carries: {group.beside}"
            for group in plan.groups
            if group.beside
        ),
        "Switches, one for each output\n\n" + table_text(switches, map(_switch_row, plan.groups)),
    ]


def _string_row(group: "GroupWiring") -> list[str]:
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


def _string_ma(current_ma: "Estimate | None") -> str:
    if current_ma is None:
        return "not known"
    return f"{_ma(current_ma.typical)} ({_ma(current_ma.low)} to {_ma(current_ma.high)})"


def _switch_row(group: "GroupWiring") -> list[str]:
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


def _resistor(resistor: "Resistor | None") -> list[str]:
    if resistor is None:
        return ["-", "-"]
    return [
        amount(resistor.ohm, "ohm", 6),
        " ".join(resistor.bands or ["no bands"]),
    ]


def _lines(plan: "Schedule") -> str:
    head = [
        "supply",
        "fresh",
        "LEDs mA",
        "sound mA",
        "board mA",
        "all mA",
        "fuse",
        "wire",
        "drop a metre",
    ]
    return table_text(head, map(_line_row, plan.lines))


def _line_row(line: "SupplyLine") -> list[str]:
    sound = "not known" if line.sound_ma is None else f"{line.sound_ma:.0f}"
    row = [
        line.name,
        amount(line.fresh_v, "V"),
        f"{line.light_ma:.0f}",
        sound,
        _ma(line.board_ma, 6),
        f"{line.total_ma:.0f}",
    ]
    if line.gauge is None:
        return [*row, "none", "none", "-"]
    return [
        *row,
        f"{line.fuse_a:g} A" + ", resettable" * line.resettable,
        f"AWG {line.gauge}",
        f"{line.drop_mv_per_m:.0f} mV",
    ]


def _plugs(plan: "Schedule") -> str:
    rows = []
    for plug in plan.connectors:
        first, second, *others = plug.pins
        if others:
            rest = (
                f"2 to {len(plug.pins)} {second.replace('channel', 'channels')} to"
                f" {others[-1].removeprefix('channel ')}"
            )
        else:
            rest = f"2 {second}"
        rows.append(f"  {plug.name}: 1 {first}, {rest}")
    return "\n".join(rows)


def _pins(plan: "Schedule") -> list[str]:
    from fxseq.sequence.pins import pin_uses

    rows = [f"  {use.label}: {use.leads_to}" for use in pin_uses(plan.sequence)]
    if not rows:
        return []
    board = plan.sequence.board
    told = [_pulses(board)] if board.sound == "pwm" and plan.sequence.clips else []
    return ["\n".join([f"Pins of the board, a {board.part}\n", *rows]), *told]


def _pulses(board: "Board") -> str:
    from fxseq.acoustics import corner_hz, image_below_db, low_pass_loss_db, quantisation_ratio_db
    from fxseq.sequence.board_parts import board_parts

    instead = ""
    if board_parts()[board.part].pins_for("i2s"):
        instead = ' With sound = "i2s" and an amplifier that takes it, there is none of this.'
    tone_hz = board.sample_rate_hz / 4
    below_db = image_below_db(tone_hz, board.sample_rate_hz)
    return textwrap.fill(
        "Sound leaves the board as pulses, which the resistor and the capacitor at its pin smooth."
        f" Its noise is some {quantisation_ratio_db(board.sound_bits):.0f} dB below full scale."
        f" The two take {low_pass_loss_db(tone_hz):.1f} dB at {tone_hz / 1000:.1f} kHz and 3 dB at"
        f" {corner_hz() / 1000:.1f} kHz. A tone of {tone_hz / 1000:.1f} kHz has a mirror image at"
        f" {(board.sample_rate_hz - tone_hz) / 1000:.1f} kHz, {below_db:.0f} dB weaker.{instead}",
        _WIDTH,
    )


def _span(numbers: range) -> str:
    if len(numbers) == 1:
        return f"{numbers[0]}"
    return f"{numbers[0]} to {numbers[-1]}"
