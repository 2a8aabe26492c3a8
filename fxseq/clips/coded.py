"""A clip as a table has it, in a WAV file: the sound for whoever hears or edits it, and beside it,
in a chunk of its own, the coded bytes.

A coding loses something, so coding once more what it decodes to need not give the same bytes.
Where a prop file asks for just this coding of just this sound, the bytes of the chunk are taken:
they lose nothing of it, and no search can do better. A sound that was edited is no longer what
they decode to, and is coded as any other.

Layouts: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991),
RIFF, `fmt ` and `data`; Multimedia Data Standards Update (Microsoft, 15 April 1994), `smpl`.
"""

import struct
from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from fxseq.clips.coding import Coding, byte_count, decode, sound
from fxseq.clips.riff import CHUNK
from fxseq.sequence.model import Clip

_HEAD = struct.Struct("<IIIB")
"""Rate of the board, step, start of the loop, number of the coding. The coded bytes follow."""
_CODINGS: tuple[Coding, ...] = get_args(Coding)
_NO_LOOP = 0xFFFFFFFF
_UNIT_STEP = 65536
_LOWEST_RATE_HZ = 2000
_SAID = {"file", "source", "coding", "loop", "rate_hz"}
"""Keys of a clip that leave its samples as they are."""


@dataclass(frozen=True)
class CodedClip:
    """A coded clip. step: samples of it for each of a board's at board_hz, in 1/65536. loop_start:
    None without a loop, which else runs from there to the end.
    """

    coding: Coding
    board_hz: int
    step: int
    data: bytes
    loop_start: int | None

    @property
    def rate_hz(self) -> float:
        """Samples a second at which it sounds as it should."""
        return self.step * self.board_hz / _UNIT_STEP

    @property
    def file_rate_hz(self) -> int:
        """The whole number nearest to that, which its file says."""
        return max(round(self.rate_hz), _LOWEST_RATE_HZ)

    @property
    def wanted_hz(self) -> int:
        """What a prop file says that wants it so."""
        return min(self.file_rate_hz, self.board_hz)

    def is_wanted(self, clip: Clip, board_hz: int) -> bool:
        """Whether a prop file asks for just this coding at just this rate, and for no change of
        the sound.
        """
        said = clip.model_dump(exclude_defaults=True).keys()
        loop = None if self.loop_start is None else "file"
        return (
            said <= _SAID
            and board_hz == self.board_hz
            and (clip.coding, clip.loop) == (self.coding, loop)
            and (clip.rate_hz or board_hz) == self.wanted_hz
        )

    def samples_if(self, recorded: NDArray[np.float64]) -> NDArray[np.int16] | None:
        """What it decodes to, where that is what was recorded, full scale 1; shape (n,)."""
        count = len(recorded)
        try:
            whole = byte_count(self.coding, count, self.loop_start, self.data) == len(self.data)
            if not whole or not sound(self.data, self.coding, count, self.loop_start):
                return None
            samples = decode(self.data, self.coding, count, self.loop_start)
        except ValueError:
            return None
        return samples if np.array_equal(samples, recorded * 32768) else None


def read_coded(content: bytes) -> CodedClip | None:
    """The clip that a chunk holds; None where it holds none."""
    if len(content) < _HEAD.size:
        return None
    board_hz, step, start, number = _HEAD.unpack_from(content)
    if number >= len(_CODINGS):
        return None
    loop_start = None if start == _NO_LOOP else start
    return CodedClip(_CODINGS[number], board_hz, step, content[_HEAD.size :], loop_start)


def wav_of(clip: CodedClip, samples: int) -> bytes:
    """A WAV file of 16 bit with its sound, its loop and the chunk. samples: how many it has."""
    recorded = decode(clip.data, clip.coding, samples, clip.loop_start).astype("<i2").tobytes()
    rate_hz = clip.file_rate_hz
    start = _NO_LOOP if clip.loop_start is None else clip.loop_start
    head = _HEAD.pack(clip.board_hz, clip.step, start, _CODINGS.index(clip.coding))
    body = b"WAVE" + _chunk(b"fmt ", struct.pack("<HHIIHH", 1, 1, rate_hz, 2 * rate_hz, 2, 16))
    body += _chunk(b"data", recorded)
    if clip.loop_start is not None:
        body += _chunk(b"smpl", _loop(rate_hz, clip.loop_start, samples - 1))
    return _chunk(b"RIFF", body + _chunk(CHUNK, head + clip.data))


def _loop(rate_hz: int, first: int, last: int) -> bytes:
    """One forward loop for ever; the period of a sample is in nanoseconds, the note a middle C."""
    head = struct.pack("<9I", 0, 0, round(1e9 / rate_hz), 60, 0, 0, 0, 1, 0)
    return head + struct.pack("<6I", 0, 0, first, last, 0, 0)


def _chunk(ident: bytes, content: bytes) -> bytes:
    return ident + struct.pack("<I", len(content)) + content + b"\0" * (len(content) % 2)
