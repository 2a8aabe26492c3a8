"""Basic vectors of voices and what holds them (SPEC 6.1, 5.4 R11), worked by hand."""

from hand_sound import HELD, LOOP, clip, flat, looping, pcm, played, shot, three
from hand_work import SWITCH, Hand, once, press, singles, table

SILENT_LOOP = (flat(0, 36)[0], "PCM 0, 36 times")
ZIGZAG = [(50 * n + 7) * (-1) ** n for n in range(36)]
ALTERNATING = pcm(*[32767, -32767] * 4)


def beside_a_loop(rule: int, play: tuple[str, str]) -> list[str]:
    """Two voices, silent: a loop that input 0 holds, and what inputs 1 and 2 play."""
    return table(
        voices=2,
        rule=rule,
        inputs=[SWITCH] * 3,
        clips=[LOOP, clip(200, 72)],
        effects=[
            ("03 00 28 00 / 85 00 00 10", "clip 0, looped, release 40"),
            play,
            ("84 00 00 10", "play clip 0"),
        ],
        triggers=[
            ("02 00 00 / 00", "while_held, input 0, begin 0"),
            ("08 00 00 / 01", "once, input 1, effect 1"),
            ("10 00 00 / 02", "once, input 2, effect 2"),
        ],
        clip_data=[SILENT_LOOP, flat(0, 200)],
    )


VECTORS = [
    Hand(
        "oldest-is-not-the-lowest-voice",
        ("6.1 R6",),
        "oldest is by the order of the sounds, not by the number of the voice",
        three(0, ("09", "09", "09"), ""),
        8,
        (*press(0, 1, 0), *press(2, 3, 1), *press(4, 5, 2), *press(6, 7, 0)),
        (*shot(0, 0), *shot(2, 1, 1), *shot(4, 2, 0, cut=(0, 0)), *shot(6, 0, 1, cut=(1, 1))),
        ("At 4 voice 0 is taken anew; at 6 the oldest sound is that of frame 2, on voice 1.",),
    ),
    Hand(
        "held-loop-of-the-same-clip",
        ("6.1 R6",),
        "by same clip, too, a held loop is spared where something else may go",
        beside_a_loop(2, ("84 01 00 10", "play clip 1")),
        8,
        ("0 PRESS 0 0", *press(2, 3, 1), *press(4, 5, 2)),
        (*HELD, *shot(2, 1, 1), *shot(4, 2, 1, sounds=0, cut=(1, 1))),
        (
            (
                "Voice 0 plays clip 0, but as a loop that is held: among voice 1 alone none plays"
                " clip 0, so the oldest of it."
            ),
        ),
    ),
    Hand(
        "quietest-of-one-that-falls",
        ("6.1 R6",),
        "a sound that falls counts with the gain that it began with",
        beside_a_loop(1, ("84 01 00 04", "play clip 1 at 1024")),
        40,
        (*press(0, 2), *press(30, 31, 1), *press(37, 38, 2)),
        (
            *(*HELD, "2 RELEASE 0 0", "2 STOP 0 0", "2 RELEASED 0 0"),
            *shot(30, 1, 1),
            *shot(37, 2, 1, sounds=0, cut=(1, 1)),
        ),
        (
            (
                "At 37 voice 0 has fallen for 35 of 40 frames, to an eighth of 4096; voice 1 has 1024"
                " and goes."
            ),
        ),
    ),
    Hand(
        "let-go-once",
        ("6.1 R5", "5.4 R11"),
        "a sound that was let go before is not let go again by the next end of its trigger, and"
        " falls on as it fell",
        looping(4, voices=2),
        8,
        (*press(0, 1), *press(2, 3)),
        (
            *(*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
            *(
                "2 PRESS 0 0",
                "2 START 0 0",
                "2 EFFECT 0 0",
                "2 SOUND 1 0",
                "3 RELEASE 0 0",
                "3 STOP 0 0",
                "3 RELEASED 1 0",
            ),
        ),
        (
            (
                "R = 16, loss 2^27: each group of 4 loses a quarter. Gains 4096, 3072, 2048, 1024"
                " on 500 .. 800, 900 .. 1200, 1300 .. 1600, 1700 .. 2000: 500, 600, 700, 800; 675,"
                " 750, 825, 900; 650, 700, 750, 800; 425, 450, 475, 500. On voice 0 in frames 1 to"
                " 4, on voice 1 in frames 3 to 6, after 100 .. 400 in frame 2."
            ),
            (
                "At 3 voice 0 still sounds, but was let go at 1. Sums: frame 2 775, 950, 1125,"
                " 1300; frame 3 1150, 1300, 1450, 1600; frame 4 1100, 1200, 1300, 1400."
            ),
        ),
        (
            *(100, 200, 300, 400, 500, 600, 700, 800, 775, 950, 1125, 1300, 1150, 1300, 1450, 1600),
            *(1100, 1200, 1300, 1400, 650, 700, 750, 800, 425, 450, 475, 500, (0, 4)),
        ),
    ),
    Hand(
        "end-of-another-trigger",
        ("5.4 R11", "5.5 R5"),
        "an end forgets and lets go what its own trigger holds, and nothing else",
        table(
            voices=2,
            inputs=[SWITCH] * 2,
            counters=[("09 00 00 00", "0 to 9, starts at 0")],
            clips=[LOOP],
            effects=[
                (
                    "05 00 00 10 / 02 00 0A 00 / 88 00 01 00",
                    "clip 0, looped, release 1 frame; at 10 counter 0 plus 1",
                )
            ],
            triggers=[
                ("02 00 00 / 00", "while_held, input 0, begin 0"),
                ("0A 00 00 / 00", "while_held, input 1, begin 0"),
            ],
            clip_data=[SILENT_LOOP],
        ),
        15,
        ("0 PRESS 0 0", *press(1, 3, 1), "12 RELEASE 0 0"),
        (
            *(*HELD, "1 PRESS 1 0", "1 START 1 0", "1 EFFECT 0 1", "1 SOUND 1 0"),
            *("3 RELEASE 1 0", "3 STOP 1 0", "3 RELEASED 1 0", "10 COUNT 0 1"),
            *("12 RELEASE 0 0", "12 STOP 0 0", "12 RELEASED 0 0"),
        ),
        (
            (
                "At 3 trigger 1 ends: its voice 1, and its step at 1 + 10. Voice 0 and the step at"
                " 0 + 10 are trigger 0's."
            ),
        ),
    ),
    Hand(
        "step-is-rounded-down",
        ("6.1 R2", "5.5 R2"),
        "the product of step and pitch is rounded down",
        played(
            clip(8, step=66096),
            data=(ALTERNATING,),
            effects=[("01 01 00 00 / 84 00 00 10", "pitch_spread 1; play clip 0")],
        ),
        2,
        ("1 PRESS 0 0",),
        shot(1, 0)[:-1],
        (
            (
                "Draw 4: pitch 4093, as 4096 + (4 - 32768) / 8192. 66096 * 4093 = 270530928; >> 12"
                " = 66047 (and 2416 / 4096)."
            ),
            (
                "66047 = 1 and 511, q >> 8 = 1: -32767 + (65534 * 1 >> 8) = -32767 + 255. 132094 ="
                " 2 and 1022: 3: 32767 + (-65534 * 3 >> 8) = 32767 - 768. 198141 = 3 and 1533: 5:"
                " -32767 + (65534 * 5 >> 8) = -32767 + 1279. (With 66048: 2, 4, 6.)"
            ),
        ),
        ((0, 4), 32767, -32512, 31999, -31488),
    ),
    Hand(
        "quietest-of-equals-is-not-the-lowest-voice",
        ("6.1 R6",),
        "among equally quiet sounds the oldest goes, whatever its voice",
        three(1, ("09", "09", "09"), ""),
        8,
        (*press(0, 1, 0), *press(2, 3, 1), *press(4, 5, 2), *press(6, 7, 0)),
        (*shot(0, 0), *shot(2, 1, 1), *shot(4, 2, 0, cut=(0, 0)), *shot(6, 0, 1, cut=(1, 1))),
        (
            (
                "All gains are 9. At 4 voice 0 is taken anew; at 6 the oldest sound is that of"
                " frame 2, on voice 1."
            ),
        ),
    ),
    Hand(
        "release-lowers-the-gain",
        ("6.1 R5", "6.1 R4", "2.1"),
        "the factor lowers the gain of a group, not its values; and the loop goes round meanwhile",
        table(
            inputs=[SWITCH],
            clips=[LOOP],
            effects=[(
                "03 00 03 00 / 85 00 70 17",
                "clip 0 at gain 6000, looped, release 3 frames",
            )],
            triggers=[("02 00 00 / 00", "while_held, input 0, begin 0")],
            clip_data=[pcm(*ZIGZAG)],
        ),
        12,
        press(0, 8),
        (*HELD, "8 RELEASE 0 0", "8 STOP 0 0", "8 RELEASED 0 0"),
        (
            (
                "Up to sample 35 value * 6000 >> 12. R = 12, loss 178956971: factors >> 16 are"
                " 32768 on samples 32 to 35, 21845 on 4 to 7 of the clip, 10922 on 8 to 11. Gains"
                " 6000, 6000 * 21845 >> 15 = 3999 (and 30848 / 32768), 6000 * 10922 >> 15 = 1999."
            ),
            (
                "207, -257, 307, -357 * 3999 >> 12; 407, -457, 507, -557 * 1999 >> 12. (207 * 21845"
                " >> 15 = 137 first, then * 6000 >> 12, would give 200.)"
            ),
        ),
        (
            *(10, -84, 156, -230, 303, -377, 449, -523, 596, -670, 742, -816),
            *(889, -963, 1035, -1109, 1182, -1256, 1328, -1402, 1475, -1549, 1621, -1695),
            *(1768, -1842, 1914, -1988, 2061, -2135, 2207, -2281, 2354, -2428, 2500, -2574),
            *(202, -251, 299, -349, 198, -224, 247, -272, (0, 4)),
        ),
    ),
    Hand(
        "release-of-8193-frames",
        ("6.1 R5", "6.1 R7"),
        "a long release lasts as long as it says",
        table(
            voices=2,
            inputs=[SWITCH] * 3,
            clips=[LOOP],
            effects=[
                ("03 00 01 20 / 85 00 00 10", "clip 0, looped, release 8193 frames"),
                ("04 00 00 10 / 84 00 00 10", "play clip 0 twice"),
            ],
            triggers=[
                ("02 00 00 / 00", "while_held, input 0, begin 0"),
                ("0A 00 00 / 00", "while_held, input 1, begin 0"),
                ("10 00 00 / 01", "once, input 2, effect 1"),
            ],
            clip_data=[SILENT_LOOP],
        ),
        8197,
        (*press(0, 1), *press(1, 2, 1), *press(8194, 8195, 2)),
        (
            *(
                *HELD,
                "1 RELEASE 0 0",
                "1 PRESS 1 0",
                "1 STOP 0 0",
                "1 RELEASED 0 0",
                "1 START 1 0",
                "1 EFFECT 0 1",
                "1 SOUND 1 0",
            ),
            *("2 RELEASE 1 0", "2 STOP 1 0", "2 RELEASED 1 0"),
            *(
                *once(8194, 2, 1),
                "8194 SOUND 0 0",
                "8194 CUT 1 0",
                "8194 SOUND 1 0",
                "8195 RELEASE 2 0",
            ),
        ),
        (
            (
                "R = 8193 * 4 = 32772, loss (2^31 + 32771) / 32772 = 65529. 8192 groups lose 8192 *"
                " 262116 = 2147254272, which is short of 2^31 by 229376: the 8193rd is the last."
                " Voice 0 is let go at 1 and free at 1 + 8193 = 8194; voice 1, let go at 2, sounds"
                " until the end of frame 8194."
            ),
        ),
    ),
    Hand(
        "tail-below-0",
        ("6.1 R8", "2.1"),
        "below 0 the 32nd is rounded down as well, so away from 0, and nothing more is lost",
        played(
            clip(40),
            clip(40, 80),
            clip(40, 160),
            data=(flat(-399, 40), flat(80, 40), flat(0, 40)),
        ),
        4,
        (*press(0, 1, 0), *press(1, 2, 1), *press(2, 3, 2)),
        (
            *(*once(0), "0 SOUND 0 0", "1 RELEASE 0 0"),
            *(*once(1, 1, 1), "1 CUT 0 0", "1 SOUND 0 1", "2 RELEASE 1 0"),
            *(*once(2, 2, 2), "2 CUT 0 1", "2 SOUND 0 2", "3 RELEASE 2 0"),
        ),
        (
            (
                "Frame 1: -399 / 32 is -12 and some, so -399 + 13 = -386, + 13 = -373, + 12 = -361,"
                " -349, and 80 of the second sound. In frame 2 -349 + 80 = -269: + 9 = -260, -251,"
                " + 8 = -243, -235, -227, -219, + 7 = -212, -205."
            ),
        ),
        ((-399, 4), -306, -293, -281, -269, -260, -251, -243, -235, -227, -219, -212, -205),
    ),
    Hand(
        "tail-comes-to-0",
        ("6.1 R8",),
        "from either side the tail comes to 0 and stays there",
        played(
            clip(20),
            clip(200, 40),
            clip(20, 440),
            data=(flat(32, 20), flat(0, 200), flat(-32, 20)),
        ),
        22,
        (*press(0, 1, 0), *press(1, 2, 1), "12 PRESS 2 0", *press(13, 14, 1), "14 RELEASE 2 0"),
        (
            *(*once(0), "0 SOUND 0 0", "1 RELEASE 0 0"),
            *(*once(1, 1, 1), "1 CUT 0 0", "1 SOUND 0 1", "2 RELEASE 1 0"),
            *(*once(12, 2, 2), "12 CUT 0 1", "12 SOUND 0 2"),
            *(*once(13, 1, 1), "13 CUT 0 2", "13 SOUND 0 1", "14 RELEASE 1 0", "14 RELEASE 2 0"),
        ),
        (
            (
                "From 32: - 1 - 1 = 30; below 32 the 32nd is 0, and 1 is lost: 29, .. 1, 0. From"
                " -32: + 1 = -31, and -1 / 32 is still -1, rounded down: -30, .. -1, 0."
            ),
        ),
        ((32, 4), *range(30, 0, -1), (0, 14), (-32, 4), *range(-31, 0), (0, 5)),
    ),
    Hand(
        "two-cuts-in-a-frame",
        ("6.1 R8", "6.1 R1"),
        "what several sounds leave in a frame is one tail, which loses no more than for one",
        table(
            voices=2,
            inputs=[SWITCH] * 2,
            clips=[clip(40), clip(40, 80), clip(40, 160)],
            effects=[
                ("04 00 00 10 / 84 01 00 10", "play clip 0, play clip 1"),
                ("04 02 00 10 / 84 02 00 10", "play clip 2 twice"),
            ],
            triggers=singles(2),
            clip_data=[flat(300, 40), flat(-100, 40), flat(0, 40)],
        ),
        3,
        (*press(0, 1, 0), *press(1, 2, 1)),
        (
            *(*once(0), "0 SOUND 0 0", "0 SOUND 1 1", "1 RELEASE 0 0"),
            *(*once(1, 1, 1), "1 CUT 0 0", "1 SOUND 0 2", "1 CUT 1 1", "1 SOUND 1 2"),
            "2 RELEASE 1 0",
        ),
        ("300 - 100 = 200: - 7 = 193, 186, - 6 = 180, 174, 168, 162, 156, - 5 = 151.",),
        ((200, 4), 193, 186, 180, 174, 168, 162, 156, 151),
    ),
    Hand(
        "tail-of-what-was-let-go",
        ("6.1 R8", "6.1 R5"),
        "what a sound leaves is what it added last, with the gain that it had come to",
        table(
            inputs=[SWITCH] * 2,
            clips=[LOOP, clip(40, 72)],
            effects=[
                ("03 00 04 00 / 85 00 00 10", "clip 0, looped, release 4 frames"),
                ("84 01 00 10", "play clip 1"),
            ],
            triggers=[
                ("02 00 00 / 00", "while_held, input 0, begin 0"),
                ("08 00 00 / 01", "once, input 1, effect 1"),
            ],
            clip_data=[flat(1600, 36), flat(0, 40)],
        ),
        4,
        (*press(0, 1), "3 PRESS 1 0"),
        (
            *(*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
            *(*once(3, 1, 1), "3 CUT 0 0", "3 SOUND 0 1"),
        ),
        (
            (
                "R = 16: a quarter is lost in each frame. Frame 1 in full, frame 2 1600 * 3072 >>"
                " 12 = 1200; cut in frame 3: 1200 - 37 - 1 = 1162, - 37 = 1125, - 36 = 1089, - 35 ="
                " 1054."
            ),
        ),
        ((1600, 8), (1200, 4), 1162, 1125, 1089, 1054),
    ),
    Hand(
        "release-in-frames-of-six",
        ("6.1 R5",),
        "groups are those of a frame: the last one has what is left, and the next begins anew",
        looping(2, frame=6),
        4,
        press(0, 1),
        (*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
        (
            (
                "R = 12, loss 178956971, groups of 4 and 2: factors 2147483648, - 715827884 ="
                " 1431655764, - 357913942 = 1073741822, - 715827884 = 357913938, which is below 2 *"
                " 178956971. >> 16: 32768, 21845, 16383, 5461; gains 4096, 2730, 2047, 682."
            ),
            (
                "Frame 1: 700 .. 1000 in full, 1100 * 2730 >> 12 = 733, 1200: 799. Frame 2: 1300"
                " .. 1600 * 2047 >> 12 = 649, 699, 749, 799; 1700, 1800 * 682 >> 12 = 283, 299."
            ),
        ),
        (*range(100, 1100, 100), 733, 799, 649, 699, 749, 799, 283, 299, (0, 6)),
    ),
    Hand(
        "release-in-frames-of-five",
        ("6.1 R5",),
        "the last group may be one sample; with the shortest release it is the last one that sounds",
        looping(1, frame=5),
        3,
        press(0, 1),
        (*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
        (
            (
                "R = 5, loss (2^31 + 4) / 5 = 429496730: factors 2147483648 for 4 samples,"
                " 429496728 for 1, and that is below the loss. 429496728 >> 16 = 6553, gain 4096 *"
                " 6553 >> 15 = 819; 1000 * 819 >> 12 = 199."
            ),
        ),
        (*range(100, 1000, 100), 199, (0, 5)),
    ),
]
