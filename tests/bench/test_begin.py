"""The first page: a prop is begun with what is known, or one is opened, and nothing else can be
reached.
"""

import asyncio
import threading
from collections.abc import Iterator
from itertools import product, zip_longest
from pathlib import Path

import pytest
import uvicorn
from aside import ASIDE
from bench_client import TOKEN, Client, wait_for

from fxseq.bench import Desk
from fxseq.bench.begin import MOST_RECENT, QUESTIONS, Begin, begun
from fxseq.bench.doorway import doorway_app
from fxseq.bench.running import app_config, listen_on
from fxseq.bench.server import Bench
from fxseq.bench.unsaved import Unsaved
from fxseq.checks import findings_without_playing
from fxseq.runs import load_prop, make_prop
from fxseq.sequence import Weight, loads
from fxseq.sequence.board_parts import board_parts


@pytest.fixture
def door(tmp_path: Path) -> Iterator[Client]:
    """The first page of a folder with one good file and one that is none."""
    folder = tmp_path / "props"
    folder.mkdir()
    (folder / "bad.toml").write_text("format = 2\n", encoding="utf-8")
    (folder / "good.toml").write_text(begun("Good", {}), encoding="utf-8")
    begin = Begin(folder, tmp_path / "state" / "recent.json")
    listener = listen_on(0)
    port = listener.getsockname()[1]

    def opened(file: Path) -> Bench:
        desk = Desk(file)
        return Bench(desk, Unsaved(desk, tmp_path / "unsaved"), ASIDE)

    app = doorway_app(begin, opened, f"127.0.0.1:{port}", TOKEN)
    server = uvicorn.Server(app_config(app))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve([listener])))
    thread.start()
    try:
        wait_for(lambda: server.started)
        yield Client(port, folder)
    finally:
        server.should_exit = True
        thread.join()


def test_every_prop_that_begins_is_within_the_limits_of_its_board(tmp_path: Path) -> None:
    choices = {name: list(QUESTIONS[name][1]) for name in QUESTIONS}
    boards = {choice: change[0][1] for choice, change in QUESTIONS["board"][1].items()}
    assert set(boards.values()) == set(board_parts())
    for board, lamps in product(boards, choices["lamps"]):
        largest = {name: choices[name][-1] for name in ("pressed", "fed", "speaker")}
        file = tmp_path / "lamp.toml"
        text = begun("A lamp", {**largest, "board": board, "lamps": lamps})
        file.write_text(text, encoding="utf-8")
        prop = load_prop(file)
        assert "flash" in prop.sequence.triggers
        assert not [each for each in findings_without_playing(prop) if each.weight == Weight.FAULT]


def test_each_answer_gives_a_prop_that_compiles():
    """The first answers together, the second ones, and so on, until each has been given."""
    names = list(QUESTIONS)
    for answers in zip_longest(*(choices for _, choices in QUESTIONS.values()), fillvalue=""):
        text = begun("A lamp", dict(zip(names, answers, strict=True)))
        prop = make_prop(Path("lamp.toml"), loads(text))
        assert prop.sequence.title == "A lamp"
        is_playable = bool(answers[0] and answers[1])
        assert ("flash" in prop.sequence.triggers) == is_playable


def test_what_is_left_open_is_not_in_the_file():
    assert begun("Lamp", {}).endswith('title = "Lamp"\n\n[board]\n')


def test_a_prop_is_begun_and_is_on_the_bench_then(door: Client):
    view = door.get("/api/begin").json
    assert view["files"] == ["bad.toml", "good.toml"] and view["recent"] == []
    answers = {"pressed": "a button", "lamps": "one red LED", "fed": "a kite"}
    order = {"title": "Big Lamp", "answers": answers}
    assert door.post("/api/begin/new", order).status == 200
    prop = door.get("/api/prop").json
    assert (prop["title"], prop["file"], prop["dirty"]) == ("Big Lamp", "big_lamp.toml", False)
    assert (door.file / "big_lamp.toml").exists()
    assert b"Build it" in door.get("/").body and door.get("/api/begin").status == 404


@pytest.mark.parametrize(
    ("path", "order"),
    [
        ("new", {"title": "Good"}),
        ("new", {"title": "!!"}),
        ("new", {"title": "x" * 81}),
        ("open", {"file": 7}),
        ("open", {"file": "../good.toml"}),
        ("open", {"recent": 0}),
        ("open", {"file": 0}),
    ],
)
def test_what_cannot_be_opened_is_refused_in_words(door: Client, path: str, order: dict):
    answer = door.post(f"/api/begin/{path}", order)
    assert answer.status == 422 and answer.found
    assert door.get("/api/begin").status == 200 and door.get("/api/prop").status == 404
    assert sorted(file.name for file in door.file.iterdir()) == ["bad.toml", "good.toml"]


def test_the_last_ones_are_offered_the_latest_first(tmp_path: Path):
    begin = Begin(tmp_path, tmp_path / "state" / "recent.json")
    files = [tmp_path / f"p{number}.toml" for number in range(MOST_RECENT + 3)]
    for file in files:
        file.write_text(begun("P", {}), encoding="utf-8")
        begin.remember(file)
    files[-2].unlink()
    begin.remember(files[-3])
    recent = begin.view()["recent"]
    assert recent[:2] == [str(files[-3]), str(files[-1])] and len(recent) == MOST_RECENT - 1
    assert begin.choose({"recent": 0}) == files[-3]


def test_the_first_page_is_guarded_too(door: Client):
    assert door.get("/api/begin", Authorization=None).status == 401
    assert door.post("/api/begin/new", {"title": "x"}, Origin="http://evil.test").status == 403


def test_a_title_holds_what_can_be_seen(tmp_path: Path) -> None:
    file = Begin(tmp_path, tmp_path / "recent.json").make({"title": "Storm\u202elamp"})
    assert loads(file.read_text(encoding="utf-8")).title == "Storm lamp"
