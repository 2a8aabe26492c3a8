"""Inputs, worked by hand from SPEC 5.2."""

from running import Play, held, small_table, told

from fxseq.player import Press, PressKind
from fxseq.table import InputKind, InputRecord, SelectorRecord, Table


def with_lockout(frames: int) -> Table:
    return small_table(inputs=(InputRecord(InputKind.BUTTON, frames),))


def test_tap_of_no_length_is_a_press_and_released_when_the_lockout_ends(play: Play) -> None:
    # Down at 3; free = 3 + 5 = 8, and the contact is open by then.
    assert told(play(with_lockout(5), held(3, 3), 20)) == [(3, "PRESS", 0, 0), (8, "RELEASE", 0, 0)]


def test_without_lockout_there_is_one_change_a_frame(play: Play) -> None:
    assert told(play(with_lockout(0), held(5, 5), 20)) == [(5, "PRESS", 0, 0), (6, "RELEASE", 0, 0)]


def test_bounce_within_the_lockout_is_swallowed_at_both_edges(play: Play) -> None:
    # Press at 10, free = 14: the bounces at 11 and 12 are not seen. Release at 20, free = 24:
    # closed at 21, open again at 22.
    presses = [*held(10, 11), *held(12, 20), *held(21, 22)]
    assert told(play(with_lockout(4), presses, 40)) == [(10, "PRESS", 0, 0), (20, "RELEASE", 0, 0)]


def test_contact_that_stays_closed_is_believed_when_the_lockout_ends(play: Play) -> None:
    # Release at 20, free = 24; closed from 22 on.
    presses = [*held(10, 20), *held(22, 30)]
    edges = [(10, "PRESS", 0, 0), (20, "RELEASE", 0, 0), (24, "PRESS", 0, 0), (30, "RELEASE", 0, 0)]
    assert told(play(with_lockout(4), presses, 40)) == edges


def test_contact_that_opens_in_the_frame_in_which_the_lockout_ends_was_not_struck(
    play: Play,
) -> None:
    # Release at 20, free = 24; closed from 22, and the only reading of frame 24 finds it open.
    presses = [*held(10, 20), *held(22, 24)]
    assert told(play(with_lockout(4), presses, 40)) == [(10, "PRESS", 0, 0), (20, "RELEASE", 0, 0)]


def test_tap_in_the_frame_in_which_the_lockout_ends_is_struck(play: Play) -> None:
    presses = [*held(10, 20), *held(24, 24)]
    edges = [(10, "PRESS", 0, 0), (20, "RELEASE", 0, 0), (24, "PRESS", 0, 0), (28, "RELEASE", 0, 0)]
    assert told(play(with_lockout(4), presses, 40)) == edges


def test_inputs_act_in_their_order_and_after_selectors_and_volume(play: Play) -> None:
    switch = InputRecord(InputKind.BUTTON, 0)
    table = small_table(inputs=(switch, switch), selectors=(SelectorRecord(3, 1),))
    presses = [
        Press(7, PressKind.PRESS, 1),
        Press(7, PressKind.VOLUME, 0, 64),
        Press(7, PressKind.PRESS, 0),
        Press(7, PressKind.SELECT, 0, 2),
    ]
    assert told(play(table, presses, 10)) == [
        (7, "VOLUME", 0, 64),
        (7, "SELECT", 0, 2),
        (7, "PRESS", 0, 0),
        (7, "PRESS", 1, 0),
    ]


def test_selector_put_where_it_is_is_ignored_and_the_same_volume_is_not(play: Play) -> None:
    table = small_table(selectors=(SelectorRecord(3, 1),))
    presses = [
        Press(2, PressKind.SELECT, 0, 1),
        Press(3, PressKind.VOLUME, 0, 256),
        Press(4, PressKind.VOLUME, 0, 256),
    ]
    assert told(play(table, presses, 10)) == [(3, "VOLUME", 0, 256), (4, "VOLUME", 0, 256)]
