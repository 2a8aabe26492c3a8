"""The flash guard of the screen: whatever lamps do, the pixels that are drawn flash no more than
allowed, counted here by `fxseq.hazards`.

Limits: W3C WCAG 2.2, success criterion 2.3.1 and "general flash and red flash thresholds": three
general and three red flashes in any second, or at most a quarter of any 341 by 256 CSS pixels that
flashes. The second count, of each field as one light, is stricter and has no source.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from playwright.sync_api import Page
from screen import QUARTER_CELLS, Lamp, Shown, flashing_cells, luminance, shown, worst_field

from fxseq.hazards import COLOUR_RGB

FRAME_S = 1 / 60
AMBER = COLOUR_RGB["amber"]
RED = COLOUR_RGB["red"]
WHITE = COLOUR_RGB["white"]
LEFT = (50, 40)
RIGHT = (230, 40)
DARK_AND_FULL_S = np.array([0.0, 1.0])


def patch(
    place: tuple[float, float],
    colour: tuple[float, float, float] = WHITE,
    rows: int = 6,
    columns: int = 7,
    size_mm: float = 16,
) -> list[Lamp]:
    """Lamps side by side, so near that what is between them is lit, too."""
    return [
        {
            "x_mm": place[0] + 26 * across,
            "y_mm": place[1] + 26 * down,
            "size_mm": size_mm,
            "rgb": list(colour),
        }
        for down in range(rows)
        for across in range(columns)
    ]


def at(count: int) -> NDArray[np.float64]:
    """Times of so many pictures. [s]"""
    return np.arange(count) * FRAME_S


def square(
    rate_hz: float, times_s: NDArray[np.float64], low: float = 0.0, high: float = 1.0
) -> NDArray[np.float64]:
    # A hair late, so that no edge hangs on the rounding of a time.
    return np.where((times_s + 1e-6) * rate_hz % 1 < 0.5, high, low)


def alike(wave: NDArray[np.float64], lamps: list[Lamp]) -> NDArray[np.float64]:
    return np.repeat(wave[:, np.newaxis], len(lamps), axis=1)


def is_untouched(
    shared_page: Page,
    lamps: list[Lamp],
    pictures: NDArray[np.float64],
    times_s: NDArray[np.float64],
) -> bool:
    return np.allclose(shown(shared_page, lamps, pictures, times_s).shares, pictures, atol=1e-6)


def keeps_limits(shared_page: Page, lamps: list[Lamp], screen: Shown) -> bool:
    extremes = shown(
        shared_page,
        lamps,
        np.array([[0.0] * len(lamps), [1.0] * len(lamps)]),
        DARK_AND_FULL_S,
        is_on=False,
    )
    return flashing_cells(screen) <= QUARTER_CELLS and worst_field(screen, extremes) <= 6


def random_lamps(dice: np.random.Generator, count: int) -> list[Lamp]:
    """Anywhere or close together, of the colours of LEDs or any other."""
    middle = dice.uniform((100, 100), (380, 284))
    spread = dice.choice([25, 60, 200])
    places = np.clip(dice.normal(middle, spread, (count, 2)), 0, (480, 384))
    named = list(COLOUR_RGB.values())
    colours = [
        list(named[dice.integers(len(named))] if dice.random() < 0.7 else dice.random(3))
        for _ in range(count)
    ]
    return [
        {"x_mm": x, "y_mm": y, "size_mm": dice.uniform(6, 40), "rgb": rgb}
        for (x, y), rgb in zip(places.tolist(), colours, strict=True)
    ]


def random_light(dice: np.random.Generator, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pulses of any rate, share, height and shape, from some time on."""
    rate_hz = dice.uniform(0.5, 15)
    lit_share = dice.uniform(0.05, 0.95)
    height = dice.uniform(0.05, 1)
    low = dice.choice([0, 0, 0.1, 0.4])
    phase = (times_s * rate_hz + dice.choice([0, 0.25, 0.5, dice.random()])) % 1
    wave = {
        "pulses": phase < lit_share,
        "sine": 0.5 - 0.5 * np.cos(2 * np.pi * phase),
        "decay": np.exp(-4 * phase),
        "noise": dice.random(times_s.size),
    }
    return np.clip(
        low + height * wave[dice.choice(list(wave))] * (times_s > dice.choice([0, 0, 1])), 0, 1
    )


@settings(max_examples=5, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(1, 24), rhythms=st.integers(1, 6))
def test_no_second_has_more_than_three_flashes_whatever_lamps_do(
    shared_page: Page, seed: int, count: int, rhythms: int
) -> None:
    dice = np.random.default_rng(seed)
    times_s = np.cumsum(np.full(300, FRAME_S) + dice.uniform(-0.004, 0.008, 300))
    lamps = random_lamps(dice, count)
    lights = np.stack([random_light(dice, times_s) for _ in range(rhythms)], axis=1)
    assert keeps_limits(
        shared_page,
        lamps,
        shown(shared_page, lamps, lights[:, dice.integers(rhythms, size=count)], times_s),
    )


def test_the_count_finds_flashes_where_nothing_guards(shared_page: Page) -> None:
    lamps = patch(LEFT)
    assert not keeps_limits(
        shared_page,
        lamps,
        shown(shared_page, lamps, alike(square(5, at(180)), lamps), at(180), is_on=False),
    )


@pytest.mark.parametrize("rate_hz", [0.5, 1, 2, 3])
@pytest.mark.parametrize("colour", [WHITE, RED], ids=["white", "red"])
def test_up_to_three_flashes_a_second_pass_as_they_are(
    shared_page: Page, rate_hz: float, colour: tuple[float, float, float]
) -> None:
    lamps = patch(LEFT, colour)
    assert is_untouched(shared_page, lamps, alike(square(rate_hz, at(200)), lamps), at(200))


@pytest.mark.parametrize("rate_hz", [3.5, 7, 25])
def test_more_flashes_a_second_come_to_rest_near_their_mean(
    shared_page: Page, rate_hz: float
) -> None:
    lamps = patch(LEFT, rows=2, size_mm=24)
    light = shown(shared_page, lamps, alike(square(rate_hz, at(720)), lamps), at(720)).shares[:, 0]
    assert np.abs(np.diff(light[300:])).max() < 0.01
    assert 0.3 < light[-120:].mean() < 0.7


def test_places_that_flash_in_turn_do_not_make_up_for_each_other(shared_page: Page) -> None:
    # Every other lamp, in squares: a part of any size is as bright at any time, and each place in
    # it flashes.
    places = [(across, down) for down in range(6) for across in range(8)]
    lamps: list[Lamp] = [
        {"x_mm": 40 + 56 * across, "y_mm": 32 + 64 * down, "size_mm": 36, "rgb": WHITE}
        for across, down in places
    ]
    pictures = np.abs(
        alike(square(8, at(150)), lamps) - np.array([sum(place) % 2 for place in places])
    )
    unguarded, guarded = (
        shown(shared_page, lamps, pictures, at(150), is_on) for is_on in (False, True)
    )
    extremes = shown(
        shared_page,
        lamps,
        np.array([[0.0] * len(lamps), [1.0] * len(lamps)]),
        DARK_AND_FULL_S,
        is_on=False,
    )
    assert worst_field(unguarded, extremes) <= 6 and flashing_cells(unguarded) > QUARTER_CELLS
    assert keeps_limits(shared_page, lamps, guarded)


def test_places_that_light_up_in_turn_are_one_flashing(shared_page: Page) -> None:
    # Each twice a second for an eighth of a second: no place has too many, together they flash four
    # times.
    left = patch(LEFT, rows=4)
    right = patch(RIGHT, rows=4)
    pulses = square(2, at(240)) * square(4, at(240))
    lamps = [*left, *right]
    pictures = np.hstack([alike(pulses, left), alike(np.roll(pulses, 15), right)])
    assert is_untouched(shared_page, left, alike(pulses, left), at(240))
    guarded = shown(shared_page, lamps, pictures, at(240))
    assert True in guarded.told and keeps_limits(shared_page, lamps, guarded)


def test_ripple_and_slow_fades_pass_as_they_are(shared_page: Page) -> None:
    times_s = at(600)
    lamps = patch(LEFT, size_mm=10)
    wave = 0.46 + 0.02 * square(15, times_s) + 0.4 * np.sin(2 * np.pi * 0.3 * times_s)
    assert is_untouched(shared_page, lamps, alike(wave, lamps), times_s)


@pytest.mark.parametrize("colour", [WHITE, RED], ids=["white", "red"])
def test_a_small_lamp_may_flicker(shared_page: Page, colour: tuple[float, float, float]) -> None:
    lamps = patch(LEFT, colour, rows=1, size_mm=16)[:1]
    assert is_untouched(shared_page, lamps, alike(square(10, at(240)), lamps), at(240))


def test_dim_red_out_of_the_dark_is_a_flash_and_dim_white_is_none(shared_page: Page) -> None:
    for colour, high, passes in ((WHITE, 0.01, True), (RED, 0.12, False)):
        lamps = [{"x_mm": 240, "y_mm": 190, "size_mm": 180, "rgb": list(colour)}]
        light = luminance(
            shown(shared_page, lamps, np.array([[0.0], [high]]), DARK_AND_FULL_S, is_on=False).rgb
        )
        assert np.ptp(light, axis=0).max() < 0.09  # too little for a general flash
        assert (
            is_untouched(shared_page, lamps, alike(square(6, at(120), high=high), lamps), at(120))
            is passes
        )


def test_red_that_stays_red_may_waver(shared_page: Page) -> None:
    lamps = patch(LEFT, RED, size_mm=12)
    assert is_untouched(shared_page, lamps, alike(square(10, at(240), 0.6, 0.75), lamps), at(240))


def test_after_two_quiet_seconds_the_picture_is_the_props_own_again(shared_page: Page) -> None:
    times_s = at(600)
    lamps = patch(LEFT, rows=3, size_mm=20)
    light = shown(
        shared_page, lamps, alike(np.where(times_s < 3, square(8, times_s), 0.3), lamps), times_s
    )
    assert np.allclose(light.shares[times_s > 7, 0], 0.3, atol=1e-6)
    assert light.told == [True, False]


def test_who_asks_for_less_motion_gets_the_gentle_picture_from_the_start(shared_page: Page) -> None:
    lamps = patch(LEFT)
    light = shown(
        shared_page, lamps, alike(square(1, at(240)), lamps), at(240), reduced=True
    ).shares[:, 0]
    assert np.abs(np.diff(light)).max() <= 0.08 * FRAME_S + 1e-6
