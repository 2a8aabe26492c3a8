"""What a board did with a press script against what the reference does: the first event in which
they differ, in the maker's words.
"""

from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from fxseq.link import Board
from fxseq.link.messages import table_crc
from fxseq.player import Player, Script, TraceEvent
from fxseq.player.events import in_words
from fxseq.runs.prop import Prop
from fxseq.sequence import Fault, LinkError
from fxseq.table import Names


@dataclass(frozen=True)
class Proof:
    """equal_events: how many agree before the first that does not. board, reference: that event
    on either side, None where there is none.
    """

    equal: bool
    equal_events: int
    board: dict[str, Any] | None = None
    reference: dict[str, Any] | None = None

    @property
    def difference(self) -> dict[str, Any] | None:
        """Both sides by name, in plain values; None where they are equal."""
        if self.equal:
            return None
        return {"board": self.board, "reference": self.reference}


def compare(theirs: list[TraceEvent], prop: Prop, script: Script) -> Proof:
    """Hold the trace of a board against that of the reference player."""
    table = prop.compiled.table
    names = prop.compiled.names
    ours = Player(table).play(script.presses, script.until_frame).trace
    same = next(
        (number for number, (one, other) in enumerate(zip_longest(theirs, ours)) if one != other),
        None,
    )
    if same is None:
        return Proof(True, len(ours))
    return Proof(
        False, same, *(told(trace[same:], names, table.frame_rate_hz) for trace in (theirs, ours))
    )


def holds(board: Board, prop: Prop) -> bool:
    """Whether the board plays the table of this prop."""
    data = prop.compiled.data
    return board.has_table and board.playing == (len(data), table_crc(data))


def demand_table(board: Board, prop: Prop, where: str) -> None:
    """The board plays the table of this prop. Raises LinkError."""
    if holds(board, prop):
        return
    what = "the board holds no table"
    if board.has_table:
        what = f"the board plays another table, not that of {prop.path}"
    raise LinkError(
        Fault(where, what, remedy=f"Push it first: fxseq push {prop.path} --port {where}")
    )


def told(rest: list[TraceEvent], names: Names, rate_hz: float) -> dict[str, Any] | None:
    """The first event of the rest of a trace, in numbers and in words; None where there is none."""
    if not rest:
        return None
    frame, kind, index, value = rest[0]
    return {
        "time_s": frame / rate_hz,
        "frame": frame,
        "kind": kind.name.lower(),
        "index": index,
        "value": value,
        "words": in_words(rest[0], names),
    }
