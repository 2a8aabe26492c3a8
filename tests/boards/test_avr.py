"""The C player and session on an emulated ATmega328P: pushes, proofs, vectors, samples and duties,
and power cut at any operation of its memories.

The bridge fails where the firmware breaks a rule of the chip's memories
(firmware_spec/ports/avr/README.md). More cuts: FXSEQ_CUTS=200 pytest tests/boards/test_avr.py
"""

import os
import random
import subprocess
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from avr_board import (
    FLASH_BYTES,
    MOST_CHANNELS,
    MOST_SAMPLES,
    PAGE_BYTES,
    PRESS_ROOM,
    SLOT_BYTES,
    SLOTS,
    TRACE_ROOM,
    Built,
    EmulatedBoard,
    active_table,
    build,
    fits,
    play_in_steps,
    push_unseen,
)
from random_runs import random_run
from strategies import Run
from vector_files import events, read_all, sha256, table_bytes, trace

from fxseq.light import FadeCurve, FadeSegment, Shape
from fxseq.link import open_port, prove, push
from fxseq.link.messages import table_crc
from fxseq.player import Played, Player, Press, PressKind, TraceKind, duties
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
    Merge,
    Mode,
    PlayClip,
    Shots,
    StartFade,
    Stay,
    Table,
    TriggerRecord,
    VoiceRule,
    decode,
    encode,
)

CUTS = int(os.environ.get("FXSEQ_CUTS", "4"))
RANDOM_TABLES = 2


def small_lantern(seed: int = 1, clip_samples: int = 900) -> Table:
    """A lantern that fits: a wick that flickers always, and a lever that shoots a flash with a
    crack, as long as there is oil.
    """
    clip = ClipRecord(
        Coding.MULAW, 65536, clip_samples, random.Random(seed).randbytes(clip_samples)
    )
    wick = FadeCurve((FadeSegment(Shape.FLICKER, 600, 23130, 10280, 65536 // 70),), 0)
    flash = FadeCurve((FadeSegment(Shape.STEP, 0, 65535), FadeSegment(Shape.DECAY, 150, 0)))
    glow = EffectRecord((StartFade(0, 0, 0, ambient=True),))
    shot = EffectRecord((PlayClip(0, 0, 3000), StartFade(0, 1, 1, 3), ChangeCount(1, 0, -1)))
    return Table(
        8000,
        16,
        MOST_CHANNELS,
        12,
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
        ),
        fades=(wick, flash),
        clips=(clip,),
        effects=(glow, shot),
        triggers=(
            TriggerRecord(Mode.ALWAYS, Stay(begin=0)),
            TriggerRecord(Mode.REPEAT, Shots((1,), period=150 * 256), 0, needs=0),
        ),
    )


def checksum(table: bytes) -> tuple[int, int]:
    return len(table), table_crc(table)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    return build(tmp_path_factory.mktemp("avr"))


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
        assert push(port, second).slot == 1
    memory = image.read_bytes()
    assert memory[SLOTS:].startswith(first)
    assert memory[SLOTS + SLOT_BYTES :].startswith(second)
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        assert active_table(port) == checksum(second)


def test_slot_takes_a_table_to_its_last_byte(built: Built, image: Path) -> None:
    room = SLOT_BYTES - len(encode(small_lantern(1, 128))) + 128
    table = encode(small_lantern(1, room))
    assert len(table) == SLOT_BYTES
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        push(port, table)
        with pytest.raises(LinkError, match=str(SLOT_BYTES)):
            push(port, encode(small_lantern(1, room + 1)))
        assert active_table(port) == checksum(table)


def test_run_equals_the_reference(built: Built, image: Path) -> None:
    """Trace, samples and duties of four seconds; and what stack and variables leave between
    them.
    """
    table = small_lantern()
    until = 2000
    presses = [
        Press(100, PressKind.PRESS, 0, 0),
        Press(900, PressKind.RELEASE, 0, 0),
        Press(1000, PressKind.VOLUME, 0, 100),
        Press(1100, PressKind.PRESS, 0, 0),
        Press(1102, PressKind.RELEASE, 0, 0),
        Press(1104, PressKind.PRESS, 0, 0),
    ]
    with EmulatedBoard(built, image) as board:
        with open_port(board.where) as port:
            push(port, encode(table))
            found = prove(port, presses, until)
        assert_room(board, built)
    expected = Player(table).play(presses, until)
    assert found == expected.trace
    assert Counter(event.kind for event in found)[TraceKind.SHOT] > 3
    assert_same(board, table, expected, until)


def assert_room(board: EmulatedBoard, built: Built) -> None:
    """Stack and variables never met: between them lies memory that was never used."""
    figures = board.figures()
    names = subprocess.run(
        ["avr-nm", built.firmware], check=True, capture_output=True, text=True
    ).stdout
    end = next(
        int(line.split()[0], 16) & 0xFFFF
        for line in names.splitlines()
        if line.endswith(" __bss_end")
    )
    assert figures["from"] == end and figures["untouched"] >= 16, (end, figures)


def assert_same(board: EmulatedBoard, table: Table, expected: Played, until: int) -> None:
    """The last run but the one that followed it."""
    run = board.runs(table.channels, table.pwm_bits)[-2]
    np.testing.assert_array_equal(run.duties[:until], duties(expected))
    np.testing.assert_array_equal(run.samples, expected.samples)
    assert len(run.duties) == until


def playable_runs(count: int) -> list[tuple[int, Run]]:
    """Random ones that the board can play, and whose presses and trace of four frames it can
    hold.
    """
    found = []
    for seed in range(10_000):
        run = random_run(seed)
        if fits(run.table) and len(found) < count:
            traced = Player(run.table).play(run.presses, run.until_frame).trace
            told, presses = (
                Counter(item.frame // 4 for item in items) for items in (traced, run.presses)
            )
            if (
                traced
                and max(told.values()) <= TRACE_ROOM
                and max(presses.values(), default=0) <= PRESS_ROOM
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
            assert_room(board, built)
            expected = Player(run.table).play(run.presses, run.until_frame)
            assert found == [tuple(map(int, event)) for event in expected.trace], f"seed {seed}"
            assert_same(board, run.table, expected, run.until_frame)


def busiest(told: Sequence[tuple[int, ...]], frames: int) -> int:
    """The most of these, each of which begins with its frame, in so many frames played at once."""
    return max(Counter(one[0] // frames for one in told).values(), default=0)


def test_it_gives_what_every_vector_says_that_fits(built: Built, image: Path) -> None:
    """Left out: one of 66,000 frames, which takes a minute."""
    vectors = [
        vector
        for vector in read_all()
        if vector["result"] == "plays" and vector["until_frame"] < 1000
    ]
    vectors = [vector for vector in vectors if fits(decode(table_bytes(vector)))]
    vectors = [vector for vector in vectors if busiest(trace(vector), 1) <= TRACE_ROOM]
    assert len(vectors) > 70
    with EmulatedBoard(built, image, "-x", "8") as board:
        with open_port(board.where) as port:
            for vector in vectors:
                push(port, table_bytes(vector))
                presses = [Press(*event) for event in events(vector)]
                presses_fit = busiest(presses, 2) <= PRESS_ROOM
                two_fit = presses_fit and busiest(trace(vector), 2) <= TRACE_ROOM
                found = play_in_steps(port, presses, vector["until_frame"], 1 + two_fit)
                assert found == trace(vector), vector["id"]
        assert_room(board, built)
    for index, vector in enumerate(vectors):
        table = decode(table_bytes(vector))
        # The player starts at power-up, then three times a vector: for the push, for the run and
        # after it.
        run = board.runs(table.channels, table.pwm_bits)[3 * index + 2]
        assert sha256(run.samples.tolist(), signed=True) == vector["samples_sha256"], vector["id"]
        assert sha256(run.duties.ravel().tolist()) == vector["duties_sha256"], vector["id"]


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
        assert_room(board, built)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"sample_rate_hz": 16001}, "16000 Hz"),
        ({"samples_per_frame": MOST_SAMPLES + 1}, "refuses"),
        ({"channels": MOST_CHANNELS + 1}, "channels"),
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


def test_contact_closed_by_hand_acts_like_a_press(built: Built, image: Path) -> None:
    """The contact closes for 100 ms, two seconds after power-up; the trace says when."""
    with EmulatedBoard(built, image) as board, open_port(board.where) as port:
        push(port, encode(small_lantern()))
    with EmulatedBoard(built, image, "-c", "0:2000:2100") as board, open_port(board.where) as port:
        found = prove(port, [], 1200)
    kinds = [
        (event.kind, event.frame)
        for event in found
        if event.kind in (TraceKind.PRESS, TraceKind.RELEASE, TraceKind.SHOT)
    ]
    assert [kind for kind, _ in kinds] == [TraceKind.PRESS, TraceKind.SHOT, TraceKind.RELEASE]
    # 50 frames of 2 ms, and fewer where some take longer than that, as those of this table do
    # (README of the port).
    assert 20 < kinds[2][1] - kinds[0][1] <= 51


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
