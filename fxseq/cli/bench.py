"""fxseq bench."""

from pathlib import Path

import click

from fxseq.cli.output import SEQUENCE, TCP_PORT, remark


@click.command()
@click.argument("sequence", type=SEQUENCE, metavar="[FILE]", required=False)
@click.option(
    "--tcp",
    type=TCP_PORT,
    default=0,
    show_default=True,
    metavar="NUMBER",
    help="TCP port of this machine for the page (0: any free port).",
)
@click.option("--no-browser", is_flag=True, help="Do not open the page, only print its address.")
def command(sequence: Path | None, tcp: int, no_browser: bool) -> None:
    """Open the prop in the browser: press its trigger, see and hear it, build and change it, send
    it to a board.

    Without FILE, begin a prop on the page, or open one of this folder or one of the last.

    It serves this machine alone and runs until you press Ctrl-C. The address that it prints holds a
    key: whoever has it can edit the file.
    """
    from fxseq.bench.running import run_bench

    opened = f"{sequence} is on the bench." if sequence else "Begin or open a prop on the page."

    def ready(address: str) -> None:
        click.echo(address)
        remark(
            f"{opened} Ctrl-C stops it. Saved changes stay; unsaved ones are"
            " offered at the next start."
        )
        if not no_browser:
            _open(address)

    try:
        run_bench(sequence, tcp, ready)
    except KeyboardInterrupt:
        remark("stopped")


def _open(address: str) -> None:
    """Open the user's browser by a file that leads to the address: other users can read the
    words that a program is started with.
    """
    from fxseq.bench.running import open_page

    if not open_page(address):
        remark("No browser could be started. Open the address above yourself.")
