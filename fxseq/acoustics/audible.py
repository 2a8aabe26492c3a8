"""What of a sound is heard: speaker and ear as one response, and the filter with which encoders weigh errors by it."""
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.driver import Space
from fxseq.acoustics.response import Response
from fxseq.acoustics.speaker import speaker_response
from fxseq.acoustics.weighting import Curve, weighting_response
from fxseq.sequence.model import Speaker

ORDER = 4
_BINS = 512
_FLOOR_DB = -40.0
"""Below the highest gain; errors that are softer still do not become free, lest an encoder drives them up without end."""
_LARGEST_ZERO = 0.98
"""A zero nearer to the unit circle would make errors near its frequency free."""
_GRID = 4096
"""Coefficients are whole parts of this, so that the last bits in which machines differ do not lead an encoder astray."""


@lru_cache(maxsize=32)
def heard_response(
    speaker: Speaker | None, distance_m: float = 1.0, space: Space = "half", curve: Curve = "A", leak_q: float | None = None,
) -> Response:
    """From volts at the speaker to weighted pressure at a distance [Pa/V]; the weighting alone where no speaker is described."""

    def weighting(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        return weighting_response(frequencies_hz, curve)

    if speaker is None:
        return weighting
    through = speaker_response(speaker, distance_m, space, leak_q)
    return lambda frequencies_hz: through(frequencies_hz) * weighting(frequencies_hz)


def error_weighting(speaker: Speaker | None, rate_hz: int) -> tuple[float, ...]:
    """Coefficients 1, b1 .. b4 of a filter whose gain follows speaker and A-weighting up to half the rate, but for a constant factor.

    The begin of the impulse response of minimum phase, which holds more of its energy than that of any other phase: made from the cepstrum
    (A. V. Oppenheim and R. W. Schafer, Discrete-Time Signal Processing, from memory). For the demo's speaker the gain is within 1 to 2 dB
    where it counts; only a long filter follows the fall towards low frequencies.
    """
    frequencies_hz = np.linspace(0, rate_hz / 2, _BINS + 1)
    frequencies_hz[0] = frequencies_hz[1] / 4
    gain = np.abs(heard_response(speaker)(frequencies_hz))
    cepstrum = np.fft.irfft(np.log(np.maximum(gain / gain.max(), 10 ** (_FLOOR_DB / 20))))
    cepstrum[1:_BINS] *= 2
    cepstrum[_BINS + 1:] = 0
    impulse = np.fft.irfft(np.exp(np.fft.rfft(cepstrum)))
    return tuple(float(value) for value in np.round(_of_minimum_phase(impulse[:ORDER + 1]) * _GRID) / _GRID)


def _of_minimum_phase(coefficients: NDArray[np.float64]) -> NDArray[np.float64]:
    """A filter of the same gain, but for a factor, with its zeros inside the unit circle and 1 as its first coefficient.

    Cut short, a response may have lost its minimum phase. A search that goes forward in time would then let errors grow without end, since
    what is to cancel them is always still to come.
    """
    zeros = np.roots(coefficients)
    size = np.abs(zeros)
    inside = np.where(size > 1, zeros / np.maximum(size, 1e-9) ** 2, zeros)
    inside *= np.minimum(1, _LARGEST_ZERO / np.maximum(np.abs(inside), 1e-9))
    return np.real(np.poly(inside))
