"""The first checks of a table, in their order (SPEC 3 R1)."""

import zlib

import pytest
from raw_table import assemble, number, reseal, seal, verdict

TABLE = assemble(clip_data=bytes(50)).data
DATA_AT = int.from_bytes(TABLE[9:13], "little")


def with_bytes(data: bytes, at: int, new: bytes) -> bytes:
    return data[:at] + new + data[at + len(new) :]


def test_whole_table_is_accepted() -> None:
    assert verdict(TABLE) is None


@pytest.mark.parametrize("size", range(17))
def test_fewer_than_17_bytes_are_no_table_whatever_they_are(size: int) -> None:
    assert verdict(TABLE[:size]) == verdict(bytes(size)) == ("BAD_LENGTH", size)


def test_17_bytes_have_a_header_and_no_board() -> None:
    assert verdict(seal(bytes(17), 13)) == ("BAD_RECORD", 13)


@pytest.mark.parametrize("at", range(4))
def test_magic_comes_before_the_version(at: int) -> None:
    wrong = with_bytes(TABLE, at, bytes([TABLE[at] ^ 0x20]))
    assert verdict(wrong) == verdict(with_bytes(wrong, 4, b"\x02")) == ("BAD_MAGIC", 0)


@pytest.mark.parametrize("version", [0, 2, 255])
def test_version_comes_before_the_length(version: int) -> None:
    wrong = with_bytes(TABLE, 4, bytes([version]))
    assert (
        verdict(reseal(wrong)) == verdict(with_bytes(wrong, 5, b"\0\0\0\0")) == ("BAD_VERSION", 4)
    )


@pytest.mark.parametrize("by", [-1, 1, 256, 65536, 1 << 24])
def test_length_comes_before_the_crc(by: int) -> None:
    assert verdict(with_bytes(TABLE, 5, (len(TABLE) + by).to_bytes(4, "little"))) == (
        "BAD_LENGTH",
        5,
    )


def test_byte_too_many_or_too_few_is_a_wrong_length() -> None:
    assert verdict(TABLE + b"\0") == verdict(TABLE[:-1]) == ("BAD_LENGTH", 5)


@pytest.mark.parametrize("at", range(9, len(TABLE)))
def test_any_flipped_bit_behind_the_length_is_a_wrong_crc(at: int) -> None:
    for bit in range(8):
        assert verdict(with_bytes(TABLE, at, bytes([TABLE[at] ^ 1 << bit]))) == (
            "BAD_CRC",
            len(TABLE) - 4,
        )


def test_crc_is_the_published_one() -> None:
    # Check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms (G. Cook):
    # "123456789" gives CBF43926.
    assert zlib.crc32(b"123456789") == 0xCBF43926
    assert int.from_bytes(TABLE[-4:], "little") == zlib.crc32(TABLE[:-4])


@pytest.mark.parametrize("place", [0, 12, len(TABLE) - 3, len(TABLE), 2**32 - 1])
def test_data_outside_the_table_is_a_bad_length(place: int) -> None:
    assert verdict(reseal(with_bytes(TABLE, 9, place.to_bytes(4, "little")))) == ("BAD_LENGTH", 9)


def records_of(size: int) -> bytes:
    """A table whose records end at offset `size`, which must be far enough for 255 fades."""
    empty = len(assemble().data) - 4 + 1  # the count of fades will have two bytes
    body, rest = divmod(size - empty, 255)
    body -= 3  # the number of its size has two bytes, and one to spare
    bodies = [fade(body + (index < rest)) for index in range(255)]
    padded = assemble(fades=bodies).data
    short = size - (len(padded) - 4)
    bodies[-1] = fade(len(bodies[-1]) + short)
    return assemble(fades=bodies).data


def fade(size: int) -> bytes:
    """A fade of so many bytes: steps of 3 bytes, of which up to two have a length of two bytes."""
    steps, wide = divmod(size - 1, 3)
    return bytes(1) + b"".join(
        b"\0" + number(200 if index < wide else 0) + b"\0" for index in range(steps)
    )


def test_records_may_end_at_65535_and_not_beyond() -> None:
    most = records_of(65535)
    assert int.from_bytes(most[9:13], "little") == 65535 and verdict(most) is None
    beyond = records_of(65536)
    assert int.from_bytes(beyond[9:13], "little") == 65536 and verdict(beyond) == ("BAD_LENGTH", 9)


def test_bytes_between_the_sections_and_the_data_are_refused() -> None:
    assert verdict(seal(TABLE, DATA_AT + 3)) == ("BAD_RECORD", DATA_AT)


def test_data_before_the_end_of_the_sections_cuts_them_short() -> None:
    assert verdict(seal(TABLE, DATA_AT - 1)) == ("BAD_RECORD", DATA_AT - 1)
