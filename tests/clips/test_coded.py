"""A clip that stands coded in its file is taken as it is, where that is what is asked for, and
never else.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fxseq.clips import CodedClip, PreparedClip, decode, encode, prepare, scan, wav_of
from fxseq.sequence.model import Board, Clip

RATE_HZ = 16000
BOARD = Board(sample_rate_hz=RATE_HZ)
SAMPLES = 400
DATA = bytes(np.random.default_rng(1).integers(0, 256, SAMPLES, np.uint8))
"""Noise in mu-law: both of its zeros are in it, of which coding only ever chooses one."""


def wav(step: int = 40000, loop_start: int | None = 100, data: bytes = DATA) -> bytes:
    return wav_of(CodedClip("mulaw", RATE_HZ, step, data, loop_start), SAMPLES)


def prepared(folder: Path, content: bytes, board: Board = BOARD, **keys: object) -> PreparedClip:
    (folder / "clip.wav").write_bytes(content)
    said = {"file": "clip.wav", "loop": "file", "rate_hz": 9766} | keys
    clip = Clip(**{key: value for key, value in said.items() if value is not None})
    return prepare("clip", clip, board, folder)


def test_what_is_asked_for_comes_as_it_is(tmp_path: Path) -> None:
    clip = prepared(tmp_path, wav())
    assert (clip.data, clip.loop, clip.rate_hz) == (DATA, (100, SAMPLES), 40000 * 16000 / 65536)
    assert np.array_equal(clip.samples, decode(DATA, "mulaw", SAMPLES))
    plain = prepared(tmp_path, wav(65536, None), loop=None, rate_hz=None)
    assert (plain.data, plain.loop, plain.rate_hz) == (DATA, None, RATE_HZ)
    # Coded once more it would be other bytes.
    assert encode(plain.samples, "mulaw") != DATA


def test_everybody_else_reads_its_sound_and_its_loop(tmp_path: Path) -> None:
    path = tmp_path / "clip.wav"
    path.write_bytes(wav())
    samples, rate_hz = soundfile.read(path, dtype="int16")
    assert np.array_equal(samples, decode(DATA, "mulaw", SAMPLES)) and rate_hz == 9766
    with path.open("rb") as file:
        assert scan(file).loops == ((100, SAMPLES),)


def louder(content: bytes) -> bytes:
    """Its last sample is another one now: a sound editor may keep chunks that it does not know."""
    at = content.index(b"data") + 8 + 2 * SAMPLES - 1
    return content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :]


@pytest.mark.parametrize("keys", [
    {"gain_db": -3}, {"fade_in_ms": 1}, {"rate_hz": 8000}, {"coding": "pcm16"}, {"remove_dc": True},
    {"loop": "whole"}, {"fitted": {"rate_hz": 8000}},
])  # fmt: skip
def test_any_other_wish_is_fulfilled_as_ever(tmp_path: Path, keys: dict[str, object]) -> None:
    assert prepared(tmp_path, wav(), **keys).data != DATA


@pytest.mark.parametrize(
    "change",
    [
        louder,
        lambda content: content[: content.index(b"fxsq")],
        lambda content: content.replace(DATA, DATA[:-1] + bytes([DATA[-1] ^ 64])),
        lambda content: content.replace(DATA, DATA[:-2]),
        lambda content: content[: content.index(b"fxsq") + 12],
        lambda content: content.replace(b"\x01" + DATA, b"\x09" + DATA),
    ],
)
def test_a_sound_that_was_edited_is_coded_as_it_is_now(
    tmp_path: Path, change: Callable[[bytes], bytes]
) -> None:
    content = change(wav(65536, None))
    clip = prepared(tmp_path, content, loop=None, rate_hz=None)
    samples, _ = soundfile.read(tmp_path / "clip.wav", dtype="int16")
    assert clip.data == encode(samples, "mulaw") != DATA


def test_a_board_at_another_rate_gets_it_at_its_own(tmp_path: Path) -> None:
    clip = prepared(tmp_path, wav(65536, None), Board(sample_rate_hz=8000), loop=None, rate_hz=None)
    assert clip.rate_hz == 8000 and len(clip.samples) == SAMPLES // 2
