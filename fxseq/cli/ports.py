"""fxseq ports."""

import click

from fxseq.cli.output import json_option, result


@click.command()
@json_option
def command(as_json: bool) -> None:
    """List the serial ports.

    A board that is not in the list is not plugged in, has a cable without data wires, or lacks its
    driver.
    """
    from fxseq.link import list_ports

    ports = list_ports()
    listed = "\n".join(f"{port.device}  {port.description}".rstrip() for port in ports)
    text = (
        listed or "No serial port. `fxseq board --tcp 7000` runs a virtual board to try things on."
    )
    result(text, [port._asdict() for port in ports], as_json)
