"""Guesses at what was meant."""

import pytest

from fxseq.sequence import closest, did_you_mean


@pytest.mark.parametrize(
    ("word", "known", "meant"),
    [
        ("voice", ["voices", "channels"], "voices"),
        ("Voices", ["voices", "channels"], "voices"),
        ("rate", ["rate_per_s", "limit"], "rate_per_s"),
        ("rate", ["ramp_to_rate_per_s", "rate_per_s"], "rate_per_s"),
        ("cells", ["cell", "cells_in_parallel", "cells_in_series"], "cells_in_series"),
        ("Volts", ["minimum_v", "voltage_v"], "voltage_v"),
        ("strom", ["slow", "storm"], "storm"),
        ("x", ["max", "min"], None),
        ("", ["max", "min"], None),
        ("word", [], None),
    ],
)
def test_closest_word_is_found(word, known, meant):
    assert closest(word, known) == meant


def test_did_you_mean_asks_only_with_a_guess():
    assert did_you_mean("voice", ["voices"]) == "Did you mean 'voices'?"
    assert did_you_mean("zebra", ["voices"]) == ""
