"""Recordings that nobody made for this project: Debian's package `sonic-pi-samples`, all of them
CC0.
"""

import subprocess
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray


def recordings(count: int, rate_hz: int, most_s: float) -> Iterator[tuple[str, NDArray[np.int16]]]:
    """Name and samples of recordings spread evenly over the package: one channel, peak at -1 dBFS,
    cut to a length.

    A missing package fails the test: it must not pass for want of sounds.
    """
    listed = subprocess.run(["dpkg", "-L", "sonic-pi-samples"], capture_output=True, text=True)
    found = sorted(
        {
            Path(line).resolve()
            for line in listed.stdout.splitlines()
            if line.endswith((".flac", ".wav"))
        }
    )
    if len(found) < count:
        pytest.fail(
            f"{len(found)} sounds of Debian's package sonic-pi-samples are here, {count} are"
            " needed: sudo apt install sonic-pi-samples"
        )
    for path in found[:: len(found) // count][:count]:
        sound, recorded_hz = soundfile.read(path, always_2d=True)
        resampled = soxr.resample(sound.mean(axis=1), recorded_hz, rate_hz)[
            : round(most_s * rate_hz)
        ]
        yield path.stem, np.round(resampled * (0.891 * 32767 / np.abs(resampled).max())).astype(
            np.int16
        )
