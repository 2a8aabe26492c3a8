"""The player in C gives what the reference gives, on every case and to the last sample (SPEC 1 R3),
and refuses what it refuses.

More cases than a run of all tests takes: `FXSEQ_C_CASES=100000 pytest
tests/conformance/test_c_player.py`.
"""

import os
import subprocess
import sys
from pathlib import Path

import c_host
import numpy as np
import pytest
from c_host import SANITIZED, Batch, Refused, in_order
from hypothesis import given
from mutations import HEADER_BYTES, mutant, sealed
from random_runs import long_run, random_run
from strategies import Run, often, runs

from fxseq.clips import prepare
from fxseq.player import Player, Press, PressKind, duties
from fxseq.sequence import load
from fxseq.table import BadTable, clips_in_reach, compile_sequence, decode, encode

sys.path.insert(0, str(Path(__file__).parents[1] / "speed"))

from c_targets import TARGETS, Target, measure, most_state_bytes  # noqa: E402

CASES = int(os.environ.get("FXSEQ_C_CASES", "1500"))
CHUNK = 500
DEMO = Path(__file__).parents[2] / "demo_assets"
CHUNKS = [range(first, min(first + CHUNK, CASES)) for first in range(0, CASES, CHUNK)]


def assert_same(batch: Batch, run: Run, case: str) -> None:
    """Trace first: what sounds and shines wrong mostly began wrong."""
    result = batch.play(encode(run.table), in_order(run.presses), run.until_frame)
    assert not isinstance(result, Refused), f"{case}: refused, {result}"
    played = Player(run.table).play(run.presses, run.until_frame)
    trace = [tuple(map(int, event)) for event in played.trace]
    for mine, yours in zip(trace, result.trace, strict=False):
        assert mine == yours, f"{case}: trace"
    assert len(trace) == len(result.trace), f"{case}: length of the trace"
    assert not (
        differs := np.argwhere(duties(played) != result.duties)
    ).size, f"{case}: duty of (frame, channel) {differs[0]}"
    assert not (
        differs := np.flatnonzero(played.samples != result.samples)
    ).size, f"{case}: sample {differs[0]}"
    assert played.saturated == result.saturated, f"{case}: saturated"


@pytest.mark.parametrize("seeds", CHUNKS, ids=lambda seeds: f"{seeds.start}..{seeds.stop - 1}")
def test_c_gives_what_the_reference_gives(c_batch: Batch, seeds: range) -> None:
    for seed in seeds:
        assert_same(c_batch, random_run(seed), f"random_run({seed})")


@often(40)
@given(run=runs())
def test_c_gives_what_the_reference_gives_on_shrinkable_cases(c_batch: Batch, run: Run) -> None:
    assert_same(c_batch, run, "case")


@pytest.mark.parametrize("seeds", CHUNKS, ids=lambda seeds: f"{seeds.start}..{seeds.stop - 1}")
def test_c_plays_what_is_sound_and_is_not_harmed_by_what_is_not(
    c_batch: Batch, seeds: range
) -> None:
    """A board looks at the header only (SPEC 3 R1, 1 R1)."""
    table = b""
    for seed in seeds:
        if not table or seed % 5 == 0:  # most of the time goes into making the sound ones
            table = encode(random_run(seed).table)
        data = mutant(table, seed)
        try:
            run = Run(decode(data), (), 3)
        except BadTable as fault:
            told = Refused(fault.reason.name, fault.offset)
            result = c_batch.play(data, [], 40)
            is_refused = isinstance(result, Refused)
            assert result == told if is_refused else not of_header(told), f"mutant({seed})"
        else:
            assert_same_bytes(c_batch, data, run, f"mutant({seed})")


def of_header(told: Refused) -> bool:
    """Whether every player refuses a table for this."""
    known = ("BAD_MAGIC", "BAD_VERSION", "BAD_LENGTH", "BAD_CRC")
    return told.reason in known or told.offset < HEADER_BYTES


def assert_same_bytes(batch: Batch, data: bytes, run: Run, case: str) -> None:
    """As assert_same, from the bytes as they are: records that `encode` would write in another
    form stay so.
    """
    result = batch.play(data, [], run.until_frame)
    assert not isinstance(result, Refused), f"{case}: refused, {result}"
    played = Player(run.table).play([], run.until_frame)
    assert [tuple(map(int, event)) for event in played.trace] == result.trace, case
    assert np.array_equal(played.samples, result.samples) and np.array_equal(
        duties(played), result.duties
    ), case


@pytest.mark.parametrize(
    "seed", [0, 1, 2, 5, 10, 13, 15, 18, 22]
)  # in 13 the count of shots comes to its end; others of that kind take long
def test_c_gives_what_the_reference_gives_in_long_runs(c_batch: Batch, seed: int) -> None:
    assert_same(c_batch, long_run(seed), f"long_run({seed})")


def test_records_beyond_what_16_bits_reach_are_refused(c_batch: Batch) -> None:
    table = bytearray(encode(random_run(1).table))
    for section in (4, 9, 11):  # segments, steps and terms
        table[22 + 2 * section : 24 + 2 * section] = (4095).to_bytes(2, "little")
    long = sealed(bytes(table[:-4]) + bytes(80_000))
    with pytest.raises(BadTable, match="BAD_LENGTH at byte 22"):
        decode(long)
    assert c_batch.play(long, [], 0) == Refused("BAD_LENGTH", 22)


def demo_table() -> bytes:
    sequence = load(DEMO / "squall_lantern.toml")
    clips = {
        name: prepare(name, sequence.clips[name], sequence.board, DEMO)
        for name in clips_in_reach(sequence)
    }
    return compile_sequence(sequence, clips).data


def test_bits_that_flip_while_it_plays_do_no_harm(tmp_path: Path) -> None:
    """SPEC 1 R1, in the demo's table and in some that ask for more."""
    command = c_host.make(tmp_path, "fxp_flip", CC="gcc", CFLAGS=SANITIZED)
    for table in (demo_table(), *(encode(random_run(seed).table) for seed in (3, 11, 14, 27))):
        (tmp_path / "table").write_bytes(table)
        done = subprocess.run(
            [command, tmp_path / "table", "300"], capture_output=True, text=True, timeout=60
        )
        assert done.returncode == 0, done.stderr
        assert int(done.stdout.split()[0]) > 0


@pytest.mark.parametrize(
    "press",
    [
        Press(0, PressKind.PRESS, 32),
        Press(0, PressKind.SELECT, 2, 0),
        Press(0, PressKind.VOLUME, 0, 257),
    ],
    ids=str,
)
def test_an_event_that_names_what_is_not_there_is_refused(c_batch: Batch, press: Press) -> None:
    run = random_run(1)
    with pytest.raises(ValueError, match="names what the table does not have"):
        Player(run.table).play([press], 1)
    assert c_batch.play(encode(run.table), [Press(0, PressKind.VOLUME, 0, 0), press], 1) == Refused(
        "NO_SUCH", 1
    )


def test_every_length_of_a_table_is_refused_at_the_right_byte(c_batch: Batch) -> None:
    table = encode(random_run(1).table)
    for length in range(len(table)):
        with pytest.raises(BadTable) as fault:
            decode(table[:length])
        assert c_batch.play(table[:length], [], 0) == Refused(
            fault.value.reason.name, fault.value.offset
        )


def test_a_table_beyond_the_build_is_refused_as_such(tmp_path: Path) -> None:
    small = "-DFXP_MAX_CHANNELS=1 -DFXP_MAX_VOICES=1 -DFXP_MAX_INPUTS=1 -DFXP_MAX_TRIGGERS=1"
    process = Batch(c_host.make(tmp_path, "fxp_host", CC="gcc", CFLAGS=SANITIZED, LIMITS=small))
    fits = 0
    too_many = 0
    for seed in range(300):
        run = random_run(seed)
        table = run.table
        within = max(table.channels, table.voices, len(table.inputs), len(table.triggers)) == 1
        result = process.play(encode(table), in_order(run.presses), run.until_frame)
        assert isinstance(result, Refused) != within
        assert within or result.reason == "TOO_MANY"
        fits = fits + within
        too_many = too_many + (not within)
    process.close()
    assert too_many


def test_the_command_writes_a_trace_as_text(c_command: Path, tmp_path: Path) -> None:
    run = random_run(3)
    kinds = ("PRESS", "RELEASE", "SELECT", "VOLUME")
    events = [
        f"{press.frame} {kinds[press.kind]} {press.index} {press.value}"
        for press in in_order(run.presses)
    ]
    (tmp_path / "table").write_bytes(encode(run.table))
    (tmp_path / "events").write_text("\n".join([*events, f"{run.until_frame} END"]) + "\n")
    done = subprocess.run(
        [c_command, "table", "events", "samples", "duties"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    played = Player(run.table).play(run.presses, run.until_frame)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [
        f"{event.frame} {event.kind.name} {event.index} {event.value}" for event in played.trace
    ]
    assert np.array_equal(np.fromfile(tmp_path / "samples", "<i2"), played.samples)
    assert np.array_equal(np.fromfile(tmp_path / "duties", "<u2"), duties(played).ravel())


def test_the_command_names_reason_and_offset_of_a_refusal(c_command: Path, tmp_path: Path) -> None:
    (tmp_path / "table").write_bytes(encode(random_run(3).table)[:-1])
    done = subprocess.run([c_command, "table"], cwd=tmp_path, capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (1, "", "BAD_LENGTH 4\n")


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_it_compiles_without_a_warning_with_its_state_within_the_design_and_nothing_else_kept(
    target: Target, tmp_path: Path
) -> None:
    sizes = measure(target, tmp_path)
    assert sizes.state <= most_state_bytes(target)
    assert (
        sizes.data == 0 or target.name == "wasm32"
    ), "variables of the player's own"  # there, constants are data
