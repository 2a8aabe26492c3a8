"""Both sessions against each other over a simulated line, in virtual time."""

from collections.abc import Callable

import pytest
from simulated import (
    BYTES_PER_S,
    BitErrors,
    Bursts,
    Clean,
    Gone,
    MemoryFlash,
    Nuisance,
    Wire,
    converse,
    make_board,
    make_table,
)

from fxseq.link import host_session
from fxseq.link import messages as m
from fxseq.link.board_session import BoardSession
from fxseq.link.frames import encode_frame
from fxseq.link.host_push import Pushed, push
from fxseq.link.host_session import HostSession
from fxseq.link.slots import MARK_BYTES
from fxseq.sequence import Fault, LinkError

SIZE = 20_000


def new_flash() -> MemoryFlash:
    return MemoryFlash(2 + 2 * 8, 4096)


def push_session(table: bytes, faults: list[Fault] | None = None) -> HostSession[Pushed]:
    return HostSession(push(table, lambda board: faults or []), "line")


def share_of(table: bytes, seconds: float) -> float:
    return len(table) / (BYTES_PER_S * seconds)


# A short table: the exchanges before and after it weigh more than in tests/speed/link.py, so the
# bounds are loose.
@pytest.mark.parametrize(
    ("fault", "least"),
    [
        (lambda seed: Clean(), 0.95),
        (lambda seed: BitErrors(1e-5, seed), 0.75),
        (Bursts, 0.65),
        (lambda seed: BitErrors(1e-4, seed), 0.3),
    ],
)
def test_table_arrives_and_plays_over_a_bad_line(
    fault: Callable[[int], Callable[[bytes], bytes]], least: float
) -> None:
    for seed in range(5):
        table = make_table(SIZE, seed)
        board = make_board(new_flash())
        seconds = converse(push_session(table), board, Wire(fault(seed)), Wire(fault(seed + 100)))
        assert board.player.table == table
        assert share_of(table, seconds) > least


@pytest.mark.parametrize(
    ("baud", "latency_s", "least"),
    [(115_200, 0.016, 0.96), (1_000_000, 0.016, 0.87), (1_000_000, 0.03, 0.72)],
)
def test_line_with_long_delays_is_used(baud: int, latency_s: float, least: float) -> None:
    """64 KiB, hello to commit; the figures of LINK 7 (own measurements, by tests/speed/link.py)."""
    table = make_table(65_536)
    board = make_board(MemoryFlash(2 + 2 * 16, 4096))
    wires = [Wire(latency_s=latency_s, bytes_per_s=baud / 10) for _ in range(2)]
    assert len(table) / (baud / 10 * converse(push_session(table), board, *wires)) > least


def test_question_is_not_lost_with_half_a_frame_before_it() -> None:
    """The only block is two pieces on the line, and loses its end with the second. Were the
    question lost too, it would take longer.
    """

    class Losing(Clean):
        pieces = 0

        def __call__(self, data: bytes) -> bytes:
            self.pieces += 1
            return data[:10] if self.pieces == 3 else data

    table = make_table(55)
    board = with_table()
    assert converse(push_session(table), board, Wire(Losing()), Wire()) < 0.5
    assert board.player.table == table


@pytest.mark.parametrize("seed", range(10))
def test_table_arrives_over_a_line_that_doubles_reorders_and_babbles(seed: int) -> None:
    table = make_table(SIZE, seed)
    board = make_board(new_flash())
    converse(
        push_session(table),
        board,
        Wire(Nuisance(seed), late=0.01, seed=seed),
        Wire(Nuisance(seed + 50), late=0.01, seed=seed + 50),
    )
    assert board.player.table == table


@pytest.mark.parametrize(
    "ability",
    [
        {"block_bytes": 32, "window": 1},
        {"block_bytes": 128, "window": 2},
        {"block_bytes": 352, "window": 5},
    ],
)
def test_small_boards_are_served_within_their_limits(ability: dict[str, int]) -> None:
    table = make_table(5000)
    board = make_board(new_flash(), **ability)
    converse(push_session(table), board, Wire(BitErrors(1e-5, 1)), Wire(BitErrors(1e-5, 2)))
    assert board.player.table == table


@pytest.mark.parametrize("size", [5, 351, 352, 353, 704, 705, 8 * 4096])
def test_any_length_arrives_whole(size: int) -> None:
    table = make_table(size)
    board = make_board(new_flash())
    converse(push_session(table), board, Wire(), Wire())
    assert board.player.table == table


def test_slow_work_of_the_board_is_waited_for() -> None:
    """One second a page: eight seconds of erasing, far beyond what an ordinary answer may take."""
    table = make_table(8 * 4096)
    board = make_board(new_flash())
    seconds = converse(push_session(table), board, Wire(), Wire(), step_s=1.0)
    assert board.player.table == table
    assert seconds > 16


def test_board_that_works_for_ever_is_given_up() -> None:
    board = make_board(MemoryFlash(2 + 2 * 200, 4096))
    with pytest.raises(LinkError, match="the board has been working for 120 s and is not done"):
        converse(push_session(make_table(200 * 4096)), board, Wire(), Wire(), step_s=1.0)


def test_report_tells_slot_time_and_repeats() -> None:
    table = make_table(SIZE)
    board = make_board(new_flash())
    session = push_session(table)
    seconds = converse(session, board, Wire(), Wire())
    result = session.result
    assert (result.slot, result.repeated, result.seconds) == (0, 0, seconds)
    assert 0 < result.transfer_s < seconds
    assert session.talk.progress == (
        SIZE,
        SIZE,
        pytest.approx(SIZE / result.transfer_s, rel=0.01),
        0.0,
    )


def test_second_push_goes_to_the_other_slot_and_the_first_table_stays() -> None:
    flash = new_flash()
    board = make_board(flash)
    tables = [make_table(1000, 1), make_table(2000, 2)]
    for table in tables:
        converse(push_session(table), board, Wire(), Wire())
    found = HostSession(host_session.hello, "line")
    converse(found, board, Wire(), Wire())
    assert found.result == m.Board(
        1,
        2,
        48_000,
        255,
        16,
        16,
        31,
        153,
        352,
        16,
        32,
        256,
        8 * 4096,
        1,
        0,
        1000,
        m.table_crc(tables[0]),
        2000,
        m.table_crc(tables[1]),
        0,
        "test board",
    )
    assert make_board(flash).player.table == tables[1]


def test_nothing_is_written_when_the_board_cannot_do_it() -> None:
    flash = new_flash()
    fault = Fault("line", "too many channels")
    with pytest.raises(LinkError) as error:
        converse(push_session(make_table(8 * 4096 + 1), [fault]), make_board(flash), Wire(), Wire())
    assert [str(one) for one in error.value.faults] == [
        "line: too many channels.",
        (
            "line: the table has 32769 bytes; allowed: at most 32768 on this board. Shorten clips"
            " or lower their rates. The board goes on playing as before."
        ),
    ]
    assert flash.spent == 0


def with_table(flash: MemoryFlash | None = None) -> BoardSession:
    board = make_board(flash or new_flash())
    converse(push_session(make_table(500, 77)), board, Wire(), Wire())
    return board


def test_table_that_the_board_refuses_leaves_the_old_one_playing() -> None:
    board = with_table()
    refusal = (
        r"line: the board refuses the table; it found a fault at byte 0\. The board's old table"
        r" still plays\."
    )
    with pytest.raises(LinkError, match=refusal):
        converse(push_session(make_table(99, 1, b"bad")), board, Wire(), Wire())
    assert board.player.table == make_table(500, 77)


def test_flash_that_reads_back_wrong_is_never_marked() -> None:
    flash = new_flash()
    board = with_table(flash)
    plain = flash.read
    flash.read = lambda offset, size: b"\0" + plain(offset, size)[1:]
    with pytest.raises(
        LinkError, match=r"line: the table read back .* worn\. The board's old table still plays\."
    ):
        converse(push_session(make_table(500, 2)), board, Wire(), Wire())
    flash.read = plain
    assert make_board(flash).player.table == make_table(500, 77)


def test_flash_that_cannot_be_written_is_reported() -> None:
    flash = new_flash()
    board = with_table(flash)
    flash.erase = lambda page: None
    converse(push_session(make_table(500, 2)), board, Wire(), Wire())
    with pytest.raises(
        LinkError,
        match=(
            r"line: the board could not write its flash memory\. The board's old table still"
            r" plays\."
        ),
    ):
        converse(push_session(make_table(500, 3)), board, Wire(), Wire())
    assert make_board(flash).player.table == make_table(500, 2)


class Restarting:
    """A board that loses its power when these numbers of pieces have come over the line."""

    def __init__(self, flash: MemoryFlash, at: set[int]) -> None:
        self._flash = flash
        self._at = at
        self._pieces = 0
        self.board = make_board(flash)

    def __getattr__(self, name: str) -> object:
        return getattr(self.board, name)

    def receive(self, data: bytes, now_s: float) -> bytes:
        self._pieces += bool(data)
        if data and self._pieces in self._at:
            self.board = make_board(self._flash)
        return self.board.receive(data, now_s)


def test_board_that_restarts_half_way_is_pushed_to_once_more() -> None:
    flash = new_flash()
    table = make_table(SIZE)
    with_table(flash)
    board = Restarting(flash, {200})
    converse(push_session(table), board, Wire(), Wire())
    assert board.player.table == make_board(flash).player.table == table


def cut_off(board: BoardSession, table: bytes, at_s: float) -> int:
    """A push whose host goes away; the bytes of the table that have come."""
    with pytest.raises(Gone):
        converse(push_session(table), board, Wire(ends_at_s=at_s), Wire())
    return board._push.base * board.ability.block_bytes


@pytest.mark.parametrize("tag", range(0, m.TAGS, 3))
def test_second_host_sends_only_what_the_first_has_not(tag: int) -> None:
    table = make_table(SIZE)
    flash = new_flash()
    board = with_table(flash)
    come = cut_off(board, table, 1.0)
    written = flash.spent
    session = HostSession(push(table, lambda board: []), "line", tag)
    converse(session, board, Wire(), Wire())
    assert board.player.table == table
    assert SIZE / 3 < come < 2 * SIZE / 3
    assert session.talk.sent_bytes < (SIZE - come) / 0.96 + 60
    assert flash.spent == written + SIZE - come + MARK_BYTES
    assert session.result.repeated == 0


def test_table_is_sent_anew_where_what_the_board_had_is_spoilt() -> None:
    table = make_table(SIZE)
    flash = new_flash()
    board = with_table(flash)
    cut_off(board, table, 1.0)
    flash.data[(2 + 8) * 4096 + 1000] ^= 4
    session = push_session(table)
    converse(session, board, Wire(), Wire())
    assert board.player.table == make_board(flash).player.table == table
    assert session.talk.sent_bytes > SIZE


def test_push_is_taken_up_over_a_bad_line_too() -> None:
    table = make_table(SIZE)
    board = with_table()
    for _ in range(3):
        cut_off(board, table, 0.6)
    session = push_session(table)
    converse(session, board, Wire(BitErrors(1e-4, 1)), Wire(BitErrors(1e-4, 2)))
    assert board.player.table == table


def test_board_that_keeps_restarting_is_given_up() -> None:
    flash = new_flash()
    with_table(flash)
    fault = (
        r"line: the board restarted twice during the push\. Check its supply and its cable, then"
        r" push again\. The board's old table"
    )
    with pytest.raises(LinkError, match=fault):
        converse(push_session(make_table(SIZE)), Restarting(flash, {200, 400}), Wire(), Wire())


@pytest.mark.parametrize(
    ("cut_s", "message"),
    [
        (0.0, "line: no reply in 2 s. Is another program using the port? Try: fxseq ports"),
        (
            0.5,
            (
                "line: no answer for 5 s. Check plug and cable, then try again. The board's old"
                " table still plays."
            ),
        ),
    ],
)
def test_line_that_goes_dead_ends_with_a_fault(cut_s: float, message: str) -> None:
    wire = Wire()
    put = wire.put
    wire.put = lambda data, now_s: put(data, now_s) if now_s < cut_s else None
    with pytest.raises(LinkError) as error:
        converse(push_session(make_table(SIZE)), with_table(), Wire(), wire)
    assert str(error.value) == message


def test_answer_to_the_commit_that_never_comes_leaves_it_open() -> None:
    board = with_table()
    wire = Wire()
    put = wire.put
    wire.put = lambda data, now_s: (
        put(data, now_s) if board.player.table == make_table(500, 77) else None
    )
    with pytest.raises(LinkError) as error:
        converse(push_session(make_table(SIZE)), board, Wire(), wire)
    assert (
        str(error.value) == "line: no answer for 5 s. Check plug and cable, then try again. "
        "The board plays either the old table or the new one. Push again to be sure."
    )


def test_line_that_loses_nearly_everything_is_given_up() -> None:
    board = with_table()
    fault = (
        r"the line loses too much: \d+ blocks had to be sent again\. Use a shorter or better"
        r" cable\. The board's old"
    )
    with pytest.raises(LinkError, match=fault):
        converse(
            push_session(make_table(SIZE)), board, Wire(BitErrors(2e-3, 3)), Wire(), limit_s=3600
        )


def test_what_is_not_a_board_is_told_from_silence() -> None:
    session = HostSession(host_session.hello, "line")
    now = 0.0
    with pytest.raises(LinkError) as error:
        while True:
            session.receive(b"$GPGGA,hello,this,is,something,else\r\n", now)
            now += 0.1
    assert (
        str(error.value)
        == "line: something answers, but it does not speak the link protocol of fxseq boards. Is"
        " this the right port? Try: fxseq ports"
    )


def test_board_of_another_version_is_named() -> None:
    session = HostSession(host_session.hello, "line")
    session.tick(0.0)
    with pytest.raises(LinkError) as error:
        session.receive(encode_frame(bytes([1 << 5 | 17, 2])), 0.1)
    assert (
        str(error.value)
        == "line: the board speaks link version 2; allowed: 1. Use the fxseq version that belongs"
        " to the board's firmware, or update the firmware. The board goes on playing as before."
    )


def test_new_board_is_told_that_it_has_no_table() -> None:
    board = make_board(new_flash())
    with pytest.raises(LinkError, match="The board had no table and still has none"):
        converse(push_session(make_table(99, 1, b"bad")), board, Wire(), Wire())


def test_error_of_an_unknown_code_is_shown_with_its_code() -> None:
    session = push_session(make_table(10))
    session.tick(0.0)
    session.receive(encode_frame(BOARD.encode(1)), 0.0)
    with pytest.raises(
        LinkError, match=r"refuses for a reason that this fxseq does not know \(code 99, 7\)"
    ):
        session.receive(encode_frame(m.Error(99, 7).encode(2)), 0.0)


BOARD = m.Board(1, 2, 48_000, 255, 16, 16, 15, 1, 352, 16, 32, 256, 4096, 2, 0, 0, 0, 0, 0, 0, "")
