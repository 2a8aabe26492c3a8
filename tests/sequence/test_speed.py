"""Loading keeps well under what a maker notices."""
import time

import pytest

from fxseq.sequence import SequenceError, loads


def large_text() -> str:
    """A prop of more than a hundred tables, with effects of several parts each."""
    parts = ['format = 1\ntitle = "Large"\n[board]\nchannels = 40\n[inputs.lever]']
    for index in range(40):
        colour = f'colour = "red"\nforward_voltage_v = 2\ncurrent_ma = 20\nleds = 4\nplaces_mm = [[1, 2], [3, 4], [5, 6], [7, {index}]]'
        parts.append(f"[groups.g{index}]\nfirst_channel = {index}\n{colour}")
        parts.append(f'[clips.c{index}]\nfile = "c{index}.wav"\nstart_ms = 3.5\nend_ms = 400\ngain_db = -2.5')
        sounds = ", ".join(f'{{ clip = "c{index}", at_ms = {at} }}' for at in range(5))
        parts.append(f"[effects.e{index}]\nsounds = [{sounds}]\npitch_spread_percent = 4")
    parts.append('[triggers.t]\nmode = "single"\ninput = "lever"\neffects = ["e0"]')
    return "\n".join(parts) + "\n"


def seconds(text: str) -> float:
    start = time.perf_counter()
    try:
        loads(text)
    except SequenceError:
        pass
    return time.perf_counter() - start


@pytest.mark.parametrize("change", [
    pytest.param(lambda text: text, id="valid"),
    pytest.param(lambda text: text.replace("gain_db = -2.5", "gain_db = 90"), id="forty faults"),
    pytest.param(lambda text: text.replace("gain_db = -2.5", "gain_db = -2.5 dB", 10), id="ten breaches of syntax"),
])  # fmt: skip
def test_large_file_is_read_in_less_than_the_limit(change):
    text = change(large_text())
    # 0.3 s is the limit for a valid file; the best of three keeps other work on the machine out of it.
    assert min(seconds(text) for _ in range(3)) < 0.3
