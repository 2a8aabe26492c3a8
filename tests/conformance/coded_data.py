"""Parts of generated tables whose rules hang together."""

from collections.abc import Callable, Sequence

import plain_codings

from fxseq.light import FadeSegment
from fxseq.table import Coding


def clip_data(
    some_bytes: Callable[[int], bytes], coding: Coding, samples: int, loop_start: int | None
) -> bytes:
    """As many bytes as the clip takes; in IMA ADPCM with heads that are in order (SPEC 3.7 R4), in
    LPC-Rice two bytes a sample, of which often some are missing (R5).
    """
    if coding == Coding.LPC_RICE:
        return b"".join(
            len(bits).to_bytes(3, "little") + bits
            for run in plain_codings.runs(samples, loop_start)
            for bits in [some_bytes(run * 2 - run % 3)]
        )
    data = bytearray(some_bytes(plain_codings.clip_bytes(coding, samples, loop_start)))
    at = 0
    for run in plain_codings.runs(samples, loop_start) if coding == Coding.IMA_ADPCM else ():
        for block in plain_codings.blocks(run, plain_codings.IMA_BLOCK):
            data[at + 2 : at + 4] = data[at + 2] % 89, 0
            at += plain_codings.ima_block_bytes(block)
    return bytes(data)


def slow_turn(segments: Sequence[FadeSegment], turn: int | None) -> int | None:
    """The turn, or None where the curve would go round too fast (SPEC 3.6 R3 and R4)."""
    lengths = [segment.length for segment in segments]
    if turn is None or not any(lengths[turn:]):
        return None
    played = lengths + lengths[turn:] * 16
    slow = all(sum(played[begin : begin + 16]) >= 8 for begin in range(len(lengths)))
    return turn if slow else None
