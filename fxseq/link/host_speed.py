"""The speed of the line while a push lasts (LINK 4.6): asked for, tried, given up.

Whatever goes wrong, the way out is the same: the board goes back to the base speed once it hears
nobody, and the host waits for it there.
"""

from typing import TypeVar

from fxseq.link import faults
from fxseq.link import messages as m
from fxseq.link.host_session import PATIENCE_S, REPEAT_EVERY_S, Steps, Talk

TRIES = 2
"""Times that a request is sent before a speed is given up."""

Answer = TypeVar("Answer", bound=m.Message)


def slower(baud: int) -> int:
    """The next speed to try where this one is too high: a half, as long as that gains something."""
    return baud // 2 if baud >= 4 * m.BASE_BAUD else m.BASE_BAUD


def change_speed(talk: Talk, baud: int) -> Steps[None]:
    """Have both ends go on at `baud`, or at a lower speed where that does not work. Nothing else
    may be asked meanwhile; what was under way is nobody's. Raises LinkError where the board is not
    heard at the base speed either.
    """
    while not (yield from _changed(talk, baud)):
        yield from _fall_back(talk)
        baud = slower(baud)
        if baud == m.BASE_BAUD:
            return


def leave_speed(talk: Talk) -> Steps[None]:
    """Leave the line at the base speed, so that whoever speaks next is heard at once."""
    if talk.baud != talk.first_baud:
        yield from _tried(talk, m.Speed(m.BASE_BAUD), m.Agreed)
        talk.baud = m.BASE_BAUD


def _changed(talk: Talk, baud: int) -> Steps[bool]:
    agreed = yield from _tried(talk, m.Speed(baud), m.Agreed)
    if agreed is None:
        return False
    talk.baud = agreed.baud
    return (yield from _tried(talk, m.Hello(), m.Board)) is not None


def _fall_back(talk: Talk) -> Steps[None]:
    talk.baud = m.BASE_BAUD
    begun = talk.now_s
    while (yield from _tried(talk, m.Hello(), m.Board)) is None:
        if talk.now_s >= begun + PATIENCE_S:
            raise faults.no_answer(talk.where, talk.now_s - begun, talk.aftermath)


def _tried(talk: Talk, message: m.Message, kind: type[Answer]) -> Steps[Answer | None]:
    """The answer to a request, None where none comes."""
    tag = talk.new_tag()
    for _ in range(TRIES):
        talk.request(message, tag)
        repeat_at = talk.now_s + REPEAT_EVERY_S
        while (arrival := (yield repeat_at)) is not None:
            if arrival.tag == tag and isinstance(arrival.message, kind):
                return arrival.message
    return None
