"""fxseq push."""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import (
    PORT_HELP,
    ProgressLine,
    ProgressRows,
    baud_option,
    json_option,
    load_prop,
    remark,
    result,
    sequence_argument,
)

if TYPE_CHECKING:
    from fxseq.link import PushReport
    from fxseq.runs import Prop
    from fxseq.runs.boards import Job, Outcome

_LOOK_EVERY_S = 0.3


@click.command()
@sequence_argument
@click.option(
    "--port",
    "ports",
    multiple=True,
    metavar="PORT",
    help=f"{PORT_HELP} May be given several times.",
)
@baud_option
@click.option("--all", "to_all", is_flag=True, help="Send to every fxseq board on USB at once.")
@click.option(
    "--wait-for-next",
    "waits",
    is_flag=True,
    help="Send to one board after the other, as they are plugged in, until you press Ctrl-C.",
)
@click.option(
    "--prove",
    "proves",
    is_flag=True,
    help="Then have each board play the prop's press script, and compare it with the reference.",
)
@click.option(
    "--book",
    type=click.Path(dir_okay=False, path_type=Path),
    help=(
        "Run book, a CSV file that gets a line for each board: date, port, board, firmware, table,"
        " read-back, proof. Boards that it has already are not done again."
    ),
)
@json_option
def command(
    sequence: Path,
    ports: tuple[str, ...],
    baud: int,
    to_all: bool,
    waits: bool,
    proves: bool,
    book: Path | None,
    as_json: bool,
) -> int:
    """Send the table to a board, or to many, and read it back.

    The table goes to the slot that is not playing, and is checked there. Only then does the board
    change over. Whatever goes wrong, the board plays its old table or the new one. A board that
    plays the table already is left as it is.
    """
    from fxseq.link.run_book import RunBook
    from fxseq.runs.boards import Job

    if sum((bool(ports), to_all, waits)) > 1:
        raise click.UsageError("Use one of --port, --all and --wait-for-next.")
    prop = load_prop(sequence)
    script = prop.script()[0] if proves else None
    job = Job(prop, script, RunBook(book) if book else None, baud)
    if waits:
        return _tell(_one_after_the_other(job), prop, as_json)
    places = list(dict.fromkeys(ports)) or _on_usb(to_all)
    if len(places) == 1:
        return _only(job, places[0], as_json)
    remark(f"{len(places)} boards: sending {len(prop.compiled.data)} bytes to each")
    return _tell(_side_by_side(job, places, as_json), prop, as_json)


def _on_usb(to_all: bool) -> list[str]:
    """The board on USB, or all of them. Raises LinkError where there is none."""
    from fxseq.link import boards_on_usb, find_port

    return (to_all and boards_on_usb()) or [find_port()]


def _only(job: "Job", port: str, as_json: bool) -> int:
    """To one board, with what goes wrong as a fault of the command."""
    from fxseq.link import Progress
    from fxseq.sequence import FxError

    bar = ProgressLine()
    begun = False

    def told(progress: Progress) -> None:
        nonlocal begun
        if not begun:
            remark(f"{port}: sending {progress.total_bytes} bytes")
        begun = True
        bar.show(*progress)

    try:
        outcome = job.give(port, told)
    finally:
        bar.finish()
    if outcome.faults:
        raise FxError(*outcome.faults)
    _remark_pins(outcome, job.prop)
    result(_line(outcome, job.prop), _summary([outcome]), as_json)
    return int(not outcome.is_good)


def _side_by_side(job: "Job", ports: list[str], as_json: bool) -> "Iterator[Outcome]":
    from fxseq.link import Progress
    from fxseq.runs.boards import give_all

    with ProgressRows(ports) as rows:

        def told(port: str, progress: Progress) -> None:
            done, total, bytes_per_s, left_s = progress
            rows.show(port, done, total, f"{bytes_per_s / 1000:.1f} kB/s  {left_s:.0f} s left")

        for outcome in give_all(job, ports, told):
            if not as_json:
                rows.end(outcome.port, _line(outcome, job.prop))
            yield outcome


def _one_after_the_other(job: "Job") -> "Iterator[Outcome]":
    """Boards as they come. One that stays plugged in is done once."""
    from fxseq.link import boards_on_usb

    done: set[str] = set()
    remark("Plug in a board. Ctrl-C ends it.")
    try:
        while True:
            there = boards_on_usb()
            done &= set(there)
            for port in there:
                if port in done:
                    continue
                outcome = job.give(port)
                done.add(port)
                remark(_line(outcome, job.prop))
                remark("Unplug it, and plug in the next.")
                yield outcome
            time.sleep(_LOOK_EVERY_S)
    except KeyboardInterrupt:
        return


def _tell(outcomes: "Iterator[Outcome]", prop: "Prop", as_json: bool) -> int:
    """The sum of it."""
    found = list(outcomes)
    values = _summary(found)
    text = (
        f"{len(found)} board{'s' * (len(found) != 1)}: {values['sent']} got the table,"
        f" {values['had_it']} had it, {values['failed']} failed."
    )
    if found:
        _remark_pins(found[0], prop)
    result(text, values, as_json)
    return int(not all(outcome.is_good for outcome in found))


def _summary(outcomes: "list[Outcome]") -> dict[str, Any]:
    return {
        "boards": list(map(_values, outcomes)),
        "sent": sum(outcome.report is not None and outcome.is_good for outcome in outcomes),
        "had_it": sum(outcome.report is None and outcome.is_good for outcome in outcomes),
        "failed": sum(not outcome.is_good for outcome in outcomes),
    }


def _values(outcome: "Outcome") -> dict[str, Any]:
    board = outcome.board
    return {
        "port": outcome.port,
        "board": board and board.name,
        "board_id": board and f"{board.board_id:08x}",
        "sent": outcome.report and outcome.report._asdict(),
        "proven": outcome.equal,
        "faults": list(map(str, outcome.faults)),
    }


def _line(outcome: "Outcome", prop: "Prop") -> str:
    """What became of a board, in a sentence or two."""
    if outcome.faults:
        return "\n".join(f"failed: {fault}" for fault in outcome.faults)
    where = f"{outcome.board.name} on {outcome.port}"
    report = outcome.report
    if report:
        text = (
            f"{where} now plays {prop.path} ({report.bytes} bytes in slot {report.slot},"
            f" {report.seconds:.1f} s, {report.bytes / max(report.seconds, 1e-6) / 1000:.1f} kB/s,"
            f" {report.repeated_blocks} blocks sent again{_speed(report)}).{_kept(report)}"
        )
    else:
        text = f"{where} plays {prop.path} already: nothing was sent."
    if outcome.equal is None:
        return text
    if outcome.equal:
        return f"{text} It does what the reference does."
    how = f"`fxseq prove {prop.path} --port {outcome.port}` tells where."
    return f"{text} It does NOT do what the reference does: {how}"


def _speed(report: "PushReport") -> str:
    """At which it was sent, where that is not the usual one."""
    from fxseq.link import BAUD

    return f", at {report.baud} baud" if report.baud not in (0, BAUD) else ""


def _kept(report: "PushReport") -> str:
    """What the board had of the table, where it had any."""
    if not report.kept_sounds:
        return ""
    sounds = "1 sound was" if report.sounds == 1 else f"{report.sounds} sounds were"
    return (
        f" {report.kept_sounds} of {sounds} on the board already:"
        f" {report.sent_bytes / 1000:.1f} kB of {report.bytes / 1000:.1f} kB sent."
    )


def _remark_pins(outcome: "Outcome", prop: "Prop") -> None:
    """To a maker whose prop now does nothing, though all went well."""
    from fxseq.sequence.board_parts import board_parts

    name = outcome.board.name.removeprefix("fxseq ") if outcome.board else ""
    if outcome.report and prop.sequence.board.part is None and name in board_parts():
        remark(
            f"Nothing will light or sound: the file does not say which board it is for, so the"
            f' {name} uses none of its pins. Write part = "{name}" below [board] and push again.'
        )
