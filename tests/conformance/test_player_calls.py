"""What the reference player says of calls that make no sense."""

import pytest
from running import small_table

from fxseq.player import Player, Press, PressKind, duties
from fxseq.table import SelectorRecord


@pytest.mark.parametrize("frame", [-1, 4, 10, 11])
def test_press_outside_the_frames_to_be_played_is_refused(frame: int) -> None:
    player = Player(small_table())
    player.play([], 5)
    with pytest.raises(ValueError, match="is outside frames 5 to 9"):
        player.play([Press(frame, PressKind.PRESS, 0)], 10)
    assert player.frame == 5


@pytest.mark.parametrize(
    "press",
    [
        Press(0, PressKind.PRESS, 1),
        Press(0, PressKind.RELEASE, 1),
        Press(0, PressKind.SELECT, 1, 0),
        Press(0, PressKind.SELECT, 0, 3),
        Press(0, PressKind.SELECT, 0, -1),
        Press(0, PressKind.VOLUME, 0, 257),
        Press(0, PressKind.VOLUME, 0, -1),
    ],
)
def test_press_of_what_the_table_does_not_have_is_refused(press: Press) -> None:
    with pytest.raises(ValueError, match="names what the table does not have"):
        Player(small_table(selectors=(SelectorRecord(3, 0),))).play([press], 5)


def test_presses_may_come_in_any_order() -> None:
    presses = [Press(7, PressKind.RELEASE, 0), Press(2, PressKind.PRESS, 0)]
    assert [event.frame for event in Player(small_table()).play(presses, 9).trace] == [2, 7]


def test_play_of_no_frames_gives_nothing_and_changes_nothing() -> None:
    player = Player(small_table())
    player.play([], 5)
    played = player.play([], 5)
    assert played.samples.shape == (0,) and duties(played).shape == (0, 1) and played.trace == []
    assert player.play([], 6).samples.shape == (4,)


def test_player_does_not_go_back() -> None:
    player = Player(small_table())
    player.play([], 5)
    with pytest.raises(ValueError, match="frame 3 is behind frame 5"):
        player.play([], 3)
    assert player.frame == 5
