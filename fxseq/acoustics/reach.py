"""How loud a speaker can be at each frequency, and what holds it back there."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.amplifier import (
    clipping_power_w,
    clipping_voltage_v,
    full_scale_thd_percent,
    full_scale_v,
)
from fxseq.acoustics.decibels import REFERENCE_PRESSURE_PA, power_db
from fxseq.acoustics.driver import (
    Space,
    electrical_impedance,
    excursion_per_volt,
    pressure_per_volt,
)
from fxseq.acoustics.parameters import reference_efficiency
from fxseq.acoustics.speaker import driver_of, level_db_spl, mount_of, mounted_resonance_hz
from fxseq.sequence.parts import Amplifier, Speaker

HOLDS = ("full scale", "rail", "power", "excursion")
"""What allows no more: samples, the amplifier's voltage, the speaker's rated power, its
excursion_mm.
"""


@dataclass(frozen=True, eq=False)
class Reach:
    """A speaker on its amplifier, tone by tone; arrays of shape (n,).

    impedance_ohm: magnitude at its terminals. level_db: of the loudest lasting sine. [dB re 20 uPa]
    held_by: places in HOLDS. way_mm: how far the cone goes from rest then. resonance_hz,
    resonance_ohm: in its chamber. flat_db: level of 1 W at 1 m, above resonance, in half space.
    efficiency: sound over electrical power there, 0..1. clipping_w: the largest sine of the
    amplifier, in the rated impedance. thd_percent: distortion of a full-scale tone. [%]
    """

    frequencies_hz: NDArray[np.float64]
    impedance_ohm: NDArray[np.float64]
    level_db: NDArray[np.float64]
    held_by: NDArray[np.int64]
    excursion_mm: NDArray[np.float64]
    resonance_hz: float
    resonance_ohm: float
    flat_db: float
    efficiency: float
    clipping_w: float
    thd_percent: float

    @property
    def loudest(self) -> int:
        """Place of the loudest tone."""
        return int(self.level_db.argmax())

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "resonance_hz": self.resonance_hz,
            "resonance_ohm": self.resonance_ohm,
            "least_ohm": float(self.impedance_ohm.min()),
            "flat_db": self.flat_db,
            "efficiency_percent": 100 * self.efficiency,
            "clipping_w": self.clipping_w,
            "full_scale_thd_percent": self.thd_percent,
            "loudest_db": float(self.level_db[self.loudest]),
            "loudest_hz": float(self.frequencies_hz[self.loudest]),
            "loudest_held_by": HOLDS[self.held_by[self.loudest]],
        }


def reach(
    speaker: Speaker,
    amplifier: Amplifier,
    supply_v: float,
    frequencies_hz: NDArray[np.float64],
    distance_m: float,
    space: Space = "half",
) -> Reach:
    """Levels of lasting sines at a distance, shape (n,), each > 0. supply_v: at the amplifier, >
    what its output loses. [V]
    """
    driver = driver_of(speaker)
    mount = mount_of(speaker)
    excursion_m_per_v = np.abs(excursion_per_volt(frequencies_hz, driver, mount))
    most_mm = math.inf
    if speaker.excursion_mm is not None:
        most_mm = speaker.excursion_mm
    peaks_v = np.broadcast_arrays(
        full_scale_v(amplifier),
        clipping_voltage_v(amplifier, supply_v, speaker.impedance_ohm),
        math.sqrt(2 * speaker.rated_power_w * speaker.impedance_ohm),
        most_mm / 1000 / excursion_m_per_v,
    )
    peak_v = np.min(peaks_v, axis=0)
    pressure_pa = (
        np.abs(pressure_per_volt(frequencies_hz, driver, mount, distance_m, space))
        * peak_v
        / math.sqrt(2)
    )
    resonance_hz = mounted_resonance_hz(speaker)
    return Reach(
        frequencies_hz=frequencies_hz,
        impedance_ohm=np.abs(electrical_impedance(frequencies_hz, driver, mount)),
        level_db=power_db((pressure_pa / REFERENCE_PRESSURE_PA) ** 2),
        held_by=np.argmin(peaks_v, axis=0),
        excursion_mm=1000 * excursion_m_per_v * peak_v,
        resonance_hz=resonance_hz,
        resonance_ohm=float(
            np.abs(electrical_impedance(np.array([resonance_hz]), driver, mount))[0]
        ),
        flat_db=level_db_spl(speaker, 1.0, 1.0),
        efficiency=reference_efficiency(
            driver.resonance_hz, driver.equivalent_volume_m3, driver.q_electrical
        ),
        clipping_w=clipping_power_w(amplifier, supply_v, speaker.impedance_ohm),
        thd_percent=full_scale_thd_percent(amplifier, supply_v, speaker.impedance_ohm),
    )
