"""The command line. A rim: the only place, with the link's ports, that prints, opens files for the user and waits.

May import every floor. `fxseq --help` imports nothing but click: each command's module is read when the command is called.
"""
import sys


def main() -> None:
    """Run the command line and leave with its exit status. Ctrl-C is quiet at any moment, also while this is loaded."""
    try:
        from fxseq.cli.group import main as run_commands

        run_commands()
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)


__all__ = ["main"]
