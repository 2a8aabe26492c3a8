"""How much of a change of a sound is heard: its energy behind amplifier and speaker, A-weighted, at the ear that is nearest.

A-weighting stands for the ear's sensitivity at low levels. That a loud sound hides a soft error beside it (masking) is left out, so the
loss is an upper bound where both are at like frequencies.
"""
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import FULL_SCALE_SAMPLE, Response, full_scale_v, heard_response
from fxseq.sequence import model as m


@dataclass(frozen=True, eq=False)
class Ear:
    """What becomes of samples on their way to an ear.

    response: from samples to A-weighted pressure; where amplifier or speaker is not described, to A-weighted full scale. [Pa] or [1]
    in_air: which of the two.
    """

    response: Response
    in_air: bool
    _kept: dict[tuple[int, int], NDArray[np.float64]] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, sequence: m.Sequence) -> "Ear":
        """The ear of who holds the prop."""
        amplifier, speaker = sequence.amplifier, sequence.speaker
        if amplifier is None or speaker is None:
            weighted = heard_response(None)
            return cls(lambda f: weighted(f) / FULL_SCALE_SAMPLE, False)
        step_v = full_scale_v(amplifier) / FULL_SCALE_SAMPLE
        heard = heard_response(speaker, sequence.listening.hand_m, sequence.listening.space)
        return cls(lambda f: step_v * heard(f), True)

    def energy(self, samples: NDArray[np.floating], rate_hz: int) -> float:
        """Integral of the weighted square over all time, from rest, of a sound of shape (n,). [Pa^2 s] or [s]

        Parseval's theorem over the sound and as much silence behind it, or more.
        """
        size = 1 << (2 * max(len(samples), 1) - 1).bit_length()
        return float(np.abs(np.fft.rfft(samples, size)) ** 2 @ self._weights(size, rate_hz))

    def _weights(self, size: int, rate_hz: int) -> NDArray[np.float64]:
        """What the square of each bin counts for, shape (size // 2 + 1,)."""
        key = (size, rate_hz)
        if key not in self._kept:
            weights = np.abs(self.response(np.fft.rfftfreq(size, 1 / rate_hz))) ** 2 / (size * rate_hz)
            weights[1:-1] *= 2
            self._kept[key] = weights
        return self._kept[key]
