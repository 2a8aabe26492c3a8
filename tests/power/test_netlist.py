"""The netlist of a prop: every pin once, every lamp between supply and ground as its group says."""

from collections import Counter
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.power import Schedule, netlist, wiring_schedule
from fxseq.power.netlist import GROUND, RAIL, End, Net
from fxseq.sequence.model import Sequence

CELLS = {"kind": "cells", "voltage_v": 6.0, "minimum_v": 4.8, "maximum_current_ma": 2000}
WALL = {"kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 2000}
SOUND = {
    "amplifier": {"gain_db": 0.0, "full_scale_input_v": 1.0},
    "speaker": {
        "diameter_mm": 28, "impedance_ohm": 8, "resonance_hz": 800, "sensitivity_db": 80,
        "rated_power_w": 0.5,
    },
}  # fmt: skip


def schedule(groups: dict[str, Any], **more: Any) -> Schedule:
    values = {
        "format": 1,
        "title": "Lamp",
        "board": {"part": "pico", "lights": "shift_registers"},
        "supplies": {"pack": CELLS},
        "inputs": {"lever": {}},
        "selectors": {"ring": {"positions": ["slow", "storm"]}},
        "groups": groups,
    }
    return wiring_schedule(Sequence.model_validate({**values, **more}), {})


@st.composite
def lamps(draw: st.DrawFn) -> dict[str, Any]:
    channels = draw(st.integers(1, 10))
    series = draw(st.integers(1, 2))
    return {
        "channels": channels,
        "leds": channels * series * draw(st.integers(1, 3)),
        "leds_in_series": series,
        "colour": draw(st.sampled_from(["red", "amber"])),
        "forward_voltage_v": 2.0,
        "current_ma": draw(st.sampled_from([2, 10])),
        "shared_resistor": draw(st.booleans()),
        "switch": draw(st.sampled_from(["transistor", "mosfet", "driver", "pin"])),
    }


@st.composite
def schedules(draw: st.DrawFn) -> Schedule:
    groups = {f"group_{at}": draw(lamps()) for at in range(draw(st.integers(1, 3)))}
    board = draw(
        st.sampled_from(
            [
                {"part": "pico", "lights": "shift_registers"},
                {"part": "pico", "lights": "drivers"},
                {},
            ]
        )
    )
    return schedule(
        groups,
        board=board,
        supplies=draw(st.sampled_from([{"pack": CELLS}, {"pack": CELLS, "wall": WALL}])),
        changeover=draw(st.sampled_from(["switch", "diodes", None])),
        **draw(st.sampled_from([{}, SOUND])),
        **draw(st.sampled_from([{}, {"clips": {"crack": {"file": "crack.wav"}}}])),
    )


@settings(max_examples=50)
@given(schedules())
def test_any_prop_is_joined_whole(plan: Schedule) -> None:
    _every_pin_is_joined_once(plan)
    _lamps_are_as_many_as_the_groups_have(plan)
    _every_lamp_lies_between_its_feed_and_its_switch(plan)


def _every_pin_is_joined_once(plan: Schedule) -> None:
    found = netlist(plan)
    ends = Counter(end for net in found.nets for end in net.ends)
    assert set(ends.values()) == {1}
    marks = [part.mark for part in found.parts]
    assert len(set(marks)) == len(marks) and {end.mark for end in ends} <= set(marks)
    assert min(len(net.ends) for net in found.nets) >= 2
    assert len({net.name for net in found.nets}) == len(found.nets)


def _lamps_are_as_many_as_the_groups_have(plan: Schedule) -> None:
    found = netlist(plan)
    lit = {group.name: group.circuit.group.leds for group in plan.groups if group.circuit.series}
    assert {name: len(marks) for name, marks in found.lamps.items()} == lit


def _every_lamp_lies_between_its_feed_and_its_switch(plan: Schedule) -> None:
    """Followed from pin to pin, the way that current takes."""
    found = netlist(plan)
    at = {end: net for net in found.nets for end in net.ends}
    for group in plan.groups:
        for mark in found.lamps.get(group.name, ()):
            first, before = _row(at, mark, "A", "K")
            last, behind = _row(at, mark, "K", "A")
            assert before + 1 + behind == group.circuit.series
            fed = [end for end in first.ends if end.mark.startswith("R")]
            assert bool(fed) == bool(group.resistor) or first.name == RAIL
            if group.resistor:
                assert [end.pin for end in fed] == ["2"]
                feed = at[End(fed[0].mark, "1")].name
                assert feed.startswith("output ") if group.circuit.switch == "pin" else feed == RAIL
            switches = {end.mark[0] + end.pin[:3] for end in last.ends} & {
                "QC",
                "QD",
                "Uout",
                "UOUT",
            }
            if group.circuit.switch == "pin":
                assert last.name == GROUND
            else:
                assert len(switches) == 1


def _row(at: dict[End, Net], mark: str, pin: str, other: str) -> tuple[Net, int]:
    """The net at the end of a row of lamps behind this pin, and how many more there are."""
    more = 0
    net = at[End(mark, pin)]
    while net.name not in (GROUND, RAIL):
        lamps = [end for end in net.ends if end.pin == other and end.mark.startswith("DS")]
        if len(lamps) != 1 or any(not end.mark.startswith("DS") for end in net.ends):
            break
        net = at[End(lamps[0].mark, pin)]
        more += 1
    return net, more


def test_a_chain_is_joined_as_the_data_sheet_has_it() -> None:
    """Pins of the 74HC595, from memory of its data sheet (SCLS041)."""
    lamp = {"channels": 10, "leds": 10, "colour": "red", "current_ma": 2, "switch": "transistor"}
    found = netlist(schedule({"lamp": lamp}))
    first, second = [part.mark for part in found.parts if "74HC595" in part.what]
    nets = {f"{mark}/{pin}": net.name for net in found.nets for mark, pin in net.ends}
    assert nets[f"{first}/9 QH'"] == nets[f"{second}/14 SER"]
    assert [nets[f"{first}/{pin}"] for pin in ("15 QA", "1 QB", "7 QH")] == [
        "output 0", "output 1", "output 7",
    ]  # fmt: skip
    assert [nets[f"{second}/{pin}"] for pin in ("15 QA", "1 QB")] == ["output 8", "output 9"]
    for mark in (first, second):
        assert nets[f"{mark}/8 GND"] == GROUND
        # Cleared never, or the lamps would go out.
        assert nets[f"{mark}/10 SRCLR"] == nets[f"{mark}/16 VCC"] == "3V3 of the board"
        for pin, line in (("11 SRCLK", "clock"), ("12 RCLK", "latch"), ("13 OE", "blank")):
            assert nets[f"{mark}/{pin}"] == f"lights, {line}"


def test_each_string_of_a_driver_has_an_output_that_holds_its_current() -> None:
    lamp = {"leds": 3, "leds_in_series": 1, "colour": "red", "current_ma": 2, "switch": "driver"}
    found = netlist(schedule({"lamp": lamp}))
    nets = [set(net.ends) for net in found.nets if any("out" in end.pin for end in net.ends)]
    driver = next(part.mark for part in found.parts if "3 outputs" in part.what)
    assert nets == [{End(f"DS{at}", "K"), End(driver, f"out {at}")} for at in (1, 2, 3)]
    # A chain has one output a channel: what it cannot hold is told.
    board = {"part": "pico", "lights": "drivers"}
    told = netlist(schedule({"lamp": lamp}, board=board)).open_ends
    assert any("3 strings share what one output of the chain holds" in text for text in told)
    switched = {**lamp, "switch": "transistor"}
    told = netlist(schedule({"lamp": switched}, board=board)).open_ends
    assert any("it takes in current" in text for text in told)


def test_parts_are_said_so_that_they_can_be_bought() -> None:
    lamp = {"leds": 1, "colour": "red", "current_ma": 2, "switch": "mosfet"}
    cells = {**CELLS, "voltage_v": 30.0, "bulk_capacitor_uf": 100}
    both = schedule({"lamp": lamp}, supplies={"pack": cells, "wall": WALL}, changeover="diodes")
    whats = {part.what for part in netlist(both).parts}
    # 30 V and a quarter more is 37.5 V: 50 V and 40 V are the next that are sold.
    assert "capacitor 100 uF, 50 V or more, electrolytic" in whats
    assert any(what.startswith("Schottky diode, ") and what.endswith("40 V") for what in whats)
    assert "N-channel MOSFET, 0.05 ohm at a gate of 2.5 V, 2000 mA or more" in whats


def test_supplies_that_nothing_keeps_apart_are_not_joined() -> None:
    lamp = {"leds": 1, "colour": "red", "current_ma": 2}
    found = netlist(schedule({"lamp": lamp}, supplies={"pack": CELLS, "wall": WALL}))
    assert any("keeps them apart" in text for text in found.open_ends)
    pluses = {net.name for net in found.nets for end in net.ends if end.mark in ("F1", "F2")}
    assert RAIL not in pluses


@pytest.mark.parametrize("name", ["ground", "sound", "output", "supply"])
def test_a_name_of_the_file_joins_nothing_by_chance(name: str) -> None:
    lamp = {"channels": 2, "leds": 2, "colour": "red", "current_ma": 2, "switch": "transistor"}
    plain = netlist(schedule({"lamp": lamp}))
    named = netlist(
        schedule(
            {name: lamp},
            inputs={name: {}},
            supplies={name: CELLS},
            selectors={name: {"positions": ["slow", "storm"]}},
        )
    )
    assert [net.ends for net in named.nets] == [net.ends for net in plain.nets]
