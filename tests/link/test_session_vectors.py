"""Every conversation of firmware_spec/vectors/link-sessions.json, with the virtual board's
session and with the one in C.
"""

import ctypes
from collections.abc import Callable
from functools import partial

import pytest
from c_board import CBoard, compile_session, load
from c_players import Reference
from hand_link import crc
from hand_talk import BLOCK_BYTES, BOARD, PRESS_ROOM, TRACE_ROOM, WAITS
from simulated import MemoryFlash
from vector_files import Vector, read_all, table_bytes, unpack

from fxseq.link.board_session import Ability, BoardSession
from fxseq.link.counts import COUNT_PAGES, RECORD_BYTES
from fxseq.link.fit import unfit
from fxseq.link.frames import FrameDecoder, encode_frame
from fxseq.link.slots import MARK_BYTES, FlashError
from fxseq.link.virtual_board import make_session
from fxseq.table import decode

TALKS = [vector for vector in read_all() if vector["result"] == "converses"]
WITH_A_HAND = [
    vector["id"] for vector in TALKS if any("closed" in step for step in vector["steps"])
]
"""Nobody can press a virtual board's contacts; the session in C is held to these."""
CASES = [
    pytest.param(side, vector, id=f"{side}-{vector['id']}")
    for vector in TALKS
    for side in ("c", *(["virtual"] if vector["id"] not in WITH_A_HAND else []))
]
PAGES = 2 + 2 * BOARD["slot_bytes"] // BOARD["page_bytes"]
ABILITY = Ability(
    **{name: value for name, value in BOARD.items() if name not in ("slot_bytes", "page_bytes")}
)
Board = BoardSession | CBoard
PowerUp = Callable[[MemoryFlash, MemoryFlash], Board]
"""With its memory, and that of counts."""


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    path = tmp_path_factory.mktemp("sessions") / "session.so"
    sizes = {
        "BLOCK_BYTES": BLOCK_BYTES,
        "PRESS_ROOM": PRESS_ROOM,
        "TRACE_ROOM": TRACE_ROOM,
        "WRITE_BYTES": 16,
        "READ_BYTES": 16,
    }
    compile_session(path, *(f"-DFXL_{name}={value}" for name, value in sizes.items()))
    return load(path)


class Failing(MemoryFlash):
    """Leaves out the next operation and says so, once it is told to."""

    fails = False

    def _put(self, offset: int, data: bytes) -> None:
        if self.fails:
            self.fails = False
            raise FlashError
        super()._put(offset, data)


class Bench:
    """A board with the means to do to it what a conversation asks for."""

    def __init__(self, power_up: PowerUp, flash: bytes) -> None:
        self.flash = Failing(PAGES, BOARD["page_bytes"])
        self.flash.data[: len(flash)] = flash
        self.counts = Failing(COUNT_PAGES, BOARD["page_bytes"])
        self._power_up = power_up
        self._now_s = 0.0
        self.board = power_up(self.flash, self.counts)

    def say(self, line: bytes) -> bytes:
        """What comes back until the board has nothing more to do."""
        out = self.board.receive(line, self._now_s)
        while True:
            out += self.board.step(self._now_s)
            if not self.board.busy:
                return out

    def push(self, table: bytes) -> None:
        """Have a table play, whatever the answers."""
        head = len(table).to_bytes(4, "little") + crc(table[:-4])
        places = range(0, len(table), BLOCK_BYTES)
        data = [
            (at // BLOCK_BYTES).to_bytes(2, "little") + table[at : at + BLOCK_BYTES]
            for at in places
        ]
        for kind, fields in ((2, head), *((3, block) for block in data), (4, b""), (5, head)):
            self.say(encode_frame(bytes([kind]) + fields))

    def slot(self, number: int) -> int:
        """Where it begins."""
        return 2 * BOARD["page_bytes"] + number * BOARD["slot_bytes"]

    def do(self, step: Vector) -> None:
        """What is not said on the line."""
        if "frames" in step:
            hand = [sum(1 << index for index in step["closed"])] if "closed" in step else []
            if self.board.player is not None:
                self.board.play(self.board.player.frame + step["frames"], *hand)
        elif "silence_ms" in step:
            self._now_s += step["silence_ms"] / 1000
            assert self.board.step(self._now_s) == b""
        elif "baud" in step:
            assert self.board.baud == step["baud"]
        elif "flash_fails" in step:
            self.flash.fails = True
        elif "damage" in step:
            slot, offset = step["damage"]
            self.flash.data[self.slot(slot) + offset] ^= 1
        elif "count_bit" in step:
            place, offset = step["count_bit"]
            self.counts.data[count_place(place) + offset] ^= 1
        elif "mark_bit" in step:
            place, offset = step["mark_bit"]
            self.flash.data[MARK_BYTES * place + offset] ^= 1
        else:
            assert step["power_up"]
            self._now_s = 0.0
            self.board = self._power_up(self.flash, self.counts)


def count_place(place: int) -> int:
    """Where a place for a record begins: both pages have as many."""
    page, at = divmod(place, BOARD["page_bytes"] // RECORD_BYTES)
    return page * BOARD["page_bytes"] + at * RECORD_BYTES


def power_up_c(library: ctypes.CDLL, flash: MemoryFlash, counts: MemoryFlash) -> CBoard:
    def check(data: bytes) -> None:
        if unfit(decode(data), ABILITY, "bench"):
            raise ValueError("beyond the board")

    def asks(data: bytes) -> bool:
        return decode(data).asks_for_counts

    return CBoard(library, flash, check, Reference, ABILITY, counts, asks)


def power_up_virtual(flash: MemoryFlash, counts: MemoryFlash) -> BoardSession:
    return make_session(flash, ABILITY, counts)


def fits(message: bytes, pattern: str) -> bool:
    """`??` stands for any byte."""
    wanted = pattern.split(" ")
    return len(message) == len(wanted) and all(
        want in ("??", f"{byte:02X}") for byte, want in zip(message, wanted, strict=True)
    )


def frames_of(line: bytes) -> list[bytes]:
    return [frame + b"\0" for frame in line.split(b"\0")[:-1]]


@pytest.mark.parametrize(("side", "vector"), CASES)
def test_board_answers_as_its_vector_says(library: ctypes.CDLL, side: str, vector: Vector) -> None:
    converse(
        partial(power_up_c, library) if side == "c" else power_up_virtual,
        vector,
    )


def converse(power_up: PowerUp, vector: Vector) -> None:
    """The whole conversation. Raises AssertionError where the board does otherwise."""
    bench = Bench(
        power_up, b"".join(bytes.fromhex(piece) for piece in unpack(vector.get("flash", [])))
    )
    if "plays" in vector:
        bench.push(table_bytes({"table": vector["plays"]}))
    for number, step in enumerate(vector["steps"]):
        if "to_board" not in step:
            bench.do(step)
            continue
        told = [
            frame
            for frame in frames_of(bench.say(bytes.fromhex(step["to_board"])))
            if frame not in WAITS
        ]
        messages = FrameDecoder().feed(b"".join(told))
        where = f"step {number}, {step['says']}: {[message.hex(' ') for message in messages]}"
        assert len(messages) == len(step["answers"]) and all(
            map(fits, messages, step["answers"])
        ), where
        assert "from_board" not in step or b"".join(told) == bytes.fromhex(
            step["from_board"]
        ), where
    check_memory(bench, vector)


def check_memory(bench: Bench, vector: Vector) -> None:
    """Slots and marks afterwards."""
    for number, pieces in enumerate(vector["slots"]):
        data = table_bytes({"table": pieces})
        assert bench.flash.read(bench.slot(number), len(data)) == data, f"slot {number}"
    for place, wanted in enumerate(vector.get("marks", [])):
        data = bench.flash.read(MARK_BYTES * place, MARK_BYTES)
        whole = (
            [data[0] & 1, int.from_bytes(data[4:8], "little"), data[8:12].hex(" ").upper()]
            if crc(data[:12]) == data[12:]
            else None
        )
        assert (data == b"\xff" * MARK_BYTES) == (wanted is None), f"place {place}"
        assert wanted in (None, "other") or whole == wanted, f"place {place}"
    rest = 2 * BOARD["page_bytes"] - MARK_BYTES * len(vector.get("marks", []))
    assert (
        "marks" not in vector
        or bench.flash.read(MARK_BYTES * len(vector["marks"]), rest) == b"\xff" * rest
    )


    for place, record in enumerate(vector.get("counts", [])):
        at = count_place(place)
        data = bench.counts.read(at, RECORD_BYTES).hex(" ").upper()
        assert data == (record or " ".join(["FF"] * RECORD_BYTES)), f"record {place}"


def test_few_conversations_need_a_hand() -> None:
    assert WITH_A_HAND == ["session-hand"]
