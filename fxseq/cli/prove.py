"""fxseq prove."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import (
    json_option,
    load_prop,
    port_option,
    press_text,
    presses_option,
    remark,
    result,
    sequence_argument,
)

if TYPE_CHECKING:
    from fxseq.link import Board


@click.command()
@sequence_argument
@presses_option
@port_option
@json_option
def command(sequence: Path, presses: str | None, port: str | None, baud: int, as_json: bool) -> int:
    """Play a press script on the board and compare what it does with the reference.

    The board must already hold the table of FILE. It restarts, gets the presses of the script as if
    its own inputs were pressed, and plays them in real time, with whatever sound and light it has.
    Then it restarts again. The answer is "equal", or the first event in which board and reference
    differ (exit status 1).
    """
    from fxseq.link import hello, open_port, prove
    from fxseq.runs.proof import compare, demand_table

    prop = load_prop(sequence)
    script, text = prop.script(press_text(presses, prop.sequence))
    duration_s = script.until_frame / prop.compiled.table.frame_rate_hz
    with open_port(port, baud) as line:
        board = hello(line)
        demand_table(board, prop, line.where)
        remark(f"{line.where}: playing {duration_s:.1f} s, {_outputs(board)}")
        theirs = prove(line, script.presses, script.until_frame)
    proof = compare(theirs, prop, script)
    values = {
        "board": board.name,
        "port": line.where,
        "presses_script": text,
        "duration_s": duration_s,
        "equal": proof.equal,
        "events_same": proof.equal_events,
        "difference": proof.difference,
    }
    result(_text(values, sequence), values, as_json)
    if proof.equal:
        return 0
    return 1


def _outputs(board: "Board") -> str:
    from fxseq.link.messages import Feature

    has = [
        name
        for feature, name in ((Feature.SOUND, "sound"), (Feature.LIGHT, "light"))
        if board.features & feature
    ]
    if has:
        return f"with {' and '.join(has)}"
    return "without sound or light, because this board has none"


def _text(values: dict[str, Any], sequence: Path) -> str:
    board = f"{values['board']} on {values['port']}"
    if values["equal"]:
        return (
            f"{board} plays {sequence} as the reference does: {values['events_same']} events in"
            f" {values['duration_s']:.1f} s are equal."
        )
    rows = [
        f"  {side:<9}  {_line(event, values['duration_s'])}"
        for side, event in values["difference"].items()
    ]
    return "\n".join(
        [
            (
                f"{board} plays {sequence} unlike the reference. The first {values['events_same']}"
                " events are equal, then come:"
            ),
            *rows,
        ]
    )


def _line(event: dict[str, Any] | None, duration_s: float) -> str:
    if event is None:
        return f"nothing more up to {duration_s:.3f} s"
    return f"{event['time_s']:.3f} s (frame {event['frame']})  {event['words']}"
