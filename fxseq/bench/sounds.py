"""Clips as recorded, for the page to play and draw."""
import io
from pathlib import Path

import soundfile

from fxseq.clips import read
from fxseq.sequence import Clip


def recording_wav(name: str, clip: Clip, folder: Path) -> bytes:
    """The whole recording of a clip in the channel that it uses, as a WAV of one channel and 16 bit. Raises ClipError."""
    whole = read(name, clip.model_copy(update={"start_ms": 0.0, "end_ms": None, "start_cue": None}), folder)
    data = io.BytesIO()
    soundfile.write(data, whole.samples.clip(-1, 1), whole.rate_hz, format="WAV", subtype="PCM_16")
    return data.getvalue()
