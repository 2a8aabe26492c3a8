"""The picture of a speaker alone."""

from pathlib import Path

import numpy as np
import pytest
from drawn import overlapping, written

from fxseq.advice import Rig, rig_of
from fxseq.plots import picture_bytes, speaker_figure
from fxseq.plots.theme import THEMES
from fxseq.sequence.model import Amplifier, Board, Sequence, Speaker, Supply

SPEAKER = {
    "diameter_mm": 28,
    "impedance_ohm": 8,
    "resonance_hz": 800,
    "q_total": 0.9,
    "sensitivity_db": 88,
    "rated_power_w": 0.2,
}
CASES = {"no limit": {}, "cone": {"excursion_mm": 0.05}, "far limit": {"excursion_mm": 50.0}}


def rig(changes: dict[str, float]) -> Rig:
    return rig_of(
        Path("lamp.toml"),
        Sequence(
            format=1,
            title="Lamp",
            board=Board(channels=1),
            speaker=Speaker(**SPEAKER | changes),
            amplifier=Amplifier(gain_db=9, full_scale_input_v=1.2),
            supplies={"wall": Supply(kind="wall", voltage_v=5, maximum_current_ma=900)},
        ),
    )


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("case", CASES)
def test_no_text_overlaps_another_or_leaves_the_figure(case: str, theme: str) -> None:
    on = rig(CASES[case])
    assert overlapping(speaker_figure(on.reach(), on, ["In words. " * 30], theme)) == []


def test_axes_have_their_units_and_what_holds_the_tones_is_named() -> None:
    on = rig(CASES["cone"])
    found = on.reach()
    figure = speaker_figure(found, on, [])
    assert [each.get_ylabel() for each in figure.axes] == ["dB re 20 µPa", "mm", "ohm"]
    assert [each.get_xlabel() for each in figure.axes] == ["", "", "frequency (Hz)"]
    texts = [text.strip() for text, _ in written(figure)]
    assert [
        text
        for text in texts
        if text in ("full scale", "rail", "power", "excursion", "excursion_mm")
    ] == ["power", "excursion", "excursion_mm"]
    # Both lines together are the whole curve.
    drawn = np.stack([np.asarray(line.get_ydata()) for line in figure.axes[0].lines])
    assert np.nanmax(drawn, axis=0) == pytest.approx(found.level_db)


def test_tones_end_at_half_the_rate_of_the_board() -> None:
    assert rig({}).reach().frequencies_hz[[0, -1]] == pytest.approx([20.0, 11_025.0])


def test_a_picture_is_the_same_every_time() -> None:
    on = rig({})
    first, second = (
        picture_bytes(speaker_figure(on.reach(), on, ["Said."]), "png") for _ in range(2)
    )
    assert first == second and first.startswith(b"\x89PNG")
