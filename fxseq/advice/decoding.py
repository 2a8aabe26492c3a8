"""Whether a board's processor decodes a clip in time, with all voices sounding in that coding."""

from fxseq.clips import Coding
from fxseq.sequence import model as m

SHARE = 0.5
"""Share of the processor's time that sound may take; the rest is for light, inputs and
interrupts. Common practice, no source.
"""

# Cycles, printed by tests/speed/cost.py (Cortex-M0: by a timing table; ATmega328P: emulated,
# without interrupts): one more sample of a clip decoded, and what a voice takes besides, for each
# sample of the board. None: no decoder.
_DECODE_CYCLES: dict[str, dict[Coding, int | None]] = {
    "cortex_m": {"pcm16": 17, "mulaw": 25, "ima_adpcm": 73, "qoa": 158, "lpc_rice": 197},
    "avr": {"pcm16": 34, "mulaw": 73, "ima_adpcm": 133, "qoa": None, "lpc_rice": None},
}
_MIX_CYCLES = {"cortex_m": 50, "avr": 312}


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
    return cycles_per_s <= SHARE * board.processor.clock_mhz * 1e6
