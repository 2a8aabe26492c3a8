"""Inputs that a hand has held since another table played, worked by hand from SPEC 5.2, and by
all players alike.
"""

from random import Random

import pytest
from random_runs import random_run
from running import Play, held, play_plain, play_reference, small_table, told
from strategies import Run
from test_wasm import assert_same
from wasm_host import Module

from fxseq.player import Press, PressKind
from fxseq.table import InputKind, InputRecord, Mode, Shots, Stay, Table, TriggerRecord, encode


@pytest.fixture(scope="module")
def wasm() -> Module:
    return Module()


def under_hand(frames: int, frame: int = 0) -> Press:
    return Press(frame, PressKind.HELD, 0, frames)


def shooting(mode: Mode, hold: int = 0) -> Table:
    return small_table(
        triggers=(
            TriggerRecord(
                mode, Shots((0,), period=10 * 256 if mode == Mode.REPEAT else 0), input=0, hold=hold
            ),
        )
    )


def test_a_single_that_has_been_answered_does_not_fire_again(play: Play) -> None:
    assert told(play(shooting(Mode.ONCE), [under_hand(1)], 30)) == [(0, "PRESS", 0, 0)]


def test_it_fires_at_the_next_press(play: Play) -> None:
    presses = [under_hand(9), Press(5, PressKind.RELEASE, 0), *held(8, 12)]
    assert told(play(shooting(Mode.ONCE), presses, 30), "SHOT") == [(8, "SHOT", 0, 0)]


def test_what_waits_for_its_hold_waits_for_the_rest_of_it(play: Play) -> None:
    # Down since frame -30: opens at -30 + 50 = 20.
    assert told(play(shooting(Mode.ONCE, hold=50), [under_hand(30)], 60), "SHOT") == [
        (20, "SHOT", 0, 0)
    ]
    assert told(play(shooting(Mode.ONCE, hold=50), [under_hand(50)], 60), "SHOT") == [
        (0, "SHOT", 0, 0)
    ]
    assert told(play(shooting(Mode.ONCE, hold=50), [under_hand(51)], 60), "SHOT") == []


def test_a_repeat_goes_on_at_once(play: Play) -> None:
    assert told(play(shooting(Mode.REPEAT, hold=50), [under_hand(65535)], 21), "START", "SHOT") == [
        (0, "START", 0, 0),
        (0, "SHOT", 0, 0),
        (10, "SHOT", 0, 1),
        (20, "SHOT", 0, 2),
    ]


@pytest.mark.parametrize(
    ("mode", "begins"), [(Mode.WHILE_HELD, [(3, "START", 0, 0)]), (Mode.ON_OFF, [])]
)
def test_a_sustain_goes_on_and_a_latch_waits_for_a_press(
    play: Play, mode: Mode, begins: list
) -> None:
    table = small_table(triggers=(TriggerRecord(mode, Stay(during=0), input=0, hold=5),))
    assert told(play(table, [under_hand(40, frame=3)], 30), "START", "STOP") == begins


def test_the_lockout_counts_from_when_it_went_down(play: Play) -> None:
    # Down since frame -3, free = -3 + 8 = 5: open from 2 on, believed at 5.
    table = small_table(inputs=(InputRecord(InputKind.BUTTON, 8),))
    assert told(play(table, [under_hand(3), Press(2, PressKind.RELEASE, 0)], 20)) == [
        (0, "PRESS", 0, 0),
        (5, "RELEASE", 0, 0),
    ]


@pytest.mark.parametrize("opens", [[Press(4, PressKind.RELEASE, 0)], held(4, 4)])
def test_a_hand_that_lets_go_in_that_very_frame_is_a_press_and_a_release(
    play: Play, wasm: Module, opens: list[Press]
) -> None:
    # The readings of the frame come behind the word of the hand: the contact is open at their end,
    # and the lock-out of 2 was over at -1.
    table = small_table(inputs=(InputRecord(InputKind.BUTTON, 2),))
    presses = [under_hand(3, frame=4), *opens]
    assert told(play(table, presses, 9)) == [(4, "PRESS", 0, 0), (4, "RELEASE", 0, 0)]
    assert_same(wasm, encode(table), Run(table, tuple(presses), 9), "opens at once")


def test_an_input_that_is_down_is_left_alone(play: Play) -> None:
    presses = [Press(0, PressKind.PRESS, 0), under_hand(40, frame=4)]
    assert told(play(shooting(Mode.ONCE, hold=10), presses, 30)) == [
        (0, "PRESS", 0, 0),
        (10, "SHOT", 0, 0),
        (10, "EFFECT", 0, 0),
    ]


def test_all_players_agree(wasm: Module) -> None:
    for seed in range(100):
        run = random_run(seed)
        chance = Random(seed)
        more = [
            Press(0, PressKind.HELD, index, chance.choice((1, 2, chance.randint(1, 60), 65535)))
            for index in range(len(run.table.inputs))
            if chance.random() < 0.7
        ]
        # The words of a hand come behind positions and volume of their frame, and ahead of its
        # readings.
        order = {
            PressKind.SELECT: 0,
            PressKind.VOLUME: 0,
            PressKind.HELD: 1,
            PressKind.PRESS: 2,
            PressKind.RELEASE: 2,
        }
        presses = tuple(
            sorted([*run.presses, *more], key=lambda press: (press.frame, order[press.kind]))
        )
        assert play_reference(run.table, presses, run.until_frame) == play_plain(
            run.table, presses, run.until_frame
        ), seed
        assert_same(
            wasm,
            encode(run.table),
            Run(run.table, presses, run.until_frame),
            f"random_run({seed}), held",
        )
