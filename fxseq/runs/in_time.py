"""A prop whose frames its board cannot play in time is refused."""

import math
from pathlib import Path

from fxseq.sequence import Fault, TableError
from fxseq.sequence import model as m
from fxseq.sequence.board_parts import board_parts
from fxseq.table import ChangeCount, Compiled, Names, PlayClip
from fxseq.table.frame_work import FrameWork
from fxseq.table.records import Step

_CURE = (
    "Let its fades begin one after the other (stagger_ms, at_ms), or use a coding that takes less"
    " time (mulaw), fewer voices, or a lower rate_hz or sample_rate_hz."
)


def late_work(board: m.Board, compiled: Compiled) -> tuple[FrameWork, float, float] | None:
    """Where the dearest frame takes more than a ready-made board keeps up with: what is done in it,
    the share of its time that this takes, and the most that it may; else None.
    """
    if board.part is None or board.processor is None or not compiled.table.triggers:
        return None
    most = board_parts()[board.part].most_work
    work = FrameWork(compiled.table, board.processor.kind)
    share = work.share(board.processor.clock_mhz * 1e6)
    return (work, share, most) if most < share < math.inf else None


def refuse_late(path: Path, text: str, sequence: m.Sequence, compiled: Compiled) -> None:
    """Raises TableError where the dearest frame takes more than the most that a ready-made board is
    known to keep up with, at the line of the trigger that does most in it.

    text: of the prop file.
    """
    late = late_work(sequence.board, compiled)
    if late is None:
        return
    work, share, most = late
    trigger = work.dearest_trigger
    name = compiled.names.triggers[trigger]
    what = f"trigger '{name}' may make a frame take {math.ceil(100 * share)} % of its time"
    dearest = work.dearest_step(trigger)
    if dearest is not None:
        what += f", of which most goes to {_told(*dearest, compiled.names)}"
    where = f"{path}:{_line_of(text, name)}"
    raise TableError(Fault(where, what, f"{100 * most:.0f} % on the {sequence.board.part}", _CURE))


def _told(effect: int, step: Step, names: Names) -> str:
    """A step in a maker's words."""
    of = f"effect '{names.effects[effect]}'"
    match step:
        case PlayClip():
            return f"clip '{names.clips[step.clip]}' of {of}"
        case ChangeCount():
            return f"counter '{names.counters[step.counter]}' of {of}"
    return f"fade '{names.fades[step.fade]}' on group '{names.groups[step.group]}' of {of}"


def _line_of(text: str, trigger: str) -> int:
    # Needs tree-sitter, which a file without a fault does not load.
    from fxseq.sequence.layout import read_layout

    return read_layout(text).line_of(("triggers", trigger))
