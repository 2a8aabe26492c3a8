"""From the description to circuits and their rail."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from fxseq.power import (
    Circuit,
    Steps,
    amplifier_load,
    circuits,
    most_ma,
    played_load,
    played_rail,
    wiring_schedule,
)
from fxseq.power.circuits import fresh_v, pack_of, resistance_ohm, voltages_of, voltages_of_all
from fxseq.power.diodes import Diode
from fxseq.power.cells import Estimate
from fxseq.power.layout import Range
from fxseq.power.parts import parts
from fxseq.power.rail import Load
from fxseq.power.run_time import Phase, run_time
from fxseq.sequence import loads
from fxseq.sequence.model import Sequence, Supply
from tests.checks.judged import circuit_findings

CELLS = {
    "kind": "cells",
    "voltage_v": 6.4,
    "minimum_v": 4.4,
    "maximum_current_ma": 1000,
    "cell": "alkaline_aa",
    "cells_in_series": 4,
}
WALL = {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 2000, "tolerance_percent": 4}
LAMP = {
    "first_channel": 0,
    "channels": 2,
    "leds": 4,
    "colour": "red",
    "forward_voltage_v": 2.0,
    "current_ma": 10,
}


def sequence(
    supply: dict[str, Any] = CELLS,
    board: dict[str, Any] | None = None,
    amplifier: dict[str, Any] | None = None,
    **lamp: Any,
) -> Sequence:
    return Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 4, **(board or {})},
            "supplies": {"pack": supply},
            "groups": {"lamp": {**LAMP, **lamp}},
            "amplifier": amplifier,
        }
    )


def lamp(supply: dict[str, Any] = CELLS, **changes: Any) -> Circuit:
    return circuits(sequence(supply, **changes))["lamp"]


def test_cells_go_from_fresh_to_where_the_prop_stops() -> None:
    assert voltages_of(Supply(**CELLS)) == Range(4.4, 6.4)
    assert voltages_of(Supply(**{**CELLS, "minimum_v": 0})) == Range(pytest.approx(3.2), 6.4)


@pytest.mark.parametrize("voltage_v", [6.0, 6.4, 9.0])
def test_cells_are_what_their_kind_is_whatever_the_file_says(voltage_v: float) -> None:
    # Four alkaline cells of nominally 6 V are 6.4 V when fresh. Layout, rail, and the finding on
    # voltage_v take it from here.
    text = {**CELLS, "voltage_v": voltage_v}
    fresh = fresh_v(Supply(**text))
    assert (fresh.low, fresh.typical, fresh.high) == pytest.approx((6.32, 6.4, 6.4))
    assert voltages_of(Supply(**text)) == Range(4.4, fresh.high)
    assert rail(sequence(text), PULSE, DARK).volts.values[0] == pytest.approx(fresh.typical)
    assert pack_of(Supply(**text)).open_v(0.0) == pytest.approx(fresh.typical)


@pytest.mark.parametrize("cell", parts().cells)
def test_the_curve_of_a_cell_begins_at_its_typical_fresh_voltage(cell: str) -> None:
    fresh = parts().cells[cell].fresh_v
    assert fresh.low <= fresh.typical == parts().cells[cell].open_v[0] <= fresh.high


def test_cells_of_an_unknown_kind_are_what_the_file_says() -> None:
    unknown = Supply(kind="cells", voltage_v=4.5, minimum_v=3.0, maximum_current_ma=100)
    assert (fresh_v(unknown), voltages_of(unknown)) == (Estimate(4.5, 4.5, 4.5), Range(3.0, 4.5))


def test_a_prop_stops_where_its_regulator_does_if_the_file_says_no_lowest_voltage() -> None:
    assert voltages_of(Supply(**{**CELLS, "minimum_v": 0}), least_v=5.1) == Range(5.1, 6.4)


def test_a_class_d_amplifier_idles_at_a_current_and_plays_at_a_power() -> None:
    """By hand: what is above 10 mA is a power at the 6 V at which it was measured."""
    described = sequence(
        amplifier={
            "gain_db": 9.5,
            "full_scale_input_v": 1.2,
            "kind": "class_d",
            "idle_current_ma": 10,
        }
    )
    load = amplifier_load(described, np.array([0.005, 0.110]), 6.0)
    assert np.allclose(load.current_a, [0.005, 0.010]) and np.allclose(load.power_w, [0.0, 0.6])


def test_an_adaptor_is_spread_by_its_tolerance_and_a_socket_by_its_kind() -> None:
    assert fresh_v(Supply(**WALL)) == Estimate(pytest.approx(4.8), 5.0, pytest.approx(5.2))
    assert fresh_v(Supply(**{**WALL, "outlet": "usb"})) == Estimate(4.75, 5.0, 5.25)


def test_flat_is_never_above_fresh() -> None:
    # A prop that needs more than its cells give.
    assert voltages_of(Supply(**{**CELLS, "voltage_v": 7.0, "minimum_v": 7.0})) == Range(6.4, 6.4)


def test_resistance_of_the_file_takes_the_place_of_that_of_the_cells() -> None:
    assert resistance_ohm(Supply(**{**CELLS, "internal_resistance_ohm": 1.5})) == Estimate(
        1.5, 1.5, 1.5
    )
    found = resistance_ohm(Supply(**CELLS))
    assert (found.low, found.typical, found.high) == pytest.approx((0.6, 0.8, 1.2))


def test_an_adaptor_keeps_to_its_tolerance() -> None:
    assert voltages_of(Supply(**WALL)) == Range(pytest.approx(4.8), pytest.approx(5.2))


def test_a_usb_socket_has_the_range_of_its_standard() -> None:
    assert voltages_of(Supply(**{**WALL, "outlet": "usb"})) == Range(4.75, 5.25)


def test_a_prop_is_wired_for_all_its_supplies() -> None:
    assert voltages_of_all([Supply(**CELLS), Supply(**WALL)]) == Range(4.4, 6.4)
    assert voltages_of_all([]) is None


def test_rows_and_larger_cells_make_a_larger_pack() -> None:
    pack = pack_of(Supply(**{**CELLS, "cells_in_parallel": 2, "cell_capacity_mah": 1500}))
    assert pack is not None
    # Two rows of cells of half the 3000 mAh of the kind.
    assert (pack.series, pack.size) == (4, 1.0)
    assert pack_of(Supply(**WALL)) is None


@pytest.mark.parametrize(
    ("current_ma", "switch"), [(10, "transistor"), (20, "transistor"), (21, "mosfet")]
)
def test_a_switch_is_chosen_by_the_current_of_a_channel(current_ma: float, switch: str) -> None:
    # Two LEDs on a channel; the base of a transistor takes a tenth, a pin gives 8 mA, and half of
    # that is left for LEDs that take more.
    assert lamp(current_ma=current_ma).switch == switch


def test_a_pin_gives_its_own_voltage_and_not_that_of_the_supply() -> None:
    found = lamp(switch="pin", board={"pin_v": 3.3})
    assert found.layout is not None
    assert found.feed == Range(3.3, 3.3)
    # (3.3 - 2.0) / 10 mA less 25 ohm of the pin for each of two strings: 80 ohm -> 82 ohm.
    assert (found.series, found.layout.resistor_ohm) == (1, 82)
    assert found.load(Steps(np.zeros(1), np.ones(1), 1.0)).at(6.0)[0].item() == pytest.approx(
        4 * found.layout.fresh_ma.typical / 1000
    )


def test_a_driver_holds_the_current_of_as_many_leds_as_the_flat_supply_lights() -> None:
    found = lamp({**CELLS, "minimum_v": 5.81}, switch="driver")
    # 5.8 V less 1 V of headroom light two of at most 2.4 V.
    assert (found.layout, found.series, found.strings) == (None, 2, 1)
    # Within 3 %, the most that data sheets of such drivers allow.
    assert (
        found.fresh_ma
        == found.flat_ma
        == found.channel_ma
        == Estimate(pytest.approx(9.7), 10, pytest.approx(10.3))
    )
    assert found.load(Steps(np.zeros(1), np.ones(1), 1.0)).at(6.0)[0].item() == pytest.approx(0.020)


def test_a_group_takes_the_current_of_its_strings_and_not_that_of_the_file() -> None:
    found = lamp(leds_in_series=1, resistor_ohm=860)
    # 6.4 V less 0.1 V and about 1.95 V over 860 ohm: half of the 10 mA of the file in each of four
    # strings.
    assert found.current_ma(Steps(np.zeros(1), np.full(1, 0.5), 1.0)).values[0] == pytest.approx(
        0.5 * 4 * 5, rel=0.03
    )
    dark = lamp(switch="pin", colour="blue", forward_voltage_v=3.4, board={"pin_v": 2.4})
    assert dark.current_ma(Steps(np.zeros(1), np.ones(1), 1.0)).values[0] == 0


def test_bounds_of_the_maker_take_the_place_of_one_end_each() -> None:
    found = lamp(forward_voltage_max_v=2.05).led
    assert [
        float(diode.voltage_v(0.010)) for diode in (found.low, found.typical, found.high)
    ] == pytest.approx([1.8, 2.0, 2.05], abs=1e-6)


def test_a_second_point_bends_the_curve_at_every_corner() -> None:
    second = {"forward_voltage_v": 2.15, "current_ma": 30}
    for bounds in ({}, {"forward_voltage_min_v": 1.9, "forward_voltage_max_v": 2.2}):
        usual = lamp(**bounds).led
        found = lamp(second_point=second, **bounds).led
        for before, now in zip(
            (usual.low, usual.typical, usual.high),
            (found.low, found.typical, found.high),
            strict=True,
        ):
            assert float(now.voltage_v(0.010)) == pytest.approx(
                float(before.voltage_v(0.010)), abs=1e-6
            )
            assert float(now.voltage_v(0.030) - now.voltage_v(0.010)) == pytest.approx(
                0.15, abs=1e-6
            )


def test_without_a_supply_nothing_is_wired() -> None:
    assert (
        circuits(Sequence(format=1, title="Lamp", board={"channels": 4}, groups={"lamp": LAMP}))
        == {}
    )


def rail(described: Sequence, sound_ma: Steps, lit: Steps, diode: Diode | None = None) -> Any:
    times_s, block, lights = played_load(
        described, circuits(described), {"lamp": lit}, sound_ma.times_s, sound_ma.end_s
    )
    load = lights + amplifier_load(described, sound_ma.values / 1000, 6.4).part(block)
    return played_rail(described.supplies["pack"], load, times_s, sound_ma.end_s, diode)


DARK = Steps(np.zeros(1), np.zeros(1), 3.0)
PULSE = Steps(np.array([0.0, 1.0, 1.001]), np.array([0.0, 500.0, 0.0]), 3.0)


def test_rail_falls_by_the_spread_of_the_cells() -> None:
    found = rail(sequence(), PULSE, DARK)
    # Fresh 6.4 V (6.32 V the lowest), 4 cells of 0.15, 0.20, 0.30 ohm, 0.5 A.
    assert (found.lowest.high, found.lowest.typical, found.lowest.low) == (
        pytest.approx(6.1),
        pytest.approx(6.0),
        pytest.approx(5.72),
    )
    assert found.lowest_at_s == 1.0


def test_a_class_d_amplifier_takes_more_current_from_a_lower_rail() -> None:
    found = rail(
        sequence(amplifier={"gain_db": 0, "full_scale_input_v": 1, "idle_current_ma": 0}),
        PULSE,
        DARK,
    )
    # 3.2 W from 6.4 V and 0.8 ohm: (6.4 + sqrt(6.4^2 - 4 0.8 3.2)) / 2.
    assert found.lowest.typical == pytest.approx((6.4 + math.sqrt(6.4**2 - 4 * 0.8 * 3.2)) / 2)


@pytest.mark.parametrize(
    ("capacitor_uf", "drop_v"),
    [(1250, 0.4 * (1 - math.exp(-1))), (12500, 0.4 * (1 - math.exp(-0.1)))],
)
def test_capacitor_holds_the_rail_through_a_short_pulse(capacitor_uf: float, drop_v: float) -> None:
    found = rail(sequence({**CELLS, "bulk_capacitor_uf": capacitor_uf}), PULSE, DARK)
    # 1 ms against 0.8 ohm times the capacitor: 1 ms, 10 ms.
    assert 6.4 - found.lowest.typical == pytest.approx(drop_v, rel=1e-3)
    assert found.lowest.low < found.lowest.typical < found.lowest.high


def test_a_changeover_diode_costs_a_few_tenths_of_a_volt() -> None:
    plain, over = (
        rail(sequence(), PULSE, DARK, diode) for diode in (None, parts().diodes["schottky"].diode)
    )
    assert 0.2 < plain.lowest.typical - over.lowest.typical < 0.5


def test_board_and_lights_load_the_rail() -> None:
    lit = Steps(np.array([0.0, 2.0]), np.array([0.0, 1.0]), 3.0)
    found = rail(sequence(board={"current_ma": 50.0}), Steps(np.zeros(1), np.zeros(1), 3.0), lit)
    assert found.volts.values[0] == pytest.approx(6.4 - 0.8 * 0.050)
    assert found.lowest_at_s == 2.0
    assert 6.4 - found.lowest.typical == pytest.approx(0.8 * (0.050 + 4 * 0.0095), abs=0.005)


def test_a_rail_that_collapses_has_no_lowest_voltage() -> None:
    loud = Steps(np.array([0.0, 1.0]), np.array([0.0, 2500.0]), 3.0)
    found = rail(sequence(amplifier={"gain_db": 0, "full_scale_input_v": 1}), loud, DARK)
    assert math.isnan(found.lowest.typical)
    assert found.lowest_at_s == 1.0


@st.composite
def supplies(draw: st.DrawFn) -> dict[str, Any]:
    """Any supply that a file may describe."""
    voltage_v = draw(st.floats(0.5, 60))
    made = {
        "voltage_v": voltage_v,
        "minimum_v": draw(st.floats(0, voltage_v)),
        "internal_resistance_ohm": draw(st.floats(0, 100)),
        "maximum_current_ma": draw(st.floats(0.1, 20_000)),
        "bulk_capacitor_uf": draw(st.floats(0.1, 1e6)),
        "bulk_capacitor_ohm": draw(st.just(0.0) | st.floats(0, 100)),
    }
    if draw(st.booleans()):
        usb = {
            "voltage_v": 5.0,
            "minimum_v": 0.0,
            "outlet": draw(st.sampled_from(["usb", "usb_charger"])),
        }
        return {
            **made,
            "kind": "wall",
            **draw(st.sampled_from([{"tolerance_percent": draw(st.floats(0, 30))}, usb])),
        }
    cell = draw(st.sampled_from([None, "alkaline_aa", "nimh_aa", "li_ion", "alkaline_9v"]))
    rows = (
        {
            "cells_in_series": draw(st.integers(1, 40)),
            "cells_in_parallel": draw(st.integers(1, 40)),
            "cell_capacity_mah": draw(st.floats(1, 1e5)),
        }
        if cell
        else {}
    )
    return {**made, "kind": "cells", "cell": cell, **rows}


@st.composite
def switches(draw: st.DrawFn, switch: str | None) -> dict[str, Any]:
    """Any figures of a switch, and any LEDs beside those of the group."""
    threshold_v = draw(st.floats(0.5, 10))
    more_v = draw(st.floats(0.01, 10))
    mosfet = {
        "on_ohm": draw(st.floats(0.0001, 100)),
        "gate_v": threshold_v + more_v,
        "threshold_v": threshold_v,
    }
    transistor = {
        "base_resistor_ohm": draw(st.none() | st.floats(1, 1e7)),
        "saturation_v": draw(st.none() | st.floats(0.01, 2)),
        "gain": draw(st.none() | st.floats(20, 1e5)),
    }
    other = {
        "leds": draw(st.integers(1, 5)),
        "colour": draw(st.sampled_from(["red", "white"])),
        "current_ma": draw(st.floats(0.01, 5000)),
    }
    beside = {"beside": draw(st.lists(st.just(other), max_size=2))} if switch != "driver" else {}
    return {
        **beside,
        **draw(
            st.sampled_from(
                [{}, {"mosfet": mosfet}]
                if switch in (None, "mosfet")
                else [{}, {"transistor": transistor}] if switch == "transistor" else [{}]
            )
        ),
    }


@st.composite
def lamps(draw: st.DrawFn) -> dict[str, Any]:
    """Any group that a file may describe."""
    channels = draw(st.integers(1, 4))
    hanging = draw(st.integers(1, 40))
    switch = draw(st.sampled_from([None, "pin", "transistor", "mosfet", "driver"]))
    return {
        **draw(switches(switch)),
        "first_channel": 0,
        "channels": channels,
        "leds": channels * hanging,
        "colour": draw(st.sampled_from(["red", "green", "warm_white"])),
        "forward_voltage_v": draw(st.floats(0.5, 60, exclude_min=True)),
        "current_ma": draw(st.floats(0.01, 5000)),
        "switch": switch,
        "size_mm": draw(st.floats(0.1, 50)),
        "leds_in_series": draw(st.sampled_from([None, 1, hanging])),
        "resistor_ohm": None if switch == "driver" else draw(st.none() | st.floats(0.1, 1e7)),
    }


@settings(max_examples=40)
@given(
    supply=supplies(),
    group=lamps(),
    board_ma=st.floats(0, 2000),
    pin_v=st.floats(1, 12),
    kind=st.sampled_from(["class_d", "class_ab"]),
)
def test_whatever_a_file_describes_has_figures_or_collapses(
    supply: dict[str, Any],
    group: dict[str, Any],
    board_ma: float,
    pin_v: float,
    kind: str,
) -> None:
    described = sequence(
        supply,
        {"current_ma": board_ma, "pin_v": pin_v},
        {"gain_db": 0, "full_scale_input_v": 1, "kind": kind},
        **group,
    )
    found = rail(described, PULSE, Steps(np.array([0.0, 0.5]), np.array([0.0, 1.0]), 3.0))
    ordered = np.nan_to_num([found.lowest.low, found.lowest.typical, found.lowest.high])
    # A rail behind a large capacitor is followed in steps, good to a ten-thousandth.
    assert (
        np.all(np.diff(ordered) >= -1e-4 * max(ordered.max(), 0.01))
        and np.all(np.isfinite(ordered))
        and ordered[0] >= 0
    )
    for finding in circuit_findings(described, circuits(described)):
        assert "nan" not in finding.figure
    part = described.supplies["pack"]
    pack = pack_of(part)
    if pack is not None:
        lit = circuits(described)["lamp"].load(Steps(np.zeros(1), np.ones(1), 1.0))
        load = Load(tuple(replace(led, lit=1.0) for led in lit.leds), np.ravel(lit.current_a)[0])
        lasts = run_time(pack, [Phase("held", 1.0, {"lamp": load})], Load(), part.minimum_v)
        assert lasts.missing or (
            lasts.hours is not None and 0 <= lasts.hours.low <= lasts.hours.high
        )


def test_how_flat_cells_get_is_not_known_where_nothing_says_it() -> None:
    unsaid = {"kind": "cells", "voltage_v": 4.5, "maximum_current_ma": 100}
    plan = wiring_schedule(sequence(unsaid), {})
    assert plan.groups[0].circuit.flat_ma is None
    assert any("How far the cells run down" in text for text in plan.missing)
    assert lamp({**unsaid, "minimum_v": 3.0}).flat_ma is not None


def test_what_is_known_of_cells_and_colours_need_not_be_in_the_file() -> None:
    text = {"voltage_v": 6.4, "maximum_current_ma": 1000}
    unsaid = {"kind": "cells", "cell": "alkaline_aa", "cells_in_series": 4, "minimum_v": 4.4}
    assert (fresh_v(Supply(**unsaid)), most_ma(Supply(**unsaid))) == (
        fresh_v(Supply(**unsaid, **text)),
        1000,
    )
    # parts.toml: red has 2.0 V at 20 mA.
    usual = lamp(unsaid, forward_voltage_v=None, current_ma=20)
    assert float(usual.led.typical.voltage_v(0.020)) == pytest.approx(2.0)
    assumed = " ".join(wiring_schedule(sequence(unsaid, forward_voltage_v=None), {}).assumed)
    assert all(
        key in assumed
        for key in ("voltage_v", "maximum_current_ma", "forward_voltage_v", "transistor")
    )


def test_a_channel_is_counted_on_from_the_group_before() -> None:
    groups = {
        "a": {"channels": 3, "leds": 3},
        "b": {"first_channel": 8, "channels": 2, "leds": 2},
        "c": {"leds": 1},
    }
    alike = {"colour": "red", "current_ma": 10}
    described = Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 12},
            "groups": {name: {**alike, **each} for name, each in groups.items()},
        }
    )
    assert [each.first_channel for each in described.groups.values()] == [0, 8, 10]


def test_an_ideal_junction_is_an_led_too() -> None:
    # Emission 1 at 27 degrees Celsius: kT/q = 25.865 mV (SI brochure) times ln 10 between 1 and 10
    # mA.
    lines = """
        format = 1
        title = "Lamp"
        board = { channels = 1 }
        groups.lamp = { leds = 1, colour = "red", current_ma = 10, forward_voltage_v = 1.8, second_point = { current_ma = 1, forward_voltage_v = 1.74044 } }
        """
    assert loads(lines).groups["lamp"].second_point is not None
