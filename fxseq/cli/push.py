"""fxseq push."""

from pathlib import Path

import click

from fxseq.cli.output import (
    ProgressLine,
    json_option,
    load_prop,
    port_option,
    remark,
    result,
    sequence_argument,
)


@click.command()
@sequence_argument
@port_option
@json_option
def command(sequence: Path, port: str | None, baud: int, as_json: bool) -> None:
    """Send the table to a board and read it back.

    The table goes to the slot that is not playing, and is checked there. Only then does the board
    change over. Whatever goes wrong, the board plays its old table or the new one.
    """
    from fxseq.link import open_port, push
    from fxseq.sequence.board_parts import board_parts

    prop = load_prop(sequence)
    data = prop.compiled.data
    with open_port(port, baud) as line:
        remark(f"{line.where}: sending {len(data)} bytes")
        bar = ProgressLine()
        try:
            report = push(line, data, lambda progress: bar.show(*progress))
        finally:
            bar.finish()
    if prop.sequence.board.part is None and report.board in map("fxseq {}".format, board_parts()):
        remark(_joins_no_pins(report.board.removeprefix("fxseq ")))
    text = (
        f"{report.board} on {line.where} now plays {sequence} ({report.bytes} bytes in slot"
        f" {report.slot}, {report.seconds:.1f} s,"
        f" {report.bytes / max(report.seconds, 1e-6) / 1000:.1f} kB/s, {report.repeated_blocks}"
        " blocks sent again)."
    )
    result(text, {**report._asdict(), "port": line.where}, as_json)


def _joins_no_pins(board: str) -> str:
    """To a maker whose prop now does nothing, though all went well."""
    return (
        f"Nothing will light or sound: the file does not say which board it is for, so the {board}"
        f' uses none of its pins. Write part = "{board}" below [board] and push again.'
    )
