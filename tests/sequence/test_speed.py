"""Loading keeps well under what a maker notices."""

import time
import tomllib
from collections.abc import Callable

import pytest

from fxseq.sequence import SequenceError, loads


def large_text() -> str:
    """A prop of more than a hundred tables, with effects of several parts each."""
    parts = ['format = 1\ntitle = "Large"\n[board]\nchannels = 40\n[inputs.lever]']
    for index in range(40):
        colour = (
            'colour = "red"\nforward_voltage_v = 2\ncurrent_ma = 20\nleds = 4\nplaces_mm = [[1,'
            f" 2], [3, 4], [5, 6], [7, {index}]]"
        )
        parts.append(f"[groups.g{index}]\nfirst_channel = {index}\n{colour}")
        parts.append(
            f'[clips.c{index}]\nfile = "c{index}.wav"\nstart_ms = 3.5\nend_ms = 400\ngain_db = -2.5'
        )
        sounds = ", ".join(f'{{ clip = "c{index}", at_ms = {at} }}' for at in range(5))
        parts.append(f"[effects.e{index}]\nsounds = [{sounds}]\npitch_spread_percent = 4")
    parts.append('[triggers.t]\nmode = "once"\ninput = "lever"\neffects = ["e0"]')
    return "\n".join(parts) + "\n"


def processor_s(read: Callable[[str], object], text: str) -> float:
    """The least of five times: what the processor had to do for this process alone."""
    times_s = []
    for _ in range(5):
        start_s = time.process_time()
        try:
            read(text)
        except SequenceError:
            pass
        times_s.append(time.process_time() - start_s)
    return min(times_s)


def test_the_large_file_is_valid():
    loads(large_text())


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda text: text, id="valid"),
        pytest.param(
            lambda text: text.replace("gain_db = -2.5", "gain_db = 90"), id="forty faults"
        ),
        pytest.param(
            lambda text: text.replace("gain_db = -2.5", "gain_db = -2.5 dB", 10),
            id="ten breaches of syntax",
        ),
    ],
)
def test_large_file_is_read_in_less_than_the_limit(change):
    """Beside the standard library's reader of TOML, which builds values alone, so that the speed
    of the machine does not matter.
    """
    # It takes about a hundredth of a second for the valid file on a slow machine, so this is a
    # third of one.
    assert processor_s(loads, change(large_text())) < 30 * processor_s(tomllib.loads, large_text())
