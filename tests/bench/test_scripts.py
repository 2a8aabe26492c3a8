"""What was pressed becomes a press script that gives the same run, and its items are edited where
they stand.
"""

import tomllib
from typing import Any

import pytest

from fxseq.bench import Desk
from fxseq.bench.numbers import key_numbers
from fxseq.bench.scripts import script_view
from fxseq.bench.things import carry_out
from fxseq.player import Press, PressKind
from fxseq.sequence import FxError


@pytest.fixture
def desk(prop_file) -> Desk:
    return Desk(prop_file)


def order(desk: Desk, do: str, **body: Any) -> str:
    carry_out({"do": do, **body}, desk)
    scripts = tomllib.loads(desk.now.text)["scripts"]
    return scripts[body["name"]]["presses"]


def record(desk: Desk, presses: list[Press], until_frame: int, name: str = "tried") -> str:
    pressed = [list(map(int, press)) for press in presses]
    run = {"revision": desk.now.revision, "until_frame": until_frame, "presses": pressed}
    return order(desk, "record", name=name, **run)


def test_what_was_pressed_becomes_a_script_of_the_same_presses(desk: Desk):
    presses = [
        Press(0, PressKind.SELECT, 0, 0),
        Press(525, PressKind.PRESS, 0),
        Press(917, PressKind.RELEASE, 0),
        Press(1000, PressKind.SELECT, 0, 1),
        Press(1311, PressKind.VOLUME, 0, 128),
        Press(1313, PressKind.PRESS, 0),
        Press(3002, PressKind.RELEASE, 0),
        Press(3100, PressKind.PRESS, 1),
    ]
    text = record(desk, presses, 6000)
    assert text.startswith("hold lever @0.5..0.8") and "set volume 50 @" in text
    made = script_view("tried", desk.now)
    ours = [Press(frame, PressKind(kind), *rest) for frame, kind, *rest in made["events"]]
    assert [each[1:] for each in ours] == [each[1:] for each in presses[1:]]
    late = [each.frame - meant.frame for each, meant in zip(ours, presses[1:], strict=True)]
    assert max(map(abs, late)) <= 1, "a millisecond is about a frame"


def test_what_was_pressed_late_begins_soon(desk: Desk):
    text = record(
        desk, [Press(21000, PressKind.PRESS, 0), Press(22050, PressKind.RELEASE, 0)], 23000
    )
    assert text.startswith("hold lever @0.5..1.5, end @")


def test_a_script_of_that_name_is_replaced_and_another_one_stands_beside(desk: Desk):
    before = desk.now.text
    taps = [Press(600, PressKind.PRESS, 0), Press(640, PressKind.RELEASE, 0)]
    assert record(desk, taps, 700, "show").startswith("tap lever @0.5")
    record(desk, taps, 700)
    assert list(desk.now.prop.sequence.scripts) == ["show", "tried"]
    assert key_numbers(desk.now)["script"] == "show"
    carry_out({"do": "move", "kind": "scripts", "name": "tried", "by": -1}, desk)
    assert key_numbers(desk.now)["script"] == "tried"
    for _ in range(3):
        desk.undo()
    assert desk.now.text == before
    with pytest.raises(FxError, match="name"):
        record(desk, taps, 700, "Not a name")


def test_items_are_moved_made_longer_and_taken_out_where_they_stand(desk: Desk):
    text = (
        '"""\ntap lever @1   # the first\nset ring storm @2; hold lever @3..4, tap refill @6\n"""'
    )
    desk.edit([(("scripts", "show", "presses"), None), (("scripts", "show"), None)])
    desk.rework(lambda file: f"{file}\n[scripts.show]\npresses = {text}\n")

    def change(**body: Any) -> list[str]:
        return order(desk, "press", name="show", **body).strip().split("\n")

    assert change(item=0, start_s=1.25, end_s=1.3)[0] == "tap lever @1.25   # the first"
    assert change(item=0, start_s=1.25, end_s=1.9)[0] == "hold lever @1.25..1.9   # the first"
    assert change(item=2, start_s=3.5, end_s=3.55)[1].startswith(
        "set ring storm @2; tap lever @3.5,"
    )
    assert change(item=1, out=True)[1] == "tap lever @3.5, tap refill @6"
    assert change(item=2, out=True)[1] == "tap lever @3.5"
    assert change(words="tap refill", start_s=7)[2] == "tap refill @7"
    assert '"""' in desk.now.text, "it keeps its quotes and its lines"
    shown = script_view("show", desk.now)["items"]
    assert shown[0] == {"words": ["hold", "lever"], "start_s": 1.25, "end_s": 1.9}


def test_a_script_from_which_all_is_taken_out_is_still_one(desk: Desk):
    record(desk, [Press(600, PressKind.PRESS, 0), Press(640, PressKind.RELEASE, 0)], 700)
    assert order(desk, "press", name="tried", item=0, out=True).startswith("end @")
    assert order(desk, "press", name="tried", item=0, out=True) == "end @3"


def test_what_would_be_no_script_is_refused_and_nothing_changes(desk: Desk):
    before = desk.now
    changes = [
        {"item": 1, "start_s": 0.5, "end_s": 8},  # over the next press of the lever
        {"item": 9, "start_s": 1},
        {"item": 0, "start_s": -1},
        {"words": "tap nothing", "start_s": 1},
    ]
    for body in changes:
        with pytest.raises(FxError):
            order(desk, "press", name="show", **body)
    assert desk.now is before
