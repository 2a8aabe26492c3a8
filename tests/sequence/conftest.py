"""A small valid prop (invented), into which each test writes its own lines."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

PARTS = {
    "[board]": "channels = 12",
    "[picture]": "width_mm = 100\nheight_mm = 50",
    "[inputs.lever]": "",
    "[selectors.ring]": 'positions = ["slow", "storm"]',
    "[counters.oil]": "maximum = 12",
    "[groups.lens]": (
        'first_channel = 0\nchannels = 6\nleds = 6\ncolour = "amber"\nforward_voltage_v ='
        " 2.1\ncurrent_ma = 20"
    ),
    "[groups.gauge]": (
        'first_channel = 6\nleds = 1\ncolour = "white"\nforward_voltage_v = 3.1\ncurrent_ma ='
        ' 4\ngauge = "oil"'
    ),
    "[clips.crack]": 'file = "crack.wav"',
    "[clips.hum]": 'file = "hum.wav"\nloop = "whole"',
    "[fades.flash]": "segments = [{ to_percent = 100 }]",
    "[fades.back]": 'segments = [{ to_percent = "ambient" }]',
    "[effects.bolt]": 'sounds = [{ clip = "crack" }]',
    "[triggers.fire]": 'mode = "once"\ninput = "lever"\neffects = ["bolt"]',
}


def prop_text(lines: str = "") -> str:
    """A valid file with the lines in it from line 3 on; a part with the same header as one of
    theirs gives way.
    """
    parts = [
        f"{header}\n{body}" for header, body in PARTS.items() if header not in lines.splitlines()
    ]
    return (
        "\n".join(['format = 1\ntitle = "Lamp"', *([lines.strip("\n")] if lines else []), *parts])
        + "\n"
    )


@pytest.fixture
def prop() -> Callable[[str], str]:
    """`prop_text`, for tests that import nothing from here."""
    return prop_text
