"""Clips: from sound files to the samples and bytes that go into the table. May import fxseq.sequence.

`recording` opens files; everything else is values in, values out.
"""
from fxseq.clips.coding import Coding, decode, encode
from fxseq.clips.prepare import PreparedClip, prepare
from fxseq.clips.recording import Recording, read
from fxseq.clips.riff import Marks, scan

__all__ = ["Coding", "Marks", "PreparedClip", "Recording", "decode", "encode", "prepare", "read", "scan"]
