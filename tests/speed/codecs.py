"""Noise, size and time of the sound codings, on recordings of two Debian packages that nobody made
for this project.

    .venv/bin/python tests/speed/codecs.py [--clips 48] [--rates 11025,16000,22050]

Needs Debian's sonic-pi-samples, sound-theme-freedesktop, ffmpeg and sox. The recordings are those
at even distances in the list of all, by package and name, without the silent ones; mono, at most 4
s, resampled by soxr. Each coding is decoded by its own maker's decoder. SNR is the ratio of
energies over a clip; segmental is the mean over pieces of 20 ms, each within -10 and 60 dB, without
silent pieces; heard is how much softer than the sound the error is to the ear, as `fxseq fit` has
it, at most 100 dB. Times are of one run: compare them within it. A further coding is one line in
CONTESTANTS.
"""

import argparse
import io
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from fxseq import clips
from fxseq.acoustics import softer_db
from fxseq.advice.loss import Ear
from fxseq.clips import ima, ima_search, qoa, qoa_search
from fxseq.sequence import Listening

sys.path.insert(0, str(Path(__file__).parent.parent / "clips"))
import qoa_reference  # noqa: E402

PACKAGES = ("sonic-pi-samples", "sound-theme-freedesktop")
Samples = NDArray[np.int16]


@dataclass(frozen=True)
class Contestant:
    """A coding: `encode(samples, rate_hz)` gives bytes, headers of blocks included;
    `decode(data, count, rate_hz)` the samples.
    """

    name: str
    encode: Callable[[Samples, int], bytes]
    decode: Callable[[bytes, int, int], Samples]
    overhead_bytes: int = 0
    """Of the file around the coded sound, not counted as its size."""


def ours(survivors: int) -> Contestant:
    return Contestant(
        f"IMA search, {survivors} survivors",
        lambda samples, rate_hz: ima_search.encode(samples, survivors),
        lambda data, count, rate_hz: ima.decode(data, count),
    )


def qoa_of(name: str, encode: Callable[[Samples], bytes]) -> Contestant:
    return Contestant(
        f"QOA {name}",
        lambda samples, rate_hz: encode(samples),
        lambda data, count, rate_hz: qoa.decode(data, count),
    )


def piped(command: list[str], content: bytes) -> bytes:
    return subprocess.run(command, input=content, capture_output=True, check=True).stdout


def ffmpeg(trellis: int) -> Contestant:
    raw = ["-f", "s16le", "-ac", "1"]
    start = ["ffmpeg", "-v", "error", "-y"]

    def encode(samples: Samples, rate_hz: int) -> bytes:
        with tempfile.TemporaryDirectory() as folder:
            out = Path(folder) / "x.wav"
            options = [
                "-c:a",
                "adpcm_ima_wav",
                "-block_size",
                "256",
                "-trellis",
                str(trellis),
                "-bitexact",
                str(out),
            ]
            piped(
                [*start, *raw, "-ar", str(rate_hz), "-i", "-", *options],
                samples.astype("<i2").tobytes(),
            )
            return out.read_bytes()

    def decode(data: bytes, count: int, rate_hz: int) -> Samples:
        return np.frombuffer(piped([*start, "-f", "wav", "-i", "-", *raw, "-"], data), "<i2")[
            :count
        ]

    return Contestant(f"ffmpeg IMA, trellis {trellis}", encode, decode, overhead_bytes=60)


def libsndfile_encode(samples: Samples, rate_hz: int) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, samples, rate_hz, format="WAV", subtype="IMA_ADPCM")
    return out.getvalue()


def libsndfile_decode(data: bytes, count: int, rate_hz: int) -> Samples:
    return soundfile.read(io.BytesIO(data), dtype="int16")[0][:count]


def sox_encode(samples: Samples, rate_hz: int) -> bytes:
    raw = ["-t", "raw", "-r", str(rate_hz), "-e", "signed", "-b", "16", "-L", "-c", "1", "-"]
    return piped(
        ["sox", *raw, "-t", "wav", "-e", "ima-adpcm", "-"], samples.astype("<i2").tobytes()
    )


def sox_decode(data: bytes, count: int, rate_hz: int) -> Samples:
    raw = ["-t", "raw", "-e", "signed", "-b", "16", "-L", "-"]
    return np.frombuffer(piped(["sox", "--ignore-length", "-t", "wav", "-", *raw], data), "<i2")[
        :count
    ]


def mulaw_encode(samples: Samples, rate_hz: int) -> bytes:
    return clips.encode(samples, "mulaw")


def mulaw_decode(data: bytes, count: int, rate_hz: int) -> Samples:
    return clips.decode(data, "mulaw", count)


CONTESTANTS = [
    *(ours(survivors) for survivors in (1, 4, 16)),
    *(
        qoa_of(f"search, width {width}", partial(qoa_search.encode, width=width))
        for width in (4, 16, 64)
    ),
    qoa_of("published encoder", qoa_reference.encode),
    *(ffmpeg(trellis) for trellis in (0, 5, 10)),
    Contestant("libsndfile IMA", libsndfile_encode, libsndfile_decode, overhead_bytes=60),
    Contestant("sox IMA", sox_encode, sox_decode, overhead_bytes=60),
    Contestant("mu-law", mulaw_encode, mulaw_decode),
]
CHOICE = ["IMA search, 16 survivors", "QOA search, width 64"]
"""Codings of 4 bits and less that a clip can be given; the last row takes the better of them for
every clip.
"""


@dataclass(frozen=True)
class Outcome:
    snr_db: float
    segmental_db: float
    heard_db: float
    bits: float
    encode_s: float
    decode_s: float


def recordings(wanted: int) -> list[Path]:
    """Sound files at even distances in the list of all that are not silent."""
    paths = []
    for package in PACKAGES:
        listed = subprocess.run(
            ["dpkg", "-L", package], capture_output=True, text=True
        ).stdout.splitlines()
        paths += sorted(
            {Path(line).resolve() for line in listed if line.endswith((".flac", ".oga"))}
        )
    heard = [path for path in paths if np.abs(soundfile.read(path)[0]).max(initial=0) > 0.01]
    if len(heard) < wanted:
        raise SystemExit(
            f"{len(heard)} recordings are here, {wanted} are wanted: sudo apt install"
            f" {' '.join(PACKAGES)}"
        )
    return [heard[number * len(heard) // wanted] for number in range(wanted)]


def load(path: Path, rate_hz: int) -> Samples:
    """Mono, at most 4 s, at the wanted rate; turned down where it would clip."""
    sound, file_rate_hz = soundfile.read(path, always_2d=True)
    sound = soxr.resample(sound.mean(axis=1)[: 4 * file_rate_hz], file_rate_hz, rate_hz)
    return np.rint(32767 * sound / max(1, np.abs(sound).max())).astype(np.int16)


def segmental_db(samples: Samples, error: NDArray[np.float64], rate_hz: int) -> float:
    length = rate_hz // 50
    pieces = [
        np.sum(signal[: len(signal) // length * length].reshape(-1, length) ** 2.0, axis=1)
        for signal in (samples, error)
    ]
    heard = pieces[0] > length * 10**2
    ratio = 10 * np.log10(pieces[0][heard] / np.maximum(pieces[1][heard], 1e-9))
    return float(np.mean(np.clip(ratio, -10, 60)))


def heard_db(samples: Samples, error: NDArray[np.float64], rate_hz: int) -> float:
    """By how much an error sounds softer than its sound, without amplifier and speaker."""
    ear = Ear(None, None, Listening())
    pressure = ear.pressure(samples, rate_hz)
    sound = ear.loudness(pressure, rate_hz)
    return min(softer_db(sound, ear.lost(pressure, error, rate_hz)), 100.0)


def measure(contestant: Contestant, samples: Samples, rate_hz: int) -> Outcome:
    """Encode and decode one clip."""
    times = [time.perf_counter()]
    data = contestant.encode(samples, rate_hz)
    times.append(time.perf_counter())
    decoded = contestant.decode(data, len(samples), rate_hz)
    times.append(time.perf_counter())
    error = samples - decoded.astype(float)
    snr_db = 10 * np.log10(np.sum(samples.astype(float) ** 2) / max(np.sum(error**2), 1e-9))
    bits = 8 * (len(data) - contestant.overhead_bytes) / len(samples)
    return Outcome(
        snr_db,
        segmental_db(samples, error, rate_hz),
        heard_db(samples, error, rate_hz),
        bits,
        *np.diff(times),
    )


def row(name: str, outcomes: list[Outcome]) -> str:
    snr_db, segmental, heard, bits, encode_s, decode_s = (
        np.array([getattr(outcome, field) for outcome in outcomes])
        for field in ("snr_db", "segmental_db", "heard_db", "bits", "encode_s", "decode_s")
    )
    return (
        f"{name:28}{snr_db.mean():8.2f}{np.median(snr_db):8.2f}{np.nanmean(segmental):8.2f}"
        f"{heard.mean():8.2f}{bits.mean():7.2f}{encode_s.sum():9.2f}{decode_s.sum():9.2f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--clips", type=int, default=48)
    parser.add_argument("--rates", default="11025,16000,22050", help="Hz, with commas")
    options = parser.parse_args()
    paths = recordings(options.clips)
    for encode in (
        partial(ima_search.encode, survivors=2),
        partial(qoa_search.encode, width=2),
        qoa_reference.encode,
    ):
        encode(np.zeros(600, np.int16))  # compiles
    for rate_hz in map(int, options.rates.split(",")):
        clips = [load(path, rate_hz) for path in paths]
        print(f"\n{rate_hz} Hz, {len(clips)} recordings, {sum(map(len, clips)) / rate_hz:.0f} s")
        print(
            f"{'':28}{'SNR dB':>8}{'median':>8}{'segm.':>8}{'heard':>8}{'bits':>7}"
            f"{'encode s':>9}{'decode s':>9}"
        )
        results = {}
        for contestant in CONTESTANTS:
            results[contestant.name] = list(
                map(partial(measure, contestant, rate_hz=rate_hz), clips)
            )
            print(row(contestant.name, results[contestant.name]), flush=True)
        best = [
            max(outcomes, key=lambda outcome: outcome.snr_db)
            for outcomes in zip(*(results[name] for name in CHOICE), strict=True)
        ]
        print(row("the better of 4 bits or less", best), flush=True)


if __name__ == "__main__":
    main()
