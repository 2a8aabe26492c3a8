"""Basic vectors of voices and what holds them (SPEC 6.1, 5.4 R11), worked by hand."""

from hand_sound import HELD, LOOP, clip, flat, looping, pcm, played, shot, three
from hand_work import SWITCH, Hand, number, once, press, table

SILENT_LOOP = (flat(0, 36)[0], "PCM 0, 36 times")
ZIGZAG = [(50 * n + 7) * (-1) ** n for n in range(36)]
ALTERNATING = pcm(*[32767, -32767] * 4)

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
        table(
            voices=2,
            rule=2,
            inputs=[SWITCH] * 3,
            clips=[LOOP, clip(200, 72)],
            effects=[
                ("00 10 00 28", "clip 0, looped, release 40"),
                ("00 00 01", "play clip 1"),
                ("00 00 00", "play clip 0"),
            ],
            triggers=[
                ("02 00 01 00", "while_held, input 0, begin 0"),
                ("00 01 01", "once, input 1, effect 1"),
                ("00 02 02", "once, input 2, effect 2"),
            ],
            clip_data=[SILENT_LOOP, flat(0, 200)],
        ),
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
        "let-go-once",
        ("6.1 R5", "5.4 R11"),
        "a sound that was let go before is not let go again by the next end of its trigger, and"
        " falls on as it fell",
        looping("04", "release 4 frames", voices=2),
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
                "R = 16, so the factor loses 32768 / 16 = 2048: 16 / 16, 15 / 16, .. 1 / 16 on 500,"
                " 600, .. 2000: 500, 562, 612, 650, 675, 687, 687, 675, 650, 612, 562, 500, 425,"
                " 337, 237, 125. On voice 0 in frames 1 to 4, on voice 1 in frames 3 to 6, after"
                " 100 .. 400 in frame 2."
            ),
            (
                "At 3 voice 0 still sounds, but was let go at 1. Sums: frame 2 775, 887, 987, 1075;"
                " frame 3 1150, 1174, 1174, 1150; frame 4 1100, 1024, 924, 800."
            ),
        ),
        (
            *(100, 200, 300, 400, 500, 562, 612, 650, 775, 887, 987, 1075, 1150, 1174, 1174, 1150),
            *(1100, 1024, 924, 800, 650, 612, 562, 500, 425, 337, 237, 125, (0, 4)),
        ),
    ),
    Hand(
        "end-of-another-trigger",
        ("5.4 R11", "5.5 R5"),
        "an end forgets and lets go what its own trigger holds, and nothing else",
        table(
            voices=2,
            inputs=[SWITCH] * 2,
            counters=[("09 00", "0 to 9, starts at 0")],
            clips=[LOOP],
            effects=[
                (
                    "00 10 00 01 06 0A 00 02",
                    "clip 0, looped, release 1 frame; at 10 counter 0 plus 1",
                )
            ],
            triggers=[
                ("02 00 01 00", "while_held, input 0, begin 0"),
                ("02 01 01 00", "while_held, input 1, begin 0"),
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
        ("6.1 R2", "5.5 R1"),
        "the product of step and pitch is rounded down",
        played(
            clip(8, step=(number(66136), "66136")),
            data=(ALTERNATING,),
            effects=[("04 01 00 00", "pitch_spread 1; play clip 0")],
        ),
        2,
        ("1 PRESS 0 0",),
        shot(1, 0)[:-1],
        (
            (
                "Draw 4: pitch 4093, as 4096 + (4 - 32768) / 8192. 66136 * 4093 = 270694648; >> 12"
                " = 66087 (and 2296 / 4096)."
            ),
            (
                "66087 = 1 and 551: -32767 + 65534 * 275 / 32768 = -32767 + 549. 132174 = 2 and"
                " 1102: 32767 - 65534 * 551 / 32768 = 32767 - 1101. 198261 = 3 and 1653: -32767 +"
                " 65534 * 826 / 32768 = -32767 + 1651."
            ),
        ),
        ((0, 4), 32767, -32218, 31666, -31116),
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
        "release-goes-before-gain",
        ("6.1 R5", "6.1 R4", "2.1"),
        "the factor first and then the gain, both toward zero, also below 0; and the loop goes"
        " round meanwhile",
        table(
            inputs=[SWITCH],
            clips=[LOOP],
            effects=[("00 18 00 F0 2E 03", "clip 0 at gain 6000, looped, release 3 frames")],
            triggers=[("02 00 01 00", "while_held, input 0, begin 0")],
            clip_data=[pcm(*ZIGZAG)],
        ),
        12,
        press(0, 8),
        (*HELD, "8 RELEASE 0 0", "8 STOP 0 0", "8 RELEASED 0 0"),
        (
            (
                "Up to sample 31 value * 6000 / 4096. R = 12: factors 32768, 30038, 27307, 24576,"
                " 21846, 19115, 16384, 13654, 10923, 8192, 5462, 2731 on samples 32 to 35, then 4"
                " to 11 of the clip."
            ),
            (
                "1607, -1657, 1707, -1757, 207, -257, 307, -357, 407, -457, 507, -557 times factor"
                " / 32768: 1607, -1518, 1422, -1317, 138, -149, 153, -148, 135, -114, 84, -46;"
                " these * 6000 / 4096. (-1657 * 6000 / 4096 = -2427 first would give -2224.)"
            ),
        ),
        (
            *(
                10,
                -83,
                156,
                -229,
                303,
                -376,
                449,
                -522,
                596,
                -669,
                742,
                -815,
                889,
                -962,
                1035,
                -1108,
                1182,
                -1255,
                1328,
                -1401,
            ),
            *(1475, -1548, 1621, -1694, 1768, -1841, 1914, -1987, 2061, -2134, 2207, -2280),
            *(2354, -2223, 2083, -1929, 202, -218, 224, -216, 197, -166, 123, -67, (0, 4)),
        ),
    ),
    Hand(
        "release-of-8193-frames",
        ("6.1 R5", "6.1 R7"),
        "a release of more samples than the factor has steps lasts as long as it says",
        table(
            voices=2,
            inputs=[SWITCH] * 3,
            clips=[LOOP],
            effects=[
                ("00 10 00 81 40", "clip 0, looped, release 8193 frames"),
                ("00 00 00 00 00", "play clip 0 twice"),
            ],
            triggers=[
                ("02 00 01 00", "while_held, input 0, begin 0"),
                ("02 01 01 00", "while_held, input 1, begin 0"),
                ("00 02 01", "once, input 2, effect 1"),
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
                "R = 8193 * 4 = 32772. Voice 0 is let go at 1 and free at 1 + 8193 = 8194; voice 1,"
                " let go at 2, sounds until the end of frame 8194: its last factor is 32768 -"
                " floor(32771 * 32768 / 32772) = 1."
            ),
        ),
    ),
    Hand(
        "what-is-left-of-a-tail-below-0",
        ("6.1 R8", "2.1"),
        "what is left of a tail is rounded toward zero, also below 0",
        played(
            clip(40),
            clip(40, 80),
            clip(40, 160),
            data=(flat(-399, 40), flat(80, 40), flat(0, 40)),
            cut_ramp=8,
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
                "From sample 4: -399 * 7 / 8 = -349, -299, -249, -199, and 80 of the second sound."
                " At sample 8 n = 4: left -399 * 4 / 8 = -199 (not -200), T = -199 + 80 = -119:"
                " -104, -89, -74, -59, -44, -29, -14, 0."
            ),
        ),
        ((-399, 4), -269, -219, -169, -119, -104, -89, -74, -59, -44, -29, -14, 0),
    ),
]
