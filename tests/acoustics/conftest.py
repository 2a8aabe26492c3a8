"""Parts and sounds for the tests of sound as physics."""

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.sequence.model import Amplifier, Speaker

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def amplifier() -> Amplifier:
    """12 dB from 1 V full scale: 4 V at the speaker, unclipped at 5 V."""
    return Amplifier(
        gain_db=12.0,
        full_scale_input_v=1.0,
        lost_voltage_v=0.3,
        efficiency_percent=80.0,
        idle_current_ma=10.0,
    )


@pytest.fixture(scope="session")
def speaker() -> Speaker:
    """80 dB at 1 W and 1 m, resonance at 500 Hz."""
    return Speaker(
        diameter_mm=28.0,
        impedance_ohm=8.0,
        resonance_hz=500.0,
        q_total=1.0,
        sensitivity_db=90.0,
        sensitivity_power_w=0.1,
        sensitivity_distance_m=0.1,
        sensitivity_spread_db=3.0,
        rated_power_w=1.0,
    )


@pytest.fixture(scope="session")
def sine() -> Callable[[float, float, float, int], NDArray[np.int16]]:
    """Samples of a sine: frequency [Hz], peak as share of full scale, length [s], rate [Hz]."""

    def samples(
        frequency_hz: float, peak: float, seconds: float, rate_hz: int
    ) -> NDArray[np.int16]:
        phase = 2 * np.pi * frequency_hz * np.arange(round(seconds * rate_hz)) / rate_hz
        return np.round(32767 * peak * np.sin(phase)).astype(np.int16)

    return samples
