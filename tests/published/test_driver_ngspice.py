"""The driver's circuit against ngspice: the same parts as a netlist, solved by somebody else's
program.

Force is voltage and velocity is current in the mechanical part, pressure voltage and flow current
in the acoustic one.
"""

import math
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.acoustics import (
    Driver,
    Mount,
    electrical_impedance,
    excursion_per_volt,
    pressure_per_volt,
    stiffening,
)

SMALL = Driver(
    coil_ohm=7.1,
    coil_h=60e-6,
    force_factor_tm=2.1,
    moving_mass_kg=0.32e-3,
    compliance_m_per_n=0.22e-3,
    friction_ns_per_m=0.3,
    area_m2=3.5e-4,
)
WOOFER = Driver(
    coil_ohm=7.0,
    coil_h=0.5e-3,
    force_factor_tm=11.4,
    moving_mass_kg=44.459e-3,
    compliance_m_per_n=1.18e-3,
    friction_ns_per_m=1.85,
    area_m2=math.pi * 0.12**2,
)
RHO = 1.2
C = 343.0


def netlist(driver: Driver, mount: Mount) -> str:
    """One volt at the coil. i(vu): velocity of the cone; v(box): pressure in the chamber;
    i(vleak): flow out of its leak.
    """
    lines = [
        "* driver",
        "vin in 0 ac 1",
        f"re in a {driver.coil_ohm}",
        f"le a b {driver.coil_h}",
        "vi b c 0",
        f"hemf c 0 vu {driver.force_factor_tm}",
        f"hforce f 0 vi {driver.force_factor_tm}",
        "vu f g 0",
        f"lm g h {driver.moving_mass_kg}",
        f"cm h i {driver.compliance_m_per_n}",
        f"rm i j {driver.friction_ns_per_m}",
    ]
    if mount.chamber_m3 is None:
        lines += ["rend j 0 1e-9", "rleak leak 0 1", "vleak leak 0 0"]
    else:
        compliance = mount.chamber_m3 / (RHO * C**2)
        lines += [
            f"ebox j 0 box 0 {driver.area_m2}",
            f"fbox 0 box vu {driver.area_m2}",
            f"cbox box 0 {compliance}",
        ]
        leak_ohm = 1e15
        if mount.leak_q is not None:
            closed = 2 * math.pi * driver.resonance_hz * stiffening(driver, mount)
            leak_ohm = mount.leak_q / (closed * compliance)
        lines += [f"rleak box leak {leak_ohm}", "vleak leak 0 0"]
    solve = [
        ".options reltol=1e-9",
        ".control",
        "set numdgt=12",
        "ac dec 20 20 20k",
        "wrdata out.txt vi#branch vu#branch vleak#branch",
        "quit",
        ".endc",
        ".end",
        "",
    ]
    return "\n".join([*lines, *solve])


def solved(
    text: str, folder: Path
) -> tuple[NDArray[np.float64], *tuple[NDArray[np.complex128], ...]]:
    """Frequencies [Hz], current [A], velocity [m/s] and flow of the leak [m^3/s] for one volt."""
    assert shutil.which("ngspice"), "ngspice is missing: apt-get install ngspice"
    (folder / "net.cir").write_text(text)
    subprocess.run(
        ["ngspice", "-b", "net.cir"], cwd=folder, check=True, capture_output=True, timeout=120
    )
    rows = np.loadtxt(folder / "out.txt")
    return (
        rows[:, 0],
        rows[:, 1] + 1j * rows[:, 2],
        rows[:, 4] + 1j * rows[:, 5],
        rows[:, 7] + 1j * rows[:, 8],
    )


CASES = {
    "small driver in free air": (SMALL, Mount()),
    "small driver in 12 ml": (SMALL, Mount(12e-6)),
    "small driver in 12 ml that leak": (SMALL, Mount(12e-6, leak_q=5.0)),
    "woofer in 40 l": (WOOFER, Mount(0.040)),
}


@pytest.mark.parametrize("case", CASES)
def test_driver_agrees_with_ngspice(case: str, tmp_path: Path) -> None:
    driver, mount = CASES[case]
    frequencies, current, velocity, leaked = solved(netlist(driver, mount), tmp_path)
    # 0.005 dB: ngspice prints and solves to about six digits at the deepest notch.
    assert electrical_impedance(frequencies, driver, mount) * current == pytest.approx(
        np.ones(current.size), abs=5e-4
    )
    # What leaks out behind the cone is opposite to what its front gives.
    flow = driver.area_m2 * velocity - leaked
    pressure = 2j * np.pi * frequencies * RHO * flow / (2 * math.pi * 0.5)
    assert pressure_per_volt(frequencies, driver, mount, 0.5) / pressure == pytest.approx(
        np.ones(current.size), abs=5e-4
    )
    assert excursion_per_volt(frequencies, driver, mount) / (
        velocity / (2j * np.pi * frequencies)
    ) == pytest.approx(np.ones(current.size), abs=5e-4)
