"""Basic vectors of clock, inputs, triggers and effects (SPEC 5), worked by hand."""

from collections.abc import Iterable

from hand_work import NOTHING, ONCE, SWITCH, Hand, once, press, shone, table, u16


def lockout(frames: int) -> list[str]:
    return table(inputs=[(f"{frames:02X} 00", f"a switch, lock-out {frames}")])


TWO = ("02 00", "2 positions, starts at 0")
COUNT_DOWN = ("89 00 01 00", "at 0 counter 0 minus 1")


def repeat(record: str, meaning: str) -> list[str]:
    return table(
        inputs=[SWITCH], effects=[NOTHING], triggers=[(record, f"repeat, input 0, {meaning}")]
    )


def staggered(groups: Iterable[int], frames: int) -> str:
    """Steps that start fade 0 on the effect layer of each group."""
    steps = [f"03 00 {u16(frames)} / 06 {group:02X} 00 00" for group in groups]
    last = steps[-1].replace("/ 06", "/ 86")
    return " / ".join([*steps[:-1], last])


def shots(*frames: int) -> list[str]:
    return [
        line
        for shot, frame in enumerate(frames)
        for line in (f"{frame} SHOT 0 {shot}", f"{frame} EFFECT 0 0")
    ]


def stay(
    head: str, name: str, begin: tuple[str, str], during: tuple[str, str]
) -> list[str]:
    """head: mode, input and hold."""
    inputs = [] if name == "always" else [SWITCH]
    return table(
        inputs=inputs,
        effects=[begin, during, NOTHING],
        triggers=[(f"{head} / 00 01 02", f"{name}, begin 0, during 1, end 2")],
    )


VECTORS = [
    Hand(
        "nothing-but-a-board",
        ("3 R1.7", "3.1", "5.1 R1", "6.2 R5"),
        "the least table there is: a player must get by without a single record",
        table(channels=2),
        3,
        (),
        (),
        (
            (
                "3 frames of 4 samples with no voice sounding: 12 times 0. No group: both channels"
                " stay at 0."
            ),
        ),
        ((0, 12),),
        (((0, 0),), ((0, 0),)),
    ),
    Hand(
        "tap-of-no-length",
        ("5.2 R1", "5.2 R2", "3.2"),
        "a contact that closes and opens between two frames is a press all the same",
        lockout(5),
        20,
        press(3, 3),
        ("3 PRESS 0 0", "8 RELEASE 0 0"),
        (
            (
                "Frame 3: struck, so down; free = 3 + 5 = 8. Frames 4 to 7 are before free. Frame"
                " 8: the contact is open, so up."
            ),
        ),
    ),
    Hand(
        "one-change-a-frame",
        ("5.2 R2",),
        "without a lock-out, too, the release of a tap is noticed in the next frame only",
        lockout(0),
        12,
        press(5, 5),
        ("5 PRESS 0 0", "6 RELEASE 0 0"),
        ("free = 5 + 0, but frame 5 has had its change; in frame 6 the contact is open.",),
    ),
    Hand(
        "bounce-is-swallowed",
        ("5.2 R3",),
        "bounces at either edge end within the lock-out and must not be seen",
        lockout(4),
        30,
        (*press(10, 11), *press(12, 20), *press(21, 22)),
        ("10 PRESS 0 0", "20 RELEASE 0 0"),
        (
            (
                "Press at 10, free = 14: nothing at 11 and 12. Open at 20, free = 24: closed at 21"
                " is forgotten, open at 22, and still open at 24."
            ),
        ),
    ),
    Hand(
        "closed-when-the-lockout-ends",
        ("5.2 R2", "5.2 R3"),
        "what stays closed beyond the lock-out is believed at its end",
        lockout(4),
        36,
        (*press(10, 20), *press(22, 30)),
        ("10 PRESS 0 0", "20 RELEASE 0 0", "24 PRESS 0 0", "30 RELEASE 0 0"),
        (
            (
                "free = 24 after the release at 20; closed since 22, so down at 24; free = 28; open"
                " at 30."
            ),
        ),
    ),
    Hand(
        "opened-when-the-lockout-ends",
        ("5.2 R1",),
        "a reading that finds the contact open is no strike, though the frame before it was closed",
        lockout(4),
        36,
        (*press(10, 20), *press(22, 24)),
        ("10 PRESS 0 0", "20 RELEASE 0 0"),
        (
            (
                "free = 24; the only reading of frame 24 finds it open, and what frames 22 and 23"
                " read does not count."
            ),
        ),
    ),
    Hand(
        "struck-when-the-lockout-ends",
        ("5.2 R1", "5.2 R2"),
        "a tap within the very frame in which the lock-out ends counts",
        lockout(4),
        36,
        (*press(10, 20), *press(24, 24)),
        ("10 PRESS 0 0", "20 RELEASE 0 0", "24 PRESS 0 0", "28 RELEASE 0 0"),
        (
            (
                "free = 24 after the release at 20. Frame 24 is not before free: struck, so down,"
                " free = 28. Open then: up."
            ),
        ),
    ),
    Hand(
        "order-within-a-frame",
        ("5.1 R2", "5.1 R4", "7 R1", "3.3"),
        "selectors and volume come in the order of arrival and before all inputs, inputs in theirs",
        table(inputs=[SWITCH, SWITCH], selectors=[("03 01", "3 positions, starts at 1")]),
        10,
        ("7 PRESS 1 0", "7 VOLUME 0 64", "7 PRESS 0 0", "7 SELECT 0 2"),
        ("7 VOLUME 0 64", "7 SELECT 0 2", "7 PRESS 0 0", "7 PRESS 1 0"),
        ("VOLUME arrived before SELECT; then inputs 0 and 1 by number.",),
    ),
    Hand(
        "same-position-and-same-volume",
        ("5.1 R4",),
        "a position that is the present one is ignored; a volume never is",
        table(inputs=[SWITCH], selectors=[("03 01", "3 positions, starts at 1")]),
        10,
        ("2 SELECT 0 1", "3 VOLUME 0 256", "4 VOLUME 0 256", "5 SELECT 0 2", "6 SELECT 0 2"),
        ("3 VOLUME 0 256", "4 VOLUME 0 256", "5 SELECT 0 2"),
        ("The selector starts at 1: the first SELECT changes nothing, nor does the third.",),
    ),
    Hand(
        "triggers-in-order-then-effects",
        ("5.1 R2", "5.5 R4"),
        "triggers of a frame come before the steps of effects that are under way",
        table(
            inputs=[SWITCH, SWITCH],
            counters=[("09 00 00 00", "0 to 9, starts at 0")],
            effects=[(
                "02 00 03 00 / 88 00 01 00",
                "3 frames after its start counter 0 plus 1",
            ), NOTHING],
            triggers=[
                ("00 00 00 / 00", "once, input 0, effect 0"),
                ("08 00 00 / 01", "once, input 1, effect 1"),
                ("08 00 00 / 01", "the same again"),
            ],
        ),
        12,
        ("2 PRESS 0 0", "5 PRESS 1 0"),
        (*once(2), *once(5, 1, 1), "5 SHOT 2 0", "5 EFFECT 1 2", "5 COUNT 0 1"),
        (
            (
                "The step is due in frame 2 + 3 = 5. There both triggers on input 1 fire first, 1"
                " before 2."
            ),
        ),
    ),
    Hand(
        "hold",
        ("5.3 R1", "5.3 R3", "3.9"),
        "the hold must be waited for, and a press that ends in its last frame is too short",
        table(
            inputs=[SWITCH],
            effects=[NOTHING],
            triggers=[("00 08 00 / 00", "once, input 0, hold 8, effect 0")],
        ),
        50,
        (*press(10, 18), *press(30, 39)),
        (
            "10 PRESS 0 0",
            "18 RELEASE 0 0",
            "30 PRESS 0 0",
            "38 SHOT 0 0",
            "38 EFFECT 0 0",
            "39 RELEASE 0 0",
        ),
        (
            (
                "opens = 10 + 8 = 18, but in frame 18 the input goes up before the triggers are"
                " run. opens = 30 + 8 = 38: down until 39."
            ),
        ),
    ),
    Hand(
        "selector-comes-right-in-mid-hold",
        ("5.3 R2", "5.3 R3", "5.4 R2"),
        "a gate that rises by a selector is not fresh, and a once trigger must not fire",
        table(
            inputs=[SWITCH],
            selectors=[TWO],
            effects=[NOTHING],
            triggers=[
                (
                    "00 00 00 / 80 00 02 00 / 00",
                    "once, input 0, one condition: selector 0 at 1, effect 0",
                )
            ],
        ),
        40,
        ("10 PRESS 0 0", "15 SELECT 0 1", "20 RELEASE 0 0", "30 PRESS 0 0", "31 RELEASE 0 0"),
        (
            "10 PRESS 0 0",
            "15 SELECT 0 1",
            "20 RELEASE 0 0",
            "30 PRESS 0 0",
            "30 SHOT 0 0",
            "30 EFFECT 0 0",
            "31 RELEASE 0 0",
        ),
        (
            (
                "Mask 02 allows position 1 only. The gate rises at 15, but opens was 10: not fresh."
                " At 30 both."
            ),
        ),
    ),
    Hand(
        "every-condition-must-allow",
        ("5.3 R2", "3.9"),
        "conditions are joined by and, also where a selector is named twice",
        table(
            selectors=[("03 00", "3 positions, starts at 0")],
            effects=[NOTHING],
            triggers=[
                (
                    "04 00 00 / 00 00 06 00 / 80 00 03 00 / 00",
                    "always, selector 0 at 1 or 2, and at 0 or 1; begin 0",
                )
            ],
        ),
        20,
        ("5 SELECT 0 2", "8 SELECT 0 1", "11 SELECT 0 0"),
        (
            "5 SELECT 0 2",
            "8 SELECT 0 1",
            "8 START 0 0",
            "8 EFFECT 0 0",
            "11 SELECT 0 0",
            "11 STOP 0 0",
        ),
        ("06 allows 1 and 2, 03 allows 0 and 1: only 1 is left. There from 8 to 11.",),
    ),
    Hand(
        "counter-that-runs-empty",
        ("5.3 R4", "5.5 R6", "3.4"),
        "what a trigger needs is looked at when it fires, and the empty effect comes instead",
        table(
            inputs=[SWITCH],
            counters=[("05 00 02 00", "0 to 5, starts at 2")],
            effects=[COUNT_DOWN, (
                "02 00 01 00 / 88 00 01 00",
                "1 frame after its start counter 0 plus 1",
            )],
            triggers=[
                (
                    "00 00 00 / 01 00 00 00 / 82 01 00 00 / 00",
                    "once, input 0, needs counter 0, empty effect 1, effect 0",
                )
            ],
        ),
        20,
        (*press(2, 3), *press(5, 6), *press(8, 9), *press(11, 12)),
        (
            *once(2),
            "2 COUNT 0 1",
            "3 RELEASE 0 0",
            *once(5),
            "5 COUNT 0 0",
            "6 RELEASE 0 0",
            "8 PRESS 0 0",
            "8 EMPTY 0 0",
            "8 EFFECT 1 0",
            "9 RELEASE 0 0",
            "9 COUNT 0 1",
            *once(11),
            "11 COUNT 0 0",
            "12 RELEASE 0 0",
        ),
        (
            (
                "2 - 1 = 1, 1 - 1 = 0; at 8 it is 0: EMPTY and effect 1, which adds 1 at 9; at 11"
                " there is one again. Each press sets the count of shots to 0."
            ),
        ),
    ),
    Hand(
        "repeat-runs-empty",
        ("5.3 R4", "5.4 R4"),
        "a repeat stops at the shot that finds nothing, though held",
        table(
            inputs=[SWITCH],
            counters=[("09 00 02 00", "0 to 9, starts at 2")],
            effects=[COUNT_DOWN],
            triggers=[
                (
                    "01 00 00 / 01 00 00 00 / 83 00 00 02 / 00",
                    "repeat, input 0, needs counter 0, period 2 frames, effect 0",
                )
            ],
        ),
        40,
        press(4, 30),
        (
            "4 PRESS 0 0",
            "4 START 0 0",
            "4 SHOT 0 0",
            "4 EFFECT 0 0",
            "4 COUNT 0 1",
            "6 SHOT 0 1",
            "6 EFFECT 0 0",
            "6 COUNT 0 0",
            "8 EMPTY 0 0",
            "8 STOP 0 0",
            "30 RELEASE 0 0",
        ),
        (
            (
                "Shots at 4 and 6 take both; that of 8 finds 0. The gate does not rise again before"
                " a release."
            ),
        ),
    ),
    Hand(
        "while-held-without-what-it-needs",
        ("5.3 R4", "5.4 R9"),
        "what does not begin has no end either",
        table(
            inputs=[SWITCH],
            counters=[("03 00 00 00", "0 to 3, starts at 0")],
            effects=[NOTHING, NOTHING],
            triggers=[
                (
                    "02 00 00 / 81 00 00 00 / 00 FF 01",
                    "while_held, input 0, needs counter 0, begin 0, end 1",
                )
            ],
        ),
        20,
        press(4, 9),
        ("4 PRESS 0 0", "4 EMPTY 0 0", "9 RELEASE 0 0"),
        ("The counter is 0 at 4: EMPTY, no effect, never on.",),
    ),
    Hand(
        "count-is-held-in-its-range",
        ("5.5 R1", "5.5 R6", "3.8"),
        "steps come in their order at their times, and a counter stays within 0 and its maximum",
        table(
            inputs=[SWITCH],
            counters=[("07 00 01 00", "0 to 7, starts at 1")],
            effects=[
                (
                    "08 00 02 00 / 08 00 03 00 / 02 00 04 00 / 09 00 01 00 / 09 00 09 00 / 02 00 02 00 / 08 00 63 00 / 89 00 00 00",
                    (
                        "at 0 plus 2, at 0 plus 3, at 4 minus 1, at 4 minus 9, at 6 plus 99, at 6"
                        " plus 0"
                    ),
                )
            ],
            triggers=[ONCE],
        ),
        20,
        press(2, 3),
        (
            *once(2),
            "2 COUNT 0 3",
            "2 COUNT 0 6",
            "3 RELEASE 0 0",
            "6 COUNT 0 5",
            "6 COUNT 0 0",
            "8 COUNT 0 7",
            "8 COUNT 0 7",
        ),
        (
            (
                "1 + 2 = 3, 3 + 3 = 6; at 2 + 4: 6 - 1 = 5, 5 - 9 held at 0; at 2 + 6: 0 + 99 held"
                " at 7; plus 0 is traced all the same."
            ),
            "Kind 8 adds and kind 9 takes away; each wait counts from the step before it.",
        ),
    ),
    Hand(
        "effects-in-turn",
        ("5.4 R1", "5.4 R2"),
        "the place in the list is kept from press to press",
        table(
            inputs=[SWITCH],
            effects=[NOTHING] * 4,
            triggers=[("00 00 00 / 02 00 03", "once, input 0, effects 2, 0, 3")],
        ),
        40,
        (*press(0, 2), *press(10, 12), *press(20, 22), *press(30, 32)),
        tuple(
            line
            for at, effect in ((0, 2), (10, 0), (20, 3), (30, 2))
            for line in (*once(at, 0, effect), f"{at + 2} RELEASE 0 0")
        ),
        ("2, 0, 3, and after the last the first: 2. The count of shots is 0 before each.",),
    ),
    Hand(
        "effects-at-random",
        ("5.4 R1", "5.6 R1"),
        "the draw is scaled, and the effect used last is stepped over",
        table(
            inputs=[SWITCH],
            effects=[NOTHING] * 4,
            triggers=[("05 00 00 / 03 01 02", "once at random, input 0, effects 3, 1, 2")],
        ),
        30,
        (*press(0, 2), *press(10, 12), *press(20, 22)),
        tuple(
            line
            for at, effect in ((0, 3), (10, 1), (20, 2))
            for line in (*once(at, 0, effect), f"{at + 2} RELEASE 0 0")
        ),
        (
            (
                "Seed 1: x = 1, x XOR x << 13 = 2001, XOR >> 17 = 2001, XOR << 5 = 42021"
                " (hexadecimal): draw 4. The next two: 1032, 40396."
            ),
            (
                "4 * 3 >> 16 = 0: effect 3. 1032 * 2 >> 16 = 0, at or above the last one (0), so 1:"
                " effect 1. 40396 * 2 >> 16 = 1, at the last one, so 2: effect 2."
            ),
        ),
    ),
    Hand(
        "period-of-two-and-a-half-frames",
        ("5.4 R3", "5.4 R6", "5.4 R7"),
        "the due time keeps its fraction, and a shot that is due comes before the release",
        repeat("01 00 00 / 83 00 80 02 / 00", "period 640 / 256 = 2.5, effect 0"),
        24,
        press(5, 15),
        (
            "5 PRESS 0 0",
            "5 START 0 0",
            *shots(5, 8, 10, 13),
            "15 RELEASE 0 0",
            "15 SHOT 0 4",
            "15 EFFECT 0 0",
            "15 STOP 0 0",
        ),
        (
            (
                "Due at 5, 7.5, 10, 12.5, 15: fired at 5, 8, 10, 13, 15. floor(256 * 10 / 640) + 1"
                " = 5 shots."
            ),
        ),
    ),
    Hand(
        "ramp-over-four-shots",
        ("5.4 R5", "5.4 R6"),
        "the wait moves from period to ramp_period with the count of shots",
        repeat(
            "01 00 00 / 03 00 00 0A / 07 00 00 04 / 88 00 04 00 / 00",
            "period 10 frames (2560), ramp over 4 shots to 4 frames (1024), effect 0",
        ),
        45,
        press(0, 40),
        (
            "0 PRESS 0 0",
            "0 START 0 0",
            *shots(0, 10, 19, 26, 31, 35, 39),
            "40 RELEASE 0 0",
            "40 STOP 0 0",
        ),
        (
            (
                "Waits 2560 - 1536 * k / 4 = 2560, 2176, 1792, 1408, 1024, 1024 = 10, 8.5, 7, 5.5,"
                " 4, 4 frames."
            ),
            "Due at 0, 10, 18.5, 25.5, 31, 35, 39.",
        ),
    ),
    Hand(
        "falling-ramp-toward-zero",
        ("5.4 R5",),
        "the quotient of a falling ramp is rounded toward zero, not down",
        repeat(
            "01 00 00 / 03 00 01 02 / 04 00 00 02 / 07 00 00 02 / 88 00 02 00 / 00",
            "period 513, first 512, ramp over 2 shots to 512, effect 0",
        ),
        12,
        press(0, 6),
        ("0 PRESS 0 0", "0 START 0 0", *shots(0, 2, 5), "6 RELEASE 0 0", "6 STOP 0 0"),
        (
            (
                "First wait 512. After shot 1: 513 + (-1 * 1) / 2 = 513 and not 512. Due at 0, 2,"
                " (512 + 513) / 256, just after 4: frame 5."
            ),
            "The next is due at (512 + 513 + 512) / 256, after 6.",
        ),
    ),
    Hand(
        "burst-outlasts-the-release",
        ("5.4 R3",),
        "a burst is fired to its end though the input is up",
        repeat("01 00 00 / 03 00 00 04 / 85 00 03 00 / 00", "period 4 frames, burst 3, effect 0"),
        30,
        press(10, 11),
        (
            "10 PRESS 0 0",
            "10 START 0 0",
            *shots(10),
            "11 RELEASE 0 0",
            "14 SHOT 0 1",
            "14 EFFECT 0 0",
            "18 SHOT 0 2",
            "18 EFFECT 0 0",
            "18 STOP 0 0",
        ),
        ("Shots at 10, 14, 18. (c) of frame 18 finds the gate shut and 3 shots: STOP.",),
    ),
    Hand(
        "limit-while-held",
        ("5.4 R4",),
        "at the limit it stops in the frame of the shot, and the count begins anew at the next"
        " press",
        repeat("01 00 00 / 03 00 00 02 / 86 00 02 00 / 00", "period 2 frames, limit 2, effect 0"),
        40,
        (*press(0, 20), *press(30, 31)),
        (
            "0 PRESS 0 0",
            "0 START 0 0",
            *shots(0, 2),
            "2 STOP 0 0",
            "20 RELEASE 0 0",
            "30 PRESS 0 0",
            "30 START 0 0",
            *shots(30),
            "31 RELEASE 0 0",
            "31 STOP 0 0",
        ),
        ("Two shots, at 0 and 2: STOP. Held on to 20, but the gate does not rise again.",),
    ),
    Hand(
        "while-held",
        ("5.4 R8", "5.4 R9", "5.4 R10", "5.4 R11"),
        "begin, during over and over, end; going on comes before the end in the frame of the"
        " release",
        stay(
            "02 00 00",
            "while_held, input 0", ("80 00 04 00", "length 4"), ("80 00 06 00", "length 6",
        )),
        30,
        press(5, 15),
        (
            "5 PRESS 0 0",
            "5 START 0 0",
            "5 EFFECT 0 0",
            "9 EFFECT 1 0",
            "15 RELEASE 0 0",
            "15 EFFECT 1 0",
            "15 STOP 0 0",
            "15 EFFECT 2 0",
        ),
        (
            (
                "next = 5 + 4 = 9: during; next = 9 + 6 = 15: during once more by (a), then (b)"
                " ends it."
            ),
        ),
    ),
    Hand(
        "while-held-without-lengths",
        ("5.4 R9", "5.4 R10"),
        "a begin effect without length is followed at once; a during effect without length comes"
        " once",
        stay("02 00 00", "while_held, input 0", NOTHING, NOTHING),
        40,
        press(5, 30),
        (
            "5 PRESS 0 0",
            "5 START 0 0",
            "5 EFFECT 0 0",
            "5 EFFECT 1 0",
            "30 RELEASE 0 0",
            "30 STOP 0 0",
            "30 EFFECT 2 0",
        ),
        ("next = 5 + 0 = f: go on at once; the length of during is 0: no next any more.",),
    ),
    Hand(
        "on-off",
        ("5.4 R8",),
        "one press begins it, the next one ends it",
        stay("03 00 00", "on_off, input 0", ("80 00 01 00", "length 1"), NOTHING),
        40,
        (*press(3, 8), *press(20, 25), *press(30, 35)),
        (
            "3 PRESS 0 0",
            "3 START 0 0",
            "3 EFFECT 0 0",
            "4 EFFECT 1 0",
            "8 RELEASE 0 0",
            "20 PRESS 0 0",
            "20 STOP 0 0",
            "20 EFFECT 2 0",
            "25 RELEASE 0 0",
            "30 PRESS 0 0",
            "30 START 0 0",
            "30 EFFECT 0 0",
            "31 EFFECT 1 0",
            "35 RELEASE 0 0",
        ),
        (
            (
                "At 20 it is on and fresh: (b) ends it; (c) does not begin, since it was on at the"
                " start of (b)."
            ),
        ),
    ),
    Hand(
        "always",
        ("5.3 R1", "5.4 R8", "5.4 R10"),
        "begins at its hold from power-up without any input",
        stay(
            "04 03 00",
            "always, hold 3", ("80 00 02 00", "length 2"), ("80 00 07 00", "length 7",
        )),
        20,
        (),
        ("3 START 0 0", "3 EFFECT 0 0", "5 EFFECT 1 0", "12 EFFECT 1 0", "19 EFFECT 1 0"),
        ("opens = 3; next = 3 + 2 = 5, 5 + 7 = 12, 19.",),
    ),
    Hand(
        "end-forgets-what-is-held",
        ("5.4 R11", "5.5 R5"),
        "steps to come of held effects are forgotten; those of the end effect, which is not held,"
        " come",
        table(
            inputs=[SWITCH],
            counters=[("09 00 00 00", "0 to 9, starts at 0")],
            effects=[
                (
                    "08 00 01 00 / 02 00 05 00 / 08 00 01 00 / 02 00 05 00 / 88 00 01 00",
                    "counter 0 plus 1 at 0, 5, 10",
                ),
                ("02 00 14 00 / 88 00 01 00", "counter 0 plus 1 at 20"),
            ],
            triggers=[("02 00 00 / 00 FF 01", "while_held, input 0, begin 0, end 1")],
        ),
        40,
        press(2, 9),
        (
            "2 PRESS 0 0",
            "2 START 0 0",
            "2 EFFECT 0 0",
            "2 COUNT 0 1",
            "7 COUNT 0 2",
            "9 RELEASE 0 0",
            "9 STOP 0 0",
            "9 EFFECT 1 0",
            "29 COUNT 0 3",
        ),
        ("Steps at 2, 7 and 12: the last is after the release at 9. 9 + 20 = 29.",),
    ),
    Hand(
        "thirteenth-place",
        ("5.5 R3", "5.5 R7"),
        "twelve staggered fades are kept; the thirteenth lights its first channel and is refused",
        table(
            channels=26,
            inputs=[SWITCH],
            groups=[
                (f"{2 * n:02X} 02 00 FF", f"channels {2 * n} and {2 * n + 1}, highest")
                for n in range(13)
            ],
            fades=[("00 00 FF FF 00 00 10 00", "to full at once")],
            effects=[
                (
                    staggered(range(13), 1),
                    "fade 0 on groups 0 to 12, stagger 1",
                )
            ],
            triggers=[ONCE],
        ),
        10,
        press(5, 6),
        (*once(5), *(f"5 FADE {n} 0" for n in range(13)), "5 REFUSED 0 0", "6 RELEASE 0 0"),
        (
            (
                "Each fade starts its first channel at 5 and keeps the second for 6, in places 0 to"
                " 11. For the 13th there is none: REFUSED with effect 0."
            ),
            "In frame 6 the second channels of groups 0 to 11 follow. Channel 25 stays dark.",
        ),
        ((0, 40),),
        (*((((0, 0), (5, 65535)), ((0, 0), (6, 65535))) * 12), ((0, 0), (5, 65535)), ((0, 0),)),
    ),
    Hand(
        "stagger-down",
        ("5.5 R7",),
        "a negative stagger goes from the last channel down",
        table(
            channels=4,
            inputs=[SWITCH],
            groups=[("00 04 00 FF", "channels 0 to 3, highest")],
            fades=[("00 00 FF FF 00 00 10 00", "to full at once")],
            effects=[("03 00 FE FF / 86 00 00 00", "fade 0 on group 0, stagger -2")],
            triggers=[ONCE],
        ),
        15,
        press(5, 6),
        (*once(5), "5 FADE 0 0", "6 RELEASE 0 0"),
        ("Channel 3 at 5, 2 at 7, 1 at 9, 0 at 11. -2 is 03.",),
        ((0, 60),),
        tuple(((0, 0), (at, 65535)) for at in (11, 9, 7, 5)),
    ),
    Hand(
        "end-forgets-channels-to-come",
        ("5.5 R5", "5.5 R7", "5.4 R11"),
        "a staggered fade that is held stops where it is when its trigger ends",
        table(
            channels=4,
            inputs=[SWITCH],
            groups=[("00 04 00 FF", "channels 0 to 3, highest")],
            fades=[("00 00 FF FF 00 00 10 00", "to full at once")],
            effects=[("03 00 03 00 / 86 00 00 00", "fade 0 on group 0, stagger 3")],
            triggers=[("02 00 00 / 00", "while_held, input 0, begin 0")],
        ),
        20,
        press(5, 11),
        (
            "5 PRESS 0 0",
            "5 START 0 0",
            "5 EFFECT 0 0",
            "5 FADE 0 0",
            "11 RELEASE 0 0",
            "11 STOP 0 0",
        ),
        (
            (
                "Channels at 5, 8, 11, 14. In frame 11 the trigger ends before the places are gone"
                " through: channels 2 and 3 stay dark."
            ),
        ),
        ((0, 80),),
        (shone(5, 65535), shone(8, 65535), ((0, 0),), ((0, 0),)),
    ),
    Hand(
        "first-choice-at-random",
        ("5.4 R1", "5.6 R1"),
        "the first choice is among all, the next among all but the last one",
        table(
            seed=0x12345678,
            inputs=[SWITCH],
            effects=[NOTHING] * 3,
            triggers=[("05 00 00 / 00 01 02", "once at random, input 0, effects 0, 1, 2")],
        ),
        40,
        (*press(0, 2), *press(10, 12), *press(20, 22), *press(30, 32)),
        tuple(
            line
            for at, effect in ((0, 1), (10, 0), (20, 1), (30, 2))
            for line in (*once(at, 0, effect), f"{at + 2} RELEASE 0 0")
        ),
        (
            (
                "States from 12345678: 87985AA5, 155B24A3, 4820F4C4, 81B3AC98 (hexadecimal): draws"
                " 34712, 5467, 18464, 33203."
            ),
            (
                "34712 * 3 >> 16 = 1. 5467 * 2 >> 16 = 0, below 1. 18464 * 2 >> 16 = 0, at 0, so 1."
                " 33203 * 2 >> 16 = 1, at 1, so 2."
            ),
        ),
    ),
    Hand(
        "repeat-in-turn",
        ("5.4 R1", "3.9"),
        "a repeat without bit 7 takes its effects in turn, from press to press, and draws nothing",
        table(
            inputs=[SWITCH],
            effects=[NOTHING] * 2,
            triggers=[(
                "01 00 00 / 83 00 00 02 / 00 01",
                "repeat, input 0, period 2 frames, effects 0, 1",
            )],
        ),
        20,
        (*press(0, 5), *press(10, 11)),
        (
            *(
                "0 PRESS 0 0",
                "0 START 0 0",
                "0 SHOT 0 0",
                "0 EFFECT 0 0",
                "2 SHOT 0 1",
                "2 EFFECT 1 0",
                "4 SHOT 0 2",
                "4 EFFECT 0 0",
            ),
            *(
                "5 RELEASE 0 0",
                "5 STOP 0 0",
                "10 PRESS 0 0",
                "10 START 0 0",
                "10 SHOT 0 0",
                "10 EFFECT 1 0",
                "11 RELEASE 0 0",
                "11 STOP 0 0",
            ),
        ),
        ("Shots at 0, 2, 4: effects 0, 1, 0. The next press goes on with 1.",),
    ),
    Hand(
        "one-channel-takes-no-place",
        ("5.5 R7", "5.5 R3"),
        "a staggered fade of a single channel has nothing to come, and must not fill a place",
        table(
            channels=13,
            inputs=[SWITCH],
            groups=[(f"{n:02X} 01 00 FF", f"channel {n}, highest") for n in range(13)],
            fades=[("00 00 FF FF 00 00 10 00", "to full at once")],
            effects=[
                (
                    staggered(range(13), 1),
                    "fade 0 on groups 0 to 12, stagger 1",
                )
            ],
            triggers=[ONCE],
        ),
        8,
        press(5, 6),
        (*once(5), *(f"5 FADE {n} 0" for n in range(13)), "6 RELEASE 0 0"),
        ("13 fades, each with its only channel at 5: none is kept, none refused.",),
        ((0, 32),),
        (((0, 0), (5, 65535)),) * 13,
    ),
]
