"""What follows from which number of a data sheet, and what contradicts what."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.acoustics import Driver, completed, contradictions, driver_from, suspects
from fxseq.acoustics.parameters import RELATIONS

numbers = st.fixed_dictionaries(
    {
        "coil_ohm": st.floats(3, 30),
        "force_factor_tm": st.floats(0.5, 10),
        "moving_mass_kg": st.floats(1e-4, 1e-2),
        "compliance_m_per_n": st.floats(1e-5, 2e-3),
        "area_m2": st.floats(5e-5, 1e-2),
        "q_mechanical": st.floats(0.5, 20),
    }
)
# Each of these is enough for all eleven quantities.
ENOUGH = [
    ("resonance_hz", "q_total", "q_mechanical", "coil_ohm", "area_m2", "flat_pa_per_v"),
    ("resonance_hz", "q_electrical", "q_mechanical", "coil_ohm", "area_m2", "equivalent_volume_m3"),
    (
        "resonance_hz",
        "q_mechanical",
        "coil_ohm",
        "moving_mass_kg",
        "force_factor_tm",
        "equivalent_volume_m3",
    ),
    ("coil_ohm", "force_factor_tm", "moving_mass_kg", "compliance_m_per_n", "area_m2", "q_total"),
]


@given(numbers, st.sampled_from(ENOUGH))
def test_every_sufficient_set_gives_the_same_driver(
    stated: dict[str, float], enough: tuple[str, ...]
) -> None:
    whole = completed(stated)
    assert len(whole) == 11
    again = completed({name: whole[name] for name in enough})
    assert again == pytest.approx(whole, rel=1e-6)
    assert contradictions(whole) == []


@given(numbers)
def test_driver_has_the_quantities_it_was_made_of(stated: dict[str, float]) -> None:
    whole = completed(stated)
    driver = driver_from(stated)
    assert isinstance(driver, Driver)
    for name in ("resonance_hz", "q_electrical", "q_mechanical", "q_total", "equivalent_volume_m3"):
        assert getattr(driver, name) == pytest.approx(whole[name], rel=1e-9)


def test_too_few_numbers_make_no_driver() -> None:
    assert driver_from({"resonance_hz": 500, "coil_ohm": 7.0}) is None
    assert completed({"resonance_hz": 500}) == {"resonance_hz": 500}


def whole_sheet() -> dict[str, float]:
    return completed(
        {
            "coil_ohm": 7.0,
            "force_factor_tm": 2.1,
            "moving_mass_kg": 3.2e-4,
            "compliance_m_per_n": 2.2e-4,
            "area_m2": 3.5e-4,
            "q_mechanical": 3.0,
        }
    )


@pytest.mark.parametrize(
    "name",
    [
        "resonance_hz",
        "moving_mass_kg",
        "force_factor_tm",
        "area_m2",
        "equivalent_volume_m3",
        "compliance_m_per_n",
    ],
)
def test_misprint_is_found_and_stands_first_among_the_suspects(name: str) -> None:
    stated = whole_sheet()
    stated[name] *= 1.8
    found = contradictions(stated)
    assert found and all(
        name in (contradiction.name, *contradiction.others) for contradiction in found
    )
    assert name in suspects(stated)


def test_contradiction_says_by_how_much() -> None:
    stated = whole_sheet()
    stated["resonance_hz"] *= 1.2
    first = contradictions(stated)[0]
    assert (first.name, first.off_percent) == ("resonance_hz", pytest.approx(20.0))
    assert first.relation == "fs = 1 / (2 pi sqrt(Mms Cms))"


@pytest.mark.parametrize(
    ("factor", "found"), [(1.09, False), (1.11, True), (0.92, False), (0.90, True)]
)
def test_tenth_is_let_pass(factor: float, found: bool) -> None:
    stated = {
        "resonance_hz": 100.0 * factor,
        "moving_mass_kg": 0.01,
        "compliance_m_per_n": 1 / (0.01 * (2 * math.pi * 100) ** 2),
    }
    assert bool(contradictions(stated)) is found


def test_damping_that_leaves_nothing_is_a_contradiction_without_a_figure() -> None:
    # A total Q above the electrical one cannot be.
    [found] = contradictions({"q_total": 1.2, "q_electrical": 0.9, "q_mechanical": 3.0})
    assert found.off_percent == pytest.approx((1.2 / (1 / (1 / 0.9 + 1 / 3)) - 1) * 100)
    assert "q_mechanical" not in completed({"q_total": 1.2, "q_electrical": 0.9})


def test_every_relation_can_be_solved_for_each_of_its_quantities() -> None:
    whole = whole_sheet()
    for relation in RELATIONS:
        for name in relation.powers:
            assert relation.derive(name, whole) == pytest.approx(whole[name], rel=1e-9)
