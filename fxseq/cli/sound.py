"""Sound files that a preview writes, and the sound card."""
import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.checks import Performance
from fxseq.sequence import Fault, OutputError
from fxseq.sequence.writing import write_whole

PEAK = 10 ** (-1 / 20)
"""Peak of heard.wav: 1 dB below full scale. Its true level stands in the summary."""


def write_board_wav(performance: Performance, path: Path) -> None:
    """What the board puts out: its samples, bit for bit, at its rate."""
    write_wav(path, performance.played.samples, performance.rate_hz)


def write_heard_wav(performance: Performance, path: Path) -> bool:
    """What is heard at the hand through amplifier and speaker, brought to -1 dBFS; False where those are not described."""
    pressure = performance.heard_pa(performance.prop.sequence.listening.hand_m)
    if pressure is None:
        return False
    loudest = float(np.abs(pressure).max(initial=0.0))
    scaled = pressure * (PEAK * 32767 / loudest) if loudest else pressure
    write_wav(path, np.rint(scaled).astype(np.int16), performance.rate_hz)
    return True


def write_wav(path: Path, samples: NDArray[np.int16], rate_hz: int) -> None:
    """16 bit WAV, one channel. samples: shape (n,)."""
    import soundfile

    buffer = io.BytesIO()
    soundfile.write(buffer, samples, rate_hz, format="WAV", subtype="PCM_16")
    write_whole(path, buffer.getvalue())


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
        raise OutputError(Fault("--play", f"the sound library is missing ({error})", remedy=remedy)) from None
    except Exception as error:
        if type(error).__module__.split(".")[0] != "sounddevice":
            raise
        raise OutputError(Fault("--play", f"no sound card answers ({error})", remedy=f"Open {path} instead.")) from None
