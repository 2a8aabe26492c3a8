"""One candidate of each clip, so that all together fit and lose least: a multiple-choice
knapsack, solved exactly as an integer programme.
"""

from collections.abc import Sequence

import numpy as np

Choice = tuple[int, float]
"""Bytes, and what is lost."""

_LARGEST = 1e6
"""Largest loss as the solver sees it: it stops within 1e-6 of the optimum, which is then 1e-12
of the largest loss.
"""


class NothingFits(Exception):
    """Not even the smallest candidates fit. missing: bytes."""

    def __init__(self, missing: int) -> None:
        super().__init__(f"{missing} bytes are missing")
        self.missing = missing


def choose(clips: Sequence[Sequence[Choice]], room: int) -> list[int]:
    """For each clip the index of its candidate, with the least sum of losses among all whose bytes
    sum up to at most `room`.

    Raises NothingFits.
    """
    missing = sum(min(size for size, _ in choices) for choices in clips) - room
    if missing > 0:
        raise NothingFits(missing)
    worth = [_worth_a_look(choices) for choices in clips]
    if sum(clips[clip][kept[-1]][0] for clip, kept in enumerate(worth)) <= room:
        return [kept[-1] for kept in worth]
    picked = _solve(
        [[clips[clip][index] for index in kept] for clip, kept in enumerate(worth)], room
    )
    return [kept[index] for kept, index in zip(worth, picked, strict=True)]


def _worth_a_look(choices: Sequence[Choice]) -> list[int]:
    """Candidates that no other one beats in bytes and loss, by ascending bytes."""
    kept: list[int] = []
    for index in sorted(range(len(choices)), key=lambda index: choices[index]):
        if not kept or choices[index][1] < choices[kept[-1]][1]:
            kept.append(index)
    return kept


def _solve(clips: Sequence[Sequence[Choice]], room: int) -> list[int]:
    """The programme: x = 1 for what is picked, one pick a clip, bytes within the room. HiGHS,
    through scipy, to the last bit of the gap.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    sizes = np.concatenate([[size for size, _ in choices] for choices in clips])
    losses = np.concatenate([[loss for _, loss in choices] for choices in clips])
    ends = np.cumsum([len(choices) for choices in clips])
    one_each = np.zeros((len(clips), ends[-1]))
    for clip, (start, end) in enumerate(zip([0, *ends[:-1]], ends, strict=True)):
        one_each[clip, start:end] = 1
    found = milp(
        losses * (_LARGEST / losses.max()),
        integrality=np.ones(ends[-1]),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0.0},
        constraints=[LinearConstraint(one_each, 1, 1), LinearConstraint(sizes[None, :], 0, room)],
    )
    return [int(picks.argmax()) for picks in np.split(found.x, ends[:-1])]
