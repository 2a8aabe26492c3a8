"""fxseq fit."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fxseq.runs import load_prop

TEXT = """
format = 1
title = "Two sounds"
[board]
channels = 1
[inputs.lever]
[clips.crack]
file = "crack.wav"   # as recorded
[clips.tone]
file = "tone.wav"
[effects.shot]
sounds = [{ clip = "crack" }, { clip = "tone" }]
[triggers.shot]
mode = "once"
input = "lever"
effects = ["shot"]
"""


@pytest.fixture
def two(here: Path) -> Path:
    time_s = np.arange(2205) / 22050
    soundfile.write(
        "crack.wav",
        0.3 * np.random.default_rng(1).standard_normal(2205) * np.exp(-40 * time_s),
        22050,
    )
    soundfile.write(
        "tone.wav", 0.5 * np.sin(2 * np.pi * 900 * time_s) * np.exp(-30 * time_s), 22050
    )
    path = here / "two.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_fit_writes_table_figure_and_sounds(fxseq, two: Path) -> None:
    text = fxseq(
        "fit", "two.toml", "--table-bytes", "2500", "--coding", "mulaw", "--coding", "pcm16"
    )
    assert text.status == 0
    assert text.err == "1 of 2: crack\n2 of 2: tone\n"
    assert " of 2500 bytes. What is lost sounds " in text.out and text.out.endswith(
        "Figure, and each clip before and after: two_fit\n"
    )
    assert {path.name for path in Path("two_fit").iterdir()} == {
        "figure.png",
        "crack_before.wav",
        "crack_after.wav",
        "tone_before.wav",
        "tone_after.wav",
    }
    assert soundfile.info("two_fit/crack_after.wav").frames == 2205


def fit_and_write(fxseq, room: int) -> str:
    assert (
        fxseq("fit", "two.toml", "--table-bytes", str(room), "--coding", "mulaw", "--write").status
        == 0
    )
    return Path("two.toml").read_text()


def test_fit_writes_its_choice_beside_the_clip_as_it_is_meant(fxseq, two: Path) -> None:
    text = fit_and_write(fxseq, 2500)
    assert 'file = "crack.wav"   # as recorded\nfitted = {' in text
    assert re.sub(r"\nfitted = \{.*\}", "", text) == TEXT
    assert len(load_prop(two).compiled.data) <= 2500


def test_fit_again_changes_nothing_also_after_another_room(fxseq, two: Path) -> None:
    first = fit_and_write(fxseq, 2500)
    assert fit_and_write(fxseq, 2500) == first
    assert fit_and_write(fxseq, 1000) != first
    assert fit_and_write(fxseq, 2500) == first


def test_fit_is_taken_back(fxseq, two: Path) -> None:
    fit_and_write(fxseq, 1500)
    text = fxseq("fit", "two.toml", "--undo")
    assert (text.status, text.out, text.err) == (0, "", "two.toml: taken back: crack, tone\n")
    assert two.read_text() == TEXT
    assert fxseq("fit", "two.toml", "--undo").err == "two.toml: nothing was fitted.\n"


def test_fit_with_room_for_all_writes_nothing(fxseq, two: Path) -> None:
    """In the clip's own coding, at its own rate."""
    text = TEXT.replace('.wav"', '.wav"\ncoding = "pcm16"')
    two.write_text(text, encoding="utf-8")
    assert fit_and_write(fxseq, 1500) != text
    assert fxseq("fit", "two.toml", "--coding", "pcm16", "--write").status == 0
    assert two.read_text() == text


def test_fit_as_json_says_the_same(fxseq, two: Path) -> None:
    found = json.loads(
        fxseq("fit", "two.toml", "--table-bytes", "2500", "--coding", "mulaw", "--json").out
    )
    assert found["table_bytes"] <= found["room_bytes"] == 2500
    assert found["clips"]["tone"]["coding"] == "mulaw" and found["clips"]["tone"]["plays"] > 0


def test_fit_says_what_is_missing_and_the_cheapest_ways_to_it(fxseq, two: Path) -> None:
    text = fxseq("fit", "two.toml", "--table-bytes", "300", "--coding", "mulaw")
    assert (text.status, text.out) == (1, "")
    assert "two.toml: even the smallest table is " in text.err
    assert "bytes too large; allowed: 300 bytes. Shorten or leave out clips: without '" in text.err
    assert "Traceback" not in text.err


def test_fit_leaves_the_file_alone_without_write(fxseq, two: Path) -> None:
    before = two.read_bytes()
    assert fxseq("fit", "two.toml", "--coding", "mulaw").status == 0
    assert two.read_bytes() == before


def test_fit_needs_a_coding_that_exists(fxseq, two: Path) -> None:
    assert fxseq("fit", "two.toml", "--coding", "opus").status == 2


def test_fit_says_where_the_processor_is_too_slow_for_any_coding(fxseq, two: Path) -> None:
    two.write_text(
        TEXT.replace("channels = 1", 'channels = 1\nprocessor = { kind = "avr", clock_mhz = 1 }'),
        encoding="utf-8",
    )
    text = fxseq("fit", "two.toml")
    assert (text.status, text.out) == (1, "")
    assert text.err.endswith(
        "two.toml: board: its processor cannot decode 4 voices at 22050 Hz in any of the codings"
        " allowed; allowed: half of its time. Use fewer voices, a lower sample_rate_hz, or a faster"
        " processor.\n"
    )


def test_fit_says_where_nothing_is_lost(fxseq, starter: Path) -> None:
    text = fxseq("fit", str(starter), "--coding", "mulaw", "--coding", "pcm16")
    assert text.status == 0 and "bytes. No loss is heard.\n" in text.out
    assert re.search(r"^chirp .* pcm16 .* none$", text.out, re.MULTILINE)
    found = json.loads(fxseq("fit", str(starter), "--coding", "pcm16", "--json").out)
    assert (found["lost_below_sound_db"], found["clips"]["chirp"]["lost_below_sound_db"]) == (
        None,
        None,
    )
