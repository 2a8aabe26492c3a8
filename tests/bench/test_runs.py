"""What is kept of a run is what `fxseq preview` writes, for the file's press script and for what
was just pressed; anything else is refused.
"""

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_client import Answer, Client
from PIL import Image

from fxseq.cli.group import run
from fxseq.player import Player, parse_script
from fxseq.runs import load_prop

PRESSED = "tap lever @0.4, set ring storm @0.6, hold lever @0.8..1.5, set volume 60 @1.2, end @2.5"
KINDS = {
    "board.wav": "audio/wav",
    "heard.wav": "audio/wav",
    "figure.png": "image/png",
    "lights.gif": "image/gif",
}


def pressed(file: Path, script: str = PRESSED, **changed: object) -> dict:
    """As the page sends it."""
    compiled = load_prop(file).compiled
    parsed = parse_script(script, compiled.table, compiled.names)
    return {
        "revision": 1,
        "until_frame": parsed.until_frame,
        "presses": [list(map(int, press)) for press in parsed.presses],
        **changed,
    }


def wav_of(answer: Answer) -> tuple[np.ndarray, int]:
    samples, rate_hz = soundfile.read(io.BytesIO(answer.body), dtype="int16")
    return samples, rate_hz


def test_files_of_the_press_script_are_those_of_a_preview(demo: Client, tmp_path: Path) -> None:
    folder = tmp_path / "preview"
    assert run(["preview", str(demo.file), "--out", str(folder)]) == 0
    for name, kind in KINDS.items():
        answer = demo.get(f"/api/run/{name}")
        assert (answer.status, answer.headers["content-type"]) == (200, kind)
        assert (
            answer.headers["content-disposition"] == f'attachment; filename="squall_lantern_{name}"'
        )
        assert answer.body == (folder / name).read_bytes(), name


def test_sound_of_what_was_pressed_is_the_players(demo: Client) -> None:
    compiled = load_prop(demo.file).compiled
    script = parse_script(PRESSED, compiled.table, compiled.names)
    samples, rate_hz = wav_of(demo.post("/api/run/board.wav", pressed(demo.file)))
    assert rate_hz == 22050
    assert np.array_equal(
        samples, Player(compiled.table).play(script.presses, script.until_frame).samples
    )
    heard, _ = wav_of(demo.post("/api/run/heard.wav", pressed(demo.file)))
    assert heard.size == samples.size and np.abs(heard).max() == round(32767 * 10 ** (-1 / 20))


def test_pictures_of_what_was_pressed_last_as_long_as_it_did(demo: Client) -> None:
    answer = demo.post("/api/run/lights.gif", pressed(demo.file))
    lights = Image.open(io.BytesIO(answer.body))
    shown_ms = sum(_shown_ms(lights, number) for number in range(lights.n_frames))
    # From power-up to two seconds after the last release; before that the still warning, since the
    # signals flash fast.
    assert lights.n_frames > 50 and shown_ms == pytest.approx(3500 + 1500, abs=50)
    figure = Image.open(io.BytesIO(demo.post("/api/run/figure.png", pressed(demo.file)).body))
    assert figure.format == "PNG" and figure.width > 1000


def _shown_ms(picture: Image.Image, number: int) -> int:
    picture.seek(number)
    return picture.info["duration"]


def test_what_was_pressed_for_too_long_is_refused(demo: Client) -> None:
    answer = demo.post(
        "/api/run/board.wav", pressed(demo.file, until_frame=round(301 * 22050 / 21))
    )
    [fault] = answer.json["faults"]
    assert (
        answer.status == 422
        and "301 s" in fault["found"]
        and fault["allowed"] == "up to 300 s"
        and "Restart the prop" in fault["remedy"]
    )


def test_what_was_pressed_on_another_prop_is_refused(demo: Client) -> None:
    given = pressed(demo.file)
    demo.edit("triggers", "storm_signal", "rate_per_s", value=9.5)
    answer = demo.post("/api/run/board.wav", given)
    assert answer.status == 409 and "changed since" in answer.found


@pytest.mark.parametrize(
    "changed",
    [
        {"until_frame": 0},
        {"until_frame": 1.5},
        {"until_frame": True},
        {"until_frame": None},
        {"presses": None},
        {"presses": {}},
        {"presses": [1]},
        {"presses": [[0, 0, 0]]},
        {"presses": [[0, 0, 0, 0, 0]]},
        {"presses": [[-1, 0, 0, 0]]},
        {"presses": [[0.5, 0, 0, 0]]},
        {"presses": [["0", 0, 0, 0]]},
        {"presses": [[0, 4, 0, 0]]},
        {"presses": [[0, 4, 0, 65536]]},
        {"presses": [[0, 4, 1, 5]]},
        {"presses": [[0, 5, 0, 0]]},
        {"presses": [[0, 0, 1, 0]]},
        {"presses": [[0, 2, 0, 0]]},
        {"presses": [[0, 3, 0, 257]]},
        {"presses": [[0, 3, 1, 0]]},
        {"presses": [[100, 0, 0, 0]], "until_frame": 100},
        {"presses": [[0, 0, 0, 1]]},
    ],
)
def test_what_is_no_run_is_refused(steady: Client, changed: dict) -> None:
    """The smallest prop has one input and no selector."""
    assert (
        steady.post(
            "/api/run/board.wav", {"revision": 1, "until_frame": 200, "presses": [], **changed}
        ).status
        == 400
    )


def test_the_last_press_that_fits_is_taken(steady: Client) -> None:
    given = {"revision": 1, "until_frame": 100, "presses": [[99, 0, 0, 0], [0, 3, 0, 256]]}
    assert wav_of(steady.post("/api/run/board.wav", given))[0].size == 100 * 21


def test_a_lever_that_was_held_when_the_table_came_is_not_pressed_again(steady: Client) -> None:
    """Its one trigger is a single."""
    run = {"revision": 1, "until_frame": 500}
    sounds = {
        name: wav_of(steady.post("/api/run/board.wav", {**run, "presses": [press]}))[0]
        for name, press in (("held", [0, 4, 0, 9]), ("pressed", [0, 0, 0, 0]))
    }
    assert not sounds["held"].any() and sounds["pressed"].any()


def test_files_that_this_prop_cannot_give_are_refused(steady: Client) -> None:
    heard = steady.get("/api/run/heard.wav")
    assert heard.status == 404 and "not described" in heard.found
    assert steady.get("/api/run/light.gif").status == 404
    assert steady.get("/api/run/board.wav", Authorization=None).status == 401
    assert steady.post("/api/run/board.wav", {}, Origin="http://evil.test").status == 403
