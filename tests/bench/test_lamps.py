"""Lamps put to their places by hand and from CSV, as spreadsheets write it (RFC 4180, and semicolons)."""
import tomllib

import pytest
from bench_client import Client

HEAD = "group,number,x_mm,y_mm\n"


def places(client: Client, group: str) -> list[float]:
    """x and y of each lamp in turn. [mm]"""
    return [lamp[key] for lamp in client.get("/api/prop").json["lamps"] if lamp["group"] == group for key in ("x_mm", "y_mm")]


def test_lamps_of_a_line_go_to_places_of_their_own(demo: Client) -> None:
    wanted = [[10.0 * number, 5.0] for number in range(6)]
    answer = demo.post("/api/lamps", {"group": "vents", "moved_mm": {str(number): place for number, place in enumerate(wanted, 1)}})
    assert answer.status == 200 and places(demo, "vents") == [way for place in wanted for way in place]
    demo.post("/api/save")
    text = demo.file.read_text()
    assert "# one light a measure" in text and "line_mm" not in tomllib.loads(text)["groups"]["vents"]


def test_dragging_a_lamp_is_one_step(demo: Client) -> None:
    before = places(demo, "vents")
    for x_mm in range(3):
        demo.post("/api/lamps", {"group": "vents", "moved_mm": {"1": [x_mm, 1]}, "gesture": "drag 1"})
    demo.post("/api/undo")
    assert places(demo, "vents") == pytest.approx(before)


def test_lamps_that_two_tabs_move_keep_both_places(demo: Client) -> None:
    before = places(demo, "vents")
    demo.post("/api/lamps", {"group": "vents", "moved_mm": {"1": [1, 2]}, "gesture": "tab 1"})
    demo.post("/api/lamps", {"group": "vents", "moved_mm": {"2": [3, 4]}, "gesture": "tab 2"})
    assert places(demo, "vents") == pytest.approx([1, 2, 3, 4, *before[4:]])
    demo.post("/api/undo")
    assert places(demo, "vents")[:4] == pytest.approx([1, 2, *before[2:4]])


@pytest.mark.parametrize("moved_mm", [{"0": [1, 2]}, {"7": [1, 2]}, {"01": [1, 2]}, {"1": [1, 2, 3]}, {"1": ["1", 2]}, {"1": [True, 2]},
                                      {"1": [1e999, 2]}, {"1": None}, {}, [[1, 2]], None])
def test_places_that_are_none_of_its_lamps_are_refused(demo: Client, moved_mm: object) -> None:
    assert demo.post("/api/lamps", {"group": "vents", "moved_mm": moved_mm}).status in (400, 422)
    assert demo.post("/api/lamps", {"group": "none", "moved_mm": {"1": [1, 2]}}).found == "there is no such group"
    assert demo.get("/api/prop").json["revision"] == 1


@pytest.mark.parametrize("text", [
    HEAD + "vents,2,30.5,40\n", HEAD.replace("\n", "\r\n") + "vents,2,30.5,40\r\n", "\ufeff" + HEAD + "vents,2,30.5,40", '"y_mm";"X_MM";"number";"group"\n40;30.5;2;vents\n',
    "note," + HEAD + 'said "so",vents,2,30.5,40\n'])
def test_a_csv_moves_the_lamps_that_it_names(demo: Client, text: str) -> None:
    before = places(demo, "vents")
    assert demo.post("/api/lamps", {"csv": text}).status == 200
    assert places(demo, "vents") == pytest.approx([*before[:2], 30.5, 40, *before[4:]])


def test_every_fault_of_a_csv_is_told_with_its_line(demo: Client) -> None:
    answer = demo.post("/api/lamps", {"csv": HEAD + "vents,0,1,1\nvents,7,1,1\nvents,1,a,1\nvents,1,nan,1\nvents,1\nsails,1,1,1\nvents,1,1,1\n"})
    assert answer.status == 422 and [fault["where"] for fault in answer.json["faults"]] == [f"CSV:{line}" for line in range(2, 8)]


@pytest.mark.parametrize("text", ["", "x", HEAD, "group,number,x_mm\nvents,1,1\n", "\x00", "\n" * 5, HEAD + '"vents'])
def test_a_csv_without_places_is_refused(demo: Client, text: str) -> None:
    assert demo.post("/api/lamps", {"csv": text}).status == 422
