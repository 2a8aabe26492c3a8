"""fxseq completion."""

import click
from click.shell_completion import get_completion_class


@click.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(shell: str) -> None:
    """Print the lines that let your shell complete fxseq commands.

    \b
    fxseq completion bash >> ~/.bashrc
    """
    from fxseq.cli.group import cli

    kind = get_completion_class(shell)
    if kind is None:
        raise click.UsageError(f"This version of click has no completion for {shell}.")
    click.echo(kind(cli, {}, "fxseq", "_FXSEQ_COMPLETE").source())
