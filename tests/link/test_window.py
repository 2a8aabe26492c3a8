"""The window: what to send next, what is lost."""

import pytest

from fxseq.link.window import FIRST_FLIGHT, Window


def send_all(window: Window, now_s: float = 0.0) -> list[int]:
    sent = []
    while (block := window.next_block()) is not None:
        window.sent(block, now_s)
        sent.append(block)
    return sent


def test_window_sends_blocks_in_order_up_to_the_flight() -> None:
    assert send_all(Window(100, 16)) == list(range(FIRST_FLIGHT))


def test_narrow_window_is_not_exceeded() -> None:
    window = Window(100, 2)
    assert send_all(window) == [0, 1]
    window.heard(1, 0, 1.0)
    assert send_all(window) == [2]


def test_window_stays_within_reach_of_the_first_missing_block() -> None:
    window = Window(100, 16)
    send_all(window)
    for last in range(1, 40):
        window.heard(0, (1 << min(last, 15)) - 1, 1.0)
        assert max(send_all(window), default=0) <= 15
    window.heard(17, 0, 2.0)
    assert window.base == 0
    window.heard(16, 0, 2.0)
    assert send_all(window)[:2] == [16, 17]


def test_block_is_lost_when_a_later_one_has_arrived() -> None:
    window = Window(4, 16)
    send_all(window)
    window.heard(0, 0b1, 1.0)
    assert send_all(window) == [0]
    assert window.repeated == 1


def test_lost_repeat_is_noticed_by_a_later_block() -> None:
    window = Window(100, 16)
    send_all(window)
    window.heard(0, 0b1, 1.0)
    assert send_all(window) == [0, 8]
    window.heard(0, 0b11111111, 2.0)
    assert send_all(window)[0] == 0
    assert window.repeated == 2


def test_answer_to_a_question_tells_what_is_lost_before_it() -> None:
    window = Window(3, 16)
    send_all(window)
    order = window.next_order()
    assert window.all_sent
    window.heard(1, 0, 1.0, order)
    assert not window.all_sent
    assert send_all(window) == [1, 2]


def test_old_status_takes_nothing_back() -> None:
    window = Window(20, 16)
    send_all(window)
    window.heard(5, 0, 1.0)
    window.heard(2, 0, 1.1)
    assert (window.base, window.arrived) == (5, 5)


def test_status_beyond_what_was_sent_is_not_believed() -> None:
    window = Window(20, 16)
    send_all(window)
    window.heard(19, 0, 1.0)
    window.heard(3, 1 << 15, 1.0)
    assert window.base == 0


def test_round_trip_is_known_only_for_blocks_sent_once() -> None:
    window = Window(2, 16)
    send_all(window, 1.0)
    assert window.heard(0, 0b1, 1.5) == 0.5
    send_all(window, 2.0)
    assert window.heard(2, 0, 3.0) is None


def test_what_the_board_has_already_is_not_sent() -> None:
    window = Window(9, 16)
    window.resume(2, 0b101)
    assert send_all(window) == [2, 4, 6, 7, 8]
    assert window.arrived == 4


@pytest.mark.parametrize(("base", "bitmap"), [(10, 0), (8, 1), (0, 1 << 9)])
def test_more_than_there_is_cannot_be_there(base: int, bitmap: int) -> None:
    with pytest.raises(ValueError, match="blocks of 9"):
        Window(9, 16).resume(base, bitmap)


def test_what_is_copied_is_not_sent() -> None:
    window = Window(9, 16)
    window.until = 2
    assert send_all(window) == [0, 1] and not window.all_sent
    window.heard(2, 0, 1.0)
    window.copied(7)
    window.until = 9
    assert window.heard(7, 0, 2.0) is None
    assert send_all(window) == [7, 8] and window.all_sent
