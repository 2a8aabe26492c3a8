"""Messages: there and back, and every bound."""

from dataclasses import fields, replace
from typing import get_args, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.link import messages as m

BOARD = m.Board(
    version=1,
    table_version=2,
    most_rate_hz=22_050,
    most_channels=42,
    most_pwm_bits=12,
    most_voices=4,
    codings=3,
    features=7,
    block_bytes=352,
    window=16,
    press_room=32,
    trace_room=256,
    slot_bytes=131_072,
    active=0,
    held=0,
    length_0=1234,
    crc_0=0x12345678,
    length_1=0,
    crc_1=0,
    board_id=7,
    name="lantern",
)


def messages_of(kind: type[m.Message]) -> st.SearchStrategy[m.Message]:
    """Any message of this kind whose fields are within their ranges."""
    hints = get_type_hints(kind, include_extras=True)
    values = {}
    for item in fields(kind):
        mark = get_args(hints[item.name])[1]
        if isinstance(mark, m.Number):
            values[item.name] = st.integers(mark.lowest, mark.highest)
        elif get_args(hints[item.name])[0] is str:
            values[item.name] = st.text(
                st.characters(categories=["L", "N"], max_codepoint=0x7FF), max_size=12
            )
        elif get_args(hints[item.name])[0] is bytes:
            values[item.name] = st.binary(min_size=mark.smallest, max_size=mark.largest)
        else:
            timed = st.tuples(
                st.integers(0, 2**32 - 1),
                st.integers(0, 255),
                st.integers(0, 255),
                st.integers(0, 65535),
            )
            values[item.name] = st.lists(
                timed, min_size=mark.smallest // 8, max_size=mark.largest // 8
            ).map(tuple)
    if kind is m.Board:
        values["version"] = st.just(m.PROTOCOL_VERSION)
    return st.builds(kind, **values)


@pytest.mark.parametrize("kind", m.KINDS.values(), ids=lambda kind: kind.__name__)
def test_message_comes_back_whole(kind: type[m.Message]) -> None:
    @settings(deadline=None)
    @given(messages_of(kind), st.integers(0, 7))
    def there_and_back(message: m.Message, tag: int) -> None:
        assert m.decode_message(message.encode(tag)) == (tag, message)

    there_and_back()


@settings(deadline=None)
@given(st.binary(min_size=1, max_size=400))
def test_any_bytes_are_a_message_that_encodes_to_them_or_a_bad_message(data: bytes) -> None:
    try:
        tag, message = m.decode_message(data)
    except m.BadMessage:
        return
    assert message.encode(tag) == data


@pytest.mark.parametrize(
    ("data", "code", "detail"),
    [
        ("00", m.ErrorCode.UNKNOWN_KIND, 0),
        ("1F", m.ErrorCode.UNKNOWN_KIND, 31),
        ("01", m.ErrorCode.BAD_FIELD, 0),
        ("01 01 01", m.ErrorCode.BAD_FIELD, 2),
        ("02 00 00 00 00 78 56 34 12", m.ErrorCode.BAD_FIELD, 0),
        ("03 00 00", m.ErrorCode.BAD_FIELD, 2),
        ("08 00 00 01 02 03", m.ErrorCode.BAD_FIELD, 5),
        ("08 00 00 01 02 03 04 05 06 07 08 09", m.ErrorCode.BAD_FIELD, 2),
        ("15 02", m.ErrorCode.BAD_FIELD, 0),
    ],
)
def test_bad_bytes_name_their_fault(data: str, code: m.ErrorCode, detail: int) -> None:
    with pytest.raises(m.BadMessage) as bad:
        m.decode_message(bytes.fromhex(data))
    assert (bad.value.code, bad.value.detail) == (code, detail)


def test_name_with_a_control_character_is_refused() -> None:
    with pytest.raises(m.BadMessage):
        m.decode_message(replace(BOARD, name="a\x1b[2Jb").encode(0))


def test_board_of_another_version_is_told_apart_whatever_follows() -> None:
    with pytest.raises(m.OtherVersion) as other:
        m.decode_message(bytes([17, 2, 99]))
    assert other.value.version == 2


@pytest.mark.parametrize(
    "message",
    [
        m.Begin(0, 5),
        m.Data(1, b""),
        m.Data(1, bytes(353)),
        replace(BOARD, window=17),
        replace(BOARD, name="x" * 25),
        m.Presses(0, ()),
        m.Committed(2),
        m.Run(2**32),
    ],
)
def test_field_outside_its_range_cannot_be_sent(message: m.Message) -> None:
    with pytest.raises(ValueError, match="the rest has|outside its range"):
        message.encode(0)


def test_longest_messages_fit_a_frame() -> None:
    event = (0xFFFFFFFF, 255, 255, 0xFFFF)
    longest = [
        m.Data(0, bytes(352)),
        m.Events(0, 0, (event,) * m.MOST_EVENTS),
        m.Presses(0, (event,) * m.MOST_PRESSES),
    ]
    assert [len(message.encode(7)) for message in longest] == [355, 353, 259]
