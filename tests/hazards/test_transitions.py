"""Which movements of light count as transitions, and when."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.hazards import (
    chromaticity_uv,
    general_transitions,
    red_share,
    red_transitions,
    worst_second,
)

pytestmark = pytest.mark.quick

levels = st.lists(st.integers(0, 20).map(lambda n: n / 20), min_size=1, max_size=60)


def transitions(*values: float, interval_s: float = 0.1) -> list[float]:
    return general_transitions(np.arange(len(values)) * interval_s, np.array(values)).tolist()


@pytest.mark.parametrize("values", [(), (0.5,), (0.5, 0.5, 0.5)])
def test_steady_light_has_no_transition(values: tuple[float, ...]) -> None:
    assert transitions(*values) == []
    assert worst_second(np.array(transitions(*values))).at_s is None


def test_fade_in_many_small_steps_is_one_transition_dated_at_a_tenth() -> None:
    # 0.04 a step: a tenth is first reached with the third one.
    assert transitions(*np.arange(0, 1.01, 0.04)) == pytest.approx([0.3])


def test_plateau_on_the_way_does_not_divide_a_rise() -> None:
    assert transitions(0.0, 0.5, 0.5, 0.5, 1.0) == pytest.approx([0.1])


def test_small_dip_does_not_divide_a_rise() -> None:
    assert transitions(0.0, 0.5, 0.45, 0.9) == pytest.approx([0.1])


def test_dip_of_a_tenth_divides_a_rise() -> None:
    assert transitions(0.0, 0.5, 0.4, 0.9) == pytest.approx([0.1, 0.2, 0.3])


def test_two_small_rises_make_one_transition() -> None:
    # Each of 0.08, with a dip of 0.02 between: the movement as a whole is 0.14.
    assert transitions(0.2, 0.28, 0.26, 0.34, 0.2) == pytest.approx([0.3, 0.4])


def test_darker_state_is_the_one_at_the_end_of_the_movement() -> None:
    # From 1.0 the first tenth ends at 0.9, where it would not count, but the fall goes on below
    # 0.8.
    assert transitions(1.0, 0.9, 0.7) == pytest.approx([0.1])


def test_flutter_among_bright_states_does_not_count() -> None:
    assert transitions(0.5, 1.0, 0.85, 1.0, 0.85, 0.5) == pytest.approx([0.1, 0.4])


@given(levels)
def test_repeated_change_points_change_nothing(values: list[float]) -> None:
    times_s = np.arange(len(values)) * 0.05
    doubled = np.sort(np.concatenate([times_s, times_s + 0.02]))
    once = general_transitions(times_s, np.array(values))
    assert general_transitions(doubled, np.repeat(values, 2)).tolist() == once.tolist()


@given(levels, st.floats(0, 1000))
def test_count_does_not_hang_on_when_it_begins(values: list[float], shift_s: float) -> None:
    # An interval that divides no second, since a window's edge on a change point would hang on
    # rounding.
    times_s = np.arange(len(values)) * 0.0431
    shifted = worst_second(general_transitions(times_s + shift_s, np.array(values))).transitions
    assert shifted == worst_second(general_transitions(times_s, np.array(values))).transitions


@given(levels)
def test_transitions_agree_with_a_plain_count(values: list[float]) -> None:
    """Second implementation, value by value and in integers, of the same rule."""
    twentieths = [round(value * 20) for value in values]
    turns: list[int] = []
    low = high = twentieths[0]
    going = 0
    for value in twentieths[1:]:
        low, high = (min(low, value), high) if going <= 0 else (low, high)
        high = max(high, value) if going >= 0 else high
        if going <= 0 and value - low >= 2:
            turns.append(low)
            going = 1
            high = value
        elif going >= 0 and high - value >= 2:
            turns.append(high)
            going = -1
            low = value
    turns += [high if going > 0 else low]
    expected = sum(min(pair) < 16 for pair in zip(turns[:-1], turns[1:], strict=True))
    assert len(transitions(*values)) == expected


def test_window_is_half_open() -> None:
    assert worst_second(np.array([0.0, 0.5, 1.0])).transitions == 2
    assert worst_second(np.array([0.0, 0.5, 0.999])).transitions == 3


def test_first_of_the_worst_seconds_is_named() -> None:
    worst = worst_second(np.array([0.0, 5.0, 5.2, 5.4, 9.0, 9.1, 9.2]))
    assert (worst.transitions, worst.at_s, worst.flashes_per_s) == (3, 5.0, 1.5)


def red(*colours: tuple[float, float, float]) -> list[float]:
    return red_transitions(np.arange(len(colours)) * 0.1, np.array(colours, dtype=float)).tolist()


RED = (1.0, 0.0, 0.0)
WHITE = (1.0, 1.0, 1.0)
BLACK = (0.0, 0.0, 0.0)


def test_red_light_going_on_and_off_counts() -> None:
    # Black has no colour; that of white is taken, 0.2587 away.
    assert red(BLACK, RED, BLACK, BLACK, RED) == pytest.approx([0.1, 0.2, 0.4])


def test_dimming_red_is_no_change_of_colour() -> None:
    assert red(RED, (0.1, 0.0, 0.0), RED, (0.01, 0.0, 0.0)) == []


def test_red_that_pales_and_comes_back_is_no_transition() -> None:
    assert red(RED, (1.0, 0.3, 0.1), RED) == []


def test_fade_from_red_to_white_is_one_transition() -> None:
    fade = [(1.0, share, share) for share in np.linspace(0, 1, 11)]
    # R / (R + G + B) falls below 0.8 between a share of 0.1 and of 0.2.
    assert red(*fade) == pytest.approx([0.2])
    assert red(*fade, *fade[::-1]) == pytest.approx([0.2, 2.0])


def test_light_without_red_has_no_red_transition() -> None:
    assert red(WHITE, BLACK, (0.0, 0.0, 1.0), (0.0, 1.0, 0.0)) == []


def test_red_share_of_no_light_is_that_of_white() -> None:
    assert red_share([BLACK, WHITE, RED]) == pytest.approx([1 / 3, 1 / 3, 1.0])


def test_two_saturated_reds_are_never_a_red_flash_apart() -> None:
    # The corners of R / (R + G + B) >= 0.8; u'v' maps lines to lines, so nothing inside is further
    # apart.
    corners = chromaticity_uv([(1.0, 0.0, 0.0), (0.8, 0.2, 0.0), (0.8, 0.0, 0.2)])
    assert np.linalg.norm(corners[:, np.newaxis] - corners, axis=-1).max() < 0.2
