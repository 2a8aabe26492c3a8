"""The reference player and the plain one, which was written from SPEC.md alone, give the same
integers (SPEC 1 R3).
"""

from hypothesis import given
from hypothesis import strategies as st
from running import Result, play_plain, play_reference
from strategies import Run, often, runs


def first_difference(one: list, other: list) -> str:
    """Where two lists part, for a message that can be read."""
    for at, (a, b) in enumerate(zip(one, other, strict=False)):
        if a != b:
            return f"at {at}: {a} and {b}"
    return f"lengths {len(one)} and {len(other)}"


def assert_same(one: Result, other: Result) -> None:
    """Trace first: what sounds and shines wrong mostly began wrong."""
    for name in ("trace", "duties", "samples"):
        mine = getattr(one, name)
        yours = getattr(other, name)
        assert mine == yours, f"{name} differ {first_difference(mine, yours)}"
    assert one.saturated == other.saturated


@often(40)
@given(runs())
def test_two_players_agree(run: Run) -> None:
    assert_same(
        play_reference(run.table, run.presses, run.until_frame),
        play_plain(run.table, run.presses, run.until_frame),
    )


@often(40)
@given(runs(), st.lists(st.integers(1, 599), min_size=1, max_size=6))
def test_a_run_in_pieces_is_the_run(run: Run, cuts: list[int]) -> None:
    whole = play_reference(run.table, run.presses, run.until_frame)
    assert_same(play_reference(run.table, run.presses, run.until_frame, cuts), whole)
