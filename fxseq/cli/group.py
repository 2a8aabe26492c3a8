"""The commands by name, and what happens when one ends: results on stdout, faults on stderr,
exit 0, 1 or 2.
"""

import importlib
import os
import sys

import click

# Command: (module, what it is for). The text stands here so that `fxseq --help` need not read the
# modules; a test holds the two together.
COMMANDS = {
    "new": ("fxseq.cli.new", "Write a commented prop file to start from."),
    "check": (
        "fxseq.cli.check",
        "Check a prop and list what is wrong with it, most serious first.",
    ),
    "clips": (
        "fxseq.cli.clips",
        "Prepare the clips and show each before and after: waveform, spectrum, numbers and sounds.",
    ),
    "preview": (
        "fxseq.cli.preview",
        "Press the trigger on the laptop: sound, light, current and level of a press script.",
    ),
    "bench": (
        "fxseq.cli.bench",
        (
            "Open the prop in the browser: press its trigger, see and hear it, build and change it,"
            " send it to a board."
        ),
    ),
    "tune": ("fxseq.cli.tune", "Find how fast a held trigger may repeat."),
    "fit": (
        "fxseq.cli.fit",
        "Make the table fit: choose cut, rate and coding of every clip so that least is lost.",
    ),
    "wiring": (
        "fxseq.cli.wiring",
        "Write the wiring list: resistors, switches, wires, fuses, plugs, and a diagram.",
    ),
    "papers": (
        "fxseq.cli.papers",
        "Write papers to build the prop from, a card for its user, and a sheet for the venue.",
    ),
    "kit": (
        "fxseq.cli.kit",
        "Gather all that is handed over: papers, table, program, page, prop file and sounds.",
    ),
    "compare": (
        "fxseq.cli.compare",
        "Say what changed between two prop files, and what follows from it.",
    ),
    "emit": ("fxseq.cli.emit", "Write the table as binary, Intel HEX or a C array."),
    "firmware": (
        "fxseq.cli.firmware",
        "List the ready-made boards, or give one its program.",
    ),
    "push": ("fxseq.cli.push", "Send the table to a board, or to many, and read it back."),
    "pull": (
        "fxseq.cli.pull",
        "Read back what is on a board: a prop file, its sounds, and what differs from yours.",
    ),
    "prove": (
        "fxseq.cli.prove",
        "Play a press script on the board and compare what it does with the reference.",
    ),
    "ports": ("fxseq.cli.ports", "List the serial ports."),
    "board": ("fxseq.cli.board", "Run a virtual board to push to."),
    "schema": ("fxseq.cli.schema", "Print the JSON schema of a prop file, for editors."),
    "completion": (
        "fxseq.cli.completion",
        "Print the lines that let your shell complete fxseq commands.",
    ),
}


class LazyGroup(click.Group):
    """A group that reads a command's module only when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order in which a maker meets them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """The command, read now."""
        if name not in COMMANDS:
            return None
        return importlib.import_module(COMMANDS[name][0]).command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does it, with a guess where the name is not known."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from fxseq.sequence.suggest import did_you_mean

            known = ", ".join(COMMANDS)
            raise click.UsageError(
                f"There is no command '{args[0]}'."
                f" {did_you_mean(args[0], COMMANDS) or f'There are: {known}.'}",
                ctx,
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of commands, from the table above."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 120},
)
@click.version_option(package_name="fxseq", message="fxseq %(version)s")
def cli() -> None:
    """Describe a hand-held prop with light and sound, press its trigger on the laptop, and push it
    to a board.

    \b
    fxseq new lantern.toml               start a prop
    fxseq preview lantern.toml           press its trigger
    fxseq tune lantern.toml              find how fast it may repeat
    fxseq push lantern.toml              send it to the board
    """


def main() -> None:
    """Run the command line and leave with its exit status."""
    # Both are None where the shell has closed them. A name may hold bytes that are no text, and
    # text letters that the terminal lacks.
    sys.stdout = sys.stdout or open(os.devnull, "w")
    sys.stderr = sys.stderr or open(os.devnull, "w")
    sys.stdout.reconfigure(errors="backslashreplace")
    sys.stderr.reconfigure(errors="backslashreplace")
    sys.exit(run())


def run(args: list[str] | None = None) -> int:
    """Run the command line; the exit status: 0 well, 1 the input or a device is at fault, 2 the
    call is, 130 interrupted.
    """
    try:
        status = cli.main(args, prog_name="fxseq", standalone_mode=False)
        sys.stdout.flush()
        if not isinstance(status, int):
            return 0
        return status
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort:
        print("stopped", file=sys.stderr)
        return 130
    except OSError as error:
        return _output_lost(error)
    except Exception as error:
        return _known_fault(error)


def _known_fault(error: Exception) -> int:
    from fxseq.sequence.errors import FxError

    if not isinstance(error, FxError):
        raise error
    print(error, file=sys.stderr)
    return error.exit_status


def _output_lost(error: OSError) -> int:
    """Standard output takes no more: nobody reads it any longer, or the disk is full. Files and
    devices have faults of their own.
    """
    # What is left in the buffer would fail again when Python ends.
    sys.stdout = None
    if not isinstance(error, BrokenPipeError):
        print(f"{error.filename or 'standard output'}: {error.strerror or error}.", file=sys.stderr)
    return 1
