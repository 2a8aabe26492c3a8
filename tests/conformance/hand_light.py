"""Basic vectors of light (SPEC 6.2 to 6.6), worked by hand."""

from hand_work import (
    ONCE,
    SWITCH,
    Hand,
    duty_work,
    first_segments,
    once,
    press,
    shone,
    singles,
    table,
    u16,
)

FULL = 65535
POINTS = (
    32768,
    23914,
    17436,
    12697,
    9230,
    6693,
    4837,
    3479,
    2486,
    1759,
    1227,
    838,
    554,
    345,
    193,
    82,
    0,
)  # D of SPEC 6.3 R4
U = [t * (2**23 // 300) >> 8 for t in range(300)]


def light(
    *curves: tuple[str, str],
    latest: bool = False,
    ambient: tuple[int, ...] = (),
    mask: int = 0,
) -> list[str]:
    """Input n starts curve n on the only channel; those in `ambient` on the ambient layer."""
    return table(
        mask=mask,
        inputs=[SWITCH] * len(curves),
        groups=[(f"00 01 0{int(latest)} FF", f"channel 0, {'latest' if latest else 'highest'}")],
        fades=curves,
        effects=[
            (
                f"{0x86 + (n in ambient):02X} 00 {u16(first)}",
                f"fade {n} on group 0, {'ambient' if n in ambient else 'effect'} layer",
            )
            for n, first in enumerate(first_segments(curves))
        ],
        triggers=singles(len(curves)),
    )


def shines(
    id: str,
    rules: tuple[str, ...],
    why: str,
    bytes_: list[str],
    until: int,
    taps: tuple[tuple[int, int], ...],
    first: int,
    levels: tuple[int, ...],
    *work: str,
) -> Hand:
    """taps: (frame, input), released in the next frame. The channel has `levels` from frame
    `first` on, before that 0.
    """
    events = sorted(
        (
            (frame + late, index, ("PRESS", "RELEASE")[late])
            for frame, index in taps
            for late in (0, 1)
        ),
        key=lambda event: event[0],
    )
    fades = [line.split(": ")[1] for line in bytes_ if ": fade " in line]
    firsts = [fades.index(name) for name in dict.fromkeys(fades)]
    trace = []
    for frame in sorted({frame for frame, _, _ in events}):
        now = sorted(event for event in events if event[0] == frame)
        trace += [f"{frame} {kind} {index} 0" for _, index, kind in now]
        for _, index, kind in now:
            if kind == "PRESS":
                trace += [
                    f"{frame} SHOT {index} 0",
                    f"{frame} EFFECT {index} {index}",
                    f"{frame} FADE 0 {firsts[index]}",
                ]
    lines = (*work, *(duty_work(level) for level in dict.fromkeys(levels) if level))
    return Hand(
        id,
        rules,
        why,
        bytes_,
        until,
        tuple(f"{frame} {kind} {index} 0" for frame, index, kind in events),
        tuple(trace),
        lines,
        ((0, 4 * until),),
        (shone(first, *levels),),
    )


AT_25700 = ("00 00 64 64 00 00 10 00", "25700 at once")
AT_51400 = ("00 00 C8 C8 00 00 10 00", "51400 at once")
TO_FULL_IN_4 = ("04 00 FF FF 00 80 11 02", "straight to full in 4")

VECTORS = [
    shines(
        "step-holds-its-target",
        ("6.3 R1", "6.2 R2", "6.2 R3"),
        "a step is at its target for all its length, and the layer stays at the last level",
        light((
            "03 00 64 64 00 00 00 00 / 02 00 0A 0A 00 00 10 00",
            "25700 for 3, then 2570 for 2",
        )),
        10,
        ((2, 0),),
        2,
        (25700, 25700, 25700, 2570),
        "64 64 is 100 + 100 * 256 = 25700; 0A 0A is 10 + 10 * 256 = 2570.",
    ),
    shines(
        "straight-up",
        ("6.3 R2", "3.6"),
        "a straight line in whole numbers",
        light(TO_FULL_IN_4),
        9,
        ((2, 0),),
        2,
        (0, 16383, 32767, 49151, FULL),
        "w = 0, 8192, 16384, 24576; 65535 * w >> 15 = 0, 16383, 32767, 49151; then the target.",
    ),
    shines(
        "straight-down",
        ("2.3", "6.3 R2", "6.2 R1"),
        "on the way down toward rounds to the start, not to 0",
        light((
            "00 00 FF FF 00 00 00 00 / 04 00 00 00 00 80 11 02",
            "start full, straight to 0 in 4",
        )),
        9,
        ((2, 0),),
        2,
        (FULL, 49152, 32768, 16384, 0),
        "65535 - (65535 * w >> 15) = 65535 - 16383, - 32767, - 49151.",
    ),
    shines(
        "rate-is-rounded-down",
        ("6.3 R2",),
        "the way of a frame is rounded down once; a segment of one frame stands at its start and is"
        " over",
        light((
            "06 00 FF FF 55 55 01 02 / 01 00 00 00 00 80 11 00",
            "straight to full in 6, straight to 0 in 1",
        )),
        9,
        ((0, 0),),
        0,
        (0, 10921, 21843, 32765, 43689, 54611, FULL, 0),
        "n = 6: by 2, pace 2^17 / 6 = 21845; t * that >> 2 = 5461, 10922, 16383 (not 16384), 21845, 27306; 65535"
        " * w >> 15 = 10921, 21843, 32765, 43689, 54611. In frame 6 t = 0 of the next.",
    ),
    shines(
        "longest-segment",
        ("6.3 R2", "2.3"),
        "a segment of 65535 frames moves by a 32768th every other frame",
        light((
            "00 00 FF FF 00 00 00 00 / FF FF 00 00 00 40 11 0F",
            "start full, straight to 0 in 65535",
        )),
        10,
        ((0, 0),),
        0,
        (FULL, FULL, 65534, 65534, 65532, 65532, 65530, 65530, 65528, 65528),
        "n = 65535: by 15, pace 2^30 / 65535 = 16384; t * 16384 >> 15 = t / 2: 65535 * (0, 1, 2, 3, 4) >>"
        " 15 = 0, 1, 3, 5, 7 less.",
    ),
    shines(
        "ease-in-and-out",
        ("6.3 R3",),
        "the cubic in two products of 32 bits",
        light(("04 00 FF FF 00 80 12 02", "ease to full in 4")),
        7,
        ((0, 0),),
        0,
        (0, 10239, 32767, 55295, FULL),
        "u = 8192: 2048 * 81920 >> 15 = 5120. u = 16384: 8192 * 65536 >> 15 = 16384. u = 24576:"
        " 18432 * 49152 >> 15 = 27648.",
        "65535 * 5120 >> 15 = 10239; * 16384: 32767; * 27648: 55295.",
    ),
    shines(
        "decay",
        ("6.3 R4",),
        "the table of 17 points is read between its points",
        light(("00 00 FF FF 00 00 00 00 / 03 00 00 00 55 55 13 01", "start full, decay to 0 in 3")),
        6,
        ((0, 0),),
        0,
        (FULL, 12150, 1936, 0),
        "t = 1: u = 10922, k = 5, r = 682: 6693 - (1856 * 682 >> 11 = 618) = 6075, w = 26693. t ="
        " 2: u = 21845, k = 10, r = 1365: 1227 - (389 * 1365 >> 11 = 259) = 968, w = 31800.",
        "65535 - (65535 * 26693 >> 15 = 53385) = 12150; 65535 - (65535 * 31800 >> 15 = 63599) ="
        " 1936.",
    ),
    shines(
        "flicker-between-equal-levels",
        ("6.4 R1",),
        "between two points flicker is a straight line; where low is the target, all points but the"
        " first are there",
        light(("06 00 C8 C8 00 40 14 C8", "flicker 6 long, target and low 51400, every 4")),
        12,
        ((1, 0),),
        1,
        (0, 12850, 25700, 38550, 51400),
        "E = 16384; point 0 is 0, points 1 and 2 are 51400 + 0: 51400 * (t * 8192) >> 15 = 0,"
        " 12850, 25700, 38550.",
    ),
    shines(
        "flicker-whose-points-are-no-frames",
        ("6.4 R1",),
        "where `every` does not divide 65536 the way to the next point is a little longer: the"
        " phase grows by what was rounded down once",
        light(("07 00 C8 C8 55 55 14 C8", "flicker 7 long, target and low 51400, every 3")),
        12,
        ((1, 0),),
        1,
        (0, 17132, 34266, 51398, 51400),
        "E = 65536 / 3 = 21845. Phases 0, 21845, 43690, 65535, 87380: w = 0, 10922, 21845, 32767 on"
        " the way to point 1, then from point 1 to 2. 51400 * w >> 15 = 17132, 34266, 51398.",
    ),
    shines(
        "flicker-hands-on-its-level",
        ("6.2 R3", "6.4 R1"),
        "a flicker that ends between two points ends at the level there",
        light(
            (
                "02 00 C8 C8 00 40 04 C8 / 02 00 00 00 00 80 11 01",
                "flicker 2 long to 51400, every 4; straight to 0 in 2",
            )
        ),
        12,
        ((1, 0),),
        1,
        (0, 12850, 25700, 12850, 0),
        "At t = 2: 51400 * 16384 >> 15 = 25700; from there 25700 - (25700 * 16384 >> 15) = 12850,"
        " then 0.",
    ),
    shines(
        "flicker-hash",
        ("6.4 R2", "6.4 R1"),
        "the hash is of the number of the point, channel and the table's seed, so any frame can be"
        " computed alone",
        light(("04 00 FF FF 00 80 14 00", "flicker 4 long, target full, low 0, every 2")),
        6,
        ((0, 0),),
        0,
        (0, 19531, 39062, 47128, 55194),
        "Point 1, F = 65536: x = 10000 + 0 + 1 = 10001; XOR (>> 16: 1) = 10000; * 7FEB352D ="
        " 352D0000 within 32 bits; XOR (>> 15: 6A5A) = 352D6A5A; * 846CA68B = 98971ADE: h = 9897 ="
        " 39063.",
        "Point 2, F = 131072: x = 20001; 20003; EA1B9F87; XOR 1D437 = EA1A4BB0; D79B3890: h = D79B"
        " = 55195.",
        "65535 * h >> 16 = 39062, 55194. E = 32768, w = 16384 half way: 39062 / 2 = 19531, 39062 +"
        " 16132 / 2 = 47128.",
    ),
    shines(
        "interrupted-in-mid-fade",
        ("6.2 R1",),
        "a curve without a start begins at the present level of its layer",
        light(TO_FULL_IN_4, ("02 00 00 00 00 80 11 01", "straight to 0 in 2")),
        9,
        ((0, 0), (2, 1)),
        0,
        (0, 16383, 32767, 16384, 0),
        "At t = 2 32767; 32767 - (32767 * 16384 >> 15 = 16383) = 16384.",
    ),
    shines(
        "loop-goes-on-from-where-it-ended",
        ("6.2 R3",),
        "a loop does not go back to its start level",
        light((
            "00 00 00 00 00 00 00 00 / 02 00 FF FF 00 80 31 01",
            "loop, start 0, straight to full in 2",
        )),
        8,
        ((0, 0),),
        0,
        (0, 32767, FULL),
        "The second time it goes from 65535 to 65535.",
    ),
    shines(
        "loop-with-steps-of-no-length",
        ("6.2 R2", "6.2 R3"),
        "a segment of length 0 is over when it begins",
        light((
            "00 00 FF FF 00 00 20 00 / 02 00 00 00 00 80 11 01",
            "loop: full at once, straight to 0 in 2",
        )),
        6,
        ((0, 0),),
        0,
        (FULL, 32768, FULL, 32768, FULL, 32768),
        "65535 - 32767 = 32768, and at t = 2 back to full.",
    ),
    shines(
        "return-to-ambient",
        ("6.2 R3", "6.2 R5"),
        "an effect ends in the ambient light it came from, and is no longer live",
        light(
            ("00 00 80 80 00 00 10 00", "32896 at once"),
            (
                "01 00 FF FF 00 00 00 00 / 02 00 00 00 00 80 19 01",
                "full for 1, straight to ambient in 2",
            ),
            ambient=(0,),
        ),
        9,
        ((0, 0), (2, 1)),
        0,
        (32896, 32896, FULL, FULL, 49216, 32896),
        "Frame 2 is the step, in frame 3 the line begins from it; 65535 - (32639 * 16384 >> 15 ="
        " 16319) = 49216.",
    ),
    shines(
        "ambient-that-moves-is-followed",
        ("6.2 R2", "6.2 R5"),
        "target ambient is the ambient level of the same frame, not that of the start",
        light(
            ("00 00 FF FF 00 00 00 00 / 04 00 00 00 00 80 11 02", "start full, straight to 0 in 4"),
            (
                "00 00 00 00 00 00 00 00 / 02 00 00 00 00 80 19 01",
                "start 0, straight to ambient in 2",
            ),
            latest=True,
            ambient=(0,),
        ),
        9,
        ((0, 0), (1, 1)),
        0,
        (FULL, 0, 16384, 16384, 0),
        "Ambient 65535, 49152, 32768, 16384, 0. Frame 2: half way from 0 to 32768. Frame 3: over.",
    ),
    shines(
        "ambient-target-of-the-ambient-layer",
        ("6.2 R4",),
        "on the ambient layer target ambient is 0",
        light((
            "00 00 FF FF 00 00 00 00 / 02 00 00 00 00 80 19 01",
            "start full, straight to ambient in 2",
        ), ambient=(0,)),
        6,
        ((0, 0),),
        0,
        (FULL, 32768, 0),
        "65535 - 32767 = 32768, then 0.",
    ),
    shines(
        "segment-ends-before-a-start-of-that-frame",
        ("6.2 R1", "6.2 R3"),
        "what ends in a frame takes the ambient level from before a curve that starts in it",
        light(
            AT_25700,
            (
                "02 00 00 00 00 00 08 00 / 02 00 FF FF 00 80 11 01",
                "at ambient for 2, straight to full in 2",
            ),
            ambient=(0,),
        ),
        9,
        ((2, 1), (4, 0)),
        2,
        (0, 0, 25700, 32767, FULL),
        "The line begins in frame 4 from 0: 0, 32767, 65535; in frame 4 the ambient 25700 is"
        " higher.",
    ),
    shines(
        "highest",
        ("6.2 R5", "6.2 R1", "3.5"),
        "by highest the effect rises from its own level and is seen where it is brighter",
        light(AT_25700, ("04 00 C8 C8 00 80 11 02", "straight to 51400 in 4"), ambient=(0,)),
        9,
        ((0, 0), (2, 1)),
        0,
        (25700, 25700, 25700, 25700, 25700, 38550, 51400),
        "Effect 0, 12850, 25700, 38550, 51400 from frame 2.",
    ),
    shines(
        "latest",
        ("6.2 R5", "6.2 R1"),
        "by latest the effect rises from what was seen, and a later ambient curve hides it",
        light(
            AT_25700,
            ("02 00 C8 C8 00 80 11 01", "straight to 51400 in 2"),
            ("00 00 01 01 00 00 10 00", "257 at once"),
            latest=True,
            ambient=(0, 2),
        ),
        9,
        ((0, 0), (2, 1), (6, 2)),
        0,
        (25700, 25700, 25700, 38550, 51400, 51400, 257),
        "25700 + (25700 * 16384 >> 15) = 38550; in frame 6 the ambient layer has started last.",
    ),
    shines(
        "effect-of-the-same-frame",
        ("6.2 R5",),
        "where both layers started in one frame, by latest the effect is seen, in whatever order"
        " they started",
        light(AT_51400, AT_25700, latest=True, ambient=(1,)),
        5,
        ((2, 0), (2, 1)),
        2,
        (51400,),
        "started is 2 on both; the effect's is not before the ambient one's.",
    ),
    shines(
        "ends-dark-and-is-not-live",
        ("6.2 R3",),
        "an effect whose last level is 0 no longer hides the ambient layer",
        light(
            AT_25700,
            ("02 00 FF FF 00 00 00 00 / 00 00 00 00 00 00 10 00", "full for 2, then 0"),
            latest=True,
            ambient=(0,),
        ),
        8,
        ((0, 0), (2, 1)),
        0,
        (25700, 25700, FULL, FULL, 25700),
        "The last segment's level is 0: not live from frame 4 on.",
    ),
    Hand(
        "gauge",
        ("6.5 R1", "5.5 R6", "3.5"),
        "a counter fills its channels one after the other, at power-up and at once when it changes",
        table(
            channels=4,
            inputs=[SWITCH],
            counters=[("0C 00 05 00", "0 to 12, starts at 5")],
            groups=[("00 04 00 00", "channels 0 to 3, highest, gauge of counter 0")],
            effects=[("89 00 01 00", "counter 0 minus 1")],
            triggers=[ONCE],
        ),
        6,
        press(3, 4),
        (*once(3), "3 COUNT 0 4", "4 RELEASE 0 0"),
        (
            (
                "d = 5 * 4 - 12 i = 20, 8, -4, -16, held in 0..12: 12, 8, 0, 0; 8 * 65535 / 12 ="
                " 43690. Then 4 * 4 - 12 i = 16, 4: 12, 4; 4 * 65535 / 12 = 21845."
            ),
            duty_work(43690),
            duty_work(21845),
        ),
        ((0, 24),),
        (
            ((0, 65535),),
            tuple(x for x in shone(0, 43690, 43690, 43690, 21845)),
            ((0, 0),),
            ((0, 0),),
        ),
    ),
    Hand(
        "duty-at-12-bits",
        ("6.6 R1",),
        "the straight foot, the cube and full",
        table(
            channels=4,
            pwm_bits=12,
            inputs=[SWITCH],
            groups=[(f"{n:02X} 01 00 FF", f"channel {n}") for n in range(4)],
            fades=[
                (f"00 00 {u16(level)} 00 00 10 00", f"{level} at once")
                for level in (3598, 16448, 32896, 65535)
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
            (
                "Level 3598: y = (3598 * 7255 + 32768) >> 16 = 398; duty = (398 * 4095 + 32768) >>"
                " 16 = 25."
            ),
            (
                "Level 16448: q = (26934 * 56497) >> 16 = 23219, s = (23219 * 23219 + 32768) >> 16"
                " = 8226, y = (8226 * 23219 + 32768) >> 16 = 2914; duty = (2914 * 4095 + 32768) >>"
                " 16 = 182."
            ),
            (
                "Level 32896: q = (43382 * 56497) >> 16 = 37398, s = 21341, y = 12178; duty ="
                " (12178 * 4095 + 32768) >> 16 = 761. Level 65535: 4095."
            ),
        ),
        ((0, 16),),
        tuple(((0, 0), (1, duty)) for duty in (25, 182, 761, 4095)),
    ),
    shines(
        "decay-at-its-points",
        ("6.3 R4",),
        "each of the 17 points of the table",
        light(("10 00 FF FF 00 80 13 04", "decay to full in 16")),
        18,
        ((0, 0),),
        0,
        (*(FULL * (32768 - point) >> 15 for point in POINTS[:-1]), FULL),
        "u = t * 2048, so k = t, r = 0, w = 32768 - D[t]; the level is 65535 * w >> 15.",
    ),
    shines(
        "ambient-goes-on-from-its-own-level",
        ("6.2 R1",),
        "by highest a curve of the ambient layer begins at the level of that layer, not at what is"
        " seen",
        light(
            AT_25700,
            ("03 00 C8 C8 00 00 00 00 / 00 00 00 00 00 00 10 00", "51400 for 3, then 0"),
            ("02 00 00 00 00 80 11 01", "straight to 0 in 2"),
            ambient=(0, 2),
        ),
        9,
        ((0, 0), (2, 1), (4, 2)),
        0,
        (25700, 25700, 51400, 51400, 51400, 12850, 0),
        "Ambient 25700 until frame 4; from there 25700, 25700 - (25700 * 16384 >> 15) = 12850, 0."
        " The effect is over in frame 5.",
    ),
    Hand(
        "flicker-of-two-channels",
        ("6.4 R2", "6.4 R1"),
        "channels are counted from the board's channel 0, and each has a light of its own",
        table(
            channels=3,
            inputs=[SWITCH],
            groups=[("01 02 00 FF", "channels 1 and 2, highest")],
            fades=[("04 00 FF FF 00 80 14 00", "flicker 4 long, target full, low 0, every 2")],
            effects=[("86 00 00 00", "fade 0 on group 0")],
            triggers=[ONCE],
        ),
        6,
        ("0 PRESS 0 0",),
        (*once(0), "0 FADE 0 0"),
        (
            (
                "Channel 1, x of points 1 and 2: 9E3879B2, 9E3979B2; after the products 999E4542,"
                " C5930A6A and 4EB67A6F, 585F60A1: h = 50579, 22623."
            ),
            (
                "Channel 2: 3C6FF363, 3C70F363; C988E11C, 5F115B0F and 7E245557, 98A5EDD5: h ="
                " 24337, 39077. 65535 * h >> 16 = h - 1."
            ),
            (
                "Channel 1: 0, 50578 / 2 = 25289, 50578, 50578 - 27956 / 2 = 36600, 22622. Channel"
                " 2: 0, 12168, 24336, 24336 + 14740 / 2 = 31706, 39076."
            ),
            *(
                duty_work(level)
                for level in (25289, 50578, 36600, 22622, 12168, 24336, 31706, 39076)
            ),
        ),
        ((0, 24),),
        (
            ((0, 0),),
            shone(0, 0, 25289, 50578, 36600, 22622),
            shone(0, 0, 12168, 24336, 31706, 39076),
        ),
    ),
    Hand(
        "sweep",
        ("6.3 R2", "6.3 R3", "6.6 R1"),
        "a slow rise passes levels near and far of every rounding",
        table(
            channels=2,
            inputs=[SWITCH],
            groups=[("00 01 00 FF", "channel 0"), ("01 01 00 FF", "channel 1")],
            fades=[
                ("2C 01 FF FF 3A 6D 11 08", "straight to full in 300"),
                ("2C 01 FF FF 3A 6D 12 08", "ease to full in 300"),
            ],
            effects=[("06 00 00 00 / 86 01 01 00", "fade n on group n")],
            triggers=[ONCE],
        ),
        302,
        ("0 PRESS 0 0",),
        (*once(0), "0 FADE 0 0", "0 FADE 1 1"),
        (
            (
                "Reckoned by program from the formulas, not by a player: 2^23 / 300 = 27962, u ="
                " t * 27962 >> 8; straight w = u, ease w = ((u u >> 15) (98304 - 2 u)) >> 15;"
            ),
            "level 65535 * w >> 15; duty as in the vectors above.",
        ),
        ((0, 1208),),
        (
            shone(0, *(FULL * w >> 15 for w in U), FULL),
            shone(0, *(FULL * ((u * u >> 15) * (98304 - 2 * u) >> 15) >> 15 for u in U), FULL),
        ),
    ),
]
