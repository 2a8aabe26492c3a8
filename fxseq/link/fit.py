"""Whether a board can play a table: what it lacks, each as a fault."""

from typing import Protocol

from fxseq.link.messages import Feature
from fxseq.sequence.errors import Fault
from fxseq.table import Table


class Limits(Protocol):
    """What a board can do; codings: bit n for coding n."""

    most_rate_hz: int
    most_channels: int
    most_pwm_bits: int
    most_voices: int
    codings: int
    features: int


def unfit(table: Table, board: Limits, where: str) -> list[Fault]:
    """Everything in the table that this board cannot do; where: the board's port."""
    untouched = "The board goes on playing as before."
    limits = [
        (
            table.sample_rate_hz,
            board.most_rate_hz,
            "the table plays at {} Hz",
            "at most {} Hz on this board",
            "Lower sample_rate_hz.",
        ),
        (
            table.channels,
            board.most_channels,
            "the table uses {} channels",
            "at most {} on this board",
            "Use fewer channels.",
        ),
        (
            table.pwm_bits,
            board.most_pwm_bits,
            "the table dims with {} bits",
            "at most {} on this board",
            "Lower pwm_bits.",
        ),
        (
            table.voices,
            board.most_voices,
            "the table uses {} voices",
            "at most {} on this board",
            "Lower voices.",
        ),
    ]
    found = [
        Fault(where, what.format(wanted), allowed.format(most), f"{remedy} {untouched}")
        for wanted, most, what, allowed, remedy in limits
        if wanted > most
    ]
    missing = sorted({clip.coding for clip in table.clips if not board.codings >> clip.coding & 1})
    if missing:
        names = ", ".join(coding.name.lower() for coding in missing)
        found.append(
            Fault(
                where,
                f"the board cannot play clips coded as {names}",
                remedy=f"Choose another coding. {untouched}",
            )
        )
    if table.asks_for_counts and not board.features & Feature.COUNTING:
        what = "the table asks for counts, and the board cannot count"
        found.append(Fault(where, what, remedy=f"Delete counts in [board]. {untouched}"))
    return found
