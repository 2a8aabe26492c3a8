"""A high-pass for clips: Butterworth of 4th order, causal, from rest. A loop stays seamless."""

import numpy as np

from fxseq.clips.shaping import Samples

ORDER = 4
_SETTLING = 4.0
"""Periods of the corner after which what came before is 80 dB down: the slowest poles fall as
exp(-2 pi sin(22.5 degrees) t).
"""


def high_passed(samples: Samples, rate_hz: int, corner_hz: float) -> Samples:
    """The samples without what is below the corner, 3 dB down there and 24 dB an octave below;
    shape (n,). corner_hz: below rate_hz / 2.
    """
    from scipy.signal import butter, sosfilt

    return np.asarray(
        sosfilt(butter(ORDER, corner_hz, "highpass", fs=rate_hz, output="sos"), samples)
    )


def high_passed_loop(
    samples: Samples, loop: tuple[int, int], rate_hz: int, corner_hz: float
) -> tuple[Samples, tuple[int, int]]:
    """High-pass a sound that repeats its loop for ever: up to the loop's end, with the loop there.

    The loop goes round until the filter repeats itself, and the last turn is kept. A sound that has
    something before its loop must come to that turn as smoothly as it is repeated: its loop starts
    later by the time that the filter needs to forget, and is as long as before.
    """
    start, end = loop
    length = end - start
    settling = round(_SETTLING / corner_hz * rate_hz)
    if start == 0:
        settling = -(-settling // length) * length
    going_on = np.concatenate([samples[:end], np.resize(samples[start:end], settling)])
    filtered = high_passed(going_on, rate_hz, corner_hz)
    if start == 0:
        return filtered[settling:], loop
    return filtered, (start + settling, end + settling)
