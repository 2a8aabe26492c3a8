"""The board's side alone: repeats, requests out of place, the clock."""

import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated import MemoryFlash, make_board, make_table
from test_messages import messages_of

from fxseq.link import messages as m
from fxseq.link.board_session import RELEASE_AFTER_S, BoardSession
from fxseq.link.frames import FrameDecoder, encode_frame
from fxseq.link.slots import FlashError

TABLE = make_table(100)
CRC = m.table_crc(TABLE)
SPOILT = {
    "another CRC": bytes([TABLE[0] ^ 1]) + TABLE[1:],
    "refused": TABLE[:-1] + bytes([TABLE[-1] ^ 1]),
}
"""TABLE damaged, by the outcome of the read-back."""


def tell(
    board: BoardSession, message: m.Message, tag: int = 1, now_s: float = 0.0
) -> list[m.Tagged]:
    """Answers to one message, with the board's work done to its end."""
    out = board.receive(encode_frame(message.encode(tag)), now_s)
    while board.busy:
        out += board.step(now_s)
    return [m.decode_message(body) for body in FrameDecoder().feed(out)]


def filled(flash: MemoryFlash | None = None, **ability: int) -> BoardSession:
    """A board with TABLE in slot 0."""
    board = make_board(flash or MemoryFlash(), **ability)
    tell(board, m.Begin(100, CRC))
    size = board.ability.block_bytes
    for number in range(-(-100 // size)):
        tell(board, m.Data(number, TABLE[number * size : (number + 1) * size]))
    assert tell(board, m.Commit(100, CRC), 3)[-1] == (3, m.Committed(0))
    return board


def test_repeated_begin_does_not_erase_what_has_arrived() -> None:
    board = make_board(MemoryFlash(), block_bytes=64)
    assert tell(board, m.Begin(100, CRC)) == [(1, m.Wait()), (1, m.Status(0, 0))]
    tell(board, m.Data(0, TABLE[:64]))
    assert tell(board, m.Begin(100, CRC)) == [(1, m.Status(1, 0))]
    assert tell(board, m.Begin(100, CRC), 4) == [(4, m.Status(1, 0))]
    assert tell(board, m.Begin(99, CRC), 4) == [(4, m.Wait()), (4, m.Status(0, 0))]


def test_begin_of_another_host_is_answered_while_the_slot_is_erased() -> None:
    board = make_board(MemoryFlash(), block_bytes=64)
    board.receive(encode_frame(m.Begin(100, CRC).encode(1)), 0.0)
    assert tell(board, m.Begin(100, CRC), 4) == [(4, m.Wait()), (4, m.Status(0, 0))]
    assert tell(board, m.Data(0, TABLE[:64]), 4) == [(4, m.Status(1, 0))]


def test_blocks_may_come_in_any_order_and_twice() -> None:
    board = make_board(MemoryFlash(), block_bytes=32)
    tell(board, m.Begin(100, CRC))
    answers = [
        tell(board, m.Data(n, TABLE[32 * n : 32 * n + 32]))[0].message for n in (3, 1, 1, 0, 0, 2)
    ]
    assert answers == [
        m.Status(0, 0b100),
        m.Status(0, 0b101),
        m.Status(0, 0b101),
        m.Status(2, 0b1),
        m.Status(2, 0b1),
        m.Status(4, 0),
    ]
    assert tell(board, m.Verify(), 2)[-1] == (2, m.Verified(100, CRC))


def test_block_beyond_the_window_is_left_out() -> None:
    flash = MemoryFlash(2 + 2 * 20)
    board = make_board(flash, block_bytes=32)
    tell(board, m.Begin(32 * 18, 0))
    spent = flash.spent
    assert tell(board, m.Data(17, bytes(32))) == [(1, m.Status(0, 0))]
    assert flash.spent == spent
    assert tell(board, m.Data(16, bytes(32))) == [(1, m.Status(0, 1 << 15))]


@pytest.mark.parametrize(
    "block", [m.Data(0, TABLE[:31]), m.Data(3, TABLE[96:] + b"x"), m.Data(4, TABLE[:32])]
)
def test_block_of_a_wrong_size_or_number_is_refused(block: m.Data) -> None:
    board = make_board(MemoryFlash(), block_bytes=32)
    tell(board, m.Begin(100, CRC))
    assert tell(board, block) == [(1, m.Error(m.ErrorCode.BAD_FIELD, block.number))]


def test_block_with_the_tag_of_another_push_is_ignored() -> None:
    board = make_board(MemoryFlash())
    tell(board, m.Begin(100, CRC), 1)
    assert tell(board, m.Data(0, TABLE), 2) == []


@pytest.mark.parametrize(
    ("message", "code"),
    [
        (m.Data(0, TABLE), m.ErrorCode.NOT_BEGUN),
        (m.Verify(), m.ErrorCode.NOT_BEGUN),
        (m.Commit(100, CRC), m.ErrorCode.NOT_BEGUN),
        (m.Restart(), m.ErrorCode.NO_TABLE),
        (m.Run(5), m.ErrorCode.NO_TABLE),
        (m.Presses(0, ((0, 0, 0, 0),)), m.ErrorCode.NO_TABLE),
        (m.ClockQuery(), m.ErrorCode.NO_TABLE),
        (m.TraceQuery(0), m.ErrorCode.NO_TABLE),
    ],
)
def test_request_out_of_place_is_refused(message: m.Message, code: m.ErrorCode) -> None:
    assert tell(make_board(MemoryFlash()), message, 6) == [(6, m.Error(code, 0))]


def test_answer_sent_to_a_board_is_refused() -> None:
    assert tell(make_board(MemoryFlash()), m.Wait(), 6) == [
        (6, m.Error(m.ErrorCode.UNKNOWN_KIND, 19))
    ]


@pytest.mark.parametrize("body", [b"\x5e", b"\x51", b"\x55\x02", b"\x52" + bytes(9)])
def test_kind_that_no_host_sends_is_unknown_however_it_is_formed(body: bytes) -> None:
    out = make_board(MemoryFlash()).receive(encode_frame(body), 0.0)
    assert m.decode_message(FrameDecoder().feed(out)[0]) == (
        2,
        m.Error(m.ErrorCode.UNKNOWN_KIND, body[0] & 31),
    )


def test_table_larger_than_a_slot_is_refused() -> None:
    assert tell(make_board(MemoryFlash()), m.Begin(257, 0)) == [
        (1, m.Error(m.ErrorCode.TOO_LARGE, 256))
    ]


def test_table_of_too_many_blocks_to_number_is_refused() -> None:
    board = make_board(MemoryFlash(2 + 2 * 520, 4096), block_bytes=32)
    assert tell(board, m.Begin(65_536 * 32, 0))[0].message.code == m.ErrorCode.TOO_LARGE


@pytest.mark.parametrize("commit", [m.Commit(99, CRC), m.Commit(100, CRC ^ 1)])
def test_commit_of_another_table_is_refused(commit: m.Commit) -> None:
    board = make_board(MemoryFlash())
    tell(board, m.Begin(100, CRC))
    tell(board, m.Data(0, TABLE))
    tell(board, m.Verify(), 2)
    assert tell(board, commit, 3) == [(3, m.Error(m.ErrorCode.NOT_BEGUN, 0))]


def test_commit_of_another_table_of_the_same_length_is_not_answered_as_done() -> None:
    board = filled()
    assert tell(board, m.Commit(100, m.table_crc(make_table(100, 2))), 3) == [
        (3, m.Error(m.ErrorCode.NOT_BEGUN, 0))
    ]


def test_table_that_does_not_end_in_its_crc_is_refused() -> None:
    board = make_board(MemoryFlash())
    table = TABLE[:-1] + b"x"
    tell(board, m.Begin(100, CRC))
    tell(board, m.Data(0, table))
    assert tell(board, m.Verify(), 2)[-1] == (2, m.Error(m.ErrorCode.BAD_TABLE, 96))


@pytest.mark.parametrize("spoilt", SPOILT.values(), ids=SPOILT)
def test_begin_after_a_bad_outcome_begins_anew(spoilt: bytes) -> None:
    board = make_board(MemoryFlash())
    for block, good in ((spoilt, False), (TABLE, True)):
        assert tell(board, m.Begin(100, CRC))[-1] == (1, m.Status(0, 0))
        tell(board, m.Data(0, block))
        assert (tell(board, m.Verify(), 2)[-1] == (2, m.Verified(100, CRC))) is good
    assert tell(board, m.Begin(100, CRC)) == [(1, m.Status(1, 0))]


@pytest.mark.parametrize("questions", [[], [m.Verify()], [m.Verify(), m.Verify()]])
def test_commit_reads_back_by_itself_if_nobody_has_asked_for_it(questions: list[m.Message]) -> None:
    board = make_board(MemoryFlash())
    tell(board, m.Begin(100, CRC))
    tell(board, m.Data(0, TABLE))
    for question in questions:
        tell(board, question, 2)
    assert tell(board, m.Commit(100, CRC), 3) == [(3, m.Wait()), (3, m.Committed(0))]


def test_commit_while_blocks_are_missing_tells_which() -> None:
    board = make_board(MemoryFlash(), block_bytes=64)
    tell(board, m.Begin(100, CRC))
    tell(board, m.Data(1, TABLE[64:]))
    assert tell(board, m.Commit(100, CRC), 3) == [(3, m.Status(0, 1))]


@pytest.mark.parametrize(
    ("spoilt", "answer"),
    [
        (SPOILT["another CRC"], m.Verified(100, m.table_crc(SPOILT["another CRC"]))),
        (SPOILT["refused"], m.Error(m.ErrorCode.BAD_TABLE, 96)),
    ],
)
def test_commit_of_what_reads_back_badly_tells_the_outcome(
    spoilt: bytes, answer: m.Message
) -> None:
    flash = MemoryFlash()
    board = filled(flash)
    tell(board, m.Begin(100, CRC))
    tell(board, m.Data(0, spoilt))
    for _ in range(2):
        assert tell(board, m.Commit(100, CRC), 3)[-1] == (3, answer)
    assert make_board(flash).player.table == TABLE


def test_commit_that_meets_a_read_back_under_way_goes_on_to_the_mark() -> None:
    board = make_board(MemoryFlash())
    tell(board, m.Begin(100, CRC))
    tell(board, m.Data(0, TABLE))
    for message, tag in ((m.Verify(), 2), (m.Commit(100, CRC), 3), (m.Verify(), 4)):
        assert board.receive(encode_frame(message.encode(tag)), 0.0) == encode_frame(
            m.Wait().encode(tag)
        )
    board.step(0.0)
    assert board.step(0.0) == encode_frame(m.Committed(0).encode(3))


def test_repeated_commit_is_answered_again_and_writes_nothing() -> None:
    flash = MemoryFlash()
    board = filled(flash)
    spent = flash.spent
    assert tell(board, m.Commit(100, CRC), 3) == [(3, m.Committed(0))]
    assert flash.spent == spent


def test_question_while_erasing_or_reading_back_is_answered_with_wait() -> None:
    board = make_board(MemoryFlash())
    ask = encode_frame(m.Verify().encode(2))
    board.receive(encode_frame(m.Begin(100, CRC).encode(1)), 0.0)
    assert board.receive(ask, 0.0) == encode_frame(m.Wait().encode(2))
    while board.busy:
        board.step(0.0)
    tell(board, m.Data(0, TABLE))
    board.receive(ask, 0.0)
    again = board.receive(encode_frame(m.Verify().encode(3)), 0.0)
    assert again == encode_frame(m.Wait().encode(3))
    board.step(0.0)
    assert board.step(0.0) == encode_frame(m.Verified(100, CRC).encode(3))
    assert tell(board, m.Verify(), 4) == [(4, m.Verified(100, CRC))]


def test_failing_flash_drops_the_push() -> None:
    flash = MemoryFlash()
    board = make_board(flash)
    tell(board, m.Begin(100, CRC))
    flash.data[128] = 0
    assert tell(board, m.Data(0, TABLE)) == [(1, m.Error(m.ErrorCode.FLASH, 0))]
    assert tell(board, m.Data(0, TABLE)) == [(1, m.Error(m.ErrorCode.NOT_BEGUN, 0))]


def test_presses_act_at_their_frames_and_come_back_in_the_trace() -> None:
    board = filled()
    assert tell(board, m.Restart()) == [(1, m.Clock(0, 0, 0, 32, 0))]
    presses = ((3, 0, 1, 0), (12, 1, 1, 0))
    assert tell(board, m.Presses(0, presses)) == [(1, m.Clock(0, 0, 2, 30, 0))]
    assert board.held
    assert board.play(100) is None
    assert tell(board, m.Run(15)) == [(1, m.Clock(0, 15, 2, 30, 0))]
    board.play(5)
    board.play(100)
    assert tell(board, m.TraceQuery(0)) == [
        (1, m.Events(15, 0, ((0, 9, 0, 0), (3, 0, 1, 0), (10, 9, 0, 0), (12, 1, 1, 0))))
    ]
    assert tell(board, m.ClockQuery()) == [(1, m.Clock(15, 15, 2, 32, 0))]


def test_press_that_comes_late_acts_at_once() -> None:
    board = filled()
    board.play(20)
    tell(board, m.Presses(0, ((5, 0, 1, 0),)))
    board.play(25)
    assert tell(board, m.TraceQuery(2))[0].message.events == ((20, 0, 1, 0), (20, 9, 0, 0))
    assert tell(board, m.ClockQuery())[0].message.late == 1


def test_repeated_presses_are_taken_once() -> None:
    board = filled()
    tell(board, m.Restart())
    tell(board, m.Presses(0, ((1, 0, 0, 0), (2, 0, 0, 0))))
    assert tell(board, m.Presses(0, ((1, 0, 0, 0), (2, 0, 0, 0))))[0].message.next_press == 2
    assert tell(board, m.Presses(1, ((2, 0, 0, 0), (3, 0, 0, 0))))[0].message.next_press == 3
    assert tell(board, m.Presses(9, ((9, 0, 0, 0),)))[0].message.next_press == 3


def test_presses_beyond_the_room_are_left_to_be_sent_again() -> None:
    board = filled(press_room=2)
    assert tell(board, m.Presses(0, tuple((n, 0, 0, 0) for n in range(3)))) == [
        (1, m.Clock(0, m.FOR_EVER, 2, 0, 0))
    ]


@pytest.mark.parametrize("press", [(9, 0, 4, 0), (7, 0, 0, 0)])
def test_press_of_nothing_or_out_of_order_is_refused(press: m.Timed) -> None:
    board = filled()
    tell(board, m.Presses(0, ((8, 0, 0, 0),)))
    assert tell(board, m.Presses(1, (press,))) == [(1, m.Error(m.ErrorCode.BAD_PRESS, 1))]


def test_number_of_a_refused_press_comes_round_after_65535() -> None:
    assert tell(filled(), m.Presses(0xFFFF, ((1, 0, 0, 0), (1, 0, 4, 0)))) == [
        (1, m.Error(m.ErrorCode.BAD_PRESS, 0))
    ]


def test_frames_come_round_after_32_bits_and_the_clock_runs_on() -> None:
    board = filled()
    board.player.frame = 2**32 - 6
    tell(board, m.Presses(0, ((9, 0, 1, 0), (2**32 - 3, 1, 1, 0))))
    board.play(2**32 + 5)
    assert tell(board, m.ClockQuery()) == [(1, m.Clock(5, m.FOR_EVER, 2, 32, 1))]
    assert tell(board, m.TraceQuery(0)) == [
        (
            1,
            m.Events(
                5,
                0,
                ((2**32 - 6, 0, 1, 0), (2**32 - 6, 9, 0, 0), (2**32 - 3, 1, 1, 0), (4, 9, 0, 0)),
            ),
        )
    ]
    tell(board, m.Run(7))
    board.play(2**32 + 90)
    assert board.held
    assert tell(board, m.ClockQuery())[0].message.frame == 7


def test_trace_without_room_loses_its_oldest_events_and_says_so() -> None:
    board = filled(trace_room=3)
    board.play(60)
    assert tell(board, m.TraceQuery(0)) == [
        (1, m.Events(60, 3, ((30, 9, 0, 0), (40, 9, 0, 0), (50, 9, 0, 0))))
    ]
    assert tell(board, m.TraceQuery(99)) == [(1, m.Events(60, 6, ()))]


def test_clock_runs_freely_again_when_the_host_is_gone() -> None:
    board = filled()
    tell(board, m.Restart(), now_s=5.0)
    board.step(5.0 + RELEASE_AFTER_S - 0.1)
    assert board.held
    board.step(5.0 + RELEASE_AFTER_S)
    assert not board.held
    assert board.play(10) is not None


def test_sum_is_dropped_for_what_changes_memory_and_goes_on_beside_the_rest() -> None:
    board = filled(block_bytes=64)
    tell(board, m.Begin(100, CRC), 5)
    summed = m.Summed(3, 90, zlib.crc32(TABLE[3:93]))

    def ask(message: m.Message, tag: int) -> list[m.Tagged]:
        """Of a board that has begun to sum up."""
        board.receive(encode_frame(m.Sum(3, 90).encode(1)), 0.0)
        return tell(board, message, tag)

    assert ask(m.Sum(3, 90), 2) == [(2, m.Wait()), (2, summed)]
    assert ask(m.Hello(), 2)[1:] == [(1, summed)]
    assert ask(m.Begin(100, CRC), 5) == [(5, m.Status(0, 0)), (1, summed)]
    assert ask(m.Copy(0, 1, 99), 5)[1:] == [(1, summed)]
    assert ask(m.Data(0, TABLE[:64]), 5) == [(5, m.Status(1, 0))]
    assert ask(m.Verify(), 2) == [(2, m.Status(1, 0)), (1, summed)]
    assert ask(m.Copy(0, 1, 0), 5) == [(5, m.Status(1, 0)), (1, summed)]
    assert ask(m.Copy(1, 1, 64), 5) == [(5, m.Status(2, 0))]
    assert ask(m.Verify(), 2) == [(2, m.Wait()), (2, m.Verified(100, CRC))]
    assert ask(m.Sum(4, 1), 2) == [(2, m.Summed(4, 1, zlib.crc32(TABLE[4:5])))]


def test_nothing_else_is_written_while_blocks_are_copied() -> None:
    board = filled(block_bytes=32)
    tell(board, m.Begin(100, CRC), 5)
    board.receive(encode_frame(m.Copy(0, 4, 0).encode(5)), 0.0)
    for message, answer in (
        (m.Data(0, bytes(32)), m.Status(0, 0)),
        (m.Copy(2, 1, 9), m.Wait()),
        (m.Sum(0, 1), m.Wait()),
        (m.Verify(), m.Status(0, 0)),
    ):
        tag = 2 if isinstance(message, (m.Sum, m.Verify)) else 5
        line = board.receive(encode_frame(message.encode(tag)), 0.0)
        assert [m.decode_message(body) for body in FrameDecoder().feed(line)] == [(tag, answer)]
    assert tell(board, m.Begin(100, CRC), 6) == [(6, m.Status(0, 0)), (6, m.Status(4, 0))]
    assert tell(board, m.Verify(), 2)[-1] == (2, m.Verified(100, CRC))


def test_board_without_a_table_plays_nothing() -> None:
    assert make_board(MemoryFlash()).play(10) is None


def guard(flash: MemoryFlash) -> None:
    """Fail where the active slot, slot 0, is touched."""
    plain = flash._put

    def put(offset: int, data: bytes) -> None:
        assert not (offset < 128 + 256 and offset + len(data) > 128)
        plain(offset, data)

    flash._put = put


anything = st.one_of(
    st.sampled_from(list(m.KINDS.values())).flatmap(messages_of), st.binary(min_size=1, max_size=40)
)
near = st.one_of(
    st.builds(m.Begin, st.sampled_from([5, 100, 256, 257]), st.just(CRC)),
    st.builds(m.Data, st.integers(0, 4), st.sampled_from([TABLE, TABLE[:64], TABLE[64:]])),
    st.just(m.Verify()),
    st.builds(m.Commit, st.just(77), st.just(CRC)),
    st.just(m.Restart()),
    st.builds(m.Run, st.integers(0, 50)),
    st.builds(m.TraceQuery, st.integers(0, 20)),
    st.builds(m.Sum, st.integers(0, 101), st.integers(1, 101)),
    st.builds(m.Copy, st.integers(0, 4), st.integers(1, 4), st.integers(0, 101)),
)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.one_of(anything, near), st.integers(0, 2)), max_size=25),
    st.sampled_from([64, 352]),
)
def test_no_message_makes_a_board_raise_or_touch_the_slot_that_plays(
    items: list[tuple[m.Message | bytes, int]], block_bytes: int
) -> None:
    flash = MemoryFlash()
    board = filled(flash, block_bytes=352)
    board = make_board(flash, block_bytes=block_bytes)
    guard(flash)
    for item, tag in items:
        body = item if isinstance(item, bytes) else item.encode(tag)
        board.receive(encode_frame(body), 0.0)
        board.step(0.0)
        board.play(board.player.frame + 3)
    assert make_board(flash).player.table == TABLE


@settings(deadline=None)
@given(st.binary(max_size=600))
def test_no_bytes_make_a_board_raise_or_write(data: bytes) -> None:
    flash = MemoryFlash()
    board = make_board(flash)
    board.receive(data, 0.0)
    assert flash.spent == 0


def test_flash_that_fails_while_erasing_drops_the_push() -> None:
    flash = MemoryFlash()

    def fail(page: int) -> None:
        raise FlashError

    flash.erase = fail
    board = make_board(flash)
    assert tell(board, m.Begin(100, CRC)) == [(1, m.Wait()), (1, m.Error(m.ErrorCode.FLASH, 0))]
    assert tell(board, m.Verify()) == [(1, m.Error(m.ErrorCode.NOT_BEGUN, 0))]
