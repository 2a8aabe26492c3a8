"""Mu-law against ITU-T G.711 as coded in the ITU-T G.191 Software Tools Library (openitu/STL,
commit 139db49, src/g711/g711.c).
"""

import io

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from fxseq.clips import decode, encode

ALL_SAMPLES = np.arange(-32768, 32768).astype(np.int16)
ALL_CODES = bytes(range(256))

# Values of g711.c, run over all inputs.
DECODED = {
    0x00: -32124,
    0x01: -31100,
    0x0F: -16764,
    0x10: -15996,
    0x20: -7932,
    0x30: -3900,
    0x40: -1884,
    0x50: -876,
    0x60: -372,
    0x70: -120,
    0x7E: -8,
    0x7F: 0,
    0x80: 32124,
    0x90: 15996,
    0xA0: 7932,
    0xB0: 3900,
    0xC0: 1884,
    0xD0: 876,
    0xE0: 372,
    0xF0: 120,
    0xFE: 8,
    0xFF: 0,
}
ENCODED = {
    0: 0xFF,
    3: 0xFF,
    4: 0xFE,
    -1: 0x7F,
    -4: 0x7F,
    -5: 0x7E,
    100: 0xF2,
    -100: 0x73,
    1000: 0xCE,
    -1000: 0x4E,
    10000: 0x9C,
    -10000: 0x1C,
    32767: 0x80,
    -32768: 0x00,
}


def ulaw_compress(sample: int) -> int:
    """The steps of g711.c, ulaw_compress, one sample at a time and without tables: a second way
    to the same code.
    """
    magnitude = min(((~sample if sample < 0 else sample) >> 2) + 33, 0x1FFF)
    segment = 1 + (magnitude >> 6).bit_length()
    code = ((8 - segment) << 4) | (0xF - ((magnitude >> segment) & 0xF))
    return code | 0x80 if sample >= 0 else code


@pytest.mark.parametrize("code, sample", DECODED.items())
def test_decode_gives_the_value_of_the_itu_tools(code: int, sample: int) -> None:
    assert decode(bytes([code]), "mulaw", 1).tolist() == [sample]


@pytest.mark.parametrize("sample, code", ENCODED.items())
def test_encode_gives_the_value_of_the_itu_tools(sample: int, code: int) -> None:
    assert encode(np.array([sample], np.int16), "mulaw") == bytes([code])


def test_encode_follows_the_itu_steps_for_all_65536_samples() -> None:
    assert encode(ALL_SAMPLES, "mulaw") == bytes(map(ulaw_compress, ALL_SAMPLES.tolist()))


def test_decode_agrees_with_libsndfile_for_all_256_codes() -> None:
    raw = io.BytesIO(ALL_CODES)
    expected, _ = soundfile.read(
        raw, dtype="int16", samplerate=8000, channels=1, format="RAW", subtype="ULAW"
    )
    assert decode(ALL_CODES, "mulaw", 256).tolist() == expected.tolist()


def test_every_code_but_the_second_zero_survives_decoding_and_encoding() -> None:
    again = encode(decode(ALL_CODES, "mulaw", 256), "mulaw")
    assert [code for code in range(256) if again[code] != code] == [0x7F]


def test_no_sample_moves_by_more_than_half_a_step_of_its_segment() -> None:
    """Steps are 8 in the first segment and double in each further one; the end of the last is
    32124 + 512 = 32636.
    """
    inside = ALL_SAMPLES[np.abs(ALL_SAMPLES.astype(np.int32)) < 32636].astype(np.int32)
    error = np.abs(
        decode(encode(inside.astype(np.int16), "mulaw"), "mulaw", len(inside)).astype(np.int32)
        - inside
    )
    step = 4 << (np.floor(np.log2((np.abs(inside) >> 2) + 33)).astype(int) - 4)
    assert (error <= step / 2).all()


def noise_ratio_db(samples: NDArray[np.float64]) -> float:
    rounded = np.rint(samples).astype(np.int16)
    error = decode(encode(rounded, "mulaw"), "mulaw", len(rounded)) - samples
    return float(10 * np.log10(np.mean(samples**2) / np.mean(error**2)))


def test_large_signals_keep_the_signal_to_noise_ratio_of_the_manual() -> None:
    """doc/manual/g711.tex: 6.02 * 8 - 9.99 = 38.17 dB for large signals, which is the figure of a
    continuous law.

    The real law doubles its step from segment to segment where the continuous one widens gradually.
    For sines that costs 0.6 dB in the mean over whole octaves (37.6 dB measured), hence 1 dB; one
    bit more or less in a code would be 6 dB.
    """
    time = np.arange(48_000)
    ratios = [
        noise_ratio_db(level * np.sin(0.7 * time))
        for level in np.geomspace(8000, 32000, 48, endpoint=False)
    ]
    assert np.mean(ratios) == pytest.approx(6.02 * 8 - 9.99, abs=1.0)
