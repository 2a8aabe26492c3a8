"""How long the cells last on a described day."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fxseq.checks import findings, run_time_text
from fxseq.power.parts import parts
from fxseq.runs import Performance, in_numbers
from fxseq.sequence import Weight

Values = dict[str, Any]
Played = Callable[..., Performance]
SCRIPT = "tap lever @1, hold lever @5..7"

pytestmark = pytest.mark.quick


@pytest.fixture
def dark(values: Values) -> Values:
    """A prop of light alone on three alkaline cells, used for a day of 8 hours."""
    for part in ("amplifier", "speaker"):
        del values[part]
    values["effects"]["spark"]["sounds"] = []
    values["board"]["current_ma"] = 25
    values["supplies"] = {
        "cells": {
            "kind": "cells",
            "cell": "alkaline_aa",
            "cells_in_series": 3,
            "voltage_v": 4.8,
            "maximum_current_ma": 500,
        }
    }
    values["day"] = {"hours": 8}
    return values


def test_left_alone_cells_give_their_capacity_at_the_boards_current(
    dark: Values, played: Played
) -> None:
    # The maker's table, as quoted in parts.toml: 3000 mAh at 25 mA, of which a typical cell gives
    # 0.9; the board takes the same at any voltage.
    found = played(dark, SCRIPT).run_time
    assert found is not None and found.hours is not None
    assert found.hours.typical == pytest.approx(0.9 * 3000 / 25, rel=0.01)
    assert found.hours.low < found.hours.typical < found.hours.high
    assert found.drains[0] == (("idle", "board"), pytest.approx(1.0))


def test_taps_and_holds_take_their_share_of_the_charge(dark: Values, played: Played) -> None:
    # A tap lights four LEDs for 0.1 s; 600 of them an hour are one minute of light. What the LEDs
    # take is left to the circuit.
    dark["day"] |= {"taps_an_hour": 600}
    run = played(dark, SCRIPT)
    found = run.run_time
    assert found is not None
    share = dict(found.drains)
    pack_v = 3 * float(
        np.interp(0.5, parts().cells["alkaline_aa"].depth, parts().cells["alkaline_aa"].open_v)
    )
    strings_ma = 1000 * float(
        np.ravel(
            run.prop.circuits["lamp"]
            .layout.load(run.prop.circuits["lamp"].strings * 2)
            .string_a(pack_v)[0]
        )[0]
    )
    light_ma = strings_ma * run.prop.circuits["lamp"].strings * 2 / 60
    assert share["taps", "lamp"] == pytest.approx(light_ma / (light_ma + 25), rel=0.03)
    assert share["idle", "board"] == pytest.approx(
        25 * (1 - 600 * 2.06 / 3600) / (light_ma + 25), rel=0.01
    )


def test_the_tail_of_a_hold_counts_with_it(dark: Values, played: Played) -> None:
    # Held 2 s of 4 s that count with it: 900 s held an hour bring 1800 s of the state.
    dark["day"] |= {"held_s_an_hour": 900}
    found = played(dark, SCRIPT).run_time
    assert found is not None
    share = dict(found.drains)
    assert share["held", "board"] / share["idle", "board"] == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize(
    ("day", "presses", "missing"),
    [
        ({"taps_an_hour": 10}, "hold lever @1..3", "the press script has no tap to measure"),
        (
            {"held_s_an_hour": 10},
            "tap lever @1",
            "the press script holds nothing for longer than 0.5 s",
        ),
        (
            {"taps_an_hour": 36000},
            "tap lever @1",
            "36000 taps of 2.06 s and 0 s held do not fit into an hour",
        ),
    ],
)
def test_what_the_script_does_not_show_is_asked_for(
    dark: Values, played: Played, day: Values, presses: str, missing: str
) -> None:
    dark["day"] |= day
    run = played(dark, presses)
    assert run.run_time is not None and (run.run_time.hours, run.run_time.missing) == (
        None,
        missing,
    )
    (finding,) = [one for one in findings(run) if one.check == "power.run_time"]
    assert (finding.weight, missing in finding.figure) == (Weight.NOTE, True)


def test_cells_of_no_kind_give_no_hours(dark: Values, played: Played) -> None:
    del dark["supplies"]["cells"]["cell"], dark["supplies"]["cells"]["cells_in_series"]
    assert "kind of the cells" in played(dark, SCRIPT).run_time.missing


def test_without_a_day_or_from_the_wall_there_is_no_run_time(dark: Values, played: Played) -> None:
    dark["supplies"]["wall"] = {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 500}
    assert played(dark, SCRIPT, supply="wall").run_time is None
    del dark["day"]
    run = played(dark, SCRIPT)
    assert (run.run_time, in_numbers(run)["run_time"]) == (None, None)


@pytest.mark.parametrize(("hours", "weight"), [(2, None), (15, Weight.NOTE), (24, Weight.WARNING)])
def test_a_day_longer_than_the_cells_is_a_finding(
    dark: Values, played: Played, hours: float, weight: Weight | None
) -> None:
    # 130 mA: between 1500 and 2500 mAh times 0.78 to 1.08 by the table of parts.toml, so 14 to 20
    # h; typical 17.
    dark["board"]["current_ma"], dark["day"]["hours"] = 130, hours
    run = played(dark, SCRIPT)
    text = [one for one in findings(run) if one.check == "power.run_time"]
    assert [one.weight for one in text] == ([] if weight is None else [weight])
    assert all("most goes to board idle 100%" in one.figure for one in text)


def test_the_heaviest_moment_ends_the_run_sooner(dark: Values, played: Played) -> None:
    dark["supplies"]["cells"]["minimum_v"] = 3.9
    long = played(dark, "tap lever @1").run_time.hours.typical
    dark["supplies"]["cells"]["internal_resistance_ohm"] = 10.0
    assert played(dark, "tap lever @1").run_time.hours.typical < 0.7 * long


def test_a_changeover_diode_takes_its_part_of_the_cells(dark: Values, played: Played) -> None:
    dark["supplies"]["cells"]["minimum_v"] = 3.9
    from_switch = played(dark, SCRIPT).run_time.hours.typical
    dark["changeover"] = "diodes"
    assert played(dark, SCRIPT).run_time.hours.typical < from_switch


def test_a_press_that_is_never_let_go_lasts_to_the_end(dark: Values, played: Played) -> None:
    dark["day"] |= {"held_s_an_hour": 1800}
    share = dict(played(dark, "press lever @1, end @5").run_time.drains)
    assert share["held", "board"] == pytest.approx(share["idle", "board"], rel=1e-6)


def test_hours_without_end_are_none_in_plain_values(dark: Values, played: Played) -> None:
    del dark["board"]["current_ma"]
    found = played(dark, "end @2").run_time
    assert math.isinf(found.hours.typical) and found.as_dict()["hours"] == {
        "low": None,
        "typical": None,
        "high": None,
    }
    assert run_time_text(found) == "more than 2000 h"
