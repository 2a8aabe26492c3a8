"""A board that lies: every conversation with it ends within a stated time, in bounded memory,
and in words.
"""

import itertools
import re
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from simulated import make_table

from fxseq.link import messages as m
from fxseq.link.frames import FrameDecoder, encode_frame
from fxseq.link.host_proof import prove
from fxseq.link.host_push import push
from fxseq.link.host_session import LONGEST_WORK_S, STUCK_S, HostSession
from fxseq.sequence import LinkError

TABLE = make_table(1500)
"""Five blocks: all are sent at once."""
BOARD = m.Board(
    1, 1, 48_000, 255, 16, 16, 15, 1, 352, 16, 32, 256, 4096, 2, 0, 0, 0, 0, 0, 0, "liar"
)
PRESSES = [(frame, 0, 0, 0) for frame in (1, 2, 3)]
Answer = Callable[[m.Message], m.Message | None]


def converse(
    session: HostSession, answer: Answer, late_s: float = 0.01, unasked: m.Message | None = None
) -> tuple[str, float, int]:
    """What the host says in the end, when, and how much it has sent.

    answer: the liar's. unasked: what it says all the time, with every tag.
    """
    out = session.tick(0.0)
    now = 0.0
    heard = FrameDecoder()
    try:
        while not session.done and now < 1000:
            requests = [m.decode_message(body) for body in heard.feed(out)]
            answers = [(tag, answer(request)) for tag, request in requests]
            now = now + late_s if answers or unasked else max(session.deadline_s, now + late_s)
            answers += [(tag, unasked) for tag in range(8)] if unasked else []
            line = b"".join(
                encode_frame(text.encode(tag)) for tag, text in answers if text is not None
            )
            out = session.receive(line, now)
    except LinkError as error:
        return str(error), now, session.talk.sent_bytes
    raise AssertionError(f"it goes on after {now} s")


def push_to(answer: Answer, **how: object) -> tuple[str, float, int]:
    return converse(HostSession(push(TABLE, lambda board: []), "line"), answer, **how)


def prove_on(answer: Answer, **how: object) -> tuple[str, float, int]:
    return converse(HostSession(prove(PRESSES, 1000), "line"), answer, **how)


def saying(*text: m.Message) -> Answer:
    """Answers each request with the message of these that would be one."""
    kinds = {
        m.Hello: m.Board,
        m.Begin: m.Status,
        m.Data: m.Status,
        m.Verify: m.Status,
        m.Commit: m.Status,
        m.TraceQuery: m.Events,
    }
    by_kind = {type(message): message for message in text}
    return lambda request: by_kind.get(kinds.get(type(request), m.Clock), by_kind.get(m.Wait))


def test_status_that_gets_no_further_ends_within_its_time() -> None:
    text, now, sent = push_to(saying(BOARD, m.Status(0, 0)))
    assert text.startswith("line: the line loses too much: ")
    assert now < STUCK_S + 2
    assert sent < 3 * STUCK_S * 11_520


def test_status_without_end_that_nobody_asked_for_ends_within_its_time() -> None:
    text, now, sent = push_to(saying(BOARD), unasked=m.Status(0, 0))
    assert text.startswith("line: the ")
    assert now < STUCK_S + 2 and sent < 3 * STUCK_S * 11_520


def test_all_blocks_there_and_yet_no_commit_ends_within_its_time() -> None:
    text, now, _ = push_to(saying(BOARD, m.Status(5, 0)))
    assert (
        text
        == "line: the board answers, but the push has made no progress for 30 s. Restart the board,"
        " then push again. The board had no table and still has none."
    )
    assert now < STUCK_S + 2


@pytest.mark.parametrize("text", [(BOARD, m.Wait()), (BOARD, m.Status(5, 0), m.Wait())])
def test_work_without_end_is_given_up(text: tuple[m.Message, ...]) -> None:
    answer = saying(*text)
    error, now, _ = push_to(
        lambda request: m.Wait() if isinstance(request, m.Commit) else answer(request)
    )
    assert re.match(
        r"line: the board has been working for 12\d s and is not done\. Restart the board, then"
        r" push again\. The board",
        error,
    )
    assert now < LONGEST_WORK_S + 2


def test_silence_is_told_in_whole_seconds() -> None:
    text, _, _ = push_to(saying(BOARD, m.Status(0, 0)), late_s=0.123)
    assert "no answer" not in text
    text, _, _ = push_to(saying(BOARD), late_s=0.123)
    assert text.startswith("line: no answer for 5 s. ")


@pytest.mark.parametrize(("status", "blocks"), [((6, 0), 6), ((0, 1 << 4), 6), ((65535, 1), 65537)])
def test_more_blocks_than_there_are_before_the_first_one_was_sent(
    status: tuple[int, int], blocks: int
) -> None:
    text, now, _ = push_to(saying(BOARD, m.Status(*status)))
    assert f"it has {blocks} blocks of 5" in text and now < 1


@pytest.mark.parametrize("outcome", [m.Verified(1500, 7), m.Error(m.ErrorCode.BAD_TABLE, 9)])
def test_bad_read_back_of_what_was_there_before_is_tried_once_more(outcome: m.Message) -> None:
    answer = saying(BOARD, m.Status(5, 0))
    begun = []

    def told(request: m.Message) -> m.Message | None:
        begun.extend([request] if isinstance(request, m.Begin) else [])
        return outcome if isinstance(request, m.Commit) else answer(request)

    text, now, _ = push_to(told)
    assert "table" in text and len(begun) == 2 and now < 1


def test_more_blocks_than_can_be_numbered_are_refused_before_they_are_sent() -> None:
    board = replace(BOARD, block_bytes=32, slot_bytes=0xFFFFFFFF)
    table = bytes(65_536 * 32)
    text, _, sent = converse(
        HostSession(push(table, lambda board: []), "line"), saying(board, m.Status(0, 0))
    )
    assert text.startswith(
        "line: the table has 2097152 bytes; allowed: at most 2097120 on this board."
    )
    assert sent < 100


CLOCK = m.Clock(0, 1000, 0, 32, 0)


@pytest.mark.parametrize(
    ("taken", "what"),
    [
        (5, "it has taken 5 presses of 3"),
        (65_535, "it has taken 65535 presses of 3"),
        (0, "it has room for 32 presses but takes none"),
    ],
)
def test_clock_that_has_taken_what_was_not_sent_makes_no_sense(taken: int, what: str) -> None:
    text, now, _ = prove_on(
        lambda request: (
            BOARD
            if isinstance(request, m.Hello)
            else m.Clock(0, 0, taken, 32, 0) if isinstance(request, m.Presses) else CLOCK
        )
    )
    assert (
        text
        == f"line: the board's answers make no sense: {what}. Restart the board and try again; if"
        " it happens again, its firmware is at fault."
    )
    assert now < 1


def tracing(frames: Iterator[int], events: int) -> Answer:
    """A board that tells of so many new events whenever it is asked, its clock at these frames."""

    def answer(request: m.Message) -> m.Message:
        if isinstance(request, m.TraceQuery):
            return m.Events(next(frames), request.first, ((0, 1, 0, 0),) * events)
        if isinstance(request, m.Hello):
            return BOARD
        return m.Clock(0, 1000, 3 if isinstance(request, m.Presses) else 0, 32, 0)

    return answer


def test_events_without_end_are_not_believed() -> None:
    text, now, sent = prove_on(tracing(itertools.repeat(3), m.MOST_EVENTS))
    assert text.startswith(
        "line: the board's answers make no sense: it reports 4300 events in 3 frames. "
    )
    assert now < 10 and sent < 10_000


def test_trace_that_begins_anew_is_that_of_a_board_that_restarted() -> None:
    answer = tracing(itertools.count(), 5)

    def forgetful(request: m.Message) -> m.Message:
        told = answer(request)
        return (
            m.Events(told.frame, 0, ())
            if isinstance(request, m.TraceQuery) and request.first >= 10
            else told
        )

    assert (
        prove_on(forgetful)[0]
        == "line: the board restarted during the run. Check its supply and its cable, then try"
        " again."
    )


def test_clock_that_creeps_is_given_up() -> None:
    text, now, _ = prove_on(tracing(itertools.count(), 0), late_s=0.2)
    assert text.startswith("line: the board has played only ")
    assert now < 30


def test_board_without_runs_cannot_be_proved() -> None:
    assert (
        prove_on(saying(replace(BOARD, features=0)))[0]
        == "line: this board cannot be proved: its firmware does not support press scripts. Preview"
        " the prop on the laptop instead."
    )
