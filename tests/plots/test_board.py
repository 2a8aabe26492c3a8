"""What the picture of a ready-made board says."""

from pathlib import Path

import pytest
from drawn import DEMO, overlapping, written

from fxseq.plots import board_figure
from fxseq.sequence import load, loads

FIRST_LIGHT = DEMO.with_name("first_light.toml")


@pytest.mark.parametrize(
    ("file", "feeds"),
    [
        (DEMO, "+ of the regulator, through a Schottky diode"),
        (FIRST_LIGHT, "+ of the supply: fuse, switch, Schottky diode"),
    ],
)
def test_pin_of_the_supply_names_what_feeds_it_and_keeps_usb_out(file: Path, feeds: str) -> None:
    """The demo's four cells are above what the pin takes, and a regulator stands between."""
    figure = board_figure(load(file))
    assert feeds in [text for text, _ in written(figure)]
    assert not overlapping(figure)


SMALL = """
format = 1
title = "x"
board = { part = "nano" }
inputs.lever = {}
selectors.ring = { positions = ["slow", "storm"] }
groups.lens = { channels = 7, leds = 7, colour = "amber", current_ma = 5 }
groups.vent = { leds = 1, colour = "blue", current_ma = 5 }
clips.crack = { file = "crack.wav" }
supplies.adaptor = { kind = "wall", voltage_v = 5, maximum_current_ma = 500 }
"""


def test_small_board_has_its_plug_at_the_end_where_the_pins_are_counted_to() -> None:
    figure = board_figure(loads(SMALL))
    places = dict(written(figure))
    assert places["USB"].y0 < places["D12"].y0 < places["D2"].y0 < places["D1"].y0
    assert places["D13"].y0 < places["A0"].y0 < places["5V"].y0
    assert places["D2"].x0 < places["USB"].x0 < places["A0"].x0
    texts = [text for text, _ in written(figure)]
    assert {"output 6, lens", "output 7, vent", "ring on storm, to ground"} <= set(texts)
    assert texts.count("kept for a serial line") == 2 and texts.count("ground") == 2
    assert not overlapping(figure)
    width = figure.get_window_extent().width
    assert all(0 <= box.x0 and box.x1 <= width for _, box in written(figure))
