"""Light, worked by hand from SPEC 6.2 to 6.6. Levels are worked here; what duty a level has is
6.6, tested by itself.
"""

import plain_light
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from running import Play, Result, held, play_plain, play_reference, small_table

from fxseq.light import AMBIENT, FadeCurve, FadeSegment, Shape, duty_from_level, flicker_point
from fxseq.player import Press
from fxseq.table import (
    ChangeCount,
    CounterRecord,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    Merge,
    Mode,
    Shots,
    StartFade,
    Table,
    TriggerRecord,
)

STEP, STRAIGHT, EASE, DECAY, FLICKER = Shape
FULL = 65535


def curve(*segments: tuple[int, ...], start: int | None = None, loop: bool = False) -> FadeCurve:
    """Segments as (shape, length, target, [low, pace]), the first one, of no length, at `start`; a
    loop goes on behind it.
    """
    first = () if start is None else (FadeSegment(Shape.STEP, 0, start),)
    rest = tuple(FadeSegment(*segment) for segment in segments)
    return FadeCurve(first + rest, len(first) if loop else None)


def light_table(
    *curves: FadeCurve,
    merge: Merge = Merge.HIGHEST,
    ambient: tuple[int, ...] = (),
    **fields: object,
) -> Table:
    """Input n starts curve n on one channel; those in `ambient` on the ambient layer."""
    count = len(curves)
    effects = tuple(
        EffectRecord((StartFade(0, 0, index, ambient=index in ambient),)) for index in range(count)
    )
    triggers = tuple(TriggerRecord(Mode.ONCE, Shots((index,)), index) for index in range(count))
    inputs = (InputRecord(InputKind.BUTTON, 0),) * count
    plain = {
        "inputs": inputs,
        "groups": (GroupRecord(0, 1, merge),),
        "fades": curves,
        "effects": effects,
        "triggers": triggers,
    }
    return small_table(**{**plain, **fields})


def assert_levels(result: Result, start: int, levels: list[int]) -> None:
    """The only channel has these levels from frame `start` on."""
    expected = [plain_light.duty_of(level, 16) for level in levels]
    assert [duty for duty, in result.duties[start : start + len(levels)]] == expected


def at(*starts: tuple[int, int]) -> list[Press]:
    """(frame, input): pressed for one frame."""
    return sorted(press for frame, index in starts for press in held(frame, frame + 1, index))


# 6.6 and 6.5


@pytest.mark.parametrize(
    ("level", "duty"),
    [(0, 0), (6554, 46), (16384, 181), (32768, 754), (49151, 1977), (65535, 4095)],
)
def test_duty_of_the_worked_levels(level: int, duty: int) -> None:
    assert plain_light.duty_of(level, 12) == duty  # SPEC 6.6
    assert duty_from_level(level, 12) == duty


def test_duty_is_the_same_for_every_level_and_depth() -> None:
    for bits in range(8, 17):
        assert duty_from_level(range(65536), bits).tolist() == [
            plain_light.duty_of(level, bits) for level in range(65536)
        ]


def test_gauge_fills_its_channels_one_after_the_other(play: Play) -> None:
    # 5 of 12 on 4 channels: d = 20 - 12 i = 20, 8, -4, -16 within 0..12: 12, 8, 0, 0; 8 * 65535 /
    # 12 = 43690. Then 4: d = 16, 4: 4 / 12.
    table = small_table(
        channels=4,
        groups=(GroupRecord(0, 4, Merge.HIGHEST, 0),),
        counters=(CounterRecord(12, 5),),
        effects=(EffectRecord((ChangeCount(0, 0, -1),)),),
        triggers=(TriggerRecord(Mode.ONCE, Shots((0,)), 0),),
    )
    duties = play(table, held(3, 4), 5).duties
    assert duties[2] == [FULL, plain_light.duty_of(43690, 16), 0, 0]
    assert duties[3] == [FULL, plain_light.duty_of(21845, 16), 0, 0]


def test_channels_that_an_effect_made_alike_part_again() -> None:
    """Wicks part the channels, a flash takes both alike, and then each goes over to its own
    wick: as the player has it that knows channels alone.
    """
    wick = curve((FLICKER, 100, 23130, 2570, 65536 // 7), loop=True)
    flash = curve((STEP, 3, FULL), (DECAY, 5, 0))
    table = light_table(
        wick,
        flash,
        curve((STRAIGHT, 12, AMBIENT), start=FULL),
        ambient=(0,),
        channels=2,
        groups=(GroupRecord(0, 2, Merge.HIGHEST),),
    )
    one, other = (
        player(table, at((0, 0), (10, 1), (20, 2)), 40) for player in (play_reference, play_plain)
    )
    assert one.duties == other.duties
    assert one.duties[12] == [FULL, FULL] and one.duties[29][0] != one.duties[29][1]


def test_a_channel_that_left_an_effect_is_not_looked_at_when_that_goes_on() -> None:
    """One channel is dark by itself, steps take both alike, then that one begins a slow line, which
    is seen by turns, while the steps of the other go on.
    """
    steps = curve(*((STEP, 3, level) for level in (FULL, 25700) * 6))
    line = curve((STRAIGHT, 24, 0), start=FULL)
    table = light_table(
        curve((STEP, 1, 0)),
        steps,
        line,
        channels=2,
        groups=(GroupRecord(0, 2, Merge.HIGHEST),),
        effects=(
            EffectRecord((StartFade(0, 0, 0, stagger=1000),)),
            EffectRecord((StartFade(0, 0, 1),)),
            EffectRecord((StartFade(0, 0, 2, stagger=1000),)),
        ),
        light_mask=7,
    )
    one, other = (
        player(table, at((0, 0), (5, 1), (12, 2)), 40) for player in (play_reference, play_plain)
    )
    assert one.duties == other.duties
    assert one.duties[14][0] == one.duties[13][0] and one.duties[14][1] != one.duties[13][1]


def test_channels_of_no_group_stay_dark(play: Play) -> None:
    table = light_table(
        curve((STEP, 0, FULL)), channels=3, groups=(GroupRecord(1, 1, Merge.HIGHEST),)
    )
    assert play(table, at((0, 0)), 2).duties == [[0, FULL, 0]] * 2


# 6.3, shapes


def test_step_is_at_its_target_for_all_its_length_and_stays(play: Play) -> None:
    assert_levels(
        play(light_table(curve((STEP, 3, 25700), (STEP, 2, 2570))), at((2, 0)), 9),
        1,
        [0, *[25700] * 3, *[2570] * 4],
    )


def test_straight_line_up(play: Play) -> None:
    # To 65535 in 4: w = 0, 8192, 16384, 24576: 65535 * w >> 15 = 0, 16383, 32767, 49151; then
    # 65535.
    assert_levels(
        play(light_table(curve((STRAIGHT, 4, FULL))), at((2, 0)), 9),
        2,
        [0, 16383, 32767, 49151, FULL, FULL],
    )


def test_straight_line_down_is_rounded_toward_its_start(play: Play) -> None:
    # From 65535 to 0 in 4: 65535 - 16383 = 49152, 32768, 16384.
    fall = curve((STRAIGHT, 4, 0), start=FULL)
    assert_levels(play(light_table(fall), at((2, 0)), 9), 2, [FULL, 49152, 32768, 16384, 0])


def test_ease_in_and_out(play: Play) -> None:
    # u = 8192: (u u >> 15) = 2048, 98304 - 16384 = 81920: w = 2048 * 81920 >> 15 = 5120. u = 16384:
    # 8192 * 65536 >> 15 = 16384. u = 24576: 18432 * 49152 >> 15 = 27648. Levels 65535 * w >> 15:
    # 10239, 32767, 55295.
    assert_levels(
        play(light_table(curve((EASE, 4, FULL))), at((0, 0)), 9), 0, [0, 10239, 32767, 55295, FULL]
    )


def test_decay(play: Play) -> None:
    # n = 3, t = 1: u = 10922, k = 5, r = 682: 6693 - (1856 * 682 >> 11 = 618) = 6075: w = 26693; t
    # = 2: u = 21845, k = 10, r = 1365: 1227 - (389 * 1365 >> 11 = 259) = 968: w = 31800. From 65535
    # down: 65535 * 26693 >> 15 = 53385, so 12150; 63599, so 1936.
    fall = curve((DECAY, 3, 0), start=FULL)
    assert_levels(play(light_table(fall), at((0, 0)), 5), 0, [FULL, 12150, 1936, 0, 0])


def test_flicker_between_equal_levels_goes_there_from_where_it_began(play: Play) -> None:
    # low = target = 51400: every point but the first is 51400. Every 4 frames, 6 long: 0, 12850,
    # 25700, 38550, then 51400, and stays.
    assert_levels(
        play(light_table(curve((FLICKER, 6, 51400, 51400, 65536 // 4))), at((1, 0)), 12),
        1,
        [0, 12850, 25700, 38550, *[51400] * 5],
    )


def test_a_wick_that_is_played_in_pieces_flickers_as_in_one() -> None:
    """Whole rounds are passed at once, but not those of which a piece has been played."""
    wick = light_table(curve((FLICKER, 20, 51400, 2570, 65536 // 3), loop=True))
    presses = at((1, 0))
    assert (
        play_reference(wick, presses, 200, cuts=(30, 97, 131)).duties
        == play_plain(wick, presses, 200).duties
    )


def test_flicker_that_ends_between_two_points_hands_on_its_level(play: Play) -> None:
    # As above, but 2 long: at t = 2 the level is 25700, from which the line to 0 in 2 begins:
    # 25700, 12850, 0.
    line = curve((FLICKER, 2, 51400, 51400, 65536 // 4), (STRAIGHT, 2, 0))
    assert_levels(play(light_table(line), at((1, 0)), 12), 1, [0, 12850, 25700, 12850, 0, 0])


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 2**32 - 1), st.integers(0, 254), st.integers(1, 2**32 - 1))
def test_flicker_hash_is_the_same_in_both(frame: int, channel: int, seed: int) -> None:
    assert int(flicker_point(frame, channel, seed)) == plain_light.hash_of(frame, channel, seed)


# 6.2, layers


def test_curve_starts_at_the_present_level_of_its_layer(play: Play) -> None:
    # Up to 65535 in 4, interrupted at t = 2 (32767) by a line to 0 in 2: 32767 - (32767 * 16384 >>
    # 15 = 16383) = 16384.
    table = light_table(curve((STRAIGHT, 4, FULL)), curve((STRAIGHT, 2, 0)))
    assert_levels(play(table, at((0, 0), (2, 1)), 9), 0, [0, 16383, 32767, 16384, 0])


def test_loop_goes_on_from_where_it_ended_and_not_from_its_start(play: Play) -> None:
    # Start 0; to 65535 in 2, and again from 65535: no move any more. 65535 * 16384 >> 15 = 32767.
    loop = curve((STRAIGHT, 2, FULL), start=0, loop=True)
    assert_levels(play(light_table(loop), at((0, 0)), 9), 0, [0, 32767, *[FULL] * 5])


def test_loop_with_segments_of_no_length(play: Play) -> None:
    # Down in 2 from full, back up in none: 65535, 32768, 65535, 32768.
    loop = curve((STEP, 0, FULL), (STRAIGHT, 2, 0), (STEP, 0, FULL), loop=True)
    assert_levels(play(light_table(loop), at((0, 0)), 9), 0, [FULL, 32768, FULL, 32768, FULL])


def test_effect_layer_returns_to_the_ambient_layer(play: Play) -> None:
    # Ambient at 32896 from frame 0. The effect: full for 1 frame, then straight to ambient in 2:
    # 65535 - (32639 * 16384 >> 15 = 16319) = 49216.
    table = light_table(
        curve((STEP, 0, 32896)), curve((STEP, 1, FULL), (STRAIGHT, 2, AMBIENT)), ambient=(0,)
    )
    assert_levels(
        play(table, at((0, 0), (2, 1)), 9), 0, [32896, 32896, FULL, FULL, 49216, 32896, 32896]
    )


def test_ambient_target_follows_the_ambient_layer_as_it_moves(play: Play) -> None:
    # Merged by latest. The ambient layer falls from 65535 in 4 from frame 0: 65535, 49152, 32768,
    # 16384, 0. The effect, from frame 1 at 0: to ambient in 2: at frame 2 half way to 32768: 16384;
    # at frame 3 it is over and not live: the ambient layer, 16384.
    table = light_table(
        curve((STRAIGHT, 4, 0), start=FULL),
        curve((STRAIGHT, 2, AMBIENT), start=0),
        merge=Merge.LATEST,
        ambient=(0,),
    )
    assert_levels(play(table, at((0, 0), (1, 1)), 9), 0, [FULL, 0, 16384, 16384, 0, 0])


def test_ambient_target_on_the_ambient_layer_is_dark(play: Play) -> None:
    table = light_table(curve((STRAIGHT, 2, AMBIENT), start=FULL), ambient=(0,))
    assert_levels(play(table, at((0, 0)), 9), 0, [FULL, 32768, 0, 0])


@pytest.mark.parametrize("merge", Merge)
def test_curve_may_begin_at_the_ambient_level_as_it_is_when_it_starts(
    play: Play, merge: Merge
) -> None:
    # Both in frame 2: the ambient layer goes to 51400 first (input 0), then the effect begins there
    # and falls to 0 in 2.
    table = light_table(
        curve((STEP, 0, 51400)),
        curve((STEP, 0, AMBIENT), (STRAIGHT, 2, 0), (STEP, 9, 0)),
        merge=merge,
        ambient=(0,),
    )
    levels = [0, 51400, 51400, 51400] if merge == Merge.HIGHEST else [0, 51400, 25700, 0]
    assert_levels(play(table, at((2, 0), (2, 1)), 9), 1, levels)


@pytest.mark.parametrize("merge", Merge)
def test_segment_that_ends_at_the_ambient_level_takes_it_from_before_a_start_in_that_frame(
    play: Play, merge: Merge
) -> None:
    # The effect is at ambient (0) up to frame 4 and goes from there to full in 2; in frame 4 the
    # ambient layer jumps to 25700. The line begins at 0, not at 25700: 0 (25700 is seen), 32767,
    # 65535. By latest the ambient layer of frame 4 hides the effect of frame 2.
    table = light_table(
        curve((STEP, 0, 25700)),
        curve((STEP, 2, AMBIENT), (STRAIGHT, 2, FULL)),
        merge=merge,
        ambient=(0,),
    )
    levels = [0, 0, 25700, 32767, FULL] if merge == Merge.HIGHEST else [0, 0, 25700, 25700, 25700]
    assert_levels(play(table, at((2, 1), (4, 0)), 9), 2, levels)


def test_ambient_curve_that_starts_during_a_return_counts_from_its_own_frame(play: Play) -> None:
    # Merged by latest. The effect is on its way from 65535 to ambient (0), at 32768, when an
    # ambient curve begins in frame 4: it is seen from that very frame on, at 25700 for 1 frame,
    # then from there to 51400 in 2.
    table = light_table(
        curve((STEP, 1, 25700), (STRAIGHT, 2, 51400)),
        curve((STRAIGHT, 4, AMBIENT), start=FULL),
        merge=Merge.LATEST,
        ambient=(0,),
    )
    assert_levels(play(table, at((2, 1), (4, 0)), 9), 2, [FULL, 49152, 25700, 25700, 38550, 51400])


def test_effect_that_ends_dark_is_no_longer_live(play: Play) -> None:
    # By latest: full for 2 frames, then 0: no longer live, so that the ambient 25700 is seen;
    # ending at 257 it would hide it.
    base = (
        curve((STEP, 0, 25700)),
        curve((STEP, 2, FULL), (STEP, 0, 0)),
        curve((STEP, 2, FULL), (STEP, 0, 257)),
    )
    table = light_table(*base, merge=Merge.LATEST, ambient=(0,))
    assert_levels(play(table, at((0, 0), (2, 1)), 9), 1, [25700, FULL, FULL, 25700])
    assert_levels(play(table, at((0, 0), (2, 2)), 9), 1, [25700, FULL, FULL, 257, 257])


def test_highest_shows_the_brighter_layer(play: Play) -> None:
    # Ambient 25700; the effect rises from its own 0, not from what is seen, to 51400 in 4: 12850,
    # 25700, 38550.
    table = light_table(curve((STEP, 0, 25700)), curve((STRAIGHT, 4, 51400)), ambient=(0,))
    assert_levels(play(table, at((0, 0), (2, 1)), 9), 2, [25700, 25700, 25700, 38550, 51400])


def test_latest_shows_the_layer_that_started_last_from_what_was_seen(play: Play) -> None:
    # Ambient 25700 from 0. The effect from 2 rises from there to 51400 in 2: 25700, 38550, 51400.
    # The ambient layer at 6: 257.
    table = light_table(
        curve((STEP, 0, 25700)),
        curve((STRAIGHT, 2, 51400)),
        curve((STEP, 0, 257)),
        merge=Merge.LATEST,
        ambient=(0, 2),
    )
    assert_levels(
        play(table, at((0, 0), (2, 1), (6, 2)), 9), 2, [25700, 38550, 51400, 51400, 257, 257]
    )


def test_effect_of_the_same_frame_is_seen_over_the_ambient_layer(play: Play) -> None:
    table = light_table(
        curve((STEP, 0, 51400)), curve((STEP, 0, 25700)), merge=Merge.LATEST, ambient=(1,)
    )
    assert_levels(play(table, at((2, 0), (2, 1)), 9), 2, [51400, 51400])
