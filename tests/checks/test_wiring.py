"""The amplifier's share of a supply line, and the cautions."""
import math
from collections.abc import Callable
from typing import Any

import pytest

from fxseq.checks import Prop, wiring_cautions, wiring_of
from fxseq.checks.wiring import CODES

Values = dict[str, Any]
Build = Callable[..., Prop]


def test_the_loudest_tone_takes_its_power_over_efficiency_and_voltage(values: Values, build: Build) -> None:
    # A sine of 1 V peak in 8 ohm is 1/16 W; at 80 % from 5.1 V (2 % above 5 V), beside 5 mA at rest.
    line = wiring_of(build(values).sequence).lines[0]
    assert line.sound_ma == pytest.approx(5 + 1000 / 16 / 0.8 / 5.1, rel=1e-3)


def test_the_loudest_tone_ends_at_the_supply(values: Values, build: Build) -> None:
    values["amplifier"]["gain_db"] = 60.0
    # Far beyond clipping a sine is a square of the 4.6 V that the amplifier reaches: V^2 / R.
    line = wiring_of(build(values).sequence).lines[0]
    assert line.sound_ma == pytest.approx(5 + 1000 * 4.6**2 / 8 / 0.8 / 5.1, rel=0.01)


@pytest.mark.parametrize("missing", ["amplifier", "speaker"])
def test_without_amplifier_or_speaker_sound_is_not_known(values: Values, build: Build, missing: str) -> None:
    del values[missing]
    line = wiring_of(build(values).sequence).lines[0]
    assert line.sound_ma is None and math.isfinite(line.total_ma)


@pytest.mark.parametrize(("supply", "words"), [
    ({"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 500}, "adaptor"),
    ({"kind": "cells", "cell": "li_ion", "voltage_v": 4.0, "maximum_current_ma": 500}, "protection circuit"),
])
def test_cautions_go_with_the_supply(values: Values, build: Build, supply: Values, words: str) -> None:
    values["supplies"] = {"one": supply}
    assert any(words in caution for caution in wiring_cautions(build(values).sequence))
    values["supplies"] = {"one": {"kind": "cells", "voltage_v": 4.5, "maximum_current_ma": 500}}
    cautions = wiring_cautions(build(values).sequence)
    assert not any(words in caution for caution in cautions) and cautions[-1] == CODES
