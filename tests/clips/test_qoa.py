"""QOA: the decoder against published vectors and FFmpeg's decoder, the layout of runs, and .qoa
files.
"""

import io
import subprocess
import sys

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from qoa_file import qoa_file

from fxseq.clips import byte_count, decode, qoa

GOLDEN_FILE = bytes.fromhex(
    "716f61660000001801003e8000180028000000000000000000000000e0004000406045db582a48814afb000000000000"
)
_HEADS_BYTES = 16
"""Of the file and of its one frame."""
GOLDEN = [
    63, 63, 440, 881, 1536, 2141, 2556, 2610, 2281, 1541, 533, -469, -1564, -2451, -2924, -2938,
    -2447, -1584, -499, 639, 1449, 2026, 1936, 1510,
]  # fmt: skip
"""24 samples at 16 kHz. Source: made with the reference encoder and decoder (phoboslab/qoa,
qoa.h, commit 769a116f, built with gcc).
"""


def heard_by_ffmpeg(file: bytes) -> NDArray[np.int16]:
    """Samples of a .qoa file as FFmpeg's own decoder (libavcodec/qoadec.c) gives them."""
    with av.open(io.BytesIO(file), format="qoa") as container:
        blocks = [frame.to_ndarray().reshape(-1) for frame in container.decode(audio=0)]
    return np.concatenate(blocks)


def test_the_golden_file_decodes_to_its_samples() -> None:
    data = GOLDEN_FILE[_HEADS_BYTES:]
    assert qoa.decode(data, len(GOLDEN)).tolist() == GOLDEN
    assert heard_by_ffmpeg(GOLDEN_FILE).tolist() == GOLDEN
    assert qoa_file(data, len(GOLDEN), 16000) == GOLDEN_FILE


def test_the_tables_are_those_of_the_format() -> None:
    # Source: qoa.h, qoa_scalefactor_tab and qoa_dequant_tab.
    assert qoa.SCALES.tolist() == [
        1, 7, 21, 45, 84, 138, 211, 304, 421, 562, 731, 928, 1157, 1419, 1715, 2048,
    ]  # fmt: skip
    assert qoa.DEQUANTISED[0].tolist() == [1, -1, 3, -3, 5, -5, 7, -7]
    assert qoa.DEQUANTISED[5].tolist() == [104, -104, 345, -345, 621, -621, 966, -966]
    assert qoa.DEQUANTISED[15].tolist() == [1536, -1536, 5120, -5120, 9216, -9216, 14336, -14336]


@pytest.mark.parametrize(
    ("samples", "expected"), [(0, 0), (1, 24), (20, 24), (21, 32), (5120, 2064), (5121, 2088)]
)
def test_bytes_are_a_state_for_each_frame_and_eight_for_each_slice_begun(
    samples: int, expected: int
) -> None:
    # By hand: 16 bytes of state a frame of 5120 samples, 8 bytes a slice of 20.
    assert qoa.byte_count(samples) == expected


@pytest.mark.parametrize(
    ("samples", "loop_start", "expected"),
    [(5121, None, 2088), (5121, 0, 2088), (5121, 1, 24 + 2064), (41, 20, 24 + 32)],
)
def test_clip_with_a_loop_has_the_bytes_of_two_runs(
    samples: int, loop_start: int | None, expected: int
) -> None:
    assert byte_count("qoa", samples, loop_start) == expected


def masked(data: bytes, run: int) -> bytes:
    """A run whose unused bits are made zero."""
    unused = 3 * (-run % 20)
    last = int.from_bytes(data[-8:], "big") >> unused << unused
    return data[:-8] + last.to_bytes(8, "big")


@st.composite
def any_run(draw: st.DrawFn) -> tuple[bytes, int]:
    """Bytes of a run, and its samples."""
    samples = draw(st.integers(1, 200))
    count = qoa.byte_count(samples)
    return masked(draw(st.binary(min_size=count, max_size=count)), samples), samples


@given(run=any_run())
def test_any_bytes_decode_to_16_bit_samples_each_time_the_same(run: tuple[bytes, int]) -> None:
    decoded = qoa.decode(*run)
    assert (decoded.dtype, decoded.shape) == (np.int16, (run[1],))
    assert (qoa.decode(*run) == decoded).all()


def by_the_book(data: bytes, samples: int) -> list[int]:
    """One frame decoded with Python's integers, as the format's text and our rule of wrapping
    say.
    """

    def wrap(value: int, bits: int) -> int:
        return (value + (1 << bits - 1)) % (1 << bits) - (1 << bits - 1)

    words = [int.from_bytes(data[at : at + 2], "big", signed=True) for at in range(0, 16, 2)]
    history = words[:4]
    weights = words[4:]
    out = []
    for number in range(samples):
        code = int.from_bytes(data[16 + number // 20 * 8 : 24 + number // 20 * 8], "big")
        residual = int(qoa.DEQUANTISED[code >> 60, code >> 57 - number % 20 * 3 & 7])
        predicted = wrap(sum(w * h for w, h in zip(weights, history, strict=True)), 32) >> 13
        weights = [
            wrap(w + (-(residual >> 4) if h < 0 else residual >> 4), 16)
            for w, h in zip(weights, history, strict=True)
        ]
        out.append(max(-32768, min(32767, predicted + residual)))
        history = [*history[1:], out[-1]]
    return out


@given(run=any_run())
def test_any_bytes_decode_as_a_plain_reading_of_the_format(run: tuple[bytes, int]) -> None:
    assert qoa.decode(*run).tolist() == by_the_book(*run)


@given(first=any_run(), second=any_run())
def test_a_loop_is_a_run_of_its_own(first: tuple[bytes, int], second: tuple[bytes, int]) -> None:
    both = decode(first[0] + second[0], "qoa", first[1] + second[1], first[1])
    assert both.tolist() == [*qoa.decode(*first), *qoa.decode(*second)]


@pytest.mark.parametrize("count", [0, 39, 41, 48])
def test_a_wrong_number_of_bytes_is_refused(count: int) -> None:
    with pytest.raises(ValueError, match=f"{count} bytes, not 32"):
        qoa.decode(bytes(count), 24)


@pytest.mark.parametrize(
    ("samples", "loop_start", "byte"), [(39, 0, 31), (39, 20, -1), (39, 19, 23)]
)
def test_a_bit_beyond_the_last_sample_of_a_run_is_not_looked_at(
    samples: int, loop_start: int, byte: int
) -> None:
    data = bytearray(byte_count("qoa", samples, loop_start))
    silent = decode(bytes(data), "qoa", samples, loop_start).tolist()
    data[byte] = 7
    assert decode(bytes(data), "qoa", samples, loop_start).tolist() == silent


def test_clips_are_imported_without_the_compiler() -> None:
    check = "import sys, fxseq.clips, fxseq.clips.qoa; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", check], check=False).returncode == 0
