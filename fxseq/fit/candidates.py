"""Every way of storing a clip that is worth a look, made ready as it would be stored, with its bytes and what it loses."""
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fxseq.clips import Coding, Draft
from fxseq.fit.decoding import decodes_in_time
from fxseq.fit.loss import Ear
from fxseq.fit.plays import Play
from fxseq.sequence import model as m

RATES_HZ = (22050, 16000, 11025, 8000, 5512)
"""Rates that are tried besides the board's and the clip's own, where they are lower than the board's."""
CUTS_DB = (-20.0, -26.0, -32.0, -40.0)
"""A clip is also tried cut where so much of its weighted energy is left behind the cut."""
CUT_FADE_MS = 10.0
_SHORTEST_MS = 60.0


@dataclass(frozen=True)
class Candidate:
    """One way of storing a clip, with everything about it chosen.

    bytes: of clip data. lost: weighted energy of the difference to the clip as it is meant, over all its plays (see `Ear.energy`).
    """

    clip: str
    rate_hz: int
    coding: Coding
    end_ms: float | None
    bytes: int
    lost: float

    @property
    def fitted(self) -> m.Fitted:
        """The same as a file says it."""
        return _fitted(self.rate_hz, self.coding, self.end_ms)


Way = tuple[int, Coding, float | None]
"""Rate [Hz], coding, and where it is cut, from its file's start [ms]; None where it is as long as it was."""


def ways(draft: Draft, ear: Ear, codings: Sequence[Coding]) -> list[Way]:
    """All ways of storing a clip: each rate, each coding that the board decodes in time, and for a clip without a loop each cut."""
    board = draft.board
    ends_ms = [None] if draft.meant.loop else [None, *_cuts_ms(draft, ear)]
    lower = {rate for rate in (*RATES_HZ, draft.clip.rate_hz or 0) if 0 < rate < board.sample_rate_hz}
    rates = sorted({board.sample_rate_hz, *lower}, reverse=True)
    return [way for way in product(rates, codings, ends_ms) if decodes_in_time(board, way[1], way[0])]


def candidate(draft: Draft, ear: Ear, plays: Sequence[Play], way: Way) -> Candidate:
    """A way of storing a clip, made ready as it would be stored, and judged."""
    stored, board_hz = draft.stored(_fitted(*way)), draft.board.sample_rate_hz
    lost = sum(play.weight * ear.energy(play.samples - play.of(stored, board_hz), board_hz) for play in plays)
    return Candidate(draft.name, *way, len(stored.data), lost)


def _fitted(rate_hz: int, coding: Coding, end_ms: float | None) -> m.Fitted:
    return m.Fitted(rate_hz=rate_hz, coding=coding, end_ms=end_ms, fade_out_ms=0.0 if end_ms is None else CUT_FADE_MS)


def _cuts_ms(draft: Draft, ear: Ear) -> list[float]:
    """Where, from the start of the file, so little of the energy is left as CUTS_DB says; each is found by halving, as what is left only shrinks."""
    samples, rate_hz = draft.meant.samples, draft.board.sample_rate_hz
    shortest = round(_SHORTEST_MS * rate_hz / 1000)
    ends = {end for left_db in CUTS_DB if shortest <= (end := _cut(samples, rate_hz, ear, left_db)) < len(samples)}
    return [round(draft.first_ms + 1000 * end / rate_hz, 1) for end in sorted(ends)]


def _cut(samples: NDArray[np.float64], rate_hz: int, ear: Ear, left_db: float) -> int:
    """The sample behind which so much is left. [dB over the whole]"""
    most_left = ear.energy(samples, rate_hz) * 10 ** (left_db / 10)
    low, high = 0, len(samples)
    while high - low > rate_hz // 200:
        middle = (low + high) // 2
        if ear.energy(samples[middle:], rate_hz) <= most_left:
            high = middle
        else:
            low = middle
    return high
