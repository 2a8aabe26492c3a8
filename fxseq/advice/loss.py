"""How much of a change of a sound is heard: its loudness at the nearest ear, beside what hides
it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import (
    FULL_SCALE_SAMPLE,
    REFERENCE_PRESSURE_PA,
    error_loudness_sone,
    frame_s,
    full_scale_v,
    loudness_sone,
    pressure_pa,
    settled_after_s,
)
from fxseq.sequence import model as m

FULL_SCALE_DB = 96.0
"""Level of a sine at full scale where amplifier or speaker is not described. [dB re 20 uPa]

Source: ISO/IEC 11172-3, psychoacoustic models, from memory.
"""
_FULL_SCALE_PA = np.sqrt(2) * REFERENCE_PRESSURE_PA * 10 ** (FULL_SCALE_DB / 20)


@dataclass(frozen=True)
class Ear:
    """The ear of who holds the prop, and what samples pass on their way to it."""

    amplifier: m.Amplifier | None
    speaker: m.Speaker | None
    listening: m.Listening

    @classmethod
    def of(cls, sequence: m.Sequence) -> "Ear":
        """The ear of who holds this prop."""
        return cls(sequence.amplifier, sequence.speaker, sequence.listening)

    @property
    def in_air(self) -> bool:
        """Whether the level at the ear is known; else full scale counts as FULL_SCALE_DB."""
        return self.amplifier is not None and self.speaker is not None

    def pressure(self, samples: NDArray[np.number], rate_hz: int) -> NDArray[np.float64]:
        """What of samples of shape (n,) comes to the ear, until the speaker is at rest, shape (n
        or more,). [Pa]
        """
        if self.amplifier is None or self.speaker is None:
            return samples * (_FULL_SCALE_PA / FULL_SCALE_SAMPLE)
        rest = np.zeros(round(settled_after_s(self.speaker) * rate_hz))
        volts = np.concatenate([samples, rest]) * (full_scale_v(self.amplifier) / FULL_SCALE_SAMPLE)
        return pressure_pa(
            volts, rate_hz, self.speaker, self.listening.hand_m, self.listening.space
        ).astype(np.float64)

    def loudness(self, pressure: NDArray[np.float64], rate_hz: int) -> float:
        """Loudness of a sound summed up over time. [sone s]"""
        return float(loudness_sone(pressure, rate_hz).sum()) * frame_s(rate_hz)

    def lost(self, pressure: NDArray[np.float64], error: NDArray[np.number], rate_hz: int) -> float:
        """Loudness, summed up over time, of an error that a sound does not hide. [sone s]

        error: in samples, as many as gave the pressure.
        """
        if not error.any():
            return 0.0
        return float(
            error_loudness_sone(pressure, self.pressure(error, rate_hz), rate_hz).sum()
        ) * frame_s(rate_hz)
