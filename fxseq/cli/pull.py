"""fxseq pull."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.compare import by_subject
from fxseq.cli.output import (
    SEQUENCE,
    ProgressLine,
    free_folder,
    json_option,
    load_prop,
    output_folder,
    port_option,
    result,
)

if TYPE_CHECKING:
    from fxseq.link.messages import Counts
    from fxseq.runs import Prop
    from fxseq.runs.pulled import Pulled

_FILE = "prop.toml"


@click.command()
@click.argument("sequence", type=SEQUENCE, metavar="[FILE]", required=False)
@port_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the prop file, which must not be there yet. Default: pulled_TABLE.",
)
@json_option
def command(
    sequence: Path | None, port: str | None, baud: int, out: Path | None, as_json: bool
) -> None:
    """Read back what is on a board: a prop file, its sounds, and what differs from yours.

    The prop file compiles to the table that is on the board. Things have numbers for names in it
    unless the table carries names (carries_names in [board]), and what a table does not hold is
    listed at its top. With FILE, what differs from it is said, thing by thing; where the board
    plays just that, nothing is written. What the board counted is told too (counts in [board]).
    """
    prop = load_prop(sequence) if sequence else None
    if out:
        free_folder(out)
    where, found, counts = _read(port, baud)
    values = _values(where, found)
    if counts:
        values |= _counted(counts, found, prop)
    if prop and prop.compiled.data == found.data:
        text = f"{_head(values)}\nThat is the table of {prop.path}. Nothing was written."
        result(text, values | {"same_as_file": True}, as_json)
        return
    folder = free_folder(out or Path(f"pulled_{found.mark}"))
    parts = ["\n".join([_head(values), *_written(folder, found)])]
    if prop:
        changed = _changes(found, prop)
        parts += [f"On the board and not as in {prop.path}:", *changed]
        values["changed"] = changed
        values["same_as_file"] = False
    result("\n\n".join(parts), values | {"folder": str(folder)}, as_json)


def _read(port: str | None, baud: int) -> "tuple[str, Pulled, Counts | None]":
    """Where the board is, what is on it, and what it counted, if it can. Raises LinkError."""
    from fxseq.link import counts, find_port, open_port, pull
    from fxseq.runs.pulled import pulled

    bar = ProgressLine()
    where = port or find_port()
    try:
        with open_port(where, baud) as line:
            board, data = pull(line, lambda progress: bar.show(*progress))
            counted = counts(line) if board.counts else None
    finally:
        bar.finish()
    return where, pulled(board, data, where), counted


def _counted(counts: "Counts", found: "Pulled", prop: "Prop | None") -> dict[str, Any]:
    """What the board counted, unless it never did."""
    from fxseq.runs.counted import counted_text, lowest_v

    if not counts.counting and not counts.power_ups:
        return {}
    lowest = lowest_v(counts, found.part, prop.sequence if prop else None)
    numbers = {key: getattr(counts, key) for key in ("power_ups", "shots", "refusals")}
    numbers |= {"flash_errors": counts.flash_errors, "lowest_v": lowest}
    return {"counted": numbers, "counted_text": counted_text(counts, lowest)}


def _values(where: str, found: "Pulled") -> dict[str, Any]:
    from fxseq.table.uncompile import not_in

    return {
        "port": where,
        "board": found.board.name,
        "board_id": f"{found.board.board_id:08x}",
        "table": found.mark,
        "bytes": len(found.data),
        "title": found.called and found.called.title,
        "revision": found.called and found.called.revision,
        "compiles_to_it": found.is_same,
        "not_in_a_table": list(not_in(found.names)),
    }


def _head(values: dict[str, Any]) -> str:
    called = f', "{values["title"]}"' if values["title"] else ""
    called += f", revision {values['revision']}" if values["revision"] else ""
    return (
        f"{values['board']} on {values['port']}, board id {values['board_id']}, plays table"
        f" {values['table']} of {values['bytes']} bytes{called}."
        + (f" {values['counted_text']}" if "counted" in values else "")
    )


def _written(folder: Path, found: "Pulled") -> list[str]:
    """Put the files into the folder; what there is to say of them. Raises OutputError."""
    from fxseq.sequence.writing import write_whole
    from fxseq.table.uncompile import not_in

    files = {_FILE: found.file.text.encode(), **found.file.clips}
    for name, data in files.items():
        output_folder((folder / name).parent)
        write_whole(folder / name, data)
    sounds = len(found.file.clips)
    text = f"{folder / _FILE} and {sounds} sound{'s' * (sounds != 1)}"
    return [
        f"{text} compile to the same table." if found.is_same else _unlike(text, found),
        "A table does not hold, so fill in or leave:",
        *(f"  - {lost}" for lost in not_in(found.names)),
    ]


def _unlike(text: str, found: "Pulled") -> str:
    """Of a table that no fxseq has made."""
    why = "; ".join(map(str, found.why_not)) or "it says what a prop file cannot say"
    return f"{text} do NOT compile to the same table: {why}."


def _changes(found: "Pulled", prop: "Prop") -> list[str]:
    """What differs from the prop at hand, a paragraph for each subject. Raises FxError where a
    file cannot say what the board plays.
    """
    from fxseq.runs.pulled import changed_since

    changed, sounds = changed_since(found, prop)
    return by_subject(changed, sounds) or ["Nothing that a prop file says."]
