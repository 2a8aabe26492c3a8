"""Clips that are matched to each other, and clips before and after."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from fxseq.acoustics import speaker_response, weighting_response
from fxseq.checks import findings_without_playing
from fxseq.runs import Conditioned, Prop, condition_clips
from fxseq.sequence import ClipError, Finding, Weight

Values = dict[str, Any]
Build = Callable[..., Prop]
RATE_HZ = 16_000


def tone(frequency_hz: float, amplitude: float, seconds: float = 0.3) -> NDArray[np.float64]:
    samples = amplitude * np.sin(
        2 * np.pi * frequency_hz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    )
    return samples * np.minimum(1, np.linspace(0, 20, len(samples))[::-1])


@pytest.fixture
def choice(values: Values, write_sound: Callable[..., None]) -> Values:
    """A trigger with three effects, each with a tone: as loud as can be to the ear, 2 dB softer,
    12 dB softer.
    """
    for name, frequency_hz, amplitude in (
        ("high", 1000, 0.5),
        ("soft", 1000, 0.4),
        ("low", 1000, 0.125),
    ):
        write_sound(f"{name}.wav", tone(frequency_hz, amplitude))
        values["clips"][name] = {"file": f"{name}.wav", "coding": "pcm16"}
        values["effects"][name] = {
            "sounds": [{"clip": name}],
            "lights": [{"group": "lamp", "fade": "flash"}],
        }
    values["effects"].pop("spark")
    values["clips"].pop("beep")
    values["triggers"]["fire"]["effects"] = ["high", "soft"]
    return values


def unmatched(prop: Prop) -> list[Finding]:
    return [
        finding for finding in findings_without_playing(prop) if finding.check == "clip.unmatched"
    ]


def test_alternatives_within_3_db_are_alike(choice: Values, build: Build) -> None:
    assert unmatched(build(choice)) == []


def test_alternatives_that_differ_by_more_are_noted(choice: Values, build: Build) -> None:
    choice["triggers"]["fire"]["effects"] = ["high", "soft", "low"]
    assert unmatched(build(choice)) == [
        Finding(
            "clip.unmatched",
            Weight.NOTE,
            "trigger 'fire', clips 'low' and 'high'",
            "their loudest 125 ms, weighted for speaker and ear, differ by 12.0 dB",
            "3 dB",
            "common practice, no source",
            'Set match_to = "high" in [clips.low], unless they are meant to differ.',
        )
    ]


def test_what_the_timeline_takes_off_counts(choice: Values, build: Build) -> None:
    choice["effects"]["soft"]["sounds"][0]["gain_db"] = -2.0
    assert "differ by 3.9 dB" in unmatched(build(choice))[0].figure
    choice["effects"]["high"]["sounds"][0]["gain_db"] = -2.0
    assert unmatched(build(choice)) == []


def test_sounds_at_other_places_of_the_timelines_are_no_alternatives(
    choice: Values, build: Build
) -> None:
    choice["effects"]["high"]["sounds"].append({"clip": "low", "at_ms": 400})
    assert unmatched(build(choice)) == []


def test_a_match_takes_the_note_away(choice: Values, build: Build) -> None:
    choice["triggers"]["fire"]["effects"] = ["high", "soft", "low"]
    choice["clips"]["low"]["match_to"] = "high"
    prop = build(choice)
    assert unmatched(prop) == []
    assert prop.clips["low"].loudest == pytest.approx(prop.clips["high"].loudest, rel=1e-3)


def test_a_match_reaches_through_others_in_any_order(choice: Values, build: Build) -> None:
    choice["clips"]["high"]["match_to"] = "soft"
    choice["clips"]["soft"]["match_to"] = "low"
    clips = build(choice).clips
    assert list(clips) == ["high", "soft"]
    # A sine of 0.125, in its loudest 125 ms.
    assert [clip.loudest for clip in clips.values()] == pytest.approx(
        [0.125 / np.sqrt(2)] * 2, rel=0.01
    )


def test_loudness_is_weighed_by_speaker_and_ear(
    choice: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    """A bass tone that is brought to a high one has to be as much stronger as both take off
    there.
    """
    choice["speaker"] |= {"resonance_hz": 500, "q_total": 0.7}
    write_sound("soft.wav", tone(250, 0.4))
    write_sound("high.wav", tone(2000, 0.005))
    choice["clips"]["soft"]["match_to"] = "high"
    prop = build(choice)
    places_hz = np.array([250.0, 2000.0])
    heard = np.abs(
        weighting_response(places_hz, "A") * speaker_response(prop.sequence.speaker, 1.0)(places_hz)
    )
    low, high = (np.abs(prop.clips[name].samples.astype(int)).max() for name in ("soft", "high"))
    assert low / high == pytest.approx(heard[1] / heard[0], rel=0.02)


def test_a_clip_that_others_are_matched_to_is_not_unused(choice: Values, build: Build) -> None:
    choice["clips"]["high"]["match_to"] = "low"
    unused = [
        finding.subject
        for finding in findings_without_playing(build(choice))
        if finding.check == "sequence.unused"
    ]
    assert unused == ["effect 'low'"]


def test_faults_of_both_clips_of_a_match_are_told_once(choice: Values, build: Build) -> None:
    choice["clips"]["high"] |= {"file": "gone.wav", "match_to": "low"}
    choice["clips"]["soft"]["match_to"] = "low"
    choice["clips"]["low"] |= {"fade_in_ms": 900}
    with pytest.raises(ClipError) as caught:
        build(choice)
    assert [fault.where for fault in caught.value.faults] == ["low.wav", "gone.wav"]


# ---- before and after ----


def conditioned(prop: Prop, name: str) -> Conditioned:
    return condition_clips([name], prop.sequence, prop.path.parent)[name]


def test_before_is_the_recording_and_after_what_the_table_holds(
    values: Values, build: Build, tmp_path: Path
) -> None:
    values["clips"]["beep"] |= {"start_ms": 20, "coding": "mulaw", "peak_to_dbfs": -20}
    prop = build(values)
    clip = conditioned(prop, "beep")
    recording = soundfile.read(tmp_path / "beep.wav")[0]
    assert np.array_equal(clip.before.samples, recording[320:])
    assert clip.before.as_dict() == {
        "rate_hz": RATE_HZ,
        "duration_ms": 80,
        "peak_dbfs": -6.02,
        "rms_dbfs": -9.03,
        "loudest_dbfs": pytest.approx(-11, abs=0.1),
    }
    assert clip.after.as_dict()["peak_dbfs"] == pytest.approx(-20, abs=0.2)
    assert (clip.done, clip.text, clip.as_dict()["bytes"]) == ({}, [], 1280)


def test_what_is_played_is_at_the_rate_of_the_board_with_its_loop_three_times(
    values: Values, build: Build
) -> None:
    values["clips"]["beep"] |= {"rate_hz": 8000, "coding": "pcm16", "loop": {"start_ms": 50}}
    clip = conditioned(build(values), "beep")
    assert len(clip.played) == RATE_HZ * (0.1 + 2 * 0.05)
    # Sharpened by 0.45 dB at an eighth of its rate; the file ends with a sample of its own at 0,
    # around which resampling swings a little.
    assert np.abs(clip.played).max() == pytest.approx(0.53, abs=0.05)


def test_what_was_done_is_told_in_numbers_and_words(
    values: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", np.concatenate([np.zeros(1600), tone(1000, 0.5)]))
    values["clips"]["beep"] |= {"trim_below_dbfs": -50, "gain_db": 6, "limit_to_dbfs": -6}
    clip = conditioned(build(values), "beep")
    expected = {"trimmed_before_ms": 99, "trimmed_behind_ms": 0, "limited_db": 5.98}
    assert clip.done == pytest.approx(expected, abs=0.2)
    assert clip.text == [
        "trimmed by 99 ms before and 0 ms behind the sound",
        "peaks turned down by up to 6.0 dB",
    ]


def test_a_found_loop_is_told_in_times_of_the_recording(
    values: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", tone(1000, 0.5, 2.0))
    values["clips"]["beep"]["loop"] = "find"
    found = conditioned(build(values), "beep").done["loop_found"]
    assert found["match"] >= 0.98 and found["cross_fade_ms"] == 50
    assert (found["end_ms"] - found["start_ms"]) % 1 == pytest.approx(0, abs=0.011) and found[
        "end_ms"
    ] > 1800
    assert conditioned(build(values), "beep").text[0].startswith("loop found from 50 to 1")


def test_silence_has_no_level(
    values: Values, build: Build, write_sound: Callable[..., None]
) -> None:
    write_sound("beep.wav", np.zeros(100))
    sounding = conditioned(build(values), "beep").after.as_dict()
    assert [sounding[key] for key in ("peak_dbfs", "rms_dbfs", "loudest_dbfs")] == [None] * 3
