"""Hard clipping against ngspice: distortion of a clipped sine by its Fourier analysis."""

import math
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from fxseq.acoustics import full_scale_thd_percent, output_voltage_v
from fxseq.sequence.parts import Amplifier


def by_ngspice(overdrive_db: float, folder: Path) -> float:
    """Total harmonic distortion of the first nine harmonics. [%]"""
    assert shutil.which("ngspice"), "ngspice is missing: apt-get install ngspice"
    peak = 10 ** (overdrive_db / 20)
    (folder / "clip.cir").write_text(
        "\n".join(
            [
                "* clip",
                f"v1 in 0 sin(0 {peak} 1000)",
                "b1 out 0 v=max(-1,min(1,v(in)))",
                "r1 out 0 8",
                ".options reltol=1e-6",
                ".control",
                "tran 0.05u 5m 0 0.05u",
                "set nfreqs=10",
                "fourier 1000 v(out)",
                "quit",
                ".endc",
                ".end",
                "",
            ]
        )
    )
    done = subprocess.run(
        ["ngspice", "-b", "clip.cir"],
        cwd=folder,
        check=True,
        capture_output=True,
        text=True,
        timeout=120,
    )
    found = re.search(r"THD:\s*([0-9.eE+-]+)\s*%", done.stdout)
    assert found, done.stdout
    return float(found.group(1))


@pytest.mark.parametrize("overdrive_db", [0.25, 2.17, 6.0])
def test_distortion_of_a_clipped_sine_agrees_with_ngspice(
    overdrive_db: float, tmp_path: Path
) -> None:
    samples = np.round(32_767 * np.sin(2 * np.pi * np.arange(4800) / 4800)).astype(np.int16)
    amplifier = Amplifier(
        gain_db=overdrive_db, full_scale_input_v=32_768 / 32_767, lost_voltage_v=0.0
    )
    lines = np.abs(np.fft.rfft(output_voltage_v(samples, amplifier, 1.0)[0]))
    ours = 100 * math.sqrt(float(np.sum(lines[2:10] ** 2))) / lines[1]
    assert 20 * math.log10(ours / by_ngspice(overdrive_db, tmp_path)) == pytest.approx(0.0, abs=0.2)
    # ngspice adds up nine harmonics, the closed form all of them: more by what an endless row has
    # left, a tenth at the most.
    whole = full_scale_thd_percent(amplifier, 1.0)
    assert whole == pytest.approx(
        100 * math.sqrt(float(np.sum(lines[2:] ** 2))) / lines[1], rel=0.005
    )
    assert 1.0 <= whole / by_ngspice(overdrive_db, tmp_path) < 1.1


def test_distortion_goes_to_that_of_a_square_wave() -> None:
    # sqrt(pi^2 / 8 - 1), from the Fourier series of a square wave in any handbook.
    amplifier = Amplifier(gain_db=60, full_scale_input_v=10.0, lost_voltage_v=0.0)
    assert full_scale_thd_percent(amplifier, 1.0) == pytest.approx(48.34, abs=0.01)
    assert full_scale_thd_percent(amplifier, 20_000.0) == 0.0
