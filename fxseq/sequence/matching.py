"""Which things of two lists are the same, where some were put in, taken out or changed."""

from collections.abc import Sequence
from typing import Any

_BY_TURN = 0.01
"""What it counts that two things have no more in common than their turn."""

Pairs = list[tuple[int | None, int | None]]
"""Places in the one and in the other list, ascending in both; None: there is none."""


def alike(one: Any, other: Any) -> float:
    """Share of what either thing says that both say, 0..1. Names of other things count too."""
    if not (isinstance(one, dict) and isinstance(other, dict)):
        return float(one == other)
    said = [key for key in one.keys() | other.keys() if one.get(key) or other.get(key)]
    return sum(one.get(key) == other.get(key) for key in said) / max(len(said), 1)


def aligned(old: Sequence[Any], new: Sequence[Any]) -> Pairs:
    """Each thing with the one that it became, so that together they are as much alike as their
    order allows.
    """
    most = min(len(old), len(new))
    first = next((at for at in range(most) if old[at] != new[at]), most)
    last = next((at for at in range(most - first) if old[-1 - at] != new[-1 - at]), most - first)
    middle = _aligned(old[first : len(old) - last], new[first : len(new) - last])
    pairs: Pairs = [(at, at) for at in range(first)]
    pairs += [(_moved(one, first), _moved(other, first)) for one, other in middle]
    return pairs + [(len(old) - at, len(new) - at) for at in range(last, 0, -1)]


def _moved(place: int | None, by: int) -> int | None:
    return None if place is None else place + by


def _aligned(old: Sequence[Any], new: Sequence[Any]) -> Pairs:
    """best: what the things from these places on come to together."""
    best = [[0.0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for one in reversed(range(len(old))):
        for other in reversed(range(len(new))):
            both = best[one + 1][other + 1] + alike(old[one], new[other]) + _BY_TURN
            best[one][other] = max(both, best[one + 1][other], best[one][other + 1])
    pairs: Pairs = []
    one = other = 0
    while one < len(old) and other < len(new):
        if best[one][other] == best[one + 1][other]:
            pairs.append((one, None))
            one += 1
        elif best[one][other] == best[one][other + 1]:
            pairs.append((None, other))
            other += 1
        else:
            pairs.append((one, other))
            one += 1
            other += 1
    pairs += [(at, None) for at in range(one, len(old))]
    return pairs + [(None, at) for at in range(other, len(new))]
