"""Sound, worked by hand from SPEC 6.1."""

from dataclasses import replace

import pytest
from running import Play, held, small_table, told

from fxseq.player import Press, PressKind
from fxseq.table import (
    ClipRecord,
    Coding,
    EffectRecord,
    InputKind,
    InputRecord,
    Mode,
    PlayClip,
    Shots,
    Stay,
    Table,
    TriggerRecord,
    VoiceRule,
)

pytestmark = pytest.mark.quick

SWITCH = InputRecord(InputKind.BUTTON, 0)


def pcm(*samples: int, step: int = 65536, loop_start: int | None = None) -> ClipRecord:
    data = b"".join(sample.to_bytes(2, "little", signed=True) for sample in samples)
    return ClipRecord(Coding.PCM16, step, len(samples), data, loop_start)


def sound_table(*clips: ClipRecord, gains: tuple[int, ...] = (), **fields: object) -> Table:
    """Input n plays clip n once."""
    gains = gains or (4096,) * len(clips)
    effects = tuple(EffectRecord((PlayClip(0, index, gain),)) for index, gain in enumerate(gains))
    triggers = tuple(
        TriggerRecord(Mode.ONCE, Shots((index,)), index) for index in range(len(clips))
    )
    return small_table(
        **{
            "inputs": (SWITCH,) * len(clips),
            "clips": clips,
            "effects": effects,
            "triggers": triggers,
            **fields,
        }
    )


def loop_table(release: int, step: int = 65536, loop_start: int = 4) -> Table:
    """A loop of 36 samples 100, 200, ... 3600, held by the input."""
    clip = pcm(*range(100, 3700, 100), step=step, loop_start=loop_start)
    effects = (EffectRecord((PlayClip(0, 0, 4096, release),)),)
    return small_table(
        clips=(clip,), effects=effects, triggers=(TriggerRecord(Mode.WHILE_HELD, Stay(begin=0), 0),)
    )


def taps(*at: tuple[int, int]) -> list[Press]:
    """(frame, input): pressed for one frame."""
    return sorted(press for frame, index in at for press in held(frame, frame + 1, index))


def test_sound_begins_with_the_first_sample_of_its_frame_and_ends_with_its_last(play: Play) -> None:
    assert (
        play(sound_table(pcm(7, -8, 9, 10, 11)), taps((1, 0)), 4).samples
        == [0] * 4 + [7, -8, 9, 10, 11] + [0] * 7
    )


def test_half_speed_interpolates_and_lets_the_last_sample_go_to_zero(play: Play) -> None:
    # Positions 0, 1/2, 1, 1 1/2, 2, 2 1/2, rounded down: 10 + (13 - 10) / 2 = 11, 13 + (-20 - 13) /
    # 2 = 13 - 17 = -4, -20 + (0 + 20) / 2 = -10. The seventh would stand at 3, which is the end.
    samples = play(sound_table(pcm(10, 13, -20, step=32768)), taps((0, 0)), 2).samples
    assert samples == [10, 11, 13, -4, -20, -10, 0, 0]


def test_double_speed_takes_every_other_sample(play: Play) -> None:
    assert play(sound_table(pcm(1, 2, 3, 4, 5, step=131072)), taps((0, 0)), 1).samples == [
        1,
        3,
        5,
        0,
    ]


def test_gain_is_rounded_down(play: Play) -> None:
    # -7 * 2048 / 4096 = -3.5 -> -4; 7 -> 3; -1 -> -1; 1 -> 0.
    table = sound_table(pcm(-7, 7, -1, 1), gains=(2048,))
    assert play(table, taps((0, 0)), 1).samples == [-4, 3, -1, 0]


def test_mulaw_codes(play: Play) -> None:
    # FF and 7F are zero. 80: m = 7F, e = 7, (15 * 8 + 132) << 7 less 132 = 32124; 00 its negative.
    # C5: m = 3A, e = 3, (10 * 8 + 132) << 3 less 132 = 1564. 6E: m = 91, e = 1, (1 * 8 + 132) << 1
    # less 132 = 148, negative.
    clip = ClipRecord(Coding.MULAW, 65536, 6, bytes([0xFF, 0x7F, 0x80, 0x00, 0xC5, 0x6E]))
    assert play(sound_table(clip), taps((0, 0)), 2).samples == [
        0,
        0,
        32124,
        -32124,
        1564,
        -148,
        0,
        0,
    ]


# Loops


def test_looped_sound_goes_on_from_its_loop_start(play: Play) -> None:
    samples = play(loop_table(1, loop_start=4), held(0, 50), 20).samples
    assert samples == [*range(100, 3700, 100), *range(500, 3700, 100), *range(500, 1700, 100)]


def test_looped_sound_interpolates_across_the_seam(play: Play) -> None:
    # At half speed sample 71 stands at 35 1/2: between 3600 and sample 4, 500: 3600 - 3100 / 2 =
    # 2050. Then position 36 = 4.
    samples = play(loop_table(1, step=32768), held(0, 50), 20).samples
    assert samples[70:74] == [3600, 2050, 500, 550]


def test_loop_is_not_looped_where_nothing_holds_it(play: Play) -> None:
    table = loop_table(1)
    table = replace(table, triggers=(TriggerRecord(Mode.ONCE, Shots((0,)), 0),))
    assert play(table, held(0, 50), 10).samples == [*range(100, 3700, 100), *[0] * 4]


def test_release_falls_to_zero_while_it_goes_on(play: Play) -> None:
    # Let go at frame 2, sample 8. Two groups of 4: factors 1 on 900 .. 1200, 1/2 on 1300 .. 1600;
    # then ended.
    result = play(loop_table(2), held(0, 2), 5)
    assert result.samples[8:] == [900, 1000, 1100, 1200, 650, 700, 750, 800] + [0] * 4
    assert told(result, "RELEASED") == [(2, "RELEASED", 0, 0)]


def test_shortest_release_lets_one_frame_pass(play: Play) -> None:
    # The first group in full, and no more.
    assert play(loop_table(1), held(0, 2), 4).samples[8:] == [900, 1000, 1100, 1200] + [0] * 4


@pytest.mark.parametrize("release", [1561, 12001])
def test_release_lasts_as_long_as_it_says(play: Play, release: int) -> None:
    # 6244 and 48004 samples at 4 a frame: whoever starts a sound a frame before the end must cut, a
    # frame later the voice is free.
    table = replace(
        loop_table(release),
        inputs=(SWITCH,) * 2,
        effects=(*loop_table(release).effects, EffectRecord((PlayClip(0, 0, 4096),))),
        triggers=(*loop_table(release).triggers, TriggerRecord(Mode.ONCE, Shots((1,)), 1)),
    )
    cuts = [
        told(play(table, [*held(0, 2), *held(2 + after, 9 + after, 1)], 3 + after), "CUT")
        for after in (release - 1, release)
    ]
    assert cuts == [[(1 + release, "CUT", 0, 0)], []]


def test_released_sound_ends_where_its_next_factor_would_be_zero(play: Play) -> None:
    # Ended with the last sample of frame 2, so that its voice is free for the play step of frame 3:
    # no CUT.
    table = loop_table(1)
    table = replace(
        table,
        inputs=(SWITCH,) * 2,
        effects=(*table.effects, EffectRecord((PlayClip(0, 0, 4096),))),
        triggers=(*table.triggers, TriggerRecord(Mode.ONCE, Shots((1,)), 1)),
    )
    assert told(play(table, sorted([*held(0, 2), *held(3, 4, 1)]), 8), "SOUND", "CUT") == [
        (0, "SOUND", 0, 0),
        (3, "SOUND", 0, 0),
    ]


# Voices that run out


def voices_table(rule: VoiceRule, *gains: int) -> Table:
    """Two voices; inputs 0, 1, 2 each play a long clip of their own, with these gains."""
    clips = tuple(pcm(*[100] * 200) for _ in gains)
    return sound_table(*clips, gains=gains, voices=2, voice_rule=rule)


def test_oldest_voice_is_cut(play: Play) -> None:
    result = play(voices_table(VoiceRule.OLDEST, 9, 5, 7), taps((0, 0), (1, 1), (2, 2), (3, 0)), 10)
    assert told(result, "CUT") == [(2, "CUT", 0, 0), (3, "CUT", 1, 1)]


def test_quietest_voice_is_cut_and_of_equals_the_oldest(play: Play) -> None:
    # Gains 9 and 5: clip 1 goes for clip 2. Then 9 (voice 0) and 9 (voice 1): the older, voice 0.
    result = play(
        voices_table(VoiceRule.QUIETEST, 9, 5, 9), taps((0, 0), (1, 1), (2, 2), (3, 1)), 10
    )
    assert told(result, "CUT") == [(2, "CUT", 1, 1), (3, "CUT", 0, 0)]


def test_same_clip_is_cut_first_and_else_the_oldest(play: Play) -> None:
    result = play(
        voices_table(VoiceRule.SAME_CLIP, 9, 9, 9), taps((0, 0), (2, 1), (4, 1), (6, 2)), 10
    )
    assert told(result, "CUT") == [(4, "CUT", 1, 1), (6, "CUT", 0, 0)]


@pytest.mark.parametrize("released", [False, True])
def test_looped_sound_is_spared_until_it_is_let_go(play: Play, released: bool) -> None:
    # Voice 0 loops (older), voice 1 plays once. While held, voice 1 is cut; once let go, the
    # oldest, voice 0, may be.
    base = loop_table(40)
    table = replace(
        base,
        voices=2,
        inputs=(SWITCH,) * 2,
        clips=(*base.clips, pcm(*[1] * 200)),
        effects=(*base.effects, EffectRecord((PlayClip(0, 1, 4096),))),
        triggers=(*base.triggers, TriggerRecord(Mode.ONCE, Shots((1,)), 1)),
    )
    presses = sorted([*held(0, 4 if released else 50), *held(2, 3, 1), *held(6, 7, 1)])
    assert told(play(table, presses, 20), "CUT") == [
        (6, "CUT", 0, 0) if released else (6, "CUT", 1, 1)
    ]


def test_looped_sounds_alone_are_cut_by_the_rule_as_well(play: Play) -> None:
    base = loop_table(40)
    table = replace(
        base,
        inputs=(SWITCH,) * 2,
        triggers=(*base.triggers, TriggerRecord(Mode.WHILE_HELD, Stay(begin=0), 1)),
    )
    assert told(play(table, sorted([*held(0, 50), *held(3, 50, 1)]), 20), "CUT") == [
        (3, "CUT", 0, 0)
    ]


def test_voice_that_ends_within_a_frame_is_free_in_the_next(play: Play) -> None:
    # 5 samples end in frame 1; the play step of frame 1 still finds the voice taken, that of frame
    # 2 does not.
    clip = pcm(1, 1, 1, 1, 1)
    assert told(play(sound_table(clip), [*held(0, 0), *held(2, 3)], 9), "CUT") == []
    assert told(play(sound_table(clip, clip), taps((0, 0), (1, 1)), 9), "CUT") == [(1, "CUT", 0, 0)]


# The tail of what was cut


def test_tail_falls_from_the_last_value_of_what_was_cut(play: Play) -> None:
    # Cut at sample 4; the last value was 400; the new clip is silent. It loses its 32nd and 1.
    table = sound_table(pcm(*[400] * 20), pcm(*[0] * 20))
    samples = play(table, taps((0, 0), (1, 1)), 3).samples
    assert samples[4:] == [387, 374, 362, 350, 339, 328, 317, 307]


def test_cut_within_a_tail_adds_what_is_left_of_it(play: Play) -> None:
    # From 400: 387, 374, 362, 350 beside the new clip's 80. Then 350 + 80 = 430: 416, 402, 389, 376.
    table = sound_table(pcm(*[400] * 40), pcm(*[80] * 40), pcm(*[0] * 40))
    samples = play(table, taps((0, 0), (1, 1), (2, 2)), 3).samples
    assert samples[4:] == [467, 454, 442, 430, 416, 402, 389, 376]


def test_sound_cut_in_the_frame_of_its_start_adds_nothing_to_the_tail(play: Play) -> None:
    # Inputs 0 and 1 in frame 1: clip 0 is cut before its first sample.
    table = sound_table(pcm(*[400] * 20), pcm(*[0] * 20))
    assert play(table, taps((1, 0), (1, 1)), 4).samples == [0] * 16


def test_tail_is_held_once_a_cut_in_the_order_of_the_cuts(play: Play) -> None:
    # Six voices: the one that began first is the loudest (gain 32767, -32767 * 32767 >> 12 =
    # -262129), so that quietest cuts it last. The other five add 32767 * 32766 >> 12 = 262120
    # each. In frame 64 all are cut: five times 262120 are held at 1048575, then 1048575 - 262129 =
    # 786446. (Cut first, it would leave -262129 + 1310600 = 1048471.) It loses 24577, 23809, 23065,
    # 22344. The volume, at 0 up to frame 63, stands at 4 of 256 in that frame: a 64th.
    loud = pcm(*[-32767] * 99)
    soft = pcm(*[32767] * 99)
    silent = EffectRecord((PlayClip(0, 2, 32767),) * 6)
    start = EffectRecord((PlayClip(0, 0, 32767), *(PlayClip(0, 1, 32766),) * 5))
    triggers = (TriggerRecord(Mode.ONCE, Shots((0,)), 0), TriggerRecord(Mode.ONCE, Shots((1,)), 1))
    table = small_table(
        voices=6,
        voice_rule=VoiceRule.QUIETEST,
        inputs=(SWITCH,) * 2,
        clips=(loud, soft, pcm(*[0] * 99)),
        effects=(start, silent),
        triggers=triggers,
    )
    presses = [
        Press(0, PressKind.VOLUME, 0, 0),
        *held(63, 64),
        *held(64, 65, 1),
        Press(64, PressKind.VOLUME, 0, 256),
    ]
    result = play(table, presses, 66)
    assert [event[2] for event in told(result, "CUT")] == [1, 2, 3, 4, 5, 0]
    assert result.samples[64 * 4 : 65 * 4] == [11904, 11532, 11171, 10822]


# Volume and what does not fit


def test_volume_moves_by_four_a_frame_before_the_samples(play: Play) -> None:
    # From 256 toward 246: 252, 248, 246. 25600 * 252 / 256 = 25200, 24800, 24600.
    samples = play(
        sound_table(pcm(*[25600] * 99)), [*taps((0, 0)), Press(2, PressKind.VOLUME, 0, 246)], 6
    ).samples
    assert samples[::4] == [25600, 25600, 25200, 24800, 24600, 24600]


def test_volume_is_rounded_down(play: Play) -> None:
    # -7 * 252 / 256 = -6.89 -> -7.
    samples = play(
        sound_table(pcm(*[-7] * 9)), [*taps((0, 0)), Press(0, PressKind.VOLUME, 0, 0)], 1
    ).samples
    assert samples == [-7] * 4


def test_sum_that_does_not_fit_is_held_and_counted(play: Play) -> None:
    # 20000 twice = 40000; -20000 twice; 16384 - 1 twice = 32766; -16384 twice = -32768, which fits.
    clip = pcm(20000, -20000, 16383, -16384)
    result = play(sound_table(clip, clip, voices=2), taps((0, 0), (0, 1)), 1)
    assert result.samples == [32767, -32768, 32766, -32768]
    assert result.saturated == 2
