"""A loudspeaker as a circuit: from volts to impedance, cone movement and sound, in free air or in a
chamber, behind a grille or not.

    voltage -> coil (Re, Le) -> force Bl i -> mass, friction, suspension of the cone, air of the
    chamber, holes of the grille -> sound

Linear, the cone as a stiff piston: valid up to about where the wavelength is the cone's
circumference. Source as in `parameters`; the coil as a plain inductance, which is too much at high
frequencies for most speakers.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.air import (
    DENSITY_KG_PER_M3,
    SPEED_OF_SOUND_M_PER_S,
    volume_compliance_m5_per_n,
)
from fxseq.acoustics.grille import Grille, front_load
from fxseq.acoustics.parameters import Quantities, completed

Frequencies = NDArray[np.float64]
Space = Literal["half", "full"]
SOLID_ANGLE_SR: dict[Space, float] = {"half": 2 * math.pi, "full": 4 * math.pi}
"""What the sound spreads into: half where the speaker sits in a large wall, full around a small
prop at low frequencies. [sr]
"""

NEEDED = (
    "coil_ohm",
    "force_factor_tm",
    "moving_mass_kg",
    "compliance_m_per_n",
    "q_mechanical",
    "resonance_hz",
    "area_m2",
)


@dataclass(frozen=True)
class Driver:
    """The moving parts and the coil, in SI units."""

    coil_ohm: float
    coil_h: float
    force_factor_tm: float
    moving_mass_kg: float
    compliance_m_per_n: float
    friction_ns_per_m: float
    area_m2: float

    @property
    def resonance_hz(self) -> float:
        """In free air: 1 / (2 pi sqrt(Mms Cms)). [Hz]"""
        return 1 / (2 * math.pi * math.sqrt(self.moving_mass_kg * self.compliance_m_per_n))

    @property
    def q_electrical(self) -> float:
        """2 pi fs Mms Re / Bl^2."""
        return (
            2
            * math.pi
            * self.resonance_hz
            * self.moving_mass_kg
            * self.coil_ohm
            / self.force_factor_tm**2
        )

    @property
    def q_mechanical(self) -> float:
        """2 pi fs Mms / Rms."""
        return 2 * math.pi * self.resonance_hz * self.moving_mass_kg / self.friction_ns_per_m

    @property
    def q_total(self) -> float:
        """Total Q of the speaker, of motor and suspension together."""
        return 1 / (1 / self.q_electrical + 1 / self.q_mechanical)

    @property
    def equivalent_volume_m3(self) -> float:
        """rho c^2 Sd^2 Cms. [m^3]"""
        return (
            DENSITY_KG_PER_M3
            * SPEED_OF_SOUND_M_PER_S**2
            * self.area_m2**2
            * self.compliance_m_per_n
        )


@dataclass(frozen=True)
class Mount:
    """What surrounds a driver.

    chamber_m3: closed volume behind it; None for an open back that does not reach the front (a
    large baffle). leak_q: resonance of the chamber over what leaks out of it, QL; None for a tight
    one. grille: holes before it.
    """

    chamber_m3: float | None = None
    leak_q: float | None = None
    grille: Grille | None = None

    def leaking(self, leak_q: float | None) -> "Mount":
        """This mount with another leak, or with none."""
        return replace(self, leak_q=leak_q)


def driver_from(stated: Quantities, coil_h: float = 0.0) -> Driver | None:
    """The driver that some of the quantities of `parameters` describe; None where they are not
    enough.
    """
    known = completed(stated)
    if any(name not in known for name in NEEDED):
        return None
    friction = 2 * math.pi * known["resonance_hz"] * known["moving_mass_kg"] / known["q_mechanical"]
    return Driver(
        known["coil_ohm"],
        coil_h,
        known["force_factor_tm"],
        known["moving_mass_kg"],
        known["compliance_m_per_n"],
        friction,
        known["area_m2"],
    )


def air_load_kg(area_m2: float) -> float:
    """Air that moves with both sides of a piston in a baffle, at low frequencies: 16 / 3 rho
    a^3, a the radius of its area. [kg]
    """
    return 16 / 3 * DENSITY_KG_PER_M3 * (area_m2 / math.pi) ** 1.5


def stiffening(driver: Driver, mount: Mount) -> float:
    """How much the chamber raises resonance and Q: sqrt(1 + Vas / Vb); 1 without a chamber."""
    if mount.chamber_m3 is None:
        return 1.0
    return math.sqrt(1 + driver.equivalent_volume_m3 / mount.chamber_m3)


def _chamber(
    frequencies_hz: Frequencies,
    driver: Driver,
    mount: Mount,
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Acoustic impedance behind the cone [Pa s/m^3], and the share of the cone's flow that a leak
    lets out there.

    The leak is a resistance beside the compliance of the air, so both flows divide as their
    admittances: j w C into the air, w0 C / QL through the leak, w0 the resonance in the chamber.
    Source: R. H. Small, "Closed-Box Loudspeaker Systems" (1972), glossary: QL.
    """
    if mount.chamber_m3 is None:
        none = np.zeros(frequencies_hz.shape, dtype=np.complex128)
        return none, none
    compliance = volume_compliance_m5_per_n(mount.chamber_m3)
    closed_resonance = 2 * math.pi * driver.resonance_hz * stiffening(driver, mount)
    leak = 0.0
    if mount.leak_q is not None:
        leak = closed_resonance * compliance / mount.leak_q
    admittance = 2j * np.pi * frequencies_hz * compliance + leak
    return 1 / admittance, leak / admittance


def _motion(
    frequencies_hz: Frequencies,
    driver: Driver,
    mount: Mount,
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Mechanical impedance of all that moves [N s/m], and the share of the cone's flow that is
    heard.

    Heard is what gets out of the front, less what a leak lets out behind: that flow is opposite,
    and at wavelengths far larger than the prop the two add up in one point.
    """
    omega = 2 * np.pi * frequencies_hz
    suspended = (
        driver.friction_ns_per_m
        + 1j * omega * driver.moving_mass_kg
        + 1 / (1j * omega * driver.compliance_m_per_n)
    )
    load, leaked = _chamber(frequencies_hz, driver, mount)
    let_out = np.ones(frequencies_hz.shape, dtype=np.complex128)
    if mount.grille is not None:
        front, let_out = front_load(frequencies_hz, mount.grille)
        load = load + front
    return suspended + driver.area_m2**2 * load, let_out - leaked


def electrical_impedance(
    frequencies_hz: Frequencies, driver: Driver, mount: Mount
) -> NDArray[np.complex128]:
    """Impedance at the terminals, Re + j w Le + Bl^2 / Zm, shape of `frequencies_hz`, each > 0.
    [ohm]
    """
    moved, _ = _motion(frequencies_hz, driver, mount)
    return (
        driver.coil_ohm
        + 2j * np.pi * frequencies_hz * driver.coil_h
        + driver.force_factor_tm**2 / moved
    )


def cone_velocity(
    frequencies_hz: Frequencies, driver: Driver, mount: Mount
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Velocity of the cone over voltage [m/s/V], shape of `frequencies_hz`, each > 0, and the
    share of its flow that is heard.
    """
    moved, let_out = _motion(frequencies_hz, driver, mount)
    coil = driver.coil_ohm + 2j * np.pi * frequencies_hz * driver.coil_h
    return driver.force_factor_tm / (coil * moved + driver.force_factor_tm**2), let_out


def excursion_per_volt(
    frequencies_hz: Frequencies, driver: Driver, mount: Mount
) -> NDArray[np.complex128]:
    """Excursion of the cone over voltage, shape of `frequencies_hz`, each > 0. [m/V]"""
    velocity, _ = cone_velocity(frequencies_hz, driver, mount)
    return velocity / (2j * np.pi * frequencies_hz)


def pressure_per_volt(
    frequencies_hz: Frequencies,
    driver: Driver,
    mount: Mount,
    distance_m: float = 1.0,
    space: Space = "half",
) -> NDArray[np.complex128]:
    """Pressure at a distance over voltage, shape of `frequencies_hz`, each > 0; the delay is left
    out. [Pa/V]

    p = j w rho Sd u / (omega r), omega = 2 pi in half and 4 pi in full space: 6.02 dB less.
    """
    velocity, heard = cone_velocity(frequencies_hz, driver, mount)
    flow = driver.area_m2 * velocity * heard
    return (
        2j
        * np.pi
        * frequencies_hz
        * DENSITY_KG_PER_M3
        * flow
        / (SOLID_ANGLE_SR[space] * distance_m)
    )
