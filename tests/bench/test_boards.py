"""Ports, the virtual board, push with progress, and proof, from the page."""

import threading

import pytest
from bench_client import LONGEST_S, Client, news

from fxseq.bench import boards
from fxseq.link import PortInfo, hello, open_port
from fxseq.link.messages import table_crc
from fxseq.runs import load_prop


@pytest.fixture
def port(small: Client) -> str:
    """A virtual board beside the smallest prop."""
    return small.post("/api/board").json["port"]


def test_ports_are_those_of_the_machine(small: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(boards, "list_ports", lambda: [PortInfo("/dev/ttyUSB7", "a board", True)])
    assert small.get("/api/ports").json == [{"device": "/dev/ttyUSB7", "description": "a board"}]


def test_the_virtual_board_is_one_port_however_often_it_is_started(
    small: Client, port: str
) -> None:
    assert port.startswith("socket://127.0.0.1:") and small.post("/api/board").json["port"] == port
    assert [item["device"] for item in small.get("/api/ports").json].count(port) == 1


def test_a_push_puts_the_edited_table_on_the_board(small: Client, port: str) -> None:
    small.edit("title", value="Sent")
    small.edit("fades", "flash", "segments", 0, "length_ms", value=80)
    report = small.post("/api/push", {"port": port, "confirm": True}).json
    small.post("/api/save")
    data = load_prop(small.file).compiled.data
    assert report["bytes"] == len(data)
    with open_port(port) as line:
        board = hello(line)
    assert ((board.length_0, board.crc_0), (board.length_1, board.crc_1))[board.active] == (
        len(data),
        table_crc(data),
    )


def test_all_pages_see_how_far_a_push_is(small: Client, port: str) -> None:
    with small.listen() as page:
        report = small.post("/api/push", {"port": port, "confirm": True}).json
        assert report["bytes"] > 0
        steps = [news(page, "work")]
        while steps[-1]["done"] < 1:
            steps.append(news(page, "work"))
    assert all(step["what"] == "push" for step in steps)
    assert [step["done"] for step in steps] == sorted(step["done"] for step in steps)


@pytest.mark.parametrize("body", [{}, {"confirm": False}, {"confirm": 1}, {"confirm": "true"}])
def test_nothing_is_pushed_without_leave(small: Client, port: str, body: dict[str, object]) -> None:
    assert small.post("/api/push", {"port": port, **body}).status == 400
    with open_port(port) as line:
        assert not hello(line).has_table


@pytest.mark.parametrize(
    "other",
    [
        "/etc/passwd",
        "spy:///dev/null?file=/tmp/x",
        "socket://example.invalid:1",
        "socket://127.0.0.1:1",
        "loop://",
        "",
        "COM1",
    ],
)
@pytest.mark.parametrize("act", ["push", "prove"])
def test_a_port_that_is_not_listed_is_not_opened(
    small: Client, monkeypatch: pytest.MonkeyPatch, act: str, other: str
) -> None:
    monkeypatch.setattr(boards, "open_port", lambda where: pytest.fail(f"{where} was opened"))
    answer = small.post(f"/api/{act}", {"port": other, "confirm": True})
    assert answer.status == 422 and "no such port" in answer.found


def test_a_board_with_this_table_proves_equal(small: Client, port: str) -> None:
    small.edit("scripts", "show", "presses", value="tap button @0.1, end @0.4")
    small.post("/api/push", {"port": port, "confirm": True})
    proof = small.post("/api/prove", {"port": port}).json
    assert proof["equal"] and proof["events_same"] > 3 and proof["difference"] is None


def test_a_board_with_another_table_is_told(small: Client, port: str) -> None:
    small.post("/api/push", {"port": port, "confirm": True})
    small.edit("fades", "flash", "segments", 0, "length_ms", value=80)
    answer = small.post("/api/prove", {"port": port})
    assert answer.status == 422 and "does not play this table" in answer.found


def test_a_difference_is_shown_in_words(
    small: Client, port: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    small.edit("scripts", "show", "presses", value="tap button @0.1, end @0.4")
    small.post("/api/push", {"port": port, "confirm": True})
    real = boards.prove
    monkeypatch.setattr(boards, "prove", lambda *args: real(*args)[1:])
    proof = small.post("/api/prove", {"port": port}).json
    assert not proof["equal"] and proof["events_same"] == 0
    assert proof["difference"]["reference"]["words"] == "input 'button' is pressed"


def test_one_conversation_at_a_time_and_edits_go_on(
    small: Client, port: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = threading.Event()
    go_on = threading.Event()

    def slow(line: object, data: bytes, progress: object) -> object:
        begun.set()
        go_on.wait(LONGEST_S)
        raise boards.Refused(422, boards.Fault("board", "gone"))

    monkeypatch.setattr(boards, "push", slow)
    pushing = threading.Thread(
        target=small.post, args=("/api/push", {"port": port, "confirm": True})
    )
    pushing.start()
    assert begun.wait(LONGEST_S)
    try:
        assert small.post("/api/push", {"port": port, "confirm": True}).status == 409
        assert small.edit("title", value="Meanwhile").status == 200
    finally:
        go_on.set()
        pushing.join()


def test_a_virtual_board_that_cannot_start_is_told(
    small: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken() -> object:
        raise boards.FxError(boards.Fault("tcp", "no port is free"))

    monkeypatch.setattr(boards, "open_tcp", taken)
    answer = small.post("/api/board")
    assert (
        answer.status == 500
        and "cannot be started" in answer.found
        and "fxseq board" in answer.json["faults"][0]["remedy"]
    )
