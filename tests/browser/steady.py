"""A prop whose one sound is a steady value, so that every gap and every step in what is played
is seen.
"""

from pathlib import Path

import numpy as np
import soundfile

from fxseq.runs import Prop, load_prop

RATE_HZ = 22050
VALUE = 8000
_TEXT = """
format = 1
title = "Steady"
[board]
sample_rate_hz = 22050
samples_per_frame = 21
channels = 1
voices = 2
[inputs.lever]
[groups.lamp]
first_channel = 0
channels = 1
leds = 1
colour = "white"
forward_voltage_v = 3.0
current_ma = 10
[clips.steady]
file = "steady.wav"
coding = "pcm16"
loop = "whole"
[effects.on]
sounds = [{ clip = "steady", loop = true, release_ms = 0 }]
[triggers.on]
mode = "while_held"
input = "lever"
during = "on"
"""
REPEAT = """
[fades.blink]
segments = [{ shape = "step", to_percent = 100, length_ms = 10 }, { shape = "step", to_percent = 0, length_ms = 10 }]
[effects.blink]
lights = [{ group = "lamp", fade = "blink" }]
[triggers.blink]
mode = "repeat"
input = "lever"
rate_per_s = 20
effects = ["blink"]
"""
"""Shots that are seen and not heard."""


def steady_prop(folder: Path, more: str = "") -> Prop:
    """The prop, its files in this folder. more: what its file says besides."""
    soundfile.write(folder / "steady.wav", np.full(RATE_HZ, VALUE, np.int16), RATE_HZ)
    path = folder / "steady.toml"
    path.write_text(_TEXT + more, encoding="utf-8")
    return load_prop(path)
