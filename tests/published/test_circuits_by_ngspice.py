"""Whole descriptions against ngspice decks drawn from circuit theory: what a maker writes goes in,
volts and amps come out, within 0.5 %.

The decks share nothing with the models but the figures of the parts: an LED's saturation current is
worked out by hand from the point of its data sheet, switches are a transistor or a MOSFET of
ngspice's own, dimming is pulsed.
"""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fxseq.power import (
    Circuit,
    Load,
    Phase,
    Steps,
    board_load,
    circuits,
    pack_of,
    played_rail,
    pulsed_rail,
    wiring_schedule,
)
from fxseq.power.changeover import joined_v
from fxseq.power.diodes import Diode, SideBySide
from fxseq.power.rail import Capacitor, FollowedCurrent, LedLoad, Source, buffered_v, rail_v
from fxseq.power.run_time import run_time
from fxseq.power.switches import OnTransistor, saturated_at
from fxseq.sequence import Sequence, Supply
from tests.published.ngspice import simulate

WITHIN = 0.005
THERMAL_V = 1.380649e-23 * 300.15 / 1.602176634e-19
RED = (1.5, 6.0)
WHITE = (6.79, 5.65)
NPN = ".model npn npn(is=6.7e-15 bf=200 br=0.74 rc=1)"
NMOS = f".model nch nmos(kp={1 / (0.05 * 1.5)} vto=1)"
SCHOTTKY = "d(is=1e-6 n=1.05 rs=0.08)"


def saturation_a(volts: float, amperes: float, emission: float, series_ohm: float) -> float:
    """Is of an LED that has this voltage at this current: I / e^((V - I Rs) / (n VT))."""
    return amperes / math.exp((volts - amperes * series_ohm) / (emission * THERMAL_V))


def model(name: str, volts: float, amperes: float, shape: tuple[float, float]) -> str:
    return (
        f".model {name} d(is={saturation_a(volts, amperes, *shape):.9e} n={shape[0]} rs={shape[1]})"
    )


def diode(volts: float, amperes: float, shape: tuple[float, float]) -> Diode:
    return Diode(math.log(saturation_a(volts, amperes, *shape)), *shape)


def chain(count: int, first: str, last: str, *, name: str = "led", tag: str = "") -> str:
    """LEDs one after the other between two nodes."""
    nodes = [first, *(f"{first}{tag}{index}" for index in range(1, count)), last]
    return "\n".join(
        f"d{first}{tag}{index} {nodes[index]} {nodes[index + 1]} {name}" for index in range(count)
    )


def wired(supply: dict[str, Any], group: dict[str, Any], **board: Any) -> Circuit:
    """One group as the program wires it."""
    sequence = Sequence.model_validate(
        {
            "format": 1,
            "title": "One lamp",
            "board": {"channels": 1, **board},
            "supplies": {"only": {"maximum_current_ma": 5000, **supply}},
            "groups": {"lamp": {"first_channel": 0, **group}},
        }
    )
    return circuits(sequence)["lamp"]


@pytest.mark.parametrize(
    ("supply_v", "leds"), [(5.0, 1), (9.0, 3), (12.0, 3), (12.0, 5), (24.0, 1)]
)
@pytest.mark.parametrize("current_ma", [1.0, 20.0])
def test_string_on_a_transistor(
    tmp_path: Path, supply_v: float, leds: int, current_ma: float
) -> None:
    """One LED of 1 mA at 24 V as well as a long string: resistor and base resistor as they were
    chosen, on the transistor of parts.toml.
    """
    wall = {"kind": "wall", "voltage_v": supply_v, "tolerance_percent": 0.0}
    group = {
        "leds": leds,
        "leds_in_series": leds,
        "colour": "red",
        "forward_voltage_v": 1.9,
        "current_ma": current_ma,
        "switch": "transistor",
    }
    circuit = wired(wall, group)
    layout = circuit.layout
    assert layout is not None
    deck = (
        f"v1 in 0 {supply_v}\nr1 in a {layout.resistor_ohm}\n{chain(leds, 'a', 'c')}\nvb p 0"
        f" 3.3\nrb p b {circuit.base_ohm}\nq1 c b 0"
        f" npn\n{NPN}\n{model('led', 1.9, current_ma / 1000, RED)}"
    )
    seen_ma = -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"]
    assert layout.fresh_ma.typical == pytest.approx(seen_ma, rel=WITHIN)
    assert seen_ma <= 1.01 * current_ma


CURVES = {
    "red": (93.2e-12, 3.73, 0.042),
    "green": (93.2e-12, 4.61, 0.042),
    "blue": (93.2e-12, 7.47, 0.042),
    "white": (0.27e-9, 6.79, 5.65),
}
"""Public SPICE models: saturation current in A, emission, series resistance in ohm."""


@pytest.mark.parametrize("colour", CURVES)
@pytest.mark.parametrize(("supply_v", "leds"), [(5.0, 1), (9.0, 2), (12.0, 3)])
def test_led_by_two_points_of_its_curve(
    tmp_path: Path, colour: str, supply_v: float, leds: int
) -> None:
    """Two points at 5 and 20 mA, as a data sheet's curve shows them; the resistor lets flow what
    lies between. How the curve bends between them, which two points leave open, is that of our
    colour: of green and white the very model, of red (3.73 for our 1.5) and blue another.
    """
    saturation, emission, series_ohm = CURVES[colour]
    low_v, high_v = (
        emission * THERMAL_V * math.log(amperes / saturation + 1) + series_ohm * amperes
        for amperes in (0.005, 0.020)
    )
    group = {
        "leds": leds,
        "leds_in_series": leds,
        "colour": colour,
        "forward_voltage_v": high_v,
        "current_ma": 20,
        "switch": "mosfet",
        "second_point": {"forward_voltage_v": low_v, "current_ma": 5},
    }
    wall = {"kind": "wall", "voltage_v": supply_v, "tolerance_percent": 0.0}
    within = WITHIN if colour in ("green", "white") else 0.01
    for resistor_ohm in ((supply_v - leds * high_v) / amperes for amperes in (0.006, 0.012, 0.019)):
        layout = wired(wall, {**group, "resistor_ohm": resistor_ohm}).layout
        assert layout is not None
        deck = (
            f"v1 in 0 {supply_v}\nr1 in a {resistor_ohm + 0.05}\n{chain(leds, 'a', '0')}\n.model"
            f" led d(is={saturation} n={emission} rs={series_ohm})"
        )
        assert layout.fresh_ma.typical == pytest.approx(
            -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"], rel=within
        )


@pytest.mark.parametrize("colour", CURVES)
@pytest.mark.parametrize("supply_v", [7.0, 12.0])
def test_led_by_two_points_and_the_resistance_of_its_model(
    tmp_path: Path, colour: str, supply_v: float
) -> None:
    """Points at 1 and 20 mA; between and beyond them, since nothing is left open."""
    saturation, emission, series_ohm = CURVES[colour]
    low_v, high_v = (
        emission * THERMAL_V * math.log(amperes / saturation + 1) + series_ohm * amperes
        for amperes in (0.001, 0.020)
    )
    group = {
        "leds": 1,
        "colour": colour,
        "forward_voltage_v": high_v,
        "current_ma": 20,
        "switch": "mosfet",
        "second_point": {"forward_voltage_v": low_v, "current_ma": 1, "series_ohm": series_ohm},
    }
    wall = {"kind": "wall", "voltage_v": supply_v, "tolerance_percent": 0.0}
    for resistor_ohm in (120.0, 680.0, 10_000.0, 100_000.0):
        layout = wired(wall, {**group, "resistor_ohm": resistor_ohm}).layout
        assert layout is not None
        deck = (
            f"v1 in 0 {supply_v}\nr1 in a {resistor_ohm + 0.05}\nd1 a 0 led\n.model led"
            f" d(is={saturation} n={emission} rs={series_ohm})"
        )
        assert layout.fresh_ma.typical == pytest.approx(
            -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"], rel=WITHIN
        )


@pytest.mark.parametrize(
    ("leds", "series", "supply_v"), [(60, 3, 12.0), (24, 2, 9.0), (12, 1, 5.0)]
)
def test_many_strings_on_a_mosfet(tmp_path: Path, leds: int, series: int, supply_v: float) -> None:
    """All strings of a channel share one MOSFET, of 0.05 ohm at a gate of 2.5 V, its threshold
    at 1 V; a pin gives 3.3 V.
    """
    wall = {"kind": "wall", "voltage_v": supply_v, "tolerance_percent": 0.0}
    group = {
        "leds": leds,
        "leds_in_series": series,
        "colour": "white",
        "forward_voltage_v": 3.1,
        "current_ma": 20,
        "switch": "mosfet",
    }
    circuit = wired(wall, group)
    strings = leds // series
    assert circuit.layout is not None
    rows = "\n".join(
        f"r{row} in a{row} {circuit.layout.resistor_ohm}\n{chain(series, f'a{row}', 'd', tag='x')}"
        for row in range(strings)
    )
    deck = (
        f"v1 in 0 {supply_v}\n{rows}\nvg g 0 3.3\nm1 d g 0 0 nch w=1u l=1u\n{NMOS}\n"
        f"{model('led', 3.1, 0.02, WHITE)}"
    )
    assert circuit.channel_ma.typical == pytest.approx(
        -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"], rel=WITHIN
    )


def test_tolerance_of_an_led_bounds_the_current(tmp_path: Path) -> None:
    """The brightest: the lowest forward voltage with a resistor 5 % too low. The dimmest: the
    other way round.
    """
    wall = {"kind": "wall", "voltage_v": 6.0, "tolerance_percent": 0.0}
    group = {
        "leds": 2,
        "leds_in_series": 2,
        "colour": "amber",
        "forward_voltage_v": 2.0,
        "current_ma": 10,
        "switch": "mosfet",
        "forward_voltage_min_v": 1.85,
        "forward_voltage_max_v": 2.3,
    }
    layout = wired(wall, group).layout
    assert layout is not None
    for volts, ohm_share, ours_ma in (
        (1.85, 0.95, layout.fresh_ma.high),
        (2.3, 1.05, layout.fresh_ma.low),
    ):
        deck = (
            "v1 in 0 6\nr1 in a"
            f" {layout.resistor_ohm * ohm_share + 0.05}\n{chain(2, 'a', '0')}\n{model('led', volts, 0.01, RED)}"
        )
        assert ours_ma == pytest.approx(
            -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"], rel=WITHIN
        )


@pytest.mark.parametrize(
    ("bins_v", "supply_v", "resistor_ohm"),
    [((1.8, 1.8, 2.0), 4.5, 68.0), ((1.75, 2.1), 12.0, 470.0), ((1.95, 2.0, 2.05, 2.1), 5.0, 33.0)],
)
def test_bins_side_by_side_on_one_resistor(
    tmp_path: Path, bins_v: tuple[float, ...], supply_v: float, resistor_ohm: float
) -> None:
    """Strings of two in series, of two bins and of more."""
    rows = "\n".join(
        f"vm{row} n m{row}"
        f" 0\n{chain(2, f'm{row}', '0', name=f'bin{row}', tag='x')}\n{model(f'bin{row}', volts, 0.02, RED)}"
        for row, volts in enumerate(bins_v)
    )
    printed = " ".join(f"i(vm{row})" for row in range(len(bins_v)))
    seen = simulate(
        tmp_path, f"v1 in 0 {supply_v}\nr1 in n {resistor_ohm}\n{rows}", f"op\nprint {printed}"
    )
    ours = SideBySide(
        tuple((diode(volts, 0.02, RED).in_series(2), 1) for volts in bins_v)
    ).shares_a(supply_v, resistor_ohm)
    assert ours == pytest.approx([seen[f"i(vm{row})"] for row in range(len(bins_v))], rel=WITHIN)


BLOCK = Supply(kind="cells", cell="alkaline_9v", voltage_v=9.6, maximum_current_ma=1000)


@pytest.mark.parametrize("bulk_uf", [0.0, 220.0, 2200.0])
def test_block_of_9_v_with_lights_and_a_class_d_amplifier(tmp_path: Path, bulk_uf: float) -> None:
    """1.7 ohm feed 12 strings of two, 30 mA of board, and two pulses of 4 W: at the end of each
    step, and at the lowest.
    """
    times_s = np.array([0.0, 4e-3, 4.4e-3, 9e-3, 14e-3])
    power_w = np.array([0.1, 4.0, 0.1, 4.0, 0.1])
    wave = "0 0.1 " + " ".join(
        f"{at - 1e-7:.7f} {before} {at:.7f} {after}"
        for at, before, after in zip(times_s[1:], power_w, power_w[1:], strict=False)
    )
    cap = f"c1 r 0 {bulk_uf * 1e-6}" if bulk_uf else ""
    deck = (
        f"v1 e 0 9.6\nr0 e r 1.7\n{cap}\nrs r a {270 / 12}\nd1 a b red area=12\nd2 b 0 red"
        f" area=12\ni1 r 0 0.03\nvp p 0 pwl({wave})\nrp p 0 1\nb1 r 0"
        f" i=v(p)/max(v(r),0.5)\n{model('red', 2.0, 0.02, RED)}"
    )
    ends = [*times_s[1:] - 2e-7, 20e-3]
    measures = "\n".join(
        f"meas tran v{index} find v(r) at={at:.8f}" for index, at in enumerate(ends)
    )
    seen = simulate(tmp_path, deck, f"tran 4u 20m 0 4u\n{measures}\nmeas tran lowest min v(r)")
    lights = LedLoad(diode(2.0, 0.02, RED).in_series(2), 270.0, lit=12)
    ours = played_rail(
        BLOCK.model_copy(update={"bulk_capacitor_uf": bulk_uf}),
        Load((lights,), 0.03, power_w),
        times_s,
        20e-3,
    )
    assert ours.volts.values == pytest.approx([seen[f"v{index}"] for index in range(5)], rel=WITHIN)
    assert ours.lowest.typical == pytest.approx(seen["lowest"], rel=WITHIN)


@pytest.mark.parametrize("share", [0.5, 0.9, 0.99, 0.9999])
def test_lithium_cell_close_to_collapse(tmp_path: Path, share: float) -> None:
    """Constant power up to a ten-thousandth below V^2 / (4 R), beside an LED that eases it as
    the voltage falls.
    """
    power_w = share * 4.03**2 / (4 * 0.15)
    deck = (
        f"v1 e 0 4.03\nr0 e r 0.15\nb1 r 0 i={power_w}/max(v(r),1.0)\n.nodeset v(r)=3.5\n.options"
        " reltol=1e-8"
    )
    seen = simulate(tmp_path, deck, "op\nprint v(r)")
    assert float(rail_v(4.03, 0.15, Load(power_w=power_w))) == pytest.approx(
        seen["v(r)"], rel=WITHIN
    )
    assert math.isnan(float(rail_v(4.03, 0.15, Load(power_w=4.03**2 / (4 * 0.15) * 1.0001))))


def test_lights_come_on_beside_a_capacitor(tmp_path: Path) -> None:
    """From settled without light, 40 strings at once: the capacitor gives way exponentially,
    with the strings that bend.
    """
    deck = (
        f"v1 e 0 4.5\nr0 e r 0.9\nc1 r 0 1000u\nr1 r a {56 / 40}\nd1 a k red area=40\ns1 k 0 g 0"
        " sw\nvg g 0 pulse(0 1 1m 1u 1u 1 2)\n.model sw sw(vt=0.5 ron=1e-4"
        f" roff=1e9)\n{model('red', 2.0, 0.02, RED)}"
    )
    times_s = np.array([0.0, 1e-3, 1.5e-3, 2e-3, 4e-3])
    measures = "\n".join(
        f"meas tran v{index} find v(r) at={at:.6f}"
        for index, at in enumerate([*times_s[1:], 10e-3])
    )
    seen = simulate(tmp_path, deck, f"tran 2u 10m 0 2u\n{measures}")
    lit = LedLoad(diode(2.0, 0.02, RED), 56.0, lit=np.array([0.0, 40.0, 40.0, 40.0, 40.0]))
    assert buffered_v(times_s, 10e-3, 4.5, 0.9, Load((lit,)), Capacitor(1e-3))[1] == pytest.approx(
        [seen[f"v{index}"] for index in range(5)], rel=WITHIN
    )


@pytest.mark.parametrize("duty", [0.1, 0.3, 0.7])
def test_dimmed_lights_count_by_their_mean_where_a_capacitor_smooths_them(
    tmp_path: Path, duty: float
) -> None:
    """Pulses at 2 kHz, 8 bits or more: the mean of the rail, which a large capacitor holds."""
    deck = (
        f"v1 e 0 6\nr0 e r 0.8\nc1 r 0 10000u ic=5.6\nr1 r a {120 / 30}\nd1 a k red area=30\ns1 k 0"
        f" g 0 sw\nvg g 0 pulse(0 1 0 1u 1u {duty * 5e-4} 5e-4)\n.model sw sw(vt=0.5 ron=1e-4"
        f" roff=1e9)\n{model('red', 2.0, 0.02, RED)}"
    )
    seen = simulate(
        tmp_path, deck, "tran 5u 60m 50m 5u uic\nmeas tran mean avg v(r)\nmeas tran lowest min v(r)"
    )
    ours = float(rail_v(6.0, 0.8, Load((LedLoad(diode(2.0, 0.02, RED), 120.0, lit=30 * duty),))))
    assert ours == pytest.approx(seen["mean"], rel=WITHIN)
    assert ours == pytest.approx(seen["lowest"], rel=2 * WITHIN)


@pytest.mark.parametrize(
    "sources",
    [
        ((5.00, 0.8), (5.01, 0.1)),
        ((4.99, 0.8), (5.00, 0.8)),
        ((6.4, 1.2), (5.0, 0.2)),
        ((5.2, 0.5), (5.15, 0.5), (5.25, 0.5)),
    ],
)
def test_sources_of_nearly_the_same_voltage_over_diodes(
    tmp_path: Path, sources: tuple[tuple[float, float], ...]
) -> None:
    """10 mV apart they share the load of lights and 2 W of amplifier; far apart one has it all."""
    rows = "\n".join(
        f"v{row} e{row} 0 {volts}\nr{row} e{row} f{row} {ohms}\nd{row} f{row} r s"
        for row, (volts, ohms) in enumerate(sources)
    )
    deck = (
        f"{rows}\nrl r a {100 / 6}\ndl a 0 red area=6\nb1 r 0 i=2/max(v(r),1)\n.nodeset"
        f" v(r)=4.5\n.model s {SCHOTTKY}\n{model('red', 2.0, 0.02, RED)}"
    )
    printed = " ".join(f"i(v{row})" for row in range(len(sources)))
    seen = simulate(tmp_path, deck, f"op\nprint v(r) {printed}")
    schottky = Diode(math.log(1e-6), 1.05, 0.08)
    ours = [Source(volts, ohms, schottky) for volts, ohms in sources]
    volts = joined_v(ours, Load((LedLoad(diode(2.0, 0.02, RED), 100.0, lit=6),), power_w=2.0))
    assert volts == pytest.approx(seen["v(r)"], rel=WITHIN)
    assert [source.at(volts)[0] for source in ours] == pytest.approx(
        [-seen[f"i(v{row})"] for row in range(len(sources))], rel=WITHIN, abs=1e-5
    )


@pytest.mark.parametrize(("forward_v", "current_ma"), [(1.8, 4.0), (2.9, 2.0)])
def test_led_on_a_pin(tmp_path: Path, forward_v: float, current_ma: float) -> None:
    """A pin of 3.3 V with 25 ohm of its own feeds the LED, whatever the supply is."""
    shape = RED if forward_v < 2.5 else WHITE
    cells = {"kind": "cells", "voltage_v": 4.5}
    group = {
        "leds": 1,
        "colour": "red" if shape is RED else "blue",
        "forward_voltage_v": forward_v,
        "current_ma": current_ma,
        "switch": "pin",
    }
    circuit = wired(cells, group, pin_v=3.3)
    assert circuit.layout is not None
    deck = (
        f"v1 p 0 3.3\nr0 p q 25\nr1 q a {circuit.layout.resistor_ohm}\nd1 a 0"
        f" led\n{model('led', forward_v, current_ma / 1000, shape)}"
    )
    seen_a = -simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"]
    assert circuit.layout.fresh_ma.typical == pytest.approx(1000 * seen_a, rel=WITHIN)
    steady = circuit.load(Steps(np.zeros(1), np.ones(1), 1.0))
    assert float(np.ravel(steady.at(4.5)[0])[0]) == pytest.approx(seen_a, rel=WITHIN)


@pytest.mark.parametrize(
    ("open_v", "ohms", "power_w"),
    [(6.0, 0.8, 3.0), (6.0, 0.8, 6.0), (3.0, 0.3, 3.0), (4.03, 0.1, 8.0)],
)
def test_constant_power_over_a_diode(
    tmp_path: Path, open_v: float, ohms: float, power_w: float
) -> None:
    seen = simulate(
        tmp_path,
        f"v1 e 0 {open_v}\nr0 e m {ohms}\nd1 m r s\nb1 r 0 i={power_w}/max(v(r),0.3)\n.nodeset"
        f" v(r)={0.8 * open_v}\n.model s {SCHOTTKY}",
        "op\nprint v(r)",
    )
    assert float(rail_v(open_v, ohms, Load(power_w=power_w), diode_of_schottky())) == pytest.approx(
        seen["v(r)"], rel=WITHIN
    )


def test_power_that_a_source_gives_only_without_a_diode_collapses_over_one(tmp_path: Path) -> None:
    """9.9 W of the 11.25 W that 6 V and 0.8 ohm give at the most: with some 0.4 V less there is
    no voltage at which it is given.
    """
    deck = (
        "v1 e 0 6\nr0 e m 0.8\nd1 m r s\nc1 r 0 10u ic=5\nb1 r 0 i=9.9/max(v(r),0.5)\n.model s"
        f" {SCHOTTKY}"
    )
    assert (
        simulate(tmp_path, deck, "tran 1u 20m 0 1u uic\nmeas tran last find v(r) at=0.0199")["last"]
        < 1.5
    )
    assert math.isnan(rail_v(6.0, 0.8, Load(power_w=9.9), diode_of_schottky()))
    assert math.isfinite(rail_v(6.0, 0.8, Load(power_w=9.9)))


@pytest.mark.parametrize(
    ("open_v", "ohms", "strings", "resistor_ohm"),
    [(3.0, 0.3, 24, 33.0), (2.4, 0.2, 24, 10.0), (4.5, 0.6, 48, 100.0)],
)
def test_lights_over_a_diode(
    tmp_path: Path, open_v: float, ohms: float, strings: int, resistor_ohm: float
) -> None:
    red = diode(1.934, 0.020, RED)
    seen = simulate(
        tmp_path,
        f"v1 e 0 {open_v}\nr0 e m {ohms}\nd1 m r s\nr1 r a {resistor_ohm / strings}\nd2 a 0 led"
        f" area={strings}\n.model s {SCHOTTKY}\n{model('led', 1.934, 0.020, RED)}",
        "op\nprint v(r)",
    )
    load = Load((LedLoad(red, resistor_ohm, lit=float(strings)),))
    assert float(rail_v(open_v, ohms, load, diode_of_schottky())) == pytest.approx(
        seen["v(r)"], rel=WITHIN
    )


def test_a_step_of_lights_and_power_over_a_diode_with_a_capacitor(tmp_path: Path) -> None:
    deck = (
        "v1 e 0 6\nr0 e m 0.8\nd1 m r s\nc1 r 0 470u\nb1 r 0 i=(time>0.001 ? 5 :"
        f" 0.2)/max(v(r),0.3)\n.nodeset v(r)=5.6\n.model s {SCHOTTKY}"
    )
    seen = simulate(
        tmp_path,
        deck,
        "tran 2u 20m 0 2u\nmeas tran early find v(r) at=0.0013\nmeas tran last find v(r) at=0.0199",
    )
    volts = buffered_v(
        np.array([0.0, 1e-3, 1.3e-3]),
        20e-3,
        6.0,
        0.8,
        Load(power_w=np.array([0.2, 5.0, 5.0])),
        Capacitor(470e-6),
        diode_of_schottky(),
    )[1]
    assert volts[1:] == pytest.approx([seen["early"], seen["last"]], rel=WITHIN)


@pytest.mark.parametrize("capacitance_f", [100e-6, 1e-3, 4.7e-3])
@pytest.mark.parametrize(
    ("open_v", "ohms", "power_w"), [(6.0, 0.8, 11.24), (4.03, 0.15, 26.8), (6.0, 0.8, 10.0)]
)
def test_a_rail_with_a_capacitor_settles_where_it_does_just_above_collapse(
    tmp_path: Path,
    open_v: float,
    ohms: float,
    power_w: float,
    capacitance_f: float,
) -> None:
    deck = (
        f"v1 e 0 {open_v}\nr0 e r {ohms}\nc1 r 0 {capacitance_f}\nb1 r 0 i=time>0.001 ?"
        f" {power_w}/max(v(r),0.05) : 0"
    )
    seen = simulate(tmp_path, deck, "tran 20u 1 0 20u\nmeas tran last find v(r) at=0.999")
    assert buffered_v(
        np.array([0.0, 1e-3]),
        1.0,
        open_v,
        ohms,
        Load(power_w=np.array([0.0, power_w])),
        Capacitor(capacitance_f),
    )[1][1] == pytest.approx(seen["last"], rel=1e-4)


@pytest.mark.parametrize("asked_v", [2.0, 4.0, 6.0, 20.0])
def test_an_amplifier_that_clips_at_the_rail_which_it_pulls_down(
    tmp_path: Path, asked_v: float
) -> None:
    """A square wave of that voltage into 3.2 ohm at 85 %, of which 0.2 V less than the rail come
    out, from 6.4 V and 0.8 ohm.
    """
    rails_v, pitch_v = np.linspace(0.0, 7.0, 33, retstep=True)
    taken_a = np.minimum(asked_v, np.maximum(rails_v - 0.2, 0.0)) ** 2 / (
        3.2 * 0.85 * np.maximum(rails_v, 0.1)
    )
    load = Load(
        followed=FollowedCurrent(
            taken_a[:, np.newaxis], float(pitch_v), np.zeros(1, dtype=np.int64)
        )
    )
    seen = simulate(
        tmp_path,
        "v1 e 0 6.4\nr0 e r 0.8\nb1 r 0"
        f" i=min({asked_v},max(v(r)-0.2,0))^2/(3.2*0.85*max(v(r),0.1))\n.nodeset v(r)=6",
        "op\nprint v(r)",
    )
    assert float(rail_v(6.4, 0.8, load)[0]) == pytest.approx(seen["v(r)"], rel=WITHIN)


def diode_of_schottky() -> Diode:
    return Diode(math.log(1e-6), 1.05, 0.08)


@pytest.mark.parametrize("ohms", [0.0, 0.5])
def test_strings_behind_the_diode_of_a_changeover(tmp_path: Path, ohms: float) -> None:
    """Twelve strings, all lit: the current of each as the wiring has it, which counts the diode
    but not what the supply's resistance takes.
    """
    sequence = over_diodes(resistor_ohm=150, internal_resistance_ohm=ohms)
    deck = (
        f"v1 e 0 5\nd0 e r s\nr1 r a {150 / 12}\nd1 a d led area=12\nvg g 0 3.3\nm1 d g 0 0 nch"
        f" w=12u l=1u\n{NMOS}\n.model s {SCHOTTKY}\n{model('led', 2.1, 0.02, RED)}"
    )
    seen_ma = -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"] / 12
    assert circuits(sequence)["lamp"].fresh_ma.typical == pytest.approx(seen_ma, rel=WITHIN)
    line, _ = wiring_schedule(sequence, {}).lines
    assert line.total_ma == pytest.approx(12 * seen_ma, rel=WITHIN)


def test_a_resistor_is_chosen_for_what_the_diode_of_a_changeover_leaves() -> None:
    """One channel alone, 20 mA: 5 V less the Schottky diode's 1.05 VT ln(20 mA / 1 uA) + 80 mohm
    20 mA, the MOSFET's 0.7 mV and 2.1 V.
    """
    left_v = 5 - 1.05 * THERMAL_V * math.log(0.02 / 1e-6) - 0.08 * 0.02 - 0.0007 - 2.1
    layout = circuits(over_diodes())["lamp"].layout
    assert layout is not None
    assert layout.resistor_ohm == 150 > left_v / 0.02 > 130


def over_diodes(resistor_ohm: float | None = None, **wall: Any) -> Sequence:
    """Twelve amber LEDs on an adaptor of 5 V without tolerance, beside a lower one, with a diode
    in each.
    """
    steady = {"kind": "wall", "tolerance_percent": 0, "maximum_current_ma": 2000}
    return Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 12},
            "changeover": "diodes",
            "supplies": {
                "wall": {**steady, "voltage_v": 5.0, **wall},
                "low": {**steady, "voltage_v": 3.0},
            },
            "groups": {
                "lamp": {
                    "first_channel": 0,
                    "channels": 12,
                    "leds": 12,
                    "colour": "amber",
                    "forward_voltage_v": 2.1,
                    "current_ma": 20,
                    "switch": "mosfet",
                    "resistor_ohm": resistor_ohm,
                }
            },
        }
    )


@pytest.mark.parametrize("series_ohm", [0.05, 0.3, 1.0])
def test_a_capacitor_with_a_resistance_of_its_own(tmp_path: Path, series_ohm: float) -> None:
    """Lights and two pulses of 4 W on 6 V and 0.8 ohm: just after each step, when the
    capacitor's resistance lets the rail jump, and at its end.
    """
    times_s = np.array([0.0, 4e-3, 4.4e-3, 9e-3, 14e-3])
    power_w = np.array([0.1, 4.0, 0.1, 4.0, 0.1])
    wave = "0 0.1 " + " ".join(
        f"{at - 1e-8:.8f} {before} {at:.8f} {after}"
        for at, before, after in zip(times_s[1:], power_w, power_w[1:], strict=False)
    )
    deck = (
        f"v1 e 0 6\nr0 e r 0.8\nrc r c {series_ohm}\nc1 c 0 1000u\nrs r a {100 / 12}\nd1 a 0 red"
        f" area=12\nvp p 0 pwl({wave})\nrp p 0 1\nb1 r 0"
        f" i=v(p)/max(v(r),0.5)\n{model('red', 2.0, 0.02, RED)}"
    )
    at_s = [*times_s[1:] + 1e-7, *(times_s[1:] - 1e-7), 20e-3]
    measures = "\n".join(
        f"meas tran v{index} find v(r) at={at:.8f}" for index, at in enumerate(at_s)
    )
    seen = simulate(tmp_path, deck, f"tran 1u 20m 0 1u\n{measures}")
    begun_v, ended_v = buffered_v(
        times_s,
        20e-3,
        6.0,
        0.8,
        Load((LedLoad(diode(2.0, 0.02, RED), 100.0, lit=12),), power_w=power_w),
        Capacitor(1e-3, series_ohm),
    )
    assert [*begun_v[1:], *ended_v] == pytest.approx(
        [seen[f"v{index}"] for index in range(9)], rel=WITHIN
    )


@pytest.mark.parametrize("series_ohm", [0.05, 0.5])
def test_pulses_of_dimmed_light_beside_a_capacitor_with_a_resistance(
    tmp_path: Path, series_ohm: float
) -> None:
    """30 strings for 0.3 of each half millisecond: the lowest within the pulse."""
    deck = (
        f"v1 e 0 6\nr0 e r 0.8\nrc r c {series_ohm}\nc1 c 0 22000u ic=5.7\nr1 r a {120 / 30}\nd1 a"
        " k red area=30\ns1 k 0 g 0 sw\nvg g 0 pulse(0 1 0 1u 1u 0.15m 0.5m)\n.model sw sw(vt=0.5"
        f" ron=1e-4 roff=1e9)\n{model('red', 2.0, 0.02, RED)}"
    )
    seen = simulate(tmp_path, deck, "tran 2u 90m 80m 2u uic\nmeas tran lowest min v(r)")
    supply = Supply(
        kind="wall",
        voltage_v=6.0,
        tolerance_percent=0,
        internal_resistance_ohm=0.8,
        maximum_current_ma=2000,
        bulk_capacitor_uf=22000,
        bulk_capacitor_ohm=series_ohm,
    )
    string = LedLoad(diode(2.0, 0.02, RED), 120.0)
    mean = played_rail(supply, Load((replace(string, lit=30 * 0.3),)), np.zeros(1), 1.0)
    assert pulsed_rail(
        supply, Load((replace(string, lit=30),)), None, mean.lowest
    ).typical == pytest.approx(seen["lowest"], rel=WITHIN)


def test_an_led_on_less_than_its_forward_voltage_lights(tmp_path: Path) -> None:
    """3.2 V on an LED of 3.3 V at 20 mA over 10 ohm: about half of its current, with the
    resistor of the file and with the one that is chosen.
    """
    wall = {"kind": "wall", "voltage_v": 3.2, "tolerance_percent": 0.0}
    group = {
        "leds": 1,
        "colour": "white",
        "forward_voltage_v": 3.3,
        "current_ma": 20,
        "switch": "mosfet",
    }
    for layout in (wired(wall, {**group, "resistor_ohm": 10}).layout, wired(wall, group).layout):
        assert layout is not None
        deck = (
            f"v1 in 0 3.2\nr1 in a {layout.resistor_ohm + 0.05 * 1.5 / 2.3}\nd1 a 0"
            f" led\n{model('led', 3.3, 0.02, WHITE)}"
        )
        seen_ma = -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"]
        assert layout.fresh_ma.typical == pytest.approx(seen_ma, rel=WITHIN)
        assert 9 < seen_ma < 20


def on_a_rail(group: dict[str, Any], pin_v: float = 3.3, **top: Any) -> Circuit:
    """One group on 5 V without tolerance."""
    sequence = Sequence.model_validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 1, "pin_v": pin_v},
            "groups": {"lamp": {"colour": "red", **group}},
            "supplies": {
                "wall": {
                    "kind": "wall",
                    "voltage_v": 5.0,
                    "tolerance_percent": 0,
                    "maximum_current_ma": 5000,
                }
            },
            **top,
        }
    )
    return circuits(sequence)["lamp"]


@pytest.mark.parametrize("pin_v", [5.0, 3.3, 2.5, 2.0, 1.8])
@pytest.mark.parametrize(("leds", "resistor_ohm"), [(12, 68), (60, 100)])
def test_a_mosfet_by_the_figures_of_its_data_sheet(
    tmp_path: Path, pin_v: float, leds: int, resistor_ohm: float
) -> None:
    """60 mohm at 4.5 V and a threshold of 1.6 V, whatever the pin gives: at 1.8 V it holds the
    current down.
    """
    circuit = on_a_rail(
        {
            "leds": leds,
            "forward_voltage_v": 2.0,
            "current_ma": 20,
            "leds_in_series": 1,
            "resistor_ohm": resistor_ohm,
            "mosfet": {"on_ohm": 0.06, "gate_v": 4.5, "threshold_v": 1.6},
        },
        pin_v,
    )
    deck = (
        f"v1 in 0 5\nr1 in a {resistor_ohm / leds}\nd1 a d led area={leds}\nvg g 0 {pin_v}\nm1 d g"
        f" 0 0 nch w=1u l=1u\n.model nch nmos(kp={1 / (0.06 * 2.9)}"
        f" vto=1.6)\n{model('led', 2.0, 0.02, RED)}"
    )
    assert circuit.channel_ma.typical == pytest.approx(
        -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"], rel=WITHIN
    )


@pytest.mark.parametrize("base_ohm", [470, 2200, 10_000, 47_000])
def test_a_transistor_by_its_base_resistor(tmp_path: Path, base_ohm: float) -> None:
    """80 mA wanted with a gain of 150: the largest resistor gives it some 50 uA, which let 8 mA
    through.
    """
    circuit = on_a_rail(
        {
            "leds": 4,
            "forward_voltage_v": 2.0,
            "current_ma": 20,
            "leds_in_series": 1,
            "resistor_ohm": 150,
            "transistor": {"base_resistor_ohm": base_ohm, "gain": 150},
        }
    )
    deck = (
        f"v1 in 0 5\nr1 in a {150 / 4}\nd1 a c led area=4\nvb p 0 3.3\nrb p b {base_ohm}\nq1 c b 0"
        f" npn\n.model npn npn(is=6.7e-15 bf=150 br=0.74 rc=1)\n{model('led', 2.0, 0.02, RED)}"
    )
    assert circuit.channel_ma.typical == pytest.approx(
        -1000 * simulate(tmp_path, deck, "op\nprint i(v1)")["i(v1)"], rel=WITHIN
    )


@pytest.mark.parametrize("saturation_v", [0.04, 0.25, 0.6])
def test_a_transistor_keeps_what_its_data_sheet_says(saturation_v: float) -> None:
    """By definition: at the current of a channel, with a tenth of it in its base. Beyond, kT/q
    for e times the current or more.
    """
    reverse_gain, collector_ohm = saturated_at(saturation_v, 0.080, 150, 0.74)
    on = OnTransistor(0.008, 150, reverse_gain, collector_ohm)
    assert float(on.voltage_v(0.080)) == pytest.approx(saturation_v, rel=1e-9)
    assert float(on.voltage_v(0.160)) > saturation_v


UNLIKE = [
    ("white", 3.1, 0.02, WHITE, 2, 1),
    ("red", 2.2, 0.02, RED, 3, 1),
    ("red", 1.05, 0.02, RED, 4, 2),
]


@pytest.mark.parametrize(("colour", "volts", "amperes", "shape", "count", "series"), UNLIKE)
def test_leds_of_another_kind_on_the_same_resistor(
    tmp_path: Path,
    colour: str,
    volts: float,
    amperes: float,
    shape: tuple[float, float],
    count: int,
    series: int,
) -> None:
    """Three red ones of 2.0 V and others behind 33 ohm and a MOSFET: the current of the channel,
    and of one red one.
    """
    beside = [
        {
            "leds": count,
            "leds_in_series": series,
            "colour": colour,
            "forward_voltage_v": volts,
            "current_ma": 1000 * amperes,
        }
    ]
    circuit = on_a_rail(
        {
            "leds": 3,
            "forward_voltage_v": 2.0,
            "current_ma": 20,
            "leds_in_series": 1,
            "resistor_ohm": 33,
            "switch": "mosfet",
            "beside": beside,
        }
    )
    others = "\n".join(
        chain(series, "a", "d", name="other", tag=f"o{row}") for row in range(count // series)
    )
    deck = (
        f"v1 in 0 5\nr1 in a 33\nvm a m 0\nd0 m d led\ndp a d led area=2\n{others}\nvg g 0 3.3\nm1"
        " d g 0 0 nch w=1u"
        f" l=1u\n{NMOS}\n{model('led', 2.0, 0.02, RED)}\n{model('other', volts, amperes, shape)}"
    )
    seen = simulate(tmp_path, deck, "op\nprint i(v1) i(vm)")
    assert circuit.channel_ma.typical == pytest.approx(-1000 * seen["i(v1)"], rel=WITHIN)
    assert circuit.fresh_ma is not None
    assert circuit.fresh_ma.typical == pytest.approx(1000 * seen["i(vm)"], rel=WITHIN)
    assert float(
        np.ravel(circuit.load(Steps(np.zeros(1), np.ones(1), 1.0)).at(5.0)[0])[0]
    ) == pytest.approx(-seen["i(v1)"], rel=WITHIN)


def test_a_resistance_across_the_supply(tmp_path: Path) -> None:
    """47 ohm beside lights and 1 W, on 6 V and 0.8 ohm."""
    deck = (
        f"v1 e 0 6\nr0 e r 0.8\nrx r 0 47\nr1 r a {100 / 12}\nd1 a 0 red area=12\nb1 r 0"
        f" i=1/max(v(r),0.5)\n.nodeset v(r)=5.5\n{model('red', 2.0, 0.02, RED)}"
    )
    sequence = Sequence.model_validate(
        {"format": 1, "title": "Lamp", "board": {"channels": 1}, "rail_load_ohm": 47}
    )
    load = Load((LedLoad(diode(2.0, 0.02, RED), 100.0, lit=12),), power_w=1.0) + board_load(
        sequence
    )
    assert float(rail_v(6.0, 0.8, load)) == pytest.approx(
        simulate(tmp_path, deck, "op\nprint v(r)")["v(r)"], rel=WITHIN
    )


def test_cells_by_a_curve_of_the_makers_own(tmp_path: Path) -> None:
    """Three of 1.5 V fresh, 1.2 V and 0.35 ohm when half used up, under lights: the rail fresh
    and half used up.
    """
    curve = {
        "used_percent": [0, 50, 100],
        "open_v": [1.5, 1.2, 0.9],
        "resistance_ohm": [0.2, 0.35, 0.6],
        "current_ma": [100, 500],
        "capacity_mah": [1800, 1200],
        "end_v": 0.8,
    }
    pack = pack_of(
        Supply.model_validate(
            {"kind": "cells", "curve": curve, "cells_in_series": 3, "maximum_current_ma": 1000}
        )
    )
    assert pack is not None
    for depth, open_v, ohms in ((0.0, 4.5, 0.6), (0.5, 3.6, 1.05)):
        deck = (
            f"v1 e 0 {open_v}\nr0 e r {ohms}\nr1 r a {47 / 8}\nd1 a 0 red"
            f" area=8\n{model('red', 2.0, 0.02, RED)}"
        )
        ours = rail_v(
            pack.open_v(depth),
            pack.resistance_ohm(depth),
            Load((LedLoad(diode(2.0, 0.02, RED), 47.0, lit=8),)),
        )
        assert float(ours) == pytest.approx(
            simulate(tmp_path, deck, "op\nprint v(r)")["v(r)"], rel=WITHIN
        )
    # Closed form: 1200 mAh at 500 mA last 2.4 h where the voltage plays no part.
    lasts = run_time(pack, [Phase("held", 1.0, {"all": Load(current_a=0.5)})], Load(), 0.0).hours
    assert lasts is not None and lasts.typical == pytest.approx(2.4, rel=WITHIN)
