"""Flicker of dimmed light against IEEE 1789-2015 (formulas seen on a page of a lighting
engineer, the standard not read).
"""

import math

import pytest

from fxseq.hazards import low_risk_percent, no_effect_percent
from fxseq.sequence.finding import Weight
from tests.checks.judged import pwm_findings


@pytest.mark.parametrize(
    ("frequency_hz", "low_risk", "no_effect"),
    [(50, 1.25, 0.5), (100, 8.0, 3.33), (1000, 80.0, 33.3), (490, 39.2, 16.3), (976, 78.1, 32.5)],
)
def test_depth_by_frequency(frequency_hz: float, low_risk: float, no_effect: float) -> None:
    assert low_risk_percent(frequency_hz) == pytest.approx(low_risk, abs=0.05)
    assert no_effect_percent(frequency_hz) == pytest.approx(no_effect, abs=0.05)


def test_no_limit_from_1250_and_3000_hz_on() -> None:
    assert (low_risk_percent(1249) < 100, low_risk_percent(1250)) == (True, math.inf)
    assert (no_effect_percent(2999) < 100, no_effect_percent(3000)) == (True, math.inf)


@pytest.mark.parametrize(
    ("frequency_hz", "weights"),
    [
        (490, [Weight.WARNING]),
        (976, [Weight.WARNING]),
        (1250, [Weight.NOTE]),
        (2999, [Weight.NOTE]),
        (3000, []),
    ],
)
def test_full_depth_pwm(frequency_hz: float, weights: list[Weight]) -> None:
    assert [finding.weight for finding in pwm_findings(frequency_hz)] == weights


@pytest.mark.parametrize(
    ("frequency_hz", "percent"), [(490, "39.2 %"), (976, "78.1 %"), (1250, "41.6 %")]
)
def test_finding_says_the_depth_that_is_allowed(frequency_hz: float, percent: str) -> None:
    # 39.2 % and 78.1 % for a low risk; above 1250 Hz 0.0333 % a hertz for no effect.
    [finding] = pwm_findings(frequency_hz)
    assert finding.limit.startswith(f"less than {percent} for ")


def test_moving_light_is_told_of_the_rows_of_points_seen_up_to_1980_hz() -> None:
    # Roberts and Wilkins, abstract read: on average, in a dark room.
    [finding] = pwm_findings(1980)
    assert "Up to 1980 Hz a moving light shows as a row of points" in finding.remedy
    assert finding.remedy.startswith("Dim at 3000 Hz or more")


def test_of_a_ready_made_board_is_told_what_dims_faster() -> None:
    [risky] = pwm_findings(1000, part="pico")
    assert risky.remedy.startswith(
        'Choose lights = "pins", which dims at 1327 Hz or lights = "shift_registers", which dims at'
        " 1275 Hz."
    )
    [seen] = pwm_findings(1275, part="pico")
    assert seen.weight == Weight.NOTE and seen.remedy.startswith("The pico dims no faster")


def test_shallow_flicker_is_judged_by_its_depth() -> None:
    assert pwm_findings(100, depth_percent=3.0) == ()
    assert [finding.weight for finding in pwm_findings(100, depth_percent=8.5)] == [Weight.WARNING]
