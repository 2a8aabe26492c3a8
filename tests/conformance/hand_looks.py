"""Basic vectors of looks, by turns (SPEC 6.2, 6.6 R2), worked by hand."""

from hand_light import AT_25700, FULL, light, shines
from hand_work import ONCE, SWITCH, Hand, duty16, duty_work, once, press, singles, table

STARTS = 2
OVER = 10


def rise(frame: int) -> int:
    """Level of a straight line to full in 8 that began in frame STARTS: 2^31 / 8 >> 16 = 4096."""
    return min(FULL * ((frame - STARTS) * 4096) >> 15, FULL)


def looks(channel: int, mask: int) -> list[int]:
    """Frames of the looks of a channel: when its line starts and ends, and in its turn."""
    first = channel * (channel + 1) // 2
    turns = {frame for frame in range(STARTS, OVER) if (frame - OVER + first) & mask == 0}
    return sorted({STARTS, OVER, *turns})


def looked_at(channel: int, mask: int) -> tuple[tuple[int, int], ...]:
    """Change points of that channel; dark up to its start."""
    found = [(0, 0)]
    for frame in looks(channel, mask):
        if found[-1][1] != duty16(rise(frame)):
            found.append((frame, duty16(rise(frame))))
    return tuple(found)


VECTORS = [
    *(
        Hand(
            f"turns-of-{mask + 1}",
            ("6.2 R3", "6.6 R2"),
            "a channel whose turn it is not keeps its duty; turns are counted from the end of the"
            " segment, and from the board's channel 0",
            table(
                channels=4,
                mask=mask,
                inputs=[SWITCH],
                groups=[("01 03 00 FF", "channels 1 to 3, highest")],
                fades=[("08 00 FF FF 00 80 11 03", "straight to full in 8")],
                effects=[("86 00 00 00", "fade 0 on group 0")],
                triggers=[ONCE],
            ),
            20,
            press(2, 3),
            (*once(2), "2 FADE 0 0", "3 RELEASE 0 0"),
            (
                "All start in frame 2, from 0; 65535 * ((f - 2) * 4096) >> 15, full from 10 on."
                " Channels 1, 2 and 3 add 1, 3 and 6 to f - 10.",
                *(
                    f"Channel {channel} is looked at in frames"
                    f" {', '.join(map(str, looks(channel, mask)))}."
                    for channel in (1, 2, 3)
                ),
                *(duty_work(rise(frame)) for frame in range(3, 11)),
            ),
            ((0, 80),),
            (((0, 0),), *(looked_at(channel, mask) for channel in (1, 2, 3))),
        )
        for mask in (1, 3, 7)
    ),
    shines(
        "start-shows-at-once",
        ("6.2 R1", "6.6 R2"),
        "a channel is looked at where a curve starts on it, or a segment ends, whoever's turn it is",
        light(
            AT_25700,
            ("00 00 FF FF 00 00 10 00", "full at once"),
            ("02 00 64 64 00 00 00 00 / 00 00 FF FF 00 00 10 00", "25700 for 2, then full"),
            mask=7,
        ),
        20,
        ((3, 0), (5, 1), (9, 2)),
        3,
        (25700, 25700, *[FULL] * 4, 25700, 25700, FULL),
        "Only the curve of frame 9 has a segment of some length. It is over in frame 11; frame 3"
        " would have been its turn.",
    ),
    Hand(
        "gauge-shows-at-once",
        ("6.5 R1", "6.6 R2"),
        "all channels are looked at in frame 0, and those of a gauge when its counter changes",
        table(
            channels=2,
            mask=7,
            inputs=[SWITCH],
            counters=[("04 00 03 00", "0 to 4, starts at 3")],
            groups=[("00 02 00 00", "channels 0 and 1, highest, gauge of counter 0")],
            effects=[("89 00 01 00", "counter 0 minus 1")],
            triggers=[ONCE],
        ),
        6,
        press(3, 4),
        (*once(3), "3 COUNT 0 2", "4 RELEASE 0 0"),
        (
            (
                "d = 3 * 2 - 4 i = 6, held at 4, and 2: 65535, 2 * 65535 / 4 = 32767. Then 2 * 2 -"
                " 4 i = 4 and 0. Without a curve there are no turns."
            ),
            duty_work(32767),
        ),
        ((0, 24),),
        (((0, 65535),), ((0, duty16(32767)), (3, 0))),
    ),
    Hand(
        "count-that-changes-nothing-looks",
        ("6.5 R1", "6.6 R2", "5.5 R6"),
        "a count step sets the gauge, and so looks at its channels, even to the same level",
        table(
            mask=7,
            inputs=[SWITCH] * 2,
            counters=[("04 00 00 00", "0 to 4, starts at 0")],
            groups=[("00 01 00 00", "channel 0, highest, gauge of counter 0")],
            fades=[("08 00 FF FF 00 80 11 03", "straight to full in 8")],
            effects=[("86 00 00 00", "fade 0 on group 0"), ("89 00 01 00", "counter 0 minus 1")],
            triggers=singles(2),
        ),
        18,
        (*press(2, 3, 0), *press(5, 6, 1)),
        (*once(2), "2 FADE 0 0", "3 RELEASE 0 0", *once(5, 1, 1), "5 COUNT 0 0", "6 RELEASE 1 0"),
        (
            (
                "Looks in frames 2, which is a turn as well, 5 and 10: 0, 65535 * 12288 >> 15 ="
                " 24575, full."
            ),
            duty_work(24575),
        ),
        ((0, 72),),
        (((0, 0), (5, duty16(24575)), (10, 65535)),),
    ),
    Hand(
        "looks-before-a-count",
        ("6.2 R3", "6.5 R1"),
        "what ended is over before a count step sets the gauge, at the ambient level from before it",
        table(
            counters=[("0C 00 0C 00", "0 to 12, starts at 12")],
            groups=[("00 01 01 00", "channel 0, latest, gauge of counter 0")],
            fades=[
                (
                    "05 00 00 00 66 66 09 02 / 0A 00 FF FF 66 66 11 03",
                    "straight to ambient in 5, straight to full in 10",
                )
            ],
            effects=[("06 00 00 00 / 02 00 05 00 / 89 00 0C 00", "fade 0; at 5 counter 0 minus 12")],
            triggers=[("04 00 00 / 00", "always, begin 0")],
        ),
        18,
        (),
        ("0 START 0 0", "0 EFFECT 0 0", "0 FADE 0 0", "5 COUNT 0 0"),
        (
            "It starts at the level that is seen, full, and so is the ambient level up to frame 5, in"
            " which the first segment is over. The second one goes from full to full."
            " (From the gauge's new level it would go from 0.)",
        ),
        ((0, 72),),
        (((0, 65535),),),
    ),
    shines(
        "returns-to-the-ambient-level-of-its-end",
        ("6.2 R3",),
        "a segment that ends between turns ends at the ambient level of its last frame",
        light(
            (
                "00 00 FF FF 00 00 00 00 / 10 00 00 00 00 80 11 04",
                "start full, straight to 0 in 16",
            ),
            (
                "05 00 00 00 00 00 08 00 / 08 00 FF FF 00 80 11 03",
                "at ambient for 5, straight to full in 8",
            ),
            latest=True,
            ambient=(0,),
            mask=3,
        ),
        20,
        ((0, 0), (1, 1)),
        0,
        (FULL, 61440, *[57344] * 4, *[40960] * 4, *[53247] * 4, FULL),
        "Turns are those of the effect layer, whose segments are over in frames 6 and 14: 2, 6, 10,"
        " 14. Ambient 65535 - (65535 * (f * 2048) >> 15) = 61440 in frame 1, 57344 in 2, 40960 in"
        " 6.",
        "The line begins in frame 6 from 40960: t = 4: 40960 + (24575 * 16384 >> 15) = 53247.",
    ),
    shines(
        "layers-end-one-after-the-other",
        ("6.2 R3", "6.2 R5"),
        "a channel is looked at where a segment of either layer ends",
        light(
            ("06 00 FF FF 00 00 00 00 / 04 00 64 64 00 00 10 00", "full for 6, then 25700"),
            (
                "04 00 00 00 00 00 08 00 / 04 00 00 00 00 80 11 02",
                "at ambient for 4, straight to 0 in 4",
            ),
            latest=True,
            ambient=(0,),
            mask=3,
        ),
        16,
        ((0, 0), (1, 1)),
        0,
        (*[FULL] * 6, *[49152] * 3, 25700),
        "The line begins in frame 5 from full. The ambient layer ends in frame 6, so this is seen:"
        " t = 1: 65535 - (65535 * 8192 >> 15 = 16383) = 49152.",
        "The effect is over in frame 9, dark: the ambient light, 25700.",
    ),
    shines(
        "looks-before-a-start",
        ("6.2 R1", "6.2 R3"),
        "what ended is over before a curve starts, at the ambient level from before it",
        light(
            ("00 00 64 64 00 00 00 00 / 00 00 64 64 00 00 10 00", "start 25700, 25700 at once"),
            (
                "05 00 00 00 00 00 08 00 / 04 00 FF FF 00 80 11 02",
                "at ambient for 5, straight to full in 4",
            ),
            ambient=(0,),
            mask=1,
        ),
        14,
        ((1, 1), (6, 0)),
        1,
        (*[0] * 5, 25700, 25700, 32767, 32767, FULL),
        "The line begins in frame 6 from 0, before the ambient light goes to 25700, which is seen."
        " Frame 8: t = 2, 65535 * 16384 >> 15 = 32767. (From 25700 it would be 45617.) Over in 10.",
    ),
    shines(
        "turns-fall-alike",
        ("6.2 R3",),
        "turns are counted from the segment, so an effect that is repeated gives the same light",
        light(
            ("00 00 FF FF 00 00 00 00 / 05 00 00 00 66 66 11 02", "start full, straight to 0 in 5"),
            mask=3,
        ),
        20,
        ((1, 0), (7, 0), (12, 0)),
        1,
        (FULL, *[52430] * 4, 0, FULL, *[52430] * 4, FULL, *[52430] * 4, 0),
        "Over in frames 6, 12 and 17; turns 2, 8 and 13. n = 5: by 2, pace 2^17 / 5 = 26214; t = 1:"
        " 65535 - (65535 * 6553 >> 15 = 13105) = 52430. The last one starts in the frame in which"
        " the one before is over.",
    ),
    shines(
        "turns-of-an-ambient-curve",
        ("6.2 R3",),
        "without a curve on the effect layer turns are counted on the ambient layer",
        light(("08 00 FF FF 00 80 11 03", "straight to full in 8"), ambient=(0,), mask=3),
        20,
        ((3, 0),),
        3,
        (*[0] * 4, *[rise(6)] * 4, FULL),
        "Over in frame 11; a turn in frame 7: t = 4.",
    ),
    shines(
        "loop-goes-round-between-turns",
        ("6.2 R3",),
        "a loop that comes round more than once from turn to turn is seen at each end",
        light((
            "01 00 FF FF 00 00 20 00 / 02 00 64 64 00 00 10 00",
            "loop: full for 1, 25700 for 2",
        ), mask=7),
        26,
        ((1, 0),),
        1,
        (*[FULL, 25700, 25700] * 8, FULL),
        "Rounds of 3 frames, from frame 1 on.",
    ),
]
