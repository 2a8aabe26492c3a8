"""Chunks that are broken, or whose sizes lie: what can be had is had, and nothing raises."""

import io
import struct
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.clips import Marks, scan

Bytes = Callable[..., bytes]


def marks_of(*chunks: bytes, head: bytes = b"RIFF\0\0\0\0WAVE") -> Marks:
    return scan(io.BytesIO(head + b"".join(chunks)))


def test_a_riff_size_of_zero_is_of_no_account(chunk: Bytes, cue: Bytes) -> None:
    assert marks_of(chunk(b"data", bytes(8)), chunk(b"cue ", cue(2, 3))).cues == (2, 3)


@pytest.mark.parametrize("size", [0xFFFF_FFFF, 0x7FFF_F000, 0, 4])
def test_marks_are_found_behind_a_sound_whose_size_lies(
    size: int, chunk: Bytes, cue: Bytes, smpl: Bytes
) -> None:
    marks = marks_of(
        chunk(b"data", b"\x80\x01" * 50, size),
        chunk(b"cue ", cue(7)),
        chunk(b"smpl", smpl((4, 40, 0))),
    )
    assert (marks.cues, marks.loops) == ((7,), ((4, 41),))


def test_sound_that_looks_like_a_chunk_too_small_for_its_count_is_none(
    chunk: Bytes, cue: Bytes
) -> None:
    sound = b"cue " + struct.pack("<II", 10, 2) + bytes(60)
    marks = marks_of(chunk(b"data", sound, 0xFFFF_FFFF), chunk(b"cue ", cue(7)))
    assert marks.cues == (7,)


def test_marks_are_found_behind_an_odd_chunk_without_its_padding(chunk: Bytes, smpl: Bytes) -> None:
    assert marks_of(b"data\x03\0\0\0abc", chunk(b"smpl", smpl((0, 1, 0)))).loops == ((0, 2),)


@pytest.mark.parametrize("size", [0xFFFF_FFFF, 0, 5])
def test_the_count_of_a_cue_chunk_stands_when_its_size_lies(
    size: int, chunk: Bytes, cue: Bytes, smpl: Bytes
) -> None:
    marks = marks_of(chunk(b"cue ", cue(1, 2), size), chunk(b"smpl", smpl((3, 5, 0))))
    assert (marks.cues, marks.loops) == ((1, 2), ((3, 6),))


def test_a_count_beyond_the_file_gives_what_is_there(chunk: Bytes, cue: Bytes, smpl: Bytes) -> None:
    assert marks_of(chunk(b"cue ", cue(1, 2, count=2**32 - 1))).cues == (1, 2)
    assert marks_of(chunk(b"smpl", smpl((1, 2, 0), count=900))).loops == ((1, 3),)


def test_a_point_that_is_cut_off_is_passed_over(chunk: Bytes, cue: Bytes) -> None:
    assert marks_of(chunk(b"cue ", cue(1, 2))[:-5]).cues == (1,)


def test_loops_that_run_backward_or_end_before_they_start_are_passed_over(
    chunk: Bytes, smpl: Bytes
) -> None:
    assert marks_of(chunk(b"smpl", smpl((1, 9, 2), (1, 9, 1), (9, 1, 0), (5, 5, 0)))).loops == (
        (5, 6),
    )


def test_a_size_that_a_pipe_left_open_is_no_claim(chunk: Bytes) -> None:
    marks = marks_of(chunk(b"data", bytes(10), 0xFFFF_FFFF))
    assert (marks.claimed_bytes, marks.missing_share) == (10, 0.0)


def test_half_a_sound_is_missing_when_the_header_claims_twice_as_much(chunk: Bytes) -> None:
    assert marks_of(chunk(b"data", bytes(10), 20)).missing_share == 0.5


def test_big_endian_files_are_understood(chunk: Bytes) -> None:
    assert (
        marks_of(
            b"COMM\0\0\0\x02ab", b"SSND\0\0\0\x08" + bytes(4), head=b"FORM\0\0\0\0AIFF"
        ).missing_share
        == 0.5
    )


def test_a_file_of_nothing_but_empty_chunks_is_given_up_soon(chunk: Bytes, cue: Bytes) -> None:
    assert marks_of(chunk(b"none", b"") * 200_000, chunk(b"cue ", cue(5))).cues == (5,)


def test_a_file_of_another_kind_has_no_marks() -> None:
    assert scan(io.BytesIO(b"fLaC and so on")) == Marks()


RIFF = b"RIFF\0\0\0\0WAVE"


@given(
    st.binary(max_size=400),
    st.sampled_from([b"", RIFF, RIFF + b"cue ", RIFF + b"smpl", b"FORM\0\0\0\0AIFF"]),
)
def test_no_content_makes_it_raise(content: bytes, head: bytes) -> None:
    marks = scan(io.BytesIO(head + content))
    assert 0 <= marks.missing_share <= 1
    assert all(0 <= start < end for start, end in marks.loops)
