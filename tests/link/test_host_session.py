"""The host's side: proof of a run, and whatever may come over the line."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated import BitErrors, MemoryFlash, Recorder, Wire, converse, make_board, make_table
from test_board_session import anything, filled

from fxseq.link import host_session
from fxseq.link import messages as m
from fxseq.link.board_session import BoardSession
from fxseq.link.frames import FrameDecoder, encode_frame
from fxseq.link.host_proof import prove
from fxseq.link.host_push import Timeout, push
from fxseq.link.host_session import HostSession, pause
from fxseq.sequence import LinkError

FRAMES = 3000
PRESSES = [(frame, frame // 25 % 2, 1, 0) for frame in range(5, FRAMES, 25)]


def expected_trace() -> list[m.Timed]:
    return Recorder(b"").play(PRESSES, FRAMES).trace


@pytest.mark.parametrize(
    "ability", [{}, {"press_room": 15, "block_bytes": 32}, {"trace_room": 120}]
)
def test_trace_of_a_run_on_the_board_is_that_of_the_player(ability: dict[str, int]) -> None:
    session = HostSession(prove(PRESSES, FRAMES), "line")
    board = filled(**ability)
    converse(
        session, board, Wire(BitErrors(3e-5, 1)), Wire(BitErrors(3e-5, 2)), frames_per_s=1000.0
    )
    assert session.result == expected_trace()
    assert not board.held


def test_board_that_plays_anew_after_a_proof_starts_at_power_up() -> None:
    board = filled()
    converse(
        HostSession(prove(PRESSES, FRAMES), "line"), board, Wire(), Wire(), frames_per_s=1000.0
    )
    assert board.player.frame < 100
    assert not board.held


def test_trace_that_runs_over_is_reported() -> None:
    session = HostSession(prove(PRESSES, FRAMES), "line")
    with pytest.raises(
        LinkError,
        match=(
            r"line: \d+ events of the trace were lost before they could be read\. Use a faster line"
        ),
    ):
        converse(session, filled(trace_room=4), Wire(), Wire(), frames_per_s=1000.0)


def test_presses_that_come_late_are_reported() -> None:
    presses = [(frame, 0, 1, 0) for frame in range(100)]
    session = HostSession(prove(presses, FRAMES), "line")
    with pytest.raises(
        LinkError,
        match=(
            r"line: \d+ presses reached the board too late to take effect in their frame\. Use a"
            r" faster line"
        ),
    ):
        converse(session, filled(press_room=2), Wire(), Wire(), frames_per_s=1000.0)


def test_clock_that_stands_still_is_reported() -> None:
    session = HostSession(prove(PRESSES, FRAMES), "line")
    with pytest.raises(
        LinkError,
        match=r"line: the board's clock has been stuck at frame 0 for 5 s\. Restart the board",
    ):
        converse(session, filled(), Wire(), Wire())


def test_press_of_an_input_that_does_not_exist_is_reported() -> None:
    session = HostSession(prove([(5, 0, 9, 0)], FRAMES), "line")
    with pytest.raises(
        LinkError, match="line: the board has no input or selector position for press 0"
    ):
        converse(session, filled(), Wire(), Wire(), frames_per_s=1000.0)


def test_answers_of_an_earlier_conversation_are_not_taken_for_ours() -> None:
    session = HostSession(host_session.hello, "line", first_tag=3)
    session.tick(0.0)
    assert not session.done
    session.receive(encode_frame(m.Status(0, 0).encode(4)) + encode_frame(BOARD.encode(3)), 0.1)
    assert not session.done
    session.receive(encode_frame(BOARD.encode(4)), 0.2)
    assert session.result == BOARD


def test_answers_to_nothing_are_ignored_in_every_stage_of_a_push() -> None:
    """Messages of the right kind with tags that nobody waits for, and of kinds that nobody waits
    for, before each right answer.
    """
    session = HostSession(push(TABLE, lambda board: []), "line")
    now = 0.0
    session.tick(now)
    stray = [
        m.Error(7, 7),
        m.Status(1, 0),
        m.Verified(9, 9),
        m.Committed(1),
        m.Clock(0, 0, 0, 0, 0),
    ]
    right = [
        BOARD,
        m.Status(0, 0),
        m.Status(4, 0),
        m.Status(8, 0),
        m.Verified(300, m.table_crc(TABLE)),
        m.Committed(1),
    ]
    for tag, message in zip([1, 2, 2, 2, 3, 4], right, strict=True):
        for other in stray:
            session.receive(encode_frame(other.encode(7)), now)
        session.receive(encode_frame(m.Clock(0, 0, 0, 0, 0).encode(tag)), now)
        session.receive(encode_frame(message.encode(tag)), now)
    assert session.result.slot == 1


def test_no_question_has_the_tag_of_the_blocks() -> None:
    session = HostSession(push(TABLE, lambda board: []), "line")
    now = 0.0
    session.tick(now)
    session.receive(encode_frame(BOARD.encode(1)), now)
    out = session.receive(encode_frame(m.Status(0, 0).encode(2)), now)
    tags = []
    for _ in range(20):
        now = session.deadline_s
        out = session.tick(now)
        sent = [m.decode_message(body) for body in FrameDecoder().feed(out)]
        tags += [tag for tag, message in sent if message == m.Verify()]
        session.receive(encode_frame(m.Wait().encode(tags[-1])), now)
    assert set(tags) == {0, 1, 3, 4, 5, 6, 7}


def test_time_out_follows_the_round_trip_and_grows_in_vain() -> None:
    timeout = Timeout()
    assert timeout.seconds == 1.0
    timeout.heard(0.1)
    # RFC 6298 (from memory): at first mean R, deviation R/2, time-out R + 4 * R/2; R again lets the
    # deviation fall by a quarter.
    assert timeout.seconds == pytest.approx(0.1 + 4 * 0.05)
    timeout.heard(0.1)
    assert timeout.seconds == pytest.approx(0.1 + 4 * 0.05 * 0.75)
    timeout.heard(None)
    before = timeout.seconds
    timeout.expired()
    assert timeout.seconds == pytest.approx(2 * before)
    for _ in range(10):
        timeout.expired()
    assert timeout.seconds == 1.0


def test_what_arrives_in_a_pause_is_ignored() -> None:
    session = HostSession(lambda talk: pause(talk, 1.0), "line")
    session.tick(0.0)
    session.receive(encode_frame(BOARD.encode(1)), 0.5)
    assert not session.done
    session.tick(1.0)
    assert session.done


def test_what_comes_before_the_first_word_and_after_the_last_is_ignored() -> None:
    session = HostSession(host_session.hello, "line")
    session.receive(encode_frame(BOARD.encode(1)), 0.0)
    assert not session.done
    session.receive(encode_frame(BOARD.encode(1)) * 2, 0.0)
    assert session.result == BOARD


BOARD = m.Board(1, 1, 48_000, 255, 16, 16, 3, 1, 32, 4, 8, 8, 4096, 2, 0, 0, 0, 0, 0, 0, "")
TABLE = make_table(300)
likely = st.one_of(
    st.just(BOARD),
    st.builds(m.Status, st.integers(0, 12), st.integers(0, 2**16 - 1)),
    st.just(m.Wait()),
    st.just(m.Verified(300, m.table_crc(TABLE))),
    st.just(m.Committed(0)),
    st.builds(m.Clock, *[st.integers(0, 9)] * 5),
    st.builds(m.Events, st.integers(0, 20), st.integers(0, 3), st.just(((0, 0, 0, 0),) * 2)),
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.one_of(likely, likely, anything), st.integers(0, 7), st.sampled_from([0.001, 0.3])
        ),
        max_size=40,
    ),
    st.booleans(),
)
def test_no_message_makes_a_host_raise_anything_but_a_link_error(
    items: list[tuple[m.Message | bytes, int, float]], proof: bool
) -> None:
    script = prove([(1, 0, 0, 0)], 10) if proof else push(TABLE, lambda board: [])
    session = HostSession(script, "line")
    now = 0.0
    session.tick(now)
    try:
        for item, tag, pause in items:
            now += pause
            body = item if isinstance(item, bytes) else item.encode(tag)
            session.receive(encode_frame(body), now)
    except LinkError as error:
        assert str(error).startswith("line: ")


@settings(deadline=None)
@given(st.binary(max_size=600))
def test_no_bytes_make_a_host_raise(data: bytes) -> None:
    session = HostSession(push(TABLE, lambda board: []), "line")
    session.tick(0.0)
    session.receive(data, 0.1)
    assert not session.done


def test_a_cut_at_any_byte_of_a_push_leaves_the_old_table_or_the_new_one() -> None:
    """The line is cut for good behind every byte from the host, in turn; what the board then
    holds must play at its next power-up.
    """
    old = make_table(200, 1)
    new = make_table(230, 2)
    outcomes = []
    for cut in itertools.count():
        flash = MemoryFlash()
        converse(
            HostSession(push(old, lambda board: []), "line"),
            make_board(flash, block_bytes=64),
            Wire(),
            Wire(),
        )
        board, session = make_board(flash, block_bytes=64), HostSession(
            push(new, lambda board: []), "line"
        )
        whole = talk_until(session, board, cut)
        outcomes.append(make_board(flash).player.table)
        assert board.player.table == outcomes[-1]
        if whole:
            break
    assert len(outcomes) > 300
    assert set(outcomes) == {old, new}
    assert outcomes == sorted(outcomes, key=[old, new].index)


def talk_until(session: HostSession, board: BoardSession, cut: int) -> bool:
    """Carry a conversation over an ideal line that takes `cut` bytes from the host; whether it
    came to its end.
    """
    out = session.tick(0.0)
    sent = 0
    while True:
        passing = out[: cut - sent]
        sent += len(passing)
        back = board.receive(passing, 0.0)
        while board.busy:
            back += board.step(0.0)
        if len(passing) < len(out):
            return False
        out = session.receive(back, 0.0)
        if session.done:
            return True
