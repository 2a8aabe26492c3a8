"""Conversations that change the speed of the line (LINK 4.6), worked by hand from LINK.md."""

from hand_talk import (
    BAD_FIELD,
    BASE_BAUD,
    MOST_BAUD,
    ONE,
    Step,
    agreed,
    begin,
    block,
    board,
    commit,
    committed,
    error,
    hello,
    message,
    run_at,
    say,
    silence,
    speed,
    status,
    talk,
    verified,
    verify,
)
from vector_files import Vector

BACK_MS = 1000


def change(baud: int, to: int, tag: int = 4) -> list[Step]:
    return [say(f"SPEED, {baud} baud", speed(baud, tag), agreed(to, tag)), run_at(to)]


def vectors() -> list[Vector]:
    wrong = [
        say("too short", message(15, 4, "00 C2 01"), error(BAD_FIELD, None, 4)),
        say("too long", message(15, 4, "00 C2 01 00 00"), error(BAD_FIELD, None, 4)),
        *(
            say(f"{baud} baud", speed(baud), error(BAD_FIELD, None, 4))
            for baud in (0, BASE_BAUD - 1, 2_000_001, 0xFFFFFFFF)
        ),
    ]
    return [
        talk(
            "speed",
            "3.27, 3.28, 4.6 R1",
            "the highest that the board can keep, at most what is asked for",
            *change(500_000, 500_000),
            *change(500_000, 500_000),
            *change(2_000_000, MOST_BAUD, 5),
            *change(BASE_BAUD, BASE_BAUD, 6),
        ),
        talk(
            "speed-refused",
            "3.27, 3 R2",
            "what is refused leaves the speed as it is",
            *change(500_000, 500_000),
            *wrong,
            run_at(500_000),
        ),
        talk(
            "speed-way-back",
            "4.6 R2",
            "a second without a whole frame; any other one holds the speed",
            *change(500_000, 500_000),
            silence(BACK_MS - 1),
            run_at(500_000),
            say("HELLO", hello(), board(2, 0)),
            silence(BACK_MS // 2),
            run_at(500_000),
            silence(BACK_MS),
            run_at(BASE_BAUD),
            say("HELLO", hello(2), board(2, 0, tag=2)),
        ),
        talk(
            "speed-within-a-push",
            "4.6 R3",
            "the push goes on at the new speed, and at the old one",
            say("BEGIN", begin(ONE), status(0)),
            *change(500_000, 500_000),
            say("DATA, block 0", block(ONE, 0), status(1)),
            silence(BACK_MS),
            run_at(BASE_BAUD),
            *(say(f"DATA, block {n}", block(ONE, n), status(n + 1)) for n in (1, 2)),
            say("VERIFY", verify(), verified(ONE)),
            *change(500_000, 500_000, 5),
            say("COMMIT", commit(ONE), committed(0)),
            run_at(500_000),
            slots=(ONE, b""),
        ),
    ]
