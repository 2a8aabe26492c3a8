"""Sounds and files that the tests of clips share."""

import struct
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from fxseq.clips import PreparedClip
from fxseq.sequence.model import Board, Clip
from tests.checks.judged import prepare

sys.path.insert(
    0, str(Path(__file__).parent)
)  # the rival and the recordings are modules of this folder

Write = Callable[..., str]
Prepare = Callable[..., PreparedClip]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write samples to a file of the test's folder and return its name."""

    def write(
        name: str, samples: NDArray[np.float64], rate_hz: int = 22050, subtype: str | None = None
    ) -> str:
        soundfile.write(tmp_path / name, samples, rate_hz, subtype=subtype)
        return name

    return write


@pytest.fixture
def prepared(tmp_path: Path) -> Prepare:
    """Prepare a clip of a file in the test's folder for a board of 22 050 Hz; keywords are
    settings of the clip.
    """

    def prepared(file: str, board_hz: int = 22050, **settings: object) -> PreparedClip:
        return prepare(
            "hum", Clip(file=file, **settings), Board(channels=1, sample_rate_hz=board_hz), tmp_path
        )

    return prepared


@pytest.fixture
def sine() -> Callable[..., NDArray[np.float64]]:
    """A sine of a level, length and rate; starts at 0."""

    def sine(
        frequency_hz: float, amplitude: float = 0.5, seconds: float = 1.0, rate_hz: int = 22050
    ) -> NDArray[np.float64]:
        return amplitude * np.sin(
            2 * np.pi * frequency_hz / rate_hz * np.arange(round(seconds * rate_hz))
        )

    return sine


@pytest.fixture
def chunk() -> Callable[..., bytes]:
    """One RIFF chunk by hand: name, size (a false one if asked for), content, padding."""

    def chunk(ident: bytes, content: bytes, size: int | None = None) -> bytes:
        claimed = len(content) if size is None else size
        return ident + struct.pack("<I", claimed) + content + b"\0" * (len(content) & 1)

    return chunk


@pytest.fixture
def wav(tmp_path: Path, chunk: Callable[..., bytes]) -> Write:
    """Write a 16-bit mono WAV by hand, with more chunks behind the sound; returns its name."""

    def wav(
        samples: NDArray[np.int16],
        *more: bytes,
        rate_hz: int = 22050,
        data_size: int | None = None,
        name: str = "hand.wav",
    ) -> str:
        form = struct.pack("<HHIIHH", 1, 1, rate_hz, 2 * rate_hz, 2, 16)
        body = (
            b"WAVE"
            + chunk(b"fmt ", form)
            + chunk(b"data", samples.astype("<i2").tobytes(), data_size)
            + b"".join(more)
        )
        (tmp_path / name).write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
        return name

    return wav


@pytest.fixture
def cue() -> Callable[..., bytes]:
    """Content of a `cue ` chunk with points at the given frames."""

    def cue(*frames: int, count: int | None = None) -> bytes:
        points = b"".join(
            struct.pack("<II4sIII", number, frame, b"data", 0, 0, frame)
            for number, frame in enumerate(frames, 1)
        )
        return struct.pack("<I", len(frames) if count is None else count) + points

    return cue


@pytest.fixture
def smpl() -> Callable[..., bytes]:
    """Content of a `smpl` chunk with (start, last, kind) loops; `last` is still played, kind 0
    runs forward.
    """

    def smpl(*loops: tuple[int, int, int], count: int | None = None) -> bytes:
        head = struct.pack(
            "<9I", 0, 0, 45351, 60, 0, 0, 0, len(loops) if count is None else count, 0
        )
        return head + b"".join(
            struct.pack("<6I", number, kind, start, last, 0, 0)
            for number, (start, last, kind) in enumerate(loops)
        )

    return smpl
