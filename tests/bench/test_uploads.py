"""Recordings dropped on the page: copied beside the sequence under a name of ours, or refused without a trace."""
import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_client import Answer, Client

WINDOWS_DEVICES = ["con", "nul", "aux", "prn", "com1", "lpt9"]


def wav(seconds: float = 0.05, channels: int = 1, rate_hz: int = 16000, kind: str = "WAV") -> bytes:
    data = io.BytesIO()
    soundfile.write(data, np.full((round(seconds * rate_hz), channels), 0.25), rate_hz, format=kind)
    return data.getvalue()


def drop(client: Client, name: str, data: bytes) -> Answer:
    return client.post("/api/clips", data, Content_Type="application/octet-stream", X_Name=name)


def files(client: Client) -> set[str]:
    return {str(path.relative_to(client.file.parent)) for path in client.file.parent.rglob("*") if path.is_file()}


def test_a_recording_becomes_a_file_and_a_clip(demo: Client) -> None:
    data = wav()
    prop = drop(demo, "thunder", data).json
    assert "thunder" in [clip["name"] for clip in prop["clips"]] and prop["dirty"]
    assert (demo.file.parent / "clips" / "thunder.wav").read_bytes() == data
    demo.post("/api/save")
    assert '[clips.thunder]\nfile = "clips/thunder.wav"\n' in demo.file.read_text() and "# the loop that" in demo.file.read_text()
    assert demo.get("/api/clips/thunder.wav").status == 200


@pytest.mark.parametrize(("kind", "suffix"), [("WAV", ".wav"), ("AIFF", ".aiff"), ("FLAC", ".flac"), ("OGG", ".ogg"), ("MP3", ".mp3")])
def test_the_file_has_the_suffix_of_what_it_is(small: Client, kind: str, suffix: str) -> None:
    assert drop(small, "thunder", wav(0.2, kind=kind)).status == 200
    assert f"clips/thunder{suffix}" in files(small)


def test_without_a_folder_of_clips_it_lies_beside_the_sequence(small_file: Path, serve) -> None:
    (small_file.parent / "clips" / "crack_a.wav").rename(small_file.parent / "crack_a.wav")
    (small_file.parent / "clips").rmdir()
    small_file.write_text(small_file.read_text().replace("clips/crack_a.wav", "crack_a.wav"))
    client = serve(small_file)
    assert drop(client, "thunder", wav()).status == 200 and "thunder.wav" in files(client)


@pytest.mark.parametrize("data", [b"", b"RIFF", b"not a sound at all", wav()[:30], bytes(1000), b"\xff\xfb" + bytes(50)])
def test_what_is_no_sound_leaves_nothing(small: Client, data: bytes) -> None:
    before = files(small)
    answer = drop(small, "thunder", data)
    assert answer.status == 422 and answer.json["faults"][0]["remedy"] and files(small) == before
    assert small.get("/api/prop").json["revision"] == 1


@pytest.mark.parametrize(("data", "found"), [(wav(channels=9), "9 channels"), (wav(rate_hz=200_000), "200000 samples a second"),
                                             (wav(seconds=601, rate_hz=2000), "601 seconds"), (wav(rate_hz=1000), "1000 samples a second")])
def test_more_than_a_clip_can_be_is_refused(small: Client, data: bytes, found: str) -> None:
    answer = drop(small, "thunder", data)
    assert answer.status == 422 and found in answer.found and "clips/thunder.wav" not in files(small)


@pytest.mark.parametrize("name", ["", "../evil", "..", "a/b", "a\\b", "Thunder", "1st", "a.b", "a" * 41, "\xe4rger", "a%2fb", "c:a", *WINDOWS_DEVICES])
def test_a_name_that_could_lead_elsewhere_is_refused(small: Client, name: str) -> None:
    before = files(small)
    assert drop(small, name, wav()).status == 422 and files(small) == before


def test_a_name_that_is_taken_is_refused_and_nothing_overwritten(small: Client) -> None:
    before = (small.file.parent / "clips" / "crack_a.wav").read_bytes()
    assert drop(small, "crack_a", wav()).status == 409
    assert drop(small, "crack", wav()).status == 422
    assert (small.file.parent / "clips" / "crack_a.wav").read_bytes() == before and "clips/crack.wav" not in files(small)


def test_a_folder_that_leads_elsewhere_is_not_written_to(small: Client, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (small.file.parent / "clips").rename(small.file.parent / "was")
    (small.file.parent / "clips").symlink_to(tmp_path / "elsewhere")
    assert drop(small, "thunder", wav()).status == 422 and not list((tmp_path / "elsewhere").iterdir())


def test_the_same_recording_can_be_dropped_again_after_undo(small: Client) -> None:
    data = wav()
    drop(small, "thunder", data)
    small.post("/api/undo")
    assert drop(small, "thunder", data).status == 200
