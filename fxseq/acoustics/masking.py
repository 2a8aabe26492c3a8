"""How loud an ear hears an error beside a sound that hides part of it.

Four published pieces. A sound is cut into frames, and each frame into critical bands (E. Zwicker).
What is in a band also excites its neighbours, upwards more than downwards (M. R. Schroeder, B. S.
Atal, J. L. Hall), and so hides an error that is far enough below that: by 14.5 dB and 1 dB a band
more for a tone, by 5.5 dB for noise, where spectral flatness tells how much of a tone a frame is
(J. D. Johnston, Transform coding of audio signals using perceptual noise criteria, IEEE Journal on
Selected Areas in Communications 6(2), 1988). What sticks out of that, or of the threshold in quiet
(E. Terhardt), is as loud as specific loudness says (E. Zwicker and H. Fastl, Psychoacoustics).

The papers were not read; numbers are from memory and from public code that cites them, and tests
hold what comes out to published loudnesses. Left out are masking from one frame to the next, which
makes it say rather too much than too little, and the gain of the outer ear, which makes a sound
around 4 kHz a third too soft.
"""

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics.decibels import REFERENCE_PRESSURE_PA

Floats = NDArray[np.float64]

CRITICAL_BANDS_HZ = (
    0, 100, 200, 300, 400, 510, 630, 770, 920, 1080, 1270, 1480, 1720, 2000, 2320, 2700, 3150, 3700,
    4400, 5300, 6400, 7700, 9500, 12000, 15500,
)  # fmt: skip
"""Edges of the 24 critical bands, each one Bark wide. [Hz]

Source: E. Zwicker, J. Acoust. Soc. Am. 33 (1961), 248, as widely copied.
"""

_HOP_S = 0.0116
"""From frame to frame; a frame is twice as long: 512 samples at 22050 Hz. [s]"""
_FRAMES_AT_ONCE = 2048
_LOWEST_HZ = 20.0
_NOISE_OFFSET_DB = 5.5
_TONE_OFFSET_DB = 14.5
_FLATNESS_OF_TONE_DB = -60.0
_SONE = 0.0565
"""Brings a tone of 60 dB at 1 kHz to the 4 sones that it has by definition."""
_EXPONENT = 0.23
_LEAST_SHARE = 0.001
"""Of a sound of 3 sones it is 0.003, the loudness at the threshold of hearing by ANSI S3.4 (from
memory).
"""
_NOTHING = 1e-20
"""Relative to 20 uPa squared; keeps logarithms finite."""


def threshold_in_quiet_db(frequency_hz: ArrayLike) -> Floats:
    """Level at which a tone is just heard, element by element. [dB re 20 uPa]

    Valid for 20 Hz to 16 kHz; what is below counts as 20 Hz. Source: E. Terhardt, Calculating
    virtual pitch, Hearing Research 1 (1979), 155-182, equation as widely copied.
    """
    khz = np.maximum(np.asarray(frequency_hz, dtype=np.float64), _LOWEST_HZ) / 1000
    return np.asarray(3.64 * khz**-0.8 - 6.5 * np.exp(-0.6 * (khz - 3.3) ** 2) + 1e-3 * khz**4)


def spread_db(bark: ArrayLike) -> Floats:
    """What a band excites in another one that is so many Bark above it, relative to what it excites
    in itself. [dB]

    Source: M. R. Schroeder, B. S. Atal and J. L. Hall, J. Acoust. Soc. Am. 66 (1979), 1647-1652, as
    widely copied.
    """
    beside = np.asarray(bark, dtype=np.float64) + 0.474
    return np.asarray(15.81 + 7.5 * beside - 17.5 * np.sqrt(1 + beside**2))


def loudness_sone(pressure: Floats, rate_hz: int) -> Floats:
    """Loudness of each frame, shape (frames,), of a sound of shape (n,) in Pa. [sone]"""
    bins = _bins(rate_hz)
    excited = (_powers(spectra) @ bins.excite for spectra in _spectra(pressure, rate_hz))
    return np.concatenate([_loudness(each, bins.quiet) for each in excited])


def error_loudness_sone(pressure: Floats, error: Floats, rate_hz: int) -> Floats:
    """Loudness of an error as far as a sound does not hide it, of each frame, shape (frames,).
    [sone]

    pressure, error: what a sound should be, and how far it is off, shape (n,) each. [Pa]

    Only what is in both, in the sound as it should be and as it is, hides anything: nothing hides
    that a sound is gone, which is then lost with all its loudness.
    """
    bins = _bins(rate_hz)
    lost = []
    for wanted, off in zip(_spectra(pressure, rate_hz), _spectra(error, rate_hz), strict=True):
        powers = _powers(wanted)
        excited = powers @ bins.excite
        common = np.minimum(excited, _powers(wanted - off) @ bins.excite)
        offset_db = _offset_db(_tonality(powers, excited, bins), len(bins.quiet))
        hidden = common * 10 ** (-offset_db / 10)
        lost.append(_loudness(_powers(off) @ bins.excite, np.maximum(hidden, bins.quiet)))
    return np.concatenate(lost)


def noise_loudness_sone(pressure: Floats, noise_pa: Floats, rate_hz: int) -> Floats:
    """Loudness of white noises as far as a sound does not hide them, of each frame, shape (frames,
    noises). [sone]

    pressure: of the sound, shape (n,). [Pa] noise_pa: RMS of each noise between 0 and half the
    rate, shape (noises,). [Pa]
    """
    bins = _bins(rate_hz)
    white = np.full(len(bins.band), 1 / _hop(rate_hz)) / REFERENCE_PRESSURE_PA**2
    excited = (white @ bins.excite) * np.square(noise_pa)[:, None]
    lost = []
    for spectra in _spectra(pressure, rate_hz):
        hidden = np.maximum(_hidden(_powers(spectra), bins), bins.quiet)
        lost.append(np.stack([_loudness(noise, hidden) for noise in excited], axis=1))
    return np.concatenate(lost)


def frame_s(rate_hz: int) -> float:
    """From one frame to the next at a rate. [s]"""
    return _hop(rate_hz) / rate_hz


def softer_db(sound_sone: float, error_sone: float) -> float:
    """By how much an error sounds softer than a sound. [dB]

    10 dB where it is half as loud; infinite where it counts as not heard, from a thousandth down.
    Source: the definition of the sone: twice as many for 10 dB more at 1 kHz.
    """
    heard = error_sone > _LEAST_SHARE * sound_sone
    if not heard:
        return math.inf
    return 10 * math.log2(sound_sone / error_sone)


class _Bins(NamedTuple):
    """The bins of a frame at a rate.

    band: critical band of each, shape (bins,); the last one also for what is above all.
    excite: from the power in bins to the excitation of bands, shape (bins, bands).
    quiet: excitation at the threshold in quiet, shape (bands,), relative to 20 uPa squared.
    """

    band: NDArray[np.int64]
    excite: Floats
    quiet: Floats


@lru_cache(maxsize=8)
def _bins(rate_hz: int) -> _Bins:
    """In a band each bin counts by its own threshold, so that rumble counts for less than the
    upper end of its band.
    """
    frequencies_hz = np.fft.rfftfreq(2 * _hop(rate_hz), 1 / rate_hz)
    above = np.searchsorted(CRITICAL_BANDS_HZ, frequencies_hz, side="right")
    band = np.minimum(above, len(CRITICAL_BANDS_HZ) - 1) - 1
    bands = np.arange(band[-1] + 1)
    threshold = 10 ** (threshold_in_quiet_db(frequencies_hz) / 10)
    quiet = np.array([threshold[band == each].min() for each in bands])
    share = np.where(band[:, None] == bands, quiet / threshold[:, None], 0.0)
    spread = 10 ** (spread_db(bands[None, :] - bands[:, None]) / 10)
    return _Bins(band, share @ spread, quiet)


def _hop(rate_hz: int) -> int:
    return max(round(_HOP_S * rate_hz), 1)


def _spectra(pressure: Floats, rate_hz: int) -> Iterator[NDArray[np.complex128]]:
    """Spectra of frames, shape (frames, bins), many at a time.

    Hann windows that overlap by half, the first one centred on the first sample. Scaled so that
    their squares sum up to the mean square of the frame, relative to 20 uPa squared.
    """
    hop = _hop(rate_hz)
    window = np.hanning(2 * hop + 1)[:-1]
    window /= REFERENCE_PRESSURE_PA * np.sqrt(hop * np.sum(window**2))
    frames = -(-len(pressure) // hop) + 1
    padded = np.zeros((frames + 1) * hop)
    padded[hop : hop + len(pressure)] = pressure
    cut = np.lib.stride_tricks.sliding_window_view(padded, 2 * hop)[::hop]
    for first in range(0, frames, _FRAMES_AT_ONCE):
        yield np.fft.rfft(cut[first : first + _FRAMES_AT_ONCE] * window)


def _powers(spectra: NDArray[np.complex128]) -> Floats:
    return np.square(spectra.real) + np.square(spectra.imag)


def _tonality(powers: Floats, excited: Floats, bins: _Bins) -> Floats:
    """From 0 for noise to 1 for a tone, shape (frames,): by the spectral flatness of what is
    heard.
    """
    counted = (excited >= bins.quiet)[:, bins.band]
    count = np.maximum(counted.sum(axis=1), 1)
    kept = np.where(counted, np.maximum(powers, _NOTHING), 1.0)
    mean = np.where(counted, powers, 0.0).sum(axis=1) / count
    flatness_db = 10 * (np.log10(kept).sum(axis=1) / count - np.log10(np.maximum(mean, _NOTHING)))
    return np.clip(flatness_db / _FLATNESS_OF_TONE_DB, 0, 1)


def _hidden(powers: Floats, bins: _Bins) -> Floats:
    """What a sound hides, as an excitation, shape (frames, bands)."""
    excited = powers @ bins.excite
    offset_db = _offset_db(_tonality(powers, excited, bins), len(bins.quiet))
    return excited * 10 ** (-offset_db / 10)


def _offset_db(tonality: Floats, bands: int) -> Floats:
    """How far below a sound an error is just heard, shape (frames, bands). [dB]"""
    tone_db = _TONE_OFFSET_DB + np.arange(1, bands + 1)
    return tonality[:, None] * tone_db + (1 - tonality[:, None]) * _NOISE_OFFSET_DB


def _loudness(excitation: Floats, threshold: Floats) -> Floats:
    """Specific loudness T^0.23 ((1/2 + E / 2T)^0.23 - 1), summed over the bands of each frame.
    [sone]

    Nothing below the threshold T is heard. Source: E. Zwicker and H. Fastl, Psychoacoustics,
    chapter on loudness, from memory, where T is the threshold in quiet. That what a sound hides
    takes its place beside that sound is our step, without a source.
    """
    above = np.maximum(0.5 + 0.5 * excitation / threshold, 1.0)
    return np.sum(_SONE * threshold**_EXPONENT * (above**_EXPONENT - 1), axis=1)
