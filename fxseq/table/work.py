"""What clips take of a board's processor, with all voices sounding in one of them."""

from fxseq.clips import Coding
from fxseq.sequence import model as m

MOST_SHARE = 0.75
"""Share of the processor's time that sound may take in the worst case; the rest is for light,
inputs and interrupts. Common practice, no source.
"""
EASY_SHARE = 0.5
"""Share that leaves room for all else without a thought. Common practice, no source."""

# Cycles, printed by tests/speed/cost.py (Cortex-M0: by a timing table; ATmega328P: emulated,
# without interrupts): one more sample of a clip decoded, and what a voice takes besides, for each
# sample of the board. None: no decoder.
_DECODE_CYCLES: dict[str, dict[Coding, int | None]] = {
    "cortex_m": {"pcm16": 17, "mulaw": 25, "ima_adpcm": 73, "qoa": 158, "lpc_rice": 197},
    "avr": {"pcm16": 33, "mulaw": 72, "ima_adpcm": 132, "qoa": None, "lpc_rice": None},
}
_MIX_CYCLES = {"cortex_m": 51, "avr": 227}


def sound_share(board: m.Board, coding: Coding, rate_hz: float) -> float:
    """Share of the processor's time that all voices take with clips of this coding, whose
    samples go by at `rate_hz`; infinite where the processor cannot decode it, 0 where none is
    described.
    """
    if board.processor is None:
        return 0.0
    kind = board.processor.kind
    decode = _DECODE_CYCLES[kind][coding]
    if decode is None:
        return float("inf")
    cycles_per_s = board.voices * (_MIX_CYCLES[kind] * board.sample_rate_hz + decode * rate_hz)
    return cycles_per_s / (board.processor.clock_mhz * 1e6)


def decodes_in_time(board: m.Board, coding: Coding, rate_hz: int) -> bool:
    """Whether all voices can play clips of this coding and rate at once, and easily."""
    return sound_share(board, coding, rate_hz) <= EASY_SHARE
