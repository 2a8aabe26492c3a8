"""A prop with three short clips, one levelled, one limited and matched to it, one looped, fitted
once for all tests.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fxseq.advice import Fit, as_meant, fit
from fxseq.runs import Performance, perform
from fxseq.sequence import load

sys.path.insert(0, str(Path(__file__).parent))  # `heard` is a module of this folder

RATE_HZ = 22050
TEXT = """
format = 1
title = "Three sounds"
[board]
channels = 1
voices = 3
flash_for_table_bytes = 8192
[amplifier]
gain_db = 10
full_scale_input_v = 1.2
[speaker]
diameter_mm = 28
impedance_ohm = 8
resonance_hz = 800
sensitivity_db = 88
rated_power_w = 1
[supplies.wall]
kind = "wall"
voltage_v = 5
maximum_current_ma = 2000
[inputs.lever]
[clips.crack]  # noise that dies away
file = "crack.wav"
coding = "pcm16"
rms_to_dbfs = -22
[clips.tone]
file = "tone.wav"
match_to = "crack"
limit_to_dbfs = -3
[clips.hum]
file = "hum.wav"
loop = "whole"
[effects.shot]
sounds = [{ clip = "crack" }, { clip = "tone", gain_db = -20 }]
pitch_spread_percent = 5
[effects.hum]
sounds = [{ clip = "hum", gain_db = -6, loop = true, release_ms = 50 }]
[triggers.shot]
mode = "once"
input = "lever"
effects = ["shot"]
[triggers.hum]
mode = "while_held"
input = "lever"
begin = "hum"
[scripts.run]
presses = "tap lever @0.2, tap lever @0.32, hold lever @1..1.5"
"""


@pytest.fixture(scope="session")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fit")
    time_s = np.arange(RATE_HZ // 5) / RATE_HZ
    chance = np.random.default_rng(1)
    sounds = {
        "crack": 0.5 * chance.standard_normal(time_s.size).clip(-1.5, 1.5) * np.exp(-30 * time_s),
        "tone": 0.6 * np.sin(2 * np.pi * 1200 * time_s) * np.exp(-20 * time_s),
        "hum": 0.5 * np.sin(2 * np.pi * 200 * time_s) + 0.2 * np.sin(2 * np.pi * 2400 * time_s),
    }
    for name, sound in sounds.items():
        soundfile.write(folder / f"{name}.wav", sound, RATE_HZ, subtype="PCM_16")
    path = folder / "three.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def performance(file: Path) -> Performance:
    prop = as_meant(file, load(file))
    return perform(prop, prop.script()[0])


@pytest.fixture(scope="session")
def fitted(performance: Performance) -> Fit:
    return fit(performance, ("pcm16", "mulaw", "ima_adpcm", "qoa", "lpc_rice"))
