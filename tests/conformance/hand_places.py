"""Basic vectors of the places for effects and fades (SPEC 5.5), worked by hand."""

from hand_triggers import staggered
from hand_work import ONCE, SWITCH, Hand, once, press, shone, singles, table, u16

FULL_AT_ONCE = ("00 00 FF FF 00 00 10 00", "to full at once")


def later(frames: int, counter: int) -> tuple[str, str]:
    return (
        f"02 00 {u16(frames)} / 88 {counter:02X} 01 00",
        f"{frames} frames after its start counter {counter} plus 1",
    )


VECTORS = [
    Hand(
        "lowest-free-place",
        ("5.5 R3", "5.5 R4"),
        "what is due in one frame comes in the order of the places, and something new takes the"
        " lowest that is free",
        table(
            inputs=[SWITCH] * 4,
            counters=[("03 00 00 00", "0 to 3, starts at 0")] * 4,
            effects=[later(20, 0), later(2, 1), later(18, 2), later(15, 3)],
            triggers=singles(4),
        ),
        24,
        (*press(0, 1, 0), *press(1, 2, 1), *press(2, 3, 2), *press(5, 6, 3)),
        (
            *(
                *once(0, 0, 0),
                "1 RELEASE 0 0",
                *once(1, 1, 1),
                "2 RELEASE 1 0",
                *once(2, 2, 2),
                "3 RELEASE 2 0",
                "3 COUNT 1 1",
            ),
            *(*once(5, 3, 3), "6 RELEASE 3 0", "20 COUNT 0 1", "20 COUNT 3 1", "20 COUNT 2 1"),
        ),
        (
            (
                "Effects 0, 1, 2 take places 0, 1, 2. Effect 1 is done at 1 + 2 = 3, so effect 3"
                " takes place 1 at 5."
            ),
            (
                "Due in frame 20: effect 0 (0 + 20) in place 0, effect 3 (5 + 15) in place 1,"
                " effect 2 (2 + 18) in place 2."
            ),
        ),
    ),
    Hand(
        "first-steps-before-its-own-place",
        ("5.5 R1", "5.5 R3", "5.5 R7"),
        "an effect is kept after its steps at 0 have been carried out: a fade that they start takes"
        " the lower place",
        table(
            channels=2,
            inputs=[SWITCH],
            groups=[("00 02 00 FF", "channels 0 and 1, highest")],
            fades=[FULL_AT_ONCE, ("00 00 64 64 00 00 10 00", "25700 at once")],
            effects=[
                (
                    "03 00 02 00 / 06 00 00 00 / 02 00 02 00 / 86 00 01 00",
                    "at 0 fade 0 on group 0, stagger 2; at 2 fade 1 on group 0",
                )
            ],
            triggers=[ONCE],
        ),
        9,
        press(5, 6),
        (*once(5), "5 FADE 0 0", "6 RELEASE 0 0", "7 FADE 0 1"),
        (
            (
                "Frame 5: channel 0 to full; fade 0 is kept in place 0 for channel 1, then the"
                " effect in place 1. Frame 7: place 0 lets channel 1 go to full, then place 1"
                " starts fade 1 on both: 25700."
            ),
        ),
        ((0, 36),),
        (shone(5, 65535, 65535, 25700), shone(7, 25700)),
    ),
    Hand(
        "place-is-taken-until-its-last-step-is-done",
        ("5.5 R4", "5.5 R3"),
        "a place becomes free after all that is due in it, so its own last step cannot have it",
        table(
            channels=24,
            inputs=[SWITCH],
            groups=[
                (f"{2 * n:02X} 02 00 FF", f"channels {2 * n} and {2 * n + 1}, highest")
                for n in range(12)
            ],
            fades=[FULL_AT_ONCE],
            effects=[
                (
                    staggered(range(12), 20).replace(
                        "03 00 14 00 / 86",
                        "02 00 05 00 / 03 00 14 00 / 86",
                    ),
                    "at 0 fade 0 on groups 0 to 10, at 5 on group 11, all with stagger 20",
                )
            ],
            triggers=[ONCE],
        ),
        27,
        press(5, 6),
        (
            *once(5),
            *(f"5 FADE {n} 0" for n in range(11)),
            "6 RELEASE 0 0",
            "10 FADE 11 0",
            "10 REFUSED 0 0",
        ),
        (
            (
                "The eleven fades take places 0 to 10, the effect place 11. In frame 10 its last"
                " step starts fade 0 on group 11: channel 22 is lit, and for channel 23 there is no"
                " place. The others follow at 5 + 20."
            ),
        ),
        ((0, 108),),
        (*((((0, 0), (5, 65535)), ((0, 0), (25, 65535))) * 11), ((0, 0), (10, 65535)), ((0, 0),)),
    ),
]
