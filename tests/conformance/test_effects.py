"""Effects and draws, worked by hand from SPEC 5.5 and 5.6."""

import plain_integers
import pytest
from running import Play, frames_of, held, small_table, told

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.table import (
    ChangeCount,
    ClipRecord,
    Coding,
    CounterRecord,
    EffectRecord,
    GroupRecord,
    Merge,
    Mode,
    PlayClip,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
)

pytestmark = pytest.mark.quick

FULL_AT_ONCE = FadeCurve((FadeSegment(Shape.STEP, 0, 65535),))
PRESSED = TriggerRecord(Mode.ONCE, Shots((0,)), 0)


def effect_table(*effects: EffectRecord, **fields: object) -> Table:
    """Effect 0 at every press."""
    return small_table(effects=effects, triggers=(PRESSED,), **fields)


def fade_table(stagger: int, channels: int, **fields: object) -> Table:
    """Effect 0 puts one group to full, staggered."""
    group = GroupRecord(0, channels, Merge.HIGHEST)
    return effect_table(
        EffectRecord((StartFade(0, 0, 0, stagger),)),
        channels=channels,
        groups=(group,),
        fades=(FULL_AT_ONCE,),
        **fields,
    )


def lit_from(duties: list[list[int]]) -> list[int]:
    """For each channel, the first frame in which it is full."""
    return [column.index(65535) for column in zip(*duties, strict=True)]


def test_generator_gives_the_worked_draws() -> None:
    dice = plain_integers.Dice(1)
    assert [dice.draw() for _ in range(3)] == [4, 1032, 40396]  # SPEC 5.6


def test_steps_come_at_their_times_in_their_order(play: Play) -> None:
    steps = tuple(
        ChangeCount(at, 0, change) for at, change in ((0, 2), (0, 3), (4, -1), (4, -9), (6, 99))
    )
    # 0..7, start 1: 1 + 2 + 3 = 6; 6 - 1 = 5; 5 - 9 is held at 0; 0 + 99 at 7.
    result = play(
        effect_table(EffectRecord(steps), counters=(CounterRecord(7, 1),)), held(2, 3), 20
    )
    assert told(result, "COUNT") == [
        (at, "COUNT", 0, value) for at, value in ((2, 3), (2, 6), (6, 5), (6, 0), (8, 7))
    ]


def test_count_that_changes_nothing_is_traced(play: Play) -> None:
    result = play(
        effect_table(EffectRecord((ChangeCount(0, 0, 0),)), counters=(CounterRecord(7, 3),)),
        held(2, 3),
        9,
    )
    assert told(result, "COUNT") == [(2, "COUNT", 0, 3)]


def test_thirteenth_effect_under_way_is_refused(play: Play) -> None:
    # A step 30 frames after each shot, one shot a frame: from 0 on the places fill with 12, the
    # 13th at frame 12 is refused, and so on until frame 29. In frame 30 triggers come first: that
    # shot is refused too, then the first place becomes free; taken at 31.
    effect = EffectRecord((ChangeCount(0, 0, 1), ChangeCount(30, 0, -1)))
    table = small_table(
        effects=(effect,),
        counters=(CounterRecord(99, 0),),
        triggers=(TriggerRecord(Mode.REPEAT, Shots((0,), period=256), 0),),
    )
    result = play(table, held(0, 32), 80)
    assert frames_of(result, "REFUSED") == list(range(12, 31))
    # What was refused had still done its first step: 33 up (0 to 32), and 14 down: 12 that were
    # kept, and those of 31 and 32.
    assert [event[0] for event in told(result, "COUNT")].count(0) == 1
    assert told(result, "COUNT")[-1] == (62, "COUNT", 0, 33 - 14)


def test_stagger_goes_up_the_group(play: Play) -> None:
    assert lit_from(play(fade_table(3, 4), held(5, 6), 30).duties) == [5, 8, 11, 14]


def test_negative_stagger_goes_down_the_group(play: Play) -> None:
    assert lit_from(play(fade_table(-2, 4), held(5, 6), 30).duties) == [11, 9, 7, 5]


def test_fade_without_stagger_takes_all_channels_at_once_and_no_place(play: Play) -> None:
    assert lit_from(play(fade_table(0, 4), held(5, 6), 30).duties) == [5, 5, 5, 5]


def test_staggered_fade_takes_a_place_of_its_own(play: Play) -> None:
    # 13 staggered fades in one effect: the 13th finds no place, and only its first channel starts.
    steps = tuple(StartFade(0, group, 0, 1) for group in range(13))
    groups = tuple(GroupRecord(2 * group, 2, Merge.HIGHEST) for group in range(13))
    table = effect_table(EffectRecord(steps), channels=26, groups=groups, fades=(FULL_AT_ONCE,))
    result = play(table, held(5, 6), 9)
    assert told(result, "REFUSED") == [(5, "REFUSED", 0, 0)]
    assert result.duties[8] == [65535] * 25 + [0]


def test_end_forgets_the_channels_to_come_of_what_was_held(play: Play) -> None:
    fade = EffectRecord((StartFade(0, 0, 0, 3),))
    group = GroupRecord(0, 4, Merge.HIGHEST)
    table = small_table(
        channels=4,
        groups=(group,),
        fades=(FULL_AT_ONCE,),
        effects=(fade,),
        triggers=(TriggerRecord(Mode.WHILE_HELD, Stay(begin=0), 0),),
    )
    # Channels at 5, 8, 11, 14; let go at 11, before the effects of that frame.
    assert play(table, held(5, 11), 30).duties[29] == [65535, 65535, 0, 0]


def ramp_clip(step: int = 65536) -> ClipRecord:
    """8 samples 0, 1000, 2000, ... 7000."""
    data = b"".join((1000 * k).to_bytes(2, "little") for k in range(8))
    return ClipRecord(Coding.PCM16, step, 8, data)


def test_pitch_spread_moves_the_step_by_the_first_draw(play: Play) -> None:
    # Draw 4: 255 * (4 - 32768) / 8192 = -1019.87, toward zero -1019: pitch 3077, step 65536 * 3077
    # >> 12 = 49232. Sample k stands at k * 49232: 0; 49232, >> 8 = 192 -> 1000 * 192 >> 8 = 750;
    # 98464 = 1 + 32928, 128 -> 1000 + 500; 147696 = 2 + 16624, 64 -> 2000 + 250.
    table = effect_table(
        EffectRecord((PlayClip(0, 0, 4096),), pitch_spread=255), clips=(ramp_clip(),)
    )
    assert play(table, held(1, 2), 4).samples[4:8] == [0, 750, 1500, 2250]


def test_gain_spread_draws_after_pitch_spread(play: Play) -> None:
    # Draws 4 and 1032. Pitch 1/8192 * 1 * (4 - 32768) = -3.99, toward zero -3: pitch 4093, step
    # 65488. Gain: 255 * (1032 - 32768) / 32768 = -246.96, toward zero -246: 256 - 246 = 10; 4096 *
    # 10 >> 8 = 160. Sample 1 stands at 65488, >> 8 = 255: 1000 * 255 >> 8 = 996; * 160 / 4096 =
    # 38.9. Sample 2: 130976 = 1 + 65440: 1000 + 996; 77.97. Sample 3: 2 + 65392: 2996; 117.03.
    table = effect_table(
        EffectRecord((PlayClip(0, 0, 4096),), pitch_spread=1, gain_spread=255), clips=(ramp_clip(),)
    )
    assert play(table, held(1, 2), 4).samples[4:8] == [0, 38, 77, 117]
