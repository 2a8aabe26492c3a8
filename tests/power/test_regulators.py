"""A regulator behind the supplies: figures of published pages, what hangs on it, and what is
said against it.
"""

from typing import Any

import numpy as np
import pytest

from fxseq.power import PlayedRail, Steps, circuits, regulation, stops_at_v, wiring_schedule
from fxseq.power.cells import Estimate
from fxseq.power.layout import Range
from fxseq.power.regulators import Regulation, board_load, fed
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Sequence
from tests.checks.judged import circuit_findings, dropout_findings

CELLS = {
    "kind": "cells",
    "voltage_v": 6.4,
    "maximum_current_ma": 1000,
    "cell": "alkaline_aa",
    "cells_in_series": 4,
}
ONE_CELL = {"kind": "cells", "voltage_v": 4.0, "maximum_current_ma": 2000, "cell": "li_ion"}
WALL = {"kind": "wall", "voltage_v": 12.0, "maximum_current_ma": 1000, "tolerance_percent": 0}
LAMP = {
    "first_channel": 0,
    "channels": 2,
    "leds": 4,
    "colour": "red",
    "forward_voltage_v": 2.0,
    "current_ma": 10,
    "switch": "mosfet",
}


def prop(
    supply: dict[str, Any] = CELLS,
    lamp: dict[str, Any] | None = None,
    board: dict[str, Any] | None = None,
    **regulator: Any,
) -> Sequence:
    return Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 2, "current_ma": 50, **(board or {})},
            "supplies": {"pack": supply},
            "groups": {"lamp": {**LAMP, **(lamp or {})}},
            "regulator": {"output_v": 5.0, **regulator} if regulator else None,
        }
    )


def regulated(**regulator: Any) -> Regulation:
    found = regulation(prop(**regulator))
    assert found is not None
    return found


def text(described: Sequence) -> dict[str, tuple[Weight, str]]:
    found = circuit_findings(described, circuits(described))
    return {
        finding.check: (finding.weight, finding.figure)
        for finding in found
        if finding.check in ("power.dropout", "power.step_up")
    }


def test_linear_regulator_of_a_suppliers_page() -> None:
    # A supplier's page: 12 V to 5 V at 0.5 A makes 3.5 W of heat and is 41.7 % efficient; a classic
    # 5 V type needs 7 V.
    classic = regulated(kind="linear", own_current_ma=0)
    assert classic.heat_w(12.0, 0.5) == pytest.approx(3.5)
    assert 5.0 * 0.5 / (12.0 * classic.ratio(12.0) * 0.5) == pytest.approx(0.417, abs=0.0005)
    assert regulated(kind="linear").holds_from_v == 7.0


def test_switching_converter_of_a_tutorial() -> None:
    # A tutorial: plan with 80 %. 5 V at 0.4 A then take 2.5 W, from any voltage.
    for kind, supply_v in (("step_up", 3.7), ("step_down", 12.0)):
        found = regulated(kind=kind, own_current_ma=0)
        assert float(found.load(0.4).at(supply_v)[0]) * supply_v == pytest.approx(2.5)
        assert found.ratio(supply_v) * 0.4 * supply_v == pytest.approx(2.5)
        assert found.heat_w(supply_v, 0.4) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("kind", "given_v"),
    [
        ("linear", [0.0, 1.0, 4.0, 5.0, 5.0]),
        ("low_dropout", [0.7, 2.7, 5.0, 5.0, 5.0]),
        ("step_up", [5.0] * 5),
    ],
)
def test_below_its_least_input_the_output_goes_down_with_it(
    kind: str, given_v: list[float]
) -> None:
    # The drop of the generic parts: 2 V and 0.3 V.
    assert regulated(kind=kind).given_v([1.0, 3.0, 6.0, 7.0, 12.0]) == pytest.approx(given_v)
    assert regulated(kind=kind).given_v(np.nan) == 0.0


def test_what_it_takes_for_itself_is_on_the_supply() -> None:
    # 50 mA of the board and 5 mA from memory for a classic type; 50 mA of 5 V at 80 % from 6.4 V,
    # and 1 mA.
    assert float(board_load(prop(kind="linear")).at(6.4)[0]) == pytest.approx(0.055)
    assert float(board_load(prop(kind="step_up")).at(6.4)[0]) == pytest.approx(
        0.05 * 5 / 0.8 / 6.4 + 0.001
    )
    assert float(board_load(prop(kind="step_up", feeds=["lights"])).at(6.4)[0]) == pytest.approx(
        0.051
    )
    assert float(board_load(prop()).at(6.4)[0]) == pytest.approx(0.05)


def test_lights_on_a_regulator_are_laid_out_for_its_output() -> None:
    steady = circuits(prop(kind="low_dropout", feeds=["lights"], output_v=4.5))["lamp"]
    plain = circuits(prop())["lamp"]
    assert (steady.feed, plain.feed) == (Range(4.5, 4.5), Range(pytest.approx(3.2), 6.4))
    assert steady.fresh_ma == steady.flat_ma
    full = Steps(np.zeros(1), np.ones(1), 1.0)
    # As much from 4.9 V as from 6.4 V, where a plain string takes less.
    assert steady.load(full).at(4.9)[0] == pytest.approx(steady.load(full).at(6.4)[0])
    assert plain.load(full).at(4.9)[0] < plain.load(full).at(6.4)[0]


def test_leds_on_pins_hang_on_the_regulator_of_the_board() -> None:
    pins = {"switch": "pin", "current_ma": 2}
    on_pin = circuits(prop(kind="step_up", lamp=pins, feeds=["board"]))["lamp"]
    assert on_pin.feed == Range(3.3, 3.3) and on_pin.regulator is not None
    assert circuits(prop(kind="step_up", lamp=pins, feeds=["lights"]))["lamp"].regulator is None
    assert fed("amplifier", prop(kind="step_up", feeds=["board"]), Range(3.0, 4.0)) == Range(
        3.0, 4.0
    )


@pytest.mark.parametrize(
    ("supply", "regulator", "expected"),
    [
        # The trap: four fresh alkaline cells are 6.4 V, a classic 5 V type needs 7 V.
        (
            CELLS,
            {"kind": "linear"},
            {
                "power.dropout": (
                    Weight.FAULT,
                    "6.4 V fresh, without load, leave its output at 4.4 V",
                )
            },
        ),
        # 5.3 V of four cells, 1.325 V each: between depths of 0.29 (1.333 V) and 0.5 (1.27 V) of
        # the curve, 0.32.
        (
            CELLS,
            {"kind": "low_dropout"},
            {
                "power.dropout": (
                    Weight.NOTE,
                    "without load, it holds its output until the cells are 32% used up",
                )
            },
        ),
        (CELLS, {"kind": "low_dropout", "output_v": 2.0}, {}),
        ({**CELLS, "minimum_v": 5.4}, {"kind": "low_dropout"}, {}),
        ({**WALL, "voltage_v": 7.0}, {"kind": "linear"}, {}),
        (
            {**WALL, "voltage_v": 7.0, "tolerance_percent": 5},
            {"kind": "linear"},
            {"power.dropout": (Weight.WARNING, "6.65 V at its lowest leave its output at 4.65 V")},
        ),
        (WALL, {"kind": "step_down"}, {}),
        (ONE_CELL, {"kind": "step_up"}, {}),
        (
            WALL,
            {"kind": "step_up"},
            {"power.step_up": (Weight.FAULT, "12 V fresh, which goes straight through")},
        ),
        (
            {**WALL, "voltage_v": 5.0, "tolerance_percent": 5},
            {"kind": "step_up"},
            {
                "power.step_up": (
                    Weight.WARNING,
                    "5.25 V at its highest, which goes straight through",
                )
            },
        ),
        (CELLS, {}, {}),
    ],
)
def test_what_is_said_of_its_input(
    supply: dict[str, Any], regulator: dict[str, Any], expected: dict[str, Any]
) -> None:
    assert text(prop(supply, **regulator)) == expected


@pytest.mark.parametrize(
    ("minimum_v", "lowest_v", "checks"),
    [(0.0, 6.8, []), (4.0, 6.8, ["power.dropout"]), (4.0, 7.1, []), (4.0, np.nan, [])],
)
def test_a_rail_that_sags_below_its_least_input(
    minimum_v: float, lowest_v: float, checks: list[str]
) -> None:
    described = prop({**WALL, "minimum_v": minimum_v}, kind="linear")
    rail = PlayedRail(
        Steps(np.zeros(1), np.full(1, lowest_v), 1.0), Estimate(lowest_v, lowest_v, 12.0), 0.5
    )
    assert [
        finding.check
        for finding in dropout_findings("pack", described.supplies["pack"], described, rail)
    ] == checks


@pytest.mark.parametrize(
    ("minimum_v", "regulator", "stops_v"),
    [
        (0.0, {}, 0.0),
        (4.4, {}, 4.4),
        (0.0, {"kind": "linear"}, 7.0),
        (4.4, {"kind": "linear"}, 4.4),
        (0.0, {"kind": "linear", "dropout_v": 1.2}, 6.2),
        (0.0, {"kind": "step_up"}, 0.0),
    ],
)
def test_without_a_minimum_the_prop_stops_where_its_regulator_does(
    minimum_v: float, regulator: dict[str, Any], stops_v: float
) -> None:
    described = prop({**CELLS, "minimum_v": minimum_v}, **regulator)
    assert stops_at_v(described.supplies["pack"], described) == pytest.approx(stops_v)


def test_the_papers_name_it_with_what_it_gives() -> None:
    plan = wiring_schedule(
        prop(WALL, kind="linear", feeds=["board", "lights"], own_current_ma=0), {}
    )
    lamp_ma = 2 * plan.groups[0].circuit.channel_ma.typical
    assert plan.regulator is not None and plan.regulator.needs_v == 7.0
    assert plan.regulator.all_ma == pytest.approx(50 + lamp_ma)
    assert plan.regulator.heat_w == pytest.approx((12 - 5) * (0.05 + lamp_ma / 1000))
    assert plan.groups[0].common == "regulator +"
    assert wiring_schedule(prop(WALL), {}).regulator is None


def test_a_line_to_a_step_up_converter_is_laid_out_for_the_flat_cell() -> None:
    # 50 mA of 5 V at 80 %: 0.3125 W, from 3.0 V at which a lithium cell ends, and 1 mA for itself.
    (line,) = wiring_schedule(prop(ONE_CELL, kind="step_up"), {}).lines
    assert line.board_ma == pytest.approx(312.5 / 3.0 + 1)
