"""Clips made as loud as the speaker can be: held against what a run of the prop says of them."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.advice import Recommendation, recommend, rig_of
from fxseq.runs import Performance, Prop
from fxseq.sequence import FxError, model
from tests.runs.conftest import build, played, values, write_sound

Values = dict[str, Any]
Build = Callable[..., Prop]
RATE_HZ = 16_000
CONE = {
    "chamber_ml": 12,
    "diameter_mm": 28,
    "resonance_hz": None,
    "q_total": None,
    "free_resonance_hz": 500,
    "q_mechanical": 4.0,
    "sensitivity_db": None,
    "moving_mass_g": 0.32,
    "force_factor_tm": 2.1,
    "compliance_mm_per_n": 0.317,
}


def rumble(seconds: float = 0.5) -> NDArray[np.float64]:
    """A bang with a long low tail and a little above: the lows move the cone, the rest is heard."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(7).normal(size=t.size)
    return np.minimum(1, 50 * (seconds - t)) * (
        0.5 * np.exp(-3 * t) * np.sin(2 * np.pi * 90 * t) + 0.05 * np.exp(-6 * t) * noise
    )


@pytest.fixture
def bang(values: Values, write_sound: Callable[..., None]) -> Values:
    """A bang on a small speaker whose cone may go 0.4 mm, and an amplifier whose rail is 4.5 V
    and full scale sqrt(10) V.
    """
    write_sound("beep.wav", rumble())
    values["speaker"] = {
        key: value for key, value in (values["speaker"] | CONE).items() if value is not None
    }
    values["amplifier"]["gain_db"] = 10.0
    return values


def recommended(prop: Prop, name: str = "beep", supply: str | None = None) -> Recommendation:
    found = recommend([name], rig_of(prop.path, prop.sequence, supply))[name]
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("supply_v", "ohms", "left_v"),
    [(5.0, 0.0, 3.3), (3.8, 0.0, 2.8), (5.0, 3.0, None), (0.9, 0.0, 0.0)],
)
def test_behind_a_regulator_counts_what_it_gives_of_what_is_left(
    supply_v: float, ohms: float, left_v: float | None, bang: Values, build: Build
) -> None:
    # 3.3 V that take 1 V more; over 3 ohm of the supply the amplifier's own current leaves less, at
    # which it takes less again.
    bang["supplies"]["wall"].update(
        voltage_v=supply_v, internal_resistance_ohm=ohms, tolerance_percent=0
    )
    bang["regulator"] = {
        "kind": "linear",
        "output_v": 3.3,
        "dropout_v": 1.0,
        "feeds": ["amplifier"],
    }
    bang["amplifier"]["lost_voltage_v"] = 0.0
    prop = build(bang)
    if left_v == 0:
        with pytest.raises(FxError, match="no voltage left"):
            rig_of(prop.path, prop.sequence, "wall")
    elif left_v is not None:
        assert rig_of(prop.path, prop.sequence, "wall").supply_v == pytest.approx(left_v, abs=0.01)
    else:
        assert 2.2 < rig_of(prop.path, prop.sequence, "wall").supply_v < 3.2


def with_settings(values: Values, found: Recommendation, name: str = "beep") -> Values:
    return values | {"clips": values["clips"] | {name: values["clips"][name] | found.changes}}


def test_recommendation_is_louder_and_keeps_every_limit(bang: Values, build: Build) -> None:
    bang["speaker"]["excursion_mm"] = 0.4
    found = recommended(build(bang))
    assert found.after.laeq_db > found.before.laeq_db + 3
    assert (
        found.after.levels.excursion_peak_mm <= 0.4
        and found.after.levels.speaker_highest_power_w <= 0.5
    )
    assert found.after.clipped_share == 0 and found.after.prepared.conditioning.limited_db <= 6


@pytest.mark.parametrize("coding", ["pcm16", "mulaw", "ima_adpcm"])
def test_a_run_of_what_is_written_has_the_figures_that_were_told(
    coding: str, bang: Values, played: Callable[..., Performance], build: Build
) -> None:
    bang["speaker"]["excursion_mm"] = 0.3
    bang["clips"]["beep"]["coding"] = coding
    bang["effects"]["spark"]["sounds"][0]["gain_db"] = -3.0
    found = recommended(build(bang))
    for told, values in ((found.before, bang), (found.after, with_settings(bang, found))):
        run = played(values).heard.levels
        assert run is not None
        assert told.levels.excursion_peak_mm == pytest.approx(run.excursion_peak_mm, rel=0.01)
        assert told.levels.at["hand"].lafmax_db == pytest.approx(run.at["hand"].lafmax_db, abs=0.05)
        assert told.levels.speaker_peak_power_w == pytest.approx(run.speaker_peak_power_w, rel=0.01)
    assert found.after.laeq_db > found.before.laeq_db


def test_what_is_recommended_once_is_recommended_again(bang: Values, build: Build) -> None:
    bang["speaker"]["excursion_mm"] = 0.2
    found = recommended(build(bang))
    assert found.changes["high_pass_hz"] > 0
    again = recommended(build(with_settings(bang, found)))
    assert (again.changes, again.limited_by) == ({}, found.limited_by)


def test_high_pass_buys_gain_where_the_cone_is_the_limit(bang: Values, build: Build) -> None:
    bang["speaker"]["excursion_mm"] = 0.05
    found = recommended(build(bang))
    assert found.after.clip.high_pass_hz is not None and found.after.clip.high_pass_hz > 200


@pytest.mark.parametrize(
    ("speaker", "amplifier", "limited_by"),
    [
        ({"rated_power_w": 0.02}, {}, "power"),
        ({"excursion_mm": 0.001}, {}, "excursion"),
        ({}, {"gain_db": 20.0}, "rail"),
    ],
)
def test_limit_that_binds_is_named(
    speaker: Values, amplifier: Values, limited_by: str, bang: Values, build: Build
) -> None:
    bang["speaker"] |= speaker
    bang["amplifier"] |= amplifier
    assert recommended(build(bang)).limited_by == limited_by


def test_full_scale_binds_where_the_rail_is_far(values: Values, build: Build) -> None:
    found = recommended(build(values))
    assert (found.limited_by, found.after.clip.limit_to_dbfs) == ("full scale", 0.0)


def test_the_limiter_is_put_at_the_rail(bang: Values, build: Build) -> None:
    """The rail is 5 V less 0.5 V lost, full scale 10 V: 20 lg 0.45 = -6.94 dBFS; 3 dB more where
    the timeline takes off 3 dB.
    """
    bang["amplifier"]["gain_db"] = 20.0
    assert recommended(build(bang)).after.clip.limit_to_dbfs == -7.0
    bang["effects"]["spark"]["sounds"][0]["gain_db"] = -3.0
    assert recommended(build(bang)).after.clip.limit_to_dbfs == -4.0


def test_nothing_clips_at_a_rail_that_sags_under_the_sound(
    bang: Values, played: Callable[..., Performance], build: Build
) -> None:
    """5 V of cells with 2 ohm: a limiter at what they have without a load would leave a tenth
    too much.
    """
    bang["supplies"] = {
        "cells": {
            "kind": "cells",
            "voltage_v": 5.0,
            "internal_resistance_ohm": 2.0,
            "maximum_current_ma": 1500,
        }
    }
    bang["amplifier"]["gain_db"] = 20.0
    prop = build(bang)
    found = recommended(prop)
    assert rig_of(prop.path, prop.sequence).supply_v < 4.5
    run = played(with_settings(bang, found)).heard.levels
    assert run is not None and run.clipped_share == 0
    unloaded = with_settings(bang, found)
    unloaded["clips"]["beep"] |= {"gain_db": 18.0, "limit_to_dbfs": -7.0}
    clipping = played(unloaded).heard.levels
    assert clipping is not None and clipping.clipped_share > 0


def test_a_rail_far_below_full_scale_still_cuts_nothing_off(bang: Values, build: Build) -> None:
    """Lower than the limiter can be set, -30 dBFS, the gain keeps below it."""
    bang["amplifier"] |= {"gain_db": 40.0, "full_scale_input_v": 5.0}
    found = recommended(build(bang))
    assert found.before.clipped_share > 0.3 and found.after.clipped_share == 0
    assert (found.after.clip.limit_to_dbfs, found.limited_by) == (-30.0, "rail")


def test_a_faint_recording_gets_the_most_gain_there_is(
    bang: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", rumble() / 50)
    found = recommended(build(bang))
    assert (found.after.clip.gain_db, found.limited_by) == (18.0, "gain_db")


def test_another_supply_has_another_rail(bang: Values, build: Build) -> None:
    bang["amplifier"]["gain_db"] = 20.0
    prop = build(bang)
    # 3 V less 0.5 V of 10 V.
    assert recommended(prop, supply="cells").after.clip.limit_to_dbfs == pytest.approx(
        20 * np.log10(0.25), abs=0.1
    )
    with pytest.raises(FxError, match="no supply 'mains'"):
        recommended(prop, supply="mains")


def test_a_matched_clip_follows_the_other_one(
    bang: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound(
        "low.wav", np.sin(2 * np.pi * 2000 * np.arange(3200) / RATE_HZ) * np.linspace(0.2, 0, 3200)
    )
    bang["clips"]["low"] = {"file": "low.wav", "coding": "pcm16", "match_to": "beep"}
    bang["effects"]["spark"]["sounds"].append({"clip": "low", "at_ms": 600})
    prop = build(bang)
    found = recommend(["low", "beep"], rig_of(prop.path, prop.sequence))
    assert list(found) == ["low", "beep"]
    beep = found["beep"]
    low = found["low"]
    assert beep and low and low.limited_by == "match_to"
    assert beep.after.prepared.loudest > 1.2 * beep.before.prepared.loudest
    assert low.after.prepared.loudest == pytest.approx(beep.after.prepared.loudest, rel=0.02)


def test_a_corner_of_its_own_is_never_lowered(bang: Values, build: Build) -> None:
    bang["clips"]["beep"]["high_pass_hz"] = 1900.0
    found = recommended(build(bang))
    assert found.after.clip.high_pass_hz == 1900.0 and "high_pass_hz" not in found.changes


def test_a_loop_is_played_three_times(bang: Values, build: Build) -> None:
    bang["clips"]["beep"]["loop"] = "whole"
    bang["triggers"]["fire"] |= {"mode": "while_held", "during": "spark"}
    bang["triggers"]["fire"].pop("effects")
    found = recommended(build(bang))
    assert len(found.after.samples) == 3 * len(found.after.prepared.samples)


def test_silence_needs_no_recommendation(
    bang: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", np.zeros(1000))
    prop = build(bang)
    assert recommend(["beep"], rig_of(prop.path, prop.sequence)) == {"beep": None}


@pytest.mark.parametrize("lost_v", [5.0, 5.5])
def test_amplifier_without_voltage_is_told_so(lost_v: float, bang: Values, build: Build) -> None:
    bang["amplifier"]["lost_voltage_v"] = lost_v
    prop = build(bang)
    with pytest.raises(
        FxError,
        match=(
            f"small.toml: amplifier: it has no voltage left: its output loses {lost_v:g} V of 5 V"
            " from 'wall'"
        ),
    ):
        rig_of(prop.path, prop.sequence)


def test_nothing_can_be_said_without_a_speaker(bang: Values, build: Build, tmp_path: Path) -> None:
    del bang["speaker"], bang["supplies"]
    sequence: model.Sequence = build(bang).sequence
    with pytest.raises(
        FxError, match="small.toml: lacks speaker, supplies, so there is no limit for how loud"
    ):
        rig_of(tmp_path / "small.toml", sequence)
