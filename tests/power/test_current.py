"""Current of groups and what a supply says to it."""

import numpy as np
import pytest

from fxseq.power import Steps, draw, group_current_ma, total
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Group, Supply
from tests.checks.judged import supply_findings

LENS = Group(
    first_channel=0, channels=12, leds=24, colour="amber", forward_voltage_v=2.1, current_ma=20.0
)
CELLS = Supply(kind="cells", voltage_v=6.0, maximum_current_ma=400.0)


def test_every_led_takes_its_own_current() -> None:
    lit = Steps(np.array([0.0, 1.0]), np.array([1.0, 0.25]), 2.0)
    assert group_current_ma(LENS, lit).values == pytest.approx([480.0, 120.0])


def test_draw_of_lights_and_sound_together() -> None:
    lights = group_current_ma(LENS, Steps(np.array([0.0, 900.0]), np.array([1.0, 0.0]), 3600.0))
    sound = Steps(np.array([0.0]), np.array([60.0]), 3600.0)
    taken = draw(total({"lens": lights, "sound": sound}), 6.0)
    # A quarter of an hour of 480 mA and an hour of 60 mA.
    assert taken.charge_mah == pytest.approx(180.0)
    assert taken.mean_ma == pytest.approx(180.0)
    assert taken.peak_ma == pytest.approx(540.0)
    assert taken.energy_wh == pytest.approx(1.08)
    assert taken.as_dict()["duration_s"] == 3600.0


@pytest.mark.parametrize(
    ("values", "weights"),
    [([400.0, 400.0], []), ([401.0, 100.0], [Weight.WARNING]), ([900.0, 100.0], [Weight.FAULT])],
)
def test_supply_is_held_against_peak_and_mean(values: list[float], weights: list[Weight]) -> None:
    taken = draw(Steps(np.array([0.0, 1.0]), np.array(values), 2.0), 6.0)
    assert [finding.weight for finding in supply_findings("stage", CELLS, taken, 0.0)] == weights


def test_a_flat_supply_may_have_to_give_more_than_a_fresh_one() -> None:
    taken = draw(Steps(np.array([0.0]), np.array([390.0]), 1.0), 6.0)
    assert supply_findings("stage", CELLS, taken, 400.0) == ()
    (finding,) = supply_findings("stage", CELLS, taken, 520.0)
    assert (finding.weight, finding.figure) == (
        Weight.WARNING,
        "390 mA peak, 390 mA on average, 520 mA with the supply at its lowest",
    )


def test_finding_names_the_supply_and_its_danger() -> None:
    taken = draw(Steps(np.array([0.0]), np.array([500.0]), 1.0), 6.0)
    (finding,) = supply_findings("stage", CELLS, taken, 0.0)
    assert (finding.subject, finding.figure, finding.limit) == (
        "supply 'stage'",
        "500 mA peak, 500 mA on average",
        "400 mA",
    )
    assert "cells" in finding.remedy
    (finding,) = supply_findings("table", CELLS.model_copy(update={"kind": "wall"}), taken, 0.0)
    assert "adaptor" in finding.remedy
