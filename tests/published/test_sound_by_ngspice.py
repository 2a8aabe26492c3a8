"""From samples to decibels against ngspice: clipping amplifier, coil, cone, chamber, grille, and a
sound level meter, all as one netlist.

The meter is built of resistors and capacitors: four corners of the A and C curves as IEC 61672-1
names them (20.6, 107.7, 737.9, 12194 Hz, as copied in public code), a squarer, and 125 ms of RC.
Force is voltage and velocity is current in the mechanical part, pressure voltage and flow current
in the acoustic one. Holes are tubes by the exact solution in Bessel functions (Crandall, from
memory).
"""

import math
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, signal, special

from fxseq.acoustics import (
    Driver,
    Grille,
    Mount,
    driver_of,
    electrical_impedance,
    equivalent_level_db,
    excursion_per_volt,
    level_report,
    loudness,
    mount_of,
    output_voltage_v,
    pressure_per_volt,
    weighted_pa,
)
from fxseq.hazards import Exposure
from fxseq.sequence import Weight
from fxseq.sequence.parts import Amplifier, Speaker
from tests.checks.judged import hearing_findings

RHO = 1.2
C = 343.0
VISCOSITY = 1.82e-5
F1 = 20.598997
F2 = 107.652649
F3 = 737.862231
F4 = 12194.217148
A_1000 = 1.99966
C_1000 = 0.06190
RATE_HZ = 48_000
LENGTH_S = 0.25
TIMES = np.arange(round(RATE_HZ * LENGTH_S)) / RATE_HZ

FOUR_OHM = Speaker(
    diameter_mm=23,
    impedance_ohm=4,
    free_resonance_hz=420,
    q_total=1.2,
    moving_mass_g=0.5,
    chamber_ml=5.0,
    coil_mh=0.3,
    rated_power_w=2,
)
BY_RESONANCE = Speaker(
    diameter_mm=28,
    impedance_ohm=8,
    resonance_hz=800,
    q_total=1.1,
    sensitivity_db=88,
    rated_power_w=1,
)


def simulate(folder: Path, deck: str, commands: str) -> str:
    """What ngspice prints."""
    assert shutil.which("ngspice"), "ngspice is missing: apt-get install ngspice"
    (folder / "deck.cir").write_text(
        f"deck\n{deck}\n.control\nset numdgt=9\n{commands}\nquit\n.endc\n.end\n", encoding="utf-8"
    )
    return subprocess.run(
        ["ngspice", "-b", "deck.cir"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    ).stdout


def values(printed: str) -> dict[str, float]:
    return {
        name: float(value)
        for name, value in re.findall(r"^(\S+)\s*=\s*(-?[\d.]+e[+-]?\d+)", printed, re.MULTILINE)
    }


def cone(driver: Driver, behind: str) -> str:
    """Coil, force and all that moves, from node `drv`; behind: what the cone works against, from
    node j.
    """
    return "\n".join(
        [
            f"re drv a {driver.coil_ohm}",
            f"le a b {max(driver.coil_h, 1e-9)}",
            "vi b c 0",
            f"hemf c 0 vu {driver.force_factor_tm}",
            f"hforce f 0 vi {driver.force_factor_tm}",
            "vu f mass 0",
            f"lm mass spring {driver.moving_mass_kg}",
            f"cm spring i {driver.compliance_m_per_n}",
            f"rm i j {driver.friction_ns_per_m}",
            behind,
        ]
    )


def chamber(driver: Driver, volume_m3: float | None, last: str = "0") -> str:
    if volume_m3 is None:
        return f"rend j {last} 1e-9"
    return (
        f"ebox j {last} box 0 {driver.area_m2}\nfbox 0 box vu {driver.area_m2}\ncbox box 0"
        f" {volume_m3 / (RHO * C**2)}"
    )


def meter() -> str:
    """From pressure at node p: la and lc weighted, fast and slow exponential averages of the
    squares of la.
    """
    lines = []
    node = "p"
    for index, (kind, corner) in enumerate(
        [("high", F1), ("high", F1), ("low", F4), ("low", F4), ("high", F2), ("high", F3)]
    ):
        ohm = 1e6 / (2 * math.pi * corner)
        across, along = (
            (f"r{index}w q{index} 0 {ohm}", f"c{index}w {node} q{index} 1u")
            if kind == "high"
            else (f"c{index}w q{index} 0 1u", f"r{index}w {node} q{index} {ohm}")
        )
        lines += [across, along, f"e{index}w w{index} 0 q{index} 0 1"]
        node = f"w{index}"
    lines += [
        f"ba la 0 v={10 ** (A_1000 / 20)}*v(w5)",
        f"bc lc 0 v={10 ** (C_1000 / 20)}*v(w3)",
        "bs sq 0 v=v(la)*v(la)",
        "rf sq fast 1k",
        "cf fast 0 125u",
        "rs sq slow 1k",
        "cs slow 0 1000u",
    ]
    return "\n".join(lines)


def level_db(square: float) -> float:
    return 10 * math.log10(square / (20e-6) ** 2)


CASES = {
    "two tones, hard clipped": (
        0.49 * np.sin(2 * np.pi * 400 * TIMES) + 0.49 * np.sin(2 * np.pi * 1100 * TIMES),
        "v1 x 0 sin(0 0.49 400)\nv2 in x sin(0 0.49 1100)",
        14.0,
    ),
    "a burst of 20 ms": (
        np.where(TIMES < 0.02, 0.9 * np.sin(2 * np.pi * 1000 * TIMES), 0.0),
        "v1 x 0 sin(0 0.9 1000)\nv2 gate 0 pulse(1 0 0.02 1n 1n 1 2)\nb9 in 0 v=v(x)*v(gate)",
        6.0,
    ),
    "a low tone, nearly a square": (
        0.98 * np.sin(2 * np.pi * 150 * TIMES),
        "v1 in 0 sin(0 0.98 150)",
        22.0,
    ),
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize(
    "speaker", [FOUR_OHM, BY_RESONANCE], ids=["4 ohm in 5 ml", "by its resonance"]
)
def test_levels_of_a_clipping_amplifier_and_its_speaker(
    case: str, speaker: Speaker, tmp_path: Path
) -> None:
    """Full scale through gain and a rail of 3 V less 0.2 V; LAeq, LAFmax, LASmax and LCpeak half
    a metre away within 0.05 dB.
    """
    samples, wave, gain_db = CASES[case]
    driver = driver_of(speaker)
    gain = 10 ** (gain_db / 20)
    deck = (
        f"{wave}\nbclip drv 0"
        f" v=max(-2.8,min(2.8,{gain}*v(in)))\n{cone(driver, chamber(driver, mount_of(speaker).chamber_m3))}\nbp"
        " p 0"
        f" v={RHO * driver.area_m2 / (2 * math.pi * 0.5) / driver.moving_mass_kg}*v(mass,spring)\n{meter()}\n.options"
        " reltol=1e-5 method=gear"
    )
    seen = values(
        simulate(
            tmp_path,
            deck,
            f"tran 10u {LENGTH_S} 0 5u uic\nmeas tran mean avg v(sq)\nmeas tran fast max"
            " v(fast)\nmeas tran slow max v(slow)\nmeas tran top max v(lc)\nmeas tran bottom min"
            " v(lc)",
        )
    )
    amplifier = Amplifier(gain_db=gain_db, full_scale_input_v=32768 / 32767, lost_voltage_v=0.2)
    ours = level_report(
        np.round(32767 * samples).astype(np.int16), RATE_HZ, amplifier, speaker, {"here": 0.5}, 3.0
    ).at["here"]
    assert ours.laeq_db == pytest.approx(level_db(seen["mean"]), abs=0.05)
    assert ours.lafmax_db == pytest.approx(level_db(seen["fast"]), abs=0.05)
    assert ours.lasmax_db == pytest.approx(level_db(seen["slow"]), abs=0.05)
    assert ours.lcpeak_db == pytest.approx(
        level_db(max(seen["top"], -seen["bottom"]) ** 2), abs=0.05
    )


@pytest.mark.parametrize("overdrive_db", [1.0, 6.0, 14.0])
def test_what_clipping_makes_of_two_tones(overdrive_db: float, tmp_path: Path) -> None:
    """700 and 1100 Hz: the tones within 0.05 dB, difference tones and harmonics of a thousandth
    and more within 0.2 dB.
    """
    peak = 0.5 * 10 ** (overdrive_db / 20)
    printed = simulate(
        tmp_path,
        f"v1 x 0 sin(0 {peak} 700)\nv2 in x sin(0 {peak} 1100)\nb1 out 0 v=max(-1,min(1,v(in)))\nr1"
        " out 0 8",
        "tran 2u 20m 0 2u\nset nfreqs=40\nset fourgridsize=20000\nfourier 100 v(out)",
    )
    seen = np.array(
        [
            float(row[2])
            for row in re.findall(
                r"^\s*(\d+)\s+(\S+)\s+(\S+)\s+\S+\s+\S+\s+\S+\s*$", printed, re.MULTILINE
            )
        ]
    )[:40]
    turns = np.arange(48_000) / 48_000
    both = 0.5 * (np.sin(2 * np.pi * 7 * turns) + np.sin(2 * np.pi * 11 * turns))
    amplifier = Amplifier(
        gain_db=overdrive_db, full_scale_input_v=32768 / 32767, lost_voltage_v=0.0
    )
    lines = (
        np.abs(
            np.fft.rfft(
                output_voltage_v(np.round(32767 * both).astype(np.int16), amplifier, 1.0)[0]
            )
        )[:40]
        / 24_000
    )
    for number in np.flatnonzero(seen > 1e-3 * seen.max()):
        assert 20 * math.log10(lines[number] / seen[number]) == pytest.approx(
            0.0, abs=0.05 if number in (7, 11) else 0.2
        ), f"{100 * number} Hz"
    assert np.count_nonzero(seen > 1e-3 * seen.max()) >= 6


SMALL = Driver(
    coil_ohm=3.6,
    coil_h=0.35e-3,
    force_factor_tm=1.3,
    moving_mass_kg=0.45e-3,
    compliance_m_per_n=0.6e-3,
    friction_ns_per_m=0.15,
    area_m2=4.2e-4,
)


def holes_ohm(frequency_hz: float, grille: Grille) -> complex:
    """Impedance of all holes: tubes with friction at their walls, 8 / (3 pi) of a radius of air
    at either end, and the skin of the plate.
    """
    omega = 2 * math.pi * frequency_hz
    radius = grille.hole_diameter_m / 2
    x = radius * np.sqrt(-1j * omega * RHO / VISCOSITY)
    tube = (
        1j * omega * RHO * grille.thickness_m / (1 - 2 * special.jv(1, x) / (x * special.jv(0, x)))
    )
    ends = 1j * omega * RHO * 16 / (3 * math.pi) * radius + 0.5 * math.sqrt(
        2 * omega * RHO * VISCOSITY
    )
    return complex((tube + ends) / grille.open_area_m2)


def radiation_ohm(frequency_hz: float, grille: Grille) -> float:
    """Of a piston of the open area in a wall (textbooks, from memory): a power series, 2 k^2 a^2
    / 4 - (2 k a)^4 / (2 4^2 6) + ...
    """
    double = 2 * 2 * math.pi * frequency_hz / C * math.sqrt(grille.open_area_m2 / math.pi)
    terms = (
        -((-1) ** n)
        * double ** (2 * n)
        / math.prod([2, *(even**2 for even in range(4, 2 * n + 1, 2)), 2 * n + 2])
        for n in range(1, 12)
    )
    return RHO * C / grille.open_area_m2 * sum(terms)


@pytest.mark.parametrize(
    "frequency_hz", [60.0, 200.0, 500.0, 900.0, 1500.0, 3000.0, 6000.0, 12000.0]
)
@pytest.mark.parametrize(
    "grille",
    [Grille(12, 2e-3, 2e-3, 1e-6), Grille(60, 0.6e-3, 1e-3, 2e-6)],
    ids=["2 mm holes", "0.6 mm holes"],
)
def test_leaking_box_of_5_ml_behind_a_grille(
    grille: Grille, frequency_hz: float, tmp_path: Path
) -> None:
    mount = Mount(5e-6, 5.0, grille)
    compliance = 5e-6 / (RHO * C**2)
    holes = holes_ohm(frequency_hz, grille)
    closed = math.sqrt(
        (1 / SMALL.compliance_m_per_n + SMALL.area_m2**2 / compliance) / SMALL.moving_mass_kg
    )
    deck = (
        f"vin drv 0 ac 1\n{cone(SMALL, chamber(SMALL, 5e-6, 'k'))}\nrleak box leak"
        f" {5.0 / (closed * compliance)}\nvleak leak 0 0\nefront k 0 fr 0 {SMALL.area_m2}\nffront 0"
        f" fr vu {SMALL.area_m2}\ncgap fr 0 {grille.gap_m3 / (RHO * C**2)}\nlh fr q"
        f" {holes.imag / (2 * math.pi * frequency_hz)}\nrh q s"
        f" {holes.real + radiation_ohm(frequency_hz, grille)}\nvout s 0 0\n.options reltol=1e-9"
    )
    simulate(
        tmp_path,
        deck,
        f"ac lin 1 {frequency_hz} {frequency_hz}\nwrdata out.txt vi#branch vu#branch vout#branch"
        " vleak#branch",
    )
    row = np.loadtxt(tmp_path / "out.txt").ravel()
    current = row[1] + 1j * row[2]
    velocity = row[4] + 1j * row[5]
    flow = row[7] + 1j * row[8] - (row[10] + 1j * row[11])
    at = np.array([frequency_hz])
    assert abs(electrical_impedance(at, SMALL, mount)[0] * current) == pytest.approx(1.0, rel=0.005)
    assert abs(
        excursion_per_volt(at, SMALL, mount)[0] / (velocity / (2j * np.pi * frequency_hz))
    ) == pytest.approx(1.0, rel=0.005)
    pressure = 2j * np.pi * frequency_hz * RHO * flow / (2 * math.pi * 0.5)
    assert 20 * math.log10(
        abs(pressure_per_volt(at, SMALL, mount, 0.5)[0] / pressure)
    ) == pytest.approx(0.0, abs=0.05)


def weighting(frequency_hz: NDArray[np.float64], curve: str) -> NDArray[np.float64]:
    """The curve as a factor of power, from its equation."""
    f2 = frequency_hz**2
    power = (F4**2 * f2 / ((f2 + F1**2) * (f2 + F4**2))) ** 2
    return power * (
        f2**2 / ((f2 + F2**2) * (f2 + F3**2)) * 10 ** (A_1000 / 10)
        if curve == "A"
        else 10 ** (C_1000 / 10)
    )


@pytest.mark.parametrize("curve", ["A", "C"])
@pytest.mark.parametrize("rate_hz", [22_050, 48_000])
def test_level_of_noise(curve: str, rate_hz: int) -> None:
    """Of one pascal, white from 20 Hz to 0.85 of the band: the integral of the curve's equation,
    within 0.05 dB.
    """
    size = 1 << 17
    low_hz = 20.0
    high_hz = 0.425 * rate_hz
    frequencies = np.fft.rfftfreq(size, 1 / rate_hz)
    inside = (frequencies >= low_hz) & (frequencies <= high_hz)
    phases = np.random.default_rng(7).uniform(0, 2 * np.pi, frequencies.size)
    noise = np.fft.irfft(np.where(inside, np.exp(1j * phases), 0))
    noise = np.tile(noise / np.sqrt(np.mean(noise**2)), 2)
    expected, _ = integrate.quad(
        lambda f: float(weighting(np.array(f), curve)), low_hz, high_hz, limit=400, epsabs=1e-3
    )
    ours = equivalent_level_db(weighted_pa(noise, rate_hz, curve)[size:])  # type: ignore[arg-type]
    assert ours == pytest.approx(level_db(expected / (high_hz - low_hz)), abs=0.05)


@pytest.mark.parametrize("burst_ms", [10, 50, 200])
def test_exposure_of_a_burst_is_that_of_its_length(burst_ms: int) -> None:
    """A tone of 1 kHz and one pascal for so many ms in two seconds: 93.98 dB + 10 lg of its
    length, whatever is around it.
    """
    times = np.arange(2 * RATE_HZ) / RATE_HZ
    tone = np.where(
        (times >= 0.5) & (times < 0.5 + burst_ms / 1000),
        math.sqrt(2) * np.sin(2 * np.pi * 1000 * times),
        0.0,
    )
    exposure_level_db = equivalent_level_db(weighted_pa(tone, RATE_HZ, "A")) + 10 * math.log10(2)
    assert exposure_level_db == pytest.approx(93.979 + 10 * math.log10(burst_ms / 1000), abs=0.1)


SHELF = (
    [1.53512485958697, -2.69169618940638, 1.19839281085285],
    [1.0, -1.69065929318241, 0.73248077421585],
)
HIGH_PASS = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])


@pytest.mark.parametrize("length_ms", [5, 50, 390, 400, 410, 700])
def test_loudness_of_short_clips_against_the_printed_filters(length_ms: int) -> None:
    """BS.1770-5 tables 1 and 2 run sample by sample; windows of 0.4 s moved sample by sample,
    silence after the clip.
    """
    rng = np.random.default_rng(length_ms)
    count = round(RATE_HZ * length_ms / 1000)
    clip = rng.normal(0, 0.1, count) * np.exp(-np.arange(count) / (0.4 * count))
    padded = np.concatenate([clip, np.zeros(RATE_HZ)])
    squares = signal.lfilter(*HIGH_PASS, signal.lfilter(*SHELF, padded)) ** 2
    window = round(0.4 * RATE_HZ)
    summed = np.concatenate([[0.0], np.cumsum(squares)])
    running = (summed[window:] - summed[:-window]) / window
    ours = loudness(clip, RATE_HZ)
    assert ours.padded_momentary_max == pytest.approx(
        -0.691 + 10 * math.log10(running.max()), abs=0.05
    )
    if length_ms < 400:
        assert ours.integrated == -math.inf
    if length_ms == 400:
        assert ours.integrated == pytest.approx(-0.691 + 10 * math.log10(running[0]), abs=0.01)


def test_dose_of_hammering() -> None:
    """100 bangs a minute, each as much as 10 ms of 125 dB(A): 107.2 dB(A) on average, allowed
    for 2.8 minutes (NIOSH, 3 dB), here for half an hour.
    """
    mean_dba = 125 + 10 * math.log10(100 * 0.010 / 60)
    exposure = Exposure("hand", 0.5, mean_dba, 125 - 11.1, 138.0, 0.0, 0.5)
    assert mean_dba == pytest.approx(107.22, abs=0.01)
    assert exposure.dose_percent == pytest.approx(
        100 * 30 / (480 / 2 ** ((mean_dba - 85) / 3)), rel=1e-6
    )
    assert exposure.daily_dba == pytest.approx(mean_dba - 12.04, abs=0.01)
    heaviest = {finding.check: finding.weight for finding in hearing_findings(exposure)}
    assert heaviest["hazard.hearing"] == Weight.FAULT
    assert heaviest["hazard.impulse"] == Weight.WARNING


@pytest.mark.parametrize("supply_v", [0.0, 0.25, 0.3])
def test_amplifier_without_voltage_is_silent(supply_v: float) -> None:
    """At or below what the output stage keeps, nothing comes out and every sample that is not
    zero clips; no figure is lost.
    """
    amplifier = Amplifier(gain_db=20.0, full_scale_input_v=1.0, lost_voltage_v=0.3)
    report = level_report(
        (10_000 * np.sin(2 * np.pi * 440.1 * TIMES)).astype(np.int16),
        RATE_HZ,
        amplifier,
        BY_RESONANCE,
        {"hand": 0.5},
        supply_v,
    )
    assert report.at["hand"].as_dict()["laeq_db"] is None
    assert report.clipped_share > 0.99
    assert (report.speaker_highest_power_w, report.excursion_peak_mm) == (0.0, 0.0)
