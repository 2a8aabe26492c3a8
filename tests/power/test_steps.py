"""Quantities given by change points."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.power import Steps, align, lit_share, steps_of_blocks, total
from fxseq.power.steps import Track


def steps(times_s: list[float], values: list[float], end_s: float) -> Steps:
    return Steps(np.array(times_s), np.array(values), end_s)


def test_mean_is_weighted_by_time() -> None:
    taken = steps([0.0, 1.0, 1.5], [10.0, 100.0, 0.0], 4.0)
    assert (taken.integral(), taken.mean(), taken.peak()) == (60.0, 15.0, 100.0)


def test_mean_within_spans_leaves_out_what_is_between() -> None:
    # 10 from 0 to 1, 100 to 1.5, 0 to 4: half of each of the first two, and one second of nothing.
    taken = steps([0.0, 1.0, 1.5], [10.0, 100.0, 0.0], 4.0)
    assert taken.mean_within([0.5, 2.0], [1.25, 3.0]) == pytest.approx(
        (0.5 * 10 + 0.25 * 100) / 1.75
    )
    assert taken.mean_within([0.0], [4.0]) == taken.mean()
    assert taken.mean_within([], []) == taken.mean_within([1.0], [1.0]) == 0.0


def test_mean_of_no_time_is_the_value() -> None:
    assert steps([0.0], [7.0], 0.0).mean() == 7.0


def test_peak_of_a_sum_is_at_the_moment_both_are_on() -> None:
    taken = total(
        {
            "lamp": steps([0.0, 1.0], [5.0, 0.0], 3.0),
            "sound": steps([0.0, 0.5, 2.0], [1.0, 4.0, 2.0], 3.0),
        }
    )
    assert taken.times_s.tolist() == [0.0, 0.5, 1.0, 2.0]
    assert taken.values.tolist() == [6.0, 9.0, 4.0, 2.0]


def test_sum_of_quantities_that_end_apart_is_refused() -> None:
    with pytest.raises(ValueError, match="end at different times"):
        total({"a": steps([0.0], [1.0], 1.0), "b": steps([0.0], [1.0], 2.0)})


def test_aligned_quantities_keep_their_values() -> None:
    times_s, held = align(
        {"a": steps([0.0, 2.0], [1.0, 2.0], 3.0), "b": steps([0.0, 1.0], [3.0, 4.0], 3.0)}
    )
    assert times_s.tolist() == [0.0, 1.0, 2.0]
    assert {name: values.tolist() for name, values in held.items()} == {
        "a": [1.0, 1.0, 2.0],
        "b": [3.0, 4.0, 4.0],
    }


def test_blocks_follow_each_other() -> None:
    # The last block is cut short by the end: 0.5 s of 4.
    taken = steps_of_blocks(np.array([2.0, 4.0]), 1.0, 1.5)
    assert taken.integral() == 4.0


@st.composite
def tracks(draw: st.DrawFn) -> Track:
    frames = sorted(draw(st.sets(st.integers(1, 40), max_size=12)) | {0})
    return np.array(frames), np.array(
        draw(st.lists(st.integers(0, 65535), min_size=len(frames), max_size=len(frames))),
        dtype=np.uint16,
    )


@given(st.lists(tracks(), min_size=1, max_size=6))
def test_lit_share_is_the_mean_over_channels_frame_by_frame(channels: list[Track]) -> None:
    lit = lit_share(channels, 65535, 0, 50, 1000.0)
    frames = np.arange(50)
    dense = [
        duties[np.searchsorted(changes, frames, side="right") - 1] for changes, duties in channels
    ]
    held = lit.values[np.searchsorted(np.round(lit.times_s * 1000), frames, side="right") - 1]
    assert held == pytest.approx(np.mean(dense, axis=0) / 65535, abs=1e-12)
    assert np.all(np.diff(lit.times_s) > 0)


def test_channels_that_share_a_track_count_once_each() -> None:
    shared = (np.array([0, 10]), np.array([0, 255]))
    dark = (np.array([0]), np.array([0]))
    assert lit_share([shared, shared, shared, dark], 255, 0, 20, 1000.0).values.tolist() == [
        0.0,
        0.75,
    ]


def test_time_begins_at_the_first_frame() -> None:
    # A channel that never changes may carry an older frame than the stretch that is looked at.
    lit = lit_share(
        [(np.array([100, 110]), np.array([51, 255])), (np.array([0]), np.array([0]))],
        255,
        100,
        150,
        100.0,
    )
    assert (lit.times_s.tolist(), lit.values.tolist(), lit.end_s) == ([0.0, 0.1], [0.1, 0.5], 0.5)


@pytest.mark.parametrize("every", [1, 50])
def test_lit_share_is_right_for_many_changes_and_for_few(every: int) -> None:
    """Ten channels that change at each, or at every fiftieth, of 1000 frames: more changes than
    frames are summed in another way.
    """
    frames = np.arange(0, 1000, every)
    tracks = [(frames, (frames * (channel + 1) // every) % 256) for channel in range(10)]
    lit = lit_share(tracks, 255, 0, 1000, 1000.0)
    mean = np.mean([duties for _, duties in tracks], axis=0) / 255
    at = np.searchsorted(lit.times_s, frames / 1000, side="right") - 1
    assert lit.values[at] == pytest.approx(mean, abs=1e-12)


def test_highest_mean_of_a_span_is_where_most_is_taken() -> None:
    # 10, then 100 from 1 to 1.5, then 0: within one second half of it at 100 and half at 10.
    taken = steps([0.0, 1.0, 1.5], [10.0, 100.0, 0.0], 4.0)
    assert taken.highest_mean(1.0) == pytest.approx(55.0)
    assert taken.highest_mean(0.25) == pytest.approx(100.0)
    assert taken.highest_mean(4.0) == taken.highest_mean(9.0) == taken.mean()


@given(values=st.lists(st.floats(0, 100), min_size=1, max_size=8), span_s=st.floats(0.05, 9))
def test_highest_mean_is_at_least_that_of_any_span(values: list[float], span_s: float) -> None:
    taken = steps([float(index) for index in range(len(values))], values, float(len(values)))
    fits = min(span_s, taken.end_s)
    any_span = max(
        taken.mean_within([begin], [begin + fits])
        for begin in np.linspace(0, taken.end_s - fits, 60)
    )
    assert any_span - 1e-9 <= taken.highest_mean(span_s) <= max(values) + 1e-9


def test_effective_value_of_pulses_is_the_root_of_their_share() -> None:
    # Closed form: a quarter of the time 8, else 0, is 8 sqrt(1 / 4).
    assert Steps(np.array([0.0, 1.0]), np.array([8.0, 0.0]), 4.0).rms() == pytest.approx(4.0)


def test_the_least_of_each_block_counts_what_holds_into_it() -> None:
    steps = Steps(np.array([0.0, 0.5, 2.5, 2.6]), np.array([5.0, 3.0, 1.0, 4.0]), 3.4)
    assert steps.lowest_within(1.0).tolist() == [3.0, 3.0, 1.0, 4.0]
