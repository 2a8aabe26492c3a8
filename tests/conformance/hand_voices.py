"""Basic vectors of voices and what holds them (SPEC 6.1, 5.4 R11), worked by hand."""

from hand_sound import HELD, LOOP, clip, flat, looping, pcm, played, shot, three
from hand_work import SWITCH, Hand, number, press, table

SILENT_LOOP = (flat(0, 36)[0], "PCM 0, 36 times")
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
            effects=[("00 10 00 28", "clip 0, looped, release 40"), ("00 00 01", "play clip 1"), ("00 00 00", "play clip 0")],
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
        ("Voice 0 plays clip 0, but as a loop that is held: among voice 1 alone none plays clip 0, so the oldest of it.",),
    ),
    Hand(
        "let-go-once",
        ("6.1 R5", "5.4 R11"),
        "a sound that was let go before is not let go again by the next end of its trigger, and falls on as it fell",
        looping("04", "release 4 frames", voices=2),
        8,
        (*press(0, 1), *press(2, 3)),
        (
            *(*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
            *("2 PRESS 0 0", "2 START 0 0", "2 EFFECT 0 0", "2 SOUND 1 0", "3 RELEASE 0 0", "3 STOP 0 0", "3 RELEASED 1 0"),
        ),
        (
            "R = 16, so the factor loses 32768 / 16 = 2048: 16 / 16, 15 / 16, .. 1 / 16 on 500, 600, .. 2000: 500, 562, 612, 650, 675, 687, 687, 675, 650, "
            "612, 562, 500, 425, 337, 237, 125. On voice 0 in frames 1 to 4, on voice 1 in frames 3 to 6, after 100 .. 400 in frame 2.",
            "At 3 voice 0 still sounds, but was let go at 1. Sums: frame 2 775, 887, 987, 1075; frame 3 1150, 1174, 1174, 1150; frame 4 1100, "
            "1024, 924, 800.",
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
            effects=[("00 10 00 01 06 0A 00 02", "clip 0, looped, release 1 frame; at 10 counter 0 plus 1")],
            triggers=[("02 00 01 00", "while_held, input 0, begin 0"), ("02 01 01 00", "while_held, input 1, begin 0")],
            clip_data=[SILENT_LOOP],
        ),
        15,
        ("0 PRESS 0 0", *press(1, 3, 1), "12 RELEASE 0 0"),
        (
            *(*HELD, "1 PRESS 1 0", "1 START 1 0", "1 EFFECT 0 1", "1 SOUND 1 0"),
            *("3 RELEASE 1 0", "3 STOP 1 0", "3 RELEASED 1 0", "10 COUNT 0 1"),
            *("12 RELEASE 0 0", "12 STOP 0 0", "12 RELEASED 0 0"),
        ),
        ("At 3 trigger 1 ends: its voice 1, and its step at 1 + 10. Voice 0 and the step at 0 + 10 are trigger 0's.",),
    ),
    Hand(
        "step-is-rounded-down",
        ("6.1 R2", "5.5 R1"),
        "the product of step and pitch is rounded down",
        played(
            clip(8, step=(number(66136), "66136")), data=(ALTERNATING,), effects=[("04 01 00 00", "pitch_spread 1; play clip 0")]
        ),
        2,
        ("1 PRESS 0 0",),
        shot(1, 0)[:-1],
        (
            "Draw 4: pitch 4093, as 4096 + (4 - 32768) / 8192. 66136 * 4093 = 270694648; >> 12 = 66087 (and 2296 / 4096).",
            "66087 = 1 and 551: -32767 + 65534 * 275 / 32768 = -32767 + 549. 132174 = 2 and 1102: 32767 - 65534 * 551 / 32768 = 32767 - "
            "1101. 198261 = 3 and 1653: -32767 + 65534 * 826 / 32768 = -32767 + 1651.",
        ),
        ((0, 4), 32767, -32218, 31666, -31116),
    ),
]
