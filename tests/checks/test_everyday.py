"""Levels in words."""

import pytest

from fxseq.checks import compared, harmless_for
from fxseq.checks.hearing import time_in_words


@pytest.mark.parametrize(
    ("level_dba", "words"),
    [
        # Table of everyday sounds by the US Centers for Disease Control and Prevention, as read in
        # a copy.
        (30, "about as loud as a soft whisper"),
        (60, "about as loud as a conversation"),
        (70, "about as loud as a washing machine"),
        (82, "about as loud as a petrol lawn mower"),
        (95, "about as loud as a motorcycle"),
        (120, "about as loud as a siren beside you"),
        # Between its lines.
        (50, "louder than the hum of a refrigerator, softer than a conversation"),
        (10, "softer than a soft whisper"),
        (130, "louder than a siren beside you"),
    ],
)
def test_a_level_is_compared_with_everyday_sounds(level_dba: float, words: str) -> None:
    assert compared(level_dba) == words


@pytest.mark.parametrize(
    ("level_dba", "words"),
    [
        # NIOSH: 82 dB(A) 16 h, 85 8 h, 88 4 h, 94 1 h, 100 15 min, and nothing above 115; NIH: 70
        # dB(A) and less whatever the time.
        (82, "within the daily noise limit for up to 16 h"),
        (85, "within the daily noise limit for up to 8.0 h"),
        (88, "within the daily noise limit for up to 4.0 h"),
        (94, "within the daily noise limit for up to 1.0 h"),
        (100, "within the daily noise limit for up to 15 min"),
        (116, "harmful at once"),
        (70, "within the daily noise limit all day long"),
        (80, "within the daily noise limit all day long"),
    ],
)
def test_how_long_a_day_is_harmless(level_dba: float, words: str) -> None:
    assert harmless_for(level_dba) == words


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (1440, "24 h"),
        (1439, "24 h"),
        (1300, "22 h"),
        (600, "10 h"),
        (599, "10.0 h"),
        (60, "1.0 h"),
        (59, "59 min"),
        (2, "2 min"),
        (1.9, "114 s"),
    ],
)
def test_a_time_is_told_in_the_unit_that_suits_it(minutes: float, words: str) -> None:
    assert time_in_words(minutes) == words
