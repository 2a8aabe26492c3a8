"""The amplifier's share of a supply line, and the cautions."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fxseq.checks import findings_without_playing, wiring_cautions
from fxseq.checks.supply import CODES
from fxseq.runs import Prop, wiring_of
from fxseq.sequence import Weight
from tests.checks.judged import line_findings

Values = dict[str, Any]
Build = Callable[..., Prop]


def test_the_loudest_tone_takes_its_power_over_efficiency_and_voltage(
    values: Values, build: Build
) -> None:
    # A sine of 1 V peak is 0.071 W in the coil's 7.04 ohm, 0.88 of 8 ohm; at 80 % from 5.1 V (2 %
    # above 5 V), beside 5 mA at rest.
    line = wiring_of(build(values).sequence).lines[0]
    assert line.sound_ma == pytest.approx(5 + 1000 / (2 * 0.88 * 8) / 0.8 / 5.1, rel=1e-3)


def test_the_loudest_tone_ends_at_the_supply(values: Values, build: Build) -> None:
    values["amplifier"]["gain_db"] = 60.0
    # Far beyond clipping a sine is a square of the 4.6 V that the amplifier reaches: V^2 / R in the
    # coil.
    line = wiring_of(build(values).sequence).lines[0]
    assert line.sound_ma == pytest.approx(5 + 1000 * 4.6**2 / (0.88 * 8) / 0.8 / 5.1, rel=0.01)


@pytest.mark.parametrize("missing", ["amplifier", "speaker"])
def test_without_amplifier_or_speaker_sound_is_not_known(
    values: Values, build: Build, missing: str
) -> None:
    del values[missing]
    line = wiring_of(build(values).sequence).lines[0]
    assert line.sound_ma is None and math.isfinite(line.total_ma)


def checks_of(values: Values, build: Build) -> dict[str, Weight]:
    """Of the description alone, as `fxseq check` finds them."""
    return {finding.check: finding.weight for finding in findings_without_playing(build(values))}


def test_a_group_that_no_resistor_fits_is_a_fault_of_the_check(
    values: Values, build: Build
) -> None:
    assert "power.led_dark" not in checks_of(values, build)
    values["groups"]["lamp"].update(colour="blue", forward_voltage_v=7.0)
    assert checks_of(values, build)["power.led_dark"] == Weight.FAULT


def test_strings_that_would_not_share_a_resistor_are_a_fault_of_the_check(
    values: Values, build: Build
) -> None:
    values["groups"]["lamp"].update(shared_resistor=True, leds_in_series=1)
    assert checks_of(values, build)["power.shared_resistor"] == Weight.FAULT


def test_everything_at_once_is_held_against_each_supply_by_the_check(
    values: Values, build: Build
) -> None:
    # 4 LEDs of 10 mA at the wall, 5 mA at rest and 1/16 W of the loudest tone at 80 % from 5.1 V,
    # which is 15.3 mA.
    for maximum_ma, weight in ((62, None), (58, Weight.NOTE), (38, Weight.WARNING)):
        values["supplies"] = {
            "wall": {**values["supplies"]["wall"], "maximum_current_ma": maximum_ma}
        }
        values["groups"]["lamp"]["leds_in_series"] = 1
        assert checks_of(values, build).get("power.line_current") == weight


def test_a_supply_may_be_used_up_to_the_last_milliampere(values: Values, build: Build) -> None:
    line = wiring_of(build(values).sequence).lines[0]
    assert not line_findings([replace(line, rated_ma=line.total_ma)])
    assert line_findings([replace(line, rated_ma=line.total_ma - 1)])


@pytest.mark.parametrize(
    ("colour", "forward_v", "told"),
    [("red", 2.4, False), ("red", 2.6, True), ("white", 3.6, False), ("white", 2.8, True)],
)
def test_a_forward_voltage_that_is_unusual_for_its_colour_is_told(
    values: Values, build: Build, colour: str, forward_v: float, told: bool
) -> None:
    # Ranges of data sheets (power/parts.toml): red 1.8 to 2.4 V and white 3.0 to 3.6 V at 20 mA.
    values["groups"]["lamp"].update(colour=colour, forward_voltage_v=forward_v, current_ma=20)
    assert ("power.forward_voltage" in checks_of(values, build)) == told


def test_nothing_is_said_of_wiring_without_a_supply(values: Values, build: Build) -> None:
    values["supplies"] = {}
    assert not any(check.startswith("power.line") for check in checks_of(values, build))


@pytest.mark.parametrize(
    ("supply", "words"),
    [
        ({"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 500}, "adaptor"),
        (
            {"kind": "cells", "cell": "li_ion", "voltage_v": 4.0, "maximum_current_ma": 500},
            "protection circuit",
        ),
    ],
)
def test_cautions_go_with_the_supply(
    values: Values, build: Build, supply: Values, words: str
) -> None:
    values["supplies"] = {"one": supply}
    assert any(words in caution for caution in wiring_cautions(build(values).sequence))
    values["supplies"] = {"one": {"kind": "cells", "voltage_v": 4.5, "maximum_current_ma": 500}}
    cautions = wiring_cautions(build(values).sequence)
    assert not any(words in caution for caution in cautions) and cautions[-1] == CODES
