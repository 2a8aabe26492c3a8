"""From the description to circuits and their rail."""
import math
from typing import Any

import numpy as np
import pytest

from fxseq.power import Circuit, Steps, circuits, played_load, played_rail
from fxseq.power.circuits import pack_of, voltages_of, voltages_of_all
from fxseq.power.layout import Range
from fxseq.sequence.model import Sequence, Supply

CELLS = {"kind": "cells", "voltage_v": 6.4, "minimum_v": 4.4, "maximum_current_ma": 1000, "cell": "alkaline_aa", "cells_in_series": 4}
WALL = {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 2000, "tolerance_percent": 4}
LAMP = {"first_channel": 0, "channels": 2, "leds": 4, "colour": "red", "forward_voltage_v": 2.0, "current_ma": 10}


def sequence(supply: dict[str, Any] = CELLS, board: dict[str, Any] | None = None, amplifier: dict[str, Any] | None = None, **lamp: Any) -> Sequence:
    return Sequence.model_validate({
        "format": 1, "title": "Lamp", "board": {"channels": 4, **(board or {})}, "supplies": {"pack": supply}, "groups": {"lamp": {**LAMP, **lamp}},
        "amplifier": amplifier})


def lamp(supply: dict[str, Any] = CELLS, **changes: Any) -> Circuit:
    return circuits(sequence(supply, **changes))["lamp"]


def test_cells_go_from_fresh_to_where_the_prop_stops() -> None:
    assert voltages_of(Supply(**CELLS)) == Range(4.4, 6.4)
    assert voltages_of(Supply(**{**CELLS, "minimum_v": 0})) == Range(pytest.approx(3.2), 6.4)


def test_an_adaptor_keeps_to_its_tolerance() -> None:
    assert voltages_of(Supply(**WALL)) == Range(pytest.approx(4.8), pytest.approx(5.2))


def test_a_prop_is_wired_for_all_its_supplies() -> None:
    assert voltages_of_all([Supply(**CELLS), Supply(**WALL)]) == Range(4.4, 6.4)
    assert voltages_of_all([]) is None


def test_rows_and_larger_cells_make_a_larger_pack() -> None:
    pack = pack_of(Supply(**{**CELLS, "cells_in_parallel": 2, "cell_capacity_mah": 1500}))
    assert pack is not None
    # Two rows of cells of half the 3000 mAh of the kind.
    assert (pack.series, pack.size) == (4, 1.0)
    assert pack_of(Supply(**WALL)) is None


@pytest.mark.parametrize(("current_ma", "switch"), [(10, "transistor"), (50, "transistor"), (60, "mosfet")])
def test_a_switch_is_chosen_by_the_current_of_a_channel(current_ma: float, switch: str) -> None:
    # Two LEDs on a channel; a transistor of 200 mA is used to half of that.
    assert lamp(current_ma=current_ma).switch == switch


def test_a_pin_gives_its_own_voltage_and_not_that_of_the_supply() -> None:
    found = lamp(switch="pin", board={"pin_v": 3.3})
    assert found.layout is not None
    assert found.feed == Range(3.3, 3.3)
    # (3.3 - 2.0) / 10 mA less 25 ohm of the pin for each of two strings: 80 ohm -> 82 ohm.
    assert (found.series, found.layout.resistor_ohm) == (1, 82)
    assert found.load(Steps(np.zeros(1), np.ones(1), 1.0)).at(6.0)[0].item() == pytest.approx(4 * found.layout.fresh_ma.typical / 1000)


def test_a_driver_holds_the_current_of_as_many_leds_as_the_flat_supply_lights() -> None:
    found = lamp({**CELLS, "minimum_v": 5.81}, switch="driver")
    # 5.8 V less 1 V of headroom light two of at most 2.4 V.
    assert (found.layout, found.series, found.strings) == (None, 2, 1)
    assert found.channel_ma.high == 10
    assert found.load(Steps(np.zeros(1), np.ones(1), 1.0)).at(6.0)[0].item() == pytest.approx(0.020)


def test_bounds_of_the_maker_take_the_place_of_one_end_each() -> None:
    found = lamp(forward_voltage_max_v=2.05).led
    assert [float(diode.voltage_v(0.010)) for diode in (found.low, found.typical, found.high)] == pytest.approx([1.8, 2.0, 2.05], abs=1e-6)


def test_without_a_supply_nothing_is_wired() -> None:
    assert circuits(Sequence(format=1, title="Lamp", board={"channels": 4}, groups={"lamp": LAMP})) == {}


def rail(described: Sequence, sound_ma: Steps, lit: Steps, **options: bool) -> Any:
    times_s, load = played_load(described, circuits(described), {"lamp": lit}, sound_ma, 6.4)
    return played_rail(described.supplies["pack"], load, times_s, sound_ma.end_s, **options)


DARK = Steps(np.zeros(1), np.zeros(1), 3.0)
PULSE = Steps(np.array([0.0, 1.0, 1.001]), np.array([0.0, 500.0, 0.0]), 3.0)


def test_rail_falls_by_the_spread_of_the_cells() -> None:
    found = rail(sequence(), PULSE, DARK)
    # Fresh 6.4 V, 4 cells of 0.15, 0.20, 0.30 ohm, 0.5 A.
    assert (found.lowest.high, found.lowest.typical, found.lowest.low) == (pytest.approx(6.1), pytest.approx(6.0), pytest.approx(5.8))
    assert found.lowest_at_s == 1.0


def test_a_class_d_amplifier_takes_more_current_from_a_lower_rail() -> None:
    found = rail(sequence(amplifier={"gain_db": 0, "full_scale_input_v": 1}), PULSE, DARK)
    # 3.2 W from 6.4 V and 0.8 ohm: (6.4 + sqrt(6.4^2 - 4 0.8 3.2)) / 2.
    assert found.lowest.typical == pytest.approx((6.4 + math.sqrt(6.4**2 - 4 * 0.8 * 3.2)) / 2)


@pytest.mark.parametrize(("capacitor_uf", "drop_v"), [(1250, 0.4 * (1 - math.exp(-1))), (12500, 0.4 * (1 - math.exp(-0.1)))])
def test_capacitor_holds_the_rail_through_a_short_pulse(capacitor_uf: float, drop_v: float) -> None:
    found = rail(sequence({**CELLS, "bulk_capacitor_uf": capacitor_uf}), PULSE, DARK)
    # 1 ms against 0.8 ohm times the capacitor: 1 ms, 10 ms.
    assert 6.4 - found.lowest.typical == pytest.approx(drop_v, rel=1e-3)
    assert found.lowest.low < found.lowest.typical < found.lowest.high


def test_a_changeover_diode_costs_a_few_tenths_of_a_volt() -> None:
    plain, over = (rail(sequence(), PULSE, DARK, over_diode=diode) for diode in (False, True))
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
