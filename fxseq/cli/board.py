"""fxseq board."""
import sys
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import BAUD, SEQUENCE, TCP_PORT, load_prop, remark

if TYPE_CHECKING:
    from fxseq.link.virtual_board import Line
    from fxseq.player import Played
    from fxseq.table import Names, Table


@click.command()
@click.option("--flash", type=click.Path(dir_okay=False, path_type=Path), default=Path("virtual_board.flash"), show_default=True,
              help="File that keeps the board's two slots.")
@click.option("--tcp", type=TCP_PORT, metavar="NUMBER",
              help="TCP port of this machine to be reached on (0: any that is free).")
@click.option("--pty", is_flag=True,
              help="Be reached on a pseudo-terminal, as a serial port would be; this is what happens without --tcp where there are any.")
@click.option("--baud", type=BAUD, metavar="SPEED",
              help="Carry bytes no faster than a serial line of so many baud; as fast as can be unless given.")
@click.option("--names", type=SEQUENCE, metavar="SEQUENCE",
              help="Prop file whose names are printed while its table plays; a table itself has only numbers.")
def command(flash: Path, tcp: int | None, pty: bool, baud: int | None, names: Path | None) -> None:
    """Run a virtual board to push to.

    It plays what it holds with the reference player, in real time, and prints what it does, until it is stopped with Ctrl-C.
    """
    from fxseq.link.virtual_board import SlowLine, serve

    if tcp is not None and pty:
        raise click.UsageError("--tcp and --pty exclude each other.")
    if names is not None:
        load_prop(names)
    try:
        with _line(tcp) as line:
            click.echo(line.where)
            remark(f"Virtual board, slots in {flash}. Push to it: fxseq push SEQUENCE --port {line.where}")
            shown = _Shown(names)
            serve(SlowLine(line, baud) if baud else line, flash, on_table=shown.table, on_played=shown.played)
    except KeyboardInterrupt:
        remark("stopped")


def _line(tcp: int | None) -> "AbstractContextManager[Line]":
    from fxseq.link.virtual_board import open_pty, open_tcp

    if tcp is not None or sys.platform == "win32":
        return open_tcp(tcp or 0)
    return open_pty()


class _Shown:
    """Prints what the board plays. sequence: file of the names."""

    def __init__(self, sequence: Path | None) -> None:
        self._sequence = sequence
        self._names: Names | None = None
        self._rate_hz = 1.0

    def table(self, table: "Table | None") -> None:
        """A table starts to play."""
        if table is None:
            click.echo("no table yet")
            return
        self._rate_hz = table.frame_rate_hz
        self._names = _names_in(self._sequence, table) if self._sequence else None
        parts = f"{table.channels} channels, {len(table.clips)} clips, {len(table.effects)} effects, {len(table.triggers)} triggers"
        click.echo(f"playing a table: {parts}")

    def played(self, played: "Played") -> None:
        """A stretch was played."""
        from fxseq.checks.proof import in_words

        for event in played.trace:
            click.echo(f"{event.frame / self._rate_hz:10.3f} s  {in_words(event, self._names)}")


def _names_in(sequence: Path, table: "Table") -> "Names | None":
    """Those of the file as it is by now, if it makes this table."""
    from fxseq.sequence import FxError

    try:
        compiled = load_prop(sequence).compiled
    except FxError as error:
        remark(f"{error}\nThings go by their numbers.")
        return None
    if compiled.table != table:
        remark(f"{sequence} makes another table than this one; things go by their numbers.")
        return None
    return compiled.names
