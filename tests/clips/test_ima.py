"""IMA ADPCM: what blocks decode to, against golden vectors and the decoders of libsndfile and
SoX.
"""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from ima_decoders import by_libsndfile, by_sox
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from fxseq.clips import ima

pytestmark = pytest.mark.quick

# Two blocks of 36 bytes and what they decode to. Source: libsndfile 1.2.2 and SoX 14.4.2 gave these
# samples alike.
LADDER = bytes.fromhex("000000001032547698badcfe77777777ffffffff08192a3b4c5d6e7f0000000088888888")
LADDER_SAMPLES = [
    0, 0, 1, 4, 8, 15, 27, 47, 88, 82, 66, 41, 10, -28, -84, -181, -380, 50, 975, 2962, 7222, 16353,
    32767, 32767, 32767, -28669, -32768, -32768, -32768, -32768, -32768, -32768, -32768, -32768,
    -29044, -32768, -23536, -32768, -20050, -32768, -18053, -32768, -11956, -32768, 12285, -32768,
    20477, -32768, 28668, 32763, 32767, 32767, 32767, 32767, 32767, 32767, 32767, 30856, 29119,
    27540, 26105, 24800, 23614, 22536, 21556,
]  # fmt: skip
CLAMPED = bytes.fromhex("00835500ffffffff777777777f7f7f7ff0f1f2f30123456789abcdef0f1e2d3c4b5a6978")
"""Runs into both ends of the range."""

Blocks = Callable[..., bytes]


@pytest.fixture
def any_blocks() -> Blocks:
    """Valid blocks with random codes, so every step index and both ends of the range are met."""

    def any_blocks(samples: int, seed: int = 1) -> bytes:
        data = bytearray(np.random.default_rng(seed).bytes(ima.byte_count(samples)))
        for start in range(0, len(data), ima.BLOCK_BYTES):
            data[start + 2] %= 89
            data[start + 3] = 0
        return bytes(data)

    return any_blocks


def test_ladder_of_codes_decodes_to_the_golden_samples():
    assert ima.decode(LADDER, 65).tolist() == LADDER_SAMPLES


def test_codes_into_both_ends_are_clamped_as_libsndfile_does(tmp_path: Path):
    decoded = ima.decode(CLAMPED, 65)
    assert decoded.tolist() == by_libsndfile(tmp_path / "x.wav", CLAMPED, 65, len(CLAMPED)).tolist()
    assert decoded.max() == 32767 and decoded.min() == -32768


@pytest.mark.parametrize("samples", [505, 1010, 20_000, 20_001])
def test_random_blocks_decode_as_in_libsndfile_and_sox(
    tmp_path: Path, any_blocks: Blocks, samples: int
):
    data = any_blocks(samples)
    decoded = ima.decode(data, samples)
    assert decoded.dtype == np.int16 and decoded.shape == (samples,)
    assert np.array_equal(decoded, by_libsndfile(tmp_path / "a.wav", data, samples))
    assert np.array_equal(decoded, by_sox(tmp_path / "b.wav", data, samples))


@pytest.mark.parametrize(
    ("samples", "count"),
    [
        (0, 0),
        (1, 4),
        (2, 5),
        (3, 5),
        (4, 6),
        (504, 256),
        (505, 256),
        (506, 260),
        (507, 261),
        (1010, 512),
    ],
)
def test_last_block_takes_only_the_bytes_it_needs(samples: int, count: int):
    assert ima.byte_count(samples) == count


@given(st.integers(0, 1500), st.randoms(use_true_random=False))
def test_a_longer_sound_starts_like_a_shorter_one(samples: int, draw):
    data = bytearray(draw.randbytes(ima.byte_count(samples)))
    data[2::256], data[3::256] = bytes(draw.randrange(89) for _ in data[2::256]), bytes(
        len(data[3::256])
    )
    decoded = ima.decode(bytes(data), samples)
    kept = draw.randint(0, samples)
    assert len(decoded) == samples
    assert np.array_equal(ima.decode(bytes(data[: ima.byte_count(kept)]), kept), decoded[:kept])


def test_bytes_of_wrong_number_are_refused(any_blocks: Blocks):
    with pytest.raises(
        ValueError, match=r"^IMA ADPCM, byte 130: 130 bytes, but 600 samples take 307$"
    ):
        ima.decode(any_blocks(600)[:130], 600)


def test_step_index_above_88_is_refused(any_blocks: Blocks):
    data = bytearray(any_blocks(600))
    data[258] = 89
    with pytest.raises(
        ValueError,
        match=r"^IMA ADPCM, byte 258: step index 89 in the header of block 1; allowed: 0 to 88$",
    ):
        ima.decode(bytes(data), 600)


def test_fourth_header_byte_other_than_0_is_refused(any_blocks: Blocks):
    data = bytearray(any_blocks(600))
    data[3] = 1
    assert ima.first_fault(bytes(data), 600) == (
        3,
        "fourth byte 1 in the header of block 0; allowed: 0",
    )


def test_decoding_loads_no_compiler():
    run = (
        "import sys, fxseq.clips\nfrom fxseq.clips import ima\nima.decode(bytes(4), 1)\nassert"
        " 'numba' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", run], check=True)
