"""A small prop without a single finding, and its files, for tests to change."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import tomlkit
from numpy.typing import NDArray

from fxseq.runs import Performance, Prop, load_prop, perform

Values = dict[str, Any]
Build = Callable[..., Prop]
RATE_HZ = 16000


def tone(seconds: float, amplitude: float = 0.5, frequency_hz: float = 1000) -> NDArray[np.float64]:
    """A sine with a sample at each of its peaks and zeros; starts and ends at 0."""
    samples = amplitude * np.sin(
        2 * np.pi * frequency_hz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    )
    samples[-1] = 0
    return samples


@pytest.fixture
def values() -> Values:
    """A prop: at 1000 frames a second, a tap gives 0.1 s of light from 4 LEDs and a tone of 0.1
    s. It has no finding.
    """
    return {
        "format": 1,
        "title": "Small",
        "changeover": "switch",
        "board": {
            "sample_rate_hz": RATE_HZ,
            "samples_per_frame": 16,
            "channels": 2,
            "pwm_bits": 8,
            "voices": 2,
        },
        "supplies": {
            "wall": {
                "kind": "wall",
                "voltage_v": 5.0,
                "tolerance_percent": 2,
                "maximum_current_ma": 500,
            },
            "cells": {"kind": "cells", "voltage_v": 3.0, "maximum_current_ma": 100},
        },
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
            "rated_power_w": 0.5,
        },
        "listening": {"hand_m": 0.5, "audience_m": 4.0},
        "inputs": {"lever": {}},
        "groups": {
            "lamp": {
                "first_channel": 0,
                "channels": 2,
                "leds": 4,
                "colour": "amber",
                "forward_voltage_v": 1.75,
                "current_ma": 10,
            }
        },
        "clips": {"beep": {"file": "beep.wav", "coding": "pcm16"}},
        "fades": {
            "flash": {
                "segments": [
                    {"shape": "step", "to_percent": 100, "length_ms": 100},
                    {"shape": "step", "to_percent": 0},
                ]
            }
        },
        "effects": {
            "spark": {"sounds": [{"clip": "beep"}], "lights": [{"group": "lamp", "fade": "flash"}]}
        },
        "triggers": {"fire": {"mode": "once", "input": "lever", "effects": ["spark"]}},
    }


@pytest.fixture
def write_sound(tmp_path: Path) -> Callable[[str, NDArray[np.float64]], None]:
    """Write samples to a 16-bit file beside the prop file; 'beep.wav' holds the tone unless a
    test writes another.
    """

    def write(name: str, samples: NDArray[np.float64]) -> None:
        soundfile.write(tmp_path / name, samples, RATE_HZ, subtype="PCM_16")

    write("beep.wav", tone(0.1))
    return write


@pytest.fixture
def build(tmp_path: Path, write_sound: object) -> Build:
    """Write the prop file and load the prop."""

    def build(values: Values) -> Prop:
        path = tmp_path / "small.toml"
        path.write_text(tomlkit.dumps(values), encoding="utf-8")
        return load_prop(path)

    return build


@pytest.fixture
def played(build: Build) -> Callable[..., Performance]:
    """Load the prop and play a press script."""

    def played(
        values: Values, presses: str | None = "tap lever @1", supply: str | None = None
    ) -> Performance:
        prop = build(values)
        return perform(prop, prop.script(presses)[0], supply)

    return played
