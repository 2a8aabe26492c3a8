"""Clips: from sound files to the samples and bytes that go into the table. May import
fxseq.sequence and fxseq.acoustics.

`recording` opens files, `found` keeps what took long to find; everything else is values in, values
out.
"""

from fxseq.clips.coded import CodedClip, wav_of
from fxseq.clips.coding import Coding, byte_count, decode, sound
from fxseq.clips.encoding import encode
from fxseq.clips.limiter import limited, limiter_gain
from fxseq.clips.loop_finder import FoundLoop
from fxseq.clips.loudest import Hearing, loudest
from fxseq.clips.measured import Conditioning, Measured
from fxseq.clips.prepare import Draft, PreparedClip, draft, prepare
from fxseq.clips.recording import MOST_FRAMES, Recording, read
from fxseq.clips.riff import Marks, scan

__all__ = [
    "MOST_FRAMES", "CodedClip", "Coding", "Conditioning", "Draft", "FoundLoop", "Hearing", "Marks",
    "Measured", "PreparedClip", "Recording", "byte_count", "decode", "draft", "encode", "limited",
    "limiter_gain", "loudest", "prepare", "read", "scan", "sound", "wav_of",
]  # fmt: skip
