"""The command line. A rim: the only place, with the link's ports, that prints, opens files for the
user and waits.

May import every floor. `fxseq --help` imports nothing but click: each command's module is read when
the command is called.
"""

import gc
import os
import sys

_OBJECTS_BETWEEN_COLLECTIONS = 100_000
"""Loading makes objects that stay, by the hundred thousand: looking for rubbish among them takes
a tenth of a check.
"""
_ENVIRONMENT = {
    # Starting its threads takes longer than all that a prop gives them to do.
    "OPENBLAS_NUM_THREADS": "1",
    # Looking for them reads the description of every package that is installed.
    "PYDANTIC_DISABLE_PLUGINS": "__all__",
}


def main() -> None:
    """Run the command line and leave with its exit status. Ctrl-C is quiet at any moment, also
    while this is loaded.
    """
    gc.set_threshold(_OBJECTS_BETWEEN_COLLECTIONS)
    for name, value in _ENVIRONMENT.items():
        os.environ.setdefault(name, value)
    try:
        from fxseq.cli.group import main as run_commands

        run_commands()
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)


__all__ = ["main"]
