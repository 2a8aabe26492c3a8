"""Lamps put to their places by hand and from CSV, as spreadsheets write it (RFC 4180, and
semicolons); the photo under them made as wide as it is.
"""

import io
import tomllib
from typing import Any

import pytest
from bench_client import Answer, Client
from PIL import Image

HEAD = "group,number,x_mm,y_mm\n"


def places(client: Client, group: str) -> list[float]:
    """x and y of each lamp in turn. [mm]"""
    return [
        lamp[key]
        for lamp in client.get("/api/prop").json["lamps"]
        if lamp["group"] == group
        for key in ("x_mm", "y_mm")
    ]


def test_lamps_of_a_line_go_to_places_of_their_own(demo: Client) -> None:
    wanted = [[10.0 * number, 5.0] for number in range(6)]
    answer = demo.post(
        "/api/lamps",
        {
            "group": "vents",
            "moved_mm": {str(number): place for number, place in enumerate(wanted, 1)},
        },
    )
    assert answer.status == 200 and places(demo, "vents") == [
        way for place in wanted for way in place
    ]
    demo.post("/api/save")
    text = demo.file.read_text()
    assert (
        "# one light a measure" in text and "line_mm" not in tomllib.loads(text)["groups"]["vents"]
    )


def test_dragging_a_lamp_is_one_step(demo: Client) -> None:
    before = places(demo, "vents")
    for x_mm in range(3):
        demo.post(
            "/api/lamps", {"group": "vents", "moved_mm": {"1": [x_mm, 1]}, "gesture": "drag 1"}
        )
    demo.post("/api/undo")
    assert places(demo, "vents") == pytest.approx(before)


def test_lamps_that_two_tabs_move_keep_both_places(demo: Client) -> None:
    before = places(demo, "vents")
    demo.post("/api/lamps", {"group": "vents", "moved_mm": {"1": [1, 2]}, "gesture": "tab 1"})
    demo.post("/api/lamps", {"group": "vents", "moved_mm": {"2": [3, 4]}, "gesture": "tab 2"})
    assert places(demo, "vents") == pytest.approx([1, 2, 3, 4, *before[4:]])
    demo.post("/api/undo")
    assert places(demo, "vents")[:4] == pytest.approx([1, 2, *before[2:4]])


@pytest.mark.parametrize(
    "moved_mm",
    [
        {"0": [1, 2]},
        {"7": [1, 2]},
        {"01": [1, 2]},
        {"1": [1, 2, 3]},
        {"1": ["1", 2]},
        {"1": [True, 2]},
        {"1": [1e999, 2]},
        {"1": None},
        {},
        [[1, 2]],
        None,
    ],
)
def test_places_that_are_none_of_its_lamps_are_refused(demo: Client, moved_mm: object) -> None:
    assert demo.post("/api/lamps", {"group": "vents", "moved_mm": moved_mm}).status in (400, 422)
    assert (
        demo.post("/api/lamps", {"group": "none", "moved_mm": {"1": [1, 2]}}).found
        == "there is no such group"
    )
    assert demo.get("/api/prop").json["revision"] == 1


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "vents,2,30.5,40\n",
        HEAD.replace("\n", "\r\n") + "vents,2,30.5,40\r\n",
        "\ufeff" + HEAD + "vents,2,30.5,40",
        '"y_mm";"X_MM";"number";"group"\n40;30.5;2;vents\n',
        "note," + HEAD + 'said "so",vents,2,30.5,40\n',
    ],
)
def test_a_csv_moves_the_lamps_that_it_names(demo: Client, text: str) -> None:
    before = places(demo, "vents")
    assert demo.post("/api/lamps", {"csv": text}).status == 200
    assert places(demo, "vents") == pytest.approx([*before[:2], 30.5, 40, *before[4:]])


def test_every_fault_of_a_csv_is_told_with_its_line(demo: Client) -> None:
    answer = demo.post(
        "/api/lamps",
        {
            "csv": (
                HEAD
                + "vents,0,1,1\nvents,7,1,1\nvents,1,a,1\nvents,1,nan,1\nvents,1\nsails,1,1,1\nvents,1,1,1\n"
            )
        },
    )
    assert answer.status == 422 and [fault["where"] for fault in answer.json["faults"]] == [
        f"CSV:{line}" for line in range(2, 8)
    ]


@pytest.mark.parametrize(
    "text", ["", "x", HEAD, "group,number,x_mm\nvents,1,1\n", "\x00", "\n" * 5, HEAD + '"vents']
)
def test_a_csv_without_places_is_refused(demo: Client, text: str) -> None:
    assert demo.post("/api/lamps", {"csv": text}).status == 422


@pytest.fixture
def on_photo(demo: Client) -> Client:
    """The demo's lamps on a photo that is twice as high as wide, taken as 160 by 320 mm."""
    data = io.BytesIO()
    Image.new("RGB", (100, 200)).save(data, "PNG")
    picture = demo.post(
        "/api/picture", data.getvalue(), Content_Type="application/octet-stream", X_Name="prop"
    ).json["picture"]
    assert (picture["width_mm"], picture["height_mm"]) == (160, 320)
    return demo


def widen(client: Client, width_mm: Any, keep: Any = "photo") -> Answer:
    return client.post("/api/lamps", {"width_mm": width_mm, "keep": keep, "gesture": "width"})


def test_lamps_keep_their_places_on_the_photo_and_their_remarks(on_photo: Client) -> None:
    before = {group: places(on_photo, group) for group in ("lens", "vents", "oil_gauge")}
    text = on_photo.file.read_text()
    picture = widen(on_photo, 120).json["picture"]
    assert (picture["width_mm"], picture["height_mm"]) == (120, 240)
    for group, ways in before.items():
        assert places(on_photo, group) == pytest.approx([way * 0.75 for way in ways], abs=1e-3)
    on_photo.post("/api/save")
    saved = on_photo.file.read_text()
    groups = tomllib.loads(saved)["groups"]
    assert (
        groups["lens"]["ring_mm"] == {"centre_mm": [60, 96], "radius_mm": 30, "first_at_deg": -90}
        and "line_mm" in groups["vents"]
    )
    assert tomllib.loads(saved)["picture"]["outline_mm"][0] == [43.5, 9]
    assert [line.split("#")[1] for line in saved.splitlines() if "#" in line] == [
        line.split("#")[1] for line in text.splitlines() if "#" in line
    ]
    on_photo.post("/api/undo")
    assert places(on_photo, "lens") == before["lens"]


def test_lamps_keep_their_millimetres_where_that_is_asked_for(on_photo: Client) -> None:
    before = places(on_photo, "vents")
    picture = widen(on_photo, 200, "mm").json["picture"]
    assert (picture["width_mm"], picture["height_mm"]) == (200, 400)
    assert places(on_photo, "vents") == before


def test_a_photo_too_small_for_lamps_that_keep_their_millimetres_is_refused(
    on_photo: Client,
) -> None:
    answer = widen(on_photo, 60, "mm")
    assert answer.status == 422 and "outside the picture" in answer.found
    assert on_photo.get("/api/prop").json["picture"]["width_mm"] == 160


@pytest.mark.parametrize("width_mm", [0, -1, 10_001, "120", None, True, [120]])
def test_what_is_no_width_is_refused(on_photo: Client, width_mm: Any) -> None:
    answer = widen(on_photo, width_mm)
    assert answer.status == 422 and answer.json["faults"][0]["allowed"] == "1 to 10000 mm"


def test_a_width_needs_a_photo_and_a_word_of_what_lamps_keep(on_photo: Client) -> None:
    assert widen(on_photo, 120, "both").status == 400
    on_photo.post("/api/undo")
    answer = widen(on_photo, 120)
    assert (
        answer.status == 422
        and answer.json["faults"][0]["found"] == "there is no photo beside the prop file"
    )
