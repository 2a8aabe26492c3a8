"""The picture of a clip before and after."""

from pathlib import Path

import numpy as np
import pytest
import soundfile
from drawn import in_turn, overlapping, written

from fxseq.plots import clip_figure, picture_bytes
from fxseq.plots.clips import BANDS_HZ, third_octaves_db
from fxseq.plots.theme import THEMES
from fxseq.runs import Conditioned, condition_clips
from fxseq.sequence.model import Board, Clip, Sequence, Speaker

RATE_HZ = 22_050
SPEAKER = Speaker(
    diameter_mm=28,
    impedance_ohm=8,
    resonance_hz=800,
    q_total=0.7,
    sensitivity_db=88,
    rated_power_w=1,
)
CASES = {
    "plain": {},
    "everything": {
        "high_pass_hz": 300.0,
        "loop": "find",
        "peak_to_dbfs": -1.0,
        "gain_db": 6.0,
        "limit_to_dbfs": -1.0,
        "rate_hz": 8000,
    },
    "trimmed": {"trim_below_dbfs": -30.0, "limit_to_dbfs": -30.0},
    "short": {"end_ms": 1.0},
    "silent": {"gain_db": -60.0, "file": "silence.wav"},
}


@pytest.fixture
def conditioned(tmp_path: Path):
    at = np.arange(RATE_HZ)
    soundfile.write(
        tmp_path / "tone.wav",
        0.5 * np.sin(2 * np.pi * 1000 * at / RATE_HZ) * np.minimum(1, at / 8000) ** 4,
        RATE_HZ,
    )
    soundfile.write(tmp_path / "silence.wav", np.zeros(500), RATE_HZ)

    def conditioned(**settings: object) -> Conditioned:
        sequence = Sequence(
            format=1,
            title="Lamp",
            board=Board(channels=1),
            clips={"hum": Clip(**{"file": "tone.wav"} | settings)},
        )
        return condition_clips(["hum"], sequence, tmp_path)["hum"]

    return conditioned


@pytest.mark.parametrize(("case", "theme"), in_turn(CASES))
def test_no_text_overlaps_another_or_leaves_the_figure(conditioned, case: str, theme: str) -> None:
    assert overlapping(clip_figure(conditioned(**CASES[case]), SPEAKER, theme)) == []


def test_every_axis_has_its_unit(conditioned) -> None:
    axes = clip_figure(conditioned(), None).axes
    assert [each.get_ylabel() for each in axes] == ["% of full scale", "% of full scale", "dBFS"]
    assert [each.get_xlabel() for each in axes] == ["", "time (s)", "frequency (Hz)"]


def test_what_was_done_is_written_above(conditioned) -> None:
    texts = " ".join(
        text for text, _ in written(clip_figure(conditioned(**CASES["everything"]), SPEAKER))
    )
    parts = (
        "Clip 'hum', before and after",
        "1000 ms before",
        "mulaw at 80",
        "loop found from",
        "peaks turned down by up to 6.",
        "limiter",
    )
    assert [part for part in parts if part not in texts] == []


def test_the_range_of_the_speaker_is_shaded_where_it_is_described(conditioned) -> None:
    """A closed box with Qtc 0.7 is 10 dB down at 0.58 of its resonance: R. H. Small's G(s),
    solved by hand: (f/fc)^4 = (1 + (f/fc)^4) / 10.
    """
    shaded = clip_figure(conditioned(), SPEAKER).axes[2].collections[0].get_paths()[0].get_extents()
    assert shaded.x0 == pytest.approx(
        800 * (1 / 9) ** 0.25, rel=0.02
    ) and shaded.x1 == pytest.approx(22_000)
    assert not clip_figure(conditioned(), None).axes[2].collections


def test_a_third_octave_has_the_power_that_is_in_it() -> None:
    """A sine at full scale has a mean square of 1/2; white noise as much as its band is of the
    whole.
    """
    tone = third_octaves_db(np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ), RATE_HZ)
    assert tone[BANDS_HZ.tolist().index(1000)] == pytest.approx(-3.01, abs=0.02)
    assert np.nanmax(np.delete(tone, BANDS_HZ.tolist().index(1000))) < -30
    noise = third_octaves_db(np.random.default_rng(1).normal(size=20 * RATE_HZ), RATE_HZ)[10:27]
    width_hz = BANDS_HZ[10:27] * (10**0.05 - 10**-0.05)
    assert noise == pytest.approx(10 * np.log10(width_hz / (RATE_HZ / 2)), abs=0.3)


def test_bands_beyond_half_the_rate_are_left_out() -> None:
    assert np.isnan(third_octaves_db(np.ones(100), 8000)).tolist() == [
        hz > 3400 for hz in BANDS_HZ.tolist()
    ]


def test_same_clip_gives_the_same_picture(conditioned) -> None:
    assert picture_bytes(clip_figure(conditioned(), SPEAKER), "png") == picture_bytes(
        clip_figure(conditioned(), SPEAKER), "png"
    )
