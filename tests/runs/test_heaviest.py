"""More presses never make a supply last longer, or hold up better: the heaviest moment is that
of the cells as they are then, not as they were.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fxseq.checks import findings
from fxseq.runs import Performance
from tests.runs.conftest import tone

Values = dict[str, Any]
Played = Callable[..., Performance]


@pytest.fixture
def lamp_or_sound(values: Values, write_sound: Callable[..., None]) -> Values:
    """A lamp of constant current alone on one input, a loud amplifier, which takes constant
    power, alone on another; both from four AA.
    """
    write_sound("beep.wav", np.sign(tone(0.1, 1.0, 200)) * 0.99)
    values["board"] |= {"channels": 1, "current_ma": 30.0}
    values["inputs"]["other"] = {}
    values["groups"] = {
        "flood": {
            "first_channel": 0,
            "leds": 1,
            "colour": "white",
            "forward_voltage_v": 3.0,
            "current_ma": 1500,
            "switch": "driver",
            "leds_in_series": 1,
        }
    }
    del values["changeover"]
    values["supplies"] = {
        "cells": {
            "kind": "cells",
            "cell": "alkaline_aa",
            "cells_in_series": 4,
            "voltage_v": 6.4,
            "maximum_current_ma": 5000,
            "minimum_v": 3.0,
        }
    }
    values["amplifier"] = {
        "gain_db": 0.0,
        "full_scale_input_v": 4.75,
        "efficiency_percent": 85,
        "idle_current_ma": 5,
        "lost_voltage_v": 0.2,
    }
    values["speaker"] |= {"impedance_ohm": 3.2, "coil_ohm": 3.2}
    values["effects"] = {
        "spark": {"sounds": [{"clip": "beep"}]},
        "glow": {"lights": [{"group": "flood", "fade": "flash"}]},
    }
    values["triggers"]["light"] = {"mode": "once", "input": "other", "effects": ["glow"]}
    values["day"] = {"hours": 8, "taps_an_hour": 0}
    return values


@pytest.mark.parametrize("swing_v", [4.4, 4.6, 4.75])
def test_more_presses_never_last_longer(
    lamp_or_sound: Values, played: Played, swing_v: float
) -> None:
    lamp_or_sound["amplifier"]["full_scale_input_v"] = swing_v
    sound, light, both = (
        played(lamp_or_sound, presses).run_time.hours
        for presses in ("tap lever @1", "tap other @2", "tap lever @1, tap other @2")
    )
    for name in ("low", "typical", "high"):
        assert getattr(both, name) <= 1.0001 * min(getattr(sound, name), getattr(light, name))


@pytest.mark.parametrize("swing_v", [2.0, 4.75, 9.0])
def test_more_presses_never_hold_up_the_rail_at_any_corner(
    lamp_or_sound: Values, played: Played, swing_v: float
) -> None:
    lamp_or_sound["amplifier"]["full_scale_input_v"] = swing_v
    lamp_or_sound["groups"]["flood"]["current_ma"] = 1780
    alone = [
        played(lamp_or_sound, presses).load.rail.lowest
        for presses in ("tap lever @1", "tap other @2")
    ]
    both = played(lamp_or_sound, "tap lever @1, tap other @2").load.rail.lowest
    for name in ("low", "typical", "high"):
        assert getattr(both, name) == pytest.approx(
            min(getattr(one, name) for one in alone), rel=1e-6
        )


def test_what_clips_at_the_flat_supply_takes_less_there(
    lamp_or_sound: Values, played: Played
) -> None:
    """A swing that fresh cells give and flat ones do not: counted as a constant power it would
    end the run sooner than a louder one.
    """
    hours = []
    for swing_v in (4.0, 5.0, 6.0):
        lamp_or_sound["amplifier"]["full_scale_input_v"] = swing_v
        hours.append(played(lamp_or_sound, "tap lever @1").run_time.hours.typical)
    assert hours == sorted(hours, reverse=True) or max(hours) - min(hours) < 0.03 * max(hours)
    assert not [
        finding
        for finding in findings(played(lamp_or_sound, "tap lever @1"))
        if "collapse" in finding.figure
    ]
