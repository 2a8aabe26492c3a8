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

if TYPE_CHECKING:
    from fxseq.power import Schedule
    from fxseq.runs.wiring_list import Table
    from fxseq.sequence import Finding, Sequence

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
    from fxseq.runs import wiring_list as words

    plugs = "\n".join(f"  {name}: {pins}" for name, pins in words.plugs(plan))
    parts = [
        words.head(plan),
        *_groups(plan),
        _table(words.line_table(plan)),
        *words.regulator(plan),
        f"{words.PLUGS}\n\n{plugs}",
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
    from fxseq.runs import wiring_list as words

    if not plan.groups:
        return ["No groups of LEDs."]
    return [
        _table(words.string_table(plan)),
        *words.beside(plan),
        _table(words.switch_table(plan)),
    ]


def _table(table: "Table") -> str:
    title = textwrap.fill(table.title, _WIDTH)
    return f"{title}\n\n{table_text(table.head, table.rows)}"


def _pins(plan: "Schedule") -> list[str]:
    from fxseq.runs import wiring_list as words

    rows = [f"  {label}: {leads_to}" for label, leads_to in words.pins(plan)]
    if not rows:
        return []
    told = [textwrap.fill(text, _WIDTH) for text in words.pulses(plan)]
    return ["\n".join([f"{words.pins_title(plan)}\n", *rows]), *told]
