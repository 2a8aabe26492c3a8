"""Press scripts on the page: what was pressed becomes one, and its presses are moved, made longer
and taken out, each item in the text where it stands.
"""

import math
from collections.abc import Callable, Iterator
from typing import Any

from fxseq.bench.body import Refused, text_of
from fxseq.bench.desk import Desk, Version
from fxseq.bench.run_files import pressed_script
from fxseq.player import TAP_S, Item, PressKind, Script, parse_script, script_items
from fxseq.sequence import Fault
from fxseq.sequence.names import check_name, script_changed
from fxseq.sequence.paths import Path
from fxseq.table import Names, Table

LEAD_S = 0.5
"""From power-up to the first press of what was pressed: nobody waits for longer."""

EMPTY = "end @3"
"""A script in which nothing is pressed."""

Values = dict[str, Any]


def script_view(name: str, version: Version) -> Values:
    """items: {words, start_s, end_s}, in the order of the text, end_s null where it has none;
    events: [frame, kind, index, value] of the player, and until_frame. Raises Refused where there
    is none of that name, SequenceError where it has a fault.
    """
    text = _text(name, version)
    script = _parsed(name, text, version)
    items = [item.said for item in script_items(text)]
    return {
        "revision": version.revision,
        "items": [
            {"words": words, "start_s": start_s, "end_s": end_s}
            for words, start_s, end_s in filter(None, items)
        ],
        "events": [list(map(int, press)) for press in script.presses],
        "until_frame": script.until_frame,
    }


def change_item(body: Values, desk: Desk) -> Version:
    """{"name", "item": its turn in the script, "start_s", "end_s"}: at another time, a tap or a
    hold by how long it is; or with "out": true, taken out; or without "item", "words" as a new
    last item.
    """
    name = text_of(body, "name")
    text = _text(name, desk.now)
    items = list(script_items(text))
    if "item" not in body:
        new = _appended(text, _written(text_of(body, "words").split(), *_times(body)))
    else:
        at = body["item"]
        if not isinstance(at, int) or at not in range(len(items)):
            raise Refused(400, Fault("request", "'item' is none of the script"))
        new = _without(text, items[at]) if body.get("out") else _moved(text, items[at], body)
    new = new if new.strip() else EMPTY
    _parsed(name, new, desk.now)
    return desk.rework(_set(name, new))


def record(body: Values, desk: Desk) -> Version:
    """{"name", "revision", "until_frame", "presses"}: what was pressed as a script of this name,
    in place of one that there is. Raises Refused.
    """
    name = text_of(body, "name")
    values = desk.now.prop.sequence.scripts
    script = pressed_script(desk.now, body)
    compiled = desk.now.prop.compiled
    items = _items_of(script, compiled.table, compiled.names)
    text = ", ".join(sorted(items, key=_begin_s))
    _parsed(name, text, desk.now)
    if name in values:
        return desk.rework(_set(name, text))
    check_name({}, "scripts", name)
    return desk.edit([(("scripts", name), {"presses": text})])


def _path(name: str) -> Path:
    return ("scripts", name, "presses")


def _set(name: str, new: str) -> Callable[[str], str]:
    return lambda text: script_changed(text, _path(name), lambda _: new)


def _text(name: str, version: Version) -> str:
    scripts = version.prop.sequence.scripts
    if name not in scripts:
        raise Refused(404, Fault("press script", f"there is none called '{name}'"))
    return scripts[name].presses


def _parsed(name: str, text: str, version: Version) -> Script:
    compiled = version.prop.compiled
    return parse_script(text, compiled.table, compiled.names, f"script '{name}'")


def _times(body: Values) -> tuple[float, float | None]:
    start_s = body.get("start_s")
    end_s = body.get("end_s")
    for time_s in (start_s, 0 if end_s is None else end_s):
        if not isinstance(time_s, int | float) or isinstance(time_s, bool) or time_s < 0:
            raise Refused(400, Fault("request", "'start_s' or 'end_s' is no time"))
    return float(start_s or 0), None if end_s is None else float(end_s)


def _written(words: list[str], start_s: float, end_s: float | None) -> str:
    """An item. What is held for no longer than a tap is one."""
    if words[0] in ("tap", "hold") and end_s is not None:
        words = ["hold" if end_s > start_s + TAP_S else "tap", *words[1:]]
    until = f"..{end_s:g}" if words[0] == "hold" and end_s is not None else ""
    return f"{' '.join(words)} @{start_s:g}{until}"


def _moved(text: str, item: Item, body: Values) -> str:
    if item.said is None:
        raise Refused(422, Fault("press script", f"'{item.text}' is not understood"))
    written = _written(item.said[0], *_times(body))
    return text[: item.at] + written + text[item.at + len(item.text) :]


def _appended(text: str, item: str) -> str:
    if not text.strip():
        return item
    is_lines = "\n" in text.strip()
    kept = text.rstrip() if not text.endswith("\n") else text
    if text.endswith("\n"):
        return f"{kept}{item}\n"
    return f"{kept}\n{item}" if is_lines else f"{kept}, {item}"


def _without(text: str, item: Item) -> str:
    """Without the item, and the comma behind it or, of the last one, before it."""
    before = text[: item.at]
    behind = text[item.at + len(item.text) :]
    if behind.lstrip(" \t")[:1] in (",", ";"):
        return before + behind.lstrip(" \t")[1:].lstrip(" \t")
    bare = before.rstrip(" \t")
    if bare[-1:] in (",", ";"):
        return bare[:-1] + behind
    return before + behind


def _items_of(script: Script, table: Table, names: Names) -> Iterator[str]:
    """Items that come to the same presses, from the first thing that a hand did on."""
    at_start = {index: selector.start for index, selector in enumerate(table.selectors)}
    done = [
        press
        for press in script.presses
        if press.kind != PressKind.SELECT or press.frame or press.value != at_start[press.index]
    ]
    first = min((press.frame for press in done if press.frame), default=0)
    early = max(first - round(LEAD_S * table.frame_rate_hz), 0)
    down: dict[int, float] = {}
    end_s = 0.0
    for press in done:
        frame = max(press.frame - early, 0)
        is_release = press.kind == PressKind.RELEASE
        at_s = _time_s(frame, table)
        end_s = max(end_s, at_s)
        if press.kind in (PressKind.PRESS, PressKind.HELD):
            down[press.index] = at_s
        elif is_release and press.index in down:
            yield _written(["hold", names.inputs[press.index]], down.pop(press.index), at_s)
        elif press.kind == PressKind.SELECT:
            position = names.positions[press.index][press.value]
            yield _written(["set", names.selectors[press.index], position], at_s, None)
        elif press.kind == PressKind.VOLUME:
            yield _written(["set", "volume", str(round(press.value / 2.56))], at_s, None)
    for index, at_s in down.items():
        yield _written(["press", names.inputs[index]], at_s, None)
    until_s = math.ceil(10 * (script.until_frame - early) / table.frame_rate_hz) / 10
    if until_s > end_s:
        yield f"end @{until_s:g}"


def _begin_s(item: str) -> float:
    said = Item(item, 0).said
    assert said is not None
    return said[1]


def _time_s(frame: int, table: Table) -> float:
    """To the millisecond, about a frame: no hand is as exact."""
    return round(frame / table.frame_rate_hz, 3)
