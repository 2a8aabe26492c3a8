"""fxseq clips: each clip before and after."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fxseq.runs import load_prop

DEMO = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"


def add(prop: Path, text: str) -> None:
    prop.write_text(prop.read_text() + text)


def test_every_clip_gets_a_figure_and_two_sounds(fxseq, lamp: Path) -> None:
    text = fxseq("clips", str(lamp))
    assert (text.status, text.err) == (0, "")
    assert sorted(path.name for path in Path("lamp_clips").iterdir()) == [
        "crack.png",
        "crack_after.wav",
        "crack_before.wav",
    ]
    assert Path("lamp_clips/crack.png").read_bytes().startswith(b"\x89PNG")
    assert text.out.splitlines()[-1] == "Figure, before.wav and after.wav of each clip: lamp_clips"


def test_clips_without_pictures_are_sounds_alone(fxseq, lamp: Path) -> None:
    text = fxseq("clips", str(lamp), "crack", "--no-pictures")
    assert text.out.splitlines()[-1] == "Before.wav and after.wav of each clip: lamp_clips"
    assert sorted(path.name for path in Path("lamp_clips").iterdir()) == [
        "crack_after.wav",
        "crack_before.wav",
    ]


def test_the_numbers_are_printed_before_and_after(fxseq, lamp: Path) -> None:
    settings = (
        "start_ms = 100\ntrim_below_dbfs = -40\ngain_db = 6\nlimit_to_dbfs = -12\ncoding ="
        " 'pcm16'\n"
    )
    add(lamp, f"\n[clips.tail]\nfile = 'clips/crack_a.wav'\n{settings}")
    lines = [
        line.split() for line in fxseq("clips", str(lamp), "tail", "--no-pictures").out.splitlines()
    ]
    assert (
        lines[1][:3] == ["tail", "before", "250"]
        and lines[2][0] == "after"
        and lines[2][3] == "-12.0"
    )
    assert lines[5][:3] == ["tail:", "trimmed", "by"]


def test_the_sounds_are_the_recording_and_what_the_board_plays(
    fxseq, lamp: Path, tmp_path: Path
) -> None:
    fxseq("clips", str(lamp), "--no-pictures", "--out", "shown")
    recording, _ = soundfile.read("clips/crack_a.wav", dtype="int16")
    before, after = (
        soundfile.read(f"shown/crack_{when}.wav", dtype="int16") for when in ("before", "after")
    )
    prop = load_prop(lamp)
    assert np.array_equal(before[0], recording) and after[1] == prop.sequence.board.sample_rate_hz
    assert np.abs(after[0].astype(int) - prop.clips["crack"].samples).max() <= 2**15 / 2**6


def test_json_holds_the_numbers(fxseq, lamp: Path) -> None:
    text = fxseq("clips", str(lamp), "--no-pictures", "--json")
    values = json.loads(text.out)
    assert values["folder"] == "lamp_clips" and list(values["clips"]) == ["crack"]
    clip = values["clips"]["crack"]
    assert clip["bytes"] == len(load_prop(lamp).clips["crack"].data)
    assert clip["before"]["duration_ms"] == pytest.approx(350, abs=1) and clip["after"][
        "peak_dbfs"
    ] == pytest.approx(-1, abs=0.2)


def test_clips_that_no_trigger_plays_are_shown_too(fxseq, lamp: Path) -> None:
    add(lamp, '\n[clips.spare]\nfile = "clips/crack_a.wav"\nmatch_to = "crack"\n')
    assert list(json.loads(fxseq("clips", str(lamp), "--no-pictures", "--json").out)["clips"]) == [
        "crack",
        "spare",
    ]
    assert list(
        json.loads(fxseq("clips", str(lamp), "spare", "--no-pictures", "--json").out)["clips"]
    ) == ["spare"]


def test_the_figure_is_drawn_in_the_theme_that_is_asked_for(fxseq, lamp: Path) -> None:
    fxseq("clips", str(lamp), "--out", "light")
    fxseq("clips", str(lamp), "--theme", "dark", "--out", "dark")
    assert Path("light/crack.png").read_bytes() != Path("dark/crack.png").read_bytes()


def test_a_name_that_is_not_there_is_a_mistake_of_the_call(fxseq, lamp: Path) -> None:
    text = fxseq("clips", str(lamp), "crock")
    assert text.status == 2 and "There is no clip 'crock'. Did you mean 'crack'?" in text.err
    assert "There is no clip 'xyz'. There are: crack." in fxseq("clips", str(lamp), "xyz").err


def test_findings_of_the_clips_are_printed(fxseq, lamp: Path) -> None:
    add(lamp, '\n[clips.late]\nfile = "clips/crack_a.wav"\ngain_db = 12\n')
    assert "warning  clip 'late': " in fxseq("clips", str(lamp), "--no-pictures").out


def test_a_prop_without_clips_has_nothing_to_show(fxseq, here: Path) -> None:
    Path("dark.toml").write_text('format = 1\ntitle = "Dark"\nboard = { channels = 1 }\n')
    text = fxseq("clips", "dark.toml")
    assert text.status == 0 and len(text.out.splitlines()) == 4


# ---- for the speaker ----


def test_a_clip_is_recommended_for_its_speaker_with_figures(fxseq, starter: Path) -> None:
    text = fxseq("clips", str(starter), "--for-speaker")
    lines = [line.split() for line in text.out.splitlines()]
    assert text.status == 0 and lines[1][:3] == ["chirp", "before", "-"] and lines[2][0] == "after"
    assert lines[2][-2:] == ["full", "scale"]
    assert sorted(path.name for path in Path("starter_for_speaker").iterdir()) == [
        "chirp.png",
        "chirp_after.wav",
        "chirp_before.wav",
        "the-speaker.png",
    ]
    assert "so cone excursion is not limited" in text.out
    speaker = json.loads(
        fxseq("clips", str(starter), "--for-speaker", "--no-pictures", "--json").out
    )["speaker"]
    assert (
        f"Speaker: the loudest lasting tone is {speaker['loudest_db']:.0f} ±" in text.out
        and f", limited by {speaker['loudest_held_by']};" in text.out
    )
    assert (
        f"Its resonance in the prop is {speaker['resonance_hz']:.0f} Hz, with an impedance of"
        f" {speaker['resonance_ohm']:.3g} ohm" in text.out
    )


def test_what_is_written_is_what_was_told_and_remarks_stay(fxseq, starter: Path) -> None:
    text = starter.read_text()
    told = json.loads(
        fxseq("clips", str(starter), "--for-speaker", "--no-pictures", "--write", "--json").out
    )["clips"]["chirp"]
    assert told["after"]["laeq_db"] > told["before"]["laeq_db"] + 3
    added = [line for line in starter.read_text().splitlines() if line not in text.splitlines()]
    assert added == [f"{key} = {value}" for key, value in told["changes"].items()]
    assert [
        line for line in starter.read_text().splitlines() if line not in added
    ] == text.splitlines()
    again = json.loads(
        fxseq("clips", str(starter), "--for-speaker", "--no-pictures", "--json").out
    )["clips"]["chirp"]
    assert again["changes"] == {} and again["before"] == told["after"]


def test_without_write_the_file_stays_as_it_is(fxseq, starter: Path) -> None:
    text = starter.read_bytes()
    assert fxseq("clips", str(starter), "--for-speaker", "--no-pictures").status == 0
    assert starter.read_bytes() == text


def test_silence_gets_no_recommendation(fxseq, starter: Path) -> None:
    add(starter, '\n[clips.quiet]\nfile = "quiet.wav"\n')
    soundfile.write("quiet.wav", np.zeros(1000), 22_050)
    text = fxseq("clips", str(starter), "quiet", "--for-speaker", "--write")
    assert (text.status, text.err) == (
        0,
        "",
    ) and "quiet: silence, so there is nothing to recommend." in text.out


def test_a_prop_without_a_speaker_is_told_what_it_lacks(fxseq, here: Path) -> None:
    Path("bare.toml").write_text('format = 1\ntitle = "Bare"\nboard = { channels = 1 }\n')
    text = fxseq("clips", "bare.toml", "--for-speaker")
    assert text.status == 1 and "bare.toml: lacks amplifier, speaker, supplies" in text.err


@pytest.mark.parametrize("option", [["--write"], ["--supply", "cells"]])
def test_options_of_the_recommendation_need_it(option: list[str], fxseq, starter: Path) -> None:
    text = fxseq("clips", str(starter), *option)
    assert text.status == 2 and f"{option[0]} needs --for-speaker." in text.err
