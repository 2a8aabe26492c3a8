"""Signals brought down to columns without losing a peak."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.plots.columns import MOST_COLUMNS, columns_of_samples, columns_of_steps
from fxseq.power import Steps


@given(st.integers(1, 30_000), st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_columns_of_samples_hold_every_sample_and_no_other_value(count: int, seed: int):
    values = np.random.default_rng(seed).integers(-32768, 32768, count).astype(np.int16)
    columns = columns_of_samples(values, 1000)
    at = (
        np.searchsorted(
            np.round(columns.edges_s * 1000).astype(int), np.arange(count), side="right"
        )
        - 1
    )
    assert len(columns.low) == min(count, MOST_COLUMNS)
    assert np.all((columns.low[at] <= values) & (values <= columns.high[at]))
    assert all(column in values for column in (columns.low.min(), columns.high.max()))
    assert (columns.low.min(), columns.high.max()) == (values.min(), values.max())


def test_columns_of_samples_end_with_the_last_sample():
    columns = columns_of_samples(np.zeros(4410, dtype=np.int16), 22050)
    assert (columns.edges_s[0], columns.edges_s[-1]) == (0, 0.2)


def test_columns_of_steps_keep_a_spike_far_shorter_than_a_column():
    columns = columns_of_steps(Steps(np.array([0, 30.1, 30.101]), np.array([1.0, 9.0, 2.0]), 600.0))
    spike = int(np.searchsorted(columns.edges_s, 30.1, side="right")) - 1
    assert (columns.low[spike], columns.high[spike]) == (1, 9)
    assert columns.high[spike + 1] == 2


@given(st.lists(st.integers(1, 100_000), unique=True, max_size=300), st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_columns_of_steps_are_those_of_a_plain_search(ticks: list[int], seed: int):
    times_s = np.array([0, *sorted(ticks)]) / 1000
    values = np.random.default_rng(seed).random(len(times_s))
    columns = columns_of_steps(Steps(times_s, values, 100.5))
    for column in range(0, MOST_COLUMNS, 37):
        start_s = columns.edges_s[column]
        end_s = columns.edges_s[column + 1]
        held = values[(times_s < end_s) & (np.append(times_s[1:], 100.5) > start_s)]
        assert (columns.low[column], columns.high[column]) == (held.min(), held.max())


def test_columns_of_steps_hold_a_value_until_it_changes():
    columns = columns_of_steps(Steps(np.array([0, 5.0]), np.array([3.0, 7.0]), 10.0))
    middle = MOST_COLUMNS // 2
    assert np.all(columns.low[:middle] == 3) and np.all(columns.high[:middle] == 3)
    assert np.all(columns.low[middle:] == 7) and np.all(columns.high[middle:] == 7)


def test_columns_of_steps_that_never_change():
    columns = columns_of_steps(Steps(np.zeros(1), np.array([4.0]), 2.0))
    assert np.all(columns.low == 4) and np.all(columns.high == 4)
