"""Which triggers can act in one frame: how gates can stand there together (SPEC 5.2 to 5.4).

An input goes down, has been down for so long, or goes up, and all triggers at it are bound to
that. A selector stays or turns, and so binds the triggers that heed it. Inputs do not hang on each
other.
"""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from fxseq.table.records import Mode, Table, TriggerRecord


class Gate(NamedTuple):
    """Of a trigger: whether it was open in the frame before, is open now, and is fresh."""

    was_open: bool
    is_open: bool
    fresh: bool

    @property
    def rises(self) -> bool:
        """Whether it opens now."""
        return self.is_open and not self.was_open


class Held(NamedTuple):
    """Of an input, in the frame before which it was down for `frames`; of triggers without
    an input, frames since power-up. math.inf: longer than any of them waits.
    """

    frames: float
    let_go: bool = False


class Turn(NamedTuple):
    """Of a selector, from a position in the frame before; the same, if it stays."""

    selector: int
    before: int
    after: int


def holds(triggers: Sequence[TriggerRecord]) -> list[Held]:
    """Those of one input with these triggers, as far as they differ. What happens at power-up is
    left out, and what does not happen to any trigger in between is possible later too.
    """
    always = triggers[0].mode == Mode.ALWAYS
    waits = {trigger.hold for trigger in triggers} - ({0} if always else set())
    let_go = [] if always else [Held(math.inf, let_go=True)]
    return [Held(math.inf), *let_go, *map(Held, sorted(waits))]


def turns(table: Table) -> Iterator[list[Turn | None]]:
    """What each selector that a trigger heeds may do in a frame; without one, a single None."""
    heeded = {selector for trigger in table.triggers for selector, _ in trigger.conditions}
    for selector in sorted(heeded):
        positions = range(table.selectors[selector].positions)
        yield [Turn(selector, before, after) for before in positions for after in positions]
    if not heeded:
        yield [None]


def gates(trigger: TriggerRecord, held: Held, turn: Turn | None) -> set[Gate]:
    """How its gate can stand. Nothing is known of selectors but the one that turns."""
    before = trigger.hold < held.frames
    now = trigger.hold <= held.frames and not held.let_go
    fresh = trigger.hold == held.frames
    others = False
    for selector, mask in trigger.conditions:
        if turn is None or selector != turn.selector:
            others = True
        else:
            before &= bool(mask >> turn.before & 1)
            now &= bool(mask >> turn.after & 1)
    return {
        Gate(was_open, is_open, fresh)
        for was_open in {before, before and not others}
        for is_open in {now, now and not others}
    }
