"""Cautions that go with parts."""

import pytest

from fxseq.checks.supply import ADAPTOR_CAUTION, LITHIUM_CAUTION
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Colour, Group
from tests.checks.judged import eye_findings


def group(colour: Colour, current_ma: float) -> Group:
    return Group(
        first_channel=0, leds=1, colour=colour, forward_voltage_v=3.0, current_ma=current_ma
    )


@pytest.mark.parametrize(
    ("colour", "current_ma", "noted"),
    [
        ("white", 350, True),
        ("blue", 100, True),
        ("white", 20, False),
        ("red", 350, False),
        ("warm_white", 350, False),
    ],
)
def test_bright_leds_with_blue_in_them_get_an_eye_note(
    colour: Colour, current_ma: float, noted: bool
) -> None:
    found = eye_findings("lamp", group(colour, current_ma))
    assert [(finding.check, finding.weight) for finding in found] == (
        [("hazard.eye", Weight.NOTE)] if noted else []
    )


def test_eye_note_leaves_the_risk_group_to_the_maker_of_the_led() -> None:
    [finding] = eye_findings("lamp", group("white", 350))
    assert "IEC 62471" in finding.source and "maker" in finding.remedy


def test_cautions_defer_to_protection_and_licensed_people() -> None:
    assert "licensed" in ADAPTOR_CAUTION
    assert "protection" in LITHIUM_CAUTION
