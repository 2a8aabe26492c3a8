"""Frames: any chunking, damage, garbage, bounded memory."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.link.frames import LARGEST_ENCODED, LARGEST_MESSAGE, FrameDecoder, encode_frame

MESSAGES = [b"\x01\x01", bytes(10), random.Random(5).randbytes(LARGEST_MESSAGE)]


@settings(deadline=None)
@given(
    st.lists(st.binary(min_size=1, max_size=LARGEST_MESSAGE), max_size=6),
    st.randoms(use_true_random=False),
)
def test_messages_come_out_whole_whatever_the_pieces(
    messages: list[bytes], dice: random.Random
) -> None:
    stream = b"".join(encode_frame(message) for message in messages)
    decoder = FrameDecoder()
    out = []
    while stream:
        size = dice.randint(1, 50)
        out += decoder.feed(stream[:size])
        stream = stream[size:]
    assert (out, decoder.damaged) == (messages, 0)


def test_decoder_finds_the_next_frame_after_garbage() -> None:
    decoder = FrameDecoder()
    garbage = random.Random(1).randbytes(5000)
    assert decoder.feed(garbage + b"\0" + encode_frame(b"here")) == [b"here"]
    assert decoder.damaged >= 1


def test_decoder_holds_a_bounded_number_of_bytes() -> None:
    decoder = FrameDecoder()
    for _ in range(100):
        decoder.feed(b"\x55" * 50)
        assert len(decoder._held) <= LARGEST_ENCODED
    assert decoder.feed(b"\0" + encode_frame(b"after")) == [b"after"]


def test_end_bytes_alone_are_neither_frames_nor_damage() -> None:
    decoder = FrameDecoder()
    assert decoder.feed(b"\0\0\0") == []
    assert decoder.damaged == 0


def test_frame_that_is_too_long_is_thrown_away_even_if_its_crc_is_right() -> None:
    decoder = FrameDecoder()
    assert decoder.feed(encode_frame(bytes(LARGEST_MESSAGE + 1))) == []
    assert decoder.feed(encode_frame(b"\x01" * (LARGEST_MESSAGE + 1))) == []
    assert decoder.damaged == 2


def test_frame_of_nothing_but_a_crc_is_damage() -> None:
    decoder = FrameDecoder()
    assert decoder.feed(encode_frame(b"")) == []
    assert decoder.damaged == 1
