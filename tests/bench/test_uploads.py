"""Recordings dropped on the page: copied beside the prop file under a name of ours, or refused
without a trace.
"""

import io
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from bench_client import Answer, Client
from PIL import Image

ORIENTATION = 0x0112
"""Of Exif: how a photo is turned when it is shown (Exif 2.32, 4.6.4)."""

WINDOWS_DEVICES = ["con", "nul", "aux", "prn", "com1", "lpt9"]


def wav(seconds: float = 0.05, channels: int = 1, rate_hz: int = 16000, kind: str = "WAV") -> bytes:
    data = io.BytesIO()
    soundfile.write(data, np.full((round(seconds * rate_hz), channels), 0.25), rate_hz, format=kind)
    return data.getvalue()


def drop(client: Client, name: str, data: bytes) -> Answer:
    return client.post("/api/clips", data, Content_Type="application/octet-stream", X_Name=name)


def files(client: Client) -> set[str]:
    return {
        str(path.relative_to(client.file.parent))
        for path in client.file.parent.rglob("*")
        if path.is_file()
    }


def test_a_recording_becomes_a_file_and_a_clip(demo: Client) -> None:
    data = wav()
    prop = drop(demo, "thunder", data).json
    assert "thunder" in [clip["name"] for clip in prop["clips"]] and prop["dirty"]
    assert (demo.file.parent / "clips" / "thunder.wav").read_bytes() == data
    demo.post("/api/save")
    assert (
        '[clips.thunder]\nfile = "clips/thunder.wav"\n' in demo.file.read_text()
        and "# the loop that" in demo.file.read_text()
    )
    assert demo.get("/api/clips/thunder.wav").status == 200


@pytest.mark.parametrize(
    ("kind", "suffix"),
    [("WAV", ".wav"), ("AIFF", ".aiff"), ("FLAC", ".flac"), ("OGG", ".ogg"), ("MP3", ".mp3")],
)
def test_the_file_has_the_suffix_of_what_it_is(small: Client, kind: str, suffix: str) -> None:
    assert drop(small, "thunder", wav(0.2, kind=kind)).status == 200
    assert f"clips/thunder{suffix}" in files(small)


def test_without_a_folder_of_clips_it_lies_beside_the_sequence(small_file: Path, serve) -> None:
    (small_file.parent / "clips" / "crack_a.wav").rename(small_file.parent / "crack_a.wav")
    (small_file.parent / "clips").rmdir()
    small_file.write_text(small_file.read_text().replace("clips/crack_a.wav", "crack_a.wav"))
    client = serve(small_file)
    assert drop(client, "thunder", wav()).status == 200 and "thunder.wav" in files(client)


@pytest.mark.parametrize(
    "data", [b"", b"RIFF", b"not a sound at all", wav()[:30], bytes(1000), b"\xff\xfb" + bytes(50)]
)
def test_what_is_no_sound_leaves_nothing(small: Client, data: bytes) -> None:
    before = files(small)
    answer = drop(small, "thunder", data)
    assert answer.status == 422 and answer.json["faults"][0]["remedy"] and files(small) == before
    assert small.get("/api/prop").json["revision"] == 1


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (wav(channels=9), "9 channels"),
        (wav(rate_hz=200_000), "200000 samples a second"),
        (wav(seconds=601, rate_hz=2000), "601 seconds"),
        (wav(rate_hz=1000), "1000 samples a second"),
    ],
)
def test_more_than_a_clip_can_be_is_refused(small: Client, data: bytes, found: str) -> None:
    answer = drop(small, "thunder", data)
    assert (
        answer.status == 422 and found in answer.found and "clips/thunder.wav" not in files(small)
    )


@pytest.mark.parametrize(
    "name",
    [
        "",
        "../evil",
        "..",
        "a/b",
        "a\\b",
        "Thunder",
        "1st",
        "a.b",
        "a" * 41,
        "\xe4rger",
        "a%2fb",
        "c:a",
        *WINDOWS_DEVICES,
    ],
)
def test_a_name_that_could_lead_elsewhere_is_refused(small: Client, name: str) -> None:
    before = files(small)
    assert drop(small, name, wav()).status == 422 and files(small) == before


def test_another_recording_of_a_name_that_is_taken_gets_a_number_and_nothing_is_overwritten(
    small: Client,
) -> None:
    before = (small.file.parent / "clips" / "crack_a.wav").read_bytes()
    assert [clip["name"] for clip in drop(small, "crack", wav()).json["clips"]] == [
        "crack",
        "crack_2",
    ]
    assert [clip["name"] for clip in drop(small, "crack", wav(0.1)).json["clips"]] == [
        "crack",
        "crack_2",
        "crack_3",
    ]
    assert [clip["name"] for clip in drop(small, "crack_a", wav()).json["clips"]] == [
        "crack",
        "crack_2",
        "crack_3",
        "crack_a_2",
    ]
    assert (small.file.parent / "clips" / "crack_a.wav").read_bytes() == before
    assert (small.file.parent / "clips" / "crack_2.wav").read_bytes() == wav()


def test_the_same_recording_under_the_same_name_is_no_second_clip(small: Client) -> None:
    drop(small, "thunder", wav())
    before = files(small)
    answer = drop(small, "thunder", wav())
    assert (
        answer.status == 422
        and answer.found == "this recording is already the clip 'thunder'"
        and files(small) == before
    )


def test_a_long_name_keeps_room_for_its_number(small: Client) -> None:
    drop(small, "a" * 40, wav())
    assert drop(small, "a" * 40, wav(0.1)).json["clips"][-1]["name"] == "a" * 38 + "_2"


def test_a_folder_that_leads_elsewhere_is_not_written_to(small: Client, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (small.file.parent / "clips").rename(small.file.parent / "was")
    (small.file.parent / "clips").symlink_to(tmp_path / "elsewhere")
    assert drop(small, "thunder", wav()).status == 422 and not list(
        (tmp_path / "elsewhere").iterdir()
    )


def test_the_same_recording_can_be_dropped_again_after_undo(small: Client) -> None:
    data = wav()
    drop(small, "thunder", data)
    small.post("/api/undo")
    assert drop(small, "thunder", data).status == 200


def test_undo_of_a_drop_takes_its_file_away_and_redo_brings_it_back(small: Client) -> None:
    data = wav()
    drop(small, "thunder", data)
    file = small.file.parent / "clips" / "thunder.wav"
    small.post("/api/undo")
    assert not file.exists()
    assert small.post("/api/redo").status == 200 and file.read_bytes() == data


def test_a_file_stays_for_as_long_as_the_saved_prop_names_it(small: Client) -> None:
    drop(small, "thunder", wav())
    small.post("/api/save")
    small.post("/api/undo")
    file = small.file.parent / "clips" / "thunder.wav"
    assert file.exists()
    small.post("/api/save")
    assert not file.exists()
    assert small.post("/api/redo").status == 200 and file.exists()


def test_a_file_that_a_copy_of_the_prop_names_stays(small: Client) -> None:
    drop(small, "thunder", wav())
    small.post("/api/copy", {"name": "other"})
    small.post("/api/undo")
    assert (small.file.parent / "clips" / "thunder.wav").exists()


def test_what_undo_could_bring_back_keeps_its_name(small: Client) -> None:
    """Another recording of that name must not come in its place."""
    first = wav()
    drop(small, "thunder", first)
    small.post("/api/parts", {"do": "delete", "kind": "clips", "name": "thunder"})
    drop(small, "thunder", wav(seconds=0.2))
    small.post("/api/undo")
    small.post("/api/undo")
    assert (small.file.parent / "clips" / "thunder.wav").read_bytes() == first


def test_another_recording_takes_the_place_of_that_of_a_clip(small: Client) -> None:
    """All that is said of the clip stays, where the new recording can take it."""
    small.edit("clips", "crack", "end_ms", value=40)
    data = wav()
    answer = small.post(
        "/api/clips",
        data,
        Content_Type="application/octet-stream",
        X_Name="thunder",
        X_In_Place_Of="crack",
    )
    assert answer.status == 200
    small.post("/api/save")
    clips = tomllib.loads(small.file.read_text())["clips"]
    assert clips == {"crack": {"file": "clips/thunder.wav", "end_ms": 40}}
    for name, sound in (("crack", wav(0.01)), ("none", wav())):
        answer = small.post(
            "/api/clips",
            sound,
            Content_Type="application/octet-stream",
            X_Name="short",
            X_In_Place_Of=name,
        )
        assert answer.status == 422 and "clips/short.wav" not in files(small)


def photo(width: int = 40, height: int = 30, kind: str = "PNG", **more: Any) -> bytes:
    data = io.BytesIO()
    Image.new("RGB", (width, height), (200, 40, 10)).save(data, kind, **more)
    return data.getvalue()


def lay(client: Client, name: str, data: bytes) -> Answer:
    return client.post("/api/picture", data, Content_Type="application/octet-stream", X_Name=name)


@pytest.mark.parametrize(
    ("kind", "suffix", "mime"),
    [("PNG", ".png", "image/png"), ("JPEG", ".jpg", "image/jpeg"), ("WEBP", ".webp", "image/webp")],
)
def test_a_photo_becomes_the_picture_on_a_plane_that_holds_the_present_one(
    demo: Client, kind: str, suffix: str, mime: str
) -> None:
    data = photo(kind=kind)
    before = demo.file.read_text()
    picture = lay(demo, "prop", data).json["picture"]
    assert (picture["width_mm"], picture["height_mm"], picture["file"]) == (
        320,
        240,
        f"prop{suffix}",
    )
    answer = demo.get("/api/picture")
    assert answer.body == data and answer.headers["content-type"] == mime
    assert demo.post("/api/undo").json["picture"]["width_mm"] == 160
    demo.post("/api/redo"), demo.post("/api/save")
    assert demo.file.read_text() == before.replace(
        "width_mm = 160\n", "width_mm = 320.0\n"
    ).replace("46, 28],\n]\n", f'46, 28],\n]\nimage = "prop{suffix}"\n')


def test_a_photo_of_the_shape_of_the_plane_leaves_its_size(demo: Client) -> None:
    picture = lay(demo, "prop", photo(320, 481)).json["picture"]
    assert (picture["width_mm"], picture["height_mm"]) == (160, 240)


def test_a_photo_that_is_turned_as_it_is_shown_counts_as_it_is_seen(demo: Client) -> None:
    turned = Image.Exif()
    turned[ORIENTATION] = 6
    picture = lay(demo, "prop", photo(480, 320, "JPEG", exif=turned)).json["picture"]
    assert (picture["width_mm"], picture["height_mm"]) == (160, 240)


def test_a_photo_under_lamps_that_had_no_plane(small: Client) -> None:
    picture = lay(small, "prop", photo()).json["picture"]
    assert picture["height_mm"] / picture["width_mm"] == pytest.approx(0.75, abs=0.01)
    small.post("/api/save")
    assert tomllib.loads(small.file.read_text())["picture"]["image"] == "prop.png"


def test_a_second_photo_of_a_name_gets_a_number(small: Client) -> None:
    assert lay(small, "prop", photo()).json["picture"]["file"] == "prop.png"
    assert lay(small, "prop", photo(41)).json["picture"]["file"] == "prop_2.png"
    assert lay(small, "prop", photo()).json["picture"]["file"] == "prop.png"


@pytest.mark.parametrize(
    "make",
    [
        lambda: b"",
        lambda: b"\x89PNG\r\n",
        lambda: photo()[:60],
        lambda: photo(kind="JPEG")[:300],
        lambda: photo(kind="GIF"),
        lambda: photo(kind="TIFF"),
        wav,
        lambda: b"<svg/>",
        lambda: photo(8000, 7000, compress_level=1),
    ],
)
def test_what_is_no_photo_leaves_nothing(small: Client, make: Callable[[], bytes]) -> None:
    before = files(small)
    answer = lay(small, "prop", make())
    assert answer.status == 422 and answer.json["faults"][0]["remedy"] and files(small) == before
    assert small.get("/api/prop").json["revision"] == 1


def test_a_photo_that_is_too_large_is_refused_before_it_is_read(small: Client) -> None:
    answer = small.post(
        "/api/picture",
        b"",
        Content_Type="application/octet-stream",
        X_Name="prop",
        Content_Length=str(25 * 2**20),
    )
    assert answer.status == 413 and answer.json["faults"][0]["allowed"] == "up to 24 MiB"


def test_a_small_file_of_too_many_samples_is_refused(small: Client) -> None:
    data = io.BytesIO()
    soundfile.write(data, np.zeros(28_900_000, np.int16), 96_000, format="FLAC")
    before = files(small)
    refused = drop(small, "long", data.getvalue())
    assert (refused.status, refused.found) == (422, "it has 28.9 million samples")
    assert files(small) == before
