"""The demo's sounds: made again they are those in the repository, and they are fit for their
speaker.
"""

import runpy
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fxseq.sequence import load
from fxseq.sequence.model import Board, Clip
from tests.checks.judged import prepare

DEMO = Path(__file__).parents[2] / "demo_assets"
NAMES = ["bell", "clunk", "crack_a", "crack_b", "crack_c", "dry", "glug", "gust", "hum"]
LOOPS = {"hum": (2646, 24_696), "gust": (4410, 37_485)}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the clips as the generator makes them here and now."""
    folder = tmp_path_factory.mktemp("made")
    runpy.run_path(str(DEMO / "make_clips.py"))["write_all"](folder)
    return folder


def test_the_generator_makes_the_clips_of_the_repository_and_no_others(made: Path) -> None:
    assert (
        sorted(file.stem for file in (DEMO / "clips").iterdir())
        == sorted(file.stem for file in made.iterdir())
        == NAMES
    )


@pytest.mark.parametrize("name", NAMES)
def test_a_clip_made_again_is_the_one_in_the_repository(name: str, made: Path) -> None:
    """Within one step: maths libraries differ in the last bit of a sine or a transform, which
    can turn a rounding over.
    """
    again, _ = soundfile.read(made / f"{name}.wav", dtype="int16")
    kept, rate_hz = soundfile.read(DEMO / "clips" / f"{name}.wav", dtype="int16")
    assert (rate_hz, len(again)) == (22_050, len(kept))
    assert np.abs(again.astype(np.int32) - kept).max() <= 1


def test_all_clips_together_stay_below_300_kilobytes() -> None:
    assert sum(file.stat().st_size for file in (DEMO / "clips").iterdir()) < 300_000


@pytest.mark.parametrize("name", NAMES)
def test_a_clip_gives_no_cause_for_a_finding(name: str) -> None:
    clip = Clip(file=f"clips/{name}.wav", loop="file" if name in LOOPS else None)
    prepared = prepare(name, clip, Board(channels=1), DEMO)
    assert (prepared.findings, prepared.loop) == ((), LOOPS.get(name))


@pytest.mark.parametrize("name", NAMES)
def test_a_clip_has_its_peak_at_minus_1_dbfs_and_its_energy_where_the_speaker_works(
    name: str,
) -> None:
    samples, rate_hz = soundfile.read(DEMO / "clips" / f"{name}.wav")
    energy = np.abs(np.fft.rfft(samples)) ** 2
    frequency = np.fft.rfftfreq(len(samples), 1 / rate_hz)
    assert 20 * np.log10(np.abs(samples).max()) == pytest.approx(-1, abs=0.01)
    assert energy[(frequency >= 700) & (frequency <= 6000)].sum() > 0.85 * energy.sum()
    assert abs(samples.mean()) < 1e-3


@pytest.mark.parametrize("file", ["squall_lantern.toml", "first_light.toml"])
def test_no_clip_of_a_demo_gives_cause_for_a_finding(file: str) -> None:
    demo = load(DEMO / file)
    prepared = [prepare(name, clip, demo.board, DEMO) for name, clip in demo.clips.items()]
    assert [finding for clip in prepared for finding in clip.findings] == []
    assert all(np.abs(clip.samples.astype(np.int32)).max() > 16384 for clip in prepared)
