"""How sure a level is."""

import math
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.response import Response

DISTANCE_SPREAD = 0.2
"""A hand does not hold a prop, nor an audience its place, closer than this share of the
distance. Common practice, no source.
"""
LEAK_Q = 5.0
"""QL of a printed or glued chamber with a leak nobody has looked for: a guess, no source;
carefully closed boxes are given as about 7 to 15.
"""


@dataclass(frozen=True)
class Uncertainty:
    """What a level may be off by, either way, each with its cause. [dB]"""

    sensitivity_db: float
    distance_db: float
    leakage_db: float

    @property
    def total_db(self) -> float:
        """Root of the sum of the squares: the causes are independent. [dB]"""
        return math.hypot(self.sensitivity_db, self.distance_db, self.leakage_db)

    def as_dict(self) -> dict[str, float]:
        """Plain values for `--json`."""
        return {**asdict(self), "total_db": self.total_db}


def distance_uncertainty_db(spread: float = DISTANCE_SPREAD) -> float:
    """Uncertainty of a level at a distance that may be off by a share of itself, on the side
    where the level is higher: -20 lg(1 - spread). [dB]
    """
    return -20 * math.log10(1 - spread)


def change_of_level_db(
    power: NDArray[np.float64],
    frequencies_hz: NDArray[np.float64],
    before: Response,
    after: Response,
) -> float:
    """What another response does to the level of a signal: 10 lg of the sums of its power spectrum
    through each; 0 for silence. [dB]

    power: squares of the magnitudes at `frequencies_hz`, each > 0, both shape (k,).
    """
    was, becomes = (
        float((power * np.abs(response(frequencies_hz)) ** 2).sum()) for response in (before, after)
    )
    if was > 0 and becomes > 0:
        return 10 * math.log10(becomes / was)
    return 0.0


def sampled_power(
    signal: NDArray[np.floating],
    rate_hz: float,
    block: int = 4096,
    blocks: int = 32,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Power spectrum over blocks spread evenly through a signal, direct current left out: (power,
    frequencies [Hz]), both shape (block / 2,).

    A survey for corrections, not for levels: with more than `blocks` blocks of signal some of it is
    not looked at.
    """
    starts = np.unique(np.linspace(0, max(signal.size - block, 0), blocks).astype(np.int64))
    window = np.hanning(block).astype(np.float32)
    spectra = [
        np.fft.rfft(np.pad(part, (0, block - part.size)) * window)
        for part in (signal[start : start + block] for start in starts)
    ]
    power = sum(
        (np.square(np.abs(spectrum)) for spectrum in spectra), start=np.zeros(block // 2 + 1)
    )
    return power[1:], np.fft.rfftfreq(block, 1 / rate_hz)[1:]
