"""What sound may do to ears: the day's dose, and peaks.

NIOSH recommended exposure limit and OSHA table G-16 (29 CFR 1910.95): equations and tables seen in two copies each. Directive
2003/10/EC, Article 3: text seen on three pages. Workplace limits for grown-ups, not for children; a first warning, no measurement.
"""
import math
from collections.abc import Iterable
from dataclasses import dataclass

from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.quantities import number, percent_of

NIOSH_LEVEL_DBA = 85.0
NIOSH_CEILING_DBA = 115.0
EU_LOWER_DBA, EU_UPPER_DBA, EU_LIMIT_DBA = 80.0, 85.0, 87.0
EU_LOWER_PEAK_PA, EU_UPPER_PEAK_PA, EU_LIMIT_PEAK_PA = 112.0, 140.0, 200.0
IMPULSE_PEAK_DB = 140.0
"""Impulse noise must not exceed this peak level (29 CFR 1910.95). [dB re 20 uPa]"""
EU_LOWER_PEAK_DBC = 135.0
"""Lower action value for the C-weighted peak, 112 Pa. [dB re 20 uPa]"""
TOY_LEVEL_DBA, TOY_EAR_LEVEL_DBA, TOY_DISTANCE_M = 85.0, 65.0, 0.5
"""Korean limits for toys, for those held to the ear, both at 50 cm: seen in the abstract of a conference paper. [dB(A)]"""
TOY_USE_M = 0.25
"""Distance at which toys that are not held to the ear are taken to be used; seen in a public text about a standard for toys. [m]"""
_DAY_H = 8.0
_SPREAD = "uncertainty of the level, either way, in dB"
_HOW_SURE = (
    "As uncertain as the level itself: s either way; a room makes it louder. The limits are for adults at work, not for children. Measure the "
    "finished prop; the noise rules of the place decide."
)
_REMEDY = (
    "Turn it down, keep the speaker away from ears, or play it for less time each day. This is only an estimate: measure the finished prop, and follow "
    "the noise rules of the place where it is used."
)

EXPLAINED = explained(
    Explanation(
        "hazard.hearing", "Is a day with the prop too loud for ears?",
        "What harms ears is level and time together: 3 dB more counts as much as twice the time. The mean level while it plays is spread over a day of "
        f"eight hours. With the uncertainty s added, a note above {EU_LOWER_DBA:g} dB(A) and a warning above {EU_UPPER_DBA:g} dB(A); without it, a fault "
        f"above {EU_LIMIT_DBA:g} dB(A). The dose is the share of what NIOSH allows in a day.",
        "Directive 2003/10/EC, Article 3; dose and time: NIOSH recommended exposure limit, as printed on two pages", "a standard", _HOW_SURE,
        formula="{Lday} = {L} + 10 * log10({h} / 8 h); {T} = 8 h / 2^(({L} - 85 dB(A)) / 3 dB); {D} = 100 % * {h} / {T}",
        symbols={"Lday": "level spread over eight hours, in dB(A)", "L": "mean level while it plays, in dB(A)", "s": _SPREAD,
                 "h": "hours_a_day of the listening, in h", "T": "time a day that NIOSH allows at this level, in h",
                 "D": "share of a day's dose, in %"}),
    Explanation(
        "hazard.hearing_ceiling", "Is the prop ever too loud for ears, even for a moment?",
        f"The highest level, as a sound level meter set to F (fast) shows it. A fault where it is above {NIOSH_CEILING_DBA:g} dB(A) with the uncertainty "
        "s added: that level is not allowed for any length of time.",
        "NIOSH recommended exposure limit, ceiling, as printed on two pages", "a standard", _HOW_SURE,
        formula=f"{{L}} + {{s}} > {NIOSH_CEILING_DBA:g} dB(A)", symbols={"L": "highest level, in dB(A)", "s": _SPREAD}),
    Explanation(
        "hazard.impulse", "Can a single bang hurt ears?",
        f"The highest peak of the sound pressure, C-weighted. A finding where it is above {EU_LOWER_PEAK_DBC:g} dB(C) with the uncertainty s added; a "
        f"fault above {IMPULSE_PEAK_DB:g} dB.",
        "Directive 2003/10/EC, Article 3 (112 and 200 Pa); 29 CFR 1910.95", "a standard", _HOW_SURE,
        formula=f"{{L}} + {{s}} > {EU_LOWER_PEAK_DBC:g} dB(C)", symbols={"L": "peak level, in dB(C)", "s": _SPREAD}),
    Explanation(
        "hazard.toy_level", "For information: is the prop louder than a toy may be?",
        f"The highest level at the nearest place is converted to {TOY_DISTANCE_M * 100:g} cm. A note where it is above {TOY_LEVEL_DBA:g} dB(A) there. "
        f"For a prop that is held nearer to an ear than {TOY_USE_M * 100:g} cm, the limit is that of toys held to the ear, {TOY_EAR_LEVEL_DBA:g} dB(A).",
        "Korean limits for toys, seen in the abstract of a conference paper", "research",
        "Only a hint, and uncertain by s either way. Two secondary texts give the same two figures for other countries, but not the distance at which "
        "they are measured. No standard for toys was read, and each has more limits than these. A prop is no toy.",
        formula=f"{{L50}} = {{L}} - 20 * log10({TOY_DISTANCE_M:g} m / {{d}}); {{L50}} > {{Lmax}}",
        symbols={"L50": "highest level at 50 cm, in dB(A)", "L": "highest level at the nearest place, in dB(A)", "d": "distance of that place, in m",
                 "Lmax": "limit of a toy at 50 cm, in dB(A)", "s": _SPREAD}),
)


def niosh_time_min(level_dba: float) -> float:
    """Time a day at a level: 480 / 2^((L - 85) / 3). [min]"""
    return 480 / 2 ** ((level_dba - NIOSH_LEVEL_DBA) / 3)


def osha_time_h(level_dba: float) -> float:
    """Time a day at a level: 8 / 2^((L - 90) / 5). [h]"""
    return 8 / 2 ** ((level_dba - 90) / 5)


def niosh_dose_percent(exposures: Iterable[tuple[float, float]]) -> float:
    """Dose of a day: 100 sum(C / T) over exposures of (level [dB(A)], time C [min]). Levels below 80 dB(A) count too. [%]"""
    return 100 * sum(minutes / niosh_time_min(level) for level, minutes in exposures)


def osha_mean_level_dba(dose_percent: float) -> float:
    """Eight-hour level of the same dose: 16.61 lg(D / 100) + 90. [dB(A)]"""
    return 16.61 * math.log10(dose_percent / 100) + 90


def daily_exposure_level_dba(level_dba: float, hours: float) -> float:
    """LEX,8h of a level heard for so long a day, > 0: L + 10 lg(T / 8 h). [dB(A)]"""
    return level_dba + 10 * math.log10(hours / _DAY_H)


def level_at_db(level_db: float, from_m: float, to_m: float) -> float:
    """A level at another distance in a free field: L - 20 lg(to / from). [dB]"""
    return level_db - 20 * math.log10(to_m / from_m)


@dataclass(frozen=True)
class Exposure:
    """What one place hears. level_dba: LAeq while it plays, highest_dba: LAFmax, peak_dbc: LCpeak; -inf for silence.

    uncertainty_db: either way. hours_a_day: how long it plays like this.
    """

    place: str
    distance_m: float
    level_dba: float
    highest_dba: float
    peak_dbc: float
    uncertainty_db: float
    hours_a_day: float

    @property
    def dose_percent(self) -> float:
        """NIOSH dose of the day at the nominal level. [%]"""
        return niosh_dose_percent([(self.level_dba, self.hours_a_day * 60)])

    @property
    def daily_dba(self) -> float:
        """LEX,8h at the nominal level. [dB(A)]"""
        return daily_exposure_level_dba(self.level_dba, self.hours_a_day)


def hearing_findings(exposure: Exposure) -> tuple[Finding, ...]:
    """Dose, highest level and peak, each held against its limit with the uncertainty added."""
    if not math.isfinite(exposure.level_dba):
        return ()
    found = [_dose(exposure), _highest(exposure), _peak(exposure)]
    return tuple(finding for finding in found if finding is not None)


def _subject(exposure: Exposure) -> str:
    return f"level at {exposure.place} ({exposure.distance_m:g} m)"


def _dose(exposure: Exposure) -> Finding | None:
    daily, spread = exposure.daily_dba, exposure.uncertainty_db
    if daily + spread <= EU_LOWER_DBA:
        return None
    dose = percent_of(exposure.dose_percent, "a day's dose")
    weight = Weight.FAULT if daily > EU_LIMIT_DBA else Weight.WARNING if daily + spread > EU_UPPER_DBA else Weight.NOTE
    return EXPLAINED["hazard.hearing"].finding(
        weight, _subject(exposure),
        f"{exposure.level_dba:.1f} ±{spread:.1f} dB(A) while it plays, {daily:.1f} dB(A) over the day with {exposure.hours_a_day:g} h of it: {dose}; "
        f"allowed for up to {time_in_words(niosh_time_min(exposure.level_dba + spread))} a day, with the uncertainty of the level added",
        f"{EU_LOWER_DBA:g} dB(A) lower, {EU_UPPER_DBA:g} dB(A) upper action value, {EU_LIMIT_DBA:g} dB(A) limit over eight hours",
        _REMEDY,
        {"Lday": f"{daily:.1f} dB(A)", "L": f"{exposure.level_dba:.1f} dB(A)", "s": f"{spread:.1f} dB", "h": f"{exposure.hours_a_day:g} h",
         "T": f"{number(niosh_time_min(exposure.level_dba) / 60)} h", "D": percent_of(exposure.dose_percent)})


def time_in_words(minutes: float) -> str:
    """In words a maker reads at a glance."""
    if minutes >= 24 * 60:
        return "24 h"
    if minutes >= 10 * 60:
        return f"{minutes / 60:.0f} h"
    return f"{minutes / 60:.1f} h" if minutes >= 60 else f"{minutes:.0f} min" if minutes >= 2 else f"{minutes * 60:.0f} s"


def _highest(exposure: Exposure) -> Finding | None:
    if exposure.highest_dba + exposure.uncertainty_db <= NIOSH_CEILING_DBA:
        return None
    return EXPLAINED["hazard.hearing_ceiling"].finding(
        Weight.FAULT, _subject(exposure),
        f"{exposure.highest_dba:.1f} ±{exposure.uncertainty_db:.1f} dB(A) at its loudest (F)", f"{NIOSH_CEILING_DBA:g} dB(A) at any time", _REMEDY,
        {"L": f"{exposure.highest_dba:.1f} dB(A)", "s": f"{exposure.uncertainty_db:.1f} dB"})


def _peak(exposure: Exposure) -> Finding | None:
    if exposure.peak_dbc + exposure.uncertainty_db <= EU_LOWER_PEAK_DBC:
        return None
    over = exposure.peak_dbc + exposure.uncertainty_db > IMPULSE_PEAK_DB
    return EXPLAINED["hazard.impulse"].finding(
        Weight.FAULT if over else Weight.WARNING, _subject(exposure),
        f"peak of {exposure.peak_dbc:.1f} ±{exposure.uncertainty_db:.1f} dB(C)",
        f"{EU_LOWER_PEAK_DBC:g} dB(C) lower action value, {IMPULSE_PEAK_DB:g} dB limit", _REMEDY,
        {"L": f"{exposure.peak_dbc:.1f} dB(C)", "s": f"{exposure.uncertainty_db:.1f} dB"})


def toy_findings(exposures: Iterable[Exposure]) -> tuple[Finding, ...]:
    """For information, what a toy may have: the nearest place counts, for all have the same level when moved to one distance."""
    exposure = min(exposures, key=lambda exposure: exposure.distance_m)
    near_dba = level_at_db(exposure.highest_dba, exposure.distance_m, TOY_DISTANCE_M)
    limit_dba = TOY_EAR_LEVEL_DBA if exposure.distance_m < TOY_USE_M else TOY_LEVEL_DBA
    if near_dba <= limit_dba:
        return ()
    return (EXPLAINED["hazard.toy_level"].finding(
        Weight.NOTE, "for information, if children play with it",
        f"{near_dba:.1f} ±{exposure.uncertainty_db:.1f} dB(A) at 50 cm at its loudest",
        f"{limit_dba:g} dB(A) at 50 cm for toys {'held to the ear' if limit_dba == TOY_EAR_LEVEL_DBA else 'not held to the ear'}",
        "A prop is no toy. If you make it for children, follow the toy standard of your country; nothing more of it is checked here.",
        {"L50": f"{near_dba:.1f} dB(A)", "L": f"{exposure.highest_dba:.1f} dB(A)", "d": f"{exposure.distance_m:g} m",
         "Lmax": f"{limit_dba:g} dB(A)", "s": f"{exposure.uncertainty_db:.1f} dB"}),)
