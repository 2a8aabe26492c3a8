"""Files of every kind, and every message about a file that cannot be used, compared whole."""

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from fxseq.clips import PreparedClip
from fxseq.sequence.errors import ClipError

Write = Callable[..., str]
Prepare = Callable[..., PreparedClip]
Sine = Callable[..., NDArray[np.float64]]
Bytes = Callable[..., bytes]

FORMATS = "allowed: WAV, AIFF, FLAC, OGG or MP3. Export it again from the sound editor."


def message(prepared: Prepare, file: str, **settings: object) -> str:
    with pytest.raises(ClipError) as caught:
        prepared(file, **settings)
    return str(caught.value)


@pytest.mark.parametrize(
    "name, subtype, largest_error",
    [
        ("a.wav", "PCM_16", 1),
        ("a.wav", "PCM_24", 1),
        ("a.wav", "PCM_32", 1),
        ("a.wav", "FLOAT", 1),
        ("a.wav", "DOUBLE", 1),
        ("a.flac", "PCM_16", 1),
        ("a.flac", "PCM_24", 1),
        ("a.aiff", "PCM_16", 1),
        ("a.aiff", "PCM_24", 1),
        # 8 bit steps are 256; the laws' largest half step is 512, and the encoder is off by a few;
        # lossy kinds only have to sound alike.
        ("a.wav", "PCM_U8", 257),
        ("a.wav", "ULAW", 520),
        ("a.ogg", "VORBIS", 2000),
        ("a.mp3", "MPEG_LAYER_III", 2000),
    ],
)
def test_samples_come_through_from_every_format(
    name: str, subtype: str, largest_error: int, write: Write, prepared: Prepare, sine: Sine
) -> None:
    tone = sine(440)
    got = prepared(write(name, tone, subtype=subtype)).samples
    assert len(got) == len(tone)
    assert np.abs(got - 32768 * tone)[2000:-2000].max() <= largest_error


@pytest.mark.parametrize("rate_hz", [8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000, 192000])
def test_every_rate_comes_to_the_rate_of_the_board(
    rate_hz: int, write: Write, prepared: Prepare, sine: Sine
) -> None:
    clip = prepared(write("a.wav", sine(440, rate_hz=rate_hz), rate_hz))
    assert (clip.rate_hz, len(clip.samples)) == (22050, 22050)


@pytest.mark.parametrize("channel, expected", [("mix", 2000), ("left", 1000), ("right", 5000)])
def test_a_channel_is_taken_or_the_mean_of_all(
    channel: str, expected: int, write: Write, prepared: Prepare
) -> None:
    file = write("a.wav", np.full((100, 3), [1000, 5000, 0]) / 32768)
    assert set(prepared(file, channel=channel).samples.tolist()) == {expected}


def test_a_long_file_is_read_across_blocks_without_a_seam(write: Write, prepared: Prepare) -> None:
    ramp = np.arange(150_000) % 30_000 / 32768
    assert (prepared(write("a.wav", ramp)).samples == np.arange(150_000) % 30_000).all()


def test_a_part_of_a_file_longer_than_ten_minutes_is_read(write: Write, prepared: Prepare) -> None:
    sound = np.zeros(4000 * 700)
    sound[4000 * 650] = 0.5
    clip = prepared(write("a.wav", sound, 4000), board_hz=4000, start_ms=650_000, end_ms=650_100)
    assert clip.samples.tolist() == [16384] + 399 * [0]


def test_a_missing_file_is_met_with_the_name_most_alike(write: Write, prepared: Prepare) -> None:
    write("Arc_Hum.wav", np.zeros(10))
    assert (
        message(prepared, "ARC_HUM.WAV")
        == "ARC_HUM.WAV: clip 'hum': there is no such file. Did you mean 'Arc_Hum.wav'?"
    )
    assert (
        message(prepared, "arc_humm.wav")
        == "arc_humm.wav: clip 'hum': there is no such file. Did you mean 'Arc_Hum.wav'?"
    )


def test_a_missing_file_without_one_alike_is_told_where_names_start(prepared: Prepare) -> None:
    expected = (
        "hum.wav: clip 'hum': there is no such file. Check the path; it starts at the prop file's"
        " folder."
    )
    assert message(prepared, "hum.wav") == expected


def test_a_missing_folder_is_named(prepared: Prepare) -> None:
    expected = (
        "sounds/hum.wav: clip 'hum': there is no such file. The folder sounds is not there either;"
        " check the path."
    )
    assert message(prepared, "sounds/hum.wav") == expected


def test_a_folder_is_no_sound_file(tmp_path: Path, prepared: Prepare) -> None:
    (tmp_path / "clips").mkdir()
    assert (
        message(prepared, "clips")
        == "clips: clip 'hum': is a folder; allowed: a sound file. Name a file in it."
    )


def test_a_pipe_is_not_waited_for(tmp_path: Path, prepared: Prepare) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    expected = (
        "pipe.wav: clip 'hum': is a device or a pipe; allowed: a sound file. Name a sound file on"
        " disk."
    )
    assert message(prepared, "pipe.wav") == expected


def test_a_file_that_may_not_be_read_says_so(
    write: Write, prepared: Prepare, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The refusal is staged, since tests may run as a user whom no permission stops."""
    file = write("a.wav", np.zeros(10))
    monkeypatch.setattr(Path, "open", refuse(PermissionError(13, "Permission denied")))
    expected = (
        "a.wav: clip 'hum': you have no permission to read it. Change the file's permissions, or"
        " copy it."
    )
    assert message(prepared, file) == expected


def test_a_disk_that_fails_is_reported_with_its_own_words(
    write: Write, prepared: Prepare, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = write("a.wav", np.zeros(10))
    monkeypatch.setattr(Path, "open", refuse(OSError(5, "Input/output error")))
    assert (
        message(prepared, file)
        == "a.wav: clip 'hum': cannot be read: Input/output error. Copy the file to another disk."
    )


def refuse(error: OSError) -> Callable[..., None]:
    def refusing(*_args: object, **_keywords: object) -> None:
        raise error

    return refusing


def test_an_empty_file_says_so(tmp_path: Path, prepared: Prepare) -> None:
    (tmp_path / "a.wav").write_bytes(b"")
    assert (
        message(prepared, "a.wav")
        == "a.wav: clip 'hum': the file is empty (0 bytes). Export it again from the sound editor."
    )


@pytest.mark.parametrize(
    "content",
    [b"Dear sir,\n", b"RIFF", b"RIFF\x24\0\0\0WAVEfmt ", b"OggS" + bytes(60), b"fLaC" + bytes(60)],
)
def test_what_is_not_sound_is_refused(content: bytes, tmp_path: Path, prepared: Prepare) -> None:
    (tmp_path / "a.wav").write_bytes(content)
    assert (
        message(prepared, "a.wav")
        == f"a.wav: clip 'hum': cannot be read as sound, or is damaged; {FORMATS}"
    )


def test_a_flac_file_that_is_cut_off_is_refused(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    file = tmp_path / write("a.flac", sine(440))
    file.write_bytes(file.read_bytes()[:-300])
    assert (
        message(prepared, "a.flac")
        == f"a.flac: clip 'hum': cannot be read as sound, or is damaged; {FORMATS}"
    )


def test_raw_samples_are_refused(tmp_path: Path, prepared: Prepare) -> None:
    (tmp_path / "a.raw").write_bytes(bytes(100))
    assert (
        message(prepared, "a.raw")
        == f"a.raw: clip 'hum': a file of raw samples does not say its rate; {FORMATS}"
    )


def test_a_file_without_samples_says_so(write: Write, prepared: Prepare) -> None:
    expected = (
        "a.wav: clip 'hum': there is no sound in it (0 samples). Export it again from the sound"
        " editor."
    )
    assert message(prepared, write("a.wav", np.zeros(0))) == expected


def test_a_flac_stream_of_unknown_length_says_so(
    write: Write, prepared: Prepare, tmp_path: Path
) -> None:
    file = tmp_path / write("a.flac", np.zeros(5000))
    content = bytearray(file.read_bytes())
    content[
        21
        # the 36-bit number of samples in the STREAMINFO block, RFC 9639 section 8.2; 0 is unknown
    ] &= 0xF0
    content[22:26] = bytes(4)
    file.write_bytes(content)
    expected = (
        "a.flac: clip 'hum': the file does not say how long it is. Export it again from the sound"
        " editor."
    )
    assert message(prepared, "a.flac") == expected


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e308, -2e6])
def test_samples_that_are_no_sound_are_counted(bad: float, write: Write, prepared: Prepare) -> None:
    sound = np.zeros((100, 2))
    sound[40:43, 1] = bad
    file = write("a.wav", sound, subtype="DOUBLE")
    expected = (
        "a.wav: clip 'hum': 3 of 100 samples are not valid (NaN, infinite or far too large). Export"
        " it again from the sound editor."
    )
    assert message(prepared, file) == expected
    assert len(prepared(file, channel="left").samples) == 100


def test_ten_minutes_and_more_are_refused(write: Write, prepared: Prepare) -> None:
    file = write("a.wav", np.zeros(2000 * 630), 2000)
    expected = (
        "a.wav: clip 'hum': the sound is 10.5 minutes long; allowed: up to 10 minutes. Cut it with"
        " start_ms and end_ms."
    )
    assert message(prepared, file, rate_hz=2000) == expected


def test_a_small_file_of_too_many_samples_is_refused_unread(
    tmp_path: Path, prepared: Prepare
) -> None:
    soundfile.write(tmp_path / "a.flac", np.zeros(28_900_000, np.int16), 96_000)
    assert (tmp_path / "a.flac").stat().st_size < 500_000
    expected = (
        "a.flac: clip 'hum': the sound has 29 million samples; allowed: up to 28.8 million, 10"
        " minutes at 48 kHz. Export it at 48 kHz, or cut it with start_ms and end_ms."
    )
    assert message(prepared, "a.flac") == expected


def test_the_right_channel_of_a_mono_file_is_refused(write: Write, prepared: Prepare) -> None:
    expected = (
        "a.wav: clip 'hum': channel is right, but the file has only one channel; allowed: mix or"
        " left."
    )
    assert message(prepared, write("a.wav", np.zeros(10)), channel="right") == expected


@pytest.mark.parametrize(
    "settings, expected",
    [
        ({"start_ms": 1000}, "start_ms is 1000 ms, but the file is 1000 ms long. Start earlier."),
        (
            {"end_ms": 1000.5},
            "end_ms is 1000.5 ms, but the file is 1000 ms long. End earlier, or leave end_ms out.",
        ),
        (
            {"start_ms": 500, "end_ms": 500},
            (
                "nothing is left: start_ms is 500 ms, end_ms is 500 ms; allowed: end_ms after the"
                " start."
            ),
        ),
        (
            {"start_cue": 1},
            (
                "start_cue is 1; allowed: none, the file has no cue points. Set the cue in the"
                " sound editor, or use start_ms."
            ),
        ),
    ],
)
def test_a_cut_outside_the_sound_is_refused(
    settings: dict[str, float], expected: str, write: Write, prepared: Prepare
) -> None:
    file = write("a.wav", np.zeros(22050))
    assert message(prepared, file, **settings) == f"a.wav: clip 'hum': {expected}"


@pytest.mark.parametrize("name", ["talk.m4a", "film.MP4"])
def test_a_file_of_a_telephone_is_named_for_what_it_is(
    prepared: Prepare, tmp_path: Path, name: str
) -> None:
    (tmp_path / name).write_bytes(b"\0\0\0\x20ftypM4A " + bytes(400))
    kind = name.partition(".")[2].upper()
    expected = (
        f"{name}: clip 'hum': {kind} files, as phones and video programs write them, cannot be"
        f" read; {FORMATS}"
    )
    assert message(prepared, name) == expected.replace(
        "Export it again from the sound editor.", "Open it in a sound editor and export it as WAV."
    )


def test_a_cut_behind_the_end_of_an_mp3_cut_off_is_refused(
    write: Write, prepared: Prepare, sine: Sine, tmp_path: Path
) -> None:
    file = tmp_path / write("a.mp3", sine(441, seconds=2))
    file.write_bytes(file.read_bytes()[:2000])
    expected = (
        "a.mp3: clip 'hum': there is no sound where the cut begins. Export it again from the sound"
        " editor."
    )
    assert message(prepared, "a.mp3", start_ms=1900) == expected


def test_both_ends_of_a_cut_are_reported_at_once(write: Write, prepared: Prepare) -> None:
    with pytest.raises(ClipError) as caught:
        prepared(
            write("a.wav", np.zeros(22050)),
            start_ms=2000,
            end_ms=3000,
            rate_hz=48_000,
            peak_to_dbfs=-1,
            rms_to_dbfs=-9,
        )
    assert [fault.what for fault in caught.value.faults] == [
        "clip 'hum': rate_hz is 48000 Hz",
        "clip 'hum': both peak_to_dbfs and rms_to_dbfs are set",
        "clip 'hum': start_ms is 2000 ms, but the file is 1000 ms long",
        "clip 'hum': end_ms is 3000 ms, but the file is 1000 ms long",
    ]


def test_a_cut_starts_at_a_cue_counted_from_one(
    wav: Write, prepared: Prepare, chunk: Bytes, cue: Bytes
) -> None:
    file = wav(np.arange(100), chunk(b"cue ", cue(60, 20)))
    assert prepared(file, start_cue=2).samples.tolist() == list(range(60, 100))


def test_a_cue_that_is_not_there_is_met_with_their_number(
    wav: Write, prepared: Prepare, chunk: Bytes, cue: Bytes
) -> None:
    file = wav(np.arange(100), chunk(b"cue ", cue(60, 20)))
    expected = (
        "hand.wav: clip 'hum': start_cue is 3; allowed: 1 to 2. Set the cue in the sound editor, or"
        " use start_ms."
    )
    assert message(prepared, file, start_cue=3) == expected


def test_a_cue_behind_the_sound_is_refused(
    wav: Write, prepared: Prepare, chunk: Bytes, cue: Bytes
) -> None:
    file = wav(np.arange(2205), chunk(b"cue ", cue(22050)))
    expected = (
        "hand.wav: clip 'hum': cue 1 is at 1000 ms, but the file is 100 ms long. Start earlier."
    )
    assert message(prepared, file, start_cue=1) == expected


def test_the_file_is_found_from_the_folder_and_by_an_absolute_path(
    write: Write, prepared: Prepare, tmp_path: Path
) -> None:
    (tmp_path / "clips").mkdir()
    soundfile.write(tmp_path / "clips" / "a.wav", np.full(10, 0.25), 22050)
    for file in ("clips/a.wav", str(tmp_path / "clips" / "a.wav")):
        assert prepared(file).samples.tolist() == 10 * [8192]


@pytest.mark.parametrize("suffix", ["wav", "aiff", "flac", "ogg"])
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    damage=st.dictionaries(st.integers(4, 90), st.integers(0, 255), min_size=1, max_size=6),
    kept=st.floats(0.1, 1),
)
def test_a_damaged_header_ends_in_samples_or_in_a_fault(
    suffix: str,
    damage: dict[int, int],
    kept: float,
    write: Write,
    prepared: Prepare,
    tmp_path: Path,
) -> None:
    whole = tmp_path / write(f"whole.{suffix}", 0.5 * np.sin(0.1 * np.arange(3000)))
    content = bytearray(whole.read_bytes())
    for place, value in damage.items():
        content[place] = value
    (tmp_path / f"damaged.{suffix}").write_bytes(content[: round(kept * len(content))])
    try:
        clip = prepared(f"damaged.{suffix}", loop="whole")
    except ClipError as error:
        assert str(error).startswith(f"damaged.{suffix}: clip 'hum': ")
    else:
        assert clip.loop == (0, len(clip.samples))
