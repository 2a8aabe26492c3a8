"""The first checks of a table, in their order (SPEC 3 R1)."""

import zlib

import pytest
from raw_table import assemble, reseal, seal, verdict

TABLE = assemble(clip_data=bytes(50)).data


def with_bytes(data: bytes, at: int, new: bytes) -> bytes:
    return data[:at] + new + data[at + len(new) :]


def test_whole_table_is_accepted() -> None:
    assert verdict(TABLE) is None


@pytest.mark.parametrize("size", [0, 1, 17, 48, 51])
def test_fewer_than_52_bytes_are_no_table_whatever_they_are(size: int) -> None:
    assert verdict(TABLE[:size]) == verdict(bytes(size)) == ("BAD_LENGTH", size)


@pytest.mark.parametrize("at", range(4))
def test_magic_comes_before_the_version(at: int) -> None:
    wrong = with_bytes(TABLE, at, bytes([TABLE[at] ^ 0x20]))
    assert verdict(wrong) == verdict(with_bytes(wrong, 16, b"\1")) == ("BAD_MAGIC", 0)


@pytest.mark.parametrize("version", [0, 1, 3, 255])
def test_version_comes_before_the_length(version: int) -> None:
    wrong = with_bytes(TABLE, 16, bytes([version]))
    assert verdict(reseal(wrong)) == verdict(with_bytes(wrong, 4, bytes(4))) == ("BAD_VERSION", 16)


@pytest.mark.parametrize("by", [-2, -1, 1, 256, 65536, 1 << 24])
def test_length_comes_before_the_crc(by: int) -> None:
    length = (len(TABLE) + by).to_bytes(4, "little")
    assert verdict(with_bytes(TABLE, 4, length)) == ("BAD_LENGTH", 4)


def test_byte_too_many_or_too_few_is_a_wrong_length() -> None:
    assert verdict(TABLE + b"\0") == verdict(TABLE[:-1]) == ("BAD_LENGTH", 4)


def test_odd_length_is_refused() -> None:
    assert verdict(seal(TABLE + b"\0")) == ("BAD_LENGTH", 4)


def test_any_flipped_bit_behind_the_length_is_a_wrong_crc() -> None:
    for at in (*range(8, 16), *range(17, len(TABLE))):
        for bit in range(8):
            flipped = with_bytes(TABLE, at, bytes([TABLE[at] ^ 1 << bit]))
            assert verdict(flipped) == ("BAD_CRC", len(TABLE) - 4), at


def test_crc_is_the_published_one() -> None:
    # Check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms (G. Cook):
    # "123456789" gives CBF43926.
    assert zlib.crc32(b"123456789") == 0xCBF43926
    assert int.from_bytes(TABLE[-4:], "little") == zlib.crc32(TABLE[:-4])


def records_of(size: int) -> bytes:
    """A table whose clip data begins at offset `size`: segments and terms, and effects to fill up.
    """
    segments = [bytes.fromhex("0000000000001000")] * 4095
    terms = [bytes(4)] * 4095
    rest = size - 50 - 8 * 4095 - 4 * 4095
    counts = {"steps": rest // 4, "effects": rest % 4 // 2}
    sizes = {"steps": 4, "effects": 2}
    more = {name: [bytes(sizes[name])] * count for name, count in counts.items()}
    return assemble(segments=segments, terms=terms, **more).data


def test_records_may_end_at_65534_and_not_beyond() -> None:
    reason, at = verdict(records_of(65534))
    assert reason == "BAD_VALUE" and at > 50  # steps that belong to nothing
    assert verdict(records_of(65536)) == ("BAD_LENGTH", 22)


def test_counts_beyond_the_bytes_are_refused() -> None:
    counted = with_bytes(assemble().data, 22, b"\1")
    assert verdict(reseal(counted)) == ("BAD_LENGTH", 22)
