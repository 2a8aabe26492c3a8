"""What the picture of a ready-made board says."""

from pathlib import Path

import pytest
from drawn import DEMO, overlapping, written

from fxseq.plots import board_figure
from fxseq.sequence import load

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
