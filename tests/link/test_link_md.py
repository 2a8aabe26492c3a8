"""The worked bytes of firmware_spec/LINK.md, against the code and against a CRC and a COBS of
their own.
"""

import re
from pathlib import Path

import pytest
from test_messages import BOARD

from fxseq.link import board_session, host_session
from fxseq.link import messages as m
from fxseq.link.frames import LARGEST_ENCODED, LARGEST_MESSAGE, FrameDecoder
from fxseq.link.slots import Mark, decode_mark

TEXT = (Path(__file__).parents[2] / "firmware_spec" / "LINK.md").read_text(encoding="utf-8")
WORKED = re.findall(
    r"^Worked ([A-Z_]+), tag (\d): `([0-9A-F ]+)`(?:, on the line `([0-9A-F ]+)`)?",
    TEXT,
    re.MULTILINE,
)
SECTIONS = re.findall(r"^### 3\.\d+ ([A-Z_]+) \(kind (\d+)\)", TEXT, re.MULTILINE)
MEANT: dict[str, m.Message] = {
    "HELLO": m.Hello(),
    "BEGIN": m.Begin(1234, 0x12345678),
    "DATA": m.Data(2, b"\xaa\xbb\xcc"),
    "VERIFY": m.Verify(),
    "COMMIT": m.Commit(1234, 0x12345678),
    "RESTART": m.Restart(),
    "RUN": m.Run(1050),
    "PRESSES": m.Presses(0, ((100, 0, 1, 0), (150, 1, 1, 0))),
    "ASK_CLOCK": m.ClockQuery(),
    "ASK_TRACE": m.TraceQuery(16),
    "BOARD": BOARD,
    "STATUS": m.Status(3, 0b101),
    "WAIT": m.Wait(),
    "VERIFIED": m.Verified(1234, 0x12345678),
    "COMMITTED": m.Committed(1),
    "CLOCK": m.Clock(0, 1050, 2, 30, 0),
    "EVENTS": m.Events(110, 0, ((100, 1, 1, 0),)),
    "ERROR": m.Error(4, 0),
    "BOOT": m.Boot(),
    "READ": m.Read(348),
    "PART": m.Part(348, b"\xaa\xbb\xcc"),
    "SUM": m.Sum(672, 10_000),
    "SUMMED": m.Summed(672, 10_000, 0x12345678),
    "COPY": m.Copy(2, 28, 672),
    "ASK_COUNTS": m.CountsQuery(),
    "COUNTS": m.Counts(1, 3, 273, 2, 0, 39936),
    "SPEED": m.Speed(1_000_000),
    "AGREED": m.Agreed(500_000),
    "HALVE": m.Halve(),
    "HALVED": m.Halved(4, 0b11),
}


def crc32_bit_by_bit(data: bytes) -> int:
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def frame_by_hand(message: bytes) -> bytes:
    """A frame as section 2 words it, for bodies without 254 bytes in a row that are not 00."""
    pieces = (message + crc32_bit_by_bit(message).to_bytes(4, "little")).split(b"\0")
    return b"".join(bytes([len(piece) + 1]) + piece for piece in pieces) + b"\0"


def test_every_kind_has_its_section_and_its_worked_bytes() -> None:
    assert [(name, int(kind)) for name, kind in SECTIONS] == [
        (name, message.KIND) for name, message in MEANT.items()
    ]
    assert [name for name, *_ in WORKED] == list(MEANT)
    assert {message.KIND for message in MEANT.values()} == set(m.KINDS)


@pytest.mark.parametrize(("name", "tag", "data", "line"), WORKED, ids=[name for name, *_ in WORKED])
def test_worked_bytes_are_what_they_are_said_to_be(
    name: str, tag: str, data: str, line: str
) -> None:
    message = bytes.fromhex(data)
    assert m.decode_message(message) == (int(tag), MEANT[name])
    assert MEANT[name].encode(int(tag)) == message
    assert FrameDecoder().feed(frame_by_hand(message)) == [message]
    if line:
        assert bytes.fromhex(line) == frame_by_hand(message)


def test_worked_mark_is_what_it_is_said_to_be() -> None:
    data = bytes.fromhex(re.search(r"^Worked mark: `([0-9A-F ]+)`", TEXT, re.MULTILINE)[1])
    assert decode_mark(data) == Mark(1, 1234, 0x12345678)
    assert crc32_bit_by_bit(data[:12]).to_bytes(4, "little") == data[12:]


def test_error_codes_are_those_of_the_table() -> None:
    assert re.findall(r"^\| (\d) \| ([A-Z_]+) \|", TEXT, re.MULTILINE) == [
        (str(code.value), code.name) for code in m.ErrorCode
    ]


def test_sizes_and_times_are_those_of_the_code() -> None:
    assert (
        f"A message has 1 to {LARGEST_MESSAGE} bytes; a frame so has at most {LARGEST_ENCODED + 1},"
        " with its 00" in TEXT
    )
    assert f"has come for {board_session.RELEASE_AFTER_S:g} s" in TEXT
    silence_s = host_session.PATIENCE_S
    stuck_s = host_session.STUCK_S
    work_s = host_session.LONGEST_WORK_S
    assert (
        f"after {silence_s:g} s of silence, after {stuck_s:g} s of answers that get it no further,"
        f" and after {work_s:g} s of WAIT" in TEXT
    )
    assert f"again every {board_session.WAIT_EVERY_S * 1000:g} ms while it works" in TEXT
    assert f"when for {board_session.BACK_AFTER_S:g} s no whole frame with a right CRC has" in TEXT
    assert TEXT.count(f"| baud | u32 | {m.BASE_BAUD}..{m.MOST_BAUD} |") == 2
    assert f"| presses | rest | 1..{m.MOST_PRESSES} of 8 bytes |" in TEXT
    assert f"| events | rest | 0..{m.MOST_EVENTS} of 8 bytes |" in TEXT


def test_crc_over_a_whole_table_is_the_number_that_the_text_warns_of() -> None:
    for body in (b"one table", b"another"):
        assert crc32_bit_by_bit(body + crc32_bit_by_bit(body).to_bytes(4, "little")) == 0x2144DF1C
