"""fxseq papers."""

import io
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import (
    json_option,
    load_prop,
    output_folder,
    papers_options,
    press_text,
    presses_option,
    result,
    sequence_argument,
    supply_option,
    writable_folder,
)

if TYPE_CHECKING:
    from fxseq.papers import PartsLine
    from fxseq.runs import Prop

_UNFED = (
    "No supply is described ([supplies.NAME]), so they have no parts, no joints and nothing to"
    " measure."
)


@click.command()
@sequence_argument
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the papers. Default: NAME_papers in the current folder.",
)
@papers_options
@presses_option
@supply_option
@json_option
def command(
    sequence: Path,
    out: Path | None,
    props: int,
    paper: str,
    presses: str | None,
    supply: str | None,
    as_json: bool,
) -> None:
    """Write papers to build the prop from, a card for its user, and a sheet for the venue.

    Each is written as PDF and as HTML. The build papers have the lamps by number, the parts to buy,
    every joint, diagrams, test points for the first power-up, and how to send the table; parts.csv
    is the list for an order. Loudness, light and current are those of a press script. Give the
    papers a revision (revision) and your name ([maker]) in the prop file.
    """
    from fxseq.papers import mark_of, order_of, paper_files
    from fxseq.runs import perform
    from fxseq.sequence import write_whole

    folder = writable_folder(out or Path(f"{sequence.stem}_papers"))
    prop = load_prop(sequence)
    script, _ = prop.script(press_text(presses, prop.sequence))
    run = perform(prop, script, supply)
    files = paper_files(run, props, paper, logo_of(prop))
    order = order_of(run, props)
    output_folder(folder)
    for name, data in files.items():
        write_whole(folder / name, data)
    written = [str(folder / name) for name in files]
    text = (
        f"{prop.sequence.title}, {mark_of(run)}: {', '.join(files)} in {folder}\n"
        f"{_ordered(order, props) if order else _UNFED}"
    )
    values = {
        "mark": mark_of(run),
        "parts": [{**vars(line), "buy": line.buy} for line in order],
        "files": written,
    }
    result(text, values, as_json)


def _ordered(order: "list[PartsLine]", props: int) -> str:
    return (
        f"For {props} prop{'s' * (props != 1)}: {sum(line.buy for line in order)} parts to buy,"
        f" {sum(line.spare for line in order)} of them spare."
    )


def logo_of(prop: "Prop") -> bytes:
    """The maker's, as a file's bytes; empty without one. Raises SequenceError where it is none."""
    from PIL import Image

    from fxseq.sequence import Fault, SequenceError

    maker = prop.sequence.maker
    if maker is None or maker.logo is None:
        return b""
    path = prop.path.parent / maker.logo
    try:
        data = path.read_bytes()
        with Image.open(io.BytesIO(data), formats=["PNG", "JPEG"]) as picture:
            picture.load()
    except (OSError, SyntaxError, ValueError) as error:
        what = f"cannot be read as a picture ({error})"
        fault = Fault(str(path), what, "a PNG or JPEG file", "Name another in maker.logo.")
        raise SequenceError(fault) from None
    return data
