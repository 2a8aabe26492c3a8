"""fxseq emit."""

import re
from pathlib import Path

import click

from fxseq.cli.output import json_option, load_prop, remark, sequence_argument
from fxseq.sequence import Fault, OutputError


@click.command()
@sequence_argument
@click.option(
    "--as",
    "form",
    type=click.Choice(["bin", "hex", "c"]),
    default="bin",
    show_default=True,
    help="Binary, Intel HEX, or a C source file.",
)
@click.option(
    "-o",
    "--out",
    type=click.Path(dir_okay=False, allow_dash=True, path_type=Path),
    help="File to write, or - for stdout. Default: the prop file's name with another ending.",
)
@click.option(
    "--address",
    metavar="NUMBER",
    help="Intel HEX only: address of the first byte, decimal or 0x... Default: 0.",
)
@json_option
def command(
    sequence: Path, form: str, out: Path | None, address: str | None, as_json: bool
) -> None:
    """Write the table as binary, Intel HEX or a C array."""
    from fxseq.cli.output import result
    from fxseq.sequence.writing import write_whole

    to_stdout = str(out) == "-"
    if to_stdout and as_json:
        raise click.UsageError("Use --json or --out -, not both: both print on stdout.")
    if address is not None and form != "hex":
        raise click.UsageError("--address needs --as hex: the other forms have no addresses.")
    start = _address(address or "0")
    prop = load_prop(sequence)
    data = prop.compiled.data
    room = prop.sequence.board.flash_for_table_bytes
    if start + len(data) > 1 << 32:
        raise click.UsageError(
            f"--address {address}: the table's {len(data)} bytes would end beyond 0xFFFFFFFF."
        )
    if len(data) > room:
        remark(
            f"Too large: the table has {len(data)} bytes, and the board in {sequence} has room for"
            f" {room}. `fxseq fit` finds what fits."
        )
    body = _body(form, data, start, sequence.stem)
    if to_stdout:
        click.get_binary_stream("stdout").write(body)
        return
    target = out or sequence.with_suffix(f".{form}")
    if target.exists() and target.samefile(sequence):
        raise OutputError(
            Fault(
                str(target),
                "is the prop file itself",
                remedy="Nothing was changed. Choose another name with --out.",
            )
        )
    write_whole(target, body)
    names = len(prop.compiled.table.names)
    values = {
        "file": str(target),
        "form": form,
        "table_bytes": len(data),
        "names_bytes": names,
        "file_bytes": len(body),
    }
    with_names = f", {names} of them names" if names else ""
    result(f"{target}: {len(data)} bytes of table{with_names}", values, as_json)
    if not as_json and len(data) <= room:
        remark(
            "Next: write it where the board's firmware looks for its table. Or send it with `fxseq"
            " push`."
        )


def _body(form: str, data: bytes, address: int, stem: str) -> bytes:
    from fxseq.table import c_array, intel_hex

    if form == "bin":
        return data
    if form == "hex":
        return intel_hex(data, address).encode()
    return c_array(data, _c_name(stem)).encode()


def _c_name(stem: str) -> str:
    """A C identifier made of a file's name."""
    name = re.sub("[^a-z0-9]", "_", stem.lower())
    if name[:1].isalpha():
        return f"{name}_table"
    return f"table_{name}"


def _address(text: str) -> int:
    try:
        value = int(text, 0)
    except ValueError:
        value = -1
    if not 0 <= value < 1 << 32:
        raise click.UsageError(f"--address is '{text}'; allowed: 0 to 0xFFFFFFFF.")
    return value
