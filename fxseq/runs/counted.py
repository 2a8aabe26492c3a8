"""What a board counted, in the words of the bench."""

from fxseq.link.counts import NOT_MEASURED
from fxseq.link.messages import Counts
from fxseq.sequence import Sequence
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.quantities import quantity


def lowest_v(counts: Counts, part: str | None, sequence: Sequence | None) -> float | None:
    """Lowest voltage of the cells; None where it is not known. part: the ready-made board.
    sequence: the prop at hand, for the divider at its sensor; without, the board's own. [V]
    """
    full_v = board_parts()[part].full_v if part else 0.0
    if counts.lowest == NOT_MEASURED or not part or not full_v:
        return None
    inputs = sequence.inputs.values() if sequence else ()
    dividers = [item.divider for item in inputs if item.kind == "low_battery" and item.divider]
    divider = dividers[0] if dividers else board_parts()[part].divider
    return counts.lowest / 65536 * full_v * divider


def counted_text(counts: Counts, lowest: float | None) -> str:
    """One sentence."""
    voltage = "not measured" if lowest is None else quantity(round(lowest, 2), "V")
    faults = counts.flash_errors or "no"
    text = (
        f"It counted {_of(counts.power_ups, 'power-up')}, {_of(counts.shots, 'shot')},"
        f" {_of(counts.refusals, 'refusal')} and {faults} fault{'s' * (faults != 1)} of its flash"
        f" memory; lowest voltage of the cells: {voltage}."
    )
    return text if counts.counting else f"{text} What plays now does not ask it to count."


def _of(count: int, what: str) -> str:
    return f"{count} {what}{'s' * (count != 1)}"
