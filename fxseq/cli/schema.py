"""fxseq schema."""
import json

import click


@click.command()
@click.option("--text", is_flag=True, help="In plain text: what each key means, and what may stand there.")
def command(text: bool) -> None:
    """Print the JSON schema of a prop file, for editors.

    An editor with TOML support checks a file against it while it is typed, and completes its keys.
    """
    from fxseq.sequence import json_schema
    from fxseq.sequence.key_text import key_text

    click.echo(key_text() if text else json.dumps(json_schema(), indent=2))
