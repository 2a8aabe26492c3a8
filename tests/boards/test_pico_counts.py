"""The RP2040's firmware counts what its prop asks it to, in two sectors behind itself that no push
touches (LINK 8).
"""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from pico_board import (
    FIRMWARE_BYTES,
    IMAGE,
    QUICK,
    SECTOR_BYTES,
    EmulatedBoard,
    unpacked,
    with_table,
)

from fxseq.link import Port, counts, hello, open_port, push
from fxseq.link import messages as m
from fxseq.link.counts import RECORD_BYTES, CountRecord, decode_record
from fxseq.link.driver import converse
from fxseq.link.host_session import HostSession, Steps, Talk, ask
from fxseq.runs import load_prop
from fxseq.sequence import LinkError

Answer = TypeVar("Answer")
PROP = """
format = 1
title = "Quiet, so that the emulator is quick"
board = { part = "pico", counts = true, sample_rate_hz = 8000, samples_per_frame = 16 }
inputs.button = {}
groups.lamp = { leds = 1, colour = "amber", current_ma = 5 }
fades.flash = { segments = [{ to_percent = 50, length_ms = 10 }] }
effects.flash = { lights = [{ group = "lamp", fade = "flash" }] }
triggers.flash = { mode = "once", input = "button", effects = ["flash"] }
"""
COUNTS = FIRMWARE_BYTES - 2 * SECTOR_BYTES
PLACES = SECTOR_BYTES // RECORD_BYTES


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("counts") / "quiet.toml"
    path.write_text(PROP, encoding="utf-8")
    return load_prop(path).compiled.data


@pytest.fixture
def flash(tmp_path: Path, table: bytes) -> Path:
    path = tmp_path / "pico.flash"
    path.write_bytes(with_table(unpacked(IMAGE.read_bytes()), table))
    return path


def patiently(act: Callable[[Port], Answer], port: Port) -> Answer:
    """As often as it takes: the emulator may be slow while others have the processor."""
    for _ in range(20):
        try:
            return act(port)
        except LinkError:
            pass
    return act(port)


def tap(port: Port) -> None:
    """The button goes down now, and up at once."""

    def script(talk: Talk) -> Steps[None]:
        yield from ask(talk, m.Presses(0, ((0, 0, 0, 0), (1, 1, 0, 0))), m.Clock)

    converse(port, HostSession(script, port.where))


def records(flash: Path) -> list[CountRecord]:
    """All whole ones, in their order in memory."""
    data = flash.read_bytes()
    starts = [
        COUNTS + page * SECTOR_BYTES + place * RECORD_BYTES
        for page in range(2)
        for place in range(PLACES)
    ]
    found = (decode_record(data[start : start + RECORD_BYTES]) for start in starts)
    return [record for record in found if record is not None]


def test_shots_count_and_every_power_up_is_on_record(flash: Path, table: bytes) -> None:
    for power_ups in (1, 2):
        with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
            assert patiently(hello, port).counts
            assert patiently(counts, port) == m.Counts(1, power_ups, 0, 0, 0, 0xFFFF)
            patiently(tap, port)
            board.wait(0.1)
            assert patiently(counts, port).shots == 1
            if power_ups == 2:
                patiently(lambda port: push(port, table), port)
                assert patiently(counts, port) == m.Counts(1, 2, 1, 0, 0, 0xFFFF)
    assert records(flash) == [CountRecord(1, 1), CountRecord(2, 2)]


def test_a_full_sector_gives_way_to_the_other_one(flash: Path) -> None:
    memory = bytearray(flash.read_bytes())
    full = b"".join(CountRecord(n, n, 7 * n).encode() for n in range(1, PLACES + 1))
    memory[COUNTS : COUNTS + len(full)] = full
    memory[COUNTS + SECTOR_BYTES : COUNTS + 2 * SECTOR_BYTES] = bytes(SECTOR_BYTES)
    flash.write_bytes(memory)
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        patiently(hello, port)
        found = patiently(counts, port)
    assert (found.power_ups, found.shots) == (PLACES + 1, 7 * PLACES)
    assert records(flash)[-1] == CountRecord(PLACES + 1, PLACES + 1, 7 * PLACES)
    assert len(records(flash)) == PLACES + 1
