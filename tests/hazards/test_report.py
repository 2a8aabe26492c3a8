"""Flashes of a whole prop."""

import json
from typing import get_args

import numpy as np
import pytest

from fxseq.hazards import COLOUR_RGB, Channels, FlashReport, brightness_weight
from fxseq.hazards import flash_report as report_of_channels
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Colour, Group
from tests.checks.judged import flash_findings


def group(colour: Colour = "white", leds: int = 10, current_ma: float = 20.0) -> Group:
    return Group(
        first_channel=0, leds=leds, colour=colour, forward_voltage_v=3.0, current_ma=current_ma
    )


def blink(times_s: np.ndarray, rate_hz: float, delay_s: float = 0.0) -> np.ndarray:
    # A hair late, so that no edge hangs on the rounding of a time.
    return (((times_s - delay_s + 1e-6) * rate_hz) % 1.0 < 0.5).astype(float)


TIMES_S = np.arange(5000) / 1000


def flash_report(
    times_s: np.ndarray, lit: dict[str, np.ndarray], groups: dict[str, Group]
) -> FlashReport:
    """Of groups whose channels are all alike."""
    tracks = {
        name: [(np.arange(times_s.size), np.round(share * 4095).astype(np.uint16))]
        for name, share in lit.items()
    }
    return report_of_channels(times_s, lit, groups, Channels(tracks, 4095, 0, 1000.0))


def test_groups_that_take_turns_flash_faster_together() -> None:
    # Each lights up for an eighth of a second twice a second, in turn: together four times a
    # second.
    pulses = {
        "left": blink(TIMES_S, 2.0) * blink(TIMES_S, 4.0),
        "right": blink(TIMES_S, 2.0, 0.25) * blink(TIMES_S, 4.0, 0.25),
    }
    report = flash_report(TIMES_S, pulses, {"left": group(), "right": group()})
    assert report.alone["left"].general.flashes_per_s == 2.0
    assert report.together.general.flashes_per_s == 4.0
    assert [finding.subject for finding in flash_findings(report, {"hand": 1.0})] == [
        "all groups together"
    ]


def test_small_group_is_counted_by_itself() -> None:
    # 1 of 31 LEDs: less than a tenth of the prop's light, but all there is for somebody close by.
    lit = {"lens": np.ones(TIMES_S.size), "tip": blink(TIMES_S, 8.0)}
    report = flash_report(TIMES_S, lit, {"lens": group(leds=30), "tip": group(leds=1)})
    assert report.together.general.transitions == 0
    assert report.alone["tip"].general.flashes_per_s == 8.0
    (finding,) = flash_findings(report, {"hand": 1.0})
    assert (finding.check, finding.weight, finding.subject) == (
        "light.flash",
        Weight.WARNING,
        "group 'tip'",
    )
    assert "8 general flashes" in finding.figure
    assert "WCAG" in finding.source
    assert "seizures" in finding.remedy


def test_red_group_is_named_by_both_definitions() -> None:
    report = flash_report(TIMES_S, {"eye": blink(TIMES_S, 5.0)}, {"eye": group("red")})
    assert [finding.check for finding in flash_findings(report, {"hand": 1.0})] == [
        "light.flash",
        "light.red_flash",
    ] * 2


@pytest.mark.parametrize(("white", "flashes"), [(31, 0.0), (30, 5.0)])
def test_red_mixed_into_white_light_is_no_saturated_red_but_counts_from_a_quarter_on(
    white: int, flashes: float
) -> None:
    lit = {"lamp": np.ones(TIMES_S.size), "eye": blink(TIMES_S, 5.0)}
    report = flash_report(TIMES_S, lit, {"lamp": group(leds=white), "eye": group("red")})
    assert report.together.red.flashes_per_s == flashes
    assert report.alone["eye"].red.flashes_per_s == 5.0


def test_slow_light_has_no_finding() -> None:
    report = flash_report(TIMES_S, {"lamp": blink(TIMES_S, 3.0)}, {"lamp": group()})
    assert report.together.passes
    assert flash_findings(report, {"hand": 1.0}) == ()


def test_prop_without_groups_passes() -> None:
    report = flash_report(np.zeros(1), {}, {})
    assert report.together.passes
    assert report.alone == {}


def test_report_is_plain_values() -> None:
    report = flash_report(TIMES_S, {"lamp": blink(TIMES_S, 4.0)}, {"lamp": group()})
    plain = json.loads(json.dumps(report.as_dict()))
    # Dark at no time before 0.125 s: the first edge is a fall.
    assert plain["together"]["general"] == {
        "flashes_per_s": 4.0,
        "at_s": 0.125,
        "out_of_step": False,
        "passes": False,
    }
    assert plain["alone"]["lamp"]["red"] == {
        "flashes_per_s": 0.0,
        "at_s": None,
        "out_of_step": False,
        "passes": True,
    }


def test_weight_is_led_count_times_current() -> None:
    assert brightness_weight(group(leds=24, current_ma=15.0)) == 360.0


def test_every_colour_of_the_model_has_numbers() -> None:
    assert set(COLOUR_RGB) == set(get_args(Colour))
    assert all(max(rgb) == 1.0 and min(rgb) >= 0.0 for rgb in COLOUR_RGB.values())
