"""Volts to pressure."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fxseq.acoustics import inside_model, level_db_spl, pressure_pa, speaker_power_w
from fxseq.sequence.model import Speaker

pytestmark = pytest.mark.quick

PART = Speaker(
    diameter_mm=28.0, impedance_ohm=8.0, resonance_hz=500.0, sensitivity_db=90.0, rated_power_w=1.0
)


@given(st.floats(0.01, 50), st.floats(1e-4, 100))
def test_twice_the_distance_is_6_02_db_less(distance_m: float, power_w: float) -> None:
    change = level_db_spl(PART, power_w, 2 * distance_m) - level_db_spl(PART, power_w, distance_m)
    assert change == pytest.approx(-6.0206, abs=1e-4)


@given(st.floats(0.01, 50), st.floats(1e-4, 100))
def test_twice_the_power_is_3_01_db_more(distance_m: float, power_w: float) -> None:
    assert level_db_spl(PART, 2 * power_w, distance_m) - level_db_spl(
        PART, power_w, distance_m
    ) == pytest.approx(3.0103, abs=1e-4)


def test_pressure_goes_with_one_over_distance(speaker: Speaker) -> None:
    volts = np.random.default_rng(1).normal(size=5000)
    near = pressure_pa(volts, 22_050, speaker, 0.5)
    far = pressure_pa(volts, 22_050, speaker, 2.0)
    assert far * 4 == pytest.approx(near, rel=1e-5, abs=1e-7)


def test_steady_voltage_gives_no_pressure(speaker: Speaker) -> None:
    pressure = pressure_pa(np.ones(22_050), 22_050, speaker, 1.0)
    # Settled, and away from the end, where the voltage jumps back to zero.
    assert np.abs(pressure[5_000:-5_000]).max() < 1e-4 * np.abs(pressure).max()


@pytest.mark.parametrize(("distance_m", "inside"), [(0.049, False), (0.05, True), (1.0, True)])
def test_five_centimetres_bound_the_model(distance_m: float, inside: bool) -> None:
    assert inside_model(distance_m) is inside


def test_power_is_taken_block_by_block(speaker: Speaker) -> None:
    # 4 V into 8 ohm is 2 W.
    assert speaker_power_w(np.array([4.0, -4.0, 4.0, 0.0, 4.0]), speaker, 2) == pytest.approx(
        [2.0, 1.0, 2.0]
    )
