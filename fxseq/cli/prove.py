"""fxseq prove."""
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fxseq.cli.output import json_option, port_option, press_text, presses_option, remark, result, sequence_argument
from fxseq.sequence import Fault, LinkError

if TYPE_CHECKING:
    from fxseq.link import Board
    from fxseq.player import TraceEvent
    from fxseq.table import Names

# Kind of trace event: what it says, with {index} and {value}, and which names stand for the two (SPEC section 7); numbers where there are none.
SENTENCES = {
    "PRESS": ("input {index} is pressed", "inputs", ""),
    "RELEASE": ("input {index} is let go", "inputs", ""),
    "SELECT": ("selector {index} is set to {value}", "selectors", "positions"),
    "VOLUME": ("the volume is set to {percent:.0f} %", "", ""),
    "START": ("trigger {index} begins", "triggers", ""),
    "STOP": ("trigger {index} ends", "triggers", ""),
    "SHOT": ("trigger {index} fires, shots before this one: {value}", "triggers", ""),
    "EMPTY": ("trigger {index} finds counter {value} at 0", "triggers", "counters"),
    "EFFECT": ("effect {index} begins, by trigger {value}", "effects", "triggers"),
    "SOUND": ("clip {value} begins on voice {index}", "", "clips"),
    "CUT": ("clip {value} is cut on voice {index}", "", "clips"),
    "RELEASED": ("clip {value} is let go on voice {index}", "", "clips"),
    "FADE": ("group {index} begins fade {value}", "groups", "fades"),
    "COUNT": ("counter {index} is at {value}", "counters", ""),
    "REFUSED": ("effect {index} finds too many others under way and is left out", "effects", ""),
}


@click.command()
@sequence_argument
@presses_option
@port_option
@json_option
def command(sequence: Path, presses: str | None, port: str | None, as_json: bool) -> int:
    """Play a press script on the board and compare what it does with the reference.

    The board must hold the table of SEQUENCE already. It starts anew, gets the presses of the script as if its own inputs were pressed,
    plays in real time, with sound and light, and starts anew again. Equal, or the first event in which board and reference differ (exit status 1).
    """
    from fxseq.checks import load_prop
    from fxseq.link import hello, open_port, prove
    from fxseq.player import Player

    prop = load_prop(sequence)
    script, text = prop.script(press_text(presses))
    table, names = prop.compiled.table, prop.compiled.names
    duration_s = script.until_frame / table.frame_rate_hz
    with open_port(port) as line:
        board = hello(line)
        _demand(board, prop.compiled.data, sequence, line.where)
        remark(f"{line.where}: playing {duration_s:.1f} s, with sound and light")
        theirs = prove(line, script.presses, script.until_frame)
    ours = Player(table).play(script.presses, script.until_frame).trace
    same = next((number for number, (one, other) in enumerate(zip_longest(theirs, ours)) if one != other), None)
    sides = [] if same is None else [_event(trace[same:], names, table.frame_rate_hz) for trace in (theirs, ours)]
    values = {
        "board": board.name, "port": line.where, "presses_script": text, "duration_s": duration_s, "equal": same is None,
        "events_same": len(ours) if same is None else same, "difference": dict(zip(("board", "reference"), sides)) or None,
    }
    result(_text(values, sequence), values, as_json)
    return 0 if same is None else 1


def _demand(board: "Board", data: bytes, sequence: Path, where: str) -> None:
    """The board plays this table. Raises LinkError."""
    from fxseq.link.messages import table_crc

    held = ((board.length_0, board.crc_0), (board.length_1, board.crc_1))[board.active] if board.has_table else None
    if held == (len(data), table_crc(data)):
        return
    what = "the board holds no table" if held is None else f"the board plays another table than that of {sequence}"
    raise LinkError(Fault(where, what, remedy=f"Push it first: fxseq push {sequence} --port {where}"))


def _event(rest: list["TraceEvent"], names: "Names", rate_hz: float) -> dict[str, Any] | None:
    """The first event of the rest of a trace, in numbers and in words; None where there is none."""
    if not rest:
        return None
    frame, kind, index, value = rest[0]
    sentence, index_of, value_of = SENTENCES[kind.name]
    positions = dict(enumerate(names.positions)).get(index, ())
    words = sentence.format(
        index=_named(index, getattr(names, index_of) if index_of else None), percent=value / 2.56,
        value=_named(value, positions if value_of == "positions" else getattr(names, value_of) if value_of else None))
    return {"time_s": frame / rate_hz, "frame": frame, "kind": kind.name.lower(), "index": index, "value": value, "words": words}


def _named(number: int, names: tuple[str, ...] | None) -> str:
    if names is None:
        return str(number)
    return f"'{names[number]}'" if number < len(names) else f"number {number} (the sequence has none of that number)"


def _text(values: dict[str, Any], sequence: Path) -> str:
    board = f"{values['board']} on {values['port']}"
    if values["equal"]:
        return f"{board} plays {sequence} as the reference does: {values['events_same']} events in {values['duration_s']:.1f} s are equal."
    rows = [f"  {side:<9}  {_line(event, values['duration_s'])}" for side, event in values["difference"].items()]
    return "\n".join([f"{board} plays {sequence} unlike the reference. The first {values['events_same']} events are equal, then come:", *rows])


def _line(event: dict[str, Any] | None, duration_s: float) -> str:
    if event is None:
        return f"nothing more up to {duration_s:.3f} s"
    return f"{event['time_s']:.3f} s (frame {event['frame']})  {event['words']}"
