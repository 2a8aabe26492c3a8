"""Sound files that commands write, and the sound card."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.runs import wav_bytes
from fxseq.sequence import Fault, OutputError
from fxseq.sequence.writing import write_whole


def write_wav(path: Path, samples: NDArray[np.int16], rate_hz: int) -> None:
    """16 bit WAV, one channel. samples: shape (n,)."""
    write_whole(path, wav_bytes(samples, rate_hz))


def play(path: Path) -> None:
    """Play a sound file through the sound card, to its end."""
    import soundfile

    try:
        import sounddevice

        samples, rate_hz = soundfile.read(path, dtype="int16")
        sounddevice.play(samples, rate_hz, blocking=True)
    except OSError as error:
        # sounddevice raises this on import where the PortAudio library is missing.
        remedy = f"On Debian: apt install libportaudio2. Or open {path}."
        raise OutputError(
            Fault("--play", f"the sound library is missing ({error})", remedy=remedy)
        ) from None
    except Exception as error:
        if type(error).__module__.split(".")[0] != "sounddevice":
            raise
        raise OutputError(
            Fault("--play", f"no sound card answers ({error})", remedy=f"Open {path} instead.")
        ) from None
