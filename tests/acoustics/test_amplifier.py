"""Samples to volts, and volts to supply current."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from fxseq.acoustics import clipping_voltage_v, output_voltage_v, supply_current_a
from fxseq.sequence.model import Amplifier, Speaker

samples = arrays(np.int16, st.integers(0, 200), elements=st.integers(-32768, 32767))


def test_full_scale_is_the_input_voltage_times_the_gain(amplifier: Amplifier) -> None:
    volts, share = output_voltage_v(np.array([-32768, 0, 16384], dtype=np.int16), amplifier, 12.0)
    # 12 dB is a factor of 3.981.
    assert volts == pytest.approx([-3.981, 0.0, 1.9905], abs=0.0005)
    assert share == 0.0


def test_output_clips_at_the_rail_less_what_is_lost(amplifier: Amplifier) -> None:
    volts, share = output_voltage_v(
        np.array([-32768, 32767, 8192, 0], dtype=np.int16), amplifier, 3.0
    )
    assert volts == pytest.approx([-2.7, 2.7, 0.9953, 0.0], abs=0.0005)
    assert share == 0.5


def test_single_ended_output_swings_half_as_far(amplifier: Amplifier) -> None:
    single = amplifier.model_copy(update={"output": "single"})
    assert clipping_voltage_v(single, 5.0) == pytest.approx(clipping_voltage_v(amplifier, 5.0) / 2)


def test_supply_below_the_lost_voltage_gives_silence(amplifier: Amplifier) -> None:
    volts, share = output_voltage_v(np.array([1000, -1000], dtype=np.int16), amplifier, 0.2)
    assert (volts.tolist(), share) == ([0.0, 0.0], 1.0)


def test_supply_may_sag_sample_by_sample(amplifier: Amplifier) -> None:
    volts, _ = output_voltage_v(
        np.array([32767, 32767], dtype=np.int16), amplifier, np.array([5.0, 2.0])
    )
    assert volts == pytest.approx([3.981, 1.7], abs=0.0005)


@given(samples, st.floats(-20, 30), st.floats(0, 20))
def test_more_gain_never_clips_less(signal: np.ndarray, gain_db: float, more_db: float) -> None:
    def share(gain: float) -> float:
        return output_voltage_v(signal, Amplifier(gain_db=gain, full_scale_input_v=1.0), 5.0)[1]

    assert 0.0 <= share(gain_db) <= share(gain_db + more_db) <= 1.0


@pytest.fixture
def resistor(speaker: Speaker) -> Speaker:
    return speaker.model_copy(update={"coil_ohm": 8.0})


def test_class_d_current_is_output_power_over_efficiency_and_voltage(
    amplifier: Amplifier, resistor: Speaker
) -> None:
    # 2 V into 8 ohm is 0.5 W; at 80 % and 5 V that is 125 mA, and 10 mA idle. The last block is a
    # partial one.
    current = supply_current_a(np.array([2.0, -2.0, 0.0, 0.0, 2.0]), resistor, amplifier, 5.0, 2)
    assert current == pytest.approx([0.135, 0.010, 0.135])


def test_class_ab_current_is_that_of_the_load_whatever_the_supply(
    amplifier: Amplifier, resistor: Speaker
) -> None:
    class_ab = amplifier.model_copy(update={"kind": "class_ab"})
    volts = np.array([2.0, -2.0])
    assert supply_current_a(volts, resistor, class_ab, 5.0, 2) == pytest.approx([0.260])
    assert supply_current_a(volts, resistor, class_ab, 12.0, 2) == pytest.approx([0.260])


def test_current_is_that_of_the_coil_where_the_impedance_is_least(
    amplifier: Amplifier, speaker: Speaker
) -> None:
    coil = speaker.model_copy(update={"coil_ohm": 6.4})
    assert supply_current_a(np.array([2.0, -2.0]), coil, amplifier, 5.0, 2) == pytest.approx(
        [0.010 + 0.125 * 8 / 6.4]
    )


def test_no_samples_take_no_blocks(amplifier: Amplifier, speaker: Speaker) -> None:
    assert supply_current_a(np.zeros(0), speaker, amplifier, 5.0, 21).shape == (0,)
