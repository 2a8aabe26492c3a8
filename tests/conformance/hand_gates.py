"""Basic vectors of gates, modes and needs (SPEC 5.3 and 5.4) where two rules meet, worked by
hand.
"""

from hand_triggers import repeat, shots
from hand_work import NOTHING, SWITCH, Hand, once, press, table

COUNT = ("09 00 00 00", "0 to 9, starts at 0")
NONE_LEFT = ("03 00 00 00", "0 to 3, starts at 0")

VECTORS = [
    Hand(
        "empty-tells-its-counter",
        ("7 R1", "5.3 R4"),
        "the value of EMPTY is the index of the counter, not what the counter holds",
        table(
            inputs=[SWITCH],
            counters=[("03 00 03 00", "0 to 3, starts at 3"), NONE_LEFT],
            effects=[NOTHING],
            triggers=[("00 00 00 / 81 01 00 00 / 00", "once, input 0, needs counter 1, effect 0")],
        ),
        6,
        press(2, 3),
        ("2 PRESS 0 0", "2 EMPTY 0 1", "3 RELEASE 0 0"),
        ("Counter 1 is 0: EMPTY with 1. Counter 0, which is 3, is not asked.",),
    ),
    Hand(
        "repeat-that-finds-nothing",
        ("5.3 R4", "5.4 R3", "5.4 R4"),
        "a repeat starts before it shoots, so START stands before EMPTY and STOP behind it",
        table(
            inputs=[SWITCH],
            counters=[NONE_LEFT],
            effects=[NOTHING],
            triggers=[
                (
                    "01 00 00 / 01 00 00 00 / 83 00 00 02 / 00",
                    "repeat, input 0, needs counter 0, period 2 frames, effect 0",
                )
            ],
        ),
        12,
        press(4, 9),
        ("4 PRESS 0 0", "4 START 0 0", "4 EMPTY 0 0", "4 STOP 0 0", "9 RELEASE 0 0"),
        (
            (
                "(b) traces START and shoots; the counter is 0: EMPTY, STOP. The gate does not rise"
                " again while it is held."
            ),
        ),
    ),
    Hand(
        "always-that-found-nothing",
        ("5.3 R4", "5.4 R8", "5.4 R9"),
        "what found nothing when its gate rose is not tried again while the gate stays open, though"
        " there is something later",
        table(
            inputs=[SWITCH],
            counters=[NONE_LEFT],
            effects=[NOTHING, ("88 00 01 00", "counter 0 plus 1")],
            triggers=[
                ("04 00 00 / 81 00 00 00 / 00", "always, needs counter 0, begin 0"),
                ("00 00 00 / 01", "once, input 0, effect 1"),
            ],
        ),
        9,
        press(4, 5),
        (
            "0 EMPTY 0 0",
            "4 PRESS 0 0",
            "4 SHOT 1 0",
            "4 EFFECT 1 1",
            "4 COUNT 0 1",
            "5 RELEASE 0 0",
        ),
        ("The gate rises at 0, once for all. From 4 on the counter is 1.",),
    ),
    Hand(
        "on-off-with-a-condition",
        ("5.4 R8", "5.3 R2", "5.3 R3"),
        "on_off ends at any fresh press, also where a condition does not allow; it begins only"
        " where the gate rises and is fresh",
        table(
            inputs=[SWITCH],
            selectors=[("02 01", "2 positions, starts at 1")],
            effects=[NOTHING, NOTHING],
            triggers=[
                (
                    "03 00 00 / 80 00 02 00 / 00 FF 01",
                    "on_off, input 0, one condition: selector 0 at 1; begin 0, end 1",
                )
            ],
        ),
        60,
        (
            *press(3, 8),
            "12 SELECT 0 0",
            *press(20, 25),
            *("30 PRESS 0 0", "40 SELECT 0 1", "45 RELEASE 0 0"),
            *press(50, 51),
        ),
        (
            *("3 PRESS 0 0", "3 START 0 0", "3 EFFECT 0 0", "8 RELEASE 0 0", "12 SELECT 0 0"),
            *("20 PRESS 0 0", "20 STOP 0 0", "20 EFFECT 1 0", "25 RELEASE 0 0"),
            *("30 PRESS 0 0", "40 SELECT 0 1", "45 RELEASE 0 0"),
            *("50 PRESS 0 0", "50 START 0 0", "50 EFFECT 0 0", "51 RELEASE 0 0"),
        ),
        (
            (
                "At 20 the gate is shut, but f = opens: fresh, and (b) asks for no more. At 30 it"
                " is fresh, but does not rise: off."
            ),
            "At 40 it rises, but opens was 30: not fresh, still off. At 50 it rises and is fresh.",
        ),
    ),
    Hand(
        "stops-and-starts-in-one-frame",
        ("5.4 R3", "5.4 R4"),
        "a repeat that stops in (a) is not running any more in (b) of the same frame",
        repeat(
            "01 00 00 / 03 00 00 04 / 05 00 02 00 / 86 00 02 00 / 00",
            "period 4 frames, burst 2, limit 2, effect 0",
        ),
        14,
        (*press(0, 1), *press(4, 5)),
        (
            *("0 PRESS 0 0", "0 START 0 0", *shots(0), "1 RELEASE 0 0"),
            *("4 PRESS 0 0", "4 SHOT 0 1", "4 EFFECT 0 0", "4 STOP 0 0", "4 START 0 0", *shots(4)),
            *("5 RELEASE 0 0", "8 SHOT 0 1", "8 EFFECT 0 0", "8 STOP 0 0"),
        ),
        (
            (
                "The burst goes on after the release at 1. In frame 4 (a) fires the second shot,"
                " which is the limit: STOP; the gate rises in that frame: (b) starts anew with"
                " count 0. Its second shot comes at 8."
            ),
        ),
    ),
    Hand(
        "once-choice-draws-nothing",
        ("5.4 R1", "5.6 R1"),
        "where there is one effect only, no number is drawn, and the next draw is that of whatever"
        " asks next",
        table(
            inputs=[SWITCH, SWITCH],
            effects=[NOTHING] * 4,
            triggers=[
                ("05 00 00 / 03", "once at random, input 0, effect 3"),
                ("0D 00 00 / 00 01 02", "once at random, input 1, effects 0, 1, 2"),
            ],
        ),
        8,
        (*press(0, 1), *press(2, 3), *press(4, 5, 1)),
        (
            *once(0, 0, 3),
            "1 RELEASE 0 0",
            *once(2, 0, 3),
            "3 RELEASE 0 0",
            *once(4, 1, 0),
            "5 RELEASE 1 0",
        ),
        ("The first draw from seed 1 is 4: 4 * 3 >> 16 = 0. (The third, 40396, would give 1.)",),
    ),
    Hand(
        "empty-effect-is-not-held",
        ("5.3 R4", "5.5 R5"),
        "the steps to come of the empty effect outlast the trigger's next end",
        table(
            inputs=[SWITCH],
            counters=[NONE_LEFT, COUNT],
            effects=[
                NOTHING,
                (
                    "08 00 01 00 / 02 00 14 00 / 88 01 01 00",
                    "at 0 counter 0 plus 1, at 20 counter 1 plus 1",
                ),
            ],
            triggers=[
                (
                    "02 00 00 / 01 00 00 00 / 82 01 00 00 / 00",
                    "while_held, input 0, needs counter 0, empty effect 1, begin 0",
                )
            ],
        ),
        26,
        (*press(2, 4), *press(6, 9)),
        (
            *("2 PRESS 0 0", "2 EMPTY 0 0", "2 EFFECT 1 0", "2 COUNT 0 1", "4 RELEASE 0 0"),
            *(
                "6 PRESS 0 0",
                "6 START 0 0",
                "6 EFFECT 0 0",
                "9 RELEASE 0 0",
                "9 STOP 0 0",
                "22 COUNT 1 1",
            ),
        ),
        (
            (
                "At 2 there is nothing: effect 1, which refills by 1 and counts again at 2 + 20."
                " The end at 9 forgets only what is held."
            ),
        ),
    ),
    Hand(
        "end-effect-is-not-held",
        ("5.4 R11", "5.5 R5"),
        "the steps to come of an end effect outlast the next end of its trigger",
        table(
            inputs=[SWITCH],
            counters=[COUNT],
            effects=[NOTHING, (
                "02 00 0A 00 / 88 00 01 00",
                "10 frames after its start counter 0 plus 1",
            )],
            triggers=[("02 00 00 / 00 FF 01", "while_held, input 0, begin 0, end 1")],
        ),
        20,
        (*press(2, 3), *press(5, 6)),
        (
            *(
                "2 PRESS 0 0",
                "2 START 0 0",
                "2 EFFECT 0 0",
                "3 RELEASE 0 0",
                "3 STOP 0 0",
                "3 EFFECT 1 0",
            ),
            *(
                "5 PRESS 0 0",
                "5 START 0 0",
                "5 EFFECT 0 0",
                "6 RELEASE 0 0",
                "6 STOP 0 0",
                "6 EFFECT 1 0",
            ),
            *("13 COUNT 0 1", "16 COUNT 0 2"),
        ),
        ("3 + 10 = 13 and 6 + 10 = 16: both come.",),
    ),
    Hand(
        "finds-nothing-twice-in-a-frame",
        ("5.3 R4", "5.4 R3", "5.4 R4"),
        "a repeat whose shot finds nothing stops, and where the gate rises in that frame it begins,"
        " and finds nothing again",
        table(
            inputs=[SWITCH],
            counters=[("09 00 01 00", "0 to 9, starts at 1")],
            effects=[("89 00 01 00", "counter 0 minus 1")],
            triggers=[
                (
                    "01 00 00 / 01 00 00 00 / 03 00 00 04 / 85 00 02 00 / 00",
                    "repeat, input 0, needs counter 0, period 4 frames, burst 2, effect 0",
                )
            ],
        ),
        12,
        (*press(0, 1), *press(4, 8)),
        (
            *("0 PRESS 0 0", "0 START 0 0", *shots(0), "0 COUNT 0 0", "1 RELEASE 0 0"),
            *(
                "4 PRESS 0 0",
                "4 EMPTY 0 0",
                "4 STOP 0 0",
                "4 START 0 0",
                "4 EMPTY 0 0",
                "4 STOP 0 0",
                "8 RELEASE 0 0",
            ),
        ),
        (
            (
                "The burst's second shot is due at 4: (a) finds nothing. The gate rises in that"
                " frame: (b) starts anew and finds nothing. No more until it rises."
            ),
        ),
    ),
    Hand(
        "empty-does-not-take-a-turn",
        ("5.4 R1", "5.3 R4"),
        "the effect that was used last stays so while there is nothing to fire with",
        table(
            inputs=[SWITCH] * 2,
            counters=[("09 00 01 00", "0 to 9, starts at 1")],
            effects=[
                ("89 00 01 00", "counter 0 minus 1"),
                NOTHING,
                ("88 00 01 00", "counter 0 plus 1"),
            ],
            triggers=[
                ("00 00 00 / 81 00 00 00 / 00 01", "once, input 0, needs counter 0, effects 0, 1"),
                ("08 00 00 / 02", "once, input 1, effect 2"),
            ],
        ),
        9,
        (*press(0, 1), *press(2, 3), *press(4, 5, 1), *press(6, 7)),
        (
            *(
                *once(0),
                "0 COUNT 0 0",
                "1 RELEASE 0 0",
                "2 PRESS 0 0",
                "2 EMPTY 0 0",
                "3 RELEASE 0 0",
            ),
            *(*once(4, 1, 2), "4 COUNT 0 1", "5 RELEASE 1 0", *once(6, 0, 1), "7 RELEASE 0 0"),
        ),
        ("Effect 0 at 0; nothing at 2; so effect 1, the next in turn, at 6.",),
    ),
    Hand(
        "empty-draws-nothing",
        ("5.4 R1", "5.3 R4", "5.6 R1"),
        "a choice is made, and drawn for, only once there is something to fire with",
        table(
            inputs=[SWITCH] * 2,
            counters=[("09 00 01 00", "0 to 9, starts at 1")],
            effects=[
                ("89 00 01 00", "counter 0 minus 1"),
                NOTHING,
                NOTHING,
                ("88 00 01 00", "counter 0 plus 1"),
            ],
            triggers=[
                (
                    "05 00 00 / 81 00 00 00 / 00 01 02",
                    "once at random, input 0, needs counter 0, effects 0, 1, 2",
                ),
                ("08 00 00 / 03", "once, input 1, effect 3"),
            ],
        ),
        9,
        (*press(0, 1), *press(2, 3), *press(4, 5, 1), *press(6, 7)),
        (
            *(
                *once(0),
                "0 COUNT 0 0",
                "1 RELEASE 0 0",
                "2 PRESS 0 0",
                "2 EMPTY 0 0",
                "3 RELEASE 0 0",
            ),
            *(*once(4, 1, 3), "4 COUNT 0 1", "5 RELEASE 1 0", *once(6, 0, 1), "7 RELEASE 0 0"),
        ),
        (
            (
                "Draws 4, 1032, 40396. 4 * 3 >> 16 = 0. At 6 the second: 1032 * 2 >> 16 = 0, and 1"
                " more, since 0 was used last. The third would give 2."
            ),
        ),
    ),
    Hand(
        "more-than-255-shots",
        ("5.4 R4", "5.4 R6", "7 R1"),
        "shots are counted, and traced, beyond a byte",
        repeat("01 00 00 / 83 00 00 01 / 00", "period 1 frame, effect 0"),
        260,
        press(0, 257),
        (
            "0 PRESS 0 0",
            "0 START 0 0",
            *shots(*range(257)),
            "257 RELEASE 0 0",
            *shots(*range(258))[-2:],
            "257 STOP 0 0",
        ),
        ("256 * 257 / 256 + 1 = 258 shots, one a frame; the last one has 257 before it.",),
    ),
]
