"""What commands share: options, results as text or JSON, remarks, progress, and files written
whole.
"""

import json
import math
import os
import sys
import threading
import time
from collections.abc import Callable, Iterable
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from fxseq.sequence import Fault, Finding, OutputError, Weight

if TYPE_CHECKING:
    from fxseq.runs import Prop
    from fxseq.sequence import model as m

Command = TypeVar("Command", bound=Callable[..., Any])

SEQUENCE = click.Path(dir_okay=False, path_type=Path)


class WholeNumber(click.ParamType):
    """A whole number within a range, told in words. highest: none where there is no upper limit."""

    name = "number"

    read: Callable[[Any], float] = int
    text = "a whole number"

    def __init__(self, lowest: float, highest: float = math.inf) -> None:
        self._lowest = lowest
        self._highest = highest

    def convert(
        self, value: str | float, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """The number. Raises click.BadParameter."""
        try:
            number = self.read(value)
        except ValueError:
            number = math.nan
        if not self._lowest <= number <= self._highest:
            if self._highest == math.inf:
                most = f"{self._lowest} or more"
            else:
                most = f"from {self._lowest} to {self._highest}"
            self.fail(f"'{value}' is not {self.text} {most}.", param, ctx)
        return number


class Number(WholeNumber):
    """A number within a range, whole or not."""

    read = float
    text = "a number"


TCP_PORT = WholeNumber(0, 65535)
PORT_HELP = (
    "Where the board is: a serial port (/dev/ttyUSB0, COM3) or an address"
    " (socket://127.0.0.1:7000). Default: the only fxseq board on USB, or the only USB port."
)
BAUD = WholeNumber(1200, 4_000_000)


def sequence_argument(command: Command) -> Command:
    """The prop file that a command works on."""
    return click.argument("sequence", type=SEQUENCE, metavar="FILE")(command)


def json_option(command: Command) -> Command:
    """`--json`: the result for programs."""
    return click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")(
        command
    )


def presses_option(command: Command) -> Command:
    """`--presses`: a press script, the name of one, or a file with one."""
    text = (
        "Press script: 'tap lever @0.5, hold lever @2..5, set ring storm @4'; or the name of one in"
        " the prop file; or another file that holds one. Default: the first one in the prop file,"
        " or else one that shows every trigger."
    )
    return click.option("--presses", metavar="SCRIPT", help=text)(command)


def port_option(command: Command) -> Command:
    """`--port` and `--baud`: where the board is, and the speed of its line."""
    return baud_option(click.option("--port", metavar="PORT", help=PORT_HELP)(command))


def baud_option(command: Command) -> Command:
    """`--baud`: the speed of a board's line."""
    speed = "Speed of a serial port, in baud."
    return click.option(
        "--baud", type=BAUD, default=115_200, show_default=True, metavar="SPEED", help=speed
    )(command)


def supply_option(command: Command) -> Command:
    """`--supply`: which of the file's supplies feeds the prop."""
    return click.option(
        "--supply",
        metavar="NAME",
        help="Supply that the prop runs from. Default: the first in the file.",
    )(command)


def papers_options(command: Command) -> Command:
    """`--props` and `--paper`: for how many papers count, and the size of their pages."""
    command = click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="Size of the pages.",
    )(command)
    return click.option(
        "--props",
        type=WholeNumber(1, 10_000),
        default=1,
        show_default=True,
        metavar="NUMBER",
        help="How many are to be built: the parts list counts for all of them.",
    )(command)


def theme_option(command: Command) -> Command:
    """`--theme`: figures for light or dark pages."""
    themes = click.Choice(["light", "dark"])
    return click.option(
        "--theme",
        type=themes,
        default="light",
        show_default=True,
        help="Background of the figures.",
    )(command)


def pictures_option(command: Command) -> Command:
    """`--no-pictures`: figures take longer than all the rest."""
    return click.option(
        "--pictures/--no-pictures",
        default=True,
        help="Draw figures or leave them out. Drawing takes longest.",
    )(command)


def known_clips(names: tuple[str, ...], known: list[str]) -> list[str]:
    """The clips of these names, or all where none is named."""
    from fxseq.sequence import did_you_mean

    for name in names:
        if name not in known:
            remedy = did_you_mean(name, known) or f"There are: {', '.join(known)}."
            if not known:
                remedy = "The file has no clips."
            raise click.UsageError(f"There is no clip '{name}'. {remedy}")
    return list(names) or known


def press_text(presses: str | None, sequence: "m.Sequence") -> str | None:
    """The text of `--presses`: the prop's own script of this name, else that of the file of this
    name, else the words themselves.
    """
    if presses is None or "@" in presses:
        return presses
    if presses in sequence.scripts:
        return sequence.scripts[presses].presses
    try:
        return Path(presses).read_text(encoding="utf-8-sig")
    except OSError as error:
        what = (
            "is neither a press script (there is no '@' in it), nor the name of one, nor a readable"
            f" file ({error.strerror})"
        )
        raise click.UsageError(f"--presses '{presses}' {what}.") from None
    except UnicodeDecodeError:
        raise click.UsageError(f"--presses '{presses}' is not a text file.") from None


def result(text: str, values: dict[str, Any] | list[Any], as_json: bool) -> None:
    """Print a result on stdout, for people or for programs."""
    if as_json:
        text = json.dumps(values, indent=2, allow_nan=False)
    click.echo(text)


def remark(text: str) -> None:
    """Say on stderr what is going on."""
    click.echo(text, err=True)


def load_prop(sequence: Path) -> "Prop":
    """The prop of a prop file; how far it is with long clips is shown."""
    from fxseq import runs

    line = ProgressLine()
    try:
        return runs.load_prop(sequence, line.show_clip)
    finally:
        line.finish()


_COLOURS = {Weight.FAULT: "red", Weight.WARNING: "yellow", Weight.NOTE: "blue"}


def finding_head(finding: Finding) -> str:
    """A finding in one line: weight, subject, figure."""
    # click drops colour where stdout is no terminal; NO_COLOR asks for that everywhere
    # (no-color.org).
    weight = finding.weight.name.lower()
    if os.environ.get("NO_COLOR"):
        shown = weight
    else:
        shown = click.style(weight, fg=_COLOURS[finding.weight], bold=True)
    if finding.decided:
        shown += ", decided"
    return f"{shown}  {finding.subject}: {finding.figure}"


def finding_lines(finding: Finding) -> dict[str, str]:
    """What is said of a finding below its head, by label; some may be empty."""
    what_to_do = "even so" if finding.decided else "remedy"
    return {
        "limit": finding.limit,
        "source": finding.source,
        "decided": finding.decided,
        what_to_do: finding.remedy,
    }


def findings_text(findings: Iterable[Finding]) -> list[str]:
    """Findings as a maker reads them, a paragraph each: what was found, then limit, source and
    remedy.

    What differs in subject and figure alone shares one.
    """
    paragraphs = []
    for _, alike in groupby(
        findings,
        key=lambda finding: (finding.weight, finding.check, *finding_lines(finding).items()),
    ):
        same = list(alike)
        more = {**finding_lines(same[0]), "check": same[0].check}
        paragraphs.append(
            "\n".join(
                [
                    *map(finding_head, same),
                    *(f"    {label}: {text}" for label, text in more.items() if text),
                ]
            )
        )
    return paragraphs


def table_text(head: list[str], rows: Iterable[list[str]]) -> str:
    """Columns, set right."""
    rows = [head, *rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    return "\n".join(
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    )


def writable_folder(path: Path, remedy: str = "Choose another with --out.") -> Path:
    """The folder for results, tried before there are any: a file is made, and goes again, where
    the folder is or will be. Nothing else is made.
    """
    from tempfile import TemporaryFile

    there = next(folder for folder in (path, *path.absolute().parents) if folder.exists())
    try:
        TemporaryFile(dir=there).close()
    except OSError as error:
        raise OutputError(
            Fault(str(path), f"nothing can be written there ({error.strerror})", remedy=remedy)
        ) from None
    return path


def free_folder(folder: Path) -> Path:
    """A folder that is not there, so that nothing is mixed with what is put into it. Raises
    OutputError.
    """
    if folder.exists():
        remedy = "Delete it, or choose another with --out."
        raise OutputError(Fault(str(folder), "is there already", remedy=remedy))
    return folder


def output_folder(path: Path, remedy: str = "Choose another with --out.") -> Path:
    """The folder for results, made if it is not there."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            Fault(str(path), f"the folder cannot be made ({error.strerror})", remedy=remedy)
        ) from None
    return path


_REDRAWN_EVERY_S = 0.1
_FIRST_LINE_AFTER_S = 3.0
_LINE_EVERY_S = 10.0
_FIRST_USE = " (the first takes up to 30 s)"
"""Said of a clip that has not moved for so long as it takes until the first line."""


class ProgressLine:
    """Says on stderr how far something is: a line that is drawn anew; where stderr is no terminal,
    a line of its own now and then.

    A thread of its own writes, so that something is said also while nothing moves, as while a
    search of sound codings is compiled.
    """

    def __init__(self) -> None:
        self._on_terminal = sys.stderr.isatty()
        self._done = 0
        self._total = 1
        self._text = ""
        self._hint = ""
        self._shown_at = 0.0
        self._stop = threading.Event()
        self._writer: threading.Thread | None = None

    def show(self, done_bytes: int, total_bytes: int, bytes_per_s: float, eta_s: float) -> None:
        """How far a transfer is, how fast, and how long it will take."""
        text = (
            f"{done_bytes}/{total_bytes} bytes  {bytes_per_s / 1000:.1f} kB/s  {eta_s:.0f} s left"
        )
        self._set(done_bytes, total_bytes, text, "")

    def show_clip(self, clip: str, done: int, total: int) -> None:
        """How far a clip is: read, if it is long, and then its coding searched for."""
        self._set(done, total, f"clip '{clip}'", "" if done else _FIRST_USE)

    def _set(self, done: int, total: int, text: str, hint: str) -> None:
        self._done = done
        self._total = total
        self._text = text
        self._hint = hint
        self._shown_at = time.monotonic()
        if self._writer is None:
            self._stop.clear()
            self._writer = threading.Thread(target=self._write_on, daemon=True)
            self._writer.start()

    def _write_on(self) -> None:
        first_s = _FIRST_LINE_AFTER_S
        every_s = _LINE_EVERY_S
        if self._on_terminal:
            first_s = every_s = _REDRAWN_EVERY_S
        wait_s = first_s
        while not self._stop.wait(wait_s):
            self._write()
            wait_s = every_s

    def _write(self) -> None:
        text = self._text
        if time.monotonic() - self._shown_at >= _FIRST_LINE_AFTER_S:
            text += self._hint
        if self._on_terminal:
            bar = "#" * (30 * self._done // max(self._total, 1))
            sys.stderr.write(f"\r[{bar:<30}] {text:<46}")
        else:
            sys.stderr.write(f"{text}: {100 * self._done // max(self._total, 1)} %\n")
        sys.stderr.flush()

    def finish(self) -> None:
        """Show where it came to, and end the line."""
        if self._writer is None:
            return
        self._stop.set()
        self._writer.join()
        self._writer = None
        if self._on_terminal:
            self._write()
            sys.stderr.write("\n")


class ProgressRows:
    """Says on stderr how far several things are, a row each, drawn anew; nothing where stderr is no
    terminal. To be used as a context.
    """

    def __init__(self, names: Iterable[str]) -> None:
        self._rows = {name: (0, 1, "waiting") for name in names}
        self._on_terminal = sys.stderr.isatty()
        self._drawing = threading.Lock()
        self._drawn_at = -math.inf
        self._drawn = False

    def show(self, name: str, done: int, total: int, text: str) -> None:
        """How far one is. Any thread may say so."""
        with self._drawing:
            self._rows[name] = (done, total, text)
            if time.monotonic() - self._drawn_at >= _REDRAWN_EVERY_S:
                self._draw()

    def end(self, name: str, line: str) -> None:
        """One is done: its row goes, and this line is printed above the others."""
        with self._drawing:
            self._rows.pop(name, None)
            self._clear()
            click.echo(line)
            self._draw()

    def __enter__(self) -> "ProgressRows":
        return self

    def __exit__(self, *_: object) -> None:
        with self._drawing:
            self._clear()

    def _clear(self) -> None:
        if self._drawn:
            sys.stderr.write("\x1b8\x1b[J")
            sys.stderr.flush()
        self._drawn = False

    def _draw(self) -> None:
        if not self._on_terminal or not self._rows:
            return
        self._clear()
        rows = [
            f"[{'#' * (20 * done // max(total, 1)):<20}] {name}  {text}"
            for name, (done, total, text) in self._rows.items()
        ]
        # Room first: what scrolls would leave the place that is kept.
        room = "\n" * len(rows)
        sys.stderr.write(f"{room}\x1b[{len(rows)}A\x1b7" + "\n".join(rows) + "\n")
        sys.stderr.flush()
        self._drawn_at = time.monotonic()
        self._drawn = True
