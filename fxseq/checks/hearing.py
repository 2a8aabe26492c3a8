"""What sound may do to ears, and how loud it is in words."""

import math
from collections.abc import Iterator

from fxseq.acoustics import LevelReport
from fxseq.checks.check import check
from fxseq.checks.scopes import EXPOSURE, NEAREST
from fxseq.hazards.hearing import (
    EU_LIMIT_DBA,
    EU_LOWER_DBA,
    EU_LOWER_PEAK_DBC,
    EU_UPPER_DBA,
    IMPULSE_PEAK_DB,
    NIOSH_CEILING_DBA,
    TOY_DISTANCE_M,
    TOY_EAR_LEVEL_DBA,
    TOY_LEVEL_DBA,
    TOY_USE_M,
    Exposure,
    level_at_db,
    niosh_time_min,
)
from fxseq.sequence import Finding, Weight
from fxseq.sequence.quantities import number, percent_of

_SPREAD = "uncertainty of the level, either way, in dB"
_HOW_SURE = (
    "As uncertain as the level itself: s either way; a room makes it louder. The limits are for"
    " adults at work, not for children. Measure the finished prop; the noise rules of the place"
    " decide."
)
_REMEDY = (
    "Turn it down, keep the speaker away from ears, or play it for less time each day. This is only"
    " an estimate: measure the finished prop, and follow the noise rules of the place where it is"
    " used."
)
EVERYDAY_DBA = (
    (30, 30, "a soft whisper"),
    (40, 40, "the hum of a refrigerator"),
    (60, 60, "a conversation"),
    (70, 70, "a washing machine"),
    (80, 85, "a petrol lawn mower"),
    (95, 95, "a motorcycle"),
    (100, 100, "an underground train as it comes in"),
    (110, 110, "somebody shouting into your ear"),
    (120, 120, "a siren beside you"),
)
"""Levels of everyday sounds, from and to. Source: table of everyday sounds by the US Centers for
Disease Control and Prevention, read in a copy in a safety newsletter; that it is theirs is from
memory. [dB(A)]
"""
ALIKE_DB = 3.0
"""Levels that differ by less count as about as loud. Common practice, no source."""
HARMLESS_DBA = 70.0
"""At or below it a sound is unlikely to harm ears, however long it lasts. Source: US National
Institutes of Health, as quoted on public pages.
"""
_WHOLE_DAY_MIN = 24 * 60
EVERYDAY_SOURCE = (
    "everyday sounds: CDC; time: NIOSH limit for adults at work, with the uncertainty of the level"
    " added"
)


@check(
    EXPOSURE,
    "hazard.hearing",
    "Is a day with the prop too loud for ears?",
    rule=(
        "What harms ears is level and time together: 3 dB more counts as much as twice the time."
        " The mean level while it plays is spread over a day of eight hours. With the uncertainty"
        f" s added, a note above {EU_LOWER_DBA:g} dB(A) and a warning above {EU_UPPER_DBA:g} dB(A);"
        f" without it, a fault above {EU_LIMIT_DBA:g} dB(A). The dose is the share of what NIOSH"
        " allows in a day."
    ),
    source=(
        "Directive 2003/10/EC, Article 3; dose and time: NIOSH recommended exposure limit, as"
        " printed on two pages"
    ),
    kind="a standard",
    confidence=_HOW_SURE,
    formula=(
        "{Lday} = {L} + 10 * log10({h} / 8 h); {T} = 8 h / 2^(({L} - 85 dB(A)) / 3 dB); {D} = 100 %"
        " * {h} / {T}"
    ),
    symbols={
        "Lday": "level spread over eight hours, in dB(A)",
        "L": "mean level while it plays, in dB(A)",
        "s": _SPREAD,
        "h": "hours_a_day of the listening, in h",
        "T": "time a day that NIOSH allows at this level, in h",
        "D": "share of a day's dose, in %",
    },
    measure=lambda exposure: exposure.daily_dba + exposure.uncertainty_db,
    limit=lambda sequence, supply: EU_UPPER_DBA,
)
def hearing(exposure: Exposure) -> Iterator[Finding]:
    daily = exposure.daily_dba
    spread = exposure.uncertainty_db
    if daily + spread <= EU_LOWER_DBA:
        return
    dose = percent_of(exposure.dose_percent, "a day's dose")
    if daily > EU_LIMIT_DBA:
        weight = Weight.FAULT
    elif daily + spread > EU_UPPER_DBA:
        weight = Weight.WARNING
    else:
        weight = Weight.NOTE
    yield hearing.finding(
        weight,
        _subject(exposure),
        f"{exposure.level_dba:.1f} ±{spread:.1f} dB(A) while it plays, {daily:.1f} dB(A) over the"
        f" day with {exposure.hours_a_day:g} h of it: {dose}; allowed for up to"
        f" {time_in_words(niosh_time_min(exposure.level_dba + spread))} a day, with the uncertainty"
        " of the level added",
        f"{EU_LOWER_DBA:g} dB(A) lower, {EU_UPPER_DBA:g} dB(A) upper action value, {EU_LIMIT_DBA:g}"
        " dB(A) limit over eight hours",
        _REMEDY,
        {
            "Lday": f"{daily:.1f} dB(A)",
            "L": f"{exposure.level_dba:.1f} dB(A)",
            "s": f"{spread:.1f} dB",
            "h": f"{exposure.hours_a_day:g} h",
            "T": f"{number(niosh_time_min(exposure.level_dba) / 60)} h",
            "D": percent_of(exposure.dose_percent),
        },
    )


def _subject(exposure: Exposure) -> str:
    return f"level at {exposure.place} ({exposure.distance_m:g} m)"


@check(
    EXPOSURE,
    "hazard.hearing_ceiling",
    "Is the prop ever too loud for ears, even for a moment?",
    rule=(
        "The highest level, as a sound level meter set to F (fast) shows it. A fault where it is"
        f" above {NIOSH_CEILING_DBA:g} dB(A) with the uncertainty s added: that level is not"
        " allowed for any length of time."
    ),
    source="NIOSH recommended exposure limit, ceiling, as printed on two pages",
    kind="a standard",
    confidence=_HOW_SURE,
    formula=f"{{L}} + {{s}} > {NIOSH_CEILING_DBA:g} dB(A)",
    symbols={"L": "highest level, in dB(A)", "s": _SPREAD},
)
def hearing_ceiling(exposure: Exposure) -> Iterator[Finding]:
    if exposure.highest_dba + exposure.uncertainty_db <= NIOSH_CEILING_DBA:
        return
    yield hearing_ceiling.finding(
        Weight.FAULT,
        _subject(exposure),
        f"{exposure.highest_dba:.1f} ±{exposure.uncertainty_db:.1f} dB(A) at its loudest (F)",
        f"{NIOSH_CEILING_DBA:g} dB(A) at any time",
        _REMEDY,
        {"L": f"{exposure.highest_dba:.1f} dB(A)", "s": f"{exposure.uncertainty_db:.1f} dB"},
    )


@check(
    EXPOSURE,
    "hazard.impulse",
    "Can a single bang hurt ears?",
    rule=(
        "The highest peak of the sound pressure, C-weighted. A finding where it is above"
        f" {EU_LOWER_PEAK_DBC:g} dB(C) with the uncertainty s added; a fault above"
        f" {IMPULSE_PEAK_DB:g} dB."
    ),
    source="Directive 2003/10/EC, Article 3 (112 and 200 Pa); 29 CFR 1910.95",
    kind="a standard",
    confidence=_HOW_SURE,
    formula=f"{{L}} + {{s}} > {EU_LOWER_PEAK_DBC:g} dB(C)",
    symbols={"L": "peak level, in dB(C)", "s": _SPREAD},
)
def impulse(exposure: Exposure) -> Iterator[Finding]:
    if exposure.peak_dbc + exposure.uncertainty_db <= EU_LOWER_PEAK_DBC:
        return
    over = exposure.peak_dbc + exposure.uncertainty_db > IMPULSE_PEAK_DB
    yield impulse.finding(
        Weight.FAULT if over else Weight.WARNING,
        _subject(exposure),
        f"peak of {exposure.peak_dbc:.1f} ±{exposure.uncertainty_db:.1f} dB(C)",
        f"{EU_LOWER_PEAK_DBC:g} dB(C) lower action value, {IMPULSE_PEAK_DB:g} dB limit",
        _REMEDY,
        {"L": f"{exposure.peak_dbc:.1f} dB(C)", "s": f"{exposure.uncertainty_db:.1f} dB"},
    )


@check(
    NEAREST,
    "hazard.toy_level",
    "For information: is the prop louder than a toy may be?",
    rule=(
        f"The highest level at the nearest place is converted to {TOY_DISTANCE_M * 100:g} cm. A"
        f" note where it is above {TOY_LEVEL_DBA:g} dB(A) there. For a prop that is held nearer to"
        f" an ear than {TOY_USE_M * 100:g} cm, the limit is that of toys held to the ear,"
        f" {TOY_EAR_LEVEL_DBA:g} dB(A)."
    ),
    source="Korean limits for toys, seen in the abstract of a conference paper",
    kind="research",
    confidence=(
        "Only a hint, and uncertain by s either way. Two secondary texts give the same two figures"
        " for other countries, but not the distance at which they are measured. No standard for"
        " toys was read, and each has more limits than these. A prop is no toy."
    ),
    formula=f"{{L50}} = {{L}} - 20 * log10({TOY_DISTANCE_M:g} m / {{d}}); {{L50}} > {{Lmax}}",
    symbols={
        "L50": "highest level at 50 cm, in dB(A)",
        "L": "highest level at the nearest place, in dB(A)",
        "d": "distance of that place, in m",
        "Lmax": "limit of a toy at 50 cm, in dB(A)",
        "s": _SPREAD,
    },
)
def toy_level(exposure: Exposure) -> Iterator[Finding]:
    """For information, what a toy may have: moved from the nearest place."""
    near_dba = level_at_db(exposure.highest_dba, exposure.distance_m, TOY_DISTANCE_M)
    limit_dba = TOY_EAR_LEVEL_DBA if exposure.distance_m < TOY_USE_M else TOY_LEVEL_DBA
    if near_dba <= limit_dba:
        return
    yield toy_level.finding(
        Weight.NOTE,
        "for information, if children play with it",
        f"{near_dba:.1f} ±{exposure.uncertainty_db:.1f} dB(A) at 50 cm at its loudest",
        f"{limit_dba:g} dB(A) at 50 cm for toys"
        f" {'held to the ear' if limit_dba == TOY_EAR_LEVEL_DBA else 'not held to the ear'}",
        "A prop is no toy. If you make it for children, follow the toy standard of your country;"
        " nothing more of it is checked here.",
        {
            "L50": f"{near_dba:.1f} dB(A)",
            "L": f"{exposure.highest_dba:.1f} dB(A)",
            "d": f"{exposure.distance_m:g} m",
            "Lmax": f"{limit_dba:g} dB(A)",
            "s": f"{exposure.uncertainty_db:.1f} dB",
        },
    )


def time_in_words(minutes: float) -> str:
    """In words a maker reads at a glance."""
    if minutes >= 24 * 60:
        return "24 h"
    if minutes >= 10 * 60:
        return f"{minutes / 60:.0f} h"
    if minutes >= 60:
        return f"{minutes / 60:.1f} h"
    if minutes >= 2:
        return f"{minutes:.0f} min"
    return f"{minutes * 60:.0f} s"


def compared(level_dba: float) -> str:
    """What a level is about as loud as, or between what it lies: `about as loud as a
    motorcycle`.
    """
    for low_dba, high_dba, name in EVERYDAY_DBA:
        if low_dba - ALIKE_DB <= level_dba <= high_dba + ALIKE_DB:
            return f"about as loud as {name}"
    softer = [name for _, high_dba, name in EVERYDAY_DBA if high_dba < level_dba]
    louder = [name for low_dba, _, name in EVERYDAY_DBA if low_dba > level_dba]
    if not softer:
        return f"softer than {louder[0]}"
    if louder:
        return f"louder than {softer[-1]}, softer than {louder[0]}"
    return f"louder than {softer[-1]}"


def harmless_for(level_dba: float) -> str:
    """For how long a day a mean level may be heard: `within the daily noise limit for up to 2.0
    h`. level_dba: with what it may be off by added.
    """
    minutes = niosh_time_min(level_dba)
    if level_dba > NIOSH_CEILING_DBA:
        return "harmful at once"
    if level_dba <= HARMLESS_DBA or minutes >= _WHOLE_DAY_MIN:
        return "within the daily noise limit all day long"
    return f"within the daily noise limit for up to {time_in_words(minutes)}"


def loud_in_words(levels: LevelReport | None) -> dict[str, dict[str, str]]:
    """Say of each place what its loudest moment is about as loud as, and for how long a day ears
    stand it all; silent places are left out.
    """
    if levels is None:
        return {}
    return {
        name: {
            "like": compared(at.lafmax_db),
            "harmless": harmless_for(at.laeq_db + levels.uncertainty_db),
        }
        for name, at in levels.at.items()
        if math.isfinite(at.laeq_db)
    }
