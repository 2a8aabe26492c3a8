"""The command line. A rim: the only place, with the link's ports, that prints, opens files for the user and waits.

May import every floor. `fxseq --help` imports nothing but click: each command's module is read when the command is called.
"""
from fxseq.cli.group import main

__all__ = ["main"]
