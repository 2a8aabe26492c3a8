"""Exposure to sound against published tables.

NIOSH: equation and table seen in two copies; 99 dB(A) is left out, where the table has a misprint
(18 min 59 s for 18 min 54 s). OSHA table G-16 (29 CFR 1910.95): seen in two copies, rounded, hence
1.1 %. Directive 2003/10/EC, Article 3: text seen on three pages.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from fxseq.acoustics import peak_level_db
from fxseq.hazards import (
    Exposure,
    daily_exposure_level_dba,
    level_at_db,
    niosh_dose_percent,
    niosh_time_min,
)
from fxseq.sequence.finding import Weight
from tests.checks.judged import hearing_findings, toy_findings

NIOSH_S = {
    82: 57_600,
    85: 28_800,
    88: 14_400,
    91: 7200,
    94: 3600,
    97: 1800,
    100: 900,
    103: 450,
    106: 225,
    110: 89,
    115: 28,
}


@pytest.mark.parametrize("level", NIOSH_S)
def test_niosh_times(level: int) -> None:
    assert niosh_time_min(level) * 60 == pytest.approx(NIOSH_S[level], abs=1)


@pytest.mark.parametrize(
    ("hours", "dose", "daily"), [(4.0, 50.0, 81.99), (8.0, 100.0, 85.0), (16.0, 200.0, 88.01)]
)
def test_dose_and_daily_level_of_a_place_go_together(
    hours: float, dose: float, daily: float
) -> None:
    # NIOSH: a day's level is 10 lg(D / 100) + 85, equation seen in one copy. Both are worked out
    # from level and hours.
    place = exposure(85.0, hours=hours)
    assert (place.dose_percent, place.daily_dba) == (
        pytest.approx(dose),
        pytest.approx(daily, abs=0.005),
    )


def test_dose_of_200_shots_of_two_seconds_at_100_dba() -> None:
    # Computed from the rule: 400 s of 900 s.
    assert niosh_dose_percent([(100.0, 2 / 60)] * 200) == pytest.approx(44.44, abs=0.01)
    assert exposure(100.0, hours=200 * 2 / 3600).dose_percent == pytest.approx(44.44, abs=0.01)


@pytest.mark.parametrize(
    ("pascal", "level", "weights"),
    [
        (112.0, 134.96, []),
        (140.0, 136.90, [Weight.WARNING]),
        (200.0, 140.0, [Weight.WARNING]),
    ],
)
def test_peaks_of_the_directive_as_a_prop_makes_them(
    pascal: float, level: float, weights: list[Weight]
) -> None:
    # 112, 140 and 200 Pa, commonly quoted as 135, 137 and 140 dB(C): below the lower action value
    # as quoted, above it, and at the most there may be.
    peak_dbc = peak_level_db(np.array([0.0, pascal, 0.0]))
    assert peak_dbc == pytest.approx(level, abs=0.005)
    found = hearing_findings(replace(exposure(60.0, peak=peak_dbc), uncertainty_db=0.0))
    assert [finding.weight for finding in found] == weights


@pytest.mark.parametrize(("distance_m", "level"), [(0.25, 91.02), (1.0, 78.98)])
def test_limit_at_another_distance(distance_m: float, level: float) -> None:
    # Computed from the definition of a free field.
    assert level_at_db(85.0, 0.5, distance_m) == pytest.approx(level, abs=0.01)


@pytest.mark.parametrize(("distance_m", "level"), [(0.25, 71.02), (0.05, 85.0)])
def test_limit_for_toys_held_to_the_ear_at_another_distance(
    distance_m: float, level: float
) -> None:
    # 65 dB(A) at 50 cm, the limit for such toys in the same abstract: 20 dB below the others', ten
    # times as near. Computed: a free field.
    assert level_at_db(65.0, 0.5, distance_m) == pytest.approx(level, abs=0.01)


def test_eight_hours_are_their_own_daily_level_and_half_the_time_is_3_db_less() -> None:
    assert daily_exposure_level_dba(85.0, 8.0) == 85.0
    assert daily_exposure_level_dba(85.0, 4.0) == pytest.approx(85.0 - 10 * math.log10(2))


def exposure(
    level: float,
    peak: float = 90.0,
    highest: float | None = None,
    hours: float = 8.0,
    distance_m: float = 0.5,
) -> Exposure:
    return Exposure(
        "hand", distance_m, level, level if highest is None else highest, peak, 3.0, hours
    )


@pytest.mark.parametrize(
    ("level", "weights"),
    [(76.9, []), (77.1, [Weight.NOTE]), (82.1, [Weight.WARNING]), (87.1, [Weight.FAULT])],
)
def test_dose_weighs_by_the_action_values_of_the_directive(
    level: float, weights: list[Weight]
) -> None:
    assert [
        finding.weight
        for finding in hearing_findings(exposure(level))
        if finding.check == "hazard.hearing"
    ] == weights


def test_dose_says_how_long_is_allowed_at_the_unkind_end_of_the_level() -> None:
    [finding] = hearing_findings(exposure(82.0, hours=2.0, distance_m=4.0))[:1] or [None]
    assert finding is None
    [finding] = hearing_findings(exposure(94.0, hours=1.0, distance_m=4.0))
    # 97 dB(A) with the uncertainty added: 30 min; one hour at 94 dB(A) is the dose of a day.
    assert (
        "allowed for up to 30 min a day, with the uncertainty of the level added" in finding.figure
        and "100 % of a day's dose" in finding.figure
    )
    assert dict(finding.inputs)["T"] == "1 h"


@pytest.mark.parametrize(
    ("peak", "weights"), [(131.9, []), (132.1, [Weight.WARNING]), (137.1, [Weight.FAULT])]
)
def test_peak_is_held_against_135_and_140_db(peak: float, weights: list[Weight]) -> None:
    assert [
        finding.weight
        for finding in hearing_findings(exposure(60.0, peak=peak))
        if finding.check == "hazard.impulse"
    ] == weights


def test_ceiling_of_115_dba_holds_at_any_time() -> None:
    assert "hazard.hearing_ceiling" in {
        finding.check for finding in hearing_findings(exposure(60.0, highest=112.1))
    }
    assert "hazard.hearing_ceiling" not in {
        finding.check for finding in hearing_findings(exposure(60.0, highest=111.9))
    }


@pytest.mark.parametrize(
    ("highest", "distance_m", "limit"),
    [
        (84.9, 0.5, None),
        (85.1, 0.5, "85 dB(A) at 50 cm for toys not held to the ear"),
        (90.9, 0.25, None),
        (91.1, 0.25, "85 dB(A) at 50 cm"),
        (78.9, 1.0, None),
        (79.1, 1.0, "85 dB(A) at 50 cm"),
        (84.9, 0.05, None),
        (85.1, 0.05, "65 dB(A) at 50 cm for toys held to the ear"),
    ],
)
def test_level_is_held_against_what_toys_may_have_for_information(
    highest: float, distance_m: float, limit: str | None
) -> None:
    # 65 and 85 dB(A) at 50 cm: Korean limits for toys, seen in the abstract of a conference paper.
    # The same two in secondary texts about the standards of two other countries, not cross-checked.
    # Toys not held to the ear: used at 25 cm, a public text about one of these.
    found = toy_findings(
        [
            exposure(60.0, highest=highest, distance_m=distance_m),
            exposure(60.0, highest=highest - 60, distance_m=50.0),
        ]
    )
    assert [finding.weight for finding in found] == ([] if limit is None else [Weight.NOTE])
    assert all(
        finding.subject.startswith("for information") and finding.limit.startswith(limit or "")
        for finding in found
    )


def test_silence_is_no_hazard() -> None:
    silence = Exposure("hand", 0.5, -math.inf, -math.inf, -math.inf, 3.0, 8.0)
    assert hearing_findings(silence) == toy_findings([silence]) == ()
