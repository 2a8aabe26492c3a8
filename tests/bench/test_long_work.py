"""Work that takes long: it tells how far it is, gives what the commands give, and ends at once."""

import asyncio
import tomllib
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from aside import ASIDE
from bench_client import Client, news

from fxseq.advice import recommend, rig_of
from fxseq.bench import Desk
from fxseq.bench.numbers import key_numbers
from fxseq.bench.worker import Hub, NumbersWorker, WorkProcess
from fxseq.sequence import load

LIGHTS = {"what": "lights"}


def run(waiting: Coroutine[Any, Any, Any]) -> Any:
    """In a thread of its own: where browsers are tested too, this one has a loop already."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, waiting).result()


def test_fit_from_the_page_is_what_the_file_can_take(small: Client) -> None:
    board = {"flash_for_table_bytes": 6000}
    for key, value in board.items():
        small.edit("board", key, value=value)
    with small.listen() as page:
        found = small.post("/api/fit", {}).json
        assert news(page, "work") == {"what": "fit", "done": None, "words": ""}
        assert 0 <= news(page, "work")["done"] <= 1
    assert found["table_bytes"] <= found["room_bytes"] == 6000
    [clip] = found["clips"]
    assert clip["name"] == "crack" and clip["fitted"] and clip["softer_db"] > 0
    changes = [{"path": ["clips", "crack", "fitted"], "value": clip["fitted"]}]
    prop = small.post("/api/parts", {"do": "set", "changes": changes, "gesture": "fit"}).json
    assert prop["clips"][0]["bytes"] <= clip["bytes"]
    small.post("/api/save")
    assert tomllib.loads(small.file.read_text())["clips"]["crack"]["fitted"] == clip["fitted"]


def test_for_this_speaker_is_what_the_command_says(demo: Client) -> None:
    found = demo.post("/api/for_speaker", {"names": ["dry"]}).json["clips"]
    rig = rig_of(demo.file, load(demo.file))
    expected = recommend(["dry"], rig)["dry"]
    assert expected is not None
    assert found == [{"name": "dry", "found": {**expected.as_dict(), "text": expected.text}}]


def test_what_cannot_be_done_is_told_as_a_fault(small: Client) -> None:
    answer = small.post("/api/for_speaker", {"names": ["crack"]})
    assert answer.status == 422 and "speaker" in answer.found


def test_work_that_is_cancelled_ends_at_once_and_other_work_can_begin(demo: Client) -> None:
    with demo.listen() as page, ThreadPoolExecutor(1) as aside:
        asked = aside.submit(demo.post, "/api/fit")
        assert news(page, "work")["what"] == "fit"
        assert demo.get("/api/run/lights.gif").status == 409
        assert demo.post("/api/for_speaker", {"names": ["dry"]}).status == 409
        demo.post("/api/cancel")
        answer = asked.result()
        assert answer.status == 409 and "cancelled" in answer.found
    assert demo.post("/api/for_speaker", {"names": ["dry"]}).status == 200


@pytest.mark.parametrize("names", [None, ["none"], "crack", [1]])
def test_strange_names_are_refused(small: Client, names: object) -> None:
    assert small.post("/api/for_speaker", {"names": names}).status == 422


def test_a_process_goes_on_after_faults_and_bugs_and_is_started_again_where_it_ends(
    small_file: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    version = Desk(small_file).now
    prop = {"path": str(small_file), "text": version.text, "revision": 7}
    said: list[dict[str, Any]] = []

    async def all_orders(process: WorkProcess) -> None:
        for order in (
            {"what": "numbers", **prop, "text": "no TOML"},
            {"what": "nothing that there is", **prop},
            {"what": "numbers", **prop},
        ):
            said.append(await process.order(order, lambda _: None))
        asked = asyncio.create_task(process.order(LIGHTS | prop, lambda _: end(process)))
        said.append(await asked)
        said.append(await process.order({"what": "numbers", **prop}, lambda _: None))

    def end(process: WorkProcess) -> None:
        assert process._process is not None
        process._process.kill()

    with WorkProcess() as process:
        run(all_orders(process))
    faulty, bug, numbers, cut, again = said
    assert faulty["status"] == 422 and bug["status"] == 500 and cut == {}
    assert "KeyError" in capfd.readouterr().err
    assert numbers == {"result": key_numbers(replace(version, revision=7))} == again
    assert run(process.order(prop, lambda _: None)) == {}


def test_a_later_order_ends_what_tells_how_far_it_is(small_file: Path) -> None:
    prop = {"path": str(small_file), "text": Desk(small_file).now.text, "revision": 1}

    async def two_orders(process: WorkProcess) -> list[dict[str, Any]]:
        has_begun = asyncio.Event()
        loop = asyncio.get_running_loop()
        begun = partial(loop.call_soon_threadsafe, has_begun.set)
        first = asyncio.create_task(process.order(LIGHTS | prop, lambda _: begun()))
        await has_begun.wait()
        return [await process.order({"what": "numbers", **prop}, lambda _: None), await first]

    later, first = run(two_orders(ASIDE))
    assert first == {"abandoned": True} and later["result"]["revision"] == 1


def test_a_version_whose_files_went_with_the_next_change_is_no_fault() -> None:
    prop = SimpleNamespace(path=Path("x.toml"))
    first, second = (SimpleNamespace(revision=turn, prop=prop, text="") for turn in (1, 2))
    versions = [first, second]

    class Process:
        async def order(self, order: dict[str, Any], tell: object) -> dict[str, Any]:
            if order["revision"] == 2:
                return {"result": {"revision": 2, "rates": []}}
            del versions[0]
            return {"status": 422, "faults": [("x.wav", "it is not there", "", "")]}

    async def asked() -> dict[str, Any]:
        worker = NumbersWorker(Hub(), lambda: versions[0], Process())
        try:
            return await worker.numbers()
        finally:
            await worker.stop()

    assert run(asked())["revision"] == 2


def test_a_search_that_is_given_up_before_it_begins_does_not_begin() -> None:
    version = SimpleNamespace(revision=1, prop=SimpleNamespace(path=Path("x.toml")), text="")
    ordered: list[str] = []

    class Process:
        async def order(self, order: dict[str, Any], tell: object) -> dict[str, Any]:
            ordered.append(order.get("what", "nothing"))
            return {"result": {"revision": 1, "rates": []}}

    async def given_up() -> None:
        worker = NumbersWorker(Hub(), lambda: version, Process())
        await worker.numbers()
        await asyncio.sleep(0)  # the search waits for calm by now
        await worker.give_up()
        await worker._finding

    run(given_up())
    assert ordered == ["numbers", "nothing"]


def test_a_search_makes_room_for_a_change_and_begins_again_once_it_is_calm() -> None:
    prop = SimpleNamespace(path=Path("x.toml"))
    versions = [SimpleNamespace(revision=turn, prop=prop, text="") for turn in (1, 2)]
    ordered: list[tuple[str, int]] = []

    async def changed() -> None:
        is_trying, is_left = asyncio.Event(), asyncio.Event()

        class Process:
            async def order(self, order: dict[str, Any], tell: object) -> dict[str, Any]:
                ordered.append((order.get("what", "nothing"), order.get("revision", 0)))
                if not order:
                    is_left.set()
                if ordered[-1] == ("rates", 1):
                    is_trying.set()
                    await is_left.wait()
                    return {"abandoned": True}
                return {"result": {"revision": order.get("revision"), "rates": []}}

        worker = NumbersWorker(Hub(), lambda: versions[0], Process())
        await worker.numbers()
        await is_trying.wait()
        for _ in range(3):
            worker.put_off()
        del versions[0]
        await worker._finding
        await worker.stop()

    run(changed())
    assert ordered == [("numbers", 1), ("rates", 1), ("nothing", 0), ("rates", 2)]
