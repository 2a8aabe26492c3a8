"""The flash guard of the screen: whatever comes in, no second of what goes out has more than six transitions, counted here by other code.

Limits: W3C WCAG 2.2, success criterion 2.3.1 and "general flash and red flash thresholds".
"""
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from playwright.sync_api import Page

pytestmark = pytest.mark.xdist_group("browser")

FRAME_S = 1 / 60
SMALL_AREA_PX = 341 * 256 / 4
_RUN = """async ({ lamps, pictures, times_s, always }) => {
  const { newGuard, guarded } = await import('/page/flash_guard.js');
  let guard = newGuard(lamps, always);
  return pictures.map((shares, at) => {
    guard = guarded(guard, Float32Array.from(shares), times_s[at]);
    return [...guard.shown];
  });
}"""


def shown(page: Page, lamps: list[dict], pictures: NDArray[np.float64], times_s: NDArray[np.float64], always: bool = False) -> NDArray[np.float64]:
    """What the guard lets through, shape (pictures, lamps)."""
    return np.array(page.evaluate(_RUN, {"lamps": lamps, "pictures": pictures.tolist(), "times_s": times_s.tolist(), "always": always}))


def group_light(lamps: list[dict], pictures: NDArray[np.float64], names: set[str]) -> NDArray[np.float64]:
    """Light of groups, 1 where all of a flashing area that is large enough is full."""
    areas = np.array([lamp["area_px"] * (lamp["group"] in names) for lamp in lamps])
    return pictures @ areas / max(areas.sum(), SMALL_AREA_PX)


def transitions(light: NDArray[np.float64]) -> int:
    """Movements by a tenth or more, up and down in turn, that one sees who looks at this stretch alone."""
    found, direction = 0, 0
    low = high = light[0]
    for value in light:
        low, high = min(low, value), max(high, value)
        rises, falls = value - low >= 0.1 - 1e-7 and direction <= 0, high - value >= 0.1 - 1e-7 and direction >= 0
        if rises or falls:
            found, direction = found + 1, 1 if rises else -1
            low = high = value
    return found


def most_in_a_second(times_s: NDArray[np.float64], light: NDArray[np.float64]) -> int:
    """Of all seconds that begin with a picture, each counted by itself. A change belongs to the second in which it is shown."""
    ends = np.searchsorted(times_s, times_s + 1 - 1e-9)
    return max(transitions(light[max(start - 1, 0):end]) for start, end in enumerate(ends))


def lamps_of(count: int, area_px: float = 2000.0, group: str = "lens", red: bool = False) -> list[dict]:
    return [{"area_px": area_px, "group": group, "red": red}] * count


def square(rate_hz: float, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    return (times_s * rate_hz % 1 < 0.5).astype(float)


@settings(max_examples=25, deadline=None)
@given(
    parts=st.lists(min_size=1, max_size=6, elements=st.tuples(
        st.floats(0.3, 25), st.floats(0.02, 1), st.sampled_from(["square", "sine", "noise"]), st.floats(0, 2))),
    seed=st.integers(0, 10_000), area_px=st.floats(500, 6000), red=st.booleans())
def test_no_second_has_more_than_six_transitions_whatever_flashes(shared_page: Page, parts: list, seed: int, area_px: float, red: bool) -> None:
    dice = np.random.default_rng(seed)
    times_s = np.cumsum(np.full(600, FRAME_S) + dice.uniform(-0.004, 0.02, 600))
    lamps = [*lamps_of(12, area_px), *lamps_of(8, area_px, "vents", red)]
    pictures = np.zeros((600, 20))
    for rate_hz, height, kind, start_s in parts:
        sine = 0.5 - 0.5 * np.cos(2 * np.pi * rate_hz * times_s)
        wave = {"square": square(rate_hz, times_s + start_s), "sine": sine, "noise": dice.random(600)}[kind]
        pictures[:, dice.random(20) < 0.6] += (height * wave * (times_s > start_s))[:, np.newaxis]
    given_back = shown(shared_page, lamps, pictures.clip(0, 1), times_s)
    for names in ({"lens"}, {"vents"}, {"lens", "vents"}):
        assert most_in_a_second(times_s, group_light(lamps, given_back, names)) <= 6


@pytest.mark.parametrize("rate_hz", [0.5, 1, 2, 3])
def test_up_to_three_flashes_a_second_pass_as_they_are(page: Page, rate_hz: float) -> None:
    times_s = np.arange(1200) * FRAME_S
    pictures = np.repeat(square(rate_hz, times_s)[:, np.newaxis], 20, axis=1)
    assert np.array_equal(shown(page, lamps_of(20), pictures, times_s), pictures)


@pytest.mark.parametrize("rate_hz", [3.5, 5, 7, 12, 25])
def test_more_flashes_a_second_come_to_rest_near_their_mean(page: Page, rate_hz: float) -> None:
    times_s = np.arange(3000) * FRAME_S
    pictures = np.repeat(square(rate_hz, times_s)[:, np.newaxis], 20, axis=1)
    light = shown(page, lamps_of(20), pictures, times_s)[:, 0]
    assert most_in_a_second(times_s[120:], light[120:]) <= 1
    assert 0.3 < light[-600:].mean() < 0.7


def test_ripple_and_slow_fades_pass_as_they_are(page: Page) -> None:
    times_s = np.arange(1200) * FRAME_S
    wave = 0.46 + 0.04 * square(15, times_s) + 0.4 * np.sin(2 * np.pi * 0.3 * times_s)
    pictures = np.repeat(wave[:, np.newaxis], 20, axis=1)
    assert np.allclose(shown(page, lamps_of(20), pictures, times_s), pictures, atol=1e-6)


def test_a_few_small_lamps_may_flicker(page: Page) -> None:
    times_s = np.arange(600) * FRAME_S
    pictures = np.repeat(square(10, times_s)[:, np.newaxis], 4, axis=1)
    assert np.array_equal(shown(page, lamps_of(4, 300.0), pictures, times_s), pictures)  # 1200 px2 of 21824


def test_red_is_taken_more_strictly(page: Page) -> None:
    times_s = np.arange(600) * FRAME_S
    pictures = np.repeat(0.05 * square(6, times_s)[:, np.newaxis], 20, axis=1)
    assert np.allclose(shown(page, lamps_of(20), pictures, times_s), pictures, atol=1e-6)
    assert not np.allclose(shown(page, lamps_of(20, red=True), pictures, times_s), pictures, atol=1e-6)


def test_after_two_quiet_seconds_the_picture_is_the_props_own_again(page: Page) -> None:
    times_s = np.arange(900) * FRAME_S
    wave = np.where(times_s < 5, square(8, times_s), 0.3)
    pictures = np.repeat(wave[:, np.newaxis], 20, axis=1)
    light = shown(page, lamps_of(20), pictures, times_s)[:, 0]
    assert np.allclose(light[times_s > 8.5], 0.3, atol=1e-6)


def test_who_asks_for_less_motion_gets_the_gentle_picture_from_the_start(page: Page) -> None:
    times_s = np.arange(600) * FRAME_S
    pictures = np.repeat(square(1, times_s)[:, np.newaxis], 20, axis=1)
    light = shown(page, lamps_of(20), pictures, times_s, always=True)[:, 0]
    assert np.abs(np.diff(light)).max() <= 0.08 * FRAME_S + 1e-6
