"""Findings on wiring and supplies, each provoked by its cause and absent without it."""

import math
from typing import Any

import numpy as np
import pytest

from fxseq.power import Draw, PlayedRail, Steps, circuits, draw
from fxseq.power.cells import Estimate
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.model import Sequence, Supply
from tests.checks.judged import adaptor_findings, circuit_findings, rail_findings, supply_findings

CELLS = {"kind": "cells", "voltage_v": 6.0, "minimum_v": 4.8, "maximum_current_ma": 1000}
WALL = {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 1000}
LAMP = {
    "first_channel": 0,
    "channels": 2,
    "leds": 4,
    "colour": "red",
    "forward_voltage_v": 2.0,
    "current_ma": 10,
}


def found(supplies: dict[str, Any] | None = None, **changes: Any) -> list[Finding]:
    top = {key: changes.pop(key) for key in ("changeover", "board") if key in changes}
    described = Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 16},
            "supplies": supplies or {"pack": CELLS},
            "groups": {"lamp": {**LAMP, **changes}},
            **top,
        }
    )
    return list(circuit_findings(described, circuits(described)))


def test_a_sound_lamp_has_none() -> None:
    assert found() == []


@pytest.mark.parametrize(
    ("check", "weight", "figure", "changes"),
    [
        (
            "power.led_dark",
            Weight.FAULT,
            "1 in series stay dark at 2.4 V",
            {
                "switch": "pin",
                "colour": "blue",
                "forward_voltage_v": 3.4,
                "board": {"channels": 16, "pin_v": 2.4},
            },
        ),
        (
            "power.led_dark",
            Weight.FAULT,
            "4 in series stay dark at 6 V; 2 in series with 200 ohm would get 9.61 mA",
            {"channels": 1, "leds_in_series": 4, "resistor_ohm": 100},
        ),
        (
            "power.led_dark",
            Weight.WARNING,
            "2 in series stay dark at 6 V with LEDs of the highest forward voltage",
            {
                "colour": "green",
                "forward_voltage_v": 2.95,
                "forward_voltage_max_v": 3.6,
                "leds_in_series": 2,
                "resistor_ohm": 47,
            },
        ),
        (
            "power.led_weak",
            Weight.WARNING,
            "2.02 mA in a string at 6 V, fresh",
            {"leds_in_series": 1, "resistor_ohm": 2000},
        ),
        (
            "power.led_dim",
            Weight.WARNING,
            "30% of its light at 4.8 V (1% to 42% from part to part)",
            {"leds_in_series": 2, "forward_voltage_v": 2.25},
        ),
        (
            "power.led_current",
            Weight.WARNING,
            "up to 40.1 mA in one LED, at the freshest supply",
            {"leds_in_series": 1, "resistor_ohm": 100},
        ),
        ("power.forward_voltage", Weight.NOTE, "3.2 V at 10 mA", {"forward_voltage_v": 3.2}),
        (
            "power.resistor_heat",
            Weight.WARNING,
            "3.7 W in a resistor of 4.3 ohm while lit",
            {"current_ma": 900, "size_mm": 10, "forward_voltage_v": 2.3, "leds_in_series": 1},
        ),
        (
            "power.shared_resistor",
            Weight.FAULT,
            "more than 1000 times as much current in one string as in another on the same resistor",
            {"channels": 1, "leds_in_series": 1, "shared_resistor": True},
        ),
        (
            "power.shared_resistor",
            Weight.FAULT,
            "up to 1.94 times as much current in one string as in another on the same resistor",
            {
                "channels": 1,
                "leds_in_series": 1,
                "shared_resistor": True,
                "forward_voltage_min_v": 1.98,
                "forward_voltage_max_v": 2.05,
            },
        ),
        ("power.pin_current", Weight.WARNING, "up to 11.5 mA a pin", {"switch": "pin", "leds": 2}),
        (
            "power.pin_current",
            Weight.WARNING,
            "up to 9.63 mA a pin into a base",
            {"switch": "transistor", "current_ma": 43, "leds_in_series": 1},
        ),
        (
            "power.switch_current",
            Weight.WARNING,
            "up to 253 mA in one transistor, which makes 0.082 W of heat in it",
            {"switch": "transistor", "current_ma": 120, "leds_in_series": 1},
        ),
        (
            "power.switch_current",
            Weight.WARNING,
            "up to 30 mA in one driver",
            {"switch": "driver", "current_ma": 30},
        ),
        (
            "power.driver_headroom",
            Weight.WARNING,
            "2 in series need up to 5.8 V with their driver; the supply gives 4.8 to 6 V",
            {"switch": "driver", "leds_in_series": 2},
        ),
        (
            "power.driver_headroom",
            Weight.WARNING,
            "1 in series need up to 5 V with their driver; the supply gives 4.8 to 6 V",
            {"switch": "driver", "colour": "violet", "forward_voltage_v": 3.3},
        ),
        (
            "power.driver_headroom",
            Weight.FAULT,
            "4 in series need up to 10.6 V with their driver; the supply gives 4.8 to 6 V",
            {"switch": "driver", "leds_in_series": 4, "channels": 1},
        ),
        (
            "power.driver_heat",
            Weight.WARNING,
            "0.64 W in the driver at 6 V, with the whole group lit",
            {"switch": "driver", "channels": 16, "leds": 16},
        ),
    ],
)
def test_finding_of_a_group(
    check: str, weight: Weight, figure: str, changes: dict[str, Any]
) -> None:
    by_check = {finding.check: finding for finding in found(**changes)}
    assert check in by_check, by_check
    assert (by_check[check].weight, by_check[check].subject, by_check[check].figure) == (
        weight,
        "group 'lamp'",
        figure,
    )
    assert by_check[check].source and by_check[check].remedy and by_check[check].limit


@pytest.mark.parametrize(("pin_v", "checks"), [(2.4, ["power.gate_voltage"]), (2.5, [])])
def test_a_gate_needs_its_voltage(pin_v: float, checks: list[str]) -> None:
    # parts.toml: a logic-level type whose data sheet states its resistance at 2.5 V.
    assert [
        finding.check for finding in found(switch="mosfet", board={"channels": 16, "pin_v": pin_v})
    ] == checks


def test_leds_that_are_alike_may_share_a_resistor() -> None:
    alike = {"forward_voltage_min_v": 2.0, "forward_voltage_max_v": 2.0, "leds_in_series": 1}
    assert found(shared_resistor=True, **alike) == []


def test_each_string_of_a_driver_has_an_output_of_its_own() -> None:
    assert found(switch="driver", leds=8, leds_in_series=1) == []


@pytest.mark.parametrize(
    ("switch", "checks"), [("transistor", ["power.chip_current"]), ("mosfet", [])]
)
def test_bases_count_as_current_of_the_chip_and_gates_do_not(
    switch: str, checks: list[str]
) -> None:
    # 16 channels of 40 mA or more: a tenth each makes 64 mA.
    assert [
        finding.check
        for finding in found(switch=switch, channels=16, leds=64, leds_in_series=1, current_ma=10)
    ] == checks


def test_pins_of_a_chip_are_summed() -> None:
    (finding,) = found(switch="pin", channels=12, leds=12, current_ma=5)
    assert (finding.check, finding.subject) == ("power.chip_current", "board")
    assert found(switch="pin", channels=6, leds=6, current_ma=5) == []


@pytest.mark.parametrize(
    ("changeover", "checks"),
    [(None, ["power.back_feed"]), ("switch", []), ("diodes", ["power.cells_first"])],
)
def test_two_supplies_need_something_between_them(
    changeover: str | None, checks: list[str]
) -> None:
    text = {} if changeover is None else {"changeover": changeover}
    assert [finding.check for finding in found({"pack": CELLS, "wall": WALL}, **text)] == checks


@pytest.mark.parametrize(
    ("wall_v", "changeover", "checks"),
    [
        (5.0, "diodes", ["power.cells_first"]),
        (5.0, "switch", []),
        (6.3, "diodes", ["power.cells_first"]),
        (6.4, "diodes", []),
    ],
)
def test_fresh_cells_feed_before_a_lower_adaptor_over_diodes(
    wall_v: float, changeover: str, checks: list[str]
) -> None:
    # 6.0 V of cells; an adaptor of 6.3 V and 5 % gives 5.99 V at the least.
    assert [
        finding.check
        for finding in found(
            {"pack": CELLS, "wall": {**WALL, "voltage_v": wall_v}}, changeover=changeover
        )
    ] == checks


@pytest.mark.parametrize(("series", "checks"), [(4, []), (3, ["power.pack_voltage"])])
def test_voltage_of_a_pack_is_that_of_its_cells(series: int, checks: list[str]) -> None:
    assert [
        finding.check
        for finding in found({"pack": {**CELLS, "cell": "alkaline_aa", "cells_in_series": series}})
    ] == checks


@pytest.mark.parametrize(
    ("voltage_v", "weights"),
    [(15.0, []), (15.1, [Weight.NOTE]), (30.0, [Weight.NOTE]), (30.1, [Weight.WARNING])],
)
def test_a_supply_that_should_not_be_touched_is_named(
    voltage_v: float, weights: list[Weight]
) -> None:
    text = found({"wall": {**WALL, "voltage_v": voltage_v}})
    assert [finding.weight for finding in text if finding.check == "power.touch"] == weights


@pytest.mark.parametrize(
    ("changes", "checks"),
    [
        ({}, []),
        ({"maximum_current_ma": 101}, ["power.outlet_current"]),
        ({"bulk_capacitor_uf": 11}, ["power.outlet_capacitor"]),
        ({"outlet": "usb_charger", "maximum_current_ma": 1500, "bulk_capacitor_uf": 470}, []),
        ({"outlet": "usb_charger", "maximum_current_ma": 1501}, ["power.outlet_current"]),
    ],
)
def test_a_usb_socket_sets_its_own_bounds(changes: dict[str, Any], checks: list[str]) -> None:
    usb = {**WALL, "maximum_current_ma": 100, "bulk_capacitor_uf": 10, "outlet": "usb"}
    assert [finding.check for finding in found({"usb": {**usb, **changes}})] == checks


@pytest.mark.parametrize(
    ("most_ma", "weight"), [(101, Weight.NOTE), (500, Weight.NOTE), (501, Weight.WARNING)]
)
def test_a_computer_gives_little_unasked_and_no_more_than_its_socket_can(
    most_ma: float, weight: Weight
) -> None:
    (finding,) = found({"usb": {**WALL, "maximum_current_ma": most_ma, "outlet": "usb"}})
    assert (finding.check, finding.weight) == ("power.outlet_current", weight)


def rail(low: float, typical: float, high: float) -> PlayedRail:
    return PlayedRail(
        Steps(np.zeros(1), np.full(1, typical), 1.0), Estimate(low, typical, high), 0.25
    )


@pytest.mark.parametrize(
    ("lowest", "weight", "figure"),
    [
        ((4.8, 5.0, 5.1), None, ""),
        (
            (4.7, 5.0, 5.1),
            Weight.WARNING,
            "5.00 V at 0.25 s, fresh; 4.70 V to 5.10 V from part to part",
        ),
        (
            (4.0, 4.7, 5.1),
            Weight.FAULT,
            "4.70 V at 0.25 s, fresh; 4.00 V to 5.10 V from part to part",
        ),
        (
            (math.nan, 5.0, 5.1),
            Weight.WARNING,
            "5.00 V at 0.25 s, fresh; collapse to 5.10 V from part to part",
        ),
        (
            (math.nan, math.nan, 5.1),
            Weight.FAULT,
            "collapse at 0.25 s, fresh; collapse to 5.10 V from part to part",
        ),
    ],
)
def test_rail_against_what_the_prop_needs(
    lowest: tuple[float, float, float], weight: Weight | None, figure: str
) -> None:
    text = rail_findings("pack", Supply(**CELLS), rail(*lowest), 4.8)
    assert [(finding.weight, finding.figure) for finding in text] == (
        [] if weight is None else [(weight, figure)]
    )


@pytest.mark.parametrize(
    ("peak_ma", "checks"),
    [(750, []), (751, ["power.adaptor_margin"]), (1000, ["power.adaptor_margin"]), (1001, [])],
)
def test_adaptor_keeps_a_margin(peak_ma: float, checks: list[str]) -> None:
    # Beyond its rating `power.supply_current` speaks instead.
    taken = Draw(
        duration_s=1.0, mean_ma=10.0, rms_ma=10.0, peak_ma=peak_ma, charge_mah=0.0, energy_wh=0.0
    )
    assert [finding.check for finding in adaptor_findings("wall", Supply(**WALL), taken)] == checks
    assert adaptor_findings("pack", Supply(**CELLS), taken) == ()


def test_cells_are_not_asked_for_more_than_their_kind_gives() -> None:
    # Common practice, no source: 1 A of an alkaline AA cell, so twice that of two rows.
    pack = {"kind": "cells", "cell": "alkaline_aa", "cells_in_series": 4, "minimum_v": 4.8}
    (finding,) = found({"pack": {**pack, "maximum_current_ma": 20_000}})
    assert (finding.check, finding.weight, finding.figure, finding.limit) == (
        "power.cell_current",
        Weight.WARNING,
        "maximum_current_ma is 20000 mA",
        "1000 mA from alkaline AA cells",
    )
    assert (
        found({"pack": {**pack, "maximum_current_ma": 2000, "cells_in_parallel": 2}})
        == found({"pack": pack})
        == []
    )


def test_what_cells_give_is_the_limit_where_the_file_names_none() -> None:
    pack = Supply(kind="cells", cell="alkaline_aa", cells_in_series=4)
    assert supply_findings("pack", pack, draw(STEADY_990, 6.4), 0.0) == ()
    (finding,) = supply_findings("pack", pack, draw(STEADY_990, 6.4), 1010.0)
    assert finding.limit == "1000 mA"


STEADY_990 = Steps(np.zeros(1), np.full(1, 990.0), 1.0)


@pytest.mark.parametrize(("resistor_ohm", "lit"), [(None, True), (10, True), (4700, False)])
def test_dark_is_what_the_current_says(resistor_ohm: float | None, lit: bool) -> None:
    # 3.2 V on an LED of 3.3 V at 20 mA: over 10 ohm some 12 mA flow (ngspice: tests/published).
    lamp = {
        "colour": "white",
        "forward_voltage_v": 3.3,
        "current_ma": 20,
        "leds": 2,
        "resistor_ohm": resistor_ohm,
        "switch": "mosfet",
    }
    dark = [
        one
        for one in found({"pack": {**CELLS, "voltage_v": 3.2, "minimum_v": 3.0}}, **lamp)
        if one.check == "power.led_dark" and one.weight == Weight.FAULT
    ]
    assert (dark == []) == lit
    assert lit or dark[0].figure.startswith("1 in series stay dark at 3.2 V; 1 in series with ")


def test_leds_of_power_are_judged_by_the_curve_of_such() -> None:
    # A parts site: 3.0 to 3.5 V at 350 mA. The curve of small ones would ask for 5.4 to 6.0 V.
    power = {"colour": "white", "current_ma": 350, "leds_in_series": 1, "leds": 2}
    text = {one.check: one for one in found(forward_voltage_v=3.2, **power)}
    assert "power.forward_voltage" not in text and text["power.led_heat"].weight == Weight.NOTE
    assert "power.forward_voltage" in {one.check for one in found(forward_voltage_v=5.5, **power)}


def test_a_rail_that_collapses_has_a_limit_above_nothing() -> None:
    rail = PlayedRail(
        Steps(np.zeros(1), np.full(1, math.nan), 1.0), Estimate(math.nan, math.nan, math.nan), 0.0
    )
    (finding,) = rail_findings(
        "pack", Supply(kind="cells", voltage_v=6.0, maximum_current_ma=100), rail, 0.0
    )
    assert (finding.weight, finding.limit) == (
        Weight.FAULT,
        "3 V, half of the fresh voltage, as minimum_v is missing",
    )
