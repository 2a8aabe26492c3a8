"""Conversations about what a board counts (LINK 8), worked by hand from LINK.md."""

from hand_link import crc
from hand_talk import (
    BAD_FIELD,
    FLASH,
    FLASH_FAILS,
    FOR_EVER,
    ONE,
    POWER,
    Step,
    ask_counts,
    begin,
    clock,
    count_bit,
    counted,
    error,
    frames,
    made,
    message,
    presses,
    push,
    restart,
    run,
    say,
    silence,
    talk,
    u16,
    u32,
)
from vector_files import Vector

ASKING = made(5, joints=[("0B 00 00 00", "counts")])
EVERY_MS = 300_000


def record(number: int, power_ups: int, shots: int = 0, flash_errors: int = 0) -> str:
    """As the table of LINK 8 has it, without refusals and a measured voltage."""
    fields = bytes.fromhex(
        f"{u32(number)} {u32(power_ups)} {u32(shots)} {u32(0)} {u16(flash_errors)} FF FF"
    )
    return (fields + crc(fields)).hex(" ").upper()


def told(power_ups: int, shots: int, **more: int) -> Step:
    return say("ASK_COUNTS", ask_counts(), counted(power_ups, shots, **more))


def tap(first: int, frame: int, room: int = 2, until: int = FOR_EVER) -> list[Step]:
    """Input 0 goes down at a frame and up at the next, and both are played."""
    both = presses(first, (frame, 0, 0, 0), (frame + 1, 1, 0, 0))
    return [
        say("PRESSES", both, clock(frame, until, first + 2, room, tag=6)),
        frames(2),
    ]


def vectors() -> list[Vector]:
    return [*_counted(), *_kept(), *_not_counted()]


def _counted() -> list[Vector]:
    return [
        talk(
            "counts",
            "3.25, 3.26, 8 R1, 8 R5",
            "shots count at once; what no record has is lost with the power, and no more",
            told(0, 0),
            *tap(0, 0),
            told(0, 1),
            POWER,
            told(1, 0),
            *tap(0, 0),
            silence(EVERY_MS - 1),
            POWER,
            told(2, 0),
            say("ASK_COUNTS with a field", message(16, 2, "00"), error(BAD_FIELD, None, 2)),
            plays=ASKING,
            slots=(ASKING, b""),
            counts=[record(1, 1), record(2, 2), None, None],
        ),
        talk(
            "counts-after-five-minutes",
            "8 R5",
            "what is new is on record once 300 s have passed; the page is erased first",
            POWER,
            *tap(0, 0),
            silence(EVERY_MS),
            silence(2 * EVERY_MS),
            POWER,
            told(2, 1),
            plays=ASKING,
            slots=(ASKING, b""),
            counts=[record(1, 1), record(2, 1, 1), record(3, 2, 1), None],
        ),
        talk(
            "counts-errors-of-the-flash",
            "8 R1",
            "an erasure that fails counts",
            FLASH_FAILS,
            say("BEGIN", begin(ONE), error(FLASH, 0, 1)),
            told(0, 0, flash_errors=1),
            plays=ASKING,
            slots=(ASKING, b""),
            counts=[None],
        ),
    ]


def _kept() -> list[Vector]:
    return [
        talk(
            "counts-page-after-page",
            "8 R3, 8 R4",
            "the page that is erased is never that of the newest record",
            *[POWER] * 5,
            told(5, 0),
            plays=ASKING,
            slots=(ASKING, b""),
            counts=[record(5, 5), None, record(3, 3), record(4, 4)],
        ),
        talk(
            "counts-damaged-record",
            "8 R3, 8 R4",
            "the record before it counts, and the next one has a number that leaves it behind",
            POWER,
            POWER,
            count_bit(1, 4),
            POWER,
            told(2, 0),
            count_bit(1, 4),
            POWER,
            told(3, 0),
            plays=ASKING,
            slots=(ASKING, b""),
            counts=[record(1, 1), record(2, 2), record(3, 2), record(4, 3)],
        ),
    ]


def _not_counted() -> list[Vector]:
    return [
        talk(
            "counts-not-asked-for",
            "8 R2",
            "a table that does not ask leaves counts and records as they are",
            POWER,
            *push(ONE, 1),
            told(1, 0, counting=0),
            *tap(0, 0),
            silence(EVERY_MS),
            POWER,
            told(1, 0, counting=0),
            plays=ASKING,
            slots=(ASKING, ONE),
            counts=[record(1, 1), None, None, None],
        ),
        talk(
            "counts-no-run",
            "8 R1",
            "what the computer plays is no shot of anybody's",
            say("RESTART", restart(), clock(0, 0, tag=4)),
            say("RUN", run(2), clock(0, 2, tag=5)),
            *tap(0, 0, until=2),
            told(0, 0),
            plays=ASKING,
            slots=(ASKING, b""),
            counts=[None],
        ),
    ]
