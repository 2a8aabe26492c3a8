"""How loud a level is, in words that need no decibels: what it is like, and for how long a day ears stand it."""
import math

from fxseq.acoustics import LevelReport
from fxseq.hazards.hearing import NIOSH_CEILING_DBA, niosh_time_min, time_in_words

EVERYDAY_DBA = (
    (30, 30, "a soft whisper"), (40, 40, "the hum of a refrigerator"), (60, 60, "a conversation"), (70, 70, "a washing machine"),
    (80, 85, "a petrol lawn mower"), (95, 95, "a motorcycle"), (100, 100, "an underground train as it comes in"),
    (110, 110, "somebody shouting into your ear"), (120, 120, "a siren beside you"),
)
"""Levels of everyday sounds, from and to. Source: table of everyday sounds by the US Centers for Disease Control and Prevention, read in a
copy in a safety newsletter; that it is theirs is from memory. [dB(A)]"""
ALIKE_DB = 3.0
"""Levels that differ by less count as about as loud. Common practice, no source."""
HARMLESS_DBA = 70.0
"""At or below it a sound is unlikely to harm ears, however long it lasts. Source: US National Institutes of Health, as quoted on public pages."""
_WHOLE_DAY_MIN = 24 * 60
EVERYDAY_SOURCE = "everyday sounds: CDC; time: NIOSH limit for adults at work, with the uncertainty of the level added"


def compared(level_dba: float) -> str:
    """What a level is about as loud as, or between what it lies: `about as loud as a motorcycle`."""
    for low_dba, high_dba, name in EVERYDAY_DBA:
        if low_dba - ALIKE_DB <= level_dba <= high_dba + ALIKE_DB:
            return f"about as loud as {name}"
    softer = [name for _, high_dba, name in EVERYDAY_DBA if high_dba < level_dba]
    louder = [name for low_dba, _, name in EVERYDAY_DBA if low_dba > level_dba]
    if not softer:
        return f"softer than {louder[0]}"
    return f"louder than {softer[-1]}, softer than {louder[0]}" if louder else f"louder than {softer[-1]}"


def harmless_for(level_dba: float) -> str:
    """For how long a day a mean level may be heard: `within the daily noise limit for up to 2.0 h`. level_dba: with what it may be off by added."""
    minutes = niosh_time_min(level_dba)
    if level_dba > NIOSH_CEILING_DBA:
        return "harmful at once"
    if level_dba <= HARMLESS_DBA or minutes >= _WHOLE_DAY_MIN:
        return "within the daily noise limit all day long"
    return f"within the daily noise limit for up to {time_in_words(minutes)}"


def loud_in_words(levels: LevelReport | None) -> dict[str, dict[str, str]]:
    """Of each place what its loudest moment is about as loud as, and for how long a day ears stand it all; silent places are left out."""
    if levels is None:
        return {}
    return {name: {"like": compared(at.lafmax_db), "harmless": harmless_for(at.laeq_db + levels.uncertainty_db)}
            for name, at in levels.at.items() if math.isfinite(at.laeq_db)}
