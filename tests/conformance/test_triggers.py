"""Triggers, worked by hand from SPEC 5.3 and 5.4."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from running import PLAYERS, Play, frames_of, held, small_table, told

from fxseq.player import Press, PressKind
from fxseq.table import (
    ChangeCount,
    CounterRecord,
    EffectRecord,
    InputKind,
    InputRecord,
    Mode,
    SelectorRecord,
    Shots,
    Stay,
    Table,
    TriggerRecord,
)

NOTHING = EffectRecord(())


def trigger_table(trigger: TriggerRecord, effects: int = 4, **fields: object) -> Table:
    """One trigger, and so many effects that do nothing."""
    return small_table(**{"effects": (NOTHING,) * effects, "triggers": (trigger,), **fields})


def repeat(period: int, **fields: object) -> TriggerRecord:
    return TriggerRecord(Mode.REPEAT, Shots((0,), period=period, **fields), 0)


# 5.3, the gate


def test_hold_delays_the_shot_and_a_shorter_press_fires_none(play: Play) -> None:
    # Down at 10 and 30; opens at 10 + 8 = 18, when it is up again, and at 38.
    table = trigger_table(TriggerRecord(Mode.ONCE, Shots((0,)), 0, hold=8))
    assert frames_of(play(table, [*held(10, 18), *held(30, 39)], 60), "SHOT") == [38]


def test_single_does_not_fire_when_the_selector_comes_right_in_mid_hold(play: Play) -> None:
    # Position 0 is not allowed by mask 10 (binary): the gate rises at 15, but opens was 10.
    table = trigger_table(
        TriggerRecord(Mode.ONCE, Shots((0,)), 0, conditions=((0, 0b10),)),
        selectors=(SelectorRecord(2, 0),),
    )
    presses = [
        Press(10, PressKind.PRESS, 0),
        Press(15, PressKind.SELECT, 0, 1),
        Press(20, PressKind.RELEASE, 0),
        *held(30, 31),
    ]
    assert frames_of(play(table, presses, 60), "SHOT") == [30]


def test_repeat_starts_and_stops_with_the_selector_in_mid_hold(play: Play) -> None:
    # Gate open from 15 to 24; a period of 4 frames: shots at 15, 19, 23; at 25 the gate is shut.
    table = trigger_table(
        TriggerRecord(Mode.REPEAT, Shots((0,), period=1024), 0, conditions=((0, 0b10),)),
        selectors=(SelectorRecord(2, 0),),
    )
    presses = [*held(10, 40), Press(15, PressKind.SELECT, 0, 1), Press(25, PressKind.SELECT, 0, 0)]
    events = [
        (15, "START", 0, 0),
        (15, "SHOT", 0, 0),
        (19, "SHOT", 0, 1),
        (23, "SHOT", 0, 2),
        (25, "STOP", 0, 0),
    ]
    assert told(play(table, sorted(presses), 60), "START", "SHOT", "STOP") == events


def test_every_condition_must_allow_its_position(play: Play) -> None:
    # Selector 0 allows 1 and 2; named a second time it allows 0 and 1: only 1 is left.
    trigger = TriggerRecord(Mode.ALWAYS, Stay(begin=0), conditions=((0, 0b110), (0, 0b011)))
    table = trigger_table(trigger, selectors=(SelectorRecord(3, 0),))
    presses = [
        Press(5, PressKind.SELECT, 0, 2),
        Press(8, PressKind.SELECT, 0, 1),
        Press(11, PressKind.SELECT, 0, 0),
    ]
    assert told(play(table, presses, 20), "START", "STOP") == [
        (8, "START", 0, 0),
        (11, "STOP", 0, 0),
    ]


# 5.3 R4, needs and empty


def test_empty_counter_starts_the_empty_effect_in_place_of_the_shot(play: Play) -> None:
    # Two units: shots at 2 and 5, the press at 8 finds none. Effect 1 refills by 1, so that the
    # press at 11 has one again.
    effects = (EffectRecord((ChangeCount(0, 0, -1),)), EffectRecord((ChangeCount(1, 0, 1),)))
    trigger = TriggerRecord(Mode.ONCE, Shots((0,)), 0, needs=0, empty=1)
    table = small_table(counters=(CounterRecord(5, 2),), effects=effects, triggers=(trigger,))
    presses = [press for at in (2, 5, 8, 11) for press in held(at, at + 1)]
    events = [
        (2, "SHOT", 0, 0),
        (2, "EFFECT", 0, 0),
        (2, "COUNT", 0, 1),
        (5, "SHOT", 0, 0),
        (5, "EFFECT", 0, 0),
        (5, "COUNT", 0, 0),
        (8, "EMPTY", 0, 0),
        (8, "EFFECT", 1, 0),
        (9, "COUNT", 0, 1),
        (11, "SHOT", 0, 0),
        (11, "EFFECT", 0, 0),
        (11, "COUNT", 0, 0),
    ]
    assert told(play(table, presses, 20), "SHOT", "EMPTY", "EFFECT", "COUNT") == events


def test_repeat_stops_at_the_shot_that_finds_the_counter_empty(play: Play) -> None:
    effects = (EffectRecord((ChangeCount(0, 0, -1),)),)
    trigger = TriggerRecord(Mode.REPEAT, Shots((0,), period=512), 0, needs=0)
    table = small_table(counters=(CounterRecord(9, 2),), effects=effects, triggers=(trigger,))
    events = [
        (4, "START", 0, 0),
        (4, "SHOT", 0, 0),
        (6, "SHOT", 0, 1),
        (8, "EMPTY", 0, 0),
        (8, "STOP", 0, 0),
    ]
    assert told(play(table, held(4, 30), 40), "START", "SHOT", "EMPTY", "STOP") == events


def test_sustain_does_not_begin_while_its_counter_is_empty(play: Play) -> None:
    table = trigger_table(
        TriggerRecord(Mode.WHILE_HELD, Stay(begin=0, end=1), 0, needs=0),
        counters=(CounterRecord(3, 0),),
    )
    assert told(play(table, held(4, 9), 20)) == [
        (4, "PRESS", 0, 0),
        (4, "EMPTY", 0, 0),
        (9, "RELEASE", 0, 0),
    ]


# 5.4 R1, the choice


def test_effects_come_in_turn_and_go_on_from_press_to_press(play: Play) -> None:
    table = trigger_table(TriggerRecord(Mode.ONCE, Shots((2, 0, 3)), 0))
    presses = [press for at in range(0, 50, 10) for press in held(at, at + 2)]
    assert [index for _, _, index, _ in told(play(table, presses, 60), "EFFECT")] == [2, 0, 3, 2, 0]


def test_random_choice_follows_the_draws_and_never_repeats(play: Play) -> None:
    # Seed 1 draws 4, 1032, 40396 (SPEC 5.6). Among 3: 4 * 3 >> 16 = 0. Then 1032 * 2 >> 16 = 0,
    # which is the last one, so 1. Then 40396 * 2 >> 16 = 1, at or above the last one, so 2.
    table = trigger_table(TriggerRecord(Mode.ONCE, Shots((3, 1, 2), random=True), 0))
    presses = [press for at in (0, 10, 20) for press in held(at, at + 2)]
    assert [index for _, _, index, _ in told(play(table, presses, 60), "EFFECT")] == [3, 1, 2]


def test_random_choice_of_one_draws_nothing(play: Play) -> None:
    # If the only choice of trigger 0 drew, trigger 1 would be given the second draw: 1032 * 50 >>
    # 16 = 0 is what the first gives too, so the third press is asked: draws 4 -> 0; 1032 * 49 >> 16
    # = 0 -> 1; 40396 * 49 >> 16 = 30 -> 31.
    switch = InputRecord(InputKind.BUTTON, 0)
    one, many = (TriggerRecord(Mode.ONCE, Shots(tuple(range(n)), random=True), 0) for n in (1, 50))
    table = small_table(inputs=(switch,), effects=(NOTHING,) * 50, triggers=(one, many))
    presses = [press for at in (0, 10, 20) for press in held(at, at + 2)]
    chosen = [
        index for _, _, index, trigger in told(play(table, presses, 30), "EFFECT") if trigger == 1
    ]
    assert chosen == [0, 1, 31]


@settings(deadline=None, max_examples=25)
@given(st.integers(1, 2**32 - 1), st.integers(2, 5))
def test_random_choice_never_takes_the_last_one_again(seed: int, effects: int) -> None:
    table = trigger_table(
        TriggerRecord(Mode.REPEAT, Shots(tuple(range(effects)), random=True, period=256), 0),
        effects=effects,
        seed=seed,
    )
    chosen = [
        index for _, _, index, _ in told(PLAYERS["reference"](table, held(0, 100), 101), "EFFECT")
    ]
    assert len(chosen) == 101 and all(one != other for one, other in itertools.pairwise(chosen))


# 5.4 R3 to R7, repeat


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 200), st.integers(256, 20000))
@pytest.mark.parametrize("name", PLAYERS)
def test_hold_of_t_frames_at_period_p_fires_floor_256_t_by_p_and_one(
    name: str, frames: int, period: int
) -> None:
    shots = frames_of(
        PLAYERS[name](trigger_table(repeat(period)), held(7, 7 + frames), 220), "SHOT"
    )
    # R6: shot k is due at 7 + k P / 256, rounded up. R7: the release comes after the shots of its
    # frame. A tap of no length is up at 8, which is a hold of one frame.
    frames = max(frames, 1)
    assert shots == [7 - (-k * period // 256) for k in range(256 * frames // period + 1)]


def test_period_of_two_and_a_half_frames_takes_turns(play: Play) -> None:
    # Due at 5, 7 1/2, 10, 12 1/2, 15: fired at 5, 8, 10, 13, 15.
    assert frames_of(play(trigger_table(repeat(640)), held(5, 15), 30), "SHOT") == [
        5,
        8,
        10,
        13,
        15,
    ]


def test_first_wait_may_be_shorter_than_a_frame(play: Play) -> None:
    # Due at 5, 5 + 1/256, then every 2 frames: fired at 5, 6, 8, 10.
    assert frames_of(play(trigger_table(repeat(512, first=1)), held(5, 11), 30), "SHOT") == [
        5,
        6,
        8,
        10,
    ]


def test_ramp_goes_from_period_to_ramp_period_over_its_shots(play: Play) -> None:
    # From 10 to 4 frames in 4 shots, in 1/256 frame: 2560, then -1536 * k / 4 added: 2560, 2176,
    # 1792, 1408, 1024, 1024 = 10, 8.5, 7, 5.5, 4, 4 frames. Due at 0, 10, 18.5, 25.5, 31, 35, 39.
    shots = frames_of(
        play(trigger_table(repeat(2560, ramp_shots=4, ramp_period=1024)), held(0, 40), 60), "SHOT"
    )
    assert shots == [0, 10, 19, 26, 31, 35, 39]


def test_ramp_is_rounded_toward_zero_when_it_falls(play: Play) -> None:
    # The wait after shot 1 is 513 + (512 - 513) * 1 / 2 = 513, and not 512: due at 0, 2, then (512
    # + 513) / 256, just after 4.
    shots = frames_of(
        play(trigger_table(repeat(513, first=512, ramp_shots=2, ramp_period=512)), held(0, 6), 60),
        "SHOT",
    )
    assert shots == [0, 2, 5]


def test_first_takes_the_place_of_the_first_wait_only(play: Play) -> None:
    # Waits: first 6, then of the ramp with counts 1, 2: 2 + (8 - 2) * k / 2 = 5 and 8 frames. Due
    # at 0, 6, 11, 19, 27.
    shots = frames_of(
        play(
            trigger_table(repeat(512, first=1536, ramp_shots=2, ramp_period=2048)), held(0, 30), 60
        ),
        "SHOT",
    )
    assert shots == [0, 6, 11, 19, 27]


def test_burst_goes_on_after_the_release(play: Play) -> None:
    # 3 shots 4 frames apart from 10 on, though released at 11; (c) stops it in the frame of the
    # third.
    events = [
        (10, "START", 0, 0),
        (10, "SHOT", 0, 0),
        (14, "SHOT", 0, 1),
        (18, "SHOT", 0, 2),
        (18, "STOP", 0, 0),
    ]
    assert (
        told(play(trigger_table(repeat(1024, burst=3)), held(10, 11), 40), "START", "SHOT", "STOP")
        == events
    )


def test_press_within_a_burst_takes_it_over(play: Play) -> None:
    # Burst of 3 from 10 on; pressed again at 13 and let go at 23: no new START, shots go on to 22.
    presses = [*held(10, 11), *held(13, 23)]
    shots = told(play(trigger_table(repeat(1024, burst=3)), presses, 40), "START", "SHOT", "STOP")
    assert shots == [
        (10, "START", 0, 0),
        *((10 + 4 * k, "SHOT", 0, k) for k in range(4)),
        (23, "STOP", 0, 0),
    ]


def test_limit_ends_it_while_held_and_the_next_press_starts_again(play: Play) -> None:
    presses = [*held(0, 20), *held(30, 31)]
    events = [
        (0, "START", 0, 0),
        (0, "SHOT", 0, 0),
        (2, "SHOT", 0, 1),
        (2, "STOP", 0, 0),
        (30, "START", 0, 0),
        (30, "SHOT", 0, 0),
        (31, "STOP", 0, 0),
    ]
    assert (
        told(play(trigger_table(repeat(512, limit=2)), presses, 40), "START", "SHOT", "STOP")
        == events
    )


def test_press_in_the_frame_of_the_last_shot_starts_again_at_once(play: Play) -> None:
    # Burst and limit 2, 4 frames apart: the second shot at 4 ends it by (a), and the press of frame
    # 4 starts it by (b).
    presses = [*held(0, 1), *held(4, 5)]
    events = told(
        play(trigger_table(repeat(1024, burst=2, limit=2)), presses, 20), "START", "SHOT", "STOP"
    )
    once = [(0, "START", 0, 0), (0, "SHOT", 0, 0), (4, "SHOT", 0, 1), (4, "STOP", 0, 0)]
    assert events == [
        *once,
        *((frame + 4, name, index, value) for frame, name, index, value in once),
    ]


def test_count_of_shots_stops_at_65535(play: Play) -> None:
    # One shot a frame from 0 on: shot k has k before it, but the value of the trace ends at 65535.
    shots = told(play(trigger_table(repeat(256)), held(0, 65537), 65538), "SHOT")
    assert shots[65534:] == [
        (65534, "SHOT", 0, 65534),
        *((frame, "SHOT", 0, 65535) for frame in (65535, 65536, 65537)),
    ]


# 5.4 R8 to R11, while_held, on_off, always


def stay_table(mode: Mode, lengths: tuple[int, int, int], **fields: object) -> Table:
    """Begin, during and end are effects 0, 1 and 2 of these lengths."""
    effects = tuple(EffectRecord((), length=length) for length in lengths)
    source = None if mode == Mode.ALWAYS else 0
    return small_table(
        effects=effects, triggers=(TriggerRecord(mode, Stay(0, 1, 2), source, **fields),)
    )


def test_sustain_begins_goes_on_and_ends(play: Play) -> None:
    # Begin at 5 is 4 long; during from 9 on every 6: 9, 15; released at 20.
    events = [
        (5, "START", 0, 0),
        *((at, "EFFECT", effect, 0) for at, effect in ((5, 0), (9, 1), (15, 1))),
        (20, "STOP", 0, 0),
    ]
    result = play(stay_table(Mode.WHILE_HELD, (4, 6, 0)), held(5, 20), 40)
    assert told(result, "START", "STOP", "EFFECT") == [*events, (20, "EFFECT", 2, 0)]


def test_sustain_goes_on_once_more_in_the_frame_of_its_release(play: Play) -> None:
    # (a) before (b): during at 9 and 15, release at 15.
    result = play(stay_table(Mode.WHILE_HELD, (4, 6, 0)), held(5, 15), 40)
    assert told(result, "EFFECT", "STOP") == [
        (5, "EFFECT", 0, 0),
        (9, "EFFECT", 1, 0),
        (15, "EFFECT", 1, 0),
        (15, "STOP", 0, 0),
        (15, "EFFECT", 2, 0),
    ]


def test_begin_without_length_is_followed_at_once_and_during_without_length_comes_once(
    play: Play,
) -> None:
    result = play(stay_table(Mode.WHILE_HELD, (0, 0, 0)), held(5, 30), 40)
    assert told(result, "EFFECT") == [
        (5, "EFFECT", 0, 0),
        (5, "EFFECT", 1, 0),
        (30, "EFFECT", 2, 0),
    ]


def test_latch_begins_at_one_press_and_ends_at_the_next(play: Play) -> None:
    presses = [press for at in (3, 20, 40) for press in held(at, at + 5)]
    assert told(play(stay_table(Mode.ON_OFF, (1, 0, 0)), presses, 60), "START", "STOP") == [
        (3, "START", 0, 0),
        (20, "STOP", 0, 0),
        (40, "START", 0, 0),
    ]


def test_latch_ends_by_a_press_where_it_could_not_begin(play: Play) -> None:
    # Fresh alone ends it; the selector at 1 forbids only the begin. Hold 4: the press at 10 counts
    # at 14.
    table = stay_table(Mode.ON_OFF, (1, 0, 0), hold=4, conditions=((0, 0b01),))
    table = small_table(
        effects=table.effects, triggers=table.triggers, selectors=(SelectorRecord(2, 0),)
    )
    presses = [*held(0, 5), Press(7, PressKind.SELECT, 0, 1), *held(10, 15), *held(20, 25)]
    assert told(play(table, presses, 60), "START", "STOP") == [
        (4, "START", 0, 0),
        (14, "STOP", 0, 0),
    ]


def test_always_begins_at_its_hold_without_a_press(play: Play) -> None:
    assert told(play(stay_table(Mode.ALWAYS, (2, 7, 0), hold=3), [], 20)) == [
        (3, "START", 0, 0),
        (3, "EFFECT", 0, 0),
        (5, "EFFECT", 1, 0),
        (12, "EFFECT", 1, 0),
        (19, "EFFECT", 1, 0),
    ]


def test_end_forgets_the_steps_to_come_of_what_was_held(play: Play) -> None:
    # The begin effect counts at 0, 5 and 10 frames; released after 7. The end effect is not held:
    # its step at 20 comes.
    counts = [
        EffectRecord(tuple(ChangeCount(at, 0, 1) for at in times)) for times in ((0, 5, 10), (20,))
    ]
    table = small_table(
        counters=(CounterRecord(9, 0),),
        effects=tuple(counts),
        triggers=(TriggerRecord(Mode.WHILE_HELD, Stay(begin=0, end=1), 0),),
    )
    assert told(play(table, held(2, 9), 60), "COUNT") == [
        (2, "COUNT", 0, 1),
        (7, "COUNT", 0, 2),
        (29, "COUNT", 0, 3),
    ]
