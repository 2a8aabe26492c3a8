"""What of a sound is heard: speaker and ear as one response."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.driver import Space
from fxseq.acoustics.response import Response
from fxseq.acoustics.speaker import speaker_response
from fxseq.acoustics.weighting import Curve, weighting_response
from fxseq.sequence.model import Speaker


@lru_cache(maxsize=32)
def heard_response(
    speaker: Speaker | None,
    distance_m: float = 1.0,
    space: Space = "half",
    curve: Curve = "A",
    leak_q: float | None = None,
) -> Response:
    """From volts at the speaker to weighted pressure at a distance [Pa/V]; the weighting alone
    where no speaker is described.
    """

    def weighting(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        return weighting_response(frequencies_hz, curve)

    if speaker is None:
        return weighting
    through = speaker_response(speaker, distance_m, space, leak_q)
    return lambda frequencies_hz: through(frequencies_hz) * weighting(frequencies_hz)
