"""A speaker whose sensitivity was measured without a baffle, and a moving mass that cannot be."""

import math
from typing import Any

import numpy as np
import pytest

from fxseq.acoustics import (
    driver_of,
    level_db_spl,
    level_uncertainty,
    lost_in_free_air_db,
    short_circuit_db,
)
from fxseq.acoustics.air import MEASURED_AT_HZ, PATH_DIAMETERS, PATH_UNCERTAINTY_DB
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.parts import Speaker
from tests.checks.judged import part_findings


def described(**keys: Any) -> Speaker:
    """Sensitivities at 0.8 V and 10 cm, unless a test says otherwise."""
    return Speaker(
        **{
            "diameter_mm": 9,
            "impedance_ohm": 8,
            "rated_power_w": 0.25,
            "free_resonance_hz": 500,
            "chamber_ml": 0.5,
            "q_total": 1.2,
            "sensitivity_voltage_v": 0.8,
            "sensitivity_distance_m": 0.1,
            **keys,
        }
    )


def found(speaker: Speaker, check: str) -> list[Finding]:
    return [finding for finding in part_findings(speaker, None, 16) if finding.check == check]


@pytest.mark.parametrize("diameter_mm", [5.1, 9, 28, 60])
def test_back_takes_what_two_opposite_sources_a_way_apart_leave(diameter_mm: float) -> None:
    # Flows U and -U into full space, the one a way D nearer, against U into half space: far away on
    # axis, summed as complex pressures.
    way = PATH_DIAMETERS * diameter_mm / 1000
    far = 1000.0
    levels = []
    for frequency_hz in MEASURED_AT_HZ:
        k = 2 * np.pi * frequency_hz / 343.0
        pressures = np.exp(-1j * k * np.array([far - way / 2, far + way / 2])) / (4 * np.pi * far)
        levels.append(20 * math.log10(abs(pressures[0] - pressures[1]) * 2 * np.pi * far))
    assert short_circuit_db(diameter_mm / 1000) == pytest.approx(np.mean(levels), abs=1e-6)


def test_bare_disc_has_a_way_of_0_42_diameters() -> None:
    # Its dipole at low frequencies: force 8/3 rho a^3 j w u of the air on it (textbook, from
    # memory), p = j k F / (4 pi r), against the half-space piston's rho w pi a^2 u / (2 pi r): 4 k
    # a / (3 pi), which is k D / 2 for D = 8 a / (3 pi).
    a = 0.0045
    k = 20.0
    rho_w_u = 1.0
    ratio = k * 8 / 3 * rho_w_u * a**3 / (4 * math.pi) / (rho_w_u * a**2 / 2)
    assert 2 * math.asin(ratio) / k / (2 * a) == pytest.approx(0.424, abs=0.001)
    # The frame lengthens it.
    assert PATH_DIAMETERS > 0.424


def test_large_speaker_loses_nothing_at_these_frequencies_and_the_smaller_the_more() -> None:
    lost = [short_circuit_db(diameter_mm / 1000) for diameter_mm in (500, 200, 80, 40, 20, 10, 5)]
    assert lost[:2] == [0.0, 0.0]
    assert lost[1:] == sorted(lost[1:], reverse=True)
    assert np.isfinite(lost).all()


def test_sensitivity_in_free_air_is_louder_in_a_prop_and_less_sure() -> None:
    baffled, free = (
        described(sensitivity_db=63, sensitivity_baffle=baffle) for baffle in (True, False)
    )
    lost_db = lost_in_free_air_db(free)
    assert (lost_in_free_air_db(baffled), round(lost_db, 1)) == (0.0, 18.4)
    assert level_db_spl(free, 0.1, 0.1) - level_db_spl(baffled, 0.1, 0.1) == pytest.approx(lost_db)
    noise = np.random.default_rng(3).normal(size=8000)
    sure, unsure = (
        level_uncertainty(noise, 16_000, speaker).sensitivity_db for speaker in (baffled, free)
    )
    assert (sure, unsure) == (3.0, pytest.approx(math.hypot(3.0, PATH_UNCERTAINTY_DB)))


def test_sensitivity_in_free_air_is_noted() -> None:
    assert found(described(sensitivity_db=80), "sound.free_air") == []
    assert found(described(sensitivity_db=63, sensitivity_baffle=False), "sound.free_air") == [
        Finding(
            "sound.free_air",
            Weight.NOTE,
            "speaker",
            "its sensitivity was measured in free air; in a baffle it counts as 18 ±4 dB higher",
            "",
            "common practice, no source",
            "Measure it in the prop, or ask its maker for the sensitivity in a baffle.",
        )
    ]


@pytest.mark.parametrize(
    ("sensitivity_db", "weights"),
    [(63, [Weight.WARNING]), (72, []), (80, []), (95, []), (110, [Weight.WARNING])],
)
def test_moving_mass_lies_between_its_air_and_a_heavy_woofers(
    sensitivity_db: float, weights: list[Weight]
) -> None:
    speaker = described(sensitivity_db=sensitivity_db)
    assert [finding.weight for finding in found(speaker, "sound.moving_mass")] == weights
    per_cm2 = driver_of(speaker).moving_mass_kg * 1000 / (driver_of(speaker).area_m2 * 1e4)
    air_g_per_cm2 = 16 / 3 * 1.2e-3 * 0.45 / math.pi
    assert (per_cm2 > 1.1 or per_cm2 < air_g_per_cm2) is bool(weights)


def test_too_heavy_a_cone_asks_for_the_baffle_and_too_light_a_one_does_not() -> None:
    (heavy,), (light,) = (
        found(described(sensitivity_db=level), "sound.moving_mass") for level in (63, 110)
    )
    assert "sensitivity_baffle = false" in heavy.remedy and "sensitivity_baffle" not in light.remedy
    assert (
        heavy.figure
        == "its sensitivity gives a moving mass of 3.08 g, 4.8 g for each cm^2 of its cone"
    )


@pytest.mark.parametrize(
    "keys", [{"moving_mass_g": 5.0}, {"compliance_mm_per_n": 0.01}, {"equivalent_volume_ml": 0.01}]
)
def test_mass_that_does_not_hang_on_the_sensitivity_is_not_doubted_for_it(
    keys: dict[str, float],
) -> None:
    assert found(described(sensitivity_db=63, **keys), "sound.moving_mass") == []


@pytest.mark.parametrize(
    "part",
    [
        "15 mm, 8 ohm",
        "20 mm, 8 ohm",
        "23 mm, 8 ohm",
        "28 mm, 8 ohm",
        "28 mm, 4 ohm",
        "40 mm, 8 ohm",
        "40 mm, 4 ohm",
        "57 mm, 8 ohm",
    ],
)
def test_generic_speakers_have_a_mass_that_can_be(part: str) -> None:
    assert found(Speaker(part=part), "sound.moving_mass") == []
