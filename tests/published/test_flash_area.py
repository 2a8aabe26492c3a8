"""Area and length of flashing. WCAG 2.2 (read): 0.006 sr, a quarter of a 10 degree field. Long
sequences: BT.1702-3 (secondary text).
"""

import math
import re

import numpy as np
import pytest

from fxseq.hazards import Channels, flash_report, led_area_m2, longest_sequence, solid_angle_sr
from fxseq.hazards.flashes import SMALL_AREA_SR
from fxseq.sequence.model import Group
from tests.checks.judged import flash_findings


def test_quarter_of_a_ten_degree_cone() -> None:
    # Computed: 2 pi (1 - cos 5 degrees) / 4 = 0.005977 sr, printed as 0.006; a rectangle of 10 x
    # 7.5 degrees / 4 is 0.005712 sr.
    cone_sr = 2 * math.pi * (1 - math.cos(math.radians(5))) / 4
    rectangle_sr = math.radians(10) * math.radians(7.5) / 4
    assert (cone_sr, rectangle_sr) == (
        pytest.approx(0.005977, abs=1e-6),
        pytest.approx(0.005712, abs=1e-6),
    )
    assert SMALL_AREA_SR == round(cone_sr, 3) == round(rectangle_sr, 3)


def disc_sr(diameter_mm: float, distance_m: float) -> float:
    """Of four LEDs with the area of the disc."""
    lamp = Group(
        first_channel=0,
        leds=4,
        size_mm=diameter_mm / 2,
        colour="white",
        forward_voltage_v=3.0,
        current_ma=20.0,
    )
    return solid_angle_sr(led_area_m2(lamp), distance_m)


@pytest.mark.parametrize(
    ("distance_m", "square_cm", "disc_mm"),
    [(0.3, 5.4, 26), (0.5, 15.0, 44), (1.0, 60.0, 87), (2.0, 240.0, None)],
)
def test_small_area_by_distance(distance_m: float, square_cm: float, disc_mm: float | None) -> None:
    # 0.006 sr times the distance squared, and the diameter of a disc of that area, to the nearest
    # millimetre.
    assert solid_angle_sr(square_cm * 1e-4, distance_m) == pytest.approx(SMALL_AREA_SR)
    assert disc_mm is None or disc_sr(disc_mm - 0.5, distance_m) < SMALL_AREA_SR < disc_sr(
        disc_mm + 0.5, distance_m
    )


@pytest.mark.parametrize(("disc_mm", "distance_m"), [(26, 0.3), (44, 0.5), (87, 1.0)])
def test_finding_says_how_much_of_the_small_area_the_leds_fill(
    disc_mm: float, distance_m: float
) -> None:
    # Discs of 0.006 sr, computed and rounded to a millimetre: 100 % but for that.
    lamp = Group(
        first_channel=0,
        leds=4,
        size_mm=disc_mm / 2,
        colour="white",
        forward_voltage_v=3.0,
        current_ma=20.0,
    )
    times_s = np.arange(40) / 16
    lit = (np.arange(40) % 2).astype(float)
    track = (np.arange(40), np.round(4095 * lit).astype(np.uint16))
    report = flash_report(
        times_s, {"lamp": lit}, {"lamp": lamp}, Channels({"lamp": [track]}, 4095, 0, 16.0)
    )
    found = flash_findings(report, {"hand": distance_m, "audience": 10 * distance_m})
    assert {finding.check for finding in found} == {"light.flash"}
    for finding in found:
        filled = re.search(
            r"0.006 sr of the view is exempt. These LEDs fill (\d+) % of that at .* m \(hand\) and"
            r" ([\d.]+) % at .* m \(audience\)",
            finding.limit,
        )
        assert filled and (float(filled[1]), float(filled[2])) == (
            pytest.approx(100, abs=3),
            pytest.approx(1, abs=0.03),
        )


def test_ring_of_24_leds_is_small_from_half_a_metre_but_not_from_a_hand() -> None:
    group = Group(
        first_channel=0,
        leds=24,
        size_mm=5.0,
        colour="white",
        forward_voltage_v=3.0,
        current_ma=20.0,
    )
    assert led_area_m2(group) * 1e4 == pytest.approx(4.712, abs=0.001)
    assert (
        solid_angle_sr(led_area_m2(group), 0.5)
        < SMALL_AREA_SR
        < solid_angle_sr(led_area_m2(group), 0.2)
    )


def flashing(rate_hz: float, seconds: float, start_s: float = 0.0) -> np.ndarray:
    return start_s + np.arange(round(2 * rate_hz * seconds) + 1) / (2 * rate_hz)


@pytest.mark.parametrize(
    ("rate_hz", "seconds", "passes"),
    [(2.0, 4.9, True), (2.0, 5.3, False), (3.0, 5.4, False), (1.9, 60.0, True)],
)
def test_two_flashes_a_second_for_more_than_five_seconds_are_too_long(
    rate_hz: float, seconds: float, passes: bool
) -> None:
    assert longest_sequence(flashing(rate_hz, seconds)).passes is passes


def test_pause_of_a_second_ends_a_sequence() -> None:
    times = np.concatenate([flashing(2.5, 4.0), flashing(2.5, 4.6, start_s=5.5)])
    found = longest_sequence(times)
    assert (found.start_s, found.length_s) == (5.5, pytest.approx(4.6))
    assert longest_sequence(np.zeros(0)).length_s == 0.0


def test_single_slower_change_does_not_end_a_sequence() -> None:
    # 0.45 s among 0.2 s: three quick changes before it and it take 1.05 s, but every change still
    # lies within two flashes of a second or less.
    intervals = np.concatenate([np.full(15, 0.2), [0.45], np.full(3, 0.1), np.full(15, 0.2)])
    times = np.concatenate([[0.0], np.cumsum(intervals)])
    assert longest_sequence(times).length_s == pytest.approx(float(times[-1]))


def test_train_that_clubs_may_run_for_half_a_minute_is_too_long_here() -> None:
    # For information: strobe trains of at most 30 s, suppliers' pages quoting a guide to event
    # safety.
    assert not longest_sequence(flashing(3.0, 30.0)).passes
