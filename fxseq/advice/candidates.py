"""Every way of storing a clip that is worth a look, made ready as it would be stored, with its
bytes and what it loses.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from fxseq.acoustics import FULL_SCALE_SAMPLE, frame_s, loudness_sone
from fxseq.advice.loss import Ear
from fxseq.advice.plays import Play
from fxseq.clips import Coding, Draft
from fxseq.sequence import model as m

RATES_HZ = (22050, 16000, 11025, 8000, 5512)
"""Rates that are tried besides the board's and the clip's own, where they are lower than the
board's.
"""
CUT_SHARES = (0.25, 0.12, 0.05, 0.02)
"""A clip is also tried cut where so much of its loudness over time is left behind the cut."""
CUT_FADE_MS = 10.0
_SHORTEST_MS = 60.0
SOUND_SHARE = 0.5
"""Share of the processor's time that sound may take; the rest is for light, inputs and
interrupts. Common practice, no source.
"""

# Cycles, printed by tests/speed/cost.py (Cortex-M0: by a timing table; ATmega328P: emulated): one
# more sample of a clip decoded, and what a voice takes besides, for each sample of the board. None:
# no decoder.
_DECODE_CYCLES: dict[str, dict[Coding, int | None]] = {
    "cortex_m": {"pcm16": 17, "mulaw": 25, "ima_adpcm": 84, "qoa": 315},
    "avr": {"pcm16": 42, "mulaw": 76, "ima_adpcm": 144, "qoa": None},
}
_MIX_CYCLES = {"cortex_m": 47, "avr": 362}


@dataclass(frozen=True)
class Candidate:
    """One way of storing a clip, with everything about it chosen.

    bytes: of clip data. lost: loudness over time of the difference to the clip as it is meant, over
    all its plays. [sone s]
    """

    clip: str
    rate_hz: int
    coding: Coding
    end_ms: float | None
    bytes: int
    lost: float

    @property
    def fitted(self) -> m.Fitted:
        """This candidate as a file says it."""
        return _fitted(self.rate_hz, self.coding, self.end_ms)


Way = tuple[int, Coding, float | None]
"""Rate [Hz], coding, and where it is cut, from its file's start [ms]; None where it is as long
as it was.
"""


def ways(draft: Draft, ear: Ear, codings: Sequence[Coding]) -> list[Way]:
    """All ways of storing a clip: each rate, each coding that the board decodes in time, and for
    a clip without a loop each cut.
    """
    board = draft.board
    ends_ms = [None] if draft.meant.loop else [None, *_cuts_ms(draft, ear)]
    lower = {
        rate for rate in (*RATES_HZ, draft.clip.rate_hz or 0) if 0 < rate < board.sample_rate_hz
    }
    rates = sorted({board.sample_rate_hz, *lower}, reverse=True)
    return [
        way for way in product(rates, codings, ends_ms) if decodes_in_time(board, way[1], way[0])
    ]


def candidate(draft: Draft, ear: Ear, plays: Sequence[Play], way: Way) -> Candidate:
    """A way of storing a clip, made ready as it would be stored, and judged."""
    stored = draft.stored(_fitted(*way))
    board_hz = draft.board.sample_rate_hz
    lost = sum(play.lost(stored, ear, board_hz) for play in plays)
    return Candidate(draft.name, *way, len(stored.data), lost)


def _fitted(rate_hz: int, coding: Coding, end_ms: float | None) -> m.Fitted:
    return m.Fitted(
        rate_hz=rate_hz,
        coding=coding,
        end_ms=end_ms,
        fade_out_ms=0.0 if end_ms is None else CUT_FADE_MS,
    )


def _cuts_ms(draft: Draft, ear: Ear) -> list[float]:
    """Where, from the start of the file, so little of the loudness over time is left as
    CUT_SHARES say, played once at full gain.
    """
    rate_hz = draft.board.sample_rate_hz
    samples = draft.meant.samples * draft.gain * FULL_SCALE_SAMPLE
    loudness = loudness_sone(ear.pressure(samples, rate_hz), rate_hz)
    left = np.cumsum(loudness[::-1])[::-1]
    hop = round(frame_s(rate_hz) * rate_hz)
    ends = {int(np.count_nonzero(left > share * left[0])) * hop for share in CUT_SHARES}
    shortest = round(_SHORTEST_MS * rate_hz / 1000)
    return [
        round(draft.first_ms + 1000 * end / rate_hz, 1)
        for end in sorted(ends)
        if shortest <= end < len(samples)
    ]


def decodes_in_time(board: m.Board, coding: Coding, rate_hz: int) -> bool:
    """Whether all voices can play clips of this coding and rate at once; True where the
    processor is not described.
    """
    if board.processor is None:
        return True
    decode = _DECODE_CYCLES[board.processor.kind][coding]
    if decode is None:
        return False
    cycles_per_s = board.voices * (
        _MIX_CYCLES[board.processor.kind] * board.sample_rate_hz + decode * rate_hz
    )
    return cycles_per_s <= SOUND_SHARE * board.processor.clock_mhz * 1e6
