"""The searching encoder of IMA ADPCM on recordings that nobody made for this project, against
the encoders of libsndfile and SoX.
"""

import io
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from ima_decoders import by_libsndfile, by_sox
from numpy.typing import NDArray

from fxseq.clips import ima, ima_search

RATE_HZ = 16_000
PACKAGES = {"sonic-pi-samples": 9, "sound-theme-freedesktop": 3}
"""Debian packages, and how many of their recordings are taken."""
Recording = NDArray[np.int16]


@cache
def recordings() -> dict[str, Recording]:
    """Recordings of each package, at even distances in the list of names; mono, 16 kHz, half a
    second at most.
    """
    found = {}
    for package, wanted in PACKAGES.items():
        listed = subprocess.run(
            ["dpkg", "-L", package], capture_output=True, text=True
        ).stdout.splitlines()
        paths = sorted(
            {Path(line).resolve() for line in listed if line.endswith((".flac", ".oga"))}
        )
        if len(paths) < wanted:
            pytest.fail(f"recordings are missing: sudo apt install {package}")
        for path in paths[:: len(paths) // wanted][:wanted]:
            sound, rate_hz = soundfile.read(path, always_2d=True, stop=48_000 // 2)
            sound = soxr.resample(sound.mean(axis=1), rate_hz, RATE_HZ)[: RATE_HZ // 2]
            found[path.stem] = np.rint(32767 * np.clip(sound, -1, 1)).astype(np.int16)
    return found


def snr_db(samples: Recording, decoded: Recording) -> float:
    error = samples.astype(float) - decoded
    return 10 * np.log10(np.sum(samples.astype(float) ** 2) / np.sum(error**2))


def ours(samples: Recording, **options: object) -> Recording:
    return ima.decode(ima_search.encode(samples, **options), len(samples))


@pytest.mark.parametrize("name", recordings())
def test_search_beats_the_encoders_of_libsndfile_and_sox(name: str):
    samples = recordings()[name]
    written = io.BytesIO()
    soundfile.write(written, samples, RATE_HZ, format="WAV", subtype="IMA_ADPCM")
    plain = soundfile.read(io.BytesIO(written.getvalue()), dtype="int16")[0][: len(samples)]
    form = ["-t", "raw", "-r", str(RATE_HZ), "-e", "signed", "-b", "16", "-L", "-c", "1", "-"]
    command = ["sox", *form, "-t", "wav", "-e", "ima-adpcm", "-"]
    coded = subprocess.run(
        command, input=samples.astype("<i2").tobytes(), capture_output=True, check=True
    )
    theirs = subprocess.run(
        ["sox", "--ignore-length", "-t", "wav", "-", *form],
        input=coded.stdout,
        capture_output=True,
        check=True,
    )
    by_sox = np.frombuffer(theirs.stdout, "<i2")[: len(samples)]
    found = snr_db(samples, ours(samples, survivors=4))
    assert found > snr_db(samples, plain) > 5
    assert found > snr_db(samples, by_sox) > 5


@pytest.mark.parametrize("name", recordings())
def test_other_decoders_give_the_same_samples(name: str, tmp_path: Path):
    samples = recordings()[name]
    data = ima_search.encode(samples, survivors=1)
    decoded = ima.decode(data, len(samples))
    assert np.array_equal(
        by_libsndfile(tmp_path / "by_libsndfile.wav", data, len(samples)), decoded
    )
    assert np.array_equal(by_sox(tmp_path / "by_sox.wav", data, len(samples)), decoded)


def test_more_survivors_find_less_error_on_average():
    means = [
        np.mean(
            [
                snr_db(samples, ours(samples, survivors=survivors))
                for samples in list(recordings().values())[::3]
            ]
        )
        for survivors in (1, 4, 16)
    ]
    assert means[0] < means[1] < means[2]


def test_bytes_are_the_same_for_any_number_of_threads():
    samples = next(iter(recordings().values()))
    assert (
        len({ima_search.encode(samples, survivors=4, threads=threads) for threads in (1, 2, 7)})
        == 1
    )


def best_of_all(samples: NDArray[np.int16]) -> float:
    """Least energy over every step index, every two codes and every fourth first sample within
    100, by trying them all.
    """
    starts = [
        bytes([0, 0, index, 0, codes]).ljust(ima.BLOCK_BYTES, b"\0")
        for index in range(89)
        for codes in range(256)
    ]
    moved = (
        ima.decode(b"".join(starts), len(starts) * ima.BLOCK_SAMPLES)
        .reshape(len(starts), -1)[:, :3]
        .astype(float)
    )
    errors = [
        moved[:, [at]] + samples[0] + np.arange(-100, 101, 4) - samples[at] for at in range(3)
    ]
    return np.min(sum(error**2 for error in errors))


@pytest.mark.parametrize(
    "samples", [[100, 130, -20], [-5000, 9000, 9100], [0, 1, 0], [3000, 2400, 5100]]
)
def test_search_comes_close_to_the_best_of_all_codes_of_a_short_block(samples: list[int]):
    short = np.array(samples, np.int16)
    energy = np.sum((ours(short, survivors=256) - short.astype(float)) ** 2)
    # ways that decode to nearly the same sample are one to the search
    assert energy <= 1.1 * best_of_all(short)


@settings(max_examples=25)
@given(arrays(np.int16, st.integers(0, 1200)), st.sampled_from([1, 2, 5]))
def test_any_samples_become_valid_blocks(samples: Recording, survivors: int):
    data = ima_search.encode(samples, survivors)
    assert ima.first_fault(data, len(samples)) is None
    if len(samples) % 505 and len(samples) % 505 % 2 == 0:
        assert data[-1] >> 4 == 0


def test_progress_counts_blocks():
    seen = []
    ima_search.encode(
        np.zeros(1011, np.int16), 1, progress=lambda done, blocks: seen.append((done, blocks))
    )
    assert seen == [(1, 3), (2, 3), (3, 3)]


@pytest.mark.parametrize("survivors", [0, 513])
def test_survivors_that_cannot_be_are_refused(survivors: int):
    with pytest.raises(ValueError, match=rf"^IMA ADPCM: {survivors} survivors; allowed: 1 to 512$"):
        ima_search.encode(np.zeros(3, np.int16), survivors)
