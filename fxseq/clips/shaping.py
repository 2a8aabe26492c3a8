"""The steps from a recording to 16-bit samples, each a function of arrays; full scale is 1.0."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]

_FILTER_REACH = 160
"""Samples of the lower rate that the resampler's filter looks to either side; its impulse
response ends (-140 dB) at 128, measured.
"""
_SHARPENER_REACH = 15
_FULL_SCALE = 32768
_NOTHING = 1e-9
"""-180 dBFS, far below the last bit of any sound file: nothing that gain could bring out."""
_GRID = 2**16
"""Levels between two 16-bit values that are told apart before rounding."""
HIGH_PASS_ORDER = 4
_HIGH_PASS_SETTLING = 4.0
"""Periods of the corner after which what came before is 80 dB down: the slowest poles fall as
exp(-2 pi sin(22.5 degrees) t).
"""


def resample(
    samples: Samples, rate_hz: float, new_rate_hz: float, sharpen: bool = False
) -> Samples:
    """The samples at another rate, shape (round(n * new_rate_hz / rate_hz),) but at least 1; soxr
    at very high quality.

    sharpen: see `sharpened`.
    """
    count = max(1, round(len(samples) * new_rate_hz / rate_hz))
    return _resampled(samples, rate_hz, new_rate_hz, count, sharpen)


def resample_loop(
    samples: Samples, loop: tuple[int, int], new_length: int, sharpen: bool = False
) -> tuple[Samples, tuple[int, int]]:
    """The samples up to the loop's end at the rate at which the loop has so many, and the loop
    there: a loop stays seamless.

    A loop rarely comes to a whole number of samples at a new rate, and rounding its ends would
    shift the sound by up to half a sample at every turn, which clicks. So the number of samples is
    given, and the rate follows. The filter sees the loop go on beyond its end, and before its start
    where nothing else is there. sharpen: see `sharpened`.
    """
    start, end = loop
    length = end - start
    reach = _FILTER_REACH * -(-length // new_length)
    lead = 0 if start else -(-reach // length)
    turn = samples[start:end]
    going_on = np.concatenate([np.tile(turn, lead), samples[:end], np.resize(turn, reach)])
    new_start = round(start * new_length / length)
    drop = lead * new_length
    count = drop + new_start + new_length
    return _resampled(going_on, length, new_length, count, sharpen)[drop:], (
        new_start,
        new_start + new_length,
    )


def _resampled(
    samples: Samples, rate: float, new_rate: float, count: int, sharpen: bool
) -> Samples:
    if rate == new_rate:
        return samples[:count]
    import soxr

    moved = soxr.resample(samples, rate, new_rate, quality="VHQ")
    if sharpen:
        moved = sharpened(moved)
    moved = moved[:count]
    return np.concatenate([moved, np.zeros(count - len(moved))])


def sharpened(samples: Samples) -> Samples:
    """The samples with their highs raised by what the straight lines take that a player draws
    between them, shape (n,).
    """
    kernel = _sharpener()
    return np.convolve(samples, kernel)[len(kernel) // 2 :][: len(samples)]


@cache
def _sharpener() -> Samples:
    """Taps of a symmetric filter at the rate of the samples, shape (2 * _SHARPENER_REACH + 1,).

    A straight line is a triangle put on each sample: its spectrum sinc^2(f / rate) bends the band
    down, by 1.8 dB at a quarter of the rate, and lets images of it through around every multiple of
    the rate. The gain D / (D^2 + I) makes the energy of what is left of both least, where D is the
    triangle's gain at f and I the sum of the squares of its gains at the images of f (Wiener's
    filter).
    """
    share = np.linspace(0, 0.5, 2049)
    gain = np.sinc(share) ** 2
    images = sum(np.sinc(turn + sign * share) ** 4 for turn in (1, 2, 3) for sign in (-1, 1))
    around = np.fft.irfft(gain / (gain**2 + images))
    taps = np.roll(around, _SHARPENER_REACH)[: 2 * _SHARPENER_REACH + 1]
    return np.asarray(taps * np.hanning(len(taps) + 2)[1:-1])


def sounding(samples: Samples, level_dbfs: float, margin: int) -> slice:
    """From so many samples before the first one above a level to as many behind the last; all
    where there is none.
    """
    above = np.flatnonzero(np.abs(samples) > amplitude(level_dbfs))
    if above.size:
        return slice(max(above[0] - margin, 0), above[-1] + 1 + margin)
    return slice(None)


def faded(samples: Samples, fade_in: int, fade_out: int) -> Samples:
    """Raised-cosine fades over the first and last samples; the first sample of a fade is 0 in,
    the last is 0 out.
    """
    gain = np.ones(len(samples))
    gain[:fade_in] = _rise(fade_in)
    gain[len(samples) - fade_out :] *= _rise(fade_out)[::-1]
    return samples * gain


def _rise(count: int) -> Samples:
    return 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / max(1, count))


def gain_to(samples: Samples, peak_dbfs: float | None, rms_dbfs: float | None) -> float:
    """Factor that brings the peak or the RMS to a level; 1.0 without a level, or for silence. 0
    dBFS is an amplitude of 1.0.
    """
    if peak_dbfs is not None:
        return ratio(amplitude(peak_dbfs), peak(samples))
    if rms_dbfs is not None:
        return ratio(amplitude(rms_dbfs), rms(samples))
    return 1.0


def ratio(wanted: float, now: float) -> float:
    """Factor from an amplitude to the one that is wanted; 1.0 where one of them is silence."""
    if min(wanted, now) < _NOTHING:
        return 1.0
    return wanted / now


def peak(samples: Samples) -> float:
    """Largest magnitude."""
    return float(np.abs(samples).max())


def rms(samples: Samples) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(samples**2)))


def amplitude(level_db: float) -> float:
    """Factor of a level: 10 ** (level_db / 20)."""
    return float(10 ** (level_db / 20))


def level_db(ratio: float) -> float:
    """Level of a factor: 20 lg(ratio); minus infinity for 0."""
    if ratio > 0:
        return float(20 * np.log10(ratio))
    return -np.inf


def quantised(samples: Samples) -> tuple[NDArray[np.int16], int]:
    """16-bit samples, rounded to nearest with halves away from zero, and how many were beyond full
    scale.

    Machines differ in the last bits of a float64 filter or cosine. Values are first set to a grid
    of 1/65536 of a step, so that a sum that is half a step in truth (silence between two equal
    samples, say) rounds alike everywhere.
    """
    fine = np.rint(samples * (_FULL_SCALE * _GRID)) / _GRID
    nearest = np.copysign(np.floor(np.abs(fine) + 0.5), fine)
    clipped = np.clip(nearest, -_FULL_SCALE, _FULL_SCALE - 1).astype(np.int16)
    return clipped, int(np.count_nonzero(np.abs(fine) > _FULL_SCALE))


def high_passed(samples: Samples, rate_hz: int, corner_hz: float) -> Samples:
    """The samples without what is below the corner, by a causal Butterworth of 4th order from rest:
    3 dB down there and 24 dB an octave below; shape (n,). corner_hz: below rate_hz / 2.
    """
    from scipy.signal import butter, sosfilt

    return np.asarray(
        sosfilt(butter(HIGH_PASS_ORDER, corner_hz, "highpass", fs=rate_hz, output="sos"), samples)
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
    settling = round(_HIGH_PASS_SETTLING / corner_hz * rate_hz)
    if start == 0:
        settling = -(-settling // length) * length
    going_on = np.concatenate([samples[:end], np.resize(samples[start:end], settling)])
    filtered = high_passed(going_on, rate_hz, corner_hz)
    if start == 0:
        return filtered[settling:], loop
    return filtered, (start + settling, end + settling)
