"""Decoders of IMA ADPCM by others, which read blocks from a WAV file."""

import struct
import subprocess
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from fxseq.clips import ima


def wav_of(
    data: bytes, samples: int, block_bytes: int = ima.BLOCK_BYTES, rate_hz: int = 22050
) -> bytes:
    """A WAV file of format 0x0011 around blocks; the last block is filled up with 0.

    Source of the layout: JEITA CP-3451 (Exif 2.2), table 28; the `fact` chunk counts samples.
    """
    body = data.ljust(-(-len(data) // block_bytes) * block_bytes, b"\0")
    block_samples = 2 * (block_bytes - 4) + 1
    form = struct.pack(
        "<HHIIHHHH",
        0x11,
        1,
        rate_hz,
        rate_hz * block_bytes // block_samples,
        block_bytes,
        4,
        2,
        block_samples,
    )
    chunks = [(b"fmt ", form), (b"fact", struct.pack("<I", samples)), (b"data", body)]
    inner = b"WAVE" + b"".join(
        name + struct.pack("<I", len(content)) + content for name, content in chunks
    )
    return b"RIFF" + struct.pack("<I", len(inner)) + inner


def by_libsndfile(
    path: Path, data: bytes, samples: int, block_bytes: int = ima.BLOCK_BYTES
) -> NDArray[np.int16]:
    path.write_bytes(wav_of(data, samples, block_bytes))
    return soundfile.read(path, dtype="int16")[0][:samples]


def by_sox(path: Path, data: bytes, samples: int) -> NDArray[np.int16]:
    path.write_bytes(wav_of(data, samples))
    raw = subprocess.run(
        ["sox", str(path), "-t", "raw", "-e", "signed", "-b", "16", "-L", "-"],
        capture_output=True,
        check=True,
    ).stdout
    return np.frombuffer(raw, "<i2")[:samples]
