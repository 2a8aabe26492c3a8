"""More is never less dangerous: louder, longer, nearer, faster, deeper."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.hazards import (
    Exposure,
    daily_exposure_level_dba,
    longest_sequence,
    low_risk_percent,
    niosh_dose_percent,
    niosh_time_min,
    no_effect_percent,
    solid_angle_sr,
    worst_second,
)
from tests.checks.judged import hearing_findings, pwm_findings, toy_findings

LEVEL = st.floats(-300, 300)
MORE_DB = st.floats(0, 100)
HOURS = st.floats(0.01, 24)
TIMES = st.lists(st.floats(0, 20), max_size=40).map(lambda times: np.array(sorted(times)))


def weight(findings: tuple) -> dict[str, int]:
    """Heaviest of each check."""
    found: dict[str, int] = {}
    for finding in findings:
        found[finding.check] = max(found.get(finding.check, 0), int(finding.weight))
    return found


def exposure(
    level: float, hours: float = 8.0, spread: float = 3.0, distance_m: float = 0.5
) -> Exposure:
    return Exposure("hand", distance_m, level, level + 5, level + 20, spread, hours)


@given(LEVEL, MORE_DB, HOURS, st.floats(1, 10), st.floats(0, 20))
def test_louder_longer_or_less_sure_is_never_judged_milder(
    level: float, more_db: float, hours: float, longer: float, less_sure: float
) -> None:
    mild = weight(hearing_findings(exposure(level, hours)))
    for worse in (
        exposure(level + more_db, hours),
        exposure(level, min(hours * longer, 24)),
        exposure(level, hours, 3 + less_sure),
    ):
        found = weight(hearing_findings(worse))
        assert all(found.get(check, -1) >= heaviness for check, heaviness in mild.items())


@given(LEVEL, MORE_DB, st.floats(0.05, 0.24))
def test_louder_or_nearer_to_an_ear_is_never_kept_from_the_note_on_toys(
    level: float, more_db: float, near_m: float
) -> None:
    noted = bool(toy_findings([exposure(level)]))
    assert bool(toy_findings([exposure(level + more_db)])) >= noted
    # The same level at 50 cm, held nearer: at most the stricter limit.
    moved = exposure(level + 20 * math.log10(0.5 / near_m), distance_m=near_m)
    assert bool(toy_findings([moved])) >= noted


@given(st.floats(-1000, 1000), HOURS, st.floats(0, 50))
def test_no_level_gives_a_text_without_a_number(level: float, hours: float, spread: float) -> None:
    for finding in (
        *hearing_findings(exposure(level, hours, spread)),
        *toy_findings([exposure(level, hours, spread)]),
    ):
        assert "nan" not in finding.figure and "inf" not in finding.figure


@given(st.floats(0, 200), st.floats(0.01, 50), HOURS)
def test_dose_and_times_follow_level_and_hours(level: float, more_db: float, hours: float) -> None:
    assert niosh_time_min(level + more_db) < niosh_time_min(level)
    assert niosh_dose_percent([(level + more_db, 60 * hours)]) > niosh_dose_percent(
        [(level, 60 * hours)]
    )
    assert daily_exposure_level_dba(level + more_db, hours) > daily_exposure_level_dba(level, hours)
    assert daily_exposure_level_dba(level, hours * 1.01) > daily_exposure_level_dba(level, hours)


@given(st.lists(st.tuples(st.floats(0, 150), st.floats(0.1, 480)), min_size=1, max_size=8))
def test_dose_of_a_day_is_that_of_its_parts_in_any_order(parts: list[tuple[float, float]]) -> None:
    assert niosh_dose_percent(parts) == pytest.approx(
        sum(niosh_dose_percent([part]) for part in reversed(parts))
    )


@given(st.floats(1, 100_000), st.floats(1, 10), st.floats(0, 100), st.floats(0, 100))
def test_faster_dimming_is_never_judged_harder_and_deeper_never_milder(
    frequency_hz: float, faster: float, depth: float, other: float
) -> None:
    assert (
        low_risk_percent(frequency_hz * faster)
        >= low_risk_percent(frequency_hz)
        >= no_effect_percent(frequency_hz)
    )
    assert no_effect_percent(frequency_hz * faster) >= no_effect_percent(frequency_hz)
    shallow, deep = sorted((depth, other))
    heavy = weight(pwm_findings(frequency_hz, deep)).get("hazard.flicker", -1)
    assert weight(pwm_findings(frequency_hz, shallow)).get("hazard.flicker", -1) <= heavy
    assert weight(pwm_findings(frequency_hz * faster, deep)).get("hazard.flicker", -1) <= heavy


@given(TIMES, st.floats(1, 10))
def test_slower_flashes_are_never_more_in_a_second(times_s: np.ndarray, slower: float) -> None:
    assert worst_second(times_s * slower).transitions <= worst_second(times_s).transitions


@given(TIMES, st.floats(0, 20))
def test_one_more_flash_is_never_fewer_and_never_a_shorter_stretch(
    times_s: np.ndarray, at_s: float
) -> None:
    with_one_more = np.sort(np.append(times_s, at_s))
    assert worst_second(with_one_more).transitions >= worst_second(times_s).transitions
    assert longest_sequence(with_one_more).length_s >= longest_sequence(times_s).length_s - 1e-9


@given(st.floats(1e-7, 1), st.floats(0.05, 100), st.floats(1, 10))
def test_nearer_light_is_larger(area_m2: float, distance_m: float, further: float) -> None:
    assert solid_angle_sr(area_m2, distance_m) >= solid_angle_sr(area_m2, distance_m * further)
