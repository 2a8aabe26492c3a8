"""A line that is made quicker for a push (LINK 4.6), in virtual time: both ends run at their own
speed, and what one sends at another than the other's is garbage.
"""

import time
from collections.abc import Callable

import pytest
from simulated import BitErrors, Clean, MemoryFlash, Wire, converse, make_board, make_table
from small_tables import demo_table

from fxseq.link import driver
from fxseq.link import messages as m
from fxseq.link.board_session import BACK_AFTER_S, BoardSession
from fxseq.link.frames import FrameDecoder
from fxseq.link.host_push import Pushed, push
from fxseq.link.host_session import HELLO_PATIENCE_S, HostSession

TABLE = make_table(60_000)
FEATURES = m.Feature.READING | m.Feature.COPYING | m.Feature.SPEED | m.Feature.HALVING
QUICK_FROM = 2 * m.BASE_BAUD / 10


def board_of(**ability: int) -> BoardSession:
    return make_board(MemoryFlash(2 + 2 * 16, 4096), **{"features": FEATURES} | ability)


def host_of(table: bytes = TABLE) -> HostSession[Pushed]:
    return HostSession(push(table, lambda board: []), "line", baud=m.BASE_BAUD)


def carry(board: BoardSession, there: Wire, back: Wire) -> tuple[Pushed, float]:
    """A push to its end. What the board plays is right, and both ends are at the base speed."""
    host = host_of()
    seconds = converse(host, board, there, back)
    assert board.player.table == TABLE
    assert host.talk.baud == board.baud == m.BASE_BAUD
    return host.result, seconds


class Losing:
    """Drops the ends of frames of this kind: of those whose number, from 0, is named."""

    def __init__(self, kind: type[m.Message], *numbers: int) -> None:
        self._kind = kind.KIND
        self._numbers = numbers
        self._decoder = FrameDecoder()
        self.seen = 0

    def __call__(self, data: bytes) -> bytes:
        if not any(body[0] & 31 == self._kind for body in self._decoder.feed(data)):
            return data
        self.seen += 1
        return b"" if self.seen - 1 in self._numbers else data


@pytest.mark.parametrize("most_baud", [250_000, 921_600, 2_000_000])
def test_the_highest_speed_of_the_board_is_taken(most_baud: int) -> None:
    pushed, seconds = carry(board_of(most_baud=most_baud), Wire(), Wire())
    assert (pushed.baud, pushed.repeated) == (most_baud, 0)
    assert len(TABLE) * 10 / most_baud < seconds < len(TABLE) * 10 / most_baud * 1.05 + 0.1


def test_without_the_feature_and_on_a_line_without_a_speed_nobody_asks() -> None:
    pushed, _ = carry(board_of(features=m.Feature.READING), Wire(), Wire())
    assert pushed.baud == m.BASE_BAUD
    board = board_of()
    host = HostSession(push(TABLE, lambda board: []), "line")
    converse(host, board, Wire(), Wire())
    assert (host.result.baud, board.baud) == (0, m.BASE_BAUD)


class FixedSpeed(BoardSession):
    """A board that runs at another speed from power-up on."""

    baud = property(lambda self: 230_400, lambda self, baud: None)


def test_a_line_that_was_opened_at_another_speed_is_left_at_it() -> None:
    """Though it is bad."""
    board = board_of()
    board.__class__ = FixedSpeed
    host = HostSession(push(TABLE, lambda board: []), "line", baud=230_400)
    converse(host, board, *[Wire(BitErrors(4e-4, seed)) for seed in (1, 2)])
    assert host.talk.baud == 230_400
    assert host.result.baud == 230_400 and host.result.repeated > 30


def test_a_small_table_is_sent_at_the_base_speed() -> None:
    board = board_of()
    host = host_of(make_table(10_000))
    converse(host, board, Wire(), Wire())
    assert host.result.baud == m.BASE_BAUD


@pytest.mark.parametrize(
    ("there", "back", "baud"),
    [
        (Losing(m.Speed, 0), Clean(), 2_000_000),
        (Losing(m.Speed, 0, 1), Clean(), 1_000_000),
        (Clean(), Losing(m.Agreed, 0), 1_000_000),
        (Losing(m.Hello, 1), Clean(), 2_000_000),
        (Losing(m.Hello, 1, 2), Clean(), 1_000_000),
        (Clean(), Losing(m.Board, 1, 2), 1_000_000),
    ],
    ids=["speed", "both speeds", "agreed", "hello", "both hellos", "both boards"],
)
def test_a_change_that_gets_lost_costs_two_seconds_at_most(
    there: Callable[[bytes], bytes], back: Callable[[bytes], bytes], baud: int
) -> None:
    wires = [Wire(fault, quick_fault=fault, quick_from=0.0) for fault in (there, back)]
    pushed, seconds = carry(board_of(), *wires)
    assert sum(getattr(fault, "seen", 0) for fault in (there, back)) > 1
    assert pushed.baud == baud
    assert seconds < len(TABLE) * 10 / baud + 2.0


@pytest.mark.parametrize(("rate", "quickest"), [(0.0005, 0), (0.5, 0), (0.001, 500_000)])
def test_errors_that_rise_with_the_speed_bring_it_down(rate: float, quickest: int) -> None:
    """The push ends whole, and sooner than at the base speed."""
    quick_from = (quickest or 1_000_000) / 10 + 1
    wires = [
        Wire(quick_fault=BitErrors(rate, seed), quick_from=quick_from, seed=seed) for seed in (1, 2)
    ]
    pushed, seconds = carry(board_of(), *wires)
    assert pushed.baud == (quickest or 1_000_000)
    assert seconds < len(TABLE) * 10 / m.BASE_BAUD


def test_a_line_that_bears_no_other_speed_is_used_at_the_base_speed() -> None:
    wires = [Wire(quick_fault=lambda data: b"", quick_from=QUICK_FROM) for _ in range(2)]
    pushed, seconds = carry(board_of(), *wires)
    assert pushed.baud == m.BASE_BAUD
    assert seconds < len(TABLE) * 10 / m.BASE_BAUD + 8


def test_a_few_errors_do_not_bring_it_down() -> None:
    wires = [Wire(BitErrors(3e-5, seed)) for seed in (1, 2)]
    for wire in wires:
        wire.quick_fault, wire.quick_from = wire.fault, 0.0
    pushed, _ = carry(board_of(), *wires)
    assert pushed.baud == 2_000_000 and pushed.repeated > 5


class NearPort:
    """A port with a board behind it, as far as the driver uses one."""

    where = "near"
    baud = m.BASE_BAUD

    def __init__(self, board: BoardSession) -> None:
        self.speeds = [self.baud]
        self._board = board
        self._heard = b""

    def run_at(self, baud: int) -> None:
        if baud != self.speeds[-1]:
            self.speeds.append(baud)

    def write(self, data: bytes) -> None:
        now = time.monotonic()
        assert not data or self._board.baud == self.speeds[-1]
        self._heard += self._board.receive(data, now) + self._board.step(now)

    def read(self) -> bytes:
        data, self._heard = self._heard, b""
        return data


def test_the_driver_changes_its_port_and_says_at_which_speed_it_has_sent() -> None:
    board = board_of(most_baud=1_000_000)
    port = NearPort(board)
    data = demo_table(clip_samples=20_000)
    assert driver.push(port, data).baud == 1_000_000
    assert port.speeds == [m.BASE_BAUD, 1_000_000, m.BASE_BAUD]
    assert driver.push(port, data).bytes == len(data)


@pytest.mark.parametrize("between_s", [0.0, 0.5, 3.0])
def test_the_next_host_is_heard_after_one_was_killed_at_high_speed(between_s: float) -> None:
    """What the first one has sent is not sent again."""
    board, host = board_of(), host_of()
    now, heard = 0.0, b""
    while board.baud == m.BASE_BAUD or host.talk.sent_bytes < len(TABLE) / 2:
        now += 0.001
        sent = host.receive(heard, now)
        heard = board.receive(sent, now) + board.step(now)
    follower = host_of()
    end = converse(follower, board, Wire(), Wire(), begin_s=now + between_s)
    assert board.player.table == TABLE and follower.result.baud == 2_000_000
    assert follower.talk.sent_bytes < 0.7 * len(TABLE)
    assert end < now + between_s + 2


def test_a_board_at_work_keeps_its_speed_through_silence() -> None:
    """A read-back takes long, and the host has nothing to say meanwhile."""
    board, host = board_of(), host_of()
    seconds = converse(host, board, Wire(), Wire(), step_s=0.2)
    assert (host.result.baud, board.player.table) == (2_000_000, TABLE)
    assert seconds > 2 * BACK_AFTER_S


def test_a_host_says_hello_for_longer_than_a_board_is_deaf() -> None:
    assert HELLO_PATIENCE_S >= BACK_AFTER_S + 0.5
