"""What a fitted prop loses to an ear, measured from its file alone.

Both runs go through the amplifier and speaker of `acoustics` in time, and then through the ear's
model, written a second time: from the equations that `acoustics.masking` names, frame by frame and
band by band, on the spectra of scipy.
"""

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scipy.signal import spectrogram

from fxseq.acoustics import output_voltage_v, pressure_pa
from fxseq.runs import load_prop, perform
from fxseq.sequence import Document, load

_NO_RAIL_V = 1000.0
"""No amplifier clips at it."""
_FULL_SCALE_PA = math.sqrt(2) * 20e-6 * 10 ** (96 / 20)
"""Where the file describes no speaker: a sine at full scale is 96 dB."""
_EDGES_HZ = [
    0, 100, 200, 300, 400, 510, 630, 770, 920, 1080, 1270, 1480, 1720, 2000, 2320, 2700, 3150, 3700,
    4400, 5300, 6400, 7700, 9500, 12000, 15500,
]  # fmt: skip
Frame = list[tuple[float, float, float]]
"""Frequency [Hz], threshold in quiet and power of each bin, as ratios to 20 uPa squared."""


def written(file: Path, fitted: dict[str, dict[str, object] | None], name: str) -> Path:
    """A copy of a prop file beside it with these `fitted` of its clips."""
    document = Document.read(file)
    for clip, values in fitted.items():
        if values is None:
            document.remove(("clips", clip, "fitted"))
        else:
            document.set(("clips", clip, "fitted"), values)
    document.write(file.with_name(name))
    return file.with_name(name)


def measured_db(file: Path, fitted: Path) -> float:
    """By how much the fitted file's loss sounds softer, against each clip uncut, in 16 bits, at
    the board's rate.
    """
    sequence = load(file)
    plain = {"rate_hz": sequence.board.sample_rate_hz, "coding": "pcm16"}
    whole = load_prop(
        written(file, dict.fromkeys(sequence.clips, plain), f"{fitted.stem}_whole.toml")
    )
    script = whole.script()[1]
    played = (
        perform(prop, prop.script(script)[0]).played.samples for prop in (whole, load_prop(fitted))
    )
    wanted, there = (_pressure(file, samples) for samples in played)
    return softer_db(wanted, there, sequence.board.sample_rate_hz)


def softer_db(wanted: NDArray[np.float64], there: NDArray[np.float64], rate_hz: int) -> float:
    """By how much what is wrong with a sound, shape (n,) in Pa, sounds softer than it should: 10
    dB are half as loud.
    """
    frames = [_frames(pressure, rate_hz) for pressure in (wanted, there, wanted - there)]
    heard = sum(_sones(_excited(frame), _quiet(frame)) for frame in frames[0])
    lost = sum(
        _sones(_excited(off), _threshold(right, now))
        for right, now, off in zip(*frames, strict=True)
    )
    return 10 * math.log2(heard / lost) if lost > heard / 1000 else math.inf


def _pressure(file: Path, samples: NDArray[np.int16]) -> NDArray[np.float64]:
    sequence = load(file)
    rate_hz = sequence.board.sample_rate_hz
    padded = np.pad(samples, (0, rate_hz)).astype(np.float64)
    if sequence.amplifier is None or sequence.speaker is None:
        return padded / 32768 * _FULL_SCALE_PA
    volts = output_voltage_v(padded, sequence.amplifier, _NO_RAIL_V)[0]
    return pressure_pa(volts, rate_hz, sequence.speaker, sequence.listening.hand_m).astype(
        np.float64
    )


def _frames(pressure: NDArray[np.float64], rate_hz: int) -> list[Frame]:
    """Hann windows of 23.2 ms, overlapping by half, the first one centred on the first sample."""
    hop = round(0.0116 * rate_hz)
    padded = np.pad(pressure / 20e-6, (hop, 2 * hop))
    frequencies_hz, _, density = spectrogram(padded, rate_hz, "hann", 2 * hop, hop, detrend=False)
    quiet = [
        10 ** (_quiet_db(max(frequency_hz, 20) / 1000) / 10) for frequency_hz in frequencies_hz
    ]
    return [
        list(zip(frequencies_hz, quiet, powers * frequencies_hz[1], strict=True))
        for powers in density.T
    ]


def _quiet_db(khz: float) -> float:
    """Terhardt's threshold in quiet."""
    return 3.64 * khz**-0.8 - 6.5 * math.exp(-0.6 * (khz - 3.3) ** 2) + 0.001 * khz**4


def _bands(frame: Frame) -> list[Frame]:
    edges_hz = zip(_EDGES_HZ, _EDGES_HZ[1:], strict=False)
    bands = [
        [each for each in frame if low_hz <= each[0] < high_hz] for low_hz, high_hz in edges_hz
    ]
    return [band for band in bands if band]


def _quiet(frame: Frame) -> list[float]:
    return [min(quiet for _, quiet, _ in band) for band in _bands(frame)]


def _excited(frame: Frame) -> list[float]:
    """Excitation of each band, with what Schroeder's function spreads into it; a bin counts by
    its own threshold.
    """
    shares = [sum(power / quiet for _, quiet, power in band) for band in _bands(frame)]
    inside = [least * share for least, share in zip(_quiet(frame), shares, strict=True)]
    apart = [above + 0.474 for above in range(-len(inside), len(inside))]
    spread = [10 ** ((15.81 + 7.5 * bark - 17.5 * math.sqrt(1 + bark**2)) / 10) for bark in apart]
    count = len(inside)
    return [
        sum(power * spread[to - own + count] for own, power in enumerate(inside))
        for to in range(count)
    ]


def _threshold(right: Frame, now: Frame) -> list[float]:
    """Johnston's offsets below what is in both, and never below the threshold in quiet."""
    excited = _excited(right)
    played = _excited(now)
    quiet = _quiet(right)
    audible = [
        band
        for band, here, least in zip(_bands(right), excited, quiet, strict=True)
        if here >= least
    ]
    counted = [power + 1e-20 for band in audible for _, _, power in band]
    flatness_db = 10 * (np.log10(counted).mean() - np.log10(np.mean(counted))) if counted else 0.0
    tonal = min(max(flatness_db / -60, 0), 1)
    offsets_db = [
        tonal * (14.5 + number) + (1 - tonal) * 5.5 for number in range(1, len(quiet) + 1)
    ]
    hidden = [
        min(pair) * 10 ** (-offset_db / 10)
        for *pair, offset_db in zip(excited, played, offsets_db, strict=True)
    ]
    return [max(pair) for pair in zip(hidden, quiet, strict=True)]


def _sones(excited: list[float], threshold: list[float]) -> float:
    """Zwicker's specific loudness, summed up; its factor cancels in every ratio."""
    pairs = zip(excited, threshold, strict=True)
    return sum(
        least**0.23 * ((0.5 + 0.5 * power / least) ** 0.23 - 1)
        for power, least in pairs
        if power > least
    )
