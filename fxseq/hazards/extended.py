"""Flashing that is slow enough for the count of a second, but goes on and on.

Source: Recommendation ITU-R BT.1702-3 warns of sequences of more than 5 s (seen in a secondary
text); a public analyser calls 2 to 3 flashes a second for 5 s an extended failure (its description
read).
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
    """The longest stretch of flashing at two flashes a second or more.

    out_of_step: whether channels by themselves flash for so long, rather than their sum.
    """

    start_s: float
    length_s: float
    out_of_step: bool = False

    @property
    def passes(self) -> bool:
        """Whether it is at most five seconds long."""
        return self.length_s <= LONGEST_S

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "start_s": self.start_s,
            "length_s": self.length_s,
            "out_of_step": self.out_of_step,
            "passes": self.passes,
        }


def longest_sequence(transitions_s: NDArray[np.float64]) -> LongSequence:
    """The longest stretch of one light (see `stretches`), from its transitions in rising order,
    shape (k,).
    """
    _, begins_s, ends_s = stretches(transitions_s, np.zeros(transitions_s.size, dtype=np.int64))
    return longest_of(begins_s, ends_s)


def stretches(
    transitions_s: NDArray[np.float64],
    owner: NDArray[np.int64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Stretches in which each two flashes take a second or less: which light, when it begins and
    when it ends; shape (n,) each. [s]

    transitions_s, owner: one light after the other and each in rising order, shape (k,). A stretch
    is from its first transition to its last.
    """
    until_s = transitions_s[SUSTAINED_INTERVALS:]
    by = owner[SUSTAINED_INTERVALS:]
    starts = np.flatnonzero(
        (until_s - transitions_s[: until_s.size] <= WINDOW_S + 1e-9) & (by == owner[: by.size])
    )
    # A stretch goes on while the next two flashes begin within those before.
    new = np.append(True, (np.diff(starts) > SUSTAINED_INTERVALS) | (np.diff(owner[starts]) != 0))[
        : starts.size
    ]
    firsts = starts[new]
    lasts = starts[np.append(new[1:], True)[: starts.size]]
    return owner[firsts], transitions_s[firsts], transitions_s[lasts + SUSTAINED_INTERVALS]


def longest_of(
    begins_s: NDArray[np.float64], ends_s: NDArray[np.float64], *, out_of_step: bool = False
) -> LongSequence:
    """The longest of these spans of time, shape (n,); (0, 0) where there is none."""
    if not begins_s.size:
        return LongSequence(0.0, 0.0)
    longest = int((ends_s - begins_s).argmax())
    return LongSequence(
        float(begins_s[longest]), float(ends_s[longest] - begins_s[longest]), out_of_step
    )
