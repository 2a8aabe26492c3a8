"""Regulators against ngspice: a series transistor that is held to its output, a step-up
converter that switches, and a capacitor that charges.
"""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fxseq.power import Steps, circuits, regulation
from fxseq.power.rail import rail_v
from fxseq.power.regulators import board_load
from fxseq.power.wires import inrush_i2t_a2s, inrush_peak_a
from fxseq.sequence.model import Sequence
from tests.published.ngspice import simulate

THERMAL_V = 1.380649e-23 * 300.15 / 1.602176634e-19
LIT = Steps(np.zeros(1), np.ones(1), 1.0)


def prop(regulator: dict[str, Any], supply: dict[str, Any], **board: Any) -> Sequence:
    return Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 1, **board},
            "regulator": regulator,
            "supplies": {"pack": {"kind": "cells", "maximum_current_ma": 5000, **supply}},
            "groups": {
                "lamp": {
                    "first_channel": 0,
                    "leds": 12,
                    "colour": "red",
                    "forward_voltage_v": 2.0,
                    "current_ma": 20,
                    "switch": "mosfet",
                }
            },
        }
    )


@pytest.mark.parametrize(("input_v", "load_ohm"), [(12.0, 10.0), (9.0, 20.0), (7.5, 50.0)])
def test_heat_and_current_of_a_series_transistor(
    tmp_path: Path, input_v: float, load_ohm: float
) -> None:
    """An amplifier of high gain drives its base, so that 5 V are held; a beta of 1000 leaves a
    thousandth to the base.
    """
    seen = simulate(
        tmp_path,
        f"v1 in 0 {input_v}\nq1 in b out npn\ne1 b 0 vref out 1e5\nvref vref 0 5\nrl out 0"
        f" {load_ohm}\n.model npn npn(is=1e-14 bf=1000)\n.nodeset v(out)=5 v(b)=5.7",
        "op\nprint v(out) i(v1) v(b)",
    )
    found = regulation(
        prop({"kind": "linear", "output_v": 5.0, "own_current_ma": 0}, {"voltage_v": input_v})
    )
    assert found is not None and seen["v(out)"] == pytest.approx(5.0, abs=1e-3)
    given_a = 5.0 / load_ohm
    assert float(found.load(given_a).at(input_v)[0]) == pytest.approx(-seen["i(v1)"], rel=2e-3)
    # Collector and base together, as a transistor heats: Vce Ic + Vbe Ib.
    heat_w = (input_v - 5.0) * -seen["i(v1)"] + (seen["v(b)"] - 5.0) * -seen["i(v1)"] / 1000
    assert found.heat_w(input_v, given_a) == pytest.approx(heat_w, rel=3e-3)


def led_of_the_group() -> str:
    """Saturation current by hand from 2.0 V at 20 mA, with the shape of a public red model."""
    saturation_a = 0.02 / math.exp((2.0 - 0.02 * 6.0) / (1.5 * THERMAL_V))
    return f".model red d(is={saturation_a:.9e} n=1.5 rs=6)"


@pytest.mark.parametrize(
    ("kind", "open_v", "ohms"),
    [("linear", 9.6, 1.7), ("step_up", 3.7, 0.15), ("step_down", 12.0, 0.5), ("step_up", 3.0, 0.4)],
)
def test_rail_of_lights_and_board_behind_a_regulator(
    tmp_path: Path, kind: str, open_v: float, ohms: float
) -> None:
    """The strings hang on 5 V of their own; what they take there the supply gives: the same
    current, or at 80 % the same power, and the rest for itself.
    """
    described = prop(
        {"kind": kind, "output_v": 5.0, "feeds": ["board", "lights"], "own_current_ma": 2},
        {"voltage_v": open_v},
        current_ma=40,
    )
    lamp = circuits(described)["lamp"]
    assert lamp.layout is not None
    series = "\n".join(
        f"d{index} {'a' if index == 0 else f'a{index}'}"
        f" {f'a{index + 1}' if index < lamp.series - 1 else 'k'} red area={lamp.strings}"
        for index in range(lamp.series)
    )
    taken = "-i(vo)" if kind == "linear" else "-i(vo)*5/0.8/max(v(r),0.5)"
    deck = (
        f"vo o 0 5\nib o 0 40m\nr1 o a {lamp.layout.resistor_ohm / lamp.strings}\n{series}\nrk k 0"
        f" 0.05\n{led_of_the_group()}\nv1 e 0 {open_v}\nr0 e r {ohms}\nb1 r 0"
        f" i={taken}+2m\n.nodeset v(r)={open_v}"
    )
    seen = simulate(tmp_path, deck, "op\nprint v(r) i(vo)")
    ours = float(np.ravel(rail_v(open_v, ohms, board_load(described) + lamp.load(LIT)))[0])
    assert ours == pytest.approx(seen["v(r)"], rel=5e-3)
    assert open_v - ours == pytest.approx(open_v - seen["v(r)"], rel=1e-2)


def test_a_step_up_converter_passes_on_a_higher_input(tmp_path: Path) -> None:
    """Its switch stays off, as its loop demands above its output; what comes out is the input
    less the diode.
    """
    seen = simulate(
        tmp_path,
        "v1 in 0 6.4\nl1 in x 10u ic=0\nd1 x out s\nc1 out 0 100u ic=0\nrl out 0 50\n.model s"
        " d(is=1e-6 n=1.05 rs=0.08)",
        "tran 1u 20m uic\nmeas tran last find v(out) at=19.9m",
    )
    assert 6.4 - 0.5 < seen["last"] < 6.4


@pytest.mark.parametrize(("input_v", "duty"), [(3.7, 0.35), (3.0, 0.5)])
def test_a_step_up_converter_takes_power_and_not_current(
    tmp_path: Path, input_v: float, duty: float
) -> None:
    """Coil, switch and diode at 200 kHz: with its own output and efficiency put in, the
    converter of a description takes the same current.
    """
    seen = simulate(
        tmp_path,
        f"v1 in 0 {input_v}\nl1 in x 22u\ns1 x 0 g 0 sw\nvg g 0 pulse(0 1 0 10n 10n {duty * 5e-6}"
        " 5u)\nd1 x out s\nc1 out 0 100u ic=5\nrl out 0 25\n.model sw sw(vt=0.5 ron=0.1"
        " roff=1e7)\n.model s d(is=1e-6 n=1.05 rs=0.08)",
        "tran 50n 6m 4m 50n uic\nmeas tran vo avg v(out)\nmeas tran ii avg i(v1)\nlet"
        " p=v(out)*v(out)/25\nmeas tran po avg p\nlet l=abs(i(v1))\nmeas tran il avg l",
    )
    efficiency = seen["po"] / (input_v * seen["il"])
    assert 0.75 < efficiency < 1
    described = prop(
        {
            "kind": "step_up",
            "output_v": seen["vo"],
            "efficiency_percent": 100 * efficiency,
            "own_current_ma": 0,
        },
        {"voltage_v": input_v},
    )
    found = regulation(described)
    assert found is not None
    assert found.ratio(input_v) * seen["vo"] / 25 == pytest.approx(-seen["ii"], rel=5e-3)
    assert seen["vo"] > input_v


@pytest.mark.parametrize(("volts", "ohms", "micro_f"), [(5.25, 0.2, 1000), (6.4, 0.8, 470)])
def test_inrush_into_an_empty_capacitor(
    tmp_path: Path, volts: float, ohms: float, micro_f: float
) -> None:
    seen = simulate(
        tmp_path,
        f"v1 e 0 {volts}\nr0 e r {ohms}\nc1 r 0 {micro_f}u ic=0\nb1 q 0 i=-i(v1)*i(v1)\nc2 q 0 1"
        " ic=0\nr2 q 0 1e9",
        "tran 0.2u 5m uic\nmeas tran peak min i(v1)\nmeas tran last find v(q) at=4.99m",
    )
    assert inrush_peak_a(volts, ohms) == pytest.approx(-seen["peak"], rel=5e-3)
    assert inrush_i2t_a2s(volts, micro_f * 1e-6, ohms) == pytest.approx(seen["last"], rel=5e-3)
