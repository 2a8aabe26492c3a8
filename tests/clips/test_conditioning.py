"""Trim, high-pass, loop, match and limiter, as a clip asks for them, and their order."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.clips import PreparedClip, decode
from fxseq.sequence.errors import ClipError
from fxseq.sequence.model import Board, Clip, Fitted
from tests.checks.judged import prepare

Write = Callable[..., str]
Prepare = Callable[..., PreparedClip]
Sine = Callable[..., NDArray[np.float64]]
RATE_HZ = 22_050


def message(prepared: Prepare, file: str, **settings: object) -> str:
    with pytest.raises(ClipError) as caught:
        prepared(file, **settings)
    return str(caught.value)


def padded(
    sound: NDArray[np.float64], before: int = 4410, behind: int = 2205
) -> NDArray[np.float64]:
    return np.concatenate([np.zeros(before), sound, np.zeros(behind)])


def peak_db(clip: PreparedClip) -> float:
    return float(20 * np.log10(np.abs(clip.samples.astype(int)).max() / 32768))


# ---- trim ----


def test_silence_is_cut_but_for_1_ms(write: Write, prepared: Prepare) -> None:
    sound = np.full(1000, 0.1)
    clip = prepared(write("a.wav", padded(sound)), trim_below_dbfs=-40)
    margin = round(0.001 * RATE_HZ)
    assert len(clip.samples) == 1000 + 2 * margin
    assert not clip.samples[:margin].any() and clip.samples[margin] > 3000
    assert clip.conditioning.trimmed_ms == pytest.approx(
        (1000 * (4410 - margin) / RATE_HZ, 1000 * (2205 - margin) / RATE_HZ)
    )
    # what start_ms leaves out is not trimmed
    later = prepared("a.wav", start_ms=50, trim_below_dbfs=-40)
    assert later.conditioning.trimmed_ms == pytest.approx(
        (clip.conditioning.trimmed_ms[0] - 50, clip.conditioning.trimmed_ms[1]), abs=0.05
    )


@pytest.mark.parametrize(("level_dbfs", "kept"), [(-41, 1000), (-39, 200)])
def test_only_what_is_above_the_level_is_kept(
    level_dbfs: float, kept: int, write: Write, prepared: Prepare
) -> None:
    sound = np.concatenate([np.full(400, 0.01), np.full(200, 0.5), np.full(400, 0.01)])
    clip = prepared(write("a.wav", sound), trim_below_dbfs=level_dbfs)
    assert len(clip.samples) == min(kept + 2 * 22, 1000)


def test_silence_alone_is_not_cut(write: Write, prepared: Prepare) -> None:
    clip = prepared(write("a.wav", np.zeros(1000)), trim_below_dbfs=-60)
    assert (len(clip.samples), clip.conditioning.trimmed_ms) == (1000, (0, 0))
    assert [finding.check for finding in clip.findings] == ["clip.silent"]


def test_a_constant_offset_is_silence_where_the_mean_is_removed(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    sound = padded(sine(1000, seconds=0.1)) + 0.05
    assert len(prepared(write("a.wav", sound), trim_below_dbfs=-40).samples) == len(sound)
    assert len(
        prepared(write("a.wav", sound), trim_below_dbfs=-40, remove_dc=True).samples
    ) == pytest.approx(2205 + 44, abs=6)


def test_fades_are_those_of_the_trimmed_clip(write: Write, prepared: Prepare) -> None:
    file = write("a.wav", padded(np.full(1000, 0.1)))
    assert prepared(file, trim_below_dbfs=-40, fade_in_ms=10).samples[40] < 0.1 * 32768 / 10
    expected = (
        "a.wav: clip 'hum': the fades take 60 ms together; allowed: up to the 47 ms that the cut"
        " keeps."
    )
    assert message(prepared, file, trim_below_dbfs=-40, fade_in_ms=60) == expected


# ---- high-pass ----


def test_the_high_pass_leaves_what_is_above_and_takes_what_is_below(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    clip = prepared(write("a.wav", sine(50, 0.4) + sine(2000, 0.2)), high_pass_hz=400)
    lines = np.abs(np.fft.rfft(clip.samples[11_025:] / 32768)) / (11_025 / 2)
    # At 50 Hz, three octaves below, 72 dB less.
    assert lines[1000] == pytest.approx(0.2, rel=0.01) and lines[25] < 0.4 * 10 ** (-70 / 20)


def test_a_whole_loop_stays_seamless_behind_the_high_pass(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    clip = prepared(
        write("a.wav", sine(100, 0.4) + sine(1000, 0.2)),
        high_pass_hz=200,
        loop="whole",
        coding="pcm16",
    )
    turn = np.tile(clip.samples / 32768, 2)
    assert (
        np.abs(np.diff(turn, 3)[22_040:22_050]).max()
        < 1.05 * np.abs(np.diff(turn, 3)[:22_000]).max()
    )


def test_a_high_pass_above_half_the_rate_is_refused(write: Write, prepared: Prepare) -> None:
    expected = (
        "a.wav: clip 'hum': high_pass_hz is 1000 Hz, and no sound is left above that; allowed:"
        " below 1000 Hz, half of the rate."
    )
    assert (
        message(prepared, write("a.wav", np.zeros(1000)), high_pass_hz=1000, rate_hz=2000)
        == expected
    )


# ---- loop ----


def test_a_found_loop_ends_the_clip_and_has_no_seam(write: Write, prepared: Prepare) -> None:
    period = np.cumsum(np.random.default_rng(1).normal(size=630)) / 60
    sound = np.resize(period - np.linspace(period[0], period[-1], 630), 3 * RATE_HZ) * np.linspace(
        0.9, 0.7, 3 * RATE_HZ
    )
    clip = prepared(write("a.wav", sound), loop="find")
    start, end = clip.loop
    assert end == len(clip.samples) and (end - start) % 630 == 0
    assert clip.conditioning.found_loop.match > 0.95
    assert "clip.loop_seam" not in [finding.check for finding in clip.findings]


def test_a_loop_is_found_behind_the_fade(write: Write, prepared: Prepare, sine: Sine) -> None:
    clip = prepared(write("a.wav", sine(441)), loop="find", fade_in_ms=300)
    assert clip.loop[0] >= round(0.3 * RATE_HZ)


def test_what_is_too_short_for_a_loop_is_refused(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    file = write("a.wav", sine(441, seconds=0.015))
    assert (
        message(prepared, file, loop="find")
        == "a.wav: clip 'hum': 15 ms are too short to find a loop in; allowed: 20 ms or more."
    )


def test_a_fade_of_most_of_a_loop_to_be_found_is_refused(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    file = write("a.wav", sine(441))
    assert (
        message(prepared, file, loop="find", fade_in_ms=600)
        == "a.wav: clip 'hum': the fade-in of 600 ms leaves too little to find a loop in; allowed:"
        " up to 500 ms, half of the clip."
    )


# ---- match ----


def matched(folder: Path, other: PreparedClip, file: str, **settings: object) -> PreparedClip:
    return prepare(
        "hum",
        Clip(file=file, match_to="other", **settings),
        Board(channels=1),
        folder,
        matched=other,
    )


def test_a_matched_clip_is_as_loud_as_the_other(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    other = prepared(write("other.wav", sine(700, amplitude=0.25)), gain_db=-3)
    clip = matched(tmp_path, other, write("a.wav", np.random.default_rng(1).normal(size=8000) / 50))
    assert clip.loudest == pytest.approx(other.loudest, rel=1e-3)
    assert clip.loudest == pytest.approx(0.25 * 10 ** (-3 / 20) / np.sqrt(2), rel=0.01)


def test_gain_comes_on_top_of_the_match(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    other = prepared(write("other.wav", sine(700, amplitude=0.25)))
    clip = matched(tmp_path, other, write("a.wav", sine(300, amplitude=0.6)), gain_db=6)
    assert 20 * np.log10(clip.loudest / other.loudest) == pytest.approx(6, abs=0.01)


def test_a_clip_that_is_matched_to_silence_is_left_as_it_is(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    clip = matched(
        tmp_path, prepared(write("other.wav", np.zeros(1000))), write("a.wav", sine(441))
    )
    assert np.array_equal(clip.samples, prepared("a.wav").samples)


def test_a_match_beyond_full_scale_is_to_be_limited(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    other = prepared(write("other.wav", sine(441, amplitude=0.9)))
    spike = 0.01 * sine(441)
    spike[5000] = 0.5
    found = matched(tmp_path, other, write("a.wav", spike), fade_out_ms=5).findings
    assert [(finding.check, finding.remedy) for finding in found] == [
        ("clip.clipped_by_gain", "Lower gain_db, or set limit_to_dbfs = -1.")
    ]
    clip = matched(tmp_path, other, "a.wav", fade_out_ms=5, limit_to_dbfs=-1)
    assert [finding.check for finding in clip.findings] == [
        "clip.limited"
    ] and clip.conditioning.limited_db > 30


def test_a_match_without_the_other_clip_is_a_bug(write: Write, prepared: Prepare) -> None:
    with pytest.raises(ValueError, match="clip 'other' is needed"):
        prepared(write("a.wav", np.ones(100) / 2), match_to="other")


# ---- limit ----


def test_peaks_are_held_at_the_level_and_the_most_is_told(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    clip = prepared(
        write("a.wav", sine(441)), fade_out_ms=5, peak_to_dbfs=-1, gain_db=9, limit_to_dbfs=-3
    )
    assert peak_db(clip) == pytest.approx(-3, abs=0.001)
    assert clip.conditioning.limited_db == pytest.approx(11, abs=0.01)
    assert not clip.findings


@pytest.mark.parametrize(("gain_db", "limited"), [(11.9, []), (12.1, ["clip.limited"])])
def test_more_than_12_db_of_limiting_is_told(
    gain_db: float, limited: list[str], write: Write, prepared: Prepare, sine: Sine
) -> None:
    clip = prepared(
        write("a.wav", sine(441)), fade_out_ms=5, peak_to_dbfs=-3, gain_db=gain_db, limit_to_dbfs=-3
    )
    assert [finding.check for finding in clip.findings] == limited


def test_a_match_that_a_speaker_cannot_give_is_told(
    write: Write, tmp_path: Path, sine: Sine
) -> None:
    """A bass drum to be as loud as a tone through a speaker that has no lows: 40 dB apart, and
    full scale is not far.
    """
    settings = {"fade_out_ms": 5.0, "limit_to_dbfs": -1.0, "coding": "pcm16"}
    board = Board(channels=1)

    def small(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        return (frequencies_hz / 1000).clip(0, 1) ** 2 + 0j

    high = prepare(
        "other",
        Clip(file=write("high.wav", sine(1000)), **settings),
        board,
        tmp_path,
        hearing=small,
    )
    low = prepare(
        "hum",
        Clip(file=write("low.wav", sine(100)), match_to="other", **settings),
        board,
        tmp_path,
        hearing=small,
        matched=high,
    )
    found = {finding.check: finding for finding in low.findings}["clip.limited"]
    assert (
        "turned down by up to 35 dB" in found.figure
        and "it cannot be as loud as 'other'" in found.remedy
    )


def test_what_is_below_the_level_is_not_touched(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    file = write("a.wav", sine(441))
    clip = prepared(file, limit_to_dbfs=-6, coding="pcm16")
    assert (
        np.array_equal(clip.samples, prepared(file).samples) and clip.conditioning.limited_db == 0
    )


def test_a_limited_loop_has_the_same_gain_at_both_ends(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    sound = sine(441) * np.where(np.arange(RATE_HZ) > 21_000, 2.0, 0.2)
    clip = prepared(
        write("a.wav", sound), loop="whole", gain_db=6, limit_to_dbfs=-6, coding="pcm16"
    )
    first = np.abs(clip.samples[:50].astype(int)).max() / 32768
    assert first < 0.2 * 0.5 * 10 ** (6 / 20) * 0.7


# ---- order ----


def test_steps_are_taken_in_their_order(write: Write, prepared: Prepare, sine: Sine) -> None:
    """Trimmed before the high-pass would ring before it, levelled behind high-pass and fade,
    limited last.
    """
    sound = padded(sine(50, 0.8, 0.4) + sine(2000, 0.1, 0.4))
    levels = {"peak_to_dbfs": -6, "gain_db": 3, "limit_to_dbfs": -4, "coding": "pcm16"}
    clip = prepared(
        write("a.wav", sound), trim_below_dbfs=-40, high_pass_hz=800, fade_out_ms=50, **levels
    )
    assert len(clip.samples) == pytest.approx(0.4 * RATE_HZ, abs=50)
    assert clip.conditioning.limited_db == pytest.approx(1, abs=0.01)
    assert peak_db(clip) == pytest.approx(-4, abs=0.001) and abs(int(clip.samples[-1])) < 100


def test_same_file_gives_the_same_bytes(write: Write, prepared: Prepare) -> None:
    file = write("a.wav", np.random.default_rng(1).normal(size=30_000) / 5)
    settings = {
        "high_pass_hz": 300.0,
        "loop": "find",
        "rms_to_dbfs": -12.0,
        "limit_to_dbfs": -3.0,
        "rate_hz": 16_000,
    }
    assert prepared(file, **settings).data == prepared(file, **settings).data


# ---- what is stored, and what is meant ----


def test_rate_and_coding_of_the_other_clip_do_not_change_what_is_matched_to_it(
    write: Write, tmp_path: Path
) -> None:
    """Most of the other one is above what a rate of 5.5 kHz holds: matched to what is left, this
    clip would come out much softer.
    """
    board = Board(channels=1)
    chance = np.random.default_rng(4)
    high = write("high.wav", np.diff(chance.normal(size=8821), n=1) / 8)
    low = write("low.wav", chance.normal(size=8820) / 50)
    peaks = set()
    for fitted in (None, Fitted(rate_hz=5512, coding="qoa", end_ms=200, fade_out_ms=10)):
        other = prepare("other", Clip(file=high, fitted=fitted), board, tmp_path)
        peaks.add(
            prepare(
                "hum",
                Clip(file=low, match_to="other", coding="pcm16"),
                board,
                tmp_path,
                matched=other,
            ).samples.max()
        )
    assert len(peaks) == 1


@pytest.mark.parametrize("coding", ["mulaw", "ima_adpcm", "qoa"])
def test_limit_holds_for_what_is_played(
    write: Write, prepared: Prepare, sine: Sine, coding: str
) -> None:
    sound = (sine(310, 0.5, 0.2) + sine(1470, 0.4, 0.2)) * np.exp(-np.arange(4410) / 1500)
    clip = prepared(write("a.wav", sound), gain_db=9, limit_to_dbfs=-1, coding=coding)
    played = decode(clip.data, clip.coding, len(clip.samples)) / 32768
    assert -1.5 < 20 * np.log10(np.abs(played).max()) < -1 + 0.001
    assert clip.conditioning.limited_db > 3


def test_a_fitted_cut_leaves_the_level_of_what_stays(write: Write, prepared: Prepare) -> None:
    """A level is that of the whole clip: what is left by itself would have 6 dB more, and be
    turned down.
    """
    file = write("a.wav", np.concatenate([np.full(1000, 0.4), np.full(3000, 0.01)]))
    whole = prepared(file, rms_to_dbfs=-20, coding="pcm16").samples
    cut = prepared(
        file, rms_to_dbfs=-20, coding="pcm16", fitted=Fitted(end_ms=1000 * 1000 / 22050)
    ).samples
    assert np.array_equal(whole[:1000], cut)


def test_a_cut_fitted_before_the_start_leaves_nothing(write: Write, prepared: Prepare) -> None:
    file = write("a.wav", padded(np.full(2000, 0.3)))
    with pytest.raises(
        ClipError, match=r"nothing is left: it starts at \d+ ms, fitted.end_ms is 5 ms"
    ):
        prepared(file, trim_below_dbfs=-50, fitted=Fitted(end_ms=5))


@pytest.mark.parametrize("frequency_hz", [1000, 3000, 4500])
def test_what_straight_lines_take_from_the_highs_is_given_back(
    write: Write, prepared: Prepare, sine: Sine, frequency_hz: float
) -> None:
    """Between samples the player draws straight lines, whose spectrum is sinc^2(f / rate): 3.2 dB
    less at 4.5 kHz of 16 kHz, with images beside it.

    The gain that leaves the least error is D / (D^2 + I), D that of the line, I the power of the
    images (Wiener's filter).
    """
    stored = (
        prepared(
            write("a.wav", sine(frequency_hz, 0.3, 0.5)), rate_hz=16_000, coding="pcm16"
        ).samples
        / 32768
    )
    share = frequency_hz / 16_000
    line = np.sinc(share) ** 2
    images = sum(np.sinc(turn + sign * share) ** 4 for turn in range(1, 9) for sign in (-1, 1))
    assert 20 * np.log10(
        np.std(stored[500:-500]) / np.std(sine(frequency_hz, 0.3))
    ) == pytest.approx(20 * np.log10(line / (line**2 + images)), abs=0.1)


def test_a_loop_stored_lower_keeps_the_pace_of_the_whole_one(
    write: Write, prepared: Prepare, sine: Sine
) -> None:
    """Within half a sample in a hundred turns: the table says rates in 1/65536 of the board's,
    and loops are whole samples.
    """
    file = write("a.wav", sine(441, 0.5, 0.3217))
    whole, low = (
        prepared(file, loop="whole", coding="pcm16", rate_hz=rate_hz) for rate_hz in (None, 11_025)
    )
    step = round(low.rate_hz * 65536 / 22050)
    assert step * 22050 / 65536 == low.rate_hz == pytest.approx(11_025, rel=0.005)
    assert (
        100 * abs((low.loop[1] - low.loop[0]) * 65536 / step - (whole.loop[1] - whole.loop[0]))
        < 0.5
    )
