"""fxseq schema."""

import json

import click


@click.command()
@click.option(
    "--text",
    is_flag=True,
    help="Print plain text instead: what each key means and which values it takes.",
)
def command(text: bool) -> None:
    """Print the JSON schema of a prop file, for editors.

    With it, an editor that supports TOML checks the file while you type, and completes its keys.
    """
    from fxseq.sequence import json_schema
    from fxseq.sequence.key_text import key_text

    click.echo(key_text() if text else json.dumps(json_schema(), indent=2))
