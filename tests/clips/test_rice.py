"""LPC-Rice: what the encoder writes decodes by the plain decoder that was written from SPEC.md
alone (tests/conformance), takes the bytes that it may, and its loss sounds softer than QOA's.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from real_sounds import recordings

from fxseq.acoustics import error_loudness_sone
from fxseq.clips import byte_count, decode, encode, rice, rice_search

sys.path.insert(0, str(Path(__file__).parents[1] / "conformance"))

import plain_codings  # noqa: E402

RATE_HZ = 11025
PA = 20e-6 * 10 ** (90 / 20) * np.sqrt(2) / 32768
"""A tone of full scale is 90 dB."""


def sounds() -> dict[str, NDArray[np.int16]]:
    return {name: sound[:6000] for name, sound in recordings(40, RATE_HZ, 1.0)}


@pytest.mark.parametrize("loop_start", [None, 1000])
def test_written_bytes_decode_as_the_specification_says(loop_start: int | None) -> None:
    sound = sounds()["tabla_dhec"][:5000]
    data = encode(sound, "lpc_rice", loop_start, rate_hz=RATE_HZ)
    assert byte_count("lpc_rice", len(sound), loop_start, data + b"more") == len(data)
    plain = plain_codings.rice_clip(data, len(sound), loop_start)
    assert decode(data, "lpc_rice", len(sound), loop_start).tolist() == plain


@settings(max_examples=40)
@given(data=st.binary(max_size=400), samples=st.integers(1, 4300))
def test_any_bytes_decode_as_the_specification_says(data: bytes, samples: int) -> None:
    run = len(data).to_bytes(3, "little") + data
    assert rice.decode(run, samples).tolist() == plain_codings.rice_clip(run, samples, None)


def test_length_that_is_cut_off_is_more_than_there_is() -> None:
    for data, count in ((b"", 3), (b"\1\0", 4), (b"\1\0\0", 4)):
        assert byte_count("lpc_rice", 9, None, data) == count


def test_bytes_stay_within_what_is_allowed_and_near_it_unless_no_more_is_heard() -> None:
    sound = sounds()["loop_amen"]
    for most in (1200, 2400):
        assert 0.97 * most < len(rice_search.encode([sound], most, RATE_HZ)) <= most
    enough = rice_search.encode([sound], 12_000, RATE_HZ)
    assert len(enough) < 6000


def test_loss_sounds_softer_than_that_of_qoa_in_as_many_bytes() -> None:
    """The measure is the one of fxseq/acoustics/masking.py; recordings: Debian's
    sonic-pi-samples."""
    lost = dict.fromkeys(("qoa", "lpc_rice"), 0.0)
    for name in ("bd_fat", "tabla_dhec", "drum_cowbell", "tabla_ghe4"):
        sound = sounds()[name]
        for coding in lost:
            data = encode(sound, coding, rate_hz=RATE_HZ)
            assert len(data) <= byte_count("qoa", len(sound))
            error = sound - decode(data, coding, len(sound)).astype(float)
            lost[coding] += error_loudness_sone(sound * PA, error * PA, RATE_HZ).sum()
    assert lost["lpc_rice"] < 0.8 * lost["qoa"]


@pytest.mark.parametrize("sound", [np.zeros(300), np.full(1, 5), np.full(129, -32768)])
def test_silence_and_the_shortest_clips_are_kept(sound: NDArray[np.float64]) -> None:
    samples = sound.astype(np.int16)
    data = rice_search.encode([samples], 100, RATE_HZ)
    assert np.abs(decode(data, "lpc_rice", len(samples)).astype(int) - samples).max() <= 64
