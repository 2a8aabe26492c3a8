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
                ("02 00 01 00", "sustain, input 0, begin 0"),
                ("00 01 01", "single, input 1, effect 1"),
                ("00 02 02", "single, input 2, effect 2"),
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
        looping("02", "release 2 frames", voices=2),
        5,
        (*press(0, 1), *press(2, 3)),
        (
            *(*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
            *("2 PRESS 0 0", "2 START 0 0", "2 EFFECT 0 0", "2 SOUND 1 0", "3 RELEASE 0 0", "3 STOP 0 0", "3 RELEASED 1 0"),
        ),
        (
            "decay = 32768 / 8 = 4096: factors 8 / 8, 7 / 8, .. 1 / 8. Voice 0: 100 .. 400; 500 * 8 / 8, 600 * 7 / 8, 700 * 6 / 8, 800 * 5 / 8 "
            "= 500, 525, 525, 500; 900 * 4 / 8, .. 1200 * 1 / 8 = 450, 375, 275, 150. It is over at 3.",
            "Voice 1 from frame 2: 100 .. 400 (550, 575, 575, 550 with voice 0); 500, 525, 525, 500; 450, 375, 275, 150.",
        ),
        (100, 200, 300, 400, 500, 525, 525, 500, 550, 575, 575, 550, 500, 525, 525, 500, 450, 375, 275, 150),
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
            triggers=[("02 00 01 00", "sustain, input 0, begin 0"), ("02 01 01 00", "sustain, input 1, begin 0")],
            clip_data=[SILENT_LOOP],
        ),
        15,
        (*press(0, 12, 0), *press(1, 3, 1)),
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
