"""The conversation that has a board play a press script from power-up and brings back its trace
(LINK section 6).
"""

from collections import deque
from collections.abc import Sequence

from fxseq.link import faults
from fxseq.link import messages as m
from fxseq.link.host_session import PATIENCE_S, Script, Steps, Talk, ask, hello, pause

POLL_EVERY_S = 0.05
SLOWEST_FRAMES_PER_S = 10
"""No table has frames as slow as this, even on a board that needs four times as long for them as
they last.
"""
EVENTS_PER_FRAME = 64
MOST_EVENTS_AT_ONCE = 4096
"""A trace with more than this many events a frame, and so many in a burst, is not believed."""


def prove(presses: Sequence[m.Timed], until_frame: int) -> Script[list[m.Timed]]:
    """The conversation. presses: in order of time, within frames 0..until_frame - 1. The result
    is the whole trace of these frames.
    """

    def script(talk: Talk) -> Steps[list[m.Timed]]:
        board = yield from hello(talk)
        if not board.proves_runs:
            raise faults.no_runs(talk.where)
        talk.aftermath = ""
        _, clock = yield from ask(talk, m.Restart(), m.Clock)
        waiting = deque(presses)
        yield from _feed(talk, board, waiting, clock)
        yield from ask(talk, m.Run(until_frame), m.Clock)
        trace = yield from _collect(talk, board, waiting, until_frame)
        yield from ask(talk, m.Restart(), m.Clock)
        yield from ask(talk, m.Run(m.FOR_EVER), m.Clock)
        return trace

    return script


def _feed(talk: Talk, board: m.Board, waiting: deque[m.Timed], clock: m.Clock) -> Steps[None]:
    """Send presses as long as the board has room for them."""
    most = min(m.MOST_PRESSES, board.block_bytes // m.TIMED_BYTES)
    while waiting and clock.press_room:
        some = tuple(waiting)[: min(most, clock.press_room)]
        before = clock.next_press
        _, clock = yield from ask(talk, m.Presses(before, some), m.Clock)
        taken = (clock.next_press - before) & 0xFFFF
        if taken > len(some):
            raise faults.nonsense(talk.where, f"it has taken {taken} presses of {len(some)}")
        if not taken and clock.press_room:
            raise faults.nonsense(
                talk.where, f"it has room for {clock.press_room} presses but takes none"
            )
        for _ in range(taken):
            waiting.popleft()


def _collect(
    talk: Talk, board: m.Board, waiting: deque[m.Timed], until_frame: int
) -> Steps[list[m.Timed]]:
    """Fetch the trace until the clock stands at `until_frame`, and send the presses that had no
    room yet.
    """
    trace: list[m.Timed] = []
    begun = moved = talk.now_s
    frame = 0
    while True:
        _, answer = yield from ask(talk, m.TraceQuery(len(trace)), m.Events)
        if answer.first > len(trace):
            raise faults.trace_lost(talk.where, answer.first - len(trace))
        if answer.first < len(trace):
            raise faults.run_lost(talk.where)
        trace += answer.events
        if len(trace) > EVENTS_PER_FRAME * answer.frame + MOST_EVENTS_AT_ONCE:
            raise faults.nonsense(
                talk.where, f"it reports {len(trace)} events in {answer.frame} frames"
            )
        _, clock = yield from ask(talk, m.ClockQuery(), m.Clock)
        if clock.late:
            raise faults.presses_late(talk.where, clock.late)
        if answer.frame >= until_frame and not answer.events:
            return trace
        if answer.frame > frame or answer.events:
            moved = talk.now_s
            frame = answer.frame
        if talk.now_s > moved + PATIENCE_S:
            raise faults.clock_stands(talk.where, frame, talk.now_s - moved)
        if talk.now_s > begun + PATIENCE_S + frame / SLOWEST_FRAMES_PER_S:
            raise faults.clock_slow(talk.where, frame, talk.now_s - begun)
        yield from _feed(talk, board, waiting, clock)
        if not answer.events:
            yield from pause(talk, POLL_EVERY_S)
