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
@click.option(
    "--flash",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("virtual_board.flash"),
    show_default=True,
    help="File that stands for the board's flash memory, with its two slots; counts are beside it.",
)
@click.option(
    "--tcp",
    type=TCP_PORT,
    metavar="NUMBER",
    help="Listen on this TCP port of this machine (0: any free port).",
)
@click.option(
    "--pty",
    is_flag=True,
    help=(
        "Use a pseudo-terminal, which acts like a serial port. This is the default where the system"
        " has them."
    ),
)
@click.option(
    "--baud",
    type=BAUD,
    metavar="SPEED",
    help="Carry bytes no faster than a serial line of this speed. Default: as fast as possible.",
)
@click.option(
    "--names",
    type=SEQUENCE,
    metavar="FILE",
    help="Prop file whose names are printed while its table plays. A table holds only numbers.",
)
def command(flash: Path, tcp: int | None, pty: bool, baud: int | None, names: Path | None) -> None:
    """Run a virtual board to push to.

    It plays its table with the reference player, in real time, and prints what it does. Press
    Ctrl-C to stop it.
    """
    from fxseq.link.virtual_board import SlowLine, serve

    if tcp is not None and pty:
        raise click.UsageError("Use --tcp or --pty, not both.")
    if names is not None:
        load_prop(names)
    try:
        with _line(tcp) as line:
            click.echo(line.where)
            remark(
                f"Virtual board, slots in {flash}. Push to it: fxseq push FILE --port {line.where}"
            )
            shown = _Shown(names)
            serve(
                SlowLine(line, baud) if baud else line,
                flash,
                on_table=shown.table,
                on_played=shown.played,
            )
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
        parts = (
            f"{table.channels} channels, {len(table.clips)} clips, {len(table.effects)} effects,"
            f" {len(table.triggers)} triggers"
        )
        click.echo(f"playing a table: {parts}")

    def played(self, played: "Played") -> None:
        """A stretch was played."""
        from fxseq.player.events import in_words

        for event in played.trace:
            click.echo(f"{event.frame / self._rate_hz:10.3f} s  {in_words(event, self._names)}")


def _names_in(sequence: Path, table: "Table") -> "Names | None":
    """Those of the file as it is by now, if it makes this table."""
    from fxseq.sequence import FxError

    try:
        compiled = load_prop(sequence).compiled
    except FxError as error:
        remark(f"{error}\nNumbers are printed in place of names.")
        return None
    if compiled.table != table:
        remark(
            f"{sequence} makes another table than this one. Numbers are printed in place of names."
        )
        return None
    return compiled.names
