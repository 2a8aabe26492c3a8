"""A push to a board that has much of the table already: only what has changed goes over the line,
and whatever the board says of what it has, the table arrives whole (LINK 4.5).
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import pytest
from simulated import (
    BYTES_PER_S,
    BitErrors,
    Bursts,
    Gone,
    MemoryFlash,
    Wire,
    converse,
    make_board,
    make_table,
)
from small_tables import demo_table

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.link import messages as m
from fxseq.link.board_session import BoardSession
from fxseq.link.host_push import push
from fxseq.link.host_session import HostSession
from fxseq.table import ClipRecord, Coding, decode, encode

BLOCK = 352
DICE = random.Random(8)
SOUNDS = [DICE.randbytes(size) for size in (9000, 15_000, 4001, 12_000, 300)]
BASE = decode(demo_table())


def with_sounds(*sounds: bytes, fade_frames: int = 20) -> bytes:
    """A table with these clips, in mu-law."""
    clips = tuple(ClipRecord(Coding.MULAW, 65_536, len(sound), sound) for sound in sounds)
    falls = FadeSegment(Shape.STRAIGHT, fade_frames, 0)
    fade = FadeCurve((FadeSegment(Shape.STEP, 0, 65535), falls))
    return encode(replace(BASE, clips=clips, fades=(fade,)))


OLD = with_sounds(*SOUNDS)


class Told:
    """A push that is through."""

    def __init__(self, board: BoardSession, table: bytes, *lines: Wire, **how: float) -> None:
        session = HostSession(push(table, lambda board: []), "line")
        there, back = lines or (Wire(), Wire())
        self.seconds = converse(session, board, there, back, **how)
        self.line_bytes = session.talk.sent_bytes + session.talk.heard_bytes
        self.sent_bytes = session.talk.sent_bytes
        self.kept = (session.result.kept, session.result.sounds)
        assert board.player.table == table


def new_flash() -> MemoryFlash:
    return MemoryFlash(2 + 2 * 12, 4096)


@cache
def flash_with(table: bytes) -> bytes:
    flash = new_flash()
    Told(make_board(flash), table)
    return bytes(flash.data)


def new_board(old: bytes = OLD, **ability: object) -> BoardSession:
    """That plays a table."""
    flash = new_flash()
    flash.data[:] = flash_with(old)
    return make_board(flash, **ability)


def test_one_changed_fade_takes_a_tenth_of_the_bytes_and_of_the_time() -> None:
    first = Told(make_board(new_flash()), OLD)
    table = with_sounds(*SOUNDS, fade_frames=21)
    second = Told(new_board(), table)
    assert second.kept == (5, 5)
    assert second.line_bytes < first.line_bytes / 10
    assert second.seconds < first.seconds / 10


@pytest.mark.parametrize(
    ("sounds", "kept"),
    [
        ([DICE.randbytes(7), *SOUNDS], (5, 6)),
        ([*SOUNDS[:2], DICE.randbytes(4001), *SOUNDS[3:]], (4, 5)),
        ([*SOUNDS[:2], DICE.randbytes(4002), *SOUNDS[3:]], (4, 5)),
        (SOUNDS[::-1], (4, 5)),
        (SOUNDS[1:], (4, 4)),
        (SOUNDS[:3], (3, 3)),
        ([SOUNDS[2], SOUNDS[2][:-1] + b"\0"], (1, 2)),
    ],
    ids=[
        "moved by an odd number",
        "same length",
        "a byte more",
        "turned round",
        "without the first",
        "without the last",
        "with one like it",
    ],
)
def test_sounds_that_the_board_has_are_not_sent(
    sounds: Sequence[bytes], kept: tuple[int, int]
) -> None:
    table = with_sounds(*sounds)
    told = Told(new_board(), table)
    sent = sum(len(sound) for sound in sounds if sound not in SOUNDS)
    assert told.kept == kept
    assert told.sent_bytes < 1.05 * sent + 2 * BLOCK * (1 + kept[1]) + 200


def test_two_sounds_of_one_length_that_change_places_are_found() -> None:
    two = [DICE.randbytes(8000) for _ in range(2)]
    told = Told(new_board(with_sounds(*two)), with_sounds(*two[::-1]))
    assert told.kept == (2, 2) and told.sent_bytes < 2500


def test_nothing_is_asked_for_where_it_cannot_pay() -> None:
    other = make_board(new_flash())
    Told(other, make_table(20_000, 3))
    for board in (new_board(features=m.Feature.RUNS | m.Feature.READING), other):
        told = Told(board, with_sounds(*SOUNDS, fade_frames=21))
        assert told.kept == (0, 0) and told.sent_bytes > sum(map(len, SOUNDS))
    short = with_sounds(SOUNDS[4], fade_frames=3)
    assert Told(new_board(), short).sent_bytes < len(short) + 60


@pytest.mark.parametrize(
    "fault",
    [lambda seed: BitErrors(1e-5, seed), lambda seed: BitErrors(1e-4, seed), Bursts],
    ids=["1e-5", "1e-4", "bursts"],
)
def test_it_arrives_over_a_bad_line(fault: Callable[[int], Callable[[bytes], bytes]]) -> None:
    for seed in range(3):
        table = with_sounds(DICE.randbytes(3 + seed), *SOUNDS[:2], DICE.randbytes(5000), SOUNDS[3])
        told = Told(new_board(), table, Wire(fault(seed)), Wire(fault(seed + 9)))
        assert told.kept == (3, 5) and told.sent_bytes < len(table) / 3


def test_lines_with_long_delays_and_small_blocks_are_served() -> None:
    table = with_sounds(*SOUNDS[:2], b"new" * 100, *SOUNDS[2:])
    for ability in ({}, {"block_bytes": 32, "window": 1}):
        board = new_board(**ability)
        wires = [Wire(latency_s=0.03, bytes_per_s=100_000) for _ in range(2)]
        assert Told(board, table, *wires).kept[0] == 5


def test_slow_memory_is_waited_for() -> None:
    """30 ms a block: the copying takes seconds, with WAIT meanwhile."""
    told = Told(new_board(), with_sounds(*SOUNDS, fade_frames=21), Wire(), Wire(), step_s=0.03)
    assert told.kept == (5, 5) and told.seconds > 3 and told.sent_bytes < 3000


def pairs(seed: int) -> tuple[list[bytes], list[bytes]]:
    """Sounds before and after some changes."""
    dice = random.Random(seed)
    before = [dice.randbytes(dice.choice([1, 40, 351, 352, 353, 900, 4000])) for _ in range(6)]
    after = list(before)
    for _ in range(dice.randrange(4)):
        place = dice.randrange(len(after))
        change = dice.choice(["drop", "new", "twice", "byte", "swap"])
        if change == "drop" and len(after) > 1:
            del after[place]
        elif change == "new":
            after.insert(place, dice.randbytes(dice.choice([1, 2, 33, 1000])))
        elif change == "twice":
            after.insert(0, after[place] + b"1")
        elif change == "byte":
            after[place] = after[place][:-1] + bytes([after[place][-1] ^ 1])
        else:
            after[0], after[place] = after[place], after[0]
    return before, after


@pytest.mark.parametrize("seed", range(12))
def test_any_change_arrives(seed: int) -> None:
    before, after = pairs(seed)
    board = new_board(with_sounds(*before), block_bytes=random.Random(seed).choice([32, 100, 352]))
    kept, sounds = Told(board, with_sounds(*after, fade_frames=seed + 5)).kept
    assert kept <= sounds
    if max(map(len, after)) > 1500:
        assert kept >= len(set(after) & {sound for sound in before if len(sound) > 352})


def test_board_that_sums_up_wrongly_is_given_all_of_it() -> None:
    """As by chance any CRC may be that of other bytes."""
    board = new_board()
    changed = SOUNDS[1][:9000] + b"?" + SOUNDS[1][9001:]
    table = with_sounds(SOUNDS[0], changed, *SOUNDS[2:])
    start = table.index(SOUNDS[0])

    def sum_up(message: m.Sum) -> object:
        yield
        place = start + message.offset - OLD.index(SOUNDS[0])
        return replace(
            m.Summed(message.offset, message.length, 0),
            crc=m.table_crc(table[place : place + message.length] + bytes(4)),
        )

    board._sum_up = sum_up
    told = Told(board, table)
    assert len(table) < told.sent_bytes < 1.2 * len(table)
    assert told.kept == (0, 0)


@pytest.mark.parametrize("at_s", [0.05, 0.15, 0.25, 0.4])
def test_host_that_goes_in_the_midst_is_followed_by_another(at_s: float) -> None:
    board = new_board()
    table = with_sounds(*SOUNDS[:2], DICE.randbytes(2000), *SOUNDS[3:])
    session = HostSession(push(table, lambda board: []), "line", 4)
    with pytest.raises(Gone):
        converse(session, board, Wire(ends_at_s=at_s), Wire(), step_s=0.002)
    assert Told(board, table).sent_bytes < 4500


def test_board_that_restarts_while_it_copies_is_pushed_to_once_more() -> None:
    flash = new_flash()
    flash.data[:] = flash_with(OLD)

    class Restarting:
        board = make_board(flash)
        restarts = 0

        def __getattr__(self, name: str) -> object:
            return getattr(self.board, name)

        def step(self, now_s: float) -> bytes:
            if self.board._copies and not self.restarts:
                self.restarts += 1
                self.board = make_board(flash)
            return self.board.step(now_s)

    board = Restarting()
    assert Told(board, with_sounds(*SOUNDS, fade_frames=21)).kept == (5, 5)
    assert board.restarts == 1


def test_time_is_what_the_line_takes() -> None:
    """The board's work apart, which takes no time here."""
    told = Told(new_board(), with_sounds(*SOUNDS, fade_frames=21))
    assert told.seconds < told.line_bytes / BYTES_PER_S + 0.03
