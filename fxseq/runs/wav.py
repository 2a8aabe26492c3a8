"""What a run sounds like, as the bytes of WAV files."""

import io

import numpy as np
from numpy.typing import NDArray

from fxseq.runs.performance import Performance

PEAK = 10 ** (-1 / 20)
"""Peak of what is heard in its file: 1 dB below full scale. Its true level stands in the
summary.
"""


def board_wav(performance: Performance) -> bytes:
    """What the board puts out: its samples, bit for bit, at its rate."""
    return wav_bytes(performance.played.samples, performance.rate_hz)


def heard_wav(performance: Performance) -> bytes | None:
    """What is heard at the hand through amplifier and speaker, brought to -1 dBFS; None where
    those are not described.
    """
    pressure = performance.heard.pressure_pa(performance.prop.sequence.listening.hand_m)
    if pressure is None:
        return None
    loudest = float(np.abs(pressure).max(initial=0.0))
    scaled = pressure * (PEAK * 32767 / loudest) if loudest else pressure
    return wav_bytes(np.rint(scaled).astype(np.int16), performance.rate_hz)


def wav_bytes(samples: NDArray[np.int16], rate_hz: int) -> bytes:
    """16 bit WAV, one channel. samples: shape (n,)."""
    import soundfile

    data = io.BytesIO()
    soundfile.write(data, samples, rate_hz, format="WAV", subtype="PCM_16")
    return data.getvalue()
