"""The picture of a clip as it is and for its speaker."""

from functools import cache

import numpy as np
import pytest
import soundfile
from drawn import in_turn, once, overlapping, written

from fxseq.advice import Recommendation, Rig, recommend, rig_of
from fxseq.plots import for_speaker_figure, picture_bytes
from fxseq.sequence.model import Amplifier, Board, Clip, Sequence, Speaker, Supply

RATE_HZ = 22_050
SPEAKER = {
    "diameter_mm": 28,
    "impedance_ohm": 8,
    "resonance_hz": 800,
    "q_total": 0.7,
    "sensitivity_db": 88,
    "rated_power_w": 1,
}
CASES = {
    "no limit": ({}, 9.5),
    "cone": ({"excursion_mm": 0.1}, 9.5),
    "far limit": ({"excursion_mm": 50.0}, 9.5),
    "far rail": ({}, -10.0),
}


@pytest.fixture(scope="module")
def recommended(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("speaker")
    at = np.arange(RATE_HZ // 2)
    soundfile.write(
        folder / "tone.wav",
        0.5 * np.sin(2 * np.pi * 700 * at / RATE_HZ) * np.exp(-at / 4000),
        RATE_HZ,
    )

    @cache
    def recommended(case: str) -> tuple[Recommendation, Rig]:
        speaker, gain_db = CASES[case]
        sequence = Sequence(
            format=1,
            title="Lamp",
            board=Board(channels=1),
            clips={"hum": Clip(file="tone.wav")},
            speaker=Speaker(**SPEAKER | speaker),
            amplifier=Amplifier(gain_db=gain_db, full_scale_input_v=1.2),
            supplies={"wall": Supply(kind="wall", voltage_v=5, maximum_current_ma=900)},
        )
        rig = rig_of(folder / "lamp.toml", sequence)
        found = recommend(["hum"], rig)["hum"]
        assert found is not None
        return found, rig

    return recommended


@pytest.mark.parametrize(("case", "theme"), in_turn(CASES))
def test_no_text_overlaps_another_or_leaves_the_figure(recommended, case: str, theme: str) -> None:
    assert overlapping(once(for_speaker_figure, *recommended(case), theme)) == []


def test_every_axis_has_its_unit(recommended) -> None:
    axes = once(for_speaker_figure, *recommended("cone"), "light").axes
    assert [each.get_ylabel() for each in axes] == ["V", "mm", "dB re 20 µPa"]
    assert [each.get_xlabel() for each in axes] == ["", "time (s)", "frequency (Hz)"]


@pytest.mark.parametrize(
    ("case", "named"),
    [
        ("no limit", ["rail"]),
        ("cone", ["rail", "excursion_mm"]),
        ("far limit", ["rail"]),
        ("far rail", []),
    ],
)
def test_limits_are_drawn_where_they_are_near(recommended, case: str, named: list[str]) -> None:
    texts = [
        text.strip() for text, _ in written(once(for_speaker_figure, *recommended(case), "light"))
    ]
    assert [text for text in texts if text in ("rail", "excursion_mm")] == named


def test_levels_before_and_after_add_up_to_what_is_told(recommended) -> None:
    """A-weighting, which the bands do not have, takes 1.9 dB at 630 Hz and 0.8 dB at 800 Hz
    (table of IEC 61672-1, from memory).
    """
    found, rig = recommended("cone")
    lines = once(for_speaker_figure, found, rig, "light").axes[2].lines[:2]
    sums_db = [
        10 * np.log10(np.nansum(10 ** (np.asarray(line.get_ydata()) / 10))) for line in lines
    ]
    assert sums_db[1] - sums_db[0] == pytest.approx(
        found.after.laeq_db - found.before.laeq_db, abs=0.5
    )
    assert sums_db[0] == pytest.approx(found.before.laeq_db + 1.35, abs=0.55)


def test_same_recommendation_gives_the_same_picture(recommended) -> None:
    drawn = recommended("cone")
    assert picture_bytes(for_speaker_figure(*drawn), "png") == picture_bytes(
        for_speaker_figure(*drawn), "png"
    )
