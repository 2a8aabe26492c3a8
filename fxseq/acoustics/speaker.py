"""From volts at the speaker to pressure at an ear, cone movement and heat: the described speaker as
a circuit, on axis.

A speaker known by its size, resonance, Q and sensitivity becomes the one circuit that has these; a
full set of parameters gives the circuit itself. Without chamber details it is the second-order
high-pass G(s) = s^2 / (s^2 + s wc / Qtc + wc^2) of R. H. Small's closed-box analysis (1972, seen as
its abstract and glossary and in three copies). Room, shell, breakup of the cone and power
compression are outside.
"""

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.air import DENSITY_KG_PER_M3, PATH_UNCERTAINTY_DB, short_circuit_db
from fxseq.acoustics.decibels import REFERENCE_PRESSURE_PA, block_means, power_db
from fxseq.acoustics.driver import (
    Driver,
    Mount,
    Space,
    driver_from,
    excursion_per_volt,
    pressure_per_volt,
    stiffening,
)
from fxseq.acoustics.grille import Grille, hole_impedance
from fxseq.acoustics.parameters import completed
from fxseq.acoustics.response import Response, apply_responses, settling_time_s
from fxseq.sequence.parts import Speaker

NEAREST_M = 0.05
"""Closer than this, roughly a cone's diameter, pressure no longer goes with 1/r. [m] Common
practice, no source.
"""
COIL_SHARE = 0.88
"""Resistance of a coil over its nominal impedance, where only that is known: 6.8 to 7.4 ohm of
8, from memory.
"""
USUAL_Q_TOTAL = 1.0
USUAL_Q_MECHANICAL = 4.0
"""Where none is known: common practice, no source. The mechanical one only shapes the impedance."""
_LONGEST_SETTLING_S = 4.0
"""What rings on for longer, as no speaker does, is cut off. [s]"""
_LOWEST_HZ = 1e-3
"""Stands for 0 Hz, at which the circuit has no finite figures."""

# Keys of the description: (quantity, factor to SI).
_STATED = {
    "resonance_hz": ("resonance_hz", 1.0),
    "free_resonance_hz": ("resonance_hz", 1.0),
    "q_total": ("q_total", 1.0),
    "q_mechanical": ("q_mechanical", 1.0),
    "q_electrical": ("q_electrical", 1.0),
    "equivalent_volume_ml": ("equivalent_volume_m3", 1e-6),
    "moving_mass_g": ("moving_mass_kg", 1e-3),
    "compliance_mm_per_n": ("compliance_m_per_n", 1e-3),
    "force_factor_tm": ("force_factor_tm", 1.0),
    "cone_area_cm2": ("area_m2", 1e-4),
    "coil_ohm": ("coil_ohm", 1.0),
}


def inside_model(distance_m: float) -> bool:
    """Whether pressure goes with 1/r at this distance."""
    return distance_m >= NEAREST_M


def stated_quantities(speaker: Speaker) -> dict[str, float]:
    """What the description says of the driver, in the terms of `parameters`."""
    stated = {
        quantity: getattr(speaker, key) * factor
        for key, (quantity, factor) in _STATED.items()
        if getattr(speaker, key) is not None
    }
    if speaker.sensitivity_db is not None:
        stated["flat_pa_per_v"] = _sensitivity_pa_per_v(
            speaker, speaker.sensitivity_db + lost_in_free_air_db(speaker)
        )
    return stated


def sized_quantities(speaker: Speaker) -> dict[str, float]:
    """Quantities as stated, with cone and coil from size and impedance where they neither are
    stated nor follow from the other numbers.
    """
    stated = stated_quantities(speaker)
    usual = {
        "area_m2": math.pi / 4 * (speaker.diameter_mm / 1000) ** 2,
        "coil_ohm": COIL_SHARE * speaker.impedance_ohm,
    }
    # A sensitivity is printed with 3 dB either way, so that nothing follows from it which is known
    # from elsewhere.
    follows = completed({name: value for name, value in stated.items() if name != "flat_pa_per_v"})
    return {**{name: follows.get(name, value) for name, value in usual.items()}, **stated}


def lost_in_free_air_db(speaker: Speaker) -> float:
    """What the stated sensitivity is short of that in a baffle; 0 for one that was measured
    there. [dB]
    """
    if speaker.sensitivity_baffle:
        return 0.0
    return -short_circuit_db(speaker.diameter_mm / 1000)


def sensitivity_uncertainty_db(speaker: Speaker) -> float:
    """Uncertainty of one part against its data sheet, and of what free air has taken. [dB]"""
    return math.hypot(
        speaker.sensitivity_spread_db, 0.0 if speaker.sensitivity_baffle else PATH_UNCERTAINTY_DB
    )


def _sensitivity_pa_per_v(speaker: Speaker, level_db: float) -> float:
    """Sensitivity in the convention it is stated in, at 1 m. [Pa/V]"""
    volts = speaker.sensitivity_voltage_v or math.sqrt(
        speaker.sensitivity_power_w * speaker.impedance_ohm
    )
    return float(
        REFERENCE_PRESSURE_PA * 10 ** (level_db / 20) * speaker.sensitivity_distance_m / volts
    )


def driver_of(speaker: Speaker) -> Driver:
    """The circuit of the described speaker. What neither is stated nor follows is filled in with
    usual figures.

    Resonance in the chamber counts as one in free air of a speaker that needs no chamber.
    """
    known = completed(sized_quantities(speaker))
    if "q_electrical" not in known and "q_total" not in known:
        known = completed(
            {**known, "q_total": min(USUAL_Q_TOTAL, known.get("q_mechanical", math.inf) / 2)}
        )
    if "q_mechanical" not in known:
        known = completed(
            {**known, "q_mechanical": max(USUAL_Q_MECHANICAL, 2 * known.get("q_total", 0.0))}
        )
    driver = driver_from(known, speaker.coil_mh / 1000)
    if driver is None:
        raise ValueError("the description does not make a driver; its rules should have said so")
    return driver


def coil_ohm(speaker: Speaker) -> float:
    """Resistance of the described speaker's coil, the least that it is at any frequency. [ohm]"""
    return sized_quantities(speaker)["coil_ohm"]


def mount_of(speaker: Speaker) -> Mount:
    """Chamber and grille of the described speaker."""
    chamber_m3 = None
    if speaker.chamber_ml is not None:
        chamber_m3 = speaker.chamber_ml * 1e-6
    grille = None
    if speaker.grille is not None:
        grille = Grille(
            speaker.grille.holes,
            speaker.grille.hole_mm / 1000,
            speaker.grille.thickness_mm / 1000,
            speaker.grille.gap_ml * 1e-6,
        )
    return Mount(chamber_m3=chamber_m3, grille=grille)


def flat_pa_per_v(driver: Driver) -> float:
    """Pressure over voltage at 1 m in half space above resonance, without coil inductance and
    grille: rho Sd Bl / (2 pi Mms Re). [Pa/V]
    """
    return (
        DENSITY_KG_PER_M3
        * driver.area_m2
        * driver.force_factor_tm
        / (2 * math.pi * driver.moving_mass_kg * driver.coil_ohm)
    )


def level_db_spl(speaker: Speaker, power_w: float, distance_m: float) -> float:
    """Level in the speaker's flat range, above resonance, in half space. [dB re 20 uPa]

    L = sensitivity + 10 lg(power / its power) - 20 lg(distance / its distance); from the parameters
    where no sensitivity is stated. power_w: in the rated impedance, > 0. distance_m: > 0; from 5 cm
    up (see `inside_model`). With 1 W and 1 m, or 0.1 W and 0.1 m, this turns a sensitivity into
    that of another convention.
    """
    pressure = (
        flat_pa_per_v(driver_of(speaker)) * math.sqrt(power_w * speaker.impedance_ohm) / distance_m
    )
    return float(power_db((pressure / REFERENCE_PRESSURE_PA) ** 2))


def settled_after_s(speaker: Speaker) -> float:
    """Time for the transient of speaker, chamber and grille to die away, the coil's inductance
    left out. [s]
    """
    driver = driver_of(speaker)
    mount = mount_of(speaker)
    mass = driver.moving_mass_kg * _grille_weight(driver, mount)
    damping = (driver.friction_ns_per_m + driver.force_factor_tm**2 / driver.coil_ohm) / (2 * mass)
    square = (
        (2 * math.pi * driver.resonance_hz * stiffening(driver, mount)) ** 2
        * driver.moving_mass_kg
        / mass
    )
    # Slowest of the two poles: s^2 + 2 d s + w^2.
    if square >= damping**2:
        slowest = damping
    else:
        slowest = square / (damping + math.sqrt(damping**2 - square))
    return min(settling_time_s(slowest), _LONGEST_SETTLING_S)


def _grille_weight(driver: Driver, mount: Mount) -> float:
    """Moving mass with the air in the holes over the mass without."""
    if mount.grille is None:
        return 1.0
    omega = 2 * math.pi * driver.resonance_hz
    load = hole_impedance(np.array([driver.resonance_hz]), mount.grille)[0].imag / omega
    return 1 + float(load) * driver.area_m2**2 / driver.moving_mass_kg


def mounted_resonance_hz(speaker: Speaker) -> float:
    """Resonance in the chamber. [Hz]"""
    driver = driver_of(speaker)
    return driver.resonance_hz * stiffening(driver, mount_of(speaker))


@lru_cache(maxsize=32)
def speaker_response(
    speaker: Speaker, distance_m: float, space: Space = "half", leak_q: float | None = None
) -> Response:
    """Transfer function from volts at the speaker to pressure at a distance. [Pa/V] leak_q: of a
    leaking chamber, QL.
    """
    driver = driver_of(speaker)
    mount = mount_of(speaker).leaking(leak_q)
    return lambda frequencies_hz: pressure_per_volt(
        np.maximum(frequencies_hz, _LOWEST_HZ), driver, mount, distance_m, space
    )


@lru_cache(maxsize=32)
def excursion_response(speaker: Speaker) -> Response:
    """Transfer function from volts at the speaker to the way of its cone from rest. [m/V]"""
    driver = driver_of(speaker)
    mount = mount_of(speaker)
    return lambda frequencies_hz: excursion_per_volt(
        np.maximum(frequencies_hz, _LOWEST_HZ), driver, mount
    )


def pressure_pa(
    volts: NDArray[np.floating],
    rate_hz: float,
    speaker: Speaker,
    distance_m: float,
    space: Space = "half",
) -> NDArray[np.float32]:
    """Sound pressure on axis at a distance. [Pa]

    volts: at the speaker, shape (n,). Result: shape (n,). The time the sound travels is left out.
    The level is as uncertain as `levels` says; closer than 5 cm it is outside the model (see
    `inside_model`).
    """
    return apply_responses(
        volts, rate_hz, [speaker_response(speaker, distance_m, space)], settled_after_s(speaker)
    )[0]


def speaker_power_w(
    volts: NDArray[np.floating], speaker: Speaker, block_samples: int
) -> NDArray[np.float64]:
    """Mean electrical power V^2/R in the rated impedance in successive blocks, shape (ceil(n /
    block_samples),). [W]

    On the safe side: around resonance the impedance is higher and the power smaller.
    """
    return block_means(np.square(volts), block_samples) / speaker.impedance_ohm
