"""fxseq board."""
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fxseq.cli.output import remark

if TYPE_CHECKING:
    from fxseq.link.virtual_board import Line
    from fxseq.player import Played
    from fxseq.table import Table


@click.command()
@click.option("--flash", type=click.Path(dir_okay=False, path_type=Path), default=Path("virtual_board.flash"), show_default=True,
              help="File that keeps the board's two slots.")
@click.option("--tcp", type=click.IntRange(0, 65535), metavar="PORT",
              help="TCP port of this machine to be reached on (0: any that is free).")
@click.option("--pty", is_flag=True,
              help="Be reached on a pseudo-terminal, as a serial port would be; this is what happens without --tcp where there are any.")
def command(flash: Path, tcp: int | None, pty: bool) -> None:
    """Run a virtual board to push to.

    It plays what it holds with the reference player, in real time, and prints what it does, until it is stopped with Ctrl-C.
    """
    from fxseq.link.virtual_board import serve

    if tcp is not None and pty:
        raise click.UsageError("--tcp and --pty exclude each other.")
    try:
        with _line(tcp) as line:
            click.echo(line.where)
            remark(f"Virtual board, slots in {flash}. Push to it: fxseq push SEQUENCE --port {line.where}")
            shown = _Shown()
            serve(line, flash, on_table=shown.table, on_played=shown.played)
    except KeyboardInterrupt:
        remark("stopped")


def _line(tcp: int | None) -> "AbstractContextManager[Line]":
    from fxseq.link.virtual_board import open_pty, open_tcp

    if tcp is not None or sys.platform == "win32":
        return open_tcp(tcp or 0)
    return open_pty()


class _Shown:
    """Prints what the board plays. A table holds no names, so things go by their numbers."""

    def __init__(self) -> None:
        self._rate_hz = 1.0

    def table(self, table: "Table | None") -> None:
        """A table starts to play."""
        if table is None:
            click.echo("no table yet")
            return
        self._rate_hz = table.frame_rate_hz
        parts = f"{table.channels} channels, {len(table.clips)} clips, {len(table.effects)} effects, {len(table.triggers)} triggers"
        click.echo(f"playing a table: {parts}")

    def played(self, played: "Played") -> None:
        """A stretch was played."""
        for line in _event_lines(played, self._rate_hz):
            click.echo(line)


def _event_lines(played: "Played", rate_hz: float) -> Iterator[str]:
    for event in played.trace:
        yield f"{event.frame / rate_hz:10.3f} s  {event.kind.name.lower():8} {event.index} {event.value}"
