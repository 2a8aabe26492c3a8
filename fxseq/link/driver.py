"""Conversations with a board over an open port: hello, push, pull, prove."""

import random
import time
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from fxseq.link import faults, host_proof, host_push, host_read, host_session
from fxseq.link import messages as m
from fxseq.link.fit import unfit
from fxseq.link.host_session import HostSession, Progress, Script, Steps, Talk, ask
from fxseq.link.ports import Port, PortLost
from fxseq.player import Press, TraceEvent, TraceKind
from fxseq.sequence.errors import Fault, LinkError
from fxseq.table import BadTable, decode

Result = TypeVar("Result")


class PushReport(NamedTuple):
    """bytes: of the table. sent_bytes, heard_bytes: on the line, to the board and from it.
    payload_share: bytes by sent_bytes; above 1 where some of the table was on the board before.
    slot: that plays now. sounds, kept_sounds: of the table; those that were on the board already, 0
    of 0 where that was not looked for. baud: at which its end was sent; 0 where that means nothing.
    """

    board: str
    slot: int
    bytes: int
    sent_bytes: int
    seconds: float
    repeated_blocks: int
    payload_share: float
    heard_bytes: int
    sounds: int
    kept_sounds: int
    baud: int


def converse(
    port: Port, session: HostSession[Result], progress: Callable[[Progress], None] | None = None
) -> Result:
    """Carry a conversation to its end. Raises LinkError."""
    told = None

    def send(data: bytes) -> None:
        if session.talk.baud:
            port.run_at(session.talk.baud)
        port.write(data)

    try:
        while True:
            send(session.tick(time.monotonic()))
            if session.done:
                return session.result
            send(session.receive(port.read(), time.monotonic()))
            if progress is not None and session.talk.progress is not told:
                told = session.talk.progress
                progress(told)
    except PortLost:
        raise faults.unplugged(port.where, session.talk.aftermath) from None


def hello(port: Port) -> m.Board:
    """Ask a board what it is, what it can do and what it holds. Raises LinkError."""
    return converse(port, _session(port, host_session.hello))


def enter_boot_loader(port: Port) -> None:
    """Have a board leave its firmware for the boot loader of its chip, to be given a new one; it
    answers no more. Raises LinkError, also where a board has no boot loader.
    """
    converse(port, _session(port, _boot))


def push(
    port: Port, table_bytes: bytes, progress: Callable[[Progress], None] | None = None
) -> PushReport:
    """Put a table on a board: checked against its abilities, written to the idle slot, read back,
    and made the one that plays.

    progress: called each time more of it has arrived. Raises LinkError; its message says what the
    board plays then.
    """
    try:
        table = decode(table_bytes)
    except BadTable as bad:
        raise LinkError(Fault("table", f"cannot be pushed: {bad}")) from None
    script = host_push.push(table_bytes, lambda board: unfit(table, board, port.where))
    session = _session(port, script)
    pushed = converse(port, session, progress)
    size = len(table_bytes)
    sent = session.talk.sent_bytes
    return PushReport(
        pushed.board.name,
        pushed.slot,
        size,
        sent,
        pushed.seconds,
        pushed.repeated,
        size / sent,
        session.talk.heard_bytes,
        pushed.sounds,
        pushed.kept,
        pushed.baud,
    )


def pull(port: Port, progress: Callable[[Progress], None] | None = None) -> host_read.ReadOut:
    """The board and the bytes of the table that it plays. progress: called with each part. Raises
    LinkError, also where the board cannot be read or has no table.
    """
    return converse(port, _session(port, host_read.read_table), progress)


def counts(port: Port) -> m.Counts:
    """What a board that counts has counted. Raises LinkError."""
    return converse(port, _session(port, _counts))


def prove(port: Port, presses: Sequence[Press], until_frame: int) -> list[TraceEvent]:
    """Have the board play from power-up to `until_frame` with these presses, in real time; its
    trace. Raises LinkError.

    presses: within frames 0..until_frame - 1. Afterwards the board starts anew and plays on.
    """
    timed = [tuple(map(int, press)) for press in sorted(presses, key=lambda press: press.frame)]
    trace = converse(port, _session(port, host_proof.prove(timed, until_frame)))
    try:
        return [
            TraceEvent(frame, TraceKind(kind), index, value) for frame, kind, index, value in trace
        ]
    except ValueError:
        raise faults.not_a_board(port.where) from None


def _session(port: Port, script: Script[Result]) -> HostSession[Result]:
    return HostSession(script, port.where, _some_tag(), port.baud)


def _boot(talk: Talk) -> Steps[None]:
    yield from ask(talk, m.Boot(), m.Wait)


def _counts(talk: Talk) -> Steps[m.Counts]:
    _, told = yield from ask(talk, m.CountsQuery(), m.Counts)
    return told


def _some_tag() -> int:
    """Another one than the last conversation's, most likely, so that answers still under way
    from then are not taken for ours.
    """
    return random.randrange(m.TAGS)
