"""Current and level that the page follows while it plays are those that Python works out of the
whole run, and what was pressed can be played again.
"""

from pathlib import Path

import numpy as np
import pytest
from bench_page import until_highest
from offline import QUANTUM, Rendered, render
from playwright.sync_api import Page

from fxseq.bench.meters import meters
from fxseq.player import PressKind
from fxseq.runs import Performance, Prop, load_prop, perform

DEMO = Path(__file__).parents[2] / "demo_assets"
SCRIPT = (
    "tap lever @0.3, hold lever @1..3, set ring storm @2, tap refill @3.4, hold lever @4.2..5.4,"
    " end @7"
)
CHANGES = {
    "as it is": {},
    "class AB, one output": {"kind": "class_ab", "output": "single"},
    "clipping hard": {"gain_db": 30.0},  # 38 V wanted of 5.7
}


def rendered(prop: Prop) -> tuple[Rendered, Performance]:
    run = perform(prop, prop.script(SCRIPT)[0])
    events = [
        {"frame": press.frame, "kind": int(press.kind), "index": press.index, "value": press.value}
        for press in run.script.presses
    ]
    length = len(run.played.samples) // QUANTUM * QUANTUM
    return render(prop.compiled.data, run.rate_hz, length, events, meters=meters(prop)), run


def changed(prop: Prop, **amplifier: object) -> Prop:
    sequence = prop.sequence.model_copy(
        update={"amplifier": prop.sequence.amplifier.model_copy(update=amplifier)}
    )
    return Prop(prop.path, sequence, prop.clips, prop.compiled)


@pytest.mark.parametrize("change", CHANGES)
def test_current_is_that_of_python_for_the_same_presses(change: str) -> None:
    result, run = rendered(changed(load_prop(DEMO / "squall_lantern.toml"), **CHANGES[change]))
    weights = np.diff([0, *(report["frame"] for report in result.reports)])
    mean_ma = np.average([report["mean_ma"] for report in result.reports], weights=weights)
    # the last sixtieth of a second is not reported, and what a low-pass takes is not counted
    assert mean_ma == pytest.approx(run.load.unsagged_ma.mean(), rel=0.01)
    assert max(report["highest_ma"] for report in result.reports) == pytest.approx(
        run.load.unsagged_ma.peak(), rel=0.01
    )
    assert run.load.unsagged_ma.peak() < meters(run.prop)["most_ma"]


@pytest.mark.parametrize("bits", [16, 8])
def test_level_is_that_of_python_for_the_same_presses(bits: int) -> None:
    prop = load_prop(DEMO / "squall_lantern.toml")
    board = prop.sequence.board.model_copy(update={"sound_bits": bits})
    result, run = rendered(
        Prop(
            prop.path, prop.sequence.model_copy(update={"board": board}), prop.clips, prop.compiled
        )
    )
    levels_db = [report["level_db"] for report in result.reports]
    assert max(level for level in levels_db if level is not None) == pytest.approx(
        run.heard.levels.at["hand"].lafmax_db, abs=0.1
    )
    assert max(level for level in levels_db if level is not None) < meters(prop)["sound"]["most_db"]
    assert levels_db[0] is None  # nothing sounds before the first press


def test_a_prop_without_sound_parts_has_a_current_alone() -> None:
    prop = load_prop(DEMO / "first_light.toml")
    run = perform(prop, prop.script("tap button @0.2, end @1")[0])
    events = [
        {"frame": press.frame, "kind": int(press.kind), "index": press.index, "value": press.value}
        for press in run.script.presses
    ]
    result = render(
        prop.compiled.data,
        run.rate_hz,
        len(run.played.samples) // QUANTUM * QUANTUM,
        events,
        meters=meters(prop),
    )
    assert max(report["highest_ma"] for report in result.reports) == pytest.approx(
        run.load.unsagged_ma.peak(), rel=1e-3
    )
    assert {report["level_db"] for report in result.reports} == {None}


def test_the_presses_that_are_reported_are_those_that_were_given() -> None:
    result, run = rendered(load_prop(DEMO / "squall_lantern.toml"))
    taken = [
        (press["frame"], press["kind"], press["index"], press["value"])
        for report in result.reports
        for press in report["taken"]
    ]
    assert taken == [tuple(map(int, press)) for press in run.script.presses]


def test_what_is_held_and_turned_at_power_up_is_reported_as_pressed_and_turned() -> None:
    prop = load_prop(DEMO / "squall_lantern.toml")
    swap = {"swap": {"revision": 1, "closed": 0b1, "positions": [1], "volume": 128}}
    result = render(
        prop.compiled.data, 22050, 200 * QUANTUM, later=[{"quantum": 50, "message": swap}]
    )
    taken = [
        (press["frame"], press["kind"], press["index"], press["value"])
        for report in result.reports
        for press in report["taken"]
    ]
    assert taken == [
        (0, PressKind.SELECT, 0, 1),
        (0, PressKind.VOLUME, 0, 128),
        (32, PressKind.PRESS, 0, 0),
    ]  # 128 / 4 frames until it is there


def test_the_strip_names_the_highest_of_what_was_pressed(page: Page) -> None:
    page.click("#in-words summary")
    page.keyboard.press("f")
    prop = load_prop(DEMO / "squall_lantern.toml")
    run = perform(prop, prop.script("tap lever @0.3, end @1")[0])
    # The flicker of the wick goes by the frame.
    until_highest(
        page,
        ma=(run.load.unsagged_ma.peak(), 0.03 * run.load.unsagged_ma.peak()),
        db=(run.heard.levels.at["hand"].lafmax_db, 1),
    )
