"""A small prop with a trigger that repeats while it is held, for tests to change."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import tomlkit
from numpy.typing import NDArray

from fxseq.runs import Prop, load_prop

Values = dict[str, Any]
RATE_HZ = 16000


@pytest.fixture
def values() -> Values:
    """At 1000 frames a second a held lever gives full light for 50 ms, again and again, from 4
    LEDs of 10 mA.
    """
    return {
        "format": 1,
        "title": "Small",
        "board": {
            "sample_rate_hz": RATE_HZ,
            "samples_per_frame": 16,
            "channels": 2,
            "pwm_bits": 16,
            "voices": 2,
        },
        "inputs": {"lever": {}},
        "groups": {
            "lamp": {
                "first_channel": 0,
                "leds": 4,
                "leds_in_series": 1,
                "colour": "white",
                "forward_voltage_v": 3.0,
                "current_ma": 10,
            }
        },
        "fades": {
            "flash": {
                "segments": [
                    {"shape": "step", "to_percent": 100, "length_ms": 50},
                    {"shape": "step", "to_percent": 0},
                ]
            }
        },
        "effects": {"spark": {"lights": [{"group": "lamp", "fade": "flash"}]}},
        "triggers": {
            "roll": {"mode": "repeat", "input": "lever", "effects": ["spark"], "rate_per_s": 2}
        },
    }


@pytest.fixture
def build(tmp_path: Path) -> Callable[..., Prop]:
    """Write the prop file, and a sound for the effect 'spark' if one is given, and load the
    prop.
    """

    def build(values: Values, sound: NDArray[np.float64] | None = None, lit: bool = True) -> Prop:
        if sound is not None:
            soundfile.write(tmp_path / "beep.wav", sound, RATE_HZ, subtype="PCM_16")
            values["clips"] = {"beep": {"file": "beep.wav", "coding": "pcm16"}}
            values["effects"]["spark"]["sounds"] = [{"clip": "beep"}]
        if not lit:
            values["effects"]["spark"]["lights"] = []
        path = tmp_path / "small.toml"
        path.write_text(tomlkit.dumps(values), encoding="utf-8")
        return load_prop(path)

    return build


@pytest.fixture
def described() -> Values:
    """Supply, amplifier and speaker, none of which limits anything."""
    return {
        "supplies": {"wall": {"kind": "wall", "voltage_v": 12.0, "maximum_current_ma": 5000}},
        "amplifier": {
            "gain_db": 0.0,
            "full_scale_input_v": 1.0,
            "efficiency_percent": 80,
            "idle_current_ma": 5,
            "lost_voltage_v": 0.5,
        },
        "speaker": {
            "diameter_mm": 50,
            "impedance_ohm": 8,
            "resonance_hz": 20,
            "q_total": 0.7,
            "sensitivity_db": 80,
            "rated_power_w": 5,
        },
    }
