"""How much softer than the sound the loss of each coding sounds, on recordings that nobody made for
this project.

    .venv/bin/python tests/speed/heard.py [--clips 40] [--rates 11025,16000] [--others]

Needs Debian's sonic-pi-samples: recordings spread evenly over the package, mono, peak at -1 dBFS,
at most 1.5 s, played by a 28 mm speaker at 0.5 m. Loudness is summed over a clip
(fxseq/acoustics/masking.py); 10 dB softer is half as loud. A clip counts for at most 60 dB, since
more is not heard. LPC-Rice gets no more bytes than QOA takes. --others: what lies between the
recordings of that number, which no choice was made by.
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import (
    FULL_SCALE_SAMPLE,
    error_loudness_sone,
    full_scale_v,
    loudness_sone,
    speaker_response,
)
from fxseq.clips import decode, encode
from fxseq.sequence.model import Speaker
from fxseq.sequence.parts import Amplifier

sys.path.insert(0, str(Path(__file__).parent.parent / "clips"))
from real_sounds import recordings  # noqa: E402

SPEAKER = Speaker(
    diameter_mm=28, impedance_ohm=8, resonance_hz=800, sensitivity_db=88, rated_power_w=1
)
AMPLIFIER = Amplifier(gain_db=10, full_scale_input_v=1.2)
DISTANCE_M = 0.5
LONGEST_S = 1.5
MOST_DB = 60.0
CODINGS = ("ima_adpcm", "qoa", "lpc_rice")


def pressure(samples: NDArray[np.floating], rate_hz: int) -> NDArray[np.float64]:
    """At the listener, with what rings on. [Pa]"""
    size = 1 << (len(samples) + rate_hz // 4).bit_length()
    gain = speaker_response(SPEAKER, DISTANCE_M, "half", None)(np.fft.rfftfreq(size, 1 / rate_hz))
    pascals = gain * full_scale_v(AMPLIFIER) / FULL_SCALE_SAMPLE
    return np.fft.irfft(np.fft.rfft(samples, size) * pascals, size)[: len(samples) + rate_hz // 8]


def softer_db(samples: NDArray[np.int16], coding: str, rate_hz: int) -> tuple[float, int]:
    """By how much the loss sounds softer, at most MOST_DB, and bytes."""
    data = encode(samples, coding, rate_hz=rate_hz)
    error = samples - decode(data, coding, len(samples)).astype(float)
    sound = pressure(samples.astype(float), rate_hz)
    lost = error_loudness_sone(sound, pressure(error, rate_hz), rate_hz).sum()
    heard = loudness_sone(sound, rate_hz).sum()
    return min(10 * np.log2(heard / max(lost, 1e-12)), MOST_DB), len(data)


def chosen(count: int, rate_hz: int, others: bool) -> Iterator[NDArray[np.int16]]:
    """Recordings."""
    left_out = {name for name, _ in recordings(count, rate_hz, LONGEST_S)} if others else set()
    for name, samples in recordings(count * (2 if others else 1), rate_hz, LONGEST_S):
        if name not in left_out:
            yield samples


def main() -> None:
    """Print a line a rate and coding."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--clips", type=int, default=40)
    parser.add_argument("--rates", default="11025,16000")
    parser.add_argument("--others", action="store_true")
    options = parser.parse_args()
    for rate_hz in map(int, options.rates.split(",")):
        sounds = list(chosen(options.clips, rate_hz, options.others))
        found = {
            coding: np.array([softer_db(sound, coding, rate_hz) for sound in sounds])
            for coding in CODINGS
        }
        for coding, rows in found.items():
            beside = rows[:, 0] - found["qoa"][:, 0]
            print(
                f"{rate_hz} Hz {len(sounds)} clips {coding:10} {rows[:, 0].mean():6.2f} dB"
                f" {rows[:, 1].sum():9.0f} bytes; beside QOA {beside.mean():+.2f} dB, better"
                f" {np.sum(beside > 0.01)}, worse {np.sum(beside < -0.01)}",
                flush=True,
            )


if __name__ == "__main__":
    main()
