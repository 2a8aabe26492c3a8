"""Cue points and loops from bytes laid out by hand after the published descriptions of the chunks.

`cue `: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991), as
in the IBM OS/2 Toolkit's mmref3, "Cue-Points Chunk". `smpl`: Multimedia Data Standards Update
(Microsoft, 15 April 1994), as in the un4seen TAG_SMPL documentation: the loop's end is "inclusive:
this sample will also be played".
"""

import io
import struct

import numpy as np
import soundfile

from fxseq.clips import scan

FORM = b"fmt " + bytes.fromhex("10000000 0100 0100 22560000 44ac0000 0200 1000")
SOUND = b"data" + bytes.fromhex("08000000 0000 0100 0200 0300")
CUE = b"cue " + bytes.fromhex(
    "34000000 02000000"
    "01000000 03000000 64617461 00000000 00000000 03000000"
    "02000000 01000000 64617461 00000000 00000000 01000000"
)
SMPL = b"smpl" + bytes.fromhex(
    "3c000000 00000000 00000000 27b10000 3c000000 00000000 00000000 00000000 01000000 00000000"
    "00000000 00000000 01000000 02000000 00000000 00000000"
)


def riff(*chunks: bytes) -> bytes:
    body = b"WAVE" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def test_cue_points_are_the_sample_offsets_in_their_order_of_time() -> None:
    assert scan(io.BytesIO(riff(FORM, SOUND, CUE))).cues == (1, 3)


def test_the_end_of_a_smpl_loop_becomes_exclusive() -> None:
    assert scan(io.BytesIO(riff(FORM, SOUND, SMPL))).loops == ((1, 3),)


def test_the_chunks_are_found_before_the_sound_as_well() -> None:
    marks = scan(io.BytesIO(riff(FORM, SMPL, CUE, SOUND)))
    assert (marks.cues, marks.loops, marks.claimed_bytes, marks.present_bytes) == (
        (1, 3),
        ((1, 3),),
        8,
        8,
    )


def test_libsndfile_takes_the_hand_made_file_for_a_sound_file() -> None:
    samples, rate_hz = soundfile.read(io.BytesIO(riff(FORM, SOUND, CUE, SMPL)), dtype="int16")
    assert (samples.tolist(), rate_hz) == ([0, 1, 2, 3], 22050)


def test_the_header_of_a_file_by_libsndfile_claims_what_is_there() -> None:
    file = io.BytesIO()
    soundfile.write(file, np.zeros((100, 2)), 48_000, format="WAV", subtype="PCM_24")
    marks = scan(file)
    assert (marks.claimed_bytes, marks.present_bytes, marks.missing_share) == (600, 600, 0.0)
