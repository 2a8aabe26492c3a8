"""A clip made as loud as a speaker can be."""
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.acoustics import Drive, Driver, Mount, drive_of, excursion_per_volt, level_report, pressure_per_volt, recommend, strain, treated
from fxseq.sequence.parts import Amplifier, Speaker

RATE_HZ = 22_050
DRIVER, MOUNT = Driver(7.1, 60e-6, 2.1, 0.32e-3, 0.22e-3, 0.3, 3.5e-4), Mount(12e-6)


def _at_dc(response, value: float):
    def safe(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        gains = response(np.maximum(frequencies_hz, 1.0))
        return np.where(frequencies_hz < 1.0, value, gains)
    return safe


DRIVE = Drive(
    pressure=_at_dc(lambda f: pressure_per_volt(f, DRIVER, MOUNT, 0.5), 0.0),
    excursion=_at_dc(lambda f: excursion_per_volt(f, DRIVER, MOUNT), float(excursion_per_volt(np.array([1.0]), DRIVER, MOUNT)[0].real)),
    settling_s=0.05, resonance_hz=900.0, full_scale_v=6.0, rail_v=4.5, impedance_ohm=8.0, rated_w=1.0, excursion_m=0.4e-3,
)


def rumble(seconds: float = 1.0) -> NDArray[np.float64]:
    """A bang with a long low tail and a little above: the lows move the cone, the rest is heard."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(7).normal(size=t.size)
    return 0.5 * np.exp(-3 * t) * np.sin(2 * np.pi * 90 * t) + 0.05 * np.exp(-6 * t) * noise


def test_recommendation_is_louder_and_keeps_every_limit() -> None:
    found = recommend(rumble(), RATE_HZ, DRIVE)
    assert found is not None
    assert found.after.laeq_db > found.before.laeq_db + 3
    assert found.after.excursion_peak_mm <= 0.4 + 1e-9
    assert found.after.hottest_second_w <= 1.0
    assert found.after.peak_v <= 4.5 * (1 + 1e-9)
    assert found.after.clipped_share == 0.0


def test_high_pass_buys_gain_where_the_cone_is_the_limit() -> None:
    found = recommend(rumble(), RATE_HZ, replace(DRIVE, excursion_m=0.05e-3))
    assert found is not None and found.high_pass_hz is not None and found.high_pass_hz > 200


def test_what_is_recommended_does_what_is_said_of_it() -> None:
    found = recommend(rumble(), RATE_HZ, DRIVE)
    assert found is not None
    again = strain(treated(rumble(), RATE_HZ, found.high_pass_hz, found.gain_db, found.threshold_dbfs), RATE_HZ, DRIVE)
    assert again.laeq_db == pytest.approx(found.after.laeq_db, abs=1e-6)
    assert again.excursion_peak_mm == pytest.approx(found.after.excursion_peak_mm, rel=1e-6)


@pytest.mark.parametrize(
    ("change", "stopped_by"),
    [({"rated_w": 0.02, "excursion_m": None}, "power"), ({"excursion_m": 1e-6}, "excursion"), ({"rail_v": 1.0, "excursion_m": None}, "rail"),
     ({"rail_v": 20.0, "full_scale_v": 1.0, "excursion_m": None, "rated_w": 50.0}, "full scale")])
def test_limit_that_stops_the_gain_is_named(change: dict[str, float], stopped_by: str) -> None:
    found = recommend(rumble(), RATE_HZ, replace(DRIVE, **change))
    assert found is not None and found.stopped_by == stopped_by


def test_higher_rail_is_never_quieter() -> None:
    levels = []
    for rail in (1.0, 2.0, 3.0, 4.5, 6.0):
        found = recommend(rumble(0.4), RATE_HZ, replace(DRIVE, rail_v=rail))
        assert found is not None
        levels.append(found.after.laeq_db)
    assert all(after >= before - 0.15 for before, after in zip(levels[:-1], levels[1:], strict=True))


def test_silence_needs_no_recommendation() -> None:
    assert recommend(np.zeros(1000), RATE_HZ, DRIVE) is None
    assert recommend(np.zeros(0), RATE_HZ, DRIVE) is None


def test_strain_of_a_steady_tone_follows_from_the_circuit() -> None:
    # Faded in, since a sudden onset moves the cone further.
    fade = np.minimum(np.arange(3 * RATE_HZ) / (RATE_HZ / 2), 1.0)
    tone = 0.5 * fade * np.sin(2 * np.pi * 300 * np.arange(3 * RATE_HZ) / RATE_HZ)
    found = strain(tone, RATE_HZ, DRIVE)
    way = abs(excursion_per_volt(np.array([300.0]), DRIVER, MOUNT)[0]) * 3.0 * 1000
    assert found.excursion_peak_mm == pytest.approx(way, rel=0.005)
    assert found.hottest_second_w == pytest.approx(3.0**2 / 16, rel=0.001)
    assert (found.peak_v, found.clipped_share) == (pytest.approx(3.0, rel=1e-3), 0.0)


def test_drive_of_a_described_prop_is_what_its_preview_counts_with() -> None:
    speaker, amplifier = Speaker(part="28 mm, 8 ohm", chamber_ml=15), Amplifier(part="class D bridge, 5 V")
    drive = drive_of(speaker, amplifier, 5.0, 0.5)
    assert drive.rail_v == pytest.approx(5.0 / (1 + 0.48 / 8))
    samples = np.round(32_767 * rumble()).astype(np.int16)
    report = level_report(samples, RATE_HZ, amplifier, speaker, {"hand": 0.5}, 5.0)
    found = strain(samples / 32_768, RATE_HZ, drive)
    assert found.laeq_db == pytest.approx(report.at["hand"].laeq_db, abs=0.001)
    assert found.excursion_peak_mm == pytest.approx(report.excursion_peak_mm, rel=0.03)
    assert found.hottest_second_w == pytest.approx(report.speaker_highest_power_w, rel=1e-4)
