"""Cautions that go with parts."""
import pytest

from fxseq.hazards import NOTHING_IS_CERTIFIED, adaptor_finding, eye_findings, hot_part_finding, lithium_finding, overloaded_part_finding
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Colour, Group


def group(colour: Colour, current_ma: float) -> Group:
    return Group(first_channel=0, leds=1, colour=colour, forward_voltage_v=3.0, current_ma=current_ma)


@pytest.mark.parametrize(
    ("colour", "current_ma", "noted"), [("white", 350, True), ("blue", 100, True), ("white", 20, False), ("red", 350, False), ("warm_white", 350, False)])
def test_bright_leds_with_blue_in_them_get_an_eye_note(colour: Colour, current_ma: float, noted: bool) -> None:
    found = eye_findings("lamp", group(colour, current_ma))
    assert [(finding.check, finding.weight) for finding in found] == ([("hazard.eye", Weight.NOTE)] if noted else [])


def test_eye_note_leaves_the_risk_group_to_the_maker_of_the_led() -> None:
    [finding] = eye_findings("lamp", group("white", 350))
    assert "IEC 62471" in finding.source and "maker" in finding.remedy


@pytest.mark.parametrize(("temperature_c", "found"), [(60.0, False), (60.1, True)])
def test_part_too_hot_to_touch_is_a_warning(temperature_c: float, found: bool) -> None:
    finding = hot_part_finding("resistor of group 'lamp'", temperature_c)
    assert (finding is not None) is found


@pytest.mark.parametrize(("power_w", "weight"), [(0.125, None), (0.13, Weight.WARNING), (0.26, Weight.FAULT)])
def test_part_is_used_at_half_its_rating(power_w: float, weight: Weight | None) -> None:
    finding = overloaded_part_finding("resistor", power_w, 0.25)
    assert (finding.weight if finding else None) == weight


def test_cautions_defer_to_codes_and_licensed_people() -> None:
    assert "local codes and licensed practice" in NOTHING_IS_CERTIFIED
    assert "licensed" in adaptor_finding("supply 'wall'").remedy
    assert "protection" in lithium_finding("supply 'pack'").remedy
