"""Basic vectors of sound (SPEC 6.1), worked by hand."""

from hand_work import ONCE, SWITCH, Hand, Record, flat, once, pcm, press, singles, table, u16, u24, u32

LOOP = (
    "00 00 01 00 / 24 00 00 / 00 00 00 / 04 00 00 00 08 00 00 00",
    "PCM, step 65536, 36 samples from place 0, loop from 4",
)
LOOP_DATA = (pcm(*range(100, 3700, 100))[0], "PCM 100, 200, .. 3600")


def clip(samples: int, place: int = 0, step: int = 65536) -> Record:
    return (
        f"{u32(step)} / {u24(samples)} / {u24(place)}",
        f"PCM, step {step}, {samples} samples from place {place}",
    )


def played(
    *clips: Record, data: tuple[Record, ...], effects: list[Record] | None = None, **fields: int
) -> list[str]:
    """Input n plays clip n once."""
    plays = effects or [(f"84 {n:02X} 00 10", f"play clip {n}") for n in range(len(clips))]
    return table(
        inputs=[SWITCH] * len(clips),
        clips=list(clips),
        effects=plays,
        triggers=singles(len(clips)),
        clip_data=data,
        **fields,
    )


def looping(release: int, step: int = 65536, voices: int = 1, frame: int = 4) -> list[str]:
    return table(
        voices=voices,
        frame=frame,
        inputs=[SWITCH],
        clips=[
            (
                f"{u32(step)} / 24 00 00 / 00 00 00 / 04 00 00 00 08 00 00 00",
                f"PCM, step {step}, 36 samples from place 0, loop from 4",
            )
        ],
        effects=[held_loop(release)],
        triggers=[("02 00 00 / 00", "while_held, input 0, begin 0")],
        clip_data=[LOOP_DATA],
    )


def held_loop(release: int) -> Record:
    play = "85 00 00 10"
    given = f"03 00 {u16(release)} / {play}" if release > 1 else play
    return given, f"clip 0, looped, release {release}"


HELD = ("0 PRESS 0 0", "0 START 0 0", "0 EFFECT 0 0", "0 SOUND 0 0")


def shot(
    frame: int,
    index: int,
    voice: int = 0,
    sounds: int | None = None,
    cut: tuple[int, int] | None = None,
) -> tuple[str, ...]:
    """A tap of input `index`: what is cut (voice, clip), and the sound; released in the next
    frame.
    """
    cuts = (f"{frame} CUT {cut[0]} {cut[1]}",) if cut else ()
    return (
        *once(frame, index, index),
        *cuts,
        f"{frame} SOUND {voice} {index if sounds is None else sounds}",
        f"{frame + 1} RELEASE {index} 0",
    )


LONG = [clip(200)] * 3


def three(rule: int, gains: tuple[str, str, str], meaning: str) -> list[str]:
    effects = [(f"84 {n:02X} {gain} 00", f"clip {n}") for n, gain in enumerate(gains)]
    return played(*LONG, data=(flat(0, 200),), effects=effects, voices=2, rule=rule)


VECTORS = [
    Hand(
        "sound-fills-its-frames",
        ("6.1 R1", "6.1 R4", "3.7"),
        "it begins with the first sample of its frame and ends with its last",
        played(clip(5), data=(pcm(7, -8, 9, 10, 11),)),
        4,
        press(1, 2),
        shot(1, 0),
        ("Frame 1 is samples 4 to 7, frame 2 begins with the fifth.",),
        ((0, 4), 7, -8, 9, 10, 11, (0, 7)),
    ),
    Hand(
        "half-speed",
        ("6.1 R4", "2.1"),
        "between two samples, rounded down; the last one goes to 0",
        played(clip(3, step=32768), data=(pcm(10, 13, -20),)),
        2,
        press(0, 1),
        shot(0, 0),
        (
            (
                "Positions 0, 1/2, 1, 1 1/2, 2, 2 1/2; q >> 8 = 128: 10; 10 + (3 * 128 >> 8) = 11;"
                " 13; 13 + (-33 * 128 >> 8) = 13 - 17 = -4; -20; -20 + (20 * 128 >> 8) = -10. The"
                " next stands at 3, the end."
            ),
        ),
        (10, 11, 13, -4, -20, -10, 0, 0),
    ),
    Hand(
        "double-speed",
        ("6.1 R4",),
        "a step above 65536 leaves samples out",
        played(clip(5, step=131072), data=(pcm(1, 2, 3, 4, 5),)),
        1,
        ("0 PRESS 0 0",),
        shot(0, 0)[:-1],
        ("Positions 0, 2, 4; the next, 6, is beyond 5.",),
        (1, 3, 5, 0),
    ),
    Hand(
        "gain-rounds-down",
        ("6.1 R2", "6.1 R4", "2.1"),
        "a product with the gain is rounded down, also below 0",
        played(
            clip(4), data=(pcm(-7, 7, -1, 1),), effects=[("84 00 00 08", "clip 0, gain 2048")]
        ),
        1,
        ("0 PRESS 0 0",),
        shot(0, 0)[:-1],
        ("Gain 2048 * 256 >> 8 = 2048. -7 * 2048 / 4096 = -3.5, so -4; 3.5: 3; -0.5: -1; 0.",),
        (-4, 3, -1, 0),
    ),
    Hand(
        "mu-law",
        ("6.1 R3",),
        "the six codes of the worked examples",
        played(
            ("00 00 01 01 / 06 00 00 / 00 00 00", "mu-law, step 65536, 6 samples from place 0"),
            data=(("FF 7F 80 00 C5 6E", "mu-law"),),
        ),
        2,
        press(0, 1),
        shot(0, 0),
        (
            (
                "FF and 7F: m AND 7F = 0: 132 - 132 = 0. 80: m = 7F, e = 7: (120 + 132) << 7 less"
                " 132 = 32124; 00 its negative."
            ),
            (
                "C5: m = 3A, e = 3: (80 + 132) << 3 less 132 = 1564. 6E: m = 91, e = 1: (8 + 132)"
                " << 1 less 132 = 148, negative."
            ),
        ),
        (0, 0, 32124, -32124, 1564, -148, 0, 0),
    ),
    Hand(
        "loop",
        ("6.1 R2", "6.1 R4", "3.7 R2"),
        "a held loop goes on from its loop_start",
        looping(1),
        20,
        ("0 PRESS 0 0",),
        HELD,
        ("36 samples, then 32 from sample 4 on (500 .. 3600), then 12 more.",),
        (*range(100, 3700, 100), *range(500, 3700, 100), *range(500, 1700, 100)),
    ),
    Hand(
        "seam-of-a-loop",
        ("6.1 R4",),
        "behind the last sample of a loop comes that at loop_start, also between the two",
        looping(1, 32768),
        19,
        ("0 PRESS 0 0",),
        HELD,
        (
            (
                "Even samples 100 .. 3600, odd ones 50 more; sample 71 at 35 1/2: 3600 - 3100 / 2 ="
                " 2050; sample 72 at 36, which is 4: 500, 550, 600, 650."
            ),
        ),
        (*range(100, 3601, 50), 2050, 500, 550, 600, 650),
    ),
    Hand(
        "release",
        ("6.1 R5", "5.4 R11", "5.5 R5"),
        "a loop that is let go falls to nothing while it goes on",
        looping(2),
        5,
        press(0, 2),
        (*HELD, "2 RELEASE 0 0", "2 STOP 0 0", "2 RELEASED 0 0"),
        (
            (
                "R = 2 * 4, so the loss is (2^31 + 7) / 8 = 2^28, and 4 * 2^28 = 2^30 a group:"
                " factors 2^31 and 2^30, gains 4096 and 4096 * 16384 >> 15 = 2048. Frame 2 in full:"
                " 900 .. 1200; frame 3 half of 1300 .. 1600. Then the factor would be 0."
            ),
        ),
        (*range(100, 1300, 100), 650, 700, 750, 800, (0, 4)),
    ),
    Hand(
        "shortest-release",
        ("6.1 R5",),
        "one frame passes in full",
        looping(1),
        4,
        press(0, 2),
        (*HELD, "2 RELEASE 0 0", "2 STOP 0 0", "2 RELEASED 0 0"),
        ("R = 1 * 4, the loss (2^31 + 3) / 4 = 2^29: behind the first group 2^31 <= 4 * 2^29.",),
        (*range(100, 1300, 100), (0, 4)),
    ),
    Hand(
        "loop-that-nothing-holds",
        ("6.1 R2", "5.5 R5"),
        "a looped step of an effect that is not held plays once",
        table(
            inputs=[SWITCH],
            clips=[LOOP],
            effects=[("85 00 00 10", "clip 0, looped, release 1")],
            triggers=[ONCE],
            clip_data=[LOOP_DATA],
        ),
        11,
        press(0, 1),
        shot(0, 0),
        ("Single does not hold its effect: 36 samples, then silence.",),
        (*range(100, 3700, 100), (0, 8)),
    ),
    Hand(
        "oldest-is-cut",
        ("6.1 R6", "6.1 R1"),
        "without a free voice the sound that began first goes",
        three(0, ("09", "05", "07"), ""),
        6,
        (*press(0, 1, 0), *press(1, 2, 1), *press(2, 3, 2)),
        (
            "0 PRESS 0 0",
            "0 SHOT 0 0",
            "0 EFFECT 0 0",
            "0 SOUND 0 0",
            "1 RELEASE 0 0",
            "1 PRESS 1 0",
            "1 SHOT 1 0",
            "1 EFFECT 1 1",
            "1 SOUND 1 1",
            "2 RELEASE 1 0",
            "2 PRESS 2 0",
            "2 SHOT 2 0",
            "2 EFFECT 2 2",
            "2 CUT 0 0",
            "2 SOUND 0 2",
            "3 RELEASE 2 0",
        ),
        ("Voice 0 since frame 0, voice 1 since frame 1: voice 0.",),
    ),
    Hand(
        "quietest-is-cut",
        ("6.1 R6",),
        "the least gain goes, among equals the oldest",
        three(1, ("09", "05", "09"), ""),
        8,
        (*press(0, 1, 0), *press(1, 2, 1), *press(2, 3, 2), *press(4, 5, 1)),
        (
            "0 PRESS 0 0",
            "0 SHOT 0 0",
            "0 EFFECT 0 0",
            "0 SOUND 0 0",
            "1 RELEASE 0 0",
            "1 PRESS 1 0",
            "1 SHOT 1 0",
            "1 EFFECT 1 1",
            "1 SOUND 1 1",
            "2 RELEASE 1 0",
            "2 PRESS 2 0",
            "2 SHOT 2 0",
            "2 EFFECT 2 2",
            "2 CUT 1 1",
            "2 SOUND 1 2",
            "3 RELEASE 2 0",
            *shot(4, 1, 0, cut=(0, 0)),
        ),
        ("Gains 9 and 5: voice 1 goes. Then 9 and 9: voice 0, since frame 0, is the older.",),
    ),
    Hand(
        "same-clip-is-cut",
        ("6.1 R6",),
        "the clip to be started goes first, else the oldest",
        three(2, ("09", "09", "09"), ""),
        10,
        (*press(0, 1, 0), *press(2, 3, 1), *press(4, 5, 1), *press(6, 7, 2)),
        (*shot(0, 0), *shot(2, 1, 1), *shot(4, 1, 1, cut=(1, 1)), *shot(6, 2, 0, cut=(0, 0))),
        ("At 4 clip 1 is on voice 1. At 6 nothing plays clip 2: voice 0 is the oldest.",),
    ),
    *(
        Hand(
            f"loop-is-{'spared' if end == 9 else 'cut-once-let-go'}",
            ("6.1 R6",),
            "a held loop is cut last, though it is the oldest; once let go it is as any other"
            " sound",
            table(
                voices=2,
                inputs=[SWITCH] * 2,
                clips=[LOOP, clip(200, 72)],
                effects=[
                    ("03 00 28 00 / 85 00 00 10", "clip 0, looped, release 40"),
                    ("84 01 00 10", "play clip 1"),
                ],
                triggers=[
                    ("02 00 00 / 00", "while_held, input 0, begin 0"),
                    ("08 00 00 / 01", "once, input 1, effect 1"),
                ],
                clip_data=[(flat(0, 36)[0], "PCM 0, 36 times"), flat(0, 200)],
            ),
            8,
            (
                *HELD[:1],
                *press(2, 3, 1),
                *(("4 RELEASE 0 0",) if end == 4 else ()),
                *press(6, 7, 1),
            ),
            (
                *HELD,
                "2 PRESS 1 0",
                "2 SHOT 1 0",
                "2 EFFECT 1 1",
                "2 SOUND 1 1",
                "3 RELEASE 1 0",
                *(("4 RELEASE 0 0", "4 STOP 0 0", "4 RELEASED 0 0") if end == 4 else ()),
                "6 PRESS 1 0",
                "6 SHOT 1 0",
                "6 EFFECT 1 1",
                *(("6 CUT 0 0", "6 SOUND 0 1") if end == 4 else ("6 CUT 1 1", "6 SOUND 1 1")),
                "7 RELEASE 1 0",
            ),
            (
                "Voice 0 loops since frame 0, voice 1 plays once since frame 2.",
                "Let go at 4 (still sounding at 6): the oldest, voice 0. Else only voice 1 may go.",
            ),
        )
        for end in (9, 4)
    ),
    Hand(
        "voice-that-ends-in-a-frame",
        ("6.1 R7",),
        "a voice is free for the frame after the one in which its sound ended",
        played(clip(5), clip(5), data=(flat(1, 5),)),
        4,
        (*press(0, 1, 0), *press(1, 2, 1)),
        (
            "0 PRESS 0 0",
            "0 SHOT 0 0",
            "0 EFFECT 0 0",
            "0 SOUND 0 0",
            "1 RELEASE 0 0",
            "1 PRESS 1 0",
            "1 SHOT 1 0",
            "1 EFFECT 1 1",
            "1 CUT 0 0",
            "1 SOUND 0 1",
            "2 RELEASE 1 0",
        ),
        (
            (
                "The first sound's fifth sample would be the first of frame 1: it is cut there and"
                " the second takes its place."
            ),
        ),
        ((1, 9), (0, 7)),
    ),
    Hand(
        "tail-of-a-cut",
        ("6.1 R8",),
        "a cut sound leaves its last value, which falls toward 0",
        played(clip(20), clip(20, 40), data=(flat(400, 20), flat(0, 20))),
        3,
        (*press(0, 1, 0), *press(1, 2, 1)),
        (
            "0 PRESS 0 0",
            "0 SHOT 0 0",
            "0 EFFECT 0 0",
            "0 SOUND 0 0",
            "1 RELEASE 0 0",
            "1 PRESS 1 0",
            "1 SHOT 1 0",
            "1 EFFECT 1 1",
            "1 CUT 0 0",
            "1 SOUND 0 1",
            "2 RELEASE 1 0",
        ),
        (
            (
                "The tail is 0 + 400. It loses its 32nd, rounded down, and 1: 400 - 12 - 1 = 387,"
                " - 13 = 374, - 12 = 362, 350, - 11 = 339, 328, 317, - 10 = 307."
            ),
        ),
        ((400, 4), 387, 374, 362, 350, 339, 328, 317, 307),
    ),
    Hand(
        "cut-within-a-tail",
        ("6.1 R8",),
        "what is left of the tail is added to the next one",
        played(
            clip(40),
            clip(40, 80),
            clip(40, 160),
            data=(flat(400, 40), flat(80, 40), flat(0, 40)),
        ),
        4,
        (*press(0, 1, 0), *press(1, 2, 1), *press(2, 3, 2)),
        (
            "0 PRESS 0 0",
            "0 SHOT 0 0",
            "0 EFFECT 0 0",
            "0 SOUND 0 0",
            "1 RELEASE 0 0",
            "1 PRESS 1 0",
            "1 SHOT 1 0",
            "1 EFFECT 1 1",
            "1 CUT 0 0",
            "1 SOUND 0 1",
            "2 RELEASE 1 0",
            "2 PRESS 2 0",
            "2 SHOT 2 0",
            "2 EFFECT 2 2",
            "2 CUT 0 1",
            "2 SOUND 0 2",
            "3 RELEASE 2 0",
        ),
        (
            (
                "Frame 1: 387, 374, 362, 350, and 80 of the second sound. In frame 2 the tail is"
                " 350 + 80 = 430: - 13 - 1 = 416, - 14 = 402, - 13 = 389, 376, - 12 = 364, 352,"
                " 340, - 11 = 329."
            ),
        ),
        ((400, 4), 467, 454, 442, 430, 416, 402, 389, 376, 364, 352, 340, 329),
    ),
    Hand(
        "cut-before-its-first-sample",
        ("6.1 R8", "6.1 R1"),
        "what had not begun leaves no tail",
        played(clip(20), clip(20, 40), data=(flat(400, 20), flat(0, 20))),
        3,
        ("1 PRESS 0 0", "1 PRESS 1 0"),
        (
            "1 PRESS 0 0",
            "1 PRESS 1 0",
            "1 SHOT 0 0",
            "1 EFFECT 0 0",
            "1 SOUND 0 0",
            "1 SHOT 1 0",
            "1 EFFECT 1 1",
            "1 CUT 0 0",
            "1 SOUND 0 1",
        ),
        ("It has added nothing: the tail stays 0.",),
        ((0, 12),),
    ),
    Hand(
        "volume-moves-by-four",
        ("6.1 R9", "6.1 R10"),
        "the volume moves before the samples of each frame, the last step by what is missing",
        played(clip(99), data=(flat(25600, 99),)),
        6,
        (*press(0, 1), "2 VOLUME 0 246"),
        (*shot(0, 0), "2 VOLUME 0 246"),
        ("256 toward 246: 252, 248, 246. 25600 * 252 / 256 = 25200, 24800, 24600.",),
        ((25600, 8), (25200, 4), (24800, 4), (24600, 8)),
    ),
    Hand(
        "volume-rounds-down",
        ("6.1 R10",),
        "a product with the volume is rounded down, also below 0",
        played(clip(9), data=(flat(-7, 9),)),
        1,
        ("0 PRESS 0 0", "0 VOLUME 0 0"),
        ("0 VOLUME 0 0", *shot(0, 0)[:-1]),
        ("-7 * 252 / 256 = -6.89, so -7.",),
        ((-7, 4),),
    ),
    Hand(
        "saturated",
        ("6.1 R10",),
        "a sum that does not fit is held and counted; what just fits is not",
        played(clip(4), clip(4), data=(pcm(20000, -20000, 16383, -16384),), voices=2),
        1,
        ("0 PRESS 0 0", "0 PRESS 1 0"),
        (
            "0 PRESS 0 0",
            "0 PRESS 1 0",
            "0 SHOT 0 0",
            "0 EFFECT 0 0",
            "0 SOUND 0 0",
            "0 SHOT 1 0",
            "0 EFFECT 1 1",
            "0 SOUND 1 1",
        ),
        ("40000 and -40000 are held; 32766 and -32768 fit.",),
        (32767, -32768, 32766, -32768),
        None,
        2,
    ),
    Hand(
        "pitch-and-gain-are-drawn",
        ("5.5 R2", "5.6 R1", "6.1 R2"),
        "pitch draws first, then gain, and both are rounded toward zero",
        played(
            clip(8),
            data=(pcm(*range(0, 8000, 1000)),),
            effects=[("01 01 FF 00 / 84 00 00 10", "pitch_spread 1, gain_spread 255; play clip 0")],
        ),
        2,
        ("1 PRESS 0 0",),
        shot(1, 0)[:-1],
        (
            (
                "Draws 4 and 1032. Pitch 4096 + 1 * (4 - 32768) / 8192 = 4096 - 3 = 4093; step"
                " 65536 * 4093 >> 12 = 65488."
            ),
            "Gain 256 + 255 * (1032 - 32768) / 32768 = 256 - 246 = 10; 4096 * 10 >> 8 = 160.",
            (
                "65488: q >> 8 = 255: 1000 * 255 >> 8 = 996, * 160 >> 12 = 38. 130976 = 1 and"
                " 65440: 1000 + 996 = 1996: 77. 2 and 65392: 2996: 117."
            ),
        ),
        ((0, 4), 0, 38, 77, 117),
    ),
    Hand(
        "steps-of-one-effect-in-their-order",
        ("5.5 R1", "6.1 R1"),
        "two plays of one effect in one frame take the two lowest voices in their order",
        played(
            clip(2),
            data=(pcm(5, 6),),
            effects=[("04 00 00 10 / 84 00 00 20", "play clip 0; clip 0 at gain 8192")],
            voices=3,
        ),
        1,
        ("0 PRESS 0 0",),
        (*once(0), "0 SOUND 0 0", "0 SOUND 1 0"),
        ("5 + 10 = 15, 6 + 12 = 18.",),
        (15, 18, 0, 0),
    ),
    Hand(
        "pitch-is-drawn",
        ("5.5 R2", "6.1 R2"),
        "a draw below the middle lowers the pitch, rounded toward zero",
        played(
            clip(8),
            data=(pcm(*range(0, 8000, 1000)),),
            effects=[("01 FF 00 00 / 84 00 00 10", "pitch_spread 255; play clip 0")],
        ),
        2,
        ("1 PRESS 0 0",),
        shot(1, 0)[:-1],
        (
            (
                "Draw 4: 255 * (4 - 32768) / 8192 = -1019.87, so 4096 - 1019 = 3077; step 65536 *"
                " 3077 >> 12 = 49232."
            ),
            (
                "49232: q >> 8 = 192: 1000 * 192 >> 8 = 750. 98464 = 1 and 32928: 128: 1000 + 500"
                " = 1500. 2 and 16624: 64: 2250."
            ),
        ),
        ((0, 4), 0, 750, 1500, 2250),
    ),
    Hand(
        "gain-has-an-end",
        ("6.1 R2", "5.5 R2"),
        "gain_spread may raise the gain, but not beyond 32767",
        table(
            seed=0x12345678,
            inputs=[SWITCH],
            clips=[clip(4)],
            effects=[("01 00 FF 00 / 84 00 FF 7F", "gain_spread 255; play clip 0 at gain 32767")],
            triggers=[ONCE],
            clip_data=[flat(100, 4)],
        ),
        1,
        ("0 PRESS 0 0",),
        shot(0, 0)[:-1],
        (
            (
                "Draw 34712: 256 + 255 * 1944 / 32768 = 271; 32767 * 271 >> 8 = 34686, held at"
                " 32767; 100 * 32767 / 4096 = 799."
            ),
        ),
        ((799, 4),),
    ),
    Hand(
        "loop-passes-its-end",
        ("6.1 R4",),
        "a step that passes the end of a loop goes on as far behind loop_start",
        looping(1, 163840),
        5,
        ("0 PRESS 0 0",),
        HELD,
        (
            (
                "Positions 0, 2 1/2, .. 35; sample 15 at 37 1/2, which is 4 + 33 mod 32 = 5 1/2:"
                " 600 + 50; then 8, 10 1/2, 13, 15 1/2."
            ),
            "A whole position i gives 100 * (i + 1), a half 50 more.",
        ),
        (*range(100, 3601, 250), 650, 900, 1150, 1400, 1650),
    ),
    Hand(
        "release-in-thirds",
        ("6.1 R5",),
        "the loss is rounded up, so that the sound ends where the release does",
        table(
            inputs=[SWITCH],
            clips=[LOOP],
            effects=[("03 00 03 00 / 85 00 00 10", "clip 0, looped, release 3 frames")],
            triggers=[("02 00 00 / 00", "while_held, input 0, begin 0")],
            clip_data=[flat(32767, 36)],
        ),
        5,
        press(0, 1),
        (*HELD, "1 RELEASE 0 0", "1 STOP 0 0", "1 RELEASED 0 0"),
        (
            (
                "R = 3 * 4 = 12; loss (2^31 + 11) / 12 = 178956971 (2^31 / 12 is 178956970 and 2"
                " thirds). Factors 2147483648, 1431655764, 715827880; 4 * 178956971 = 715827884 is"
                " not below the last."
            ),
            (
                "factor >> 16 = 32768, 21845, 10922: gains 4096, 4096 * 21845 >> 15 = 2730, 1365;"
                " 32767 * gain >> 12 = 32767, 21839, 10919."
            ),
        ),
        ((32767, 8), (21839, 4), (10919, 4), (0, 4)),
    ),
    Hand(
        "released-voice-is-free",
        ("6.1 R5", "6.1 R7"),
        "a loop ends behind the group whose next factor would be 0, not a frame later",
        table(
            inputs=[SWITCH] * 2,
            clips=[LOOP],
            effects=[
                ("85 00 00 10", "clip 0, looped, release 1 frame"),
                ("84 00 00 10", "play clip 0"),
            ],
            triggers=[
                ("02 00 00 / 00", "while_held, input 0, begin 0"),
                ("08 00 00 / 01", "once, input 1, effect 1"),
            ],
            clip_data=[(flat(0, 36)[0], "PCM 0, 36 times")],
        ),
        5,
        (*press(0, 2), "3 PRESS 1 0"),
        (
            *HELD,
            "2 RELEASE 0 0",
            "2 STOP 0 0",
            "2 RELEASED 0 0",
            "3 PRESS 1 0",
            "3 SHOT 1 0",
            "3 EFFECT 1 1",
            "3 SOUND 0 0",
        ),
        (
            (
                "loss 2^29: behind the group of frame 2 the factor would be 0. The voice is free"
                " for frame 3, so nothing is cut."
            ),
        ),
    ),
    Hand(
        "tail-is-held-at-each-cut",
        ("6.1 R8", "6.1 R6"),
        "the tail is held within its range once a cut, in the order of the cuts",
        table(
            voices=6,
            rule=1,
            inputs=[SWITCH] * 2,
            clips=[clip(99), clip(99, 198), clip(99, 396)],
            effects=[
                (
                    "04 00 FF 7F" + " / 04 01 FE 7F" * 4 + " / 84 01 FE 7F",
                    "clip 0 at gain 32767, clip 1 five times at 32766",
                ),
                ("04 02 FF 7F / " * 5 + "84 02 FF 7F", "clip 2 six times at gain 32767"),
            ],
            triggers=singles(2),
            clip_data=[flat(-32767, 99), flat(32767, 99), flat(0, 99)],
        ),
        66,
        ("0 VOLUME 0 0", "63 PRESS 0 0", "64 PRESS 1 0", "64 VOLUME 0 256"),
        (
            *(
                "0 VOLUME 0 0",
                "63 PRESS 0 0",
                "63 SHOT 0 0",
                "63 EFFECT 0 0",
                "63 SOUND 0 0",
                *(f"63 SOUND {n} 1" for n in range(1, 6)),
            ),
            *("64 VOLUME 0 256", "64 PRESS 1 0", "64 SHOT 1 0", "64 EFFECT 1 1"),
            *(line for n in (1, 2, 3, 4, 5) for line in (f"64 CUT {n} 1", f"64 SOUND {n} 2")),
            *("64 CUT 0 0", "64 SOUND 0 2"),
        ),
        (
            (
                "32767 * 32766 >> 12 = 262120, five times: 1310600, held at 1048575; then -32767 *"
                " 32767 >> 12 = -262129: 786446."
            ),
            (
                "- 24576 - 1 = 761869, - 23809 = 738060, 714995, 692651; in frame 65 671005,"
                " 650036, 629722, 610043. The volume is 0 since frame 63 (256 - 64 * 4), 4 in"
                " frame 64, 8 in frame 65: these times 4 >> 8, times 8 >> 8."
            ),
        ),
        ((0, 256), 11904, 11532, 11171, 10822, 20968, 20313, 19678, 19063),
    ),
    Hand(
        "volume-goes-up",
        ("6.1 R9",),
        "the volume moves up as it moves down, and stops at what is wanted",
        played(clip(99), data=(flat(25600, 99),)),
        5,
        ("0 PRESS 0 0", "0 VOLUME 0 240", "2 VOLUME 0 254"),
        ("0 VOLUME 0 240", *shot(0, 0)[:-1], "2 VOLUME 0 254"),
        ("252, 248, then up: 252, 254, 254. 25600 * v / 256 = 100 * v.",),
        ((25200, 4), (24800, 4), (25200, 4), (25400, 8)),
    ),
]
