"""Every finding of a clip: that it comes with its figure, and that it stays away at its limit."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.checks import clip_findings
from fxseq.clips import PreparedClip
from fxseq.runs import Prop
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.model import Board, Clip
from tests.checks.judged import prepare
from tests.clips.conftest import chunk, prepared, sine, wav, write

Write = Callable[..., str]
Prepare = Callable[..., PreparedClip]
Build = Callable[..., Prop]
Sine = Callable[..., NDArray[np.float64]]

PRACTICE = "common practice, no source"


def checks(clip: PreparedClip) -> list[str]:
    return [finding.check for finding in clip.findings]


def pulse(count: int, **at: float) -> NDArray[np.float64]:
    """Silence with single samples set: pulse(100, _5=0.5)."""
    sound = np.zeros(count)
    for place, value in at.items():
        sound[int(place[1:])] = value
    return sound


def test_a_good_clip_has_no_finding(write: Write, prepared: Prepare, sine: Sine) -> None:
    assert prepared(write("a.wav", sine(441)), fade_out_ms=5).findings == ()


def test_a_sound_cut_off_tells_how_much_is_missing(wav: Write, prepared: Prepare) -> None:
    file = wav(np.concatenate([np.full(1000, 300), [0]]), data_size=8008)
    expected = Finding(
        "clip.truncated",
        Weight.WARNING,
        "clip 'hum'",
        "75.0 % (136 ms) of the sound is missing",
        "182 ms",
        "the file's own header",
        "Export or copy the file again; it ends too soon.",
    )
    assert prepared(file).findings == (expected,)


def test_a_cut_that_ends_before_the_missing_part_is_in_order(wav: Write, prepared: Prepare) -> None:
    assert prepared(wav(np.full(1000, 300), data_size=8000), end_ms=40).findings == ()


def test_a_late_cut_of_a_sound_cut_off_counts_what_the_whole_file_lacks(
    wav: Write, prepared: Prepare
) -> None:
    file = wav(np.concatenate([np.full(2204, 300), [0]]), data_size=8820)
    assert (
        prepared(file, start_ms=50).findings[0].figure == "50.0 % (100 ms) of the sound is missing"
    )


def test_an_mp3_cut_off_counts_from_the_length_in_its_header(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    file = tmp_path / write("a.mp3", sine(441, seconds=2))
    content = file.read_bytes()
    file.write_bytes(content[: len(content) // 2])
    clip = prepared("a.mp3")
    missing = 2 * 22_050 - len(clip.samples)
    finding = next(finding for finding in clip.findings if finding.check == "clip.truncated")
    assert (
        finding.figure
        == f"{missing / 441:.1f} % ({missing / 22.05:.0f} ms) of the sound is missing"
    )
    assert finding.limit == "2000 ms"


def test_silence_is_reported(write: Write, prepared: Prepare) -> None:
    expected = Finding(
        "clip.silent",
        Weight.WARNING,
        "clip 'hum'",
        "no sample differs from 0",
        "above -70 dBFS",
        PRACTICE,
        "Check the file and the cut; raise gain_db or set peak_to_dbfs.",
    )
    assert prepared(write("a.wav", np.zeros(100))).findings == (expected,)


@pytest.mark.parametrize("step, found", [(10, ["clip.silent"]), (11, [])])
def test_silence_ends_at_minus_70_dbfs(
    step: int, found: list[str], wav: Write, prepared: Prepare
) -> None:
    """32768 * 10 ** (-70 / 20) = 10.36."""
    clip = prepared(wav(np.full(100, step)))
    assert [check for check in checks(clip) if check == "clip.silent"] == found


def test_nearly_silent_sound_is_reported_with_its_peak(wav: Write, prepared: Prepare) -> None:
    assert prepared(wav(np.full(100, -8))).findings[0].figure == "peak -72.2 dBFS"


@pytest.mark.parametrize("mean, found", [(0.0100, False), (0.0103, True), (-0.0103, True)])
def test_dc_is_reported_above_one_percent(
    mean: float, found: bool, write: Write, prepared: Prepare
) -> None:
    assert ("clip.dc" in checks(prepared(write("a.wav", np.full(100, mean))))) == found


def test_dc_is_reported_with_its_figure(write: Write, prepared: Prepare) -> None:
    file = write("a.wav", np.full(1000, -0.025))
    expected = Finding(
        "clip.dc",
        Weight.WARNING,
        "clip 'hum'",
        "the mean is -2.5 % of full scale",
        "1 %",
        PRACTICE,
        "Set remove_dc = true: an offset wastes level and clicks at the ends.",
    )
    assert prepared(file).findings == (expected,)
    assert "clip.dc" not in checks(prepared(file, remove_dc=True))


@pytest.mark.parametrize(
    "subtype, top",
    [("PCM_16", 1.0), ("PCM_24", 1.0), ("PCM_U8", 1.0), ("FLOAT", 1.0), ("ULAW", 1.0)],
)
def test_flat_tops_at_full_scale_are_counted(
    subtype: str, top: float, write: Write, prepared: Prepare
) -> None:
    sound = np.zeros(1000)
    sound[100:103] = top
    sound[200:205] = -top
    sound[300:302] = top
    finding = next(
        f
        for f in prepared(write("a.wav", sound, subtype=subtype)).findings
        if f.check == "clip.clipped_source"
    )
    assert finding == Finding(
        "clip.clipped_source",
        Weight.WARNING,
        "clip 'hum'",
        "2 clipped peaks, the longest of 5 samples at full scale",
        "fewer than 3 samples in a row",
        PRACTICE,
        "Record or export the file at a lower level.",
    )


def test_a_flat_top_in_one_channel_is_seen_in_the_mix(write: Write, prepared: Prepare) -> None:
    sound = np.zeros((1000, 2))
    sound[100:104, 1] = 1.0
    assert "clip.clipped_source" in checks(prepared(write("a.wav", sound)))
    assert "clip.clipped_source" not in checks(prepared(write("a.wav", sound), channel="left"))


def test_gain_beyond_full_scale_tells_the_share(write: Write, prepared: Prepare) -> None:
    clip = prepared(write("a.wav", pulse(400, _10=0.5, _20=-0.5)), gain_db=7)
    expected = Finding(
        "clip.clipped_by_gain",
        Weight.WARNING,
        "clip 'hum'",
        "2 samples (0.5 %) are beyond full scale",
        "0 samples",
        "16-bit full scale",
        "Lower gain_db, or set peak_to_dbfs = -1.",
    )
    assert clip.findings == (expected,)


def test_a_peak_brought_to_full_scale_is_not_beyond_it(write: Write, prepared: Prepare) -> None:
    assert prepared(write("a.wav", pulse(400, _10=0.3, _20=-0.3)), peak_to_dbfs=0).findings == ()


def test_a_jump_at_the_start_is_reported(write: Write, prepared: Prepare) -> None:
    expected = Finding(
        "clip.starts_with_jump",
        Weight.WARNING,
        "clip 'hum'",
        "the first sample is at 25 % of full scale: a click",
        "3 %",
        PRACTICE,
        "Set fade_in_ms = 1, or start earlier.",
    )
    assert prepared(write("a.wav", pulse(400, _0=-0.25))).findings == (expected,)


def test_a_jump_at_the_end_is_reported(write: Write, prepared: Prepare) -> None:
    expected = Finding(
        "clip.ends_with_jump",
        Weight.WARNING,
        "clip 'hum'",
        "the last sample is at 25 % of full scale: a click",
        "3 %",
        PRACTICE,
        "Set fade_out_ms = 5, or end later.",
    )
    assert prepared(write("a.wav", pulse(400, _0=0.02, _399=0.25)), start_ms=0).findings == (
        expected,
    )


def test_the_remedies_for_jumps_work(write: Write, prepared: Prepare) -> None:
    file = write("a.wav", 0.5 * np.cos(0.3 * np.arange(4000)))
    assert checks(prepared(file)) == ["clip.starts_with_jump", "clip.ends_with_jump"]
    assert prepared(file, fade_in_ms=1, fade_out_ms=5).findings == ()


def test_silence_before_the_sound_is_reported_as_delay(write: Write, prepared: Prepare) -> None:
    sound = pulse(22_050, _441=0.5)
    expected = Finding(
        "clip.leading_silence",
        Weight.WARNING,
        "clip 'hum'",
        "20 ms from the trigger until the sound reaches -50 dBFS",
        "10 ms",
        PRACTICE,
        "Cut it with start_ms, or set trim_below_dbfs = -50.",
    )
    assert prepared(write("a.wav", sound)).findings == (expected,)
    assert prepared("a.wav", start_ms=15).findings == ()


def test_a_seam_that_clicks_is_reported(write: Write, prepared: Prepare, sine: Sine) -> None:
    """A quarter of a period too much: from 1 back to 0 where no step inside is above 0.0627."""
    file = write("a.wav", sine(22_050 / 50, amplitude=0.5))
    assert prepared(file, loop="whole").findings == ()
    expected = Finding(
        "clip.loop_seam",
        Weight.WARNING,
        "clip 'hum'",
        "the loop jumps by 50 % of full scale at its seam: a click at every pass",
        "2 times the largest step inside the loop, 13 %",
        PRACTICE,
        "Put both ends of the loop where the sound is alike.",
    )
    assert prepared(file, loop="whole", end_ms=1000 * 513 / 22_050).findings == (expected,)


@pytest.mark.parametrize(
    "coding, figure, remedy",
    [
        (
            "mulaw",
            "1.0 s take 22050 bytes, 55 % of the board's memory for the table",
            "Cut it shorter, loop a part of it, or lower rate_hz.",
        ),
        (
            "pcm16",
            "1.0 s take 44100 bytes, 110 % of the board's memory for the table",
            "Cut it shorter, loop a part of it, or lower rate_hz, or use coding mulaw.",
        ),
    ],
)
def test_a_clip_that_takes_most_of_the_flash_is_noted(
    coding: str, figure: str, remedy: str, write: Write, sine: Sine, tmp_path: Path
) -> None:
    board = Board(channels=1, flash_for_table_bytes=40_000)
    clip = prepare(
        "hum", Clip(file=write("a.wav", sine(441)), coding=coding, fade_out_ms=5), board, tmp_path
    )
    assert clip.findings == (
        Finding("clip.long", Weight.NOTE, "clip 'hum'", figure, "50 %", PRACTICE, remedy),
    )


@pytest.mark.parametrize(("limit", "found"), [({}, True), ({"limit_to_dbfs": -1}, False)])
def test_peaks_that_coding_cuts_off_are_told(
    write: Write, prepared: Prepare, sine: Sine, limit: dict[str, float], found: bool
) -> None:
    """A sine that just fits: IMA's error takes some of its tops over full scale."""
    clip = prepared(
        write("a.wav", sine(2900, 0.999, 0.1)),
        coding="ima_adpcm",
        fade_in_ms=1,
        fade_out_ms=1,
        **limit,
    )
    told = [finding for finding in clip.findings if finding.check == "clip.over_after_coding"]
    assert bool(told) == found
    assert all(
        finding.figure.endswith(" samples, the highest at 0.0 dBFS as the board plays them")
        for finding in told
    )


def test_a_found_loop_of_poor_match_off_its_beat_is_told(write: Write, prepared: Prepare) -> None:
    """Bursts of noise, each another, 0.9 s apart: no two places are alike, so places of like
    level are joined, in time or not.
    """
    at_s = np.arange(4 * 22050) / 22050
    clip = prepared(
        write(
            "a.wav",
            0.2 * np.random.default_rng(5).normal(size=at_s.size) * np.exp(-5 * (at_s % 0.9)),
        ),
        loop="find",
    )
    told = {finding.check: finding.figure for finding in clip.findings}
    found = clip.conditioning.found_loop
    assert (
        told["clip.loop_match"]
        == f"the ends of the found loop are alike by {found.match:.2f}, where 1 is equal"
    )
    assert ("clip.loop_off_beat" in told) == (abs(found.off_beat_s) > 0.03)


@pytest.mark.parametrize(
    ("divisor", "degrees", "expected_db"),
    [(4, 0, 0.0), (4, 45, 3.0), (6, 60, 1.2), (8, 67.5, 0.7)],
    ids=["case 15", "case 16", "case 17", "case 18"],
)
def test_a_wave_over_full_scale_between_its_samples_is_noted(
    write: Write, prepared: Prepare, divisor: int, degrees: float, expected_db: float
) -> None:
    """Tones of EBU Tech 3341 (2023), Table 1, whose true peaks are 0, 3.0, 1.2 and 0.7 dB above
    their samples (20 lg 1 / sin of the highest phase), with these at full scale.
    """
    tone = np.sin(2 * np.pi * np.arange(22_050) / divisor + np.radians(degrees))
    file = write("a.wav", tone, subtype="FLOAT")
    clip = prepared(file, coding="pcm16", peak_to_dbfs=0, fade_in_ms=10, fade_out_ms=10)
    told = [finding for finding in clip.findings if finding.check == "clip.true_peak"]
    assert [finding.figure.split()[3] for finding in told] == (
        [f"{expected_db:.1f}"] if expected_db else []
    )


def test_the_remedy_for_a_wave_over_full_scale_works(write: Write, prepared: Prepare) -> None:
    """Case 16 of EBU Tech 3341: what is over is taken off, and no more than 0.1 dB beyond it."""
    file = write("a.wav", np.sin(np.pi * (np.arange(2205) / 2 + 0.25)), subtype="FLOAT")
    settings = {"coding": "qoa", "peak_to_dbfs": -1, "fade_in_ms": 10, "fade_out_ms": 10}
    told = {finding.check: finding for finding in prepared(file, **settings).findings}
    words = told["clip.true_peak"].remedy.split()
    assert words[:4] == ["Lower", "peak_to_dbfs", "by", "2.1"]
    assert "clip.true_peak" not in checks(prepared(file, **settings | {"peak_to_dbfs": -3.1}))


@pytest.mark.parametrize(
    ("gain_db", "spread_percent", "found"), [(-3, 0, False), (-3, 5, True), (-2.8, 0, True)]
)
def test_a_wave_over_full_scale_counts_the_gain_of_its_effect(
    build: Build,
    values: dict[str, Any],
    write_sound: Write,
    gain_db: float,
    spread_percent: float,
    found: bool,
) -> None:
    """Case 16 of EBU Tech 3341, 3.0 dB over: 5 % more gain are 0.4 dB."""
    samples_at_full_scale = np.sqrt(2) * np.sin(np.pi * (np.arange(1600) / 2 + 0.25))
    write_sound("beep.wav", samples_at_full_scale * np.hanning(1600) * 32767 / 32768)
    effect = values["effects"]["spark"]
    effect["gain_spread_percent"] = spread_percent
    effect["sounds"][0]["gain_db"] = gain_db
    prop = build(values)
    told = clip_findings(prop.sequence, prop.clips)["beep"]
    assert ("clip.true_peak" in [finding.check for finding in told]) == found
