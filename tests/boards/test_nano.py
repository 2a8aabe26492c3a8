"""The image for the ATmega328P board as the package has it, on an emulated chip: what is decoded
from the edges of its pins and from its pulses is what the reference player puts out. Pushes,
proofs, vectors, contacts that bounce, and power cut at any operation of its memories.

The bridge fails where the firmware breaks a rule of the chip's memories
(firmware_spec/ports/nano/README.md). More cuts: FXSEQ_CUTS=200 pytest tests/boards/test_nano.py
"""

import os
import random
import shutil
import subprocess
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from intelhex import IntelHex
from nano_board import (
    BOOT_SECTION,
    FIRST_CONTACT,
    FLASH_BYTES,
    HZ,
    IMAGE,
    LIGHT_BITS,
    MOST,
    PAGE_BYTES,
    PORT,
    PRESSES_A_MESSAGE,
    PRESS_ROOM,
    SLOT_BYTES,
    SLOTS,
    TRACE_ROOM,
    Built,
    EmulatedBoard,
    Run,
    active_table,
    before,
    build,
    clock_of,
    fits,
    joined,
    light_of,
    pins_of,
    play_until,
    play_in_steps,
    push_unseen,
    steps_of,
    traced_so_far,
    widths_of,
)
from numpy.typing import NDArray
from random_runs import random_run
from strategies import Run as Played_run
from vector_files import events, read_all, sha256, table_bytes, trace

from fxseq.cli.group import run as fxseq
from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.link import hello, open_port, prove, push
from fxseq.link.messages import table_crc
from fxseq.player import Played, Player, Press, PressKind, TraceEvent, TraceKind, duties
from fxseq.sequence import LinkError
from fxseq.table import (
    ChangeCount,
    ClipRecord,
    Coding,
    CounterRecord,
    EffectRecord,
    GroupRecord,
    InputKind,
    InputRecord,
    JointRecord,
    Merge,
    Mode,
    PlayClip,
    SelectorRecord,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    Use,
    VoiceRule,
    decode,
    encode,
)

CUTS = int(os.environ.get("FXSEQ_CUTS", "4"))
RANDOM_TABLES = 2
COMPILER = "5.4.0"
"""avr-gcc that the image in the package is from: that of Debian 12."""


CHANNELS = 8
FULL, OFF = 8, 13
"""Pins of the last two channels."""
BUTTON = FIRST_CONTACT + 5
START = ["-x", "1000", "-e"]


def small_lantern(seed: int = 1, clip_samples: int = 900) -> Table:
    """A lantern that fits: a wick that flickers always, and a lever that shoots a flash with a
    crack, as long as there is oil. One channel is full on, one never on.
    """
    clip = ClipRecord(
        Coding.MULAW, 65536, clip_samples, random.Random(seed).randbytes(clip_samples)
    )
    wick = FadeCurve((FadeSegment(Shape.FLICKER, 600, 23130, 10280, 65536 // 70),), 0)
    flash = FadeCurve((FadeSegment(Shape.STEP, 0, 65535), FadeSegment(Shape.DECAY, 150, 0)))
    full = FadeCurve((FadeSegment(Shape.STEP, 0, 65535),))
    glow = EffectRecord((StartFade(0, 0, 0, ambient=True), StartFade(0, 3, 2, ambient=True)))
    shot = EffectRecord((PlayClip(0, 0, 3000), StartFade(0, 1, 1, 3), ChangeCount(1, 0, -1)))
    return Table(
        8000,
        16,
        CHANNELS,
        LIGHT_BITS,
        2,
        VoiceRule.OLDEST,
        1,
        seed,
        inputs=(InputRecord(InputKind.BUTTON, 20),),
        selectors=(),
        counters=(CounterRecord(30, 30),),
        groups=(
            GroupRecord(0, 2, Merge.HIGHEST),
            GroupRecord(2, 3, Merge.LATEST),
            GroupRecord(5, 1, Merge.HIGHEST, 0),
            GroupRecord(6, 1, Merge.HIGHEST),
        ),
        fades=(wick, flash, full),
        clips=(clip,),
        effects=(glow, shot),
        triggers=(
            TriggerRecord(Mode.ALWAYS, Stay(begin=0)),
            TriggerRecord(Mode.REPEAT, Shots((1,), period=150 * 256), 0, needs=0),
        ),
        joints=(
            JointRecord(Use.LIGHTS, 0, 2, 7),
            JointRecord(Use.LIGHTS, 7, 13, 1),
            JointRecord(Use.PWM, 0, 9),
            JointRecord(Use.CONTACT, 0, BUTTON),
        ),
    )


def checksum(table: bytes) -> tuple[int, int]:
    return len(table), table_crc(table)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    return build(tmp_path_factory.mktemp("nano"))


@pytest.fixture
def image(tmp_path: Path) -> Path:
    return tmp_path / "image"


def test_push_puts_the_table_into_the_slots_in_turn_and_a_power_up_finds_it(
    built: Built, image: Path
) -> None:
    first = encode(small_lantern(1))
    second = encode(small_lantern(2))
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        assert push(port, first).slot == 0
        play_until(port, 4)
        assert push(port, second).slot == 1
    while_pushed = board.runs()[-2]
    edges = while_pushed.edges[while_pushed.edges[:, 1] == FULL]
    assert len(while_pushed.written) > 20
    for cycle in while_pushed.written:
        assert edges[edges[:, 0] < cycle][-1, 2] == 0, "lit while nothing else runs"
    memory = image.read_bytes()
    assert memory[SLOTS:].startswith(first)
    assert memory[SLOTS + SLOT_BYTES :].startswith(second)
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        assert active_table(port) == checksum(second)


def test_new_program_from_a_programmer_costs_the_table_and_no_more(
    built: Built, image: Path, tmp_path: Path
) -> None:
    """The chip is erased for it, but for the EEPROM with the marks (EESAVE)."""
    table = encode(small_lantern())
    fresh = tmp_path / "fresh"
    EmulatedBoard(built, fresh, "-e", "1").wait()
    with EmulatedBoard(built, image, "-x", "4") as board, open_port(board.where) as port:
        push(port, table)
    image.write_bytes(fresh.read_bytes()[:FLASH_BYTES] + image.read_bytes()[FLASH_BYTES:])
    with EmulatedBoard(built, image, "-x", "4") as board, open_port(board.where) as port:
        assert active_table(port) == (0, 0)
        push(port, table)
    with EmulatedBoard(built, image, "-x", "4") as board, open_port(board.where) as port:
        assert active_table(port) == checksum(table)


def test_slot_takes_a_table_to_its_last_byte(built: Built, image: Path) -> None:
    room = SLOT_BYTES - len(encode(small_lantern(1, 128))) + 128
    table = encode(small_lantern(1, room))
    assert len(table) == SLOT_BYTES
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        push(port, table)
        with pytest.raises(LinkError, match=str(SLOT_BYTES)):
            push(port, encode(small_lantern(1, room + 1)))
        assert active_table(port) == checksum(table)


def assert_room(board: EmulatedBoard) -> None:
    """Stack and variables never met: between them lies memory that was never used."""
    assert board.figures()["untouched"] >= 64


def shown_in_order(
    run: Run, table: Table, expected: NDArray[np.integer], within: float
) -> NDArray[np.int64]:
    """Which frame each light period shows whole, none before the one before it; -1 where all is
    dark before frame 0. Raises AssertionError where it shows none of those that it may. within:
    steps.
    """
    clock = clock_of(table.sample_rate_hz)
    light = light_of(run, clock, pins_of(table))
    shown = steps_of(light)
    heard = run.at[-len(expected) * table.samples_per_frame :]
    # What a period shows was ready as it began, and two frames are computed before they are heard.
    late = -(-clock.samples // table.samples_per_frame) + COMPUTED_AHEAD + 1
    found = np.full(len(shown), -1)
    frame = -1
    for period, (begin, row) in enumerate(zip(light.at, shown, strict=True)):
        newest = int(np.searchsorted(heard, begin)) // table.samples_per_frame + COMPUTED_AHEAD
        if frame == -1 and newest <= late and row.max() < within:
            continue
        allowed = range(max(frame, newest - late, 0), min(newest, len(expected) - 1) + 1)
        same = [at for at in allowed if np.abs(expected[at] - row).max() < within]
        assert same, (period, row, allowed)
        found[period] = frame = same[0]
    return found


COMPUTED_AHEAD = 2

BUSY = 3.0
"""Steps by which light may be wrong while bytes come and go: their interrupts delay its edges."""


def seen(table: Table, played: Played) -> NDArray[np.int64]:
    """Duties of the reference, in as many steps as the light has."""
    missing = LIGHT_BITS - table.pwm_bits
    steps = duties(played).astype(np.int64)
    return steps << missing | steps >> table.pwm_bits - missing


def assert_same(runs: list[Run], table: Table, played: Played) -> None:
    """One of them ends with the samples of the reference, and shows its duties. Takes away that
    and those before it: a push starts the player too, and so does a request that is repeated.
    """
    expected = widths_of(played.samples, clock_of(table.sample_rate_hz))
    wrong = ["none of the runs sounds like that"]
    while runs:
        run = runs.pop(0)
        if np.array_equal(run.widths[len(run.widths) - len(expected) :], expected):
            try:
                shown_in_order(run, table, seen(table, played), BUSY)
            except AssertionError as error:
                wrong.append(str(error))
            else:
                return
    raise AssertionError("\n".join(wrong))


# The image


def test_image_is_what_its_sources_give_in_any_folder(built: Built, tmp_path: Path) -> None:
    """With the compiler that it is from, to the byte."""
    copy = tmp_path / "elsewhere" / "ports" / "nano"
    shutil.copytree(PORT, copy)
    shutil.copytree(PORT.parents[1] / "player", copy.parents[1] / "player")
    again = build(tmp_path / "built", copy).hex.read_bytes()
    assert again == built.hex.read_bytes()
    version = subprocess.run(
        ["avr-gcc", "-dumpversion"], check=True, capture_output=True, text=True
    ).stdout.strip()
    assert version != COMPILER or again == IMAGE.read_bytes()


def test_image_keeps_clear_of_the_slots(built: Built) -> None:
    image = IntelHex(str(IMAGE))
    segments = image.segments()
    assert [begin for begin, _ in segments] == [0, BOOT_SECTION]
    assert segments[0][1] <= SLOTS and segments[1][1] <= FLASH_BYTES


def test_board_says_what_the_part_says(built: Built, image: Path) -> None:
    with EmulatedBoard(built, image, "-x", "8") as board, open_port(board.where) as port:
        found = hello(port)
    assert found.name == "fxseq nano"
    assert found.slot_bytes == SLOT_BYTES
    assert (found.most_rate_hz, found.most_channels, found.most_pwm_bits, found.most_voices) == (
        MOST["sample_rate_hz"],
        MOST["channels"],
        MOST["pwm_bits"],
        MOST["voices"],
    )
    assert found.codings == sum(
        1 << coding for coding in (Coding.PCM16, Coding.MULAW, Coding.IMA_ADPCM)
    )
    assert (found.press_room, found.trace_room) == (PRESS_ROOM, TRACE_ROOM)


# Runs


def test_run_equals_the_reference(built: Built, image: Path) -> None:
    """Trace, samples and duties of two seconds; and what stack and variables leave between
    them.
    """
    table = small_lantern()
    until = 1000
    presses = [
        Press(100, PressKind.PRESS, 0, 0),
        Press(500, PressKind.RELEASE, 0, 0),
        Press(600, PressKind.VOLUME, 0, 100),
        Press(700, PressKind.PRESS, 0, 0),
        Press(702, PressKind.RELEASE, 0, 0),
        Press(704, PressKind.PRESS, 0, 0),
    ]
    with EmulatedBoard(built, image) as board:
        with open_port(board.where) as port:
            push(port, encode(table))
            found = prove(port, presses, until)
        assert_room(board)
    expected = Player(table).play(presses, until)
    assert found == expected.trace
    assert Counter(event.kind for event in found)[TraceKind.SHOT] > 3
    assert_same(board.runs(), table, expected)


def playable_runs(count: int) -> list[tuple[int, Played_run]]:
    """Random ones that the board can play, and whose presses and trace of four frames it can
    hold.
    """
    found = []
    for seed in range(10_000):
        run = random_run(seed)
        run = replace(run, table=joined(run.table))
        if fits(run.table) and len(found) < count:
            traced = Player(run.table).play(run.presses, run.until_frame).trace
            told, presses = (
                Counter(item.frame // 4 for item in items) for items in (traced, run.presses)
            )
            if (
                traced
                and max(told.values()) <= TRACE_ROOM
                and max(presses.values(), default=0) <= PRESSES_A_MESSAGE
            ):
                found.append((seed, run))
        if len(found) == count:
            break
    return found


def test_random_tables_equal_the_reference(built: Built, image: Path) -> None:
    for seed, run in playable_runs(RANDOM_TABLES):
        with EmulatedBoard(built, image) as board:
            with open_port(board.where) as port:
                push(port, encode(run.table))
                found = play_in_steps(port, run.presses, run.until_frame)
            assert_room(board)
            expected = Player(run.table).play(run.presses, run.until_frame)
            assert found == [tuple(map(int, event)) for event in expected.trace], f"seed {seed}"
            assert_same(board.runs(), run.table, expected)


def busiest(told: Sequence[tuple[int, ...]], frames: int) -> int:
    """The most of these, each of which begins with its frame, in so many frames played at once."""
    return max(Counter(one[0] // frames for one in told).values(), default=0)


def test_it_gives_what_every_vector_says_that_fits(built: Built, image: Path) -> None:
    """Every fourth of them: the others are played by the same code on other processors."""
    vectors = [
        vector
        for vector in read_all()
        if vector["result"] == "plays" and vector["until_frame"] < 1000
    ]
    tables = {vector["id"]: joined(decode(table_bytes(vector))) for vector in vectors}
    vectors = [vector for vector in vectors if fits(tables[vector["id"]])]
    vectors = [vector for vector in vectors if busiest(trace(vector), 1) <= TRACE_ROOM]
    vectors = vectors[::4]
    assert len(vectors) > 30
    with EmulatedBoard(built, image, "-x", "8") as board:
        with open_port(board.where) as port:
            for vector in vectors:
                push(port, encode(tables[vector["id"]]))
                presses = [Press(*event) for event in events(vector)]
                found = play_in_steps(
                    port, presses, vector["until_frame"], at_once(presses, trace(vector))
                )
                assert found == trace(vector), vector["id"]
        assert_room(board)
    runs = board.runs()
    for vector in vectors:
        table = tables[vector["id"]]
        played = Player(table).play(
            [Press(*event) for event in events(vector)], vector["until_frame"]
        )
        assert sha256(played.samples.tolist(), signed=True) == vector["samples_sha256"]
        assert_same(runs, table, played)


def at_once(presses: Sequence[Press], traced: Sequence[tuple[int, ...]]) -> int:
    """Frames that may be played at once, so that the board can hold presses and trace."""
    return next(
        step
        for step in (8, 4, 2, 1)
        if busiest(presses, step) <= PRESSES_A_MESSAGE
        and busiest(traced, step) <= TRACE_ROOM
        or step == 1
    )


def test_unsound_table_is_refused_at_the_byte_that_its_vector_says(
    built: Built, image: Path
) -> None:
    """Where the last four bytes are not the CRC of those before, LINK 4.3 R2 has the board say
    so before anything else.
    """
    vectors = [
        vector
        for vector in read_all()
        if vector["result"] == "refused" and 5 <= len(table_bytes(vector)) <= SLOT_BYTES
    ]
    vectors = vectors[::2]  # each of them by the same code on other processors
    assert len(vectors) > 20
    with EmulatedBoard(built, image, "-x", "8") as board, open_port(board.where) as port:
        for vector in vectors:
            table = table_bytes(vector)
            sealed = table_crc(table) == int.from_bytes(table[-4:], "little")
            offset = vector["offset"] if sealed else len(table) - 4
            with pytest.raises(LinkError, match=rf"it found a fault at byte {offset}\b"):
                push_unseen(port, table)
        assert active_table(port) == (0, 0)
        assert_room(board)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"sample_rate_hz": 16001}, "16000 Hz"),
        ({"samples_per_frame": MOST["samples_per_frame"] + 1}, "fault at byte 14"),
        ({"channels": MOST["channels"] + 1}, "channels"),
        ({"pwm_bits": LIGHT_BITS + 1}, "bits"),
        ({"voices": 3}, "voices"),
    ],
)
def test_table_beyond_the_board_is_refused_and_the_old_one_plays_on(
    built: Built, image: Path, change: dict[str, int], text: str
) -> None:
    with EmulatedBoard(built, image, "-x", "4") as board, open_port(board.where) as port:
        old = encode(small_lantern())
        push(port, old)
        with pytest.raises(LinkError, match=text):
            push(port, encode(replace(small_lantern(2), **change)))
        assert active_table(port) == checksum(old)
        assert prove(port, [], 50) == Player(small_lantern()).play([], 50).trace


JOINTS = [
    (JointRecord(Use.LIGHTS, 0, 1, 1), "D1 is the serial line"),
    (JointRecord(Use.LIGHTS, 0, 8, 2), "D9 is a sound's"),
    (JointRecord(Use.LIGHTS, 0, 13, 2), "A0 takes contacts"),
    (JointRecord(Use.LIGHTS, 1, 2, 8), "there is no channel 8"),
    (JointRecord(Use.LIGHTS, 0, 2, 0), "no channel"),
    (JointRecord(Use.LIGHTS, 0, 250, 8), "no such pin"),
    (JointRecord(Use.LIGHTS, 0, BUTTON, 1), "taken"),
    (JointRecord(Use.CONTACT, 0, BUTTON), "taken"),
    (JointRecord(Use.CONTACT, 0, 20), "A6 has no pull-up"),
    (JointRecord(Use.CONTACT, 0, 5), "D5 gives light"),
    (JointRecord(Use.CONTACT, 1, 14), "there is no input 1"),
    (JointRecord(Use.POSITION, 0, 14), "there is no selector"),
    (JointRecord(Use.PWM, 0, 10), "D11 gives light"),
    (JointRecord(Use.VOLUME, 0, 14), "nothing here is measured"),
    (JointRecord(Use.SHIFT_REGISTERS, 0, 2, 8), "there is no chain"),
]
"""What the board cannot do behind a button, and why."""
RECORD_BYTES = (2, 2, 4, 4, 8, 4, 8, 8, 2, 4, 8, 4, 1)
"""Of the sections before the joints (SPEC 3)."""


def test_joints_that_cannot_be_are_refused_where_they_stand(built: Built, image: Path) -> None:
    button = JointRecord(Use.CONTACT, 0, BUTTON)
    with EmulatedBoard(built, image, "-x", "8") as board, open_port(board.where) as port:
        for joint, why in JOINTS:
            table = bytearray(encode(replace(small_lantern(), joints=(button, button))))
            counts = np.frombuffer(table, "<u2", len(RECORD_BYTES), 22)
            at = 50 + int(counts @ RECORD_BYTES) + 4
            table[at : at + 4] = bytes((joint.use, joint.what, joint.pin, joint.value))
            table[-4:] = table_crc(bytes(table)).to_bytes(4, "little")
            with pytest.raises(LinkError, match=rf"it found a fault at byte {at}\b"):
                push_unseen(port, bytes(table))
            assert active_table(port) == (0, 0), why


# Pins


RING, CODE = 0, 3
"""The first pin of port C of two selectors: a pin a position, and two bits."""
HAND = [
    *((RING + 1, 0, 0), (5, 0, 0), (5, 2_000, 1)),
    *((5, 600_000, 0), (5, 600_300, 1), (5, 600_900, 0)),
    *(
        (RING + 1, 700_000, 1),
        (RING + 2, 720_000, 0),
        (RING + 2, 720_400, 1),
        (RING + 2, 721_000, 0),
    ),
    *((5, 800_000, 1), (5, 800_500, 0), (5, 800_800, 1)),
    *((CODE, 900_000, 0), (CODE + 1, 905_000, 0)),
    *((5, 1_000_000, 0), (5, 1_000_400, 1)),
]
"""Pin, time in us, level: a button that reads low only as long as its pull-up is not on, a press
and a release that bounce, a ring that is turned, a coded switch that passes position 1 for less
than it takes to settle, and a tap shorter than a frame.
"""
DONE = [
    (TraceKind.SELECT, 0, 1, 0),
    (TraceKind.PRESS, 0, 0, 600),
    (TraceKind.SELECT, 0, 2, 741),
    (TraceKind.RELEASE, 0, 0, 800),
    (TraceKind.SELECT, 1, 3, 925),
    (TraceKind.PRESS, 0, 0, 1000),
    (TraceKind.RELEASE, 0, 0, 1040),
]
"""Kind, index, value, ms; a lock-out of 20 frames, 40 ms, follows each press."""
AS_PRESS = {
    TraceKind.PRESS: PressKind.PRESS,
    TraceKind.RELEASE: PressKind.RELEASE,
    TraceKind.SELECT: PressKind.SELECT,
}
END_MS = 1200


def by_hand() -> Table:
    """The lantern with two selectors."""
    table = small_lantern()
    positions = [JointRecord(Use.POSITION, 0, FIRST_CONTACT + RING + n, n) for n in range(3)]
    coded = JointRecord(Use.CODED, 1, FIRST_CONTACT + CODE, 2)
    return replace(
        table,
        selectors=(SelectorRecord(3, 0), SelectorRecord(4, 0)),
        joints=(*table.joints, *positions, coded),
    )


RAMP_SAMPLES = 2048
FIRST_S = RAMP_SAMPLES / 8000


class Alone(NamedTuple):
    """A run from power-up, with nobody at the line. events: what was pressed and turned, with the
    frames in which the board noticed it.
    """

    run: Run
    table: Table
    events: list[TraceEvent]
    played: Played


@pytest.fixture(scope="module")
def alone(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Alone:
    image = tmp_path_factory.mktemp("alone") / "image"
    table = by_hand()
    with EmulatedBoard(built, image, "-x", "8") as board, open_port(board.where) as port:
        push(port, encode(table))
    moves = [option for move in HAND for option in ("-c", ":".join(map(str, move)))]
    with EmulatedBoard(built, image, "-x", "1000", *moves, "-q", str(END_MS)) as board:
        with open_port(board.where) as port:
            events = [event for event in traced_so_far(port) if event.kind in AS_PRESS]
    run = before(board.runs()[-1], END_MS * HZ // 1000)
    frames = (len(run.at) - RAMP_SAMPLES) // table.samples_per_frame
    presses = [Press(e.frame, AS_PRESS[e.kind], e.index, e.value) for e in events]
    return Alone(run, table, events, Player(table).play(presses, frames))


def test_contacts_are_noticed_in_time_and_once_however_they_bounce(alone: Alone) -> None:
    assert [(e.kind, e.index, e.value) for e in alone.events] == [done[:3] for done in DONE]
    for event, done in zip(alone.events, DONE, strict=True):
        sample = RAMP_SAMPLES + event.frame * alone.table.samples_per_frame
        heard_ms = alone.run.at[sample] * 1000 / HZ
        # A frame is computed one or two frames before it is heard, and lasts 2 ms.
        assert -4.1 <= done[3] - heard_ms <= 0.1 or event.frame == 0, (event, heard_ms)


def test_pulses_are_the_samples_of_the_reference_behind_a_ramp(alone: Alone) -> None:
    clock = clock_of(alone.table.sample_rate_hz)
    ramp = np.arange(16, 32769, 16) - 32768
    expected = widths_of(np.concatenate([ramp, alone.played.samples]), clock)
    assert np.abs(alone.played.samples.astype(int)).max() > 10_000
    np.testing.assert_array_equal(alone.run.widths[: len(expected)], expected)


def test_samples_come_in_mid_pulse(alone: Alone) -> None:
    """So it is the same pulse for each, whatever delays them."""
    clock = clock_of(alone.table.sample_rate_hz)
    phase = (alone.run.at[1:] - alone.run.begin) % clock.widths
    assert clock.widths == 250 and 40 < phase.min() and phase.max() < 210


def test_each_light_period_shows_one_frame_whole(alone: Alone) -> None:
    frames = shown_in_order(alone.run, alone.table, seen(alone.table, alone.played), 0.5)
    clock = clock_of(alone.table.sample_rate_hz)
    lit = frames[frames >= 0]
    assert len(lit) > 200 and HZ / clock.period_cycles >= 200


def test_light_keeps_its_steps_within_half_of_one(alone: Alone) -> None:
    units = light_of(alone.run, clock_of(8000), pins_of(alone.table)).units
    wrong = np.abs(units - np.round(units))
    assert wrong.max() < 0.5 and wrong.mean() < 0.1


@pytest.mark.parametrize(("rate_hz", "within"), [(5000, 1.0), (11025, 0.5), (16000, 0.5)])
def test_light_keeps_its_steps_at_other_rates_of_the_samples(
    built: Built, image: Path, rate_hz: int, within: float
) -> None:
    table = replace(small_lantern(), sample_rate_hz=rate_hz)
    with EmulatedBoard(built, image, "-x", "8") as board, open_port(board.where) as port:
        push(port, encode(table))
    board = EmulatedBoard(built, image, "-x", "1000", "-e", "900")
    board.wait()
    run = board.runs()[-1]
    clock = clock_of(rate_hz)
    frames = (len(run.at) - RAMP_SAMPLES) // table.samples_per_frame
    run = run._replace(at=run.at[: RAMP_SAMPLES + frames * table.samples_per_frame])
    assert HZ / clock.period_cycles >= 200
    assert HZ / clock.sample_cycles == pytest.approx(rate_hz, rel=0.005)
    assert np.median(np.diff(run.at)) == clock.sample_cycles
    shown = shown_in_order(run, table, seen(table, Player(table).play([], frames)), within)
    assert shown[-1] > 100


def test_full_is_on_without_a_gap_and_nothing_is_off(alone: Alone) -> None:
    at, pins, levels = alone.run.edges.T
    assert levels[pins == FULL].tolist() == [1]
    assert not (pins == OFF).any()
    assert at[0] >= alone.run.at[RAMP_SAMPLES - 1]


def test_frames_are_never_late(alone: Alone) -> None:
    """All samples in a row, each a sample behind the one before but for what light and line
    delay.
    """
    gaps = np.diff(alone.run.at[RAMP_SAMPLES:])
    assert np.abs(gaps - clock_of(8000).sample_cycles).max() < 125


def test_watchdog_resets_what_hangs(built: Built, image: Path) -> None:
    """Whatever comes with the first byte of the line hangs in an endless loop."""
    EmulatedBoard(built, image, "-e", "10").wait()
    memory = bytearray(image.read_bytes())
    memory[BYTE_CAME : BYTE_CAME + 2] = JUMP_TO_ITSELF
    image.write_bytes(memory)
    board = EmulatedBoard(built, image, "-x", "20", "-q", "100", "-e", "3000")
    with open_port(board.where) as port:
        port.write(b"\0")
        board.wait()
    begun_s = [run.begin / HZ for run in board.runs()]
    assert len(begun_s) == 2
    assert 1.9 < begun_s[1] < 2.4


BYTE_CAME = 18 * 4
"""Address of the vector (data sheet of the chip, Reset and Interrupt Vectors, from memory)."""
JUMP_TO_ITSELF = b"\xff\xcf"
"""RJMP .-2."""


# Power cuts


def test_power_cut_at_any_operation_leaves_the_old_table_or_the_new_one(
    built: Built, image: Path
) -> None:
    """Operations of a push: bytes of marks, pages erased and written; the one that is cut leaves
    old, new and other bytes.
    """
    dice = random.Random(20)
    old = encode(small_lantern(200, 200))
    # The second finds a table that plays, and marks it again.
    for _ in range(2):
        with EmulatedBoard(built, image, "-x", "4") as board:
            with open_port(board.where) as port:
                push(port, old)
            total = board.figures()["operations"]
    outcomes = []
    for cut in range(CUTS):
        new = encode(small_lantern(cut + 1, 200))
        # One in three in the mark, whose 16 bytes come last, some of them FF already.
        at = total - dice.randrange(10) if cut % 3 == 0 else dice.randint(1, total)
        board = EmulatedBoard(built, image, "-x", "4", "-k", str(at), "-s", str(cut))
        with open_port(board.where) as port, pytest.raises(LinkError):
            push(port, new)
        messages, status = board.end()
        assert status == 3, messages
        with EmulatedBoard(built, image, "-x", "4") as board, open_port(board.where) as port:
            found = active_table(port)
            assert found in (checksum(old), checksum(new)), f"cut {cut} in operation {at}"
            assert prove(port, [], 20)
        outcomes.append(found == checksum(new))
        old = new if outcomes[-1] else old
    assert False in outcomes


def test_program_memory_outside_the_slots_stays_as_it_was(built: Built, image: Path) -> None:
    with EmulatedBoard(built, image):
        pass
    before = image.read_bytes()
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        push(port, encode(small_lantern()))
    after = image.read_bytes()
    changed = {place for place in range(len(before)) if before[place] != after[place]}
    assert changed and changed <= {
        *range(SLOTS, SLOTS + SLOT_BYTES),
        *range(FLASH_BYTES, FLASH_BYTES + 2 * PAGE_BYTES),
    }


# The command


PROP = """
format = 1
title = "Pocket lantern"
board = { part = "nano" }
inputs.button = {}
selectors.ring = { positions = ["slow", "quick"] }
groups.lens = { channels = 3, leds = 3, colour = "amber", current_ma = 5 }
groups.vents = { leds = 1, colour = "blue", current_ma = 5, pin = 13 }
clips.crack = { file = "crack.wav", coding = "mulaw", gain_db = -3, end_ms = 300 }
scripts.show = { presses = "set ring quick @0.1, tap button @0.2, tap button @0.5" }

[triggers.flash]
mode = "once"
input = "button"
effects = ["flash"]
when = { ring = ["quick"] }

[effects.flash]
sounds = [{ clip = "crack" }]
lights = [{ group = "lens", fade = "flash" }, { group = "vents", fade = "flash" }]

[fades.flash]
segments = [
    { shape = "step", to_percent = 100, length_ms = 40 },
    { shape = "decay", to_percent = 0, length_ms = 200 },
]
"""


def test_push_and_prove_cope_with_a_board_that_starts_as_its_port_is_opened(
    built: Built, image: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As a computer resets it over DTR, at every opening; what it is told meanwhile is lost."""
    shutil.copy(CLIP, tmp_path / "crack.wav")
    prop = tmp_path / "prop.toml"
    prop.write_text(PROP)
    with EmulatedBoard(built, image, "-r") as board:
        assert fxseq(["push", str(prop), "--port", board.where]) == 0, capsys.readouterr()
        assert fxseq(["prove", str(prop), "--port", board.where]) == 0, capsys.readouterr()
        board.figures()
    assert "fxseq nano" in capsys.readouterr().out
    assert len(board.runs()) >= 5


CLIP = Path(__file__).parents[2] / "demo_assets" / "clips" / "crack_a.wav"
