"""Counting flashes of light as WCAG 2.2 does, from change points.

Source: W3C, Web Content Accessibility Guidelines 2.2, success criterion 2.3.1 and the definition
"general flash and red flash thresholds", techniques G19 and G176, all read. They are written for
screens; a prop in a dark room is no milder, so they serve here as a first limit.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards.colours import chromaticity_uv, red_share
from fxseq.hazards.swings import Indices, Values, swings

LUMINANCE_STEP = 0.10
"""Smallest change of relative luminance that is a transition."""
DARKER_BELOW = 0.80
"""A transition counts where its darker state is below this relative luminance."""
RED_SHARE = 0.80
"""R / (R + G + B) from which a colour is a saturated red."""
RED_DISTANCE = 0.20
"""A transition to or from saturated red counts where u'v' changes by more than this."""
WINDOW_S = 1.0
MAXIMUM_TRANSITIONS = 6
"""Transitions allowed in any window [t, t + 1 s): three flashes of two opposing transitions
each.
"""
SMALL_AREA_SR = 0.006
"""Solid angle below which flashing on a screen is no failure of WCAG: a quarter of any 10 degree
field of view. [sr]

Said in findings, never used to drop one: a prop lights up its surroundings, and flashes over a far
larger area.
"""

# Duties are integers and times are frames, so differences this small are rounding alone.
_ROUNDING = 1e-9

ONE_LIGHT = np.zeros(1, dtype=np.int64)
"""Where lights laid end to end begin, if there is only one."""


@dataclass(frozen=True)
class FlashCount:
    """The worst second: how many transitions it has, and when it begins (None without a
    transition).

    out_of_step: whether so many are in each of several channels, rather than in their sum.
    """

    transitions: int
    at_s: float | None
    out_of_step: bool = False

    @property
    def flashes_per_s(self) -> float:
        """Two opposing transitions are one flash."""
        return self.transitions / 2

    @property
    def passes(self) -> bool:
        """Whether there are at most three flashes in any second."""
        return self.transitions <= MAXIMUM_TRANSITIONS

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "flashes_per_s": self.flashes_per_s,
            "at_s": self.at_s,
            "out_of_step": self.out_of_step,
            "passes": self.passes,
        }


def flash_rate_limit_hz() -> float:
    """Highest steady rate that passes, whatever its shape: above it some second holds four rises
    and three falls. [Hz]
    """
    return MAXIMUM_TRANSITIONS / 2 / WINDOW_S


def general_places(light: Values, starts: Indices, full: float) -> Indices:
    """Where the transitions of a general flash are, in order: each where its change first reaches
    10 %; shape (k,).

    light: luminances 0..full of several lights, laid end to end, shape (n,), n >= 1. starts: place
    of the first value of each, shape (lights,).

    Peaks and valleys are those of the whole movement: a dip or bump of less than 10 % within a rise
    or fall does not divide it, which errs on the safe side where WCAG speaks of adjacent peaks and
    valleys.
    """
    moves = swings(light, starts, (LUMINANCE_STEP - _ROUNDING) * full)
    return moves.known[np.minimum(moves.begin, moves.end) < (DARKER_BELOW - _ROUNDING) * full]


def general_transitions(
    times_s: NDArray[np.float64], luminance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Times of the transitions of a general flash, in order (see `general_places`). [s]

    times_s: change points, rising, shape (n,). luminance: relative luminance 0..1 from each of them
    on, shape (n,).
    """
    if luminance.size:
        return times_s[general_places(luminance, ONE_LIGHT, 1.0)]
    return np.zeros(0)


def red_transitions(times_s: NDArray[np.float64], rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Times of the transitions of a red flash, in order: when the colour becomes a saturated red,
    or stops being one. [s]

    times_s: change points, rising, shape (n,). rgb: relative linear RGB from each of them on, shape
    (n, 3).

    Stretches of red and stretches of anything else take turns. A change between two counts where
    the other stretch gets further than 0.2 in u'v' from the reddest state of the red one, so a
    short paling of red is no transition. (Two saturated reds are never that far apart.)
    """
    share = red_share(rgb)
    is_red = share >= RED_SHARE - _ROUNDING
    if is_red.all() or not is_red.any():
        return np.zeros(0)
    uv = chromaticity_uv(rgb)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(is_red)) + 1])
    run = np.repeat(np.arange(starts.size), np.diff(np.append(starts, is_red.size)))
    reddest = np.flatnonzero(share == np.maximum.reduceat(share, starts)[run])
    anchor = uv[reddest[np.unique(run[reddest], return_index=True)[1]]]

    def furthest_from(neighbour: NDArray[np.int64]) -> NDArray[np.float64]:
        distance = np.linalg.norm(uv - anchor[np.clip(neighbour, 0, starts.size - 1)], axis=1)
        return np.maximum.reduceat(distance, starts)

    left = furthest_from(run + 1)[:-1]
    entered = furthest_from(run - 1)[1:]
    reach = np.where(is_red[starts[1:]], left, entered)
    return times_s[starts[1:]][reach > RED_DISTANCE]


def worst_second(transitions_s: NDArray[np.float64]) -> FlashCount:
    """The window [t, t + 1 s) with the most transitions, the first of them if several; times in
    rising order, shape (k,).
    """
    if not transitions_s.size:
        return FlashCount(0, None)
    ends = np.searchsorted(transitions_s, transitions_s + WINDOW_S - _ROUNDING)
    counts = ends - np.arange(transitions_s.size)
    worst = int(counts.argmax())
    return FlashCount(int(counts[worst]), float(transitions_s[worst]))
