"""Output stages against equations and figures of data sheets of general-purpose amplifiers
(brands left out).
"""

import numpy as np
import pytest

from fxseq.acoustics import (
    amplifier_heat_w,
    clipping_power_w,
    output_voltage_v,
    sine_power_w,
    supply_current_a,
    swing_v,
)
from fxseq.sequence.parts import Amplifier, Speaker

SINE = np.sin(2 * np.pi * np.arange(4800) / 4800)


def test_described_class_d_bridge_has_the_power_of_the_equation_of_its_data_sheet() -> None:
    # 12 V, 8 ohm, 0.15 ohm a switch and 0.05 ohm in series on either side, shortest pulse 80 ns at
    # 320 kHz: 7.751 W at 0.5 % distortion, and 1.25 times that at 10 %. What the shortest pulse
    # keeps of 12 V is lost voltage in a file.
    bridge = Amplifier(
        gain_db=20, full_scale_input_v=2.0, lost_voltage_v=12 * 80e-9 * 320e3, on_resistance_ohm=0.4
    )
    power_w = float(clipping_power_w(bridge, 12.0, 8.0))
    assert (power_w, 1.25 * power_w) == (
        pytest.approx(7.751, abs=0.001),
        pytest.approx(9.688, abs=0.002),
    )
    # A clipped sine gets to 9.7 W at 10 %, by the ratio of its powers, 1.2878 and 1.0277 times that
    # of the onset at 10 % and 0.5 %.
    assert power_w * 1.2878 / 1.0277 == pytest.approx(9.688, rel=0.003)
    # 20 V at full scale: at 11.13 V nothing clips yet, and the speaker gets that power.
    volts, clipped = output_voltage_v(
        np.round(32_768 * 11.13 / 20 * SINE).astype(np.int16), bridge, 12.0, 8.0
    )
    assert (np.mean(volts.astype(float) ** 2) / 8.0, clipped) == (
        pytest.approx(7.751, abs=0.015),
        0.0,
    )
    assert (
        output_voltage_v(np.round(32_768 * 11.15 / 20 * SINE).astype(np.int16), bridge, 12.0, 8.0)[
            1
        ]
        > 0
    )


@pytest.mark.parametrize(("load_ohm", "power_w"), [(8.0, 1.5625), (4.0, 3.125)])
def test_ideal_bridge_at_5_v_has_four_times_the_power_of_a_single_ended_output(
    load_ohm: float, power_w: float
) -> None:
    assert float(sine_power_w(swing_v(5.0, "bridge"), load_ohm)) == pytest.approx(
        power_w, abs=1e-12
    )
    assert float(sine_power_w(swing_v(5.0, "single"), load_ohm)) == pytest.approx(
        power_w / 4, abs=1e-12
    )


def coil(ohm: float) -> Speaker:
    return Speaker(
        diameter_mm=28.0,
        impedance_ohm=ohm,
        coil_ohm=ohm,
        resonance_hz=700.0,
        sensitivity_db=90.0,
        rated_power_w=1.0,
    )


def sine_v(power_w: float, load_ohm: float) -> np.ndarray:
    return np.sqrt(2 * power_w * load_ohm) * SINE


def test_heat_of_a_class_ab_bridge_and_its_most() -> None:
    # 2 sqrt(2) V sqrt(P) / (pi sqrt(R)) - P of a data sheet; its maximum, 2 V^2 / (pi^2 R), is
    # 0.633 W at 5 V and 8 ohm.
    bridge = Amplifier(kind="class_ab", gain_db=0, full_scale_input_v=1, idle_current_ma=0)
    powers = np.linspace(0.01, 1.56, 300)
    heat = np.array(
        [
            float(amplifier_heat_w(sine_v(power, 8.0), coil(8.0), bridge, 5.0, 4800)[0])
            for power in powers
        ]
    )
    assert heat == pytest.approx(
        2 * np.sqrt(2) * 5.0 * np.sqrt(powers) / (np.pi * np.sqrt(8.0)) - powers, rel=1e-4
    )
    assert heat.max() == pytest.approx(0.633, abs=0.001)


def efficiency(
    power_w: float, load_ohm: float, supply_v: float, efficiency_percent: float, idle_ma: float
) -> float:
    """Of a class D bridge with a sine, by what it turns into heat."""
    bridge = Amplifier(
        gain_db=0,
        full_scale_input_v=1,
        efficiency_percent=efficiency_percent,
        idle_current_ma=idle_ma,
    )
    heat_w = float(
        amplifier_heat_w(sine_v(power_w, load_ohm), coil(load_ohm), bridge, supply_v, 4800)[0]
    )
    taken_w = supply_v * float(
        supply_current_a(sine_v(power_w, load_ohm), coil(load_ohm), bridge, supply_v, 4800)[0]
    )
    assert taken_w - heat_w == pytest.approx(power_w, rel=1e-6)
    return power_w / (power_w + heat_w)


def test_class_d_amplifier_of_3_2_w_into_4_ohm_has_half_an_ohm_of_losses() -> None:
    # Text of a shop: 3.2 W into 4 ohm at 10 % distortion from 5 V. Clipped by so much a sine has
    # 1.2878 times the power of the onset, and 1.0475 times at 1 %: 2.6 W there. Both ratios
    # computed from the definition of distortion.
    onset = float(sine_power_w(swing_v(5.0, "bridge", series_ohm=0.48, load_ohm=4.0), 4.0))
    assert onset * 1.2878 == pytest.approx(3.2, abs=0.02)
    assert onset * 1.0475 == pytest.approx(2.6, abs=0.02)


def test_filterless_class_d_amplifier_is_over_90_percent_efficient_above_half_a_watt() -> None:
    # Text of a shop, 5 V and 8 ohm; with 0.48 ohm of losses and 5 mA of idle current.
    assert efficiency(0.5, 8.0, 5.0, 100 * 8 / 8.48, 5.0) > 0.89
    assert efficiency(1.0, 8.0, 5.0, 100 * 8 / 8.48, 5.0) > 0.90


def test_class_d_amplifier_of_8_w_is_83_percent_efficient() -> None:
    # A data sheet: 83 % at 8 W into 4 ohm. 85 % and 0.227 W at rest, 19 mA of 12 V, make it so.
    assert efficiency(8.0, 4.0, 12.0, 85.0, 1000 * 0.227 / 12) == pytest.approx(0.83, abs=0.001)


def test_square_wave_has_twice_the_power_of_the_largest_sine() -> None:
    # 3.01 dB, the definition: a sine that is driven far beyond the rail.
    loud = Amplifier(gain_db=60, full_scale_input_v=1.0, lost_voltage_v=0.0)
    volts, _ = output_voltage_v(np.round(32767 * SINE).astype(np.int16), loud, 1.0)
    assert np.mean(volts.astype(float) ** 2) / 8.0 / clipping_power_w(
        loud, 1.0, 8.0
    ) == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize(
    ("part", "load_ohm", "over_onset", "power_w"),
    [
        ("class AB bridge, 5 V", 8.0, 1.0475, 1.2),
        ("class AB bridge, 5 V", 4.0, 1.0475, 1.8),
        ("class D bridge, 5 V", 4.0, 1.2878, 3.2),
    ],
)
def test_generic_amplifier_has_the_power_of_those_it_was_taken_from(
    part: str, load_ohm: float, over_onset: float, power_w: float
) -> None:
    # At 5 V: two data sheets of class AB bridges at 1 % distortion, and the text of a shop for a
    # class D one at 10 %.
    assert clipping_power_w(Amplifier(part=part), 5.0, load_ohm) * over_onset == pytest.approx(
        power_w, rel=0.025
    )
