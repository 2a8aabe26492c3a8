"""Every vector of firmware_spec/vectors, by the reference, the plain player, the player in C,
and the same as WebAssembly.
"""

import hashlib
from collections.abc import Callable

import plain_player
import plain_reader
import pytest
import vector_files
from c_host import Refused
from vector_files import Event, Expected, Vector, read_all, table_bytes

from fxseq.link.frames import FrameDecoder, encode_frame
from fxseq.player import Player, Press, PressKind, duties
from fxseq.table import BadTable, decode

VECTORS = read_all()
RUNS = [vector for vector in VECTORS if vector["result"] == "plays"]
TABLES = [vector for vector in VECTORS if vector["result"] in ("accepted", "refused", "unsound")]
LINES = [vector for vector in VECTORS if vector["result"] == "received"]

Play = Callable[[bytes, list[Event], int], Expected | Refused]


def play_reference(data: bytes, events: list[Event], until_frame: int) -> Expected | Refused:
    try:
        table = decode(data)
    except BadTable as fault:
        return Refused(fault.reason.name, fault.offset)
    presses = [Press(frame, PressKind(kind), index, value) for frame, kind, index, value in events]
    played = Player(table).play(presses, until_frame)
    return Expected(
        played.samples.tolist(),
        duties(played).tolist(),
        [tuple(map(int, event)) for event in played.trace],
        played.saturated,
    )


def play_plain(data: bytes, events: list[Event], until_frame: int) -> Expected | Refused:
    try:
        return Expected(*plain_player.play(data, events, until_frame))
    except plain_reader.Refused as fault:
        return Refused(fault.reason, fault.offset)


READERS = (play_reference, play_plain)
"""They check all of SPEC 3; the others the header only, and what is not sound does no harm."""


@pytest.fixture(params=["reference", "plain", "c", "wasm"])
def play(request: pytest.FixtureRequest) -> Play:
    if request.param in ("reference", "plain"):
        return {"reference": play_reference, "plain": play_plain}[request.param]
    board = request.getfixturevalue("c_batch" if request.param == "c" else "wasm")

    def play_c(data: bytes, events: list[Event], until_frame: int) -> Expected | Refused:
        run = board.play(data, [Press(*event) for event in events], until_frame)
        return (
            run
            if isinstance(run, Refused)
            else Expected(run.samples.tolist(), run.duties.tolist(), run.trace, run.saturated)
        )

    return play_c


def held(vectors: list[Vector], holds: Callable[[Vector], None]) -> None:
    """Look at each of the vectors, and name all of them that fail, each with its first
    difference.
    """
    failed = []
    for vector in vectors:
        try:
            holds(vector)
        except AssertionError as fault:
            failed.append(f"{vector['id']}: {fault}")
    assert not failed, f"{len(failed)} of {len(vectors)} vectors\n" + "\n".join(failed)


def test_run_gives_what_its_vector_says(play: Play) -> None:
    def holds(vector: Vector) -> None:
        result = play(table_bytes(vector), vector_files.events(vector), vector["until_frame"])
        assert not isinstance(result, Refused), result
        assert result.trace == vector_files.trace(vector)
        whole = vector_files.duties(vector)
        assert whole is None or result.duties == whole
        samples = vector_files.samples(vector)
        assert samples is None or result.samples == samples
        assert result.saturated == vector["saturated"]
        assert vector_files.sha256(result.samples, signed=True) == vector["samples_sha256"]
        assert (
            vector_files.sha256(duty for row in result.duties for duty in row)
            == vector["duties_sha256"]
        )

    held(RUNS, holds)


def test_table_is_judged_as_its_vector_says(play: Play) -> None:
    def holds(vector: Vector) -> None:
        result = play(table_bytes(vector), [], 1)
        if vector["result"] == "accepted":
            assert not isinstance(result, Refused), result
        elif vector["result"] == "refused" or play in READERS:
            assert result == Refused(vector["error"], vector["offset"])
        else:
            assert not isinstance(result, Refused) or result.reason == "TOO_MANY"

    held(TABLES, holds)


def test_lines_of_the_hand_work_are_the_bytes_of_the_table() -> None:
    def holds(vector: Vector) -> None:
        table = b""
        lines = []
        for line in vector["hand"]:
            if len(table) < len(table_bytes(vector)):
                table += bytes.fromhex(line.split(":")[0])
                lines.append(line)
        assert table == table_bytes(vector)
        assert vector["hand"][-1] != lines[-1], "bytes are explained, but not the results"

    held([vector for vector in RUNS if "hand" in vector], holds)


def test_line_carries_the_messages_of_its_vector() -> None:
    def holds(vector: Vector) -> None:
        line = bytes.fromhex(vector["line"])
        messages = [bytes.fromhex(message) for message in vector["messages"]]
        assert FrameDecoder().feed(line) == messages
        decoder = FrameDecoder()
        assert [message for byte in line for message in decoder.feed(bytes([byte]))] == messages
        if "message" in vector:
            assert encode_frame(bytes.fromhex(vector["message"])) == line

    held(LINES, holds)


@pytest.mark.quick
def test_no_vector_is_left_out() -> None:
    """Conversations are held by `tests/link/test_session_vectors.py`."""
    assert len(RUNS) + len(TABLES) + len(LINES) + len(
        [vector for vector in VECTORS if vector["result"] == "converses"]
    ) == len(VECTORS)


def test_hashes_are_those_of_what_is_written_out() -> None:
    for vector in RUNS:
        if (samples := vector_files.samples(vector)) is not None:
            data = b"".join(sample.to_bytes(2, "little", signed=True) for sample in samples)
            assert hashlib.sha256(data).hexdigest() == vector["samples_sha256"], vector["id"]
