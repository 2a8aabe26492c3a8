"""Strings, switches and rails against ngspice, an independent circuit simulator: within 0.5 %."""

import math
from pathlib import Path

import numpy as np
import pytest

from fxseq.power.changeover import joined_v
from fxseq.power.diodes import Diode, SideBySide
from fxseq.power.in_series import InSeries, current_through
from fxseq.power.layout import Range, Wanted, layout
from fxseq.power.parts import led
from fxseq.power.rail import Capacitor, LedLoad, Load, Source, buffered_v, rail_v
from fxseq.power.switches import OnTransistor
from tests.published.ngspice import simulate

RED = (1e-22, 1.5, 6.0)
WHITE = (0.27e-9, 6.79, 5.65)
SCHOTTKY = (1e-6, 1.05, 0.08)
WITHIN = 0.005


def diode(model: tuple[float, float, float]) -> Diode:
    return Diode(math.log(model[0]), *model[1:])


def card(name: str, model: tuple[float, float, float]) -> str:
    return f".model {name} d(is={model[0]} n={model[1]} rs={model[2]})"


@pytest.mark.parametrize("model", [RED, WHITE])
@pytest.mark.parametrize(
    ("supply_v", "leds", "resistance_ohm"),
    [(5.0, 1, 150.0), (6.0, 2, 100.0), (9.0, 2, 220.0), (12.0, 3, 120.0), (3.0, 1, 47.0)],
)
def test_string(
    tmp_path: Path,
    model: tuple[float, float, float],
    supply_v: float,
    leds: int,
    resistance_ohm: float,
) -> None:
    chain = "\n".join(
        f"d{index} n{index} {f'n{index + 1}' if index < leds else '0'} led"
        for index in range(1, leds + 1)
    )
    seen = simulate(
        tmp_path,
        f"v1 in 0 {supply_v}\nr1 in n1 {resistance_ohm}\n{chain}\n{card('led', model)}",
        "op\nprint i(v1)",
    )
    assert float(
        diode(model).in_series(leds).current_a(supply_v, resistance_ohm)[0]
    ) == pytest.approx(-seen["i(v1)"], rel=WITHIN)


@pytest.mark.parametrize(
    ("leds", "supply_v", "resistance_ohm"), [(1, 5.0, 150.0), (2, 6.0, 100.0), (3, 12.0, 270.0)]
)
def test_string_on_a_saturated_transistor(
    tmp_path: Path, leds: int, supply_v: float, resistance_ohm: float
) -> None:
    chain = "\n".join(
        f"d{index} n{index} {f'n{index + 1}' if index < leds else 'c'} led"
        for index in range(1, leds + 1)
    )
    circuit = (
        f"v1 in 0 {supply_v}\nr1 in n1 {resistance_ohm}\n{chain}\nvb b 0 3.3\nrb b base 1200\nq1 c"
        f" base 0 npn\n.model npn npn(is=1e-14 bf=200 br=1)\n{card('led', RED)}"
    )
    seen = simulate(tmp_path, circuit, "op\nprint i(v1) i(vb)")
    on = InSeries(((OnTransistor(-seen["i(vb)"], 200, 1.0, 0.0), 1),))
    ours_a = float(current_through(diode(RED).in_series(leds), resistance_ohm, on, supply_v)[0])
    assert ours_a == pytest.approx(-seen["i(v1)"], rel=WITHIN)


def test_string_on_a_mosfet(tmp_path: Path) -> None:
    # K = 0.2 A/V2, 1.5 V threshold, 3.3 V at the gate: the current makes the channel a little
    # narrower than 1 / (K (Vgs - Vth)) says.
    circuit = (
        "v1 in 0 5\nr1 in a 150\nd1 a d led\nvg g 0 3.3\nm1 d g 0 0 nch w=1u l=1u\n.model nch"
        f" nmos(kp=0.2 vto=1.5)\n{card('led', RED)}"
    )
    seen = simulate(tmp_path, circuit, "op\nprint i(v1)")
    assert float(diode(RED).current_a(5.0, 150 + 1 / (0.2 * 1.8))[0]) == pytest.approx(
        -seen["i(v1)"], rel=WITHIN
    )


@pytest.mark.parametrize(
    ("second", "voltage_v"), [((1.5e-22, 1.5, 6.0), 5.0), (WHITE, 5.0), ((1e-23, 1.5, 0.0), 3.0)]
)
def test_two_leds_on_one_resistor(
    tmp_path: Path, second: tuple[float, float, float], voltage_v: float
) -> None:
    circuit = (
        f"v1 in 0 {voltage_v}\nr1 in a 100\nv2 a b 0\nd1 b 0 one\nv3 a c 0\nd2 c 0"
        f" two\n{card('one', RED)}\n{card('two', second)}"
    )
    seen = simulate(tmp_path, circuit, "op\nprint i(v2) i(v3)")
    assert SideBySide(((diode(RED), 1), (diode(second), 1))).shares_a(
        voltage_v, 100.0
    ) == pytest.approx([seen["i(v2)"], seen["i(v3)"]], rel=WITHIN, abs=1e-7)


@pytest.mark.parametrize(("leds", "series"), [(4, 1), (6, 2)])
def test_layout_on_one_resistor(tmp_path: Path, leds: int, series: int) -> None:
    """One string of the lowest forward voltage beside others of the highest, and the other way
    round, the resistor 5 % off as in the layout.
    """
    found = layout(
        Wanted(
            led("red", 2.0, 10.0, (1.9, 2.1)),
            leds,
            0.010,
            Range(5.0, 6.0),
            series=series,
            shared=True,
        )
    )
    assert found is not None
    for odd, others, share, amount_ma in (
        (found.led.low, found.led.high, 0.95, found.fresh_ma.high),
        (found.led.high, found.led.low, 1.05, found.fresh_ma.low),
    ):
        chains = "\n".join(
            f"v{row + 2} a s{row}x0 0\n"
            + "\n".join(
                f"d{row}x{place} s{row}x{place}"
                f" {f's{row}x{place + 1}' if place + 1 < series else '0'}"
                f" {'others' if row else 'odd'}"
                for place in range(series)
            )
            for row in range(found.strings)
        )
        cards = "\n".join(
            card(name, (math.exp(each.ln_saturation_a), each.emission, each.series_ohm))
            for name, each in (("odd", odd), ("others", others))
        )
        seen = simulate(
            tmp_path,
            f"v1 in 0 6\nr1 in a {found.resistor_ohm * share}\n{chains}\n{cards}",
            "op\nprint i(v2)",
        )
        assert amount_ma / 1000 == pytest.approx(seen["i(v2)"], rel=WITHIN)


def test_cells_with_two_groups_and_an_amplifier(tmp_path: Path) -> None:
    circuit = (
        f"v1 e 0 6\nr0 e r 0.8\nd1 a 0 red area=12\nr1 r a {150 / 12}\nd2 b 0 white area=6\nr2 r b"
        f" {100 / 6}\ni1 r 0 0.35\n{card('red', RED)}\n{card('white', WHITE)}"
    )
    load = Load(
        (LedLoad(diode(RED), 150.0, lit=12), LedLoad(diode(WHITE), 100.0, lit=6)), current_a=0.35
    )
    assert float(rail_v(6.0, 0.8, load)) == pytest.approx(
        simulate(tmp_path, circuit, "op\nprint v(r)")["v(r)"], rel=WITHIN
    )


@pytest.mark.parametrize("capacitance_f", [0.0, 100e-6, 1000e-6, 4700e-6])
def test_amplifier_pulse_on_the_rail(tmp_path: Path, capacitance_f: float) -> None:
    """0.2 ms and 3 ms of 1 A: the lowest voltage, and that at the end of each step."""
    times = np.array([0.0, 5e-3, 5.2e-3, 10e-3, 13e-3])
    amps = np.array([0.05, 1.0, 0.05, 1.0, 0.05])
    wave = "0 0.05 " + " ".join(
        f"{at - 1e-7:.7f} {before} {at:.7f} {after}"
        for at, before, after in zip(times[1:], amps, amps[1:], strict=False)
    )
    cap = f"c1 r 0 {capacitance_f}" if capacitance_f else ""
    circuit = (
        f"v1 e 0 6\nr0 e r 0.8\nd1 a 0 red area=24\nr1 r a {150 / 24}\ni1 r 0"
        f" pwl({wave})\n{cap}\n{card('red', RED)}"
    )
    ends = [*times[1:] - 2e-7, 20e-3]
    measures = "\n".join(
        f"meas tran v{index} find v(r) at={at:.8f}" for index, at in enumerate(ends)
    )
    seen = simulate(tmp_path, circuit, f"tran 2u 20m 0 2u\n{measures}\nmeas tran lowest min v(r)")
    volts = buffered_v(
        times,
        20e-3,
        6.0,
        0.8,
        Load((LedLoad(diode(RED), 150.0, lit=24),), current_a=amps),
        Capacitor(capacitance_f),
    )[1]
    assert volts == pytest.approx([seen[f"v{index}"] for index in range(5)], rel=WITHIN)
    assert volts.min() == pytest.approx(seen["lowest"], rel=WITHIN)


@pytest.mark.parametrize("power_w", [1.0, 5.0])
def test_constant_power(tmp_path: Path, power_w: float) -> None:
    seen = simulate(
        tmp_path,
        f"v1 e 0 6\nr0 e r 0.8\nb1 r 0 i={power_w}/max(v(r),0.1)\n.nodeset v(r)=6",
        "op\nprint v(r)",
    )
    assert float(rail_v(6.0, 0.8, Load(power_w=power_w))) == pytest.approx(seen["v(r)"], rel=WITHIN)


def test_collapse_under_constant_power(tmp_path: Path) -> None:
    """12 W from 6 V and 0.8 ohm, which give 11.25 W at the most: the capacitor falls to nothing
    within 20 ms in both.
    """
    circuit = "v1 e 0 6\nr0 e r 0.8\nc1 r 0 1000u ic=6\nb1 r 0 i=time>0.001 ? 12/max(v(r),0.5) : 0"
    assert (
        simulate(tmp_path, circuit, "tran 5u 40m 0 5u uic\nmeas tran last find v(r) at=0.0399")[
            "last"
        ]
        < 1.0
    )
    volts = buffered_v(
        np.array([0.0, 1e-3]), 40e-3, 6.0, 0.8, Load(power_w=np.array([0.0, 12.0])), Capacitor(1e-3)
    )[1]
    assert volts[0] == pytest.approx(6.0)
    assert math.isnan(volts[1])


@pytest.mark.parametrize(("cells_v", "wall_v"), [(6.4, 5.0), (4.8, 5.0), (5.0, 5.0)])
def test_wall_and_cells_over_diodes(tmp_path: Path, cells_v: float, wall_v: float) -> None:
    circuit = (
        f"v1 a 0 {cells_v}\nr1 a b 0.8\nd1 b r s\nv2 c 0 {wall_v}\nr2 c d 0.1\nd2 d r s\ni1 r 0"
        f" 0.4\n{card('s', SCHOTTKY)}"
    )
    seen = simulate(tmp_path, circuit, "op\nprint v(r) i(v1) i(v2)")
    both = [Source(cells_v, 0.8, diode(SCHOTTKY)), Source(wall_v, 0.1, diode(SCHOTTKY))]
    volts = joined_v(both, Load(current_a=0.4))
    assert volts == pytest.approx(seen["v(r)"], rel=WITHIN)
    assert [source.at(volts)[0] for source in both] == pytest.approx(
        [-seen["i(v1)"], -seen["i(v2)"]], rel=WITHIN, abs=1e-5
    )
