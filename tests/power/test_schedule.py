"""The schedule of the wiring, against pencil and paper and the tables of wire sizes."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.power import Schedule, wires, wiring_schedule
from fxseq.power.resistors import bands_or_none, standard_at_most_ohm
from fxseq.power.schedule import GATE_OHM, HOLD_OFF_OHM
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Sequence
from tests.checks.judged import line_findings

CELLS = {"kind": "cells", "voltage_v": 6.0, "minimum_v": 4.8, "maximum_current_ma": 1000}
LAMP = {
    "first_channel": 3,
    "channels": 2,
    "leds": 4,
    "colour": "red",
    "forward_voltage_v": 2.0,
    "current_ma": 10,
}
SOUND = {
    "amplifier": {"gain_db": 0.0, "full_scale_input_v": 1.0},
    "speaker": {
        "diameter_mm": 28,
        "impedance_ohm": 8,
        "resonance_hz": 800,
        "sensitivity_db": 80,
        "rated_power_w": 0.5,
    },
}


def plan(
    sound_ma: float | None = None, supplies: dict[str, Any] | None = None, **changes: Any
) -> Schedule:
    top = {
        key: changes.pop(key)
        for key in ("changeover", "board", "amplifier", "speaker")
        if key in changes
    }
    described = Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 16, "current_ma": 30},
            "supplies": supplies or {"pack": CELLS},
            "groups": {"lamp": {**LAMP, **changes}},
            **top,
        }
    )
    return wiring_schedule(
        described, {} if sound_ma is None else dict.fromkeys(described.supplies, sound_ma)
    )


def test_a_string_has_a_standard_resistor_and_its_bands() -> None:
    (lamp,) = plan(leds_in_series=1).groups
    # (6.0 - 0.09 - 2.0) V / 10 mA is 391 ohm, of IEC 60063's E24 430; IEC 60062: yellow 4, orange
    # 3, brown times 10, gold 5 %.
    assert lamp.resistor is not None
    assert (lamp.resistor.ohm, lamp.resistor.bands) == (
        430.0,
        ("yellow", "orange", "brown", "gold"),
    )


def test_strings_may_hang_on_one_resistor_of_an_output() -> None:
    (lamp,) = plan(leds_in_series=1, shared_resistor=True).groups
    # Two strings of 10 mA: 3.9 V / 20 mA is 195 ohm, of E24 200 ohm.
    assert lamp.resistor is not None and lamp.shares
    assert (lamp.resistor.ohm, lamp.as_dict()["shared_resistor"]) == (200.0, True)
    (alone,) = plan(leds_in_series=2, shared_resistor=True).groups
    assert not alone.shares


def test_a_base_gets_a_tenth_of_what_it_switches() -> None:
    (lamp,) = plan(switch="transistor", leds_in_series=1).groups
    # Makers' condition of saturation: Ib = Ic / 10. From 3.3 V over 0.7 V.
    assert lamp.drive is not None and lamp.drive.series is not None
    assert lamp.drive.pin_ma == pytest.approx(2600 / lamp.drive.series.ohm)
    assert (
        lamp.circuit.channel_ma.high / 10
        <= lamp.drive.pin_ma
        <= 1.2 * lamp.circuit.channel_ma.high / 10
    )


def test_a_gate_takes_nothing_but_what_holds_it_off() -> None:
    (lamp,) = plan(switch="mosfet").groups
    assert (
        lamp.drive is not None and lamp.drive.series is not None and lamp.drive.hold_off is not None
    )
    assert (lamp.drive.series.ohm, lamp.drive.hold_off.ohm) == (GATE_OHM, HOLD_OFF_OHM)
    assert lamp.drive.pin_ma == pytest.approx(3300 / 100_100)


def test_a_pin_gives_what_its_strings_take() -> None:
    (lamp,) = plan(switch="pin", leds_in_series=1).groups
    assert lamp.drive is not None and lamp.drive.series is None
    assert lamp.drive.pin_ma == pytest.approx(2 * lamp.circuit.layout.fresh_ma.high)
    assert lamp.common == "ground"


def test_a_driver_holds_the_current_without_resistor() -> None:
    (lamp,) = plan(switch="driver").groups
    assert (lamp.resistor, lamp.drive) == (None, None)
    assert lamp.as_dict()["string_flat_ma"] == pytest.approx(
        {"low": 9.7, "typical": 10, "high": 10.3}
    )


def test_a_group_that_stays_dark_is_in_the_schedule_and_asks_for_nothing() -> None:
    found = plan(
        switch="pin", colour="blue", forward_voltage_v=3.4, board={"channels": 16, "pin_v": 2.4}
    )
    assert (found.groups[0].circuit.series, found.groups[0].drive, found.lines[0].light_ma) == (
        0,
        None,
        0,
    )
    assert json.dumps(found.as_dict(), allow_nan=False)


def test_a_line_carries_everything_at_once() -> None:
    (line,) = plan(200.0, leds_in_series=1, resistor_ohm=390, **SOUND).lines
    # Four strings of 10 mA through exactly their resistor, 200 mA of sound and 30 of the board.
    assert line.total_ma == pytest.approx(270, abs=0.5)
    # 270 mA / 0.75 is 360 mA: a fuse of 0.4 A, and 0.4 A * 700 circular mils is AWG 24 (404 of
    # them), 26 has 254.
    assert (line.fuse_a, line.gauge) == (0.4, 24)
    # Tables of wire sizes: AWG 24 has 84.2 ohm a km; there and back.
    assert line.drop_mv_per_m == pytest.approx(2 * 0.0842 * 270, rel=0.005)


@given(current_a=st.floats(0.001, 20))
def test_a_fuse_carries_the_current_and_its_wire_carries_the_fuse(current_a: float) -> None:
    found = wires.fused_wire(current_a)
    if found is None:
        # AWG 16: 2583 circular mils (tables of wire sizes), 3.69 A
        assert current_a / wires.FUSE_SHARE > 3.15 * 0.999
    else:
        gauge, fuse_a = found
        assert current_a <= 0.75 * fuse_a <= 0.75 * wires.ampacity_a(gauge)


def test_a_line_too_strong_for_hook_up_wire_says_so() -> None:
    found = plan(8000.0, leds_in_series=1, **SOUND)
    assert (found.lines[0].gauge, found.lines[0].fuse_a, found.lines[0].drop_mv_per_m) == (
        None,
        None,
        None,
    )
    (wire,) = (
        finding for finding in line_findings(found.lines) if finding.check != "power.line_current"
    )
    assert (wire.check, wire.weight, wire.figure) == (
        "power.line_wire",
        Weight.WARNING,
        "no common hook-up wire is thick enough for a fuse for 8.07 A",
    )


@pytest.mark.parametrize(("sound_ma", "thick"), [(2290, True), (2300, False)])
def test_a_common_wire_is_enough_up_to_the_largest_fuse_that_it_carries(
    sound_ma: float, thick: bool
) -> None:
    # AWG 16 has 2583 circular mils (tables of wire sizes): 3.69 A, so a fuse of 3.15 A, of which 75
    # % is 2.36 A; 70 mA are LEDs and board.
    found = plan(
        sound_ma,
        supplies={"pack": {**CELLS, "maximum_current_ma": 5000}},
        leds_in_series=1,
        **SOUND,
    )
    assert (found.lines[0].fuse_a, line_findings(found.lines) == ()) == (
        (3.15, True) if thick else (None, False)
    )


@pytest.mark.parametrize(
    ("maximum_ma", "sound_ma", "weight"),
    [
        (69, None, Weight.WARNING),
        (71, None, None),
        (69, 20, Weight.WARNING),
        (89, 20, Weight.NOTE),
        (91, 20, None),
    ],
)
def test_everything_at_once_is_held_against_the_supply(
    maximum_ma: float, sound_ma: float | None, weight: Weight | None
) -> None:
    # Four strings of 10 mA and 30 mA of the board; the loudest tone is rare.
    found = plan(
        sound_ma,
        supplies={"pack": {**CELLS, "maximum_current_ma": maximum_ma}},
        leds_in_series=1,
        resistor_ohm=390,
        **SOUND,
    )
    printed = line_findings(found.lines)
    assert [(one.check, one.weight) for one in printed] == (
        [("power.line_current", weight)] if weight is not None else []
    )


def test_pins_of_plugs_are_numbered_in_order() -> None:
    found = plan(5.0, **SOUND).as_dict()["connectors"]
    assert found == {
        "supply pack": {1: "+", 2: "-"},
        "speaker": {1: "+", 2: "-"},
        "lamp": {1: "supply +", 2: "channel 3", 3: "channel 4"},
    }


@pytest.mark.parametrize(
    ("changes", "text", "printed"),
    [
        ({"board": {"channels": 16}}, "board.current_ma", True),
        ({}, "board.current_ma", False),
        ({"supplies": {"a": CELLS, "b": CELLS}}, "changeover", True),
        ({"supplies": {"a": CELLS, "b": CELLS}, "changeover": "switch"}, "changeover", False),
        ({}, "Amplifier or speaker", True),
        (SOUND, "Amplifier or speaker", False),
        ({**SOUND, "amplifier": {**SOUND["amplifier"], "output": "single"}}, "capacitor", True),
        (SOUND, "capacitor", False),
        ({"switch": "driver"}, "constant-current driver", True),
        ({"switch": "mosfet"}, "constant-current driver", False),
        ({}, "Lengths of wire", True),
    ],
)
def test_what_the_file_leaves_open_is_said(
    changes: dict[str, Any], text: str, printed: bool
) -> None:
    assert any(text in missing for missing in plan(**changes).missing) == printed


def test_nothing_is_laid_out_without_a_supply() -> None:
    with pytest.raises(ValueError, match="without a supply"):
        wiring_schedule(
            Sequence.model_validate({"format": 1, "title": "Lamp", "board": {"channels": 1}}), {}
        )


@pytest.mark.parametrize(
    ("most_ohm", "ohm"), [(1300, 1300.0), (1299, 1200.0), (10.5, 10.0), (999_999, 910_000.0)]
)
def test_a_resistor_of_at_most_so_much_is_the_next_lower_of_e24(
    most_ohm: float, ohm: float
) -> None:
    assert standard_at_most_ohm(most_ohm) == ohm  # IEC 60063, E24


@pytest.mark.parametrize(
    ("ohm", "bands"),
    [
        (390.0, ("orange", "white", "brown", "gold")),
        (121.0, ("brown", "red", "brown", "black", "brown")),
        (123.4, None),
    ],
)
def test_bands_say_the_value_or_there_are_none(ohm: float, bands: tuple[str, ...] | None) -> None:
    assert bands_or_none(ohm) == bands


@given(
    kind=st.sampled_from(["cells", "wall"]),
    voltage_v=st.floats(0.5, 60),
    minimum_v=st.floats(0, 60),
    pin_v=st.floats(1, 12),
    forward_v=st.floats(0.51, 60),
    current_ma=st.floats(0.01, 5000),
    channels=st.integers(1, 4),
    leds=st.integers(1, 30),
    switch=st.sampled_from(["pin", "transistor", "mosfet", "driver", None]),
    resistor_ohm=st.none() | st.floats(0.1, 1e7),
    colour=st.sampled_from(["red", "green", "blue", "warm_white"]),
    shared=st.booleans(),
)
def test_any_description_gives_a_schedule_in_plain_numbers(
    kind: str,
    voltage_v: float,
    minimum_v: float,
    pin_v: float,
    forward_v: float,
    current_ma: float,
    channels: int,
    leds: int,
    switch: str | None,
    resistor_ohm: float | None,
    colour: str,
    shared: bool,
) -> None:
    given_keys = {
        key: value
        for key, value in (("switch", switch), ("resistor_ohm", resistor_ohm))
        if value is not None
    }
    found = plan(
        supplies={
            "one": {
                "kind": kind,
                "voltage_v": voltage_v,
                "minimum_v": min(minimum_v, voltage_v),
                "maximum_current_ma": 1000,
            }
        },
        board={"channels": 255, "pin_v": pin_v},
        channels=channels,
        leds=channels * leds,
        forward_voltage_v=forward_v,
        current_ma=current_ma,
        colour=colour,
        shared_resistor=shared,
        **given_keys,
    )
    assert json.dumps(found.as_dict(), allow_nan=False)


def test_leds_beside_those_of_a_group_are_in_the_schedule() -> None:
    (lamp,) = plan(
        leds_in_series=1, beside=[{"leds": 2, "colour": "warm_white", "current_ma": 20}]
    ).groups
    assert (lamp.beside, lamp.shares) == ("2 warm white, 1 in series", True)
    assert json.dumps(lamp.as_dict(), allow_nan=False)
