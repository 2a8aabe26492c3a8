"""A clip from its file to its samples: the steps together, its loop, and what must hold for
every cut.
"""

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fxseq.clips import PreparedClip, decode, encode, prepare
from fxseq.sequence.errors import ClipError
from fxseq.sequence.model import Board, Clip, Fitted, Loop

Write = Callable[..., str]
Prepare = Callable[..., PreparedClip]
Sine = Callable[..., NDArray[np.float64]]
Bytes = Callable[..., bytes]


def message(prepared: Prepare, file: str, **settings: object) -> str:
    with pytest.raises(ClipError) as caught:
        prepared(file, **settings)
    return str(caught.value)


def test_a_16_bit_file_at_the_rate_of_the_board_comes_through_bit_by_bit(
    wav: Write, prepared: Prepare
) -> None:
    sound = np.random.default_rng(7).integers(-32768, 32768, 500).astype(np.int16)
    assert (prepared(wav(sound)).samples == sound).all()


def test_a_cut_keeps_what_lies_between_its_ends(wav: Write, prepared: Prepare) -> None:
    clip = prepared(wav(np.arange(1000), rate_hz=10_000), board_hz=10_000, start_ms=10, end_ms=15)
    assert clip.samples.tolist() == list(range(100, 150))


def test_a_fitted_cut_is_a_time_in_the_file(wav: Write, prepared: Prepare) -> None:
    file = wav(np.arange(1000), rate_hz=10_000)
    clip = prepared(file, board_hz=10_000, start_ms=10, fitted=Fitted(end_ms=30))
    assert clip.samples.tolist() == list(range(100, 300))


def test_name_rate_and_coding_are_those_of_the_clip(wav: Write, prepared: Prepare) -> None:
    clip = prepared(wav(np.arange(1000)), rate_hz=11_025, coding="pcm16")
    assert (clip.name, clip.rate_hz, clip.coding, clip.loop, len(clip.samples)) == (
        "hum",
        11_025,
        "pcm16",
        None,
        500,
    )


def test_the_samples_cannot_be_changed_by_accident(wav: Write, prepared: Prepare) -> None:
    with pytest.raises(ValueError, match="read-only"):
        prepared(wav(np.arange(1000))).samples[0] = 1


def test_the_mean_is_removed_before_anything_is_faded(write: Write, prepared: Prepare) -> None:
    clip = prepared(write("a.wav", np.full(1000, 0.25)), remove_dc=True, fade_in_ms=5)
    assert not clip.samples.any()


def test_gain_comes_on_top_of_the_level(write: Write, prepared: Prepare, sine: Sine) -> None:
    clip = prepared(write("a.wav", sine(22_050 / 40, amplitude=0.1)), peak_to_dbfs=-3, gain_db=-3)
    # The file's own peak of 3277 is known to one step, 0.003 dB.
    assert 20 * np.log10(clip.samples.max() / 32768) == pytest.approx(-6, abs=0.004)


def test_the_peak_is_that_of_the_faded_sound(write: Write, prepared: Prepare) -> None:
    sound = np.concatenate([np.full(100, 0.9), np.full(2000, 0.1)])
    clip = prepared(write("a.wav", sound), fade_in_ms=1000 * 2000 / 22050, peak_to_dbfs=0)
    assert clip.samples.max() == 32767
    assert clip.samples.argmax() > 1900


def test_the_loop_of_a_file_is_moved_by_the_cut_and_the_rate(
    wav: Write, prepared: Prepare, chunk: Bytes, smpl: Bytes
) -> None:
    file = wav(np.zeros(44_100), chunk(b"smpl", smpl((8820, 17_639, 0))), rate_hz=44_100)
    clip = prepared(file, start_ms=100, loop="file")
    assert clip.loop == (2205, 6615)
    assert len(clip.samples) == 6615


def test_a_loop_of_our_own_is_measured_in_the_cut_clip(wav: Write, prepared: Prepare) -> None:
    clip = prepared(wav(np.arange(2205)), start_ms=20, loop=Loop(start_ms=10, end_ms=30))
    assert clip.loop == (220, 662)
    assert clip.samples.tolist() == list(range(441, 441 + 662))


def test_a_loop_without_an_end_runs_to_that_of_the_clip(wav: Write, prepared: Prepare) -> None:
    assert prepared(wav(np.arange(2205)), loop=Loop(start_ms=10)).loop == (220, 2205)


def test_a_loop_to_the_end_of_the_cut_may_be_rounded_beyond_it(
    wav: Write, prepared: Prepare
) -> None:
    """30 to 70 ms are samples 662 to 1544, and 40 ms are rounded up to 883 instead of 882."""
    file = wav(np.arange(2205))
    clip = prepared(file, start_ms=30.001, end_ms=70.001, loop=Loop(start_ms=0, end_ms=40.03))
    assert clip.loop == (0, 882)
    with pytest.raises(ClipError):
        prepared(file, start_ms=30.001, end_ms=70.001, loop=Loop(start_ms=0, end_ms=40.1))


def test_a_whole_loop_is_the_whole_clip(wav: Write, prepared: Prepare) -> None:
    assert prepared(wav(np.arange(2205)), loop="whole").loop == (0, 2205)


def test_a_file_without_a_loop_cannot_be_looped_by_it(wav: Write, prepared: Prepare) -> None:
    expected = (
        "hand.wav: clip 'hum': loop is file, but the file has no loop; allowed: a smpl chunk with a"
        " forward loop. Set the loop in the sound editor and export as WAV, or give start_ms and"
        " end_ms."
    )
    assert message(prepared, wav(np.arange(100)), loop="file") == expected


def test_a_loop_outside_the_cut_is_refused(
    wav: Write, prepared: Prepare, chunk: Bytes, smpl: Bytes
) -> None:
    file = wav(np.zeros(22_050), chunk(b"smpl", smpl((2205, 22_049, 0))))
    expected = (
        "hand.wav: clip 'hum': the loop is from -400 to 500 ms of the cut clip; allowed: inside 0"
        " to 500 ms, end after start. Move the loop or the cut."
    )
    assert message(prepared, file, start_ms=500, loop="file") == expected


@pytest.mark.parametrize("samples, fits", [(31, False), (32, True)])
def test_a_loop_of_fewer_than_32_samples_is_refused(
    samples: int, fits: bool, wav: Write, prepared: Prepare
) -> None:
    file = wav(np.zeros(2 * samples), rate_hz=44_100)
    if fits:
        assert prepared(file, loop="whole").loop == (0, samples)
        return
    expected = (
        "hand.wav: clip 'hum': the loop is 31 samples long at 22050 Hz; allowed: 32 samples or"
        " more. Make the loop longer, for example several periods."
    )
    assert message(prepared, file, loop="whole") == expected


def test_a_rate_above_that_of_the_board_is_refused(wav: Write, prepared: Prepare) -> None:
    expected = (
        "hand.wav: clip 'hum': rate_hz is 44100 Hz; allowed: up to the board's 22050 Hz. A higher"
        " rate takes flash and cannot be heard."
    )
    assert message(prepared, wav(np.arange(100)), rate_hz=44_100) == expected
    assert prepared("hand.wav", rate_hz=22_050).rate_hz == 22_050


def test_two_levels_at_once_are_refused(wav: Write, prepared: Prepare) -> None:
    expected = (
        "hand.wav: clip 'hum': both peak_to_dbfs and rms_to_dbfs are set; allowed: one of them."
    )
    assert message(prepared, wav(np.arange(100)), peak_to_dbfs=-1, rms_to_dbfs=-9) == expected


def test_fades_longer_than_the_clip_are_refused(wav: Write, prepared: Prepare) -> None:
    expected = (
        "hand.wav: clip 'hum': the fades take 120 ms together; allowed: up to the 100 ms that the"
        " cut keeps."
    )
    assert message(prepared, wav(np.zeros(2205)), fade_in_ms=60, fade_out_ms=60) == expected


def test_a_fade_out_of_a_loop_is_refused(wav: Write, prepared: Prepare) -> None:
    expected = (
        "hand.wav: clip 'hum': fade_out_ms is set, but a clip with a loop has no end. Leave it out;"
        " the sound's release_ms ends a loop."
    )
    assert message(prepared, wav(np.zeros(2205)), fade_out_ms=5, loop="whole") == expected


def test_a_fade_into_a_loop_is_refused(wav: Write, prepared: Prepare) -> None:
    expected = (
        "hand.wav: clip 'hum': the fade-in of 60 ms reaches into the loop; allowed: up to 50 ms,"
        " the loop's start."
    )
    assert message(prepared, wav(np.zeros(2205)), fade_in_ms=60, loop=Loop(start_ms=50)) == expected


@settings(max_examples=150, deadline=None)
@given(
    file_hz=st.sampled_from([8000, 22_050, 44_100, 48_000]),
    board_hz=st.sampled_from([8000, 16_000, 22_050, 48_000]),
    times_ms=st.lists(st.floats(0, 200), min_size=4, max_size=4).map(sorted),
    looped=st.booleans(),
)
def test_a_cut_and_its_loop_always_fit_together(
    file_hz: int, board_hz: int, times_ms: list[float], looped: bool
) -> None:
    """Either a clear fault, or samples of the right length with the loop at their end."""
    start, loop_start, loop_end, end = times_ms
    loop = Loop(start_ms=loop_start - start, end_ms=loop_end - start) if looped else None
    with TemporaryDirectory() as folder:
        soundfile.write(f"{folder}/a.wav", np.zeros(file_hz // 5), file_hz)
        try:
            clip = prepare(
                "a",
                Clip(file="a.wav", start_ms=start, end_ms=end, loop=loop),
                board(board_hz),
                Path(folder),
            )
        except ClipError as error:
            assert min(np.diff(times_ms)) * min(
                file_hz, board_hz
            ) < 33 * 1000 or "loop is from" in str(error)
            return
    kept_ms = (loop_end if looped else end) - start
    # Each end is rounded to a sample of the file, then the length to one of the board; a loop may
    # stretch all by half a sample a turn.
    stretch = 0.5 * kept_ms / max(1, loop_end - loop_start) if looped else 0
    assert len(clip.samples) == pytest.approx(
        kept_ms * board_hz / 1000, abs=1.5 + 1.5 * board_hz / file_hz + 1.1 * stretch
    )
    if looped:
        first, stop = clip.loop
        assert 0 <= first < stop == len(clip.samples)
        assert stop - first >= 32


def board(sample_rate_hz: int) -> Board:
    return Board(channels=1, sample_rate_hz=sample_rate_hz)


@given(st.binary(max_size=200).map(lambda data: data[: len(data) // 2 * 2]))
def test_plain_samples_are_stored_as_they_are(data: bytes) -> None:
    assert encode(decode(data, "pcm16", len(data) // 2), "pcm16") == data


def test_plain_samples_are_little_endian() -> None:
    assert encode(np.array([1, -2], np.int16), "pcm16") == bytes.fromhex("0100feff")


def test_a_coding_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="no coding 'opus'"):
        encode(np.zeros(1, np.int16), "opus")
    with pytest.raises(ValueError, match="no coding 'opus'"):
        decode(b"", "opus", 1)
