"""The sheet of the wiring."""

from collections.abc import Callable
from functools import cache
from itertools import combinations, pairwise
from math import dist
from typing import Any

import numpy as np
import pytest
from drawn import DEMO, in_turn, once, overlapping, written

from matplotlib.axes import Axes

from fxseq.plots import picture_bytes, wiring_figure, wiring_figures
from fxseq.power import Schedule
from fxseq.runs import wiring_of
from fxseq.sequence import load
from fxseq.sequence.model import Sequence

Point = tuple[float, float]
LONG = "a_name_as_long_as_a_name_may_be_for_sure"
CELLS = {
    "kind": "cells",
    "voltage_v": 12.0,
    "minimum_v": 9.0,
    "maximum_current_ma": 2000,
    "bulk_capacitor_uf": 470,
}
WALL = {"kind": "wall", "voltage_v": 12.0, "maximum_current_ma": 2000}
SOUND = {
    "amplifier": {"gain_db": 9.5, "full_scale_input_v": 1.2},
    "speaker": {
        "diameter_mm": 28,
        "impedance_ohm": 8,
        "resonance_hz": 900,
        "sensitivity_db": 86,
        "rated_power_w": 1.0,
    },
}

CONTROLS = {
    "inputs": {"lever": {}, LONG: {}, "low": {"kind": "low_battery"}, "lid": {}},
    "selectors": {
        "ring": {"positions": ["slow", "storm", LONG]},
        "dial": {"positions": [f"step_{n}" for n in range(16)]},
    },
}


def group(first: int, channels: int = 1, leds: int = 1, **settings: Any) -> dict[str, Any]:
    usual = {"colour": "red", "forward_voltage_v": 2.0, "current_ma": 5}
    return {"first_channel": first, "channels": channels, "leds": leds, **usual, **settings}


GROUPS = {
    "pinned": group(0, switch="pin"),
    "driven": group(1, 4, 24, switch="driver", colour="green", forward_voltage_v=3.2),
    "strong": group(5, 2, 24, colour="warm_white", forward_voltage_v=3.0, current_ma=100),
    LONG: group(7, 30, 120, resistor_ohm=123.4),
    "dark": group(50, switch="pin", colour="blue", forward_voltage_v=5.4),
}


def plan(groups: dict[str, Any] | None = None, **top: Any) -> Schedule:
    values = {
        "format": 1,
        "title": "A $5 lamp, 100 % _bright_",
        "board": {"channels": 60},
        "supplies": {"pack": CELLS},
    }
    return wiring_of(
        Sequence.model_validate({**values, "groups": GROUPS if groups is None else groups, **top})
    )


PLANS = {
    "demo": lambda: wiring_of(load(DEMO)),
    "one_supply": lambda: plan(),
    "sound": lambda: plan(**SOUND),
    "single_ended": lambda: plan(
        **{**SOUND, "amplifier": {**SOUND["amplifier"], "output": "single", "kind": "class_ab"}}
    ),
    "amplifier_alone": lambda: plan(amplifier=SOUND["amplifier"]),
    "nothing_apart": lambda: plan(supplies={"pack": CELLS, LONG: WALL}),
    "diodes": lambda: plan(
        supplies={"pack": CELLS, LONG: WALL, "third": CELLS}, changeover="diodes"
    ),
    "regulated_board": lambda: plan(**SOUND, regulator={"kind": "low_dropout", "output_v": 3.3}),
    "regulated_rest": lambda: plan(
        **SOUND,
        regulator={"kind": "step_down", "output_v": 9.25, "feeds": ["lights", "amplifier"]},
        changeover="switch",
        supplies={"pack": {**CELLS, "resettable_fuse_ma": 1250}, LONG: {**WALL, "fuse_ma": 2500}},
    ),
    "regulated_lights": lambda: plan(
        regulator={"kind": "step_up", "output_v": 24.0, "feeds": ["lights"]},
        groups={"set": group(0, switch="driver", driver_reference_v=48)},
    ),
    "no_groups": lambda: plan(groups={}),
    "controls": lambda: plan(
        **CONTROLS, changeover="switch", supplies={"pack": CELLS, "wall": WALL, "third": CELLS}
    ),
}


@cache
def plan_of(name: str) -> Schedule:
    return PLANS[name]()


@pytest.mark.parametrize(("name", "theme"), in_turn(PLANS))
def test_no_text_overlaps_another_or_leaves_the_figure(name: str, theme: str) -> None:
    assert overlapping(once(wiring_figure, plan_of(name), theme)) == []


def texts(of: Schedule) -> list[str]:
    return [text for text, _ in written(once(wiring_figure, of, "light"))]


def test_the_figures_of_the_schedule_stand_on_the_sheet() -> None:
    found = plan_of("demo")
    printed = " ".join(texts(found))
    for wired in found.groups:
        assert (
            f"{wired.resistor.ohm:g} ohm" in printed
            and " ".join(wired.resistor.bands) in printed
            and f"{wired.drive.series.ohm:g} ohm" in printed
        )
    for line in found.lines:
        assert (
            f"fuse {line.fuse_a:g} A" in printed
            and f"AWG {line.gauge}" in printed
            and line.name in printed
        )


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("nothing_apart", "nothing keeps them apart"),
        ("diodes", "a diode in each"),
        ("demo", "changeover or switched socket"),
        ("demo", "breaks before\nit makes"),
        ("amplifier_alone", "speaker not described"),
        ("one_supply", "stays dark at this supply:\nnothing to draw"),
        ("one_supply", "board\ncurrent not described\noutputs of 3.3 V"),
        ("one_supply", "470 uF"),
        ("one_supply", "3 in all"),
        ("one_supply", "constant-\ncurrent driver"),
        ("one_supply", "123.4 ohm"),
        ("regulated_board", "3.3 V\nlow dropout"),
        ("regulated_rest", "9.25 V\nstep down"),
        ("regulated_rest", "and lights"),
        ("regulated_rest", "+9.25 V"),
        ("regulated_lights", "for lights"),
        ("regulated_lights", "10 kohm sets it: brown black orange"),
        ("regulated_rest", "resettable 1.25 A"),
        ("regulated_rest", "fuse 2.5 A"),
        ("demo", "1 +"),
        ("demo", "2 \u2212"),
        ("demo", "A"),
        ("demo", "K"),
        ("demo", "N-channel\nMOSFET"),
        ("demo", "G"),
        ("demo", "NPN\ntransistor"),
        ("demo", "B"),
        ("demo", "input 1"),
        ("demo", "selector 0"),
        ("demo", "storm"),
    ],
)
def test_what_is_there_and_what_is_not_described_is_told_apart(name: str, text: str) -> None:
    assert text in texts(plan_of(name))


def joined(axes: Axes) -> Callable[[Point, Point], bool]:
    """Whether wires lead from one place of a drawing to another: lines that have an end in
    common, or one that ends on the other.
    """
    lines = [
        np.round(line.get_xydata(), 3).tolist()
        for line in axes.lines
        if line.get_linestyle() == "-" and len(line.get_xydata()) > 1
    ]
    pieces = [(start, end) for line in lines for start, end in pairwise(line)]

    def on(point: Point) -> set[int]:
        """The pieces that it lies on."""
        return {
            number
            for number, (start, end) in enumerate(pieces)
            if abs(dist(point, start) + dist(end, point) - dist(start, end)) < 0.01
        }

    meets = [on(start) | on(end) for start, end in pieces]
    for number, others in enumerate(meets):
        for other in others:
            meets[other].add(number)

    def reached(start: Point, end: Point) -> bool:
        found = set()
        left = on(start)
        while left:
            found |= left
            left = set().union(*(meets[number] for number in left)) - found
        return bool(on(end) & found)

    return reached


@pytest.mark.parametrize("name", ["demo", "regulated_rest", "controls"])
def test_a_change_over_joins_the_rail_to_one_supply_and_no_supply_to_another(name: str) -> None:
    count = len(plan_of(name).lines)
    reach = joined(once(wiring_figure, plan_of(name), "light").axes[0])
    fused = [(5.4, -1.2 - 3.4 * place) for place in range(count)]
    assert [reach(place, (9.6, -1.2)) for place in fused] == [True] + [False] * (count - 1)
    assert not any(reach(one, other) for one, other in combinations(fused, 2))


def test_diodes_part_supplies_that_lead_to_one_rail() -> None:
    reach = joined(once(wiring_figure, plan_of("diodes"), "light").axes[0])
    assert reach((9.0, -1.2), (9.0, -4.6)) and reach((5.5, -1.2), (6.0, -1.2))


def test_each_button_and_selector_is_a_contact_to_ground_and_the_low_battery_sense_is_none() -> (
    None
):
    printed = texts(plan_of("controls"))
    assert [text for text in printed if text.startswith(("input", "selector"))] == [
        "input 0",
        "input 1",
        "input 3",
        "selector 0",
        "selector 1",
    ]
    assert all(f"step_{n}" in printed for n in range(16)) and "low" not in printed


def test_a_coded_selector_has_a_contact_for_each_bit() -> None:
    dial = {"positions": ["a1", "b1", "c1", "d1", "e1"], "coded": True}
    coded = plan(board={"part": "pico"}, groups={}, selectors={"dial": dial})
    printed = texts(coded)
    assert [text for text in printed if text.startswith("bit")] == ["bit 0", "bit 1", "bit 2"]
    assert "a1" not in printed
    assert "a contact for each bit" in " ".join(_head(coded))


def _head(drawn: Schedule) -> list[str]:
    return [text.get_text() for text in wiring_figure(drawn).texts]


def test_on_paper_the_groups_have_sheets_of_their_own_four_on_each() -> None:
    drawn = plan(groups={f"g{each}": group(each) for each in range(5)})
    sheets = [{text.get_text() for text in one.axes[0].texts} for one in wiring_figures(drawn)]
    found = [[f"g{each}" in sheet for each in range(5)] for sheet in sheets]
    assert found == [[False] * 5, [True] * 4 + [False], [False] * 4 + [True]]


def test_without_sound_no_amplifier_is_drawn() -> None:
    assert not any(text.startswith("amplifier") for text in texts(plan_of("one_supply")))
    assert any(text.startswith("amplifier") for text in texts(plan_of("sound")))


def test_two_leds_of_a_string_are_drawn_and_of_more_the_first_and_the_last() -> None:
    def shapes(series: int) -> int:
        axes = wiring_figure(
            plan(
                groups={
                    "lamp": group(
                        0, 1, series, leds_in_series=series, resistor_ohm=10, switch="transistor"
                    )
                }
            )
        ).axes[0]
        return len(axes.lines) + len(axes.patches)

    one, two, three, five = map(shapes, (1, 2, 3, 5))
    assert one < two == three == five


@pytest.mark.parametrize("shared", [False, True])
def test_strings_on_one_resistor_are_drawn_as_such(shared: bool) -> None:
    printed = texts(
        plan(
            groups={
                "lamp": group(
                    0, 1, 3, leds_in_series=1, shared_resistor=shared, switch="transistor"
                )
            }
        )
    )
    assert ("2 strings\nmore" in printed, "3 strings a channel, all on one" in printed) == (
        shared,
        shared,
    )
    assert ("3 strings a channel, each with a" in printed) != shared


def test_the_sheet_grows_by_a_row_for_every_four_groups() -> None:
    heights = [
        wiring_figure(
            plan(groups={f"g{each}": group(each) for each in range(count)})
        ).get_size_inches()[1]
        for count in (1, 4, 5, 9)
    ]
    assert heights[0] == heights[1] < heights[2] < heights[3]


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_drawn_twice_gives_the_same_bytes(kind: str) -> None:
    first, second = (picture_bytes(wiring_figure(plan_of("demo")), kind) for _ in range(2))
    assert first == second
