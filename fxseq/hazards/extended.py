"""Flashing that is slow enough for the count of a second, but goes on and on.

Source: Recommendation ITU-R BT.1702-3 warns of sequences of more than 5 s (seen in a secondary text); a public analyser calls 2 to 3 flashes
a second for 5 s an extended failure (its description read).
"""
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards.flashes import WINDOW_S

LONGEST_S = 5.0
SUSTAINED_INTERVALS = 4
"""From one transition to the fourth after it there are two flashes."""


@dataclass(frozen=True)
class LongSequence:
    """The longest stretch of flashing at two flashes a second or more."""

    start_s: float
    length_s: float

    @property
    def passes(self) -> bool:
        """Whether it is at most five seconds long."""
        return self.length_s <= LONGEST_S

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {"start_s": self.start_s, "length_s": self.length_s, "passes": self.passes}


def longest_sequence(transitions_s: NDArray[np.float64]) -> LongSequence:
    """From transitions in rising order, shape (k,): stretches in which each two flashes take a second or less, the longest of them.

    The length is from its first transition to its last. (0, 0) where no two flashes come within a second.
    """
    until_s = transitions_s[SUSTAINED_INTERVALS:]
    starts = np.flatnonzero(until_s - transitions_s[:until_s.size] <= WINDOW_S + 1e-9)
    if not starts.size:
        return LongSequence(0.0, 0.0)
    # A stretch goes on while the next two flashes begin within those before.
    firsts = np.concatenate([[0], np.flatnonzero(np.diff(starts) > SUSTAINED_INTERVALS) + 1])
    lasts = np.append(firsts[1:] - 1, starts.size - 1)
    begins, ends = transitions_s[starts[firsts]], transitions_s[starts[lasts] + SUSTAINED_INTERVALS]
    longest = int((ends - begins).argmax())
    return LongSequence(float(begins[longest]), float(ends[longest] - begins[longest]))
