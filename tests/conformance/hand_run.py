"""Conversations of a run (LINK 6), worked by hand from LINK.md and SPEC 5.2 and 7: presses, clock
and trace.

Input 0 fires a once trigger (PRESS, SHOT and EFFECT in the trace), input 1 is not used (PRESS).
Kinds of the trace: 1 PRESS, 2 RELEASE, 3 SELECT, 4 VOLUME, 7 SHOT, 9 EFFECT.
"""

from hand_link import framed
from hand_talk import (
    BAD_FIELD,
    BAD_PRESS,
    FOR_EVER,
    NOT_BEGUN,
    ONE,
    SHORT,
    TWO,
    UNKNOWN_KIND,
    ask_clock,
    ask_trace,
    begin,
    block,
    blocks,
    board,
    clock,
    commit,
    error,
    frames,
    hello,
    message,
    presses,
    push,
    raw,
    restart,
    run,
    say,
    silence,
    status,
    talk,
    trace,
    verified,
    verify,
)
from vector_files import Vector

CLOSE, OPEN, SELECT, VOLUME = range(4)
HELD_AT_0 = say("RESTART", restart(), clock(0, 0, tag=4))


def vectors() -> list[Vector]:
    return [*_clock(), *_presses(), *_refused(), *_trace(), *_silence()]


def _clock() -> list[Vector]:
    return [
        talk(
            "whole-run",
            "6 R2, 6 R3, 6 R4, 6 R7",
            "presses act at their frames while the clock runs, and nothing is played while it is"
            " held",
            frames(20),
            HELD_AT_0,
            say("HELLO: held", hello(), board(0, 1, ONE)),
            say(
                "PRESSES: input 0 at frame 2, opened at 5",
                presses(0, (2, CLOSE, 0, 0), (5, OPEN, 0, 0)),
                clock(0, 0, 2, 2, tag=6),
            ),
            frames(30),
            say("ASK_CLOCK: still 0", ask_clock(), clock(0, 0, 2, 2)),
            say("RUN to 8", run(8), clock(0, 8, 2, 2, tag=5)),
            frames(4),
            say("ASK_CLOCK", ask_clock(), clock(4, 8, 2, 3)),
            say("HELLO: not held", hello(), board(0, 0, ONE)),
            frames(30),
            say("ASK_CLOCK: 8 is not played", ask_clock(), clock(8, 8, 2, 4)),
            say(
                "ASK_TRACE",
                ask_trace(0),
                trace(8, 0, (2, 1, 0, 0), (2, 7, 0, 0), (2, 9, 0, 0), (5, 2, 0, 0)),
            ),
            say("RESTART", restart(), clock(0, 0, tag=4)),
            say("RUN for ever", run(FOR_EVER), clock(0, FOR_EVER, tag=5)),
            frames(9),
            say("ASK_CLOCK", ask_clock(), clock(9, FOR_EVER)),
            say("ASK_TRACE: what was before is forgotten", ask_trace(0), trace(9, 0)),
            plays=ONE,
        ),
        talk(
            "run-to-the-past",
            "6 R3",
            "at until or beyond it the clock is held where it is",
            HELD_AT_0,
            say("RUN to 8", run(8), clock(0, 8, tag=5)),
            frames(30),
            say("RUN to 3", run(3), clock(8, 3, tag=5)),
            frames(5),
            say("ASK_CLOCK", ask_clock(), clock(8, 3)),
            say("HELLO: held", hello(), board(0, 1, ONE)),
            say("RUN to 8", run(8), clock(8, 8, tag=5)),
            frames(5),
            say("RUN to 10", run(10), clock(8, 10, tag=5)),
            frames(5),
            say("ASK_CLOCK", ask_clock(), clock(10, 10)),
            plays=ONE,
        ),
        talk(
            "restart-forgets",
            "6 R2, 3 R3",
            "presses that wait, and the trace, are gone; a repeat does the same",
            frames(3),
            say(
                "PRESSES",
                presses(0, (1, CLOSE, 1, 0), (50, OPEN, 1, 0)),
                clock(3, FOR_EVER, 2, 2, tag=6),
            ),
            frames(1),
            say("ASK_CLOCK: the first was late", ask_clock(), clock(4, FOR_EVER, 2, 3, 1)),
            HELD_AT_0,
            HELD_AT_0,
            say("ASK_TRACE", ask_trace(0), trace(0, 0)),
            say("RUN to 60", run(60), clock(0, 60, tag=5)),
            frames(60),
            say("ASK_TRACE: contact 1 is open again", ask_trace(0), trace(60, 0)),
            plays=ONE,
        ),
        talk(
            "commit-in-a-run",
            "6 R1, 4.4 R1",
            "COMMIT powers up: presses and trace are gone, and the clock runs for ever",
            HELD_AT_0,
            say("PRESSES", presses(0, (2, CLOSE, 1, 0)), clock(0, 0, 1, 3, tag=6)),
            *push(TWO, 1),
            say("ASK_CLOCK", ask_clock(), clock(0, FOR_EVER)),
            frames(9),
            say("ASK_CLOCK", ask_clock(), clock(9, FOR_EVER)),
            say("ASK_TRACE", ask_trace(0), trace(9, 0)),
            plays=ONE,
        ),
        talk(
            "push-while-held",
            "4.1 R1, 6 R4",
            "a push under way leaves a clock that is held as it is",
            HELD_AT_0,
            say("BEGIN", begin(TWO), status(0)),
            *blocks(TWO),
            frames(5),
            say("ASK_CLOCK", ask_clock(), clock(0, 0)),
            say("VERIFY", verify(), verified(TWO)),
            frames(5),
            say("ASK_CLOCK", ask_clock(), clock(0, 0)),
            plays=ONE,
            slots=(ONE, TWO),
        ),
        talk(
            "plain-numbers",
            "6 R11",
            "frames are compared as plain numbers: 4294967280 is far ahead of 5, not behind it",
            frames(5),
            say(
                "PRESSES at 4294967280",
                presses(0, (0xFFFFFFF0, CLOSE, 1, 0)),
                clock(5, FOR_EVER, 1, 3, tag=6),
            ),
            frames(3),
            say("RUN to 2147483653", run(0x80000005), clock(8, 0x80000005, 1, 3, tag=5)),
            frames(3),
            say(
                "ASK_CLOCK: it runs, and the press waits", ask_clock(), clock(11, 0x80000005, 1, 3)
            ),
            say("ASK_TRACE", ask_trace(0), trace(11, 0)),
            plays=ONE,
        ),
    ]


def _presses() -> list[Vector]:
    three = ((1, CLOSE, 1, 0), (2, OPEN, 1, 0), (3, CLOSE, 1, 0))
    return [
        talk(
            "presses-again",
            "6 R5, 3 R3",
            "what the board has already is skipped",
            HELD_AT_0,
            say("PRESSES 0 and 1", presses(0, *three[:2]), clock(0, 0, 2, 2, tag=6)),
            say("again", presses(0, *three[:2]), clock(0, 0, 2, 2, tag=6)),
            say("PRESSES 1 and 2", presses(1, *three[1:]), clock(0, 0, 3, 1, tag=6)),
            say("PRESSES 0 to 2", presses(0, *three), clock(0, 0, 3, 1, tag=6)),
            say(
                "PRESSES from 4 on: 3 is missing",
                presses(4, (9, CLOSE, 1, 0)),
                clock(0, 0, 3, 1, tag=6),
            ),
            say(
                "PRESSES from 32771 on", presses(0x8003, (9, CLOSE, 1, 0)), clock(0, 0, 3, 1, tag=6)
            ),
            say("RUN to 5", run(5), clock(0, 5, 3, 1, tag=5)),
            frames(9),
            say("PRESSES 0 to 2, long played", presses(0, *three), clock(5, 5, 3, 4, tag=6)),
            say("ASK_TRACE", ask_trace(0), trace(5, 0, (1, 1, 1, 0), (2, 2, 1, 0), (3, 1, 1, 0))),
            plays=ONE,
        ),
        talk(
            "numbers-of-presses-wrap",
            "6 R5, 6 R6",
            "first is modulo 65536",
            HELD_AT_0,
            say(
                "PRESSES 65535 and 0: one is skipped",
                presses(0xFFFF, (3, CLOSE, 7, 0), (4, CLOSE, 1, 0)),
                clock(0, 0, 1, 3, tag=6),
            ),
            say(
                "PRESSES 65535 to 1: 1 names no input",
                presses(0xFFFF, *three[:2], (5, CLOSE, 2, 0)),
                error(BAD_PRESS, 1, 6),
            ),
            say("RUN to 9", run(9), clock(0, 9, 1, 3, tag=5)),
            frames(9),
            say("ASK_TRACE", ask_trace(0), trace(9, 0, (4, 1, 1, 0))),
            plays=ONE,
        ),
        talk(
            "more-presses-than-room",
            "6 R5",
            "as many as there is room for, the first of them; the others come again",
            HELD_AT_0,
            say("PRESSES 0 to 2", presses(0, *three), clock(0, 0, 3, 1, tag=6)),
            say(
                "PRESSES 3 to 5",
                presses(3, *((frame, frame % 2, 1, 0) for frame in (5, 6, 7))),
                clock(0, 0, 4, 0, tag=6),
            ),
            say(
                "PRESSES 4 and 5",
                presses(4, (6, CLOSE, 1, 0), (7, OPEN, 1, 0)),
                clock(0, 0, 4, 0, tag=6),
            ),
            say("RUN to 3", run(3), clock(0, 3, 4, 0, tag=5)),
            frames(9),
            say(
                "PRESSES 4 and 5",
                presses(4, (6, CLOSE, 1, 0), (7, OPEN, 1, 0)),
                clock(3, 3, 6, 0, tag=6),
            ),
            say("RUN to 9", run(9), clock(3, 9, 6, 0, tag=5)),
            frames(9),
            say(
                "ASK_TRACE",
                ask_trace(0),
                trace(
                    9,
                    0,
                    *((f, k, 1, 0) for f, k in ((1, 1), (2, 2), (3, 1), (5, 2), (6, 1), (7, 2))),
                ),
            ),
            plays=ONE,
        ),
        talk(
            "late-presses",
            "6 R7",
            "what could not act at its frame acts at the next, in its order, and is counted",
            frames(20),
            say(
                "PRESSES at 5, 19 and 20",
                presses(0, (5, CLOSE, 1, 0), (19, SELECT, 0, 2), (20, CLOSE, 0, 0)),
                clock(20, FOR_EVER, 3, 1, tag=6),
            ),
            frames(1),
            say("ASK_CLOCK: two were late", ask_clock(), clock(21, FOR_EVER, 3, 4, 2)),
            say(
                "ASK_TRACE",
                ask_trace(0),
                trace(
                    21, 0, (20, 3, 0, 2), (20, 1, 0, 0), (20, 1, 1, 0), (20, 7, 0, 0), (20, 9, 0, 0)
                ),
            ),
            plays=ONE,
        ),
        talk(
            "as-one-by-hand",
            "6 R7, 3.8",
            "a tap within a frame is a press, its release comes in the next; a selector and the"
            " volume change before",
            HELD_AT_0,
            say(
                "PRESSES",
                presses(
                    0, (3, CLOSE, 1, 0), (3, OPEN, 1, 0), (6, SELECT, 0, 1), (6, VOLUME, 0, 100)
                ),
                clock(0, 0, 4, 0, tag=6),
            ),
            say("RUN to 9", run(9), clock(0, 9, 4, 0, tag=5)),
            frames(9),
            say(
                "ASK_TRACE",
                ask_trace(0),
                trace(9, 0, (3, 1, 1, 0), (4, 2, 1, 0), (6, 3, 0, 1), (6, 4, 0, 100)),
            ),
            plays=ONE,
        ),
        talk(
            "hand",
            "6 R10",
            "a contact is closed while a hand or a virtual press closes it",
            HELD_AT_0,
            say("PRESSES", presses(0, (2, CLOSE, 1, 0), (5, OPEN, 1, 0)), clock(0, 0, 2, 2, tag=6)),
            say("RUN for ever", run(FOR_EVER), clock(0, FOR_EVER, 2, 2, tag=5)),
            frames(4),
            frames(4, hand=[1]),
            frames(4),
            frames(2, hand=[0]),
            frames(2),
            say(
                "ASK_TRACE",
                ask_trace(0),
                trace(
                    16,
                    0,
                    (2, 1, 1, 0),
                    (8, 2, 1, 0),
                    (12, 1, 0, 0),
                    (12, 7, 0, 0),
                    (12, 9, 0, 0),
                    (14, 2, 0, 0),
                ),
            ),
            plays=ONE,
        ),
    ]


def _refused() -> list[Vector]:
    good = (5, CLOSE, 1, 0)
    bad = {
        "input 2 of 2": (5, CLOSE, 2, 0),
        "input 2 of 2 opens": (5, OPEN, 2, 0),
        "selector 1 of 1": (5, SELECT, 1, 0),
        "position 3 of 3": (5, SELECT, 0, 3),
        "volume 257": (5, VOLUME, 0, 257),
        "kind 4": (5, 4, 0, 0),
        "kind 255": (5, 255, 0, 0),
    }
    return [
        talk(
            "presses-of-what-is-not-there",
            "6 R6, 3.18",
            "one bad press refuses the whole message, by its number",
            HELD_AT_0,
            *(say(what, presses(0, press), error(BAD_PRESS, 0, 6)) for what, press in bad.items()),
            *(
                say(f"behind a good one: {what}", presses(0, good, press), error(BAD_PRESS, 1, 6))
                for what, press in bad.items()
            ),
            say("ASK_CLOCK: none was taken", ask_clock(), clock(0, 0)),
            plays=ONE,
        ),
        talk(
            "presses-out-of-order",
            "6 R6",
            "in order of frames, in the message and behind those that the board holds",
            HELD_AT_0,
            say("9, then 8", presses(0, (9, CLOSE, 1, 0), (8, OPEN, 1, 0)), error(BAD_PRESS, 1, 6)),
            say(
                "8, and 8", presses(0, (8, CLOSE, 1, 0), (8, OPEN, 1, 0)), clock(0, 0, 2, 2, tag=6)
            ),
            say("7 behind 8", presses(2, (7, CLOSE, 1, 0)), error(BAD_PRESS, 2, 6)),
            say("RUN to 20", run(20), clock(0, 20, 2, 2, tag=5)),
            frames(20),
            say(
                "7 where none is held: late, not out of order",
                presses(2, (7, CLOSE, 1, 0)),
                clock(20, 20, 3, 3, tag=6),
            ),
            plays=ONE,
        ),
        talk(
            "bad-press-beyond-the-room",
            "6 R6",
            "whether there is room for it or not",
            HELD_AT_0,
            say("three", presses(0, good, good, good), clock(0, 0, 3, 1, tag=6)),
            say(
                "one that fits and one that names no input",
                presses(3, good, (5, CLOSE, 9, 0)),
                error(BAD_PRESS, 4, 6),
            ),
            say("ASK_CLOCK: neither was taken", ask_clock(), clock(0, 0, 3, 1)),
            plays=ONE,
        ),
        talk(
            "what-a-kind-does-not-use",
            "6 R6, 3.8",
            "does not matter",
            HELD_AT_0,
            say(
                "what does not matter",
                presses(
                    0,
                    (1, CLOSE, 1, 0xFFFF),
                    (2, OPEN, 1, 7),
                    (3, VOLUME, 200, 0),
                    (4, VOLUME, 9, 256),
                ),
                clock(0, 0, 4, 0, tag=6),
            ),
            say("RUN to 6", run(6), clock(0, 6, 4, 0, tag=5)),
            frames(6),
            say(
                "ASK_TRACE",
                ask_trace(0),
                trace(6, 0, (1, 1, 1, 0), (2, 2, 1, 0), (3, 4, 0, 0), (4, 4, 0, 256)),
            ),
            plays=ONE,
        ),
        talk(
            "press-behind-a-skipped-one",
            "6 R6, 6 R7",
            "nor is what follows compared with it: where none is held, any frame will do, and is"
            " late",
            HELD_AT_0,
            say("one, at 9", presses(0, (9, CLOSE, 1, 0)), clock(0, 0, 1, 3, tag=6)),
            say("RUN to 20", run(20), clock(0, 20, 1, 3, tag=5)),
            frames(20),
            say(
                "it again, and one at 5",
                presses(0, (9, CLOSE, 1, 0), (5, OPEN, 1, 0)),
                clock(20, 20, 2, 3, tag=6),
            ),
            say("RUN to 22", run(22), clock(20, 22, 2, 3, tag=5)),
            frames(2),
            say("ASK_CLOCK: late now", ask_clock(), clock(22, 22, 2, 4, 1)),
            say("ASK_TRACE", ask_trace(0), trace(22, 0, (9, 1, 1, 0), (20, 2, 1, 0))),
            plays=ONE,
        ),
        talk(
            "skipped-presses-are-not-looked-at",
            "6 R6",
            "a press that is skipped is not refused",
            HELD_AT_0,
            say("one", presses(0, good), clock(0, 0, 1, 3, tag=6)),
            say(
                "its number again, with no such input",
                presses(0, (5, CLOSE, 9, 0)),
                clock(0, 0, 1, 3, tag=6),
            ),
            say(
                "beyond next_press, with no such input",
                presses(7, (5, CLOSE, 9, 0)),
                clock(0, 0, 1, 3, tag=6),
            ),
            plays=ONE,
        ),
    ]


def _trace() -> list[Vector]:
    traced = [
        (frame, 1 + place % 2, 1, 0)
        for place, frame in enumerate((1, 2, 3, 4, 11, 12, 13, 14, 21, 22))
    ]
    steps = []
    for first in (0, 4, 8):
        batch = [(frame, kind - 1, 1, 0) for frame, kind, *_ in traced[first : first + 4]]
        steps += [
            say(
                f"PRESSES {first} on",
                presses(first, *batch),
                clock(10 * (first // 4), FOR_EVER, first + len(batch), 4 - len(batch), tag=6),
            ),
            frames(10),
        ]
    return [
        talk(
            "trace-overflows",
            "6 R8",
            "the newest trace_room events are kept; first tells what is lost",
            *steps,
            say("ASK_TRACE from 0: 0 and 1 are lost", ask_trace(0), trace(30, 2, *traced[2:])),
            say("ASK_TRACE from 2", ask_trace(2), trace(30, 2, *traced[2:])),
            say("ASK_TRACE from 7", ask_trace(7), trace(30, 7, *traced[7:])),
            say("ASK_TRACE from 10, where the next will be", ask_trace(10), trace(30, 10)),
            say("ASK_TRACE from 11", ask_trace(11), trace(30, 10)),
            say("ASK_TRACE from 2^32 - 1", ask_trace(FOR_EVER), trace(30, 10)),
            plays=ONE,
        ),
    ]


def _silence() -> list[Vector]:
    damaged = framed(bytes.fromhex(hello()))
    damaged = damaged[:2] + bytes([damaged[2] ^ 1]) + damaged[3:]
    return [
        talk(
            "host-is-gone",
            "6 R9",
            "after 10 s without a whole frame a clock that is to be held runs for ever, from"
            " power-up; the push goes on",
            say("BEGIN", begin(SHORT), status(0)),
            say("DATA, block 0", block(SHORT, 0), status(1)),
            HELD_AT_0,
            say("RUN to 5", run(5), clock(0, 5, tag=5)),
            frames(9),
            silence(9900),
            say("ASK_CLOCK: held", ask_clock(), clock(5, 5)),
            silence(9900),
            raw("a damaged frame does not count", damaged),
            silence(200),
            frames(4),
            say("ASK_CLOCK", ask_clock(), clock(4, FOR_EVER)),
            say("DATA, block 1", block(SHORT, 1), status(2)),
            say("VERIFY", verify(), verified(SHORT)),
            plays=ONE,
            slots=(ONE, SHORT),
        ),
        talk(
            "host-is-not-gone",
            "6 R9",
            "every whole message counts: of an unknown kind, one that is refused, a block that is"
            " ignored",
            say("BEGIN", begin(TWO), status(0)),
            HELD_AT_0,
            silence(9900),
            say("an unknown kind", message(30, 5), error(UNKNOWN_KIND, 30, 5)),
            silence(9900),
            say("a malformed RUN", run(5) + " 00", error(BAD_FIELD, None, 5)),
            silence(9900),
            say("DATA of another push", block(TWO, 0, 7)),
            silence(9900),
            say("ASK_CLOCK: held", ask_clock(), clock(0, 0)),
            plays=ONE,
            slots=(ONE, b""),
        ),
        talk(
            "what-is-forgotten-with-the-host",
            "6 R9, 6 R2",
            "presses that wait, trace and late ones are gone, and no contact is kept closed",
            HELD_AT_0,
            say(
                "PRESSES", presses(0, (1, CLOSE, 1, 0), (60, CLOSE, 0, 0)), clock(0, 0, 2, 2, tag=6)
            ),
            say("RUN to 9", run(9), clock(0, 9, 2, 2, tag=5)),
            frames(9),
            say("PRESSES behind its frame", presses(2, (60, OPEN, 0, 0)), clock(9, 9, 3, 2, tag=6)),
            silence(9999),
            raw("a right CRC of nothing is no message", framed(b"")),
            silence(1),
            frames(70),
            say("ASK_CLOCK", ask_clock(), clock(70, FOR_EVER)),
            say("ASK_TRACE", ask_trace(0), trace(70, 0)),
            plays=ONE,
        ),
        talk(
            "host-is-gone-for-just-10-s",
            "6 R9",
            "10 s or longer: a millisecond less is not enough, 10 s are",
            HELD_AT_0,
            say("RUN to 5", run(5), clock(0, 5, tag=5)),
            frames(9),
            silence(9999),
            say("ASK_CLOCK: held", ask_clock(), clock(5, 5)),
            silence(10000),
            frames(4),
            say("ASK_CLOCK", ask_clock(), clock(4, FOR_EVER)),
            plays=ONE,
        ),
        talk(
            "host-is-gone-in-mid-run",
            "6 R9",
            "also where the clock has not come to until yet; one that runs for ever runs on",
            frames(7),
            silence(20000),
            say("ASK_CLOCK", ask_clock(), clock(7, FOR_EVER)),
            say("RUN to 100", run(100), clock(7, 100, tag=5)),
            frames(3),
            silence(10100),
            frames(2),
            say("ASK_CLOCK", ask_clock(), clock(2, FOR_EVER)),
            say("VERIFY: no push", verify(), error(NOT_BEGUN, 0, 2)),
            plays=ONE,
        ),
    ]
