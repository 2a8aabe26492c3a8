"""From any description of a speaker that a file may give to one circuit."""

import math
import re
from typing import Any

import numpy as np
import pytest
from described import ANY, some
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fxseq.acoustics import (
    Uncertainty,
    driver_of,
    excursion_response,
    flat_pa_per_v,
    level_db_spl,
    level_report,
    levels_at,
    mounted_resonance_hz,
    settled_after_s,
    speaker_response,
)
from fxseq.sequence.parts import Amplifier, Speaker
from fxseq.sequence.sound_rules import speaker_faults
from tests.checks.judged import part_findings

FREQUENCIES = np.concatenate([[0.0], np.geomspace(1, 20_000, 200)])
RATE_HZ = 22_050


def described(**keys: Any) -> Speaker:
    return Speaker(**{"diameter_mm": 28, "impedance_ohm": 8, "rated_power_w": 1, **keys})


@settings(max_examples=150)
@given(ANY)
def test_every_accepted_description_makes_a_cone_on_a_spring(keys: dict[str, Any]) -> None:
    speaker = Speaker(**keys)
    assume(not list(speaker_faults(speaker)))
    driver = driver_of(speaker)
    moved = excursion_response(speaker)(FREQUENCIES)
    # Nearly at rest the force of one volt, Bl / Re, works against suspension and air, and against
    # what strong motors brake.
    softened = (mounted_resonance_hz(speaker) / driver.resonance_hz) ** 2
    at_rest_m = driver.force_factor_tm / driver.coil_ohm * driver.compliance_m_per_n / softened
    # The response begins a little above 0 Hz, where a cone of a low resonance moves a little more
    # already.
    assert abs(moved[0]) <= 1.01 * at_rest_m
    heard = np.abs(speaker_response(speaker, 1.0)(FREQUENCIES))
    assert np.isfinite(moved).all() and np.isfinite(heard).all() and heard[0] < heard.max()
    assert 0 < settled_after_s(speaker) < math.inf
    assert 0 < mounted_resonance_hz(speaker) < math.inf
    assert math.isfinite(level_db_spl(speaker, 1.0, 1.0))
    assert all(
        not re.search(r"\b(nan|inf)\b", finding.figure)
        for finding in part_findings(speaker, None, 16)
    )


def test_wide_holes_hardly_make_a_transient_longer() -> None:
    """The air in 300 holes of 4 mm weighs less than a milligram on the cone: rho (t + 1.7 a) S^2
    over the open area (textbook, from memory).
    """
    bare, covered = (
        described(resonance_hz=700, q_total=2.0, sensitivity_db=80, **more)
        for more in ({}, {"grille": {"holes": 300, "hole_mm": 4, "thickness_mm": 0.5, "gap_ml": 1}})
    )
    assert settled_after_s(bare) < settled_after_s(covered) < 1.1 * settled_after_s(bare)


@pytest.mark.parametrize(("q_total", "slowest"), [(0.3, 1 / 3), (0.5, 1.0), (2.0, 0.25)])
def test_a_transient_is_over_with_its_slower_pole(q_total: float, slowest: float) -> None:
    # s^2 + s w / Q + w^2: at a Q of 0.3 the poles are w (5/3 -+ 4/3), at 0.5 both w, at 2 the real
    # part is w / 4. e^-16 counts as gone.
    speaker = described(resonance_hz=700, q_total=q_total, sensitivity_db=80)
    assert settled_after_s(speaker) == pytest.approx(16 / (2 * math.pi * 700 * slowest), rel=1e-6)


@pytest.mark.parametrize(
    ("convention", "level_db"),
    [
        ({}, 80.0),
        ({"sensitivity_power_w": 0.1, "sensitivity_distance_m": 0.1}, 90.0),
        ({"sensitivity_voltage_v": math.sqrt(8)}, 80.0),
        ({"sensitivity_voltage_v": 2.0, "sensitivity_distance_m": 0.05}, 80 - 3.0103 + 26.0206),
    ],
)
def test_same_speaker_in_every_usual_convention(
    convention: dict[str, float], level_db: float
) -> None:
    # By definition: 1 W/1 m, 0.1 W/0.1 m, 2.83 V/1 m and 2 V/5 cm of an 8 ohm speaker.
    speaker = described(resonance_hz=700, sensitivity_db=level_db, **convention)
    assert level_db_spl(speaker, 1.0, 1.0) == pytest.approx(80.0, abs=1e-3)


@pytest.mark.parametrize(("impedance_ohm", "one_watt_db"), [(8, 85.0), (4, 85.0 - 3.0103)])
def test_2_83_v_are_one_watt_in_8_ohm_and_two_in_4(
    impedance_ohm: float, one_watt_db: float
) -> None:
    # By definition: + 10 lg(8 / Z).
    speaker = described(
        impedance_ohm=impedance_ohm,
        resonance_hz=700,
        sensitivity_db=85.0,
        sensitivity_voltage_v=math.sqrt(8),
    )
    assert level_db_spl(speaker, 1.0, 1.0) == pytest.approx(one_watt_db, abs=1e-3)


@pytest.mark.parametrize(
    ("stated_db", "power_w", "distance_m", "tenth_db"),
    [(78, 1.0, 1.0, 88), (93, 0.1, 0.1, 93), (90, 0.1, 0.1, 90), (89, 0.1, 0.1, 89)],
)
def test_sensitivities_of_small_speakers_as_printed(
    stated_db: float, power_w: float, distance_m: float, tenth_db: float
) -> None:
    # Data sheets of generic speakers of 15, 20, 23 and 57 mm, turned into 0.1 W at 0.1 m.
    speaker = described(
        resonance_hz=700,
        sensitivity_db=stated_db,
        sensitivity_power_w=power_w,
        sensitivity_distance_m=distance_m,
    )
    assert level_db_spl(speaker, 0.1, 0.1) == pytest.approx(tenth_db, abs=1e-6)


def test_chamber_raises_resonance_and_q_by_the_same_factor() -> None:
    speaker = described(free_resonance_hz=500, q_total=0.9, sensitivity_db=80)
    boxed = speaker.model_copy(
        update={"chamber_ml": driver_of(speaker).equivalent_volume_m3 * 1e6 / 3}
    )
    # A chamber of a third of Vas: sqrt(1 + 3) = 2.
    assert mounted_resonance_hz(boxed) == pytest.approx(1000.0)
    # At resonance a closed box gives Qtc times its flat range (R. H. Small).
    assert abs(speaker_response(boxed, 1.0)(np.array([1000.0]))[0]) / flat_pa_per_v(
        driver_of(boxed)
    ) == pytest.approx(1.8, rel=1e-6)


def test_full_parameters_need_no_sensitivity() -> None:
    speaker = described(
        free_resonance_hz=600,
        q_mechanical=4.0,
        coil_ohm=7.1,
        moving_mass_g=0.32,
        force_factor_tm=2.1,
        cone_area_cm2=3.5,
    )
    assert not list(speaker_faults(speaker))
    driver = driver_of(speaker)
    assert (
        driver.moving_mass_kg,
        driver.force_factor_tm,
        driver.coil_ohm,
        driver.area_m2,
    ) == pytest.approx((0.32e-3, 2.1, 7.1, 3.5e-4))
    # rho Sd Bl / (2 pi Mms Re).
    assert flat_pa_per_v(driver) == pytest.approx(
        1.2 * 3.5e-4 * 2.1 / (2 * math.pi * 0.32e-3 * 7.1)
    )


def test_contradiction_names_the_keys_of_the_file_and_by_how_much() -> None:
    speaker = described(
        free_resonance_hz=500, sensitivity_db=80, moving_mass_g=1.0, compliance_mm_per_n=0.2
    )
    [found] = [
        finding
        for finding in part_findings(speaker, None, 16)
        if finding.check == "sound.parameters"
    ]
    # 1 / (2 pi sqrt(1 g * 0.2 mm/N)) = 356 Hz.
    assert (
        found.figure
        == "free_resonance_hz is 500 Hz, but 356 Hz follows from moving_mass_g, compliance_mm_per_n"
        " (+40 %)"
    )


@settings(max_examples=25)
@given(st.integers(0, 2**32 - 1), some(0.06, 50), some(1.01, 5))
def test_farther_is_never_louder(seed: int, distance_m: float, further: float) -> None:
    noise = np.random.default_rng(seed).normal(size=2000).astype(np.float32)
    speaker = described(resonance_hz=700, sensitivity_db=80)
    levels = levels_at(noise, RATE_HZ, speaker, {"near": distance_m, "far": distance_m * further})
    assert levels["far"].laeq_db < levels["near"].laeq_db


def test_level_is_given_with_its_doubts_and_their_causes() -> None:
    samples = np.round(8000 * np.sin(2 * np.pi * 800 * np.arange(RATE_HZ) / RATE_HZ)).astype(
        np.int16
    )
    report = level_report(
        samples,
        RATE_HZ,
        Amplifier(part="class D bridge, 5 V"),
        Speaker(part="28 mm, 8 ohm", chamber_ml=15),
        {"hand": 0.5},
        5.0,
    )
    assert isinstance(report.uncertainty, Uncertainty)
    told = report.as_dict()["uncertainty"]
    assert set(told) == {"sensitivity_db", "distance_db", "leakage_db", "total_db"}
    # 800 Hz, near the resonance of 680: a leak of QL 5 takes some tenths of a dB.
    tight, leaking = (
        abs(
            speaker_response(Speaker(part="28 mm, 8 ohm", chamber_ml=15), 1.0, leak_q=q)(
                np.array([800.0])
            )[0]
        )
        for q in (None, 5.0)
    )
    assert (
        told["leakage_db"] == pytest.approx(abs(20 * math.log10(leaking / tight)), abs=0.1)
        and told["leakage_db"] > 0.3
    )
    assert told["total_db"] == pytest.approx(
        math.hypot(told["sensitivity_db"], told["distance_db"], told["leakage_db"])
    )
