"""The choice is the best there is: against every combination tried, and never worse with more
room.
"""

from itertools import product
from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.advice import NothingFits, choose

pytestmark = pytest.mark.quick

CLIPS = st.lists(
    st.lists(st.tuples(st.integers(1, 60), st.floats(0, 1e9)), min_size=1, max_size=5),
    min_size=1,
    max_size=5,
)


def lost(clips: list[list[tuple[int, float]]], picks: tuple[int, ...] | list[int]) -> float:
    return sum(choices[pick][1] for choices, pick in zip(clips, picks, strict=True))


def size(clips: list[list[tuple[int, float]]], picks: tuple[int, ...] | list[int]) -> int:
    return sum(choices[pick][0] for choices, pick in zip(clips, picks, strict=True))


def least(clips: list[list[tuple[int, float]]], room: int) -> float | None:
    """The least loss of all combinations that fit, each of them tried."""
    assert prod(map(len, clips)) <= 5**5
    every = product(*(range(len(choices)) for choices in clips))
    return min((lost(clips, picks) for picks in every if size(clips, picks) <= room), default=None)


@given(CLIPS, st.integers(0, 300))
def test_choice_loses_no_more_than_any_that_fits(
    clips: list[list[tuple[int, float]]], room: int
) -> None:
    best = least(clips, room)
    if best is None:
        with pytest.raises(NothingFits):
            choose(clips, room)
        return
    picks = choose(clips, room)
    assert size(clips, picks) <= room
    assert lost(clips, picks) <= best + 1e-9 * max(
        choice[1] for choices in clips for choice in choices
    )


@given(CLIPS, st.integers(0, 300), st.integers(0, 100))
def test_more_room_never_loses_more(
    clips: list[list[tuple[int, float]]], room: int, more: int
) -> None:
    room = max(room, sum(min(size for size, _ in choices) for choices in clips))
    largest = max(choice[1] for choices in clips for choice in choices)
    assert (
        lost(clips, choose(clips, room + more)) <= lost(clips, choose(clips, room)) + 1e-9 * largest
    )


def test_what_is_missing_is_said() -> None:
    with pytest.raises(NothingFits) as error:
        choose([[(10, 1.0), (7, 2.0)], [(5, 0.0)]], 9)
    assert error.value.missing == 3


def test_choices_of_equal_loss_take_the_fewest_bytes() -> None:
    assert choose([[(9, 1.0), (4, 1.0), (5, 1.0)]], 100) == [1]
