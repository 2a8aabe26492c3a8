"""Edits that were not saved when the bench ended, offered at the next start."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from bench_client import Client, news
from processes import WITH_US

from fxseq.bench import Desk
from fxseq.bench.unsaved import Unsaved

STATE = "unsaved"
"""Folder beside that of the prop in which the tests' benches keep such edits."""


def kept(file: Path) -> list[Path]:
    return sorted((file.parent.parent / STATE).glob("*.toml"))


def title(client: Client) -> str:
    return client.get("/api/prop").json["title"]


def test_edits_that_were_not_saved_are_offered_taken_and_undone(serve, small_file: Path) -> None:
    first = serve(small_file)
    assert first.get("/api/prop").json["found"] is None
    first.edit("title", value="Second light")
    again = serve(small_file)
    found = again.get("/api/prop").json["found"]
    assert (
        found["at"] == time.strftime("%H:%M", time.localtime(kept(small_file)[0].stat().st_mtime))
        and not found["is_older"]
    )
    assert title(again) == "First light"
    answer = again.post("/api/unsaved", {"take": True}).json
    assert (answer["title"], answer["dirty"], answer["can_undo"], answer["found"]) == (
        "Second light",
        True,
        True,
        None,
    )
    assert again.post("/api/undo").json["title"] == "First light"


def test_edits_that_are_dropped_are_not_offered_again(serve, small_file: Path) -> None:
    serve(small_file).edit("title", value="Second light")
    again = serve(small_file)
    assert (
        again.post("/api/unsaved", {"take": False}).json["found"] is None and kept(small_file) == []
    )
    assert serve(small_file).get("/api/prop").json["found"] is None
    assert again.post("/api/unsaved", {"take": True}).status == 422


@pytest.mark.parametrize("way", ["save", "undo"])
def test_nothing_is_kept_once_it_is_saved_or_undone(small: Client, way: str) -> None:
    small.edit("title", value="Second light")
    assert len(kept(small.file)) == 1
    small.post(f"/api/{way}")
    assert kept(small.file) == []


def test_an_offer_outlives_new_edits_until_it_is_decided(serve, small_file: Path) -> None:
    serve(small_file).edit("title", value="Second light")
    again = serve(small_file)
    answer = again.edit("title", value="Third light").json
    assert (
        answer["found"]
        and not answer["is_kept"]
        and "Second light" in kept(small_file)[0].read_text()
    )
    again.post("/api/save")
    assert again.post("/api/unsaved", {"take": True}).json["title"] == "Second light"
    assert again.post("/api/undo").json["title"] == "Third light"


def test_a_file_that_was_written_to_since_is_told(serve, small_file: Path) -> None:
    serve(small_file).edit("title", value="Second light")
    small_file.write_text(small_file.read_text() + "# by hand\n")
    os.utime(small_file, (time.time() + 5,) * 2)
    assert serve(small_file).get("/api/prop").json["found"]["is_older"]


def test_edits_that_compile_no_more_stay_offered(serve, small_file: Path) -> None:
    first = serve(small_file)
    first.edit("title", value="Second light")
    kept(small_file)[0].write_text(small_file.read_text().replace("crack_a.wav", "gone.wav"))
    again = serve(small_file)
    answer = again.post("/api/unsaved", {"take": True})
    assert (
        answer.status == 422
        and "gone.wav" in answer.body.decode()
        and again.get("/api/prop").json["found"]
    )


@pytest.mark.parametrize("body", [{}, {"take": 1}, {"take": None}])
def test_an_answer_that_is_none_is_refused(small: Client, body: dict[str, object]) -> None:
    assert small.post("/api/unsaved", body).status == 400


def test_other_tabs_hear_that_it_is_decided(serve, small_file: Path) -> None:
    serve(small_file).edit("title", value="Second light")
    again = serve(small_file)
    with again.listen() as other:
        again.post("/api/unsaved", {"take": False})
        assert news(other, "found") is None


def test_where_nothing_can_be_kept_edits_go_on_and_it_is_told(
    tmp_path: Path, small_file: Path
) -> None:
    (tmp_path / "file").write_text("no folder")
    desk = Desk(small_file)
    unsaved = Unsaved(desk, tmp_path / "file" / "below")
    desk.edit([(("title",), "Second light")])
    unsaved.follow()
    assert not unsaved.is_kept and desk.dirty


@contextmanager
def killed_at_the_end(file: Path) -> Iterator[subprocess.Popen[str]]:
    """A bench of a process of its own, which gets no chance to tidy up."""
    command = [
        sys.executable,
        "-c",
        "from fxseq.cli import main; main()",
        "bench",
        str(file),
        "--no-browser",
    ]
    home = {**os.environ, "XDG_STATE_HOME": str(file.parent.parent / "state")}
    with subprocess.Popen(
        [*WITH_US, *command], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=home
    ) as process:
        try:
            yield process
        finally:
            os.kill(process.pid, signal.SIGKILL)


def test_a_bench_that_is_killed_loses_nothing(
    small_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed while there are edits, three times: the file is whole and as saved, and every edit
    that was answered is offered.
    """
    for count in range(1, 4):
        before = small_file.read_bytes()
        with killed_at_the_end(small_file) as process:
            assert process.stdout is not None
            host, token = process.stdout.readline().strip().removeprefix("http://").split("/#t=")
            monkeypatch.setattr("bench_client.TOKEN", token)
            client = Client(int(host.split(":")[1]), small_file)
            found = client.get("/api/prop").json["found"]
            assert (found is None) == (count == 1)
            if found:
                assert (
                    client.post("/api/unsaved", {"take": True}).json["title"]
                    == f"Light {count - 1}"
                )
            if count == 2:
                client.post("/api/save")
                before = small_file.read_bytes()
                assert b"Light 1" in before
            assert client.edit("title", value=f"Light {count}").status == 200
        assert small_file.read_bytes() == before
    assert {path.name for path in small_file.parent.iterdir()} == {"clips", "first_light.toml"}
