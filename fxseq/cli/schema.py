"""fxseq schema."""
import json

import click


@click.command()
def command() -> None:
    """Print the JSON schema of a sequence file, for editors.

    An editor with TOML support checks a file against it while it is typed, and completes its keys.
    """
    from fxseq.sequence import json_schema

    click.echo(json.dumps(json_schema(), indent=2))
