"""What the page gets: the prop, its table, changes told to all, files of sounds and pictures;
and nothing that was saved is ever lost.
"""

import base64
import http.client
import io
import os
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from bench_client import LONGEST_S, Client, news, until_told
from processes import WITH_US
from starlette.concurrency import run_in_threadpool

from fxseq.bench import Desk
from fxseq.bench.worker import MOST_WAITING, Hub
from fxseq.runs import load_prop
from fxseq.table import decode


def test_the_page_and_the_player_are_served(small: Client) -> None:
    page = small.get("/")
    player = small.get("/page/player.wasm")
    assert page.status == 200 and page.headers["content-type"] == "text/html; charset=utf-8"
    # WebAssembly Core Specification, 5.5.16
    assert player.headers["content-type"] == "application/wasm" and player.body[:4] == b"\0asm"


def test_every_file_that_the_page_names_is_there(small: Client) -> None:
    names = re.findall(r'(?:src|href)="(/page/[^"]+)"', small.get("/").body.decode())
    assert names and all(small.get(name).status == 200 for name in names)


def test_the_prop_is_told_as_the_file_says_it(demo: Client) -> None:
    prop = demo.get("/api/prop").json
    assert (prop["title"], prop["file"], prop["revision"], prop["dirty"]) == (
        "The Squall Lantern",
        "squall_lantern.toml",
        1,
        False,
    )
    assert prop["selectors"] == [{"name": "ring", "positions": ["slow", "storm"], "start": 0}]
    assert [item["name"] for item in prop["inputs"]] == ["lever", "refill", "low_cells"]
    assert len(prop["lamps"]) == 24 + 6 + 12
    top = prop["lamps"][0]
    assert (top["group"], top["number"], top["channel"], top["x_mm"], top["y_mm"]) == (
        "lens",
        0,
        0,
        pytest.approx(80),
        pytest.approx(88),
    )
    assert prop["board"] == {
        "sample_rate_hz": 22050,
        "samples_per_frame": 21,
        "channels": 42,
        "pwm_bits": 12,
        "voices": 4,
    }


def test_names_are_in_the_order_of_the_table(demo: Client) -> None:
    prop = demo.get("/api/prop").json
    table = decode(demo.get("/api/table").body)
    counts = {
        key: len(getattr(table, key))
        for key in (
            "inputs",
            "triggers",
            "effects",
            "clips",
            "groups",
            "fades",
            "selectors",
            "counters",
        )
    }
    assert {key: len(names) for key, names in prop["names"].items()} == counts
    by_name = {clip["name"]: clip["bytes"] for clip in prop["clips"]}
    assert [by_name[name] for name in prop["names"]["clips"]] == [
        len(clip.data) for clip in table.clips
    ]


def test_the_table_is_that_of_the_file(demo: Client) -> None:
    answer = demo.get("/api/table")
    assert answer.body == load_prop(demo.file).compiled.data and answer.headers["x-revision"] == "1"


def test_an_edit_gives_the_new_prop_and_table(demo: Client) -> None:
    prop = demo.edit("triggers", "storm_signal", "rate_per_s", value=9.5).json
    assert (prop["revision"], prop["dirty"], prop["can_undo"], prop["can_redo"]) == (
        2,
        True,
        True,
        False,
    )
    [rate] = [
        item["value"]
        for item in demo.get("/api/prop").json["settings"]
        if item["path"] == ["triggers", "storm_signal", "rate_per_s"]
    ]
    assert rate == 9.5
    assert demo.get("/api/table").headers["x-revision"] == "2"
    assert demo.post("/api/undo").json["can_redo"] and demo.post("/api/redo").json["revision"] == 4


def test_an_answer_leaves_away_what_was_told_of_settings(demo: Client) -> None:
    whole = demo.get("/api/prop").json
    brief = demo.edit("triggers", "storm_signal", "rate_per_s", value=9.5).json
    assert "settings" not in brief and brief["shape"] == whole["shape"]
    after = demo.get("/api/prop").json
    assert brief["values"] == [item["value"] for item in after["settings"]]
    assert [{**item, "value": None} for item in after["settings"]] == [
        {**item, "value": None} for item in whole["settings"]
    ]
    # Beyond the usual range: no longer what was told.
    other = demo.edit("listening", "audience_m", value=60).json
    assert other["shape"] != whole["shape"] and other["settings"]
    assert demo.edit("listening", "audience_m", value=70).json["settings"]


def test_a_bad_edit_names_place_find_and_remedy(demo: Client) -> None:
    answer = demo.edit("effects", "flare_a", "sounds", 0, "clip", value="crack_q")
    [fault] = answer.json["faults"]
    assert (
        answer.status == 422
        and "'flare a', sound 1" in fault["found"]
        and "Did you mean 'crack " in fault["remedy"]
    )
    assert demo.get("/api/prop").json["revision"] == 1


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"path": ["title"]},
        {"path": [], "value": 1},
        {"path": "title", "value": 1},
        {"path": [True], "value": 1},
        {"path": ["a", -1], "value": 1},
        {"path": ["a", 1.5], "value": 1},
        {"path": ["a"] * 9, "value": 1},
        {"path": [0], "value": 1},
        {"path": ["title"], "value": "x", "gesture": 7},
    ],
)
def test_an_edit_of_another_shape_is_refused(small: Client, body: object) -> None:
    assert small.post("/api/edit", body).status == 400


def test_two_pages_see_each_others_edits(small: Client) -> None:
    with small.listen() as one, small.listen() as other:
        assert news(one, "revision") == news(other, "revision") == 1
        small.edit("title", value="Mine")
        assert news(one, "revision") == news(other, "revision") == 2
        small.post("/api/undo")
        assert news(one, "revision") == news(other, "revision") == 3


def test_edits_of_many_pages_at_once_are_all_kept(demo: Client) -> None:
    def edit(number: int) -> None:
        assert (
            demo.edit("fades", "glow", "segments", 0, "length_ms", value=1000 + number).status
            == 200
        )

    threads = [threading.Thread(target=edit, args=(number,)) for number in range(1, 9)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert demo.get("/api/prop").json["revision"] == 9
    seen = set()
    while (prop := demo.get("/api/prop").json)["can_undo"]:
        seen.add(
            prop["fades"][[fade["name"] for fade in prop["fades"]].index("glow")]["segments"][0][
                "length_ms"
            ]
        )
        demo.post("/api/undo")
    assert seen == set(range(1001, 1009))


def test_a_page_that_does_not_read_loses_the_oldest_news_and_holds_nobody_up() -> None:
    hub = Hub()
    with hub.listening() as slow:
        for revision in range(MOST_WAITING + 50):
            hub.tell({"revision": revision})
        kept = [slow.get_nowait()["revision"] for _ in range(slow.qsize())]
    assert kept == list(range(50, MOST_WAITING + 50))


def test_a_change_outside_is_told_and_not_overwritten(small: Client) -> None:
    with small.listen() as page:
        small.edit("title", value="Mine")
        theirs = small.file.read_text() + "# theirs\n"
        small.file.write_text(theirs)
        until_told(page, "changed_outside", True)
        answer = small.post("/api/save")
        assert answer.status == 409 and "another program has changed the file" in answer.found
        assert small.file.read_text() == theirs and small.get("/api/prop").json["changed_outside"]
        assert not small.post("/api/reload").json["changed_outside"]
        until_told(page, "changed_outside", False)
    with small.listen() as later:
        assert news(later, "changed_outside") is False


def test_a_page_that_opens_late_hears_that_the_file_was_changed(small: Client) -> None:
    with small.listen() as page:
        small.file.write_text(small.file.read_text() + "# theirs\n")
        until_told(page, "changed_outside", True)
    with small.listen() as late:
        assert news(late, "changed_outside") is True


def test_a_save_is_told_to_the_other_page(small: Client) -> None:
    small.edit("title", value="Mine")
    with small.listen() as page:
        assert news(page, "revision") == 2
        assert not small.post("/api/save").json["dirty"]
        assert news(page, "revision") == 2


def test_a_recording_comes_whole_and_as_recorded(demo: Client) -> None:
    answer = demo.get("/api/clips/snap_a.wav")
    samples, rate_hz = soundfile.read(io.BytesIO(answer.body), dtype="int16")
    original, original_hz = soundfile.read(
        demo.file.parent / "clips" / "crack_a.wav", dtype="int16"
    )
    assert answer.headers["content-type"] == "audio/wav" and rate_hz == original_hz
    assert np.abs(samples.astype(int) - original.astype(int)).max() <= 1
    assert [
        clip["cut_ms"] for clip in demo.get("/api/prop").json["clips"] if clip["name"] == "snap_a"
    ] == [[0, 120]]


def test_a_clip_comes_as_the_board_plays_it(demo: Client) -> None:
    """Cut, three times round where it loops, at the board's rate; also one that no trigger uses."""
    demo.edit("clips", "snap_a", "start_ms", value=20)
    made = demo.get("/api/clips/snap_a/made").json
    samples, rate_hz = soundfile.read(io.BytesIO(base64.b64decode(made["wav"])))
    assert (made["first_ms"], made["from_ms"], made["loop_ms"]) == (20, 20, None)
    assert rate_hz == 22050 and len(samples) == round(made["once_ms"] * rate_hz / 1000) == 2205
    peak_dbfs = 20 * np.log10(np.abs(samples).max())
    assert peak_dbfs == pytest.approx(made["after"]["peak_dbfs"], abs=0.1)
    looped = demo.get("/api/clips/hum/made").json
    hum, _ = soundfile.read(io.BytesIO(base64.b64decode(looped["wav"])))
    start_ms, end_ms = looped["loop_ms"]
    once_ms = looped["once_ms"] + 2 * (end_ms - start_ms)
    assert len(hum) == pytest.approx(once_ms * rate_hz / 1000, abs=2)
    demo.post("/api/parts", {"do": "copy", "kind": "clips", "name": "dry"})
    assert demo.get("/api/clips/dry_2/made").json["after"]["duration_ms"] > 0
    assert demo.get("/api/clips/none/made").status == 404


def test_an_unknown_clip_is_not_there(demo: Client) -> None:
    answer = demo.get("/api/clips/none.wav")
    assert answer.status == 404 and "crack_a" in answer.json["faults"][0]["allowed"]


def test_the_picture_of_the_prop_is_shown(small_file: Path, serve) -> None:
    (small_file.parent / "photo.png").write_bytes(b"\x89PNG picture")
    (small_file.parent / "notes.txt").write_bytes(b"secret")
    text = small_file.read_text()
    small_file.write_text(
        text + '\n[picture]\nwidth_mm = 10\nheight_mm = 10\nimage = "photo.png"\n'
    )
    shown = serve(small_file).get("/api/picture")
    assert shown.body == b"\x89PNG picture" and shown.headers["content-type"] == "image/png"
    small_file.write_text(
        text + '\n[picture]\nwidth_mm = 10\nheight_mm = 10\nimage = "notes.txt"\n'
    )
    assert serve(small_file).get("/api/picture").status == 404


def test_lamps_without_a_picture_lie_within_their_plane(small: Client) -> None:
    prop = small.get("/api/prop").json
    assert all(
        0 < lamp["x_mm"] < prop["picture"]["width_mm"]
        and 0 <= lamp["y_mm"] < prop["picture"]["height_mm"]
        for lamp in prop["lamps"]
    )


def test_an_answer_comes_while_numbers_are_found(
    demo: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fxseq.bench.worker import WorkProcess

    going = threading.Event()

    async def order(self: WorkProcess, order: dict[str, Any], tell: object) -> dict[str, Any]:
        await run_in_threadpool(going.wait, LONGEST_S)
        return {"result": {"revision": order["revision"], "rates": []}}

    monkeypatch.setattr(WorkProcess, "order", order)
    asking = threading.Thread(target=demo.get, args=("/api/numbers",))
    asking.start()
    try:
        assert demo.get("/api/prop").status == 200
        assert demo.edit("board", "voices", value=3).status == 200
    finally:
        going.set()
        asking.join()


def start(file: Path) -> tuple[subprocess.Popen[str], Client, str]:
    """The command as a process of its own; the client has its token."""
    fxseq = [str(Path(sys.executable).with_name("fxseq"))]
    bench = subprocess.Popen(
        [*WITH_US, *fxseq, "bench", str(file), "--no-browser"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    address = bench.stdout.readline().strip()
    host, token = address.removeprefix("http://").split("/#t=")
    return bench, Client(int(host.rpartition(":")[2]), file), f"Bearer {token}"


@pytest.mark.parametrize("delay_ms", [0, 3, 7])
def test_killed_while_editing_nothing_saved_is_lost(small_file: Path, delay_ms: int) -> None:
    """At whatever moment it is killed: the file is whole, and what was last saved or was just
    being saved; the next run takes it up.
    """
    bench, client, bearer = start(small_file)
    saved = 0
    try:
        for number in range(1, 1000):
            if number == 6:
                threading.Timer(delay_ms / 1000, lambda: os.kill(bench.pid, signal.SIGKILL)).start()
            client.post(
                "/api/edit", {"path": ["title"], "value": f"Title {number}"}, Authorization=bearer
            )
            assert client.post("/api/save", Authorization=bearer).status == 200
            saved = number
    except (OSError, http.client.HTTPException):
        bench.wait(LONGEST_S)
    bench.stdout.close()
    assert saved >= 5 and Desk(small_file).now.prop.sequence.title in (
        f"Title {saved}",
        f"Title {saved + 1}",
    )
    again, client, bearer = start(small_file)
    assert client.get("/api/prop", Authorization=bearer).json["title"] in (
        f"Title {saved}",
        f"Title {saved + 1}",
    )
    again.send_signal(signal.SIGINT)
    assert again.wait(LONGEST_S) == 0
    again.stdout.close()


def test_the_token_of_another_run_does_not_fit(small_file: Path) -> None:
    first, client, bearer = start(small_file)
    second, other, _ = start(small_file)
    assert (
        client.get("/api/prop", Authorization=bearer).status,
        other.get("/api/prop", Authorization=bearer).status,
    ) == (200, 401)
    for bench in (first, second):
        bench.kill()
        bench.wait()
        bench.stdout.close()


def test_a_change_brings_its_table_along_and_nothing_else_does(small: Client) -> None:
    before = small.get("/api/table").body
    change = small.edit("fades", "flash", "segments", 0, "length_ms", value=80).json["table"]
    after = small.get("/api/table").body
    between, checksum = (base64.b64decode(change[key]) for key in ("between", "checksum"))
    stays = before[: -len(checksum)]
    last = stays[len(stays) - change["last"] :]
    assert stays[: change["first"]] + between + last + checksum == after != before
    assert len(between) < 32
    assert change["of"] == small.get("/api/prop").json["revision"] - 1
    # says what is so
    assert "table" not in small.edit("fades", "flash", "segments", 0, "length_ms", value=80).json
    assert (
        "table" not in small.get("/api/prop").json and "table" not in small.post("/api/save").json
    )
