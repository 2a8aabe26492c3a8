"""Whatever is done on the page, in whatever order: remarks and the order of the file stay, what is
refused changes nothing, and undo leads back to the first text byte for byte.
"""

import os
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fxseq.bench import Desk
from fxseq.bench.common_parts import common_parts
from fxseq.bench.lamps import lamp_changes
from fxseq.bench.things import carry_out
from fxseq.sequence import FxError
from fxseq.sequence.paths import NAMED

# A remark says what it belongs to: it may go with that thing, and else never.
TEXT = """\
# file: a prop with a remark wherever one can stand
format = 1
title = "Remarks"             # file: its name
changeover = "switch"         # file: a switched socket

inputs.lever = {}             # inputs.lever: the thumb
inputs.knob = { lockout_ms = 30 }   # inputs.knob: bounces

# board: the chip
[board]
channels = 20                 # board: all of them
pin_v = 3.3                   # board: as the chip has it

[picture]                     # picture: of a drawing
width_mm = 200
height_mm = 100               # picture: by its shape
outline_mm = [[10, 10], [190, 10], [100, 90]]

# ---- file: what is pressed ----

[selectors.ring]              # selectors.ring: at the front
positions = ["calm", "storm"] # selectors.ring: left and right
start = "calm"

# counters.oil: goes down
[counters.oil]
maximum = 6                   # counters.oil: measures

# ---- file: what shines ----

[groups.lens]                 # groups.lens: in front
channels = 6
leds = 6                      # groups.lens: by hand
colour = "amber"
current_ma = 10
ring_mm = { centre_mm = [100, 50], radius_mm = 30 }   # groups.lens: around the glass

# groups.vents: behind
[groups.vents]
channels = 4
leds = 4
colour = "blue"               # groups.vents: as cold as there is
current_ma = 15
line_mm = { from_mm = [20, 20], to_mm = [80, 20] }

[groups.dots]                 # groups.dots: here and there
channels = 3
leds = 3
colour = "white"
current_ma = 5                # groups.dots: dim
gauge = "oil"
places_mm = [
    [20, 60],
    [30, 65],
    [40, 70],
]

# ---- file: how it changes ----

[fades.flash]                 # fades.flash: at once
segments = [
    { shape = "step", to_percent = 100, length_ms = 40 },
    { shape = "decay", to_percent = 0, length_ms = 300 },
]

# fades.glow: for long
[fades.glow]
segments = [{ to_percent = 40, length_ms = 500 }]
loop = true                   # fades.glow: for ever

[effects.bang]                # effects.bang: one
lights = [{ group = "lens", fade = "flash" }]
counts = [{ counter = "oil", change = -1 }]

[effects.wave]                # effects.wave: two
lights = [{ group = "vents", fade = "flash", stagger_ms = 40 }, { group = "dots", fade = "flash" }]

[effects.rest]
layer = "ambient"             # effects.rest: under all
lights = [{ group = "vents", fade = "glow" }]

# ---- file: what starts it ----

[triggers.tap]                # triggers.tap: for each press
mode = "once"
input = "lever"
effects = ["bang", "wave"]    # triggers.tap: in turn
needs = "oil"

# triggers.gale: while held
[triggers.gale]
mode = "repeat"
input = "lever"
when = { ring = "storm" }
rate_per_s = 2                # triggers.gale: slow enough
effects = ["wave"]

[triggers.always]             # triggers.always: from power-up
mode = "always"
during = "rest"

# ---- file: what feeds it ----

[supplies.cells]              # supplies.cells: in the handle
kind = "cells"
cell = "alkaline_aa"
cells_in_series = 3           # supplies.cells: one above the other

[supplies.wall]
kind = "wall"                 # supplies.wall: on the table
voltage_v = 5.0
maximum_current_ma = 1000

[scripts.show]
presses = "tap lever @0.5, hold lever @1..2, set ring storm @1.5"   # script: a short one
# file: its end
"""
CASES = int(os.environ.get("FXSEQ_CASES", "25"))
REMARK = re.compile(r"# ?(.*)")
Order = tuple[str, dict[str, Any]]


def remarks(text: str) -> list[str]:
    return [found[1] for line in text.split("\n") if (found := REMARK.search(line))]


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Every place of the file that has a value of its own."""
    if isinstance(value, dict):
        inner: Any = value.items()
    elif isinstance(value, list):
        inner = enumerate(value)
    else:
        yield path, value
        return
    for step, below in inner:
        yield from leaves(below, (*path, step))


def turned(draw: st.DrawFn, value: Any, values: dict[str, Any]) -> Any:
    """Another value of its kind, or none."""
    if draw(st.integers(0, 5)) == 0:
        return None
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return draw(st.sampled_from([value + 1, value * 2, 0, -1, 7.5]))
    names = [name for kind in NAMED for name in values.get(kind, {})]
    words = ["calm", "storm", "once", "repeat", "while_held", "on_off", "always", "wall", "cells"]
    more = ["green", "red", "mosfet", "pin", "flicker", "ease", "low_battery", "diodes"]
    return draw(st.sampled_from([*names, *words, *more]))


@st.composite
def orders(draw: st.DrawFn, values: dict[str, Any]) -> Order:
    """One of all that a page may ask for."""
    kind = draw(st.sampled_from([kind for kind in NAMED if values.get(kind)]))
    name = draw(st.sampled_from(sorted(values[kind])))
    thing = {"kind": kind, "name": name}
    do = draw(
        st.sampled_from(
            [
                "set",
                "set",
                "set",
                "add",
                "copy",
                "move",
                "rename",
                "delete",
                "item",
                "take",
                "lamps",
            ]
        )
    )
    if do == "set":
        path, value = draw(st.sampled_from(list(leaves(values))))
        change = {"path": list(path), "value": turned(draw, value, values)}
        return "parts", {"do": "set", "changes": [change]}
    if do == "item":
        paths = [path for path, _ in leaves(values) if any(isinstance(step, int) for step in path)]
        path = draw(st.sampled_from(paths))
        last = max(at for at, step in enumerate(path) if isinstance(step, int))
        by = draw(st.sampled_from([-1, 1]))
        return "parts", {"do": "move", "path": list(path[: last + 1]), "by": by}
    if do == "take":
        taken = draw(st.sampled_from(["board", "speaker", "amplifier", "regulator", "supplies"]))
        turn = draw(st.integers(0, len(common_parts()[taken]) - 1))
        named = {"name": draw(st.sampled_from(["cells", "wall"]))} if taken == "supplies" else {}
        return "parts", {"do": "take", "kind": taken, "common": turn, **named}
    if do == "lamps":
        return "lamps", draw(lamp_orders(values))
    more: dict[str, Any] = {
        "add": {"name": draw(st.sampled_from(["fresh", "lens"])), "given": {}},
        "move": {"by": draw(st.sampled_from([-1, 1]))},
        "rename": {"new": draw(st.sampled_from(["other", "ring", "lever", "bad name"]))},
        "delete": draw(
            st.sampled_from([{}, {"instead": draw(st.sampled_from(sorted(values[kind])))}])
        ),
    }.get(do, {})
    return "parts", {"do": do, **thing, **more}


@st.composite
def lamp_orders(draw: st.DrawFn, values: dict[str, Any]) -> dict[str, Any]:
    groups = sorted(values.get("groups", {})) or ["lens"]
    group = draw(st.sampled_from(groups))
    leds = values.get("groups", {}).get(group, {}).get("leds", 1)
    numbers = draw(st.lists(st.integers(1, leds), min_size=1, max_size=3, unique=True))
    way = st.integers(0, 100)
    asked: list[dict[str, Any]] = [
        {"leds": draw(st.integers(1, 8))},
        {"order": numbers},
        {"moved_mm": {str(number): [draw(way), draw(way)] for number in numbers}},
        {"lamps": numbers, "by_mm": [draw(st.integers(-9, 9)), 5]},
        {"lamps": numbers, "into": draw(st.sampled_from(groups))},
        {"lamps": numbers, "new": draw(st.sampled_from(["part", "lens"]))},
    ]
    return {"group": group, **draw(st.sampled_from(asked))}


def done(desk: Desk, order: Order) -> bool:
    """Whether it was taken; what is refused changes nothing."""
    way, body = order
    before = desk.now
    try:
        if way == "lamps":
            desk.edit(lamp_changes(body, desk.now))
        else:
            carry_out(body, desk)
    except FxError:
        assert desk.now is before
        return False
    return desk.now is not before


def gone(order: Order, before: dict[str, Any], after: dict[str, Any]) -> set[str]:
    """Things that the file has no more."""
    named = {f"{kind}.{name}" for kind in NAMED for name in before.get(kind, {})}
    left = {f"{kind}.{name}" for kind in NAMED for name in after.get(kind, {})}
    return set() if order[1].get("do") == "rename" else named - left


def check(order: Order, before: str, after: str, first_names: dict[str, str]) -> None:
    """Remarks and order are kept, but for what the order itself takes away or moves.
    first_names: of things that are called otherwise by now, by the present name.
    """
    was, now = (tomllib.loads(text) for text in (before, after))
    lost = {first_names.pop(name, name) for name in gone(order, was, now)}
    if order[1].get("do") == "rename":
        kind, old, new = (order[1][key] for key in ("kind", "name", "new"))
        first_names[f"{kind}.{new}"] = first_names.pop(f"{kind}.{old}", f"{kind}.{old}")
    had = remarks(before)
    there = remarks(after)
    missing = [remark for remark in had if remark not in there]
    assert [remark for remark in missing if remark.split(":")[0] not in lost] == [], order
    is_moved = order[1].get("do") == "move"
    kept = [remark for remark in had if remark in there]
    assert sorted(there) == sorted(kept) if is_moved else there == kept, order
    for kind in NAMED:
        old = [name for name in was.get(kind, {}) if name in now.get(kind, {})]
        new = [name for name in now.get(kind, {}) if name in was.get(kind, {})]
        assert sorted(old) == sorted(new) if is_moved else old == new, order


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "remarks.toml"
    path.write_text(TEXT, encoding="utf-8")
    return path


@settings(
    max_examples=CASES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_any_edits_keep_remarks_and_order_and_are_undone_to_the_byte(
    file: Path, data: st.DataObject
) -> None:
    desk = Desk(file)
    texts = [desk.now.text]
    first_names: dict[str, str] = {}
    for _ in range(data.draw(st.integers(1, 8), "orders")):
        order = data.draw(orders(tomllib.loads(desk.now.text)), "order")
        before = desk.now.text
        if done(desk, order):
            check(order, before, desk.now.text, first_names)
            texts.append(desk.now.text)
    for text in reversed(texts[:-1]):
        assert desk.undo().text == text
    assert not desk.can_undo and desk.now.text == TEXT
    for text in texts[1:]:
        assert desk.redo().text == text
