"""Published check values of CRC-32 and COBS against the frames of the link.

CRC-32/ISO-HDLC: check value CBF43926 of "123456789" and residue DEBB20E3, as in the reveng
catalogue of parametrised CRC algorithms; read in akhilles/crc-catalog, src/algorithm.rs, commit
ed4ad63, which names that catalogue as its source. COBS: Cheshire & Baker, "Consistent Overhead Byte
Stuffing", IEEE/ACM Trans. Networking 7(2), 1999; worked examples as in the tests of
cmcqueen/cobs-python, src/cobs/cobs/test.py, commit 64f8c21.
"""

import zlib

import pytest
from cobs import cobs

from fxseq.link.frames import LARGEST_ENCODED, LARGEST_MESSAGE, FrameDecoder, encode_frame

EXAMPLES = [
    (b"", "01"),
    (b"1", "02 31"),
    (b"12345", "06 31 32 33 34 35"),
    (b"12345\x006789", "06 31 32 33 34 35 05 36 37 38 39"),
    (b"\x00", "01 01"),
    (b"\x00\x00", "01 01 01"),
    (bytes(range(1, 254)), "FE" + bytes(range(1, 254)).hex()),
    (bytes(range(1, 255)), "FF" + bytes(range(1, 255)).hex()),
    (bytes(range(1, 256)), "FF" + bytes(range(1, 255)).hex() + "02 FF"),
    (bytes(range(256)), "01 FF" + bytes(range(1, 255)).hex() + "02 FF"),
]


def crc32_bit_by_bit(data: bytes) -> int:
    """CRC-32/ISO-HDLC from its parameters: reflected polynomial EDB88320, initial value and
    final exclusive-or FFFFFFFF.
    """
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def test_crc32_gives_the_check_value_of_the_catalogue() -> None:
    assert zlib.crc32(b"123456789") == crc32_bit_by_bit(b"123456789") == 0xCBF43926


def test_crc32_over_data_and_its_crc_gives_the_residue() -> None:
    data = b"a frame" + zlib.crc32(b"a frame").to_bytes(4, "little")
    assert zlib.crc32(data) ^ 0xFFFFFFFF == 0xDEBB20E3


@pytest.mark.parametrize(("plain", "encoded"), EXAMPLES)
def test_cobs_matches_the_worked_examples(plain: bytes, encoded: str) -> None:
    assert cobs.encode(plain) == bytes.fromhex(encoded)
    assert cobs.decode(bytes.fromhex(encoded)) == plain


@pytest.mark.parametrize("damaged", ["05 31 32 33", "05 31 00 33 34"])
def test_cobs_refuses_the_damaged_examples(damaged: str) -> None:
    with pytest.raises(cobs.DecodeError):
        cobs.decode(bytes.fromhex(damaged))


def test_frame_is_cobs_of_message_and_crc_then_zero() -> None:
    # 31..39 and the check value 26 39 F4 CB hold no zero: one code byte 0E = 13 bytes and 1, then
    # the end.
    assert encode_frame(b"123456789") == bytes.fromhex(
        "0E 31 32 33 34 35 36 37 38 39 26 39 F4 CB 00"
    )


def test_longest_frame_stays_within_the_bound_of_one_byte_in_254() -> None:
    worst = b"\x01" * LARGEST_MESSAGE
    assert len(encode_frame(worst)) == LARGEST_ENCODED + 1
    assert FrameDecoder().feed(encode_frame(worst)) == [worst]


def test_every_single_flipped_bit_is_noticed() -> None:
    message = bytes(range(64))
    frame = encode_frame(message)
    for bit in range(8 * len(frame)):
        hit = bytearray(frame)
        hit[bit // 8] ^= 1 << bit % 8
        decoder = FrameDecoder()
        assert decoder.feed(bytes(hit) + b"\0") == []
        assert decoder.damaged >= 1
