"""Heat of regulator and amplifier in a played prop, and a regulator between the supply and parts
of it.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fxseq.bench.meters import meters
from fxseq.checks import findings
from fxseq.power.parts import parts
from fxseq.runs import Performance, wiring_of
from fxseq.sequence import Finding, Weight

Values = dict[str, Any]
Played = Callable[..., Performance]


def found(run: Performance, check: str) -> list[Finding]:
    return [finding for finding in findings(run) if finding.check == check]


@pytest.fixture
def regulated(values: Values) -> Values:
    """A board of 60 mA on 3.3 V, from an adaptor of 9 V without tolerance; light and sound hang
    on the adaptor.
    """
    values["board"]["current_ma"] = 60
    values["supplies"] = {
        "wall": {
            "kind": "wall",
            "voltage_v": 9.0,
            "tolerance_percent": 0,
            "maximum_current_ma": 1000,
        }
    }
    values["regulator"] = {"kind": "linear", "output_v": 3.3, "own_current_ma": 0}
    return values


@pytest.mark.parametrize(
    ("limit_w", "figures"),
    [(0.35, []), (0.34, ["0.34 W of heat over the hottest 10 s, with 9 V at its input"])],
)
def test_a_linear_regulator_heats_with_what_is_spare(
    regulated: Values, played: Played, limit_w: float, figures: list[str]
) -> None:
    # A supplier's page: P = (Vin - Vout) I; (9 - 3.3) * 60 mA = 0.342 W.
    regulated["regulator"]["maximum_heat_w"] = limit_w
    assert [
        finding.figure for finding in found(played(regulated), "power.regulator_heat")
    ] == figures


def test_a_generic_regulator_stands_a_watt(regulated: Values, played: Played) -> None:
    regulated["board"]["current_ma"] = 180
    (finding,) = found(played(regulated), "power.regulator_heat")
    assert (finding.limit, finding.weight) == (
        "1 W",
        Weight.WARNING,
    ) and "from memory" in finding.source
    regulated["regulator"]["kind"] = "step_down"
    assert found(played(regulated), "power.regulator_heat") == []


@pytest.mark.parametrize(("rated_ma", "checks"), [(80, 0), (75, 1)])
def test_a_regulator_gives_no_more_than_it_may(
    regulated: Values, played: Played, rated_ma: float, checks: int
) -> None:
    # 60 mA of the board, and at the most 10 mA in each of two strings of two on it.
    regulated["regulator"].update(
        feeds=["board", "lights"], output_v=5.0, maximum_current_ma=rated_ma
    )
    run = played(regulated)
    assert run.load.regulated_ma.peak() == pytest.approx(
        60 + 2 * run.prop.circuits["lamp"].channel_ma.typical
    )
    assert len(found(run, "power.regulator_current")) == checks


def test_what_a_converter_takes_is_counted_at_the_supply(regulated: Values, played: Played) -> None:
    regulated["regulator"] = {
        "kind": "step_down",
        "output_v": 5.0,
        "feeds": ["board", "lights", "amplifier"],
        "efficiency_percent": 90,
        "own_current_ma": 2,
    }
    run = played(regulated)
    assert run.load.current_ma.mean() == pytest.approx(
        2 + run.load.regulated_ma.mean() * 5.0 / 0.9 / 9.0, rel=1e-6
    )
    assert run.load.rail.lowest.typical == pytest.approx(9.0)  # an adaptor without resistance
    line = wiring_of(run.prop.sequence).lines[0]
    assert line.board_ma == pytest.approx(2 + 60 * 5.0 / 0.9 / 9.0)


def test_an_amplifier_on_a_regulator_clips_at_its_output(regulated: Values, played: Played) -> None:
    regulated["amplifier"]["gain_db"] = 30.0
    loud = played(regulated)
    regulated["regulator"] = {"kind": "step_down", "output_v": 4.0, "feeds": ["amplifier"]}
    held = played(regulated)
    assert np.abs(loud.heard.volts).max() == pytest.approx(9.0 - 0.5, rel=1e-3)
    assert np.abs(held.heard.volts).max() == pytest.approx(4.0 - 0.5, rel=1e-3)
    # With 3 V left, 1 V short of its dropout, it clips lower; then the loss of the generic part
    # counts: 4 + 1 - 4.5 V.
    regulated["supplies"]["wall"].update(voltage_v=4.5)
    assert np.abs(played(regulated).heard.volts).max() == pytest.approx(4.5 - 1.0 - 0.5, rel=1e-3)


def test_a_step_up_converter_drains_a_cell_by_power(values: Values, played: Played) -> None:
    # 25 mA of 5 V at 80 % and nothing for itself: 156 mW, which a lithium cell of 2500 mAh around
    # 3.6 V carries 2.5 Ah / (156 mW / 3.6 V) = 58 h, to 3.0 V at 0.92 of it.
    for part in ("amplifier", "speaker"):
        del values[part]
    values["effects"]["spark"]["sounds"] = []
    values["board"]["current_ma"] = 25
    values["supplies"] = {
        "cell": {"kind": "cells", "cell": "li_ion", "voltage_v": 4.0, "maximum_current_ma": 1000}
    }
    values["regulator"] = {"kind": "step_up", "output_v": 5.0, "own_current_ma": 0}
    values["day"] = {"hours": 8}
    run = played(values)
    assert run.run_time.hours.typical == pytest.approx(0.92 * 58, rel=0.03)
    values["regulator"]["own_current_ma"] = 10
    more = played(values).run_time
    assert more.hours.typical == pytest.approx(0.92 * 2500 / (156 / 3.6 + 10), rel=0.03)
    assert dict(more.drains)["idle", "regulator"] == pytest.approx(10 / (156 / 3.6 + 10), rel=0.05)


@pytest.mark.parametrize("changeover", ["switch", "diodes"])
def test_current_is_that_of_the_voltage_that_is_left(
    values: Values, played: Played, changeover: str
) -> None:
    """A step-down converter of 3.3 V takes its power whatever is left: I = (V0 - sqrt(V0^2 - 4 R
    P)) / (2 R), with a diode beside it more.
    """
    for part in ("amplifier", "speaker"):
        del values[part]
    values["effects"]["spark"] = {}
    values["changeover"] = changeover
    values["board"]["current_ma"] = 2000
    values["supplies"] = {
        "pack": {
            "kind": "cells",
            "voltage_v": 7.4,
            "internal_resistance_ohm": 1.1,
            "maximum_current_ma": 5000,
        }
    }
    values["regulator"] = {
        "kind": "step_down",
        "output_v": 3.3,
        "own_current_ma": 0,
        "efficiency_percent": 80,
    }
    run = played(values)
    power_w = 2.0 * 3.3 / 0.8
    lost_v = (
        0.0
        if changeover == "switch"
        else float(parts().diodes["schottky"].diode.voltage_v(run.load.draw.peak_ma / 1000))
    )
    amperes = ((7.4 - lost_v) - math.sqrt((7.4 - lost_v) ** 2 - 4 * 1.1 * power_w)) / 2.2
    assert run.load.draw.peak_ma == pytest.approx(1000 * amperes, rel=1e-6)
    assert run.load.draw.mean_ma == pytest.approx(1000 * amperes, rel=1e-6)
    # More than the supply can give: its short circuit.
    values["regulator"]["efficiency_percent"] = 40
    collapsed = played(values)
    assert math.isnan(collapsed.load.rail.lowest.typical)
    assert 0.8 * 7.4 / 1.1 < collapsed.load.draw.peak_ma / 1000 <= 7.4 / 1.1


@pytest.mark.parametrize(("ohms", "weights"), [(10.0, []), (100.0, [Weight.WARNING])])
def test_a_rail_that_falls_by_half_is_told_where_nothing_says_what_is_needed(
    ohms: float,
    weights: list[Weight],
    values: Values,
    played: Played,
) -> None:
    # 20 mA of board, and some of lamps and of sound, of 5 V.
    values["board"]["current_ma"] = 20
    values["supplies"]["wall"]["internal_resistance_ohm"] = ohms
    told = found(played(values, supply="wall"), "power.rail")
    assert [finding.weight for finding in told] == weights
    assert all(
        finding.limit == "2.5 V, half of the fresh voltage, as minimum_v is missing"
        for finding in told
    )


@pytest.mark.parametrize(("most_ma", "weights"), [(51, [Weight.WARNING]), (53, [])])
def test_a_step_up_converter_asks_most_of_a_flat_cell(
    values: Values, played: Played, most_ma: float, weights: list[Weight]
) -> None:
    """25 mA of 5 V at 80 % are 156 mW: 39 mA of a full lithium cell of 4.03 V, 52 mA where it
    stops at 3 V.
    """
    for part in ("amplifier", "speaker"):
        del values[part]
    values["effects"]["spark"] = {}
    values["board"]["current_ma"] = 25
    values["supplies"] = {
        "cell": {
            "kind": "cells",
            "cell": "li_ion",
            "voltage_v": 4.0,
            "minimum_v": 3.0,
            "maximum_current_ma": most_ma,
        }
    }
    values["regulator"] = {"kind": "step_up", "output_v": 5.0, "own_current_ma": 0}
    run = played(values)
    assert run.load.draw.peak_ma == pytest.approx(156.25 / 4.03, rel=0.01)
    assert run.load.flat_peak_ma == pytest.approx(156.25 / 3.0, rel=1e-6)
    assert [finding.weight for finding in found(run, "power.supply_current")] == weights


def test_cells_end_where_the_regulator_no_longer_holds(values: Values, played: Played) -> None:
    """Four cells and 5 V of a regulator that needs 0.3 V: at 5.3 V, 1.325 V each, a third of
    their charge is used.
    """
    for part in ("amplifier", "speaker"):
        del values[part]
    values["effects"]["spark"]["sounds"] = []
    values["board"]["current_ma"] = 25
    values["supplies"] = {
        "cells": {
            "kind": "cells",
            "cell": "alkaline_aa",
            "cells_in_series": 4,
            "voltage_v": 6.4,
            "maximum_current_ma": 500,
        }
    }
    values["day"] = {"hours": 8}
    values["regulator"] = {"kind": "low_dropout", "output_v": 5.0, "own_current_ma": 0}
    # 0.9 of 3000 mAh at 25 mA for a typical cell; at rest 0.32 of it, and the fall over 0.8 ohm and
    # the lit LEDs takes a little more.
    held = played(values).run_time.hours.typical
    assert 0.2 * 0.9 * 3000 / 25 < held < 0.32 * 0.9 * 3000 / 25
    values["regulator"] = {"kind": "linear", "output_v": 5.0}
    run = played(values)
    assert run.run_time.hours.typical == 0
    assert [finding.weight for finding in found(run, "power.dropout")] == [Weight.FAULT] and found(
        run, "power.rail"
    ) == []


def test_heat_of_a_class_ab_amplifier_at_the_tone_that_is_played(
    values: Values, played: Played
) -> None:
    # A data sheet: 2 sqrt(2) V sqrt(P) / (pi sqrt(R)) - P of a sine, and its 5 mA at rest; the tone
    # of half of full scale is 1 V at 6 dB of gain.
    values["amplifier"].update(kind="class_ab", gain_db=20 * math.log10(2))
    values["amplifier"].pop("efficiency_percent")
    run = played(values, supply="wall")
    power_w = 1.0**2 / 2 / 7.04
    load_ohm = 7.04
    heat_w = (
        2 * math.sqrt(2) * 5.0 * math.sqrt(power_w) / (math.pi * math.sqrt(load_ohm))
        - power_w
        + 5.0 * 0.005
    )
    assert run.sound.heat_w.peak() == pytest.approx(heat_w, rel=0.02)
    assert found(run, "power.amplifier_heat") == []


@pytest.mark.parametrize(("limit_w", "weights"), [(0.035, [Weight.WARNING]), (0.045, [])])
def test_heat_of_an_amplifier_against_what_it_stands(
    values: Values, played: Played, limit_w: float, weights: list[Weight]
) -> None:
    # A tone of 4.5 V is 1.44 W in 7.04 ohm, with a quarter of it as heat at 80 %, for 0.1 s of the
    # run; at rest 5 mA of 5 V.
    values["amplifier"].update(gain_db=20 * math.log10(9), maximum_heat_w=limit_w)
    run = played(values, "tap lever @1", supply="wall")
    assert run.sound.heat_w.highest_mean(10.0) == pytest.approx(
        0.025 + 0.25 * 4.5**2 / 2 / 7.04 * 0.1 / run.duration_s, rel=0.03
    )
    assert [finding.weight for finding in found(run, "power.amplifier_heat")] == weights


@pytest.mark.parametrize("kind", ["linear", "step_up", "step_down"])
def test_the_meters_of_the_bench_count_at_the_supply_too(
    regulated: Values, played: Played, kind: str
) -> None:
    regulated["regulator"] = {
        "kind": kind,
        "output_v": 5.0,
        "feeds": ["board", "lights", "amplifier"],
        "own_current_ma": 3,
    }
    run = played(regulated)
    found = meters(run.prop)
    assert found["base_ma"] == pytest.approx(run.load.current_ma.values[0])  # before the tap
    assert sum(found["channel_ma"]) == pytest.approx(run.load.light_ma.peak())
    tone_ma = found["sound"]["ma_per_v2"] * 0.5**2 / 2  # half of full scale, 1 V
    assert run.load.current_ma.peak() == pytest.approx(
        found["base_ma"] + run.load.light_ma.peak() + tone_ma, rel=0.01
    )
