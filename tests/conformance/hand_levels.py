"""Basic vectors of layers, flicker and gauges (SPEC 6.2, 6.4, 6.5) where things happen in one
frame, worked by hand.
"""

from hand_light import AT_25700, AT_51400, light, shines
from hand_work import ONCE, SWITCH, Hand, duty_work, once, press, shone, singles, table, u16

TO_FULL_IN_2 = ("02 00 FF FF 00 80 11 01", "straight to full in 2")
FROM_AMBIENT = (
    "00 00 00 00 00 00 08 00 / 02 00 FF FF 00 80 11 01",
    "at ambient, then straight to full in 2",
)
FULL_AND_BACK = (
    "01 00 FF FF 00 00 00 00 / 02 00 00 00 00 80 19 01",
    "full for 1, straight to ambient in 2",
)
TO_0_IN_2 = ("02 00 00 00 00 80 11 01", "straight to 0 in 2")

VECTORS = [
    shines(
        "starts-from-what-started-before-it",
        ("6.2 R1", "5.1 R2"),
        "the start level is what is seen at the moment of the start: an ambient curve that started"
        " earlier in the frame counts",
        light(AT_25700, AT_51400, TO_FULL_IN_2, latest=True, ambient=(0, 1)),
        8,
        ((0, 0), (2, 1), (2, 2)),
        0,
        (25700, 25700, 51400, 58467, 65535),
        "In frame 2 the ambient layer goes to 51400, then the effect starts from there: 51400 +"
        " (14135 * 16384 >> 15 = 7067) = 58467.",
    ),
    shines(
        "starts-before-what-starts-behind-it",
        ("6.2 R1", "5.1 R2"),
        "an ambient curve that starts later in the frame does not count",
        light(AT_25700, TO_FULL_IN_2, AT_51400, latest=True, ambient=(0, 2)),
        8,
        ((0, 0), (2, 1), (2, 2)),
        0,
        (25700, 25700, 25700, 45617, 65535),
        "The effect starts from 25700: 25700 + (39835 * 16384 >> 15 = 19917) = 45617. Both started"
        " in frame 2: the effect is seen.",
    ),
    shines(
        "no-length-takes-the-ambient-level-of-its-moment",
        ("6.2 R3", "6.2 R1"),
        "segments of length 0 that a curve begins with are over at its start: the ambient level is"
        " that of this moment",
        light(AT_25700, AT_51400, FROM_AMBIENT, ambient=(0, 1)),
        8,
        ((0, 0), (2, 1), (2, 2)),
        0,
        (25700, 25700, 51400, 58467, 65535),
        "In frame 2 the ambient layer is at 51400 already when the effect's first segment ends:"
        " 51400 + 7067 = 58467.",
    ),
    shines(
        "no-length-takes-no-later-ambient-level",
        ("6.2 R3", "6.2 R1"),
        "an ambient curve that starts later in the frame does not count for them either",
        light(AT_25700, FROM_AMBIENT, AT_51400, ambient=(0, 2)),
        8,
        ((0, 0), (2, 1), (2, 2)),
        0,
        (25700, 25700, 51400, 51400, 65535),
        "The effect goes on from 25700: 25700, 45617, 65535; the ambient layer is at 51400 from"
        " frame 2 on, and higher until frame 4.",
    ),
    Hand(
        "gauge-changes-between-two-starts",
        ("6.2 R1", "6.5 R1", "5.5 R6"),
        "a gauge changes at once: what starts before it in the frame does not know, what starts"
        " after it does",
        table(
            channels=2,
            inputs=[SWITCH],
            counters=[("04 00 04 00", "0 to 4, starts at 4")],
            groups=[
                ("00 01 01 00", "channel 0, latest, gauge of counter 0"),
                ("01 01 01 00", "channel 1, latest, gauge of counter 0"),
            ],
            fades=[TO_0_IN_2],
            effects=[
                (
                    "06 00 00 00 / 09 00 01 00 / 86 01 00 00",
                    "fade 0 on group 0; counter 0 minus 1; fade 0 on group 1",
                )
            ],
            triggers=[ONCE],
        ),
        6,
        press(2, 3),
        (*once(2), "2 FADE 0 0", "2 COUNT 0 3", "2 FADE 1 0", "3 RELEASE 0 0"),
        (
            (
                "Gauges: 4 * 65535 / 4 = 65535, then 3 * 65535 / 4 = 49151. Channel 0 falls from"
                " 65535: 65535 - (65535 * 16384 >> 15 = 32767) = 32768; channel 1 from 49151: 49151"
                " - (49151 * 16384 >> 15 = 24575) = 24576."
            ),
            "In frame 4 both end at 0 and are not live any more: the gauge, 49151.",
            *(duty_work(level) for level in (65535, 49151, 32768, 24576)),
        ),
        ((0, 24),),
        (shone(0, 65535, 65535, 65535, 32768, 49151), shone(0, 65535, 65535, 49151, 24576, 49151)),
    ),
    Hand(
        "gauge-changes-under-an-effect",
        ("6.5 R1", "6.2 R5"),
        "a gauge does not start: by latest the effect is seen until it ends, however often the"
        " counter changes; and a level is rounded down",
        table(
            inputs=[SWITCH] * 2,
            counters=[("07 00 07 00", "0 to 7, starts at 7")],
            groups=[("00 01 01 00", "channel 0, latest, gauge of counter 0")],
            fades=[(
                "06 00 64 64 00 00 00 00 / 00 00 00 00 00 00 18 00",
                "25700 for 6, then at ambient",
            )],
            effects=[("86 00 00 00", "fade 0 on group 0"), ("89 00 01 00", "counter 0 minus 1")],
            triggers=singles(2),
        ),
        12,
        (*press(2, 3, 0), *press(4, 5, 1)),
        (*once(2), "2 FADE 0 0", "3 RELEASE 0 0", *once(4, 1, 1), "4 COUNT 0 6", "5 RELEASE 1 0"),
        (
            (
                "started is 2 on the effect layer and stays 0 on the gauge's. From 2 + 6 the gauge:"
                " 6 * 65535 / 7 = 56172 and 6 sevenths."
            ),
            *(duty_work(level) for level in (65535, 25700, 56172)),
        ),
        ((0, 48),),
        (shone(0, 65535, 65535, *[25700] * 6, 56172),),
    ),
    shines(
        "ambient-goes-on-from-what-is-seen",
        ("6.2 R1", "6.2 R5"),
        "by latest a curve of the ambient layer, too, begins at the level that is seen",
        light(
            AT_25700, (
                "00 00 FF FF 00 00 10 00",
                "full at once",
            ), TO_0_IN_2, latest=True, ambient=(0, 2)
        ),
        8,
        ((0, 0), (2, 1), (4, 2)),
        0,
        (25700, 25700, 65535, 65535, 65535, 32768, 0),
        "In frame 4 the effect's 65535 is seen: the ambient layer falls from there, and hides the"
        " effect, since it has started last.",
    ),
    Hand(
        "flicker-behind-another-segment",
        ("6.4 R1", "6.4 R2"),
        "the hash is of the frame in which the flicker began, not in which its curve did, and"
        " of the table's seed",
        table(
            seed=0x12345678,
            inputs=[SWITCH],
            groups=[("00 01 00 FF", "channel 0, highest")],
            fades=[
                (
                    "02 00 64 64 00 00 00 00 / 04 00 FF FF 00 80 14 00",
                    "25700 for 2, then flicker 4 long, target full, low 0, every 2",
                )
            ],
            effects=[("86 00 00 00", "fade 0 on group 0")],
            triggers=[ONCE],
        ),
        11,
        press(3, 4),
        (*once(3), "3 FADE 0 0", "4 RELEASE 0 0"),
        (
            (
                "The flicker begins in frame 5 from 25700. Point 1: x = 5 + 65536 + 12345678 ="
                " 1235567D; after the products A097E8A8, 04AF964D: h = 04AF = 1199. Point 2:"
                " 1236567D; 5586882F, C4F51F76: h = C4F5 = 50421. 65535 * h >> 16 = h - 1."
            ),
            (
                "25700, 25700 - 24502 / 2 = 13449, 1198, 1198 + 49222 / 2 = 25809, and at t = 4"
                " 50420."
            ),
            *(duty_work(level) for level in (25700, 13449, 1198, 25809, 50420)),
        ),
        ((0, 44),),
        (shone(3, 25700, 25700, 25700, 13449, 1198, 25809, 50420),),
    ),
    shines(
        "returned-to-ambient-and-gone",
        ("6.2 R3", "6.2 R5"),
        "a layer that ended in the ambient light keeps none of it: when the ambient light goes out,"
        " the lamp is dark",
        light(
            ("00 00 80 80 00 00 10 00", "32896 at once"),
            FULL_AND_BACK,
            ("00 00 00 00 00 00 10 00", "0 at once"),
            ambient=(0, 2),
        ),
        9,
        ((0, 0), (2, 1), (6, 2)),
        0,
        (32896, 32896, 65535, 65535, 49216, 32896, 0),
        "Frame 4: 65535 - (32639 * 16384 >> 15 = 16319) = 49216. In frame 5 the effect is over and"
        " has level 0; from 6 on the ambient light has, too.",
    ),
    shines(
        "starts-from-0-once-it-is-over",
        ("6.2 R1", "6.2 R3"),
        "by highest an effect layer that is not live begins at 0, not at the ambient level in which"
        " it ended",
        light((
            "00 00 80 80 00 00 10 00",
            "32896 at once",
        ), FULL_AND_BACK, TO_FULL_IN_2, ambient=(0,)),
        10,
        ((0, 0), (2, 1), (6, 2)),
        0,
        (32896, 32896, 65535, 65535, 49216, 32896, 32896, 32896, 65535),
        "From frame 6 the effect has 0, 32767, 65535; the ambient 32896 is higher than the first"
        " two.",
    ),
    shines(
        "ambient-target-is-0-whatever-was-lit",
        ("6.2 R4",),
        "on the ambient layer target ambient is 0, not the level that the layer had before",
        light(AT_25700, FULL_AND_BACK, ambient=(0, 1)),
        7,
        ((0, 0), (2, 1)),
        0,
        (25700, 25700, 65535, 65535, 32768, 0),
        "From frame 3 straight from 65535 to 0 in 2: 65535 - (65535 * 16384 >> 15 = 32767) = 32768,"
        " then 0.",
    ),
    shines(
        "segments-of-both-layers-end-in-one-frame",
        ("6.2 R3",),
        "the ambient layer goes first: what ends in a frame takes the level of the ambient segment"
        " that begins in it",
        light(
            ("04 00 FF FF 00 00 00 00 / 04 00 64 64 00 00 10 00", "full for 4, then 25700"),
            (
                "00 00 00 00 00 00 00 00 / 04 00 00 00 00 80 09 02 / "
                "04 00 00 00 00 80 11 02",
                "start 0, straight to ambient in 4, straight to 0 in 4",
            ),
            latest=True,
            ambient=(0,),
        ),
        12,
        ((2, 0), (2, 1)),
        2,
        (0, 16383, 32767, 49151, 25700, 19275, 12850, 6425, 25700),
        "65535 * (0, 8192, 16384, 24576) >> 15; in frame 6 at ambient, which is 25700 now; 25700 *"
        " (8192, 16384, 24576) >> 15 = 6425, 12850, 19275 less. In frame 10 the effect is over.",
    ),
    shines(
        "curves-of-both-layers-end-in-one-frame",
        ("6.2 R3",),
        "an ambient curve that ends in a frame is at its last level there, and what the effect"
        " takes is that level",
        light(
            ("00 00 FF FF 00 00 00 00 / 04 00 00 00 00 80 11 02", "start full, straight to 0 in 4"),
            (
                "04 00 00 00 00 00 08 00 / 02 00 FF FF 00 80 11 01",
                "at ambient for 4, straight to full in 2",
            ),
            ambient=(0,),
        ),
        10,
        ((2, 0), (2, 1)),
        2,
        (65535, 49152, 32768, 16384, 0, 32767, 65535),
        "Ambient 65535 - 65535 * (8192, 16384, 24576) >> 15, and 0 in frame 6: the effect rises"
        " from there, not from 16384.",
    ),
    Hand(
        "flicker-knows-nothing-of-draws",
        ("6.4 R2", "6.4 R1", "5.6 R1"),
        "the hash has the table's seed, not what the draws have made of it; and a point stands"
        " between low and target",
        table(
            inputs=[SWITCH] * 2,
            groups=[("00 01 00 FF", "channel 0, highest")],
            fades=[
                ("04 00 FF FF 00 80 14 40", "flicker 4 long, target full, low 16448, every 2")
            ],
            effects=[(
                "81 FF 00 00",
                "pitch_spread 255, no steps"), ("86 00 00 00", "fade 0 on group 0",
            )],
            triggers=singles(2),
        ),
        9,
        (*press(1, 2, 0), *press(3, 4, 1)),
        (*once(1), "2 RELEASE 0 0", *once(3, 1, 1), "3 FADE 0 0", "4 RELEASE 1 0"),
        (
            (
                "The effect of frame 1 draws. Point 1: x = 3 + 65536 + 1 = 10004; after the"
                " products B4C509E1, 5649BC19: h = 5649 = 22089. Point 2: 20004; 69DD3F0E,"
                " 0EEC3DBC: h = 0EEC = 3820."
            ),
            (
                "Points 16448 + (49087 * h >> 16) = 32992, 19309. 0 + 32992 / 2 = 16496; 32992 -"
                " 13683 / 2 = 26151 (6841 less); at t = 4 19309."
            ),
            *(duty_work(level) for level in (16496, 32992, 26151, 19309)),
        ),
        ((0, 36),),
        (shone(3, 0, 16496, 32992, 26151, 19309),),
    ),
    Hand(
        "levels-of-one-unit",
        ("3.6", "6.6 R1"),
        "a fade says its level to one part in 65535: the lowest, both sides of the foot's end, and"
        " the last below full",
        table(
            channels=4,
            inputs=[SWITCH],
            groups=[(f"{n:02X} 01 00 FF", f"channel {n}, highest") for n in range(4)],
            fades=[
                (f"00 00 {u16(level)} 00 00 10 00", f"{level} at once")
                for level in (1, 5242, 5243, 65534)
            ],
            effects=[(
                "06 00 00 00 / 06 01 01 00 / 06 02 02 00 / 86 03 03 00",
                "fade n on group n",
            )],
            triggers=[ONCE],
        ),
        4,
        press(1, 2),
        (*once(1), *(f"1 FADE {n} {n}" for n in range(4)), "2 RELEASE 0 0"),
        (
            "7A 14: 122 + 20 * 256 = 5242. FE FF: 254 + 255 * 256 = 65534.",
            *(duty_work(level) for level in (1, 5242, 5243, 65534)),
        ),
        ((0, 16),),
        tuple(shone(1, level) for level in (1, 5242, 5243, 65534)),
    ),
]
