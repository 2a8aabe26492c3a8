"""What the page asks of the things of a prop: made, changed key by key, named, copied, moved and
taken out. Each order is one step that can be undone; its faults are said in a maker's words.
"""

import math
import re
import tomli
from collections.abc import Callable
from typing import Any

from fxseq.bench.body import Refused, path_of, text_of
from fxseq.bench.common_parts import common_parts, taken, taking
from fxseq.bench.desk import Changes, Desk, Version
from fxseq.bench.forms import LABELS, LEAST, UNUSED, forms, keys
from fxseq.bench.labels import plain, plain_remedy
from fxseq.bench.regroup import aside_changes
from fxseq.bench.scripts import change_item, record
from fxseq.bench.view import prop_view
from fxseq.sequence import Fault, FxError
from fxseq.sequence.blocks import copy, move, move_item
from fxseq.sequence.edits import set_value, value_at
from fxseq.sequence.names import (
    Position,
    check_name,
    free_name,
    rename,
    rename_position,
    repoint,
    take_out,
    uses_of,
)
from fxseq.sequence.paths import NAMED, Path, place_name

Body = dict[str, Any]
Values = dict[str, Any]
_SHOTS_A_SECOND = 2
_FLICKER = {"low_percent": 0, "every_ms": 50, "length_ms": 1000}
_WALL = {"voltage_v": 5.0, "maximum_current_ma": 1000}
_CELLS = {"voltage_v": None, "cell": "alkaline_aa", "cells_in_series": 3}
_LOW_V = 3.3
_INSTEAD: dict[str, tuple[set[str], ...]] = {
    "groups": ({"ring_mm", "line_mm", "places_mm"}, {"transistor", "mosfet", "driver_reference_v"}),
    "supplies": ({"cell", "curve"}, {"fuse_ma", "resettable_fuse_ma"}),
    "clips": ({"peak_to_dbfs", "rms_to_dbfs", "match_to"}, {"start_ms", "start_cue"}),
    "speaker": ({"resonance_hz", "free_resonance_hz"},),
}
"""By kind: keys of which one takes the place of the others."""
_LINE = re.compile(r"^:\d*\s*")
_SWITCHED_BY = {"transistor": "transistor", "mosfet": "mosfet", "driver_reference_v": "driver"}


def parts_view(version: Version) -> Values:
    """values: all that the file says. assumed: the same with what holds where it says nothing,
    null where that depends on more than the file. common: which common part stands at a place.
    """
    values = _values(version)
    return {
        "revision": version.revision,
        "values": values,
        "common": {
            kind: (
                {name: taken(kind, part) for name, part in values.get(kind, {}).items()}
                if kind in NAMED
                else taken(kind, values.get(kind, {}))
            )
            for kind in common_parts()
        },
        "assumed": version.prop.sequence.model_dump(mode="json"),
    }


def uses_view(body: Body, version: Version) -> Values:
    """uses: places that name the thing, in words. goes: triggers that cannot be without it."""
    values = _values(version)
    kind, name = _thing(body, values)
    paths = uses_of(values, kind, name)
    left = tomli.loads(take_out(_plain_text(version), kind, name)).get("triggers", {})
    return {
        "uses": [plain(place_name(path), keys()) for path in paths],
        "goes": [
            each
            for each in values.get("triggers", {})
            if each not in left and (kind, name) != ("triggers", each)
        ],
    }


def carry_out(body: Body, desk: Desk) -> Version:
    """Carry out an order. Raises Refused with its faults in a maker's words; nothing is changed
    then.
    """
    do = text_of(body, "do")
    if do not in _ORDERS:
        raise Refused(400, Fault("request", "'do' is no order", ", ".join(_ORDERS)))
    return plainly(lambda: _ORDERS[do](body, desk), desk)


def plainly(act: Callable[[], Version], desk: Desk) -> Version:
    """Carry out a change. Raises Refused with its faults in a maker's words."""
    try:
        return act()
    except Refused:
        raise
    except FxError as error:
        raise Refused(422, *(in_plain_words(fault, desk) for fault in error.faults)) from None


def in_plain_words(fault: Fault, desk: Desk) -> Fault:
    """The fault without file, line and keys, and without what to write into the file."""
    return Fault(
        _plain_where(fault.where, desk),
        plain(fault.what, keys()),
        plain(fault.allowed, keys()),
        plain_remedy(fault.remedy, keys()),
    )


def _plain_where(where: str, desk: Desk) -> str:
    file = str(desk.path)
    if where.startswith(file):
        where = _LINE.sub("", where[len(file) :])
    return plain(where.replace(f"{desk.path.parent}/", ""), keys())


def _set(body: Body, desk: Desk) -> Version:
    """{"changes": [{"path", "value"}], "gesture"}: null takes a key out."""
    return _edit(_changes(body), desk, text_of(body, "gesture", ""))


def _append(body: Body, desk: Desk) -> Version:
    """{"path": of a list, "value": a new item behind its last, "changes": made before it}. What the
    page knows of the list does not count: of two quick clicks each gives an item.
    """
    path = path_of(body)
    items = value_at(_values(desk.now), path)
    if isinstance(items, list) and items:
        added = (*path, len(items)), body.get("value")
    else:
        added = path, [body.get("value")]
    return _edit([*_changes(body), added], desk)


def _edit(changes: list[tuple[Path, Any]], desk: Desk, gesture: str = "") -> Version:
    values = _values(desk.now)
    whole = [change for path, value in changes for change in _with_companions(path, value, values)]
    return desk.edit(whole, gesture)


def _changes(body: Body) -> list[tuple[Path, Any]]:
    """Paths and values. Raises Refused."""
    given = body.get("changes")
    if not isinstance(given, list) or not all(
        isinstance(each, dict) and "value" in each for each in given
    ):
        raise Refused(400, Fault("request", "'changes' is no list of changes", "path and value"))
    return [(path_of(each), each["value"]) for each in given]


def _add(body: Body, desk: Desk) -> Version:
    """{"kind", "name", "given": keys that are said from the start}. A trigger may be given the
    names of an input and of an effect that are new, too; "common": a turn, and it is that common
    part.
    """
    values = _values(desk.now)
    kind = text_of(body, "kind")
    given = taking(kind, _turn(body), {}) if "common" in body else body.get("given", {})
    table = {each["kind"]: each["table"] for theme in forms()["themes"] for each in theme["kinds"]}
    if not table.get(kind) or not isinstance(given, dict):
        raise Refused(400, Fault("request", "'kind' or 'given' is not usable", ", ".join(table)))
    least = {} if "common" in body else _least(kind, table[kind], desk.now)
    new = {**given, **{key: value for key, value in least.items() if key not in given}}
    if kind not in NAMED and kind in values:
        raise Refused(422, Fault(LABELS[kind], "there is one already"))
    if kind not in NAMED:
        return desk.edit([((kind,), new)])
    name = text_of(body, "name", "") or free_name(values, kind, kind.removesuffix("s"))
    check_name(values, kind, name)
    more = _needed_by_trigger(new, values) if kind == "triggers" else []
    return desk.edit([*more, ((kind, name), new)])


def _least(kind: str, table: str, version: Version) -> Values:
    """What a new one begins with; a picture holds all lamps that there are."""
    least = LEAST.get(table, {})
    if kind != "picture":
        return least
    plane = prop_view(version)["picture"]
    return {key: max(size_mm, math.ceil(plane[key])) for key, size_mm in least.items()}


def _take(body: Body, desk: Desk) -> Version:
    """{"kind", "name": of a kind with names, "common": a turn}: that common part in place of what
    is there.
    """
    kind = text_of(body, "kind")
    turn = _turn(body)
    part = _values(desk.now).get(kind, {})
    path: Path = (kind,)
    if kind in NAMED:
        path = _thing(body, _values(desk.now))
        part = part[path[1]]
    return desk.edit([((*path, key), value) for key, value in taking(kind, turn, part).items()])


def _turn(body: Body) -> int:
    """Which of the common parts of a kind. Raises Refused."""
    known = common_parts().get(text_of(body, "kind"), [])
    turn = body.get("common")
    if not isinstance(turn, int) or isinstance(turn, bool) or turn not in range(len(known)):
        raise Refused(400, Fault("request", "'common' is no turn among the common parts"))
    return turn


def _needed_by_trigger(trigger: Values, values: Values) -> Changes:
    """Inputs and effects of a new trigger that the file does not have yet."""
    effects = trigger.get("effects", [])
    played = [*(effects if isinstance(effects, list) else []), trigger.get("during")]
    named = [("inputs", trigger.get("input")), *(("effects", name) for name in played)]
    fresh = [
        (kind, name)
        for kind, name in named
        if isinstance(name, str) and name not in values.get(kind, {})
    ]
    for kind, name in fresh:
        check_name(values, kind, name)
    return [(place, {}) for place in dict.fromkeys(fresh)]


def _rename(body: Body, desk: Desk) -> Version:
    """{"kind", "name", "new"}."""
    kind, name = _thing(body, _values(desk.now))
    new = text_of(body, "new")
    return desk.rework(lambda text: rename(text, kind, name, new))


def _rename_position(body: Body, desk: Desk) -> Version:
    """{"name": a selector, "position", "new"}."""
    values = _values(desk.now)
    _, selector = _thing({**body, "kind": "selectors"}, values)
    position = Position(selector, text_of(body, "position"))
    if position.name not in values["selectors"][selector]["positions"]:
        raise Refused(422, Fault("position", f"there is none called '{position.name}'"))
    new = text_of(body, "new")
    return desk.rework(lambda text: rename_position(text, position, new))


def _copy(body: Body, desk: Desk) -> Version:
    """{"kind", "name"}. A copy of a group of lamps lies beside it, not on it."""
    values = _values(desk.now)
    kind, name = _thing(body, values)
    new = free_name(values, kind, name)
    aside = aside_changes(name, new, desk.now.prop.sequence) if kind == "groups" else []

    def copied(text: str) -> str:
        text = copy(text, kind, name, new)
        for path, place in aside:
            text = set_value(text, path, place)
        return text

    return desk.rework(copied)


def _own(body: Body, desk: Desk) -> Version:
    """{"path"}: the name there is that of a fade, of which this place gets a copy of its own."""
    path = path_of(body)
    values = _values(desk.now)
    name = value_at(values, path)
    if path[0] != "effects" or path[-1] != "fade" or name not in values.get("fades", {}):
        raise Refused(400, Fault("request", "'path' leads to no fade of an effect"))
    new = free_name(values, "fades", name)
    return desk.rework(lambda text: set_value(copy(text, "fades", name, new), path, new))


def _insert(body: Body, desk: Desk) -> Version:
    """{"path": of a list with the place of the new item, "value", "changes": made before it}: what
    stands there, and behind it, moves on by one.
    """
    path = path_of(body)
    items = value_at(_values(desk.now), path[:-1])
    changes = _changes(body)
    at = path[-1]
    if not isinstance(items, list) or not isinstance(at, int) or at > len(items):
        raise Refused(400, Fault("request", "'path' leads to no place in a list"))

    def rework(text: str) -> str:
        for place, value in [*changes, ((*path[:-1], len(items)), body.get("value"))]:
            text = set_value(text, place, value)
        for behind in range(len(items), at, -1):
            text = move_item(text, (*path[:-1], behind), -1)
        return text

    try:
        return desk.rework(rework)
    except (TypeError, ValueError):
        raise Refused(400, Fault("request", "a file has no such value or place")) from None


def _move(body: Body, desk: Desk) -> Version:
    """{"kind", "name", "by"} or {"path", "by"}: -1 for up, 1 for down."""
    by = body.get("by")
    if by not in (-1, 1):
        raise Refused(400, Fault("request", "'by' is not usable", "-1 or 1"))
    if "path" in body:
        path = path_of(body)
        return desk.rework(lambda text: move_item(text, path, by))
    kind, name = _thing(body, _values(desk.now))
    return desk.rework(lambda text: move(text, kind, name, by))


def _delete(body: Body, desk: Desk) -> Version:
    """{"kind", "name"}, with what uses it; or with "instead", which takes its place there."""
    values = _values(desk.now)
    kind, name = _thing(body, values)
    instead = text_of(body, "instead", "")
    if not instead:
        return desk.rework(lambda text: take_out(text, kind, name))
    if instead == name or instead not in values[kind]:
        raise Refused(422, Fault("instead", f"there is no other one called '{instead}'"))
    return desk.rework(lambda text: take_out(repoint(text, kind, name, instead), kind, name))


_ORDERS: dict[str, Callable[[Body, Desk], Version]] = {
    "set": _set,
    "add": _add,
    "rename": _rename,
    "rename_position": _rename_position,
    "copy": _copy,
    "own": _own,
    "press": change_item,
    "record": record,
    "append": _append,
    "insert": _insert,
    "move": _move,
    "delete": _delete,
    "take": _take,
}


def _thing(body: Body, values: Values) -> tuple[str, str]:
    """Kind and name of a thing that there is. Raises Refused."""
    kind = text_of(body, "kind")
    name = text_of(body, "name")
    if kind not in NAMED or name not in values.get(kind, {}):
        raise Refused(422, Fault("name", f"there is nothing called '{name}'"))
    return kind, name


def _plain_text(version: Version) -> str:
    return version.text.removeprefix("\ufeff").replace("\r\n", "\n")


def _values(version: Version) -> Values:
    return tomli.loads(_plain_text(version))


def _with_companions(path: Path, value: Any, values: Values) -> Changes:
    """The change, with those without which it could not be: keys that the new choice has no use
    for go, and those that it needs get a first value.
    """
    part = value_at(values, path[:-1])
    changes: dict[str, Any] = {}
    if isinstance(part, dict) and part.get(str(path[-1])) != value:
        changes = _companions(path, value, part, values)
    outer = path[:-1]
    return [*(((*outer, key), other) for key, other in changes.items()), (path, value)]


def _companions(path: Path, value: Any, part: Values, values: Values) -> dict[str, Any]:
    """Other keys of the part by what becomes of them."""
    kind = str(path[0])
    key = str(path[-1])
    instead = {
        other: None
        for keys in _INSTEAD.get(kind, ())
        if key in keys and value is not None and len(path) <= 3
        for other in keys - {key}
        if other in part
    }
    special = _SPECIAL.get((kind, key))
    if special is None:
        return instead
    return {**instead, **special(key, value, part, values)}


def _no_use(table: str, value: Any, part: Values) -> dict[str, Any]:
    """Keys that have no use under a choice."""
    return {key: None for key in UNUSED[table][1].get(str(value), ()) if key in part}


_RAMP = {"ramp_to_rate_per_s": "ramp_shots", "ramp_shots": "ramp_to_rate_per_s"}
_FIRST_RAMP = {"ramp_shots": 10, "ramp_to_rate_per_s": 5}


def _mode(key: str, mode: Any, trigger: Values, values: Values) -> dict[str, Any]:
    changes = _no_use("Trigger", mode, trigger)
    effects = trigger.get("effects") or [
        trigger[step] for step in ("during", "begin", "end") if step in trigger
    ]
    if mode in ("once", "repeat"):
        changes |= {} if trigger.get("effects") else {"effects": effects[:1]}
    elif not any(step in trigger for step in ("begin", "during", "end")):
        changes["during"] = next(iter(effects), None)
    if mode == "repeat" and "rate_per_s" not in trigger:
        changes["rate_per_s"] = _SHOTS_A_SECOND
    if mode != "always" and "input" not in trigger:
        changes["input"] = next(iter(values.get("inputs", {})), None)
    return changes


def _needs(key: str, counter: Any, trigger: Values, values: Values) -> dict[str, Any]:
    return {"empty": None} if counter is None and "empty" in trigger else {}


def _ramp(key: str, value: Any, trigger: Values, values: Values) -> dict[str, Any]:
    other = _RAMP[key]
    if value is None:
        return {other: None}
    return {} if other in trigger else {other: _FIRST_RAMP[other]}


def _supply(key: str, kind: Any, supply: Values, values: Values) -> dict[str, Any]:
    first = _WALL if kind == "wall" else _CELLS
    changes = _no_use("Supply", kind, supply)
    return changes | {
        key: value for key, value in first.items() if value is None or key not in supply
    }


def _curve(key: str, curve: Any, supply: Values, values: Values) -> dict[str, Any]:
    if curve is None:
        return {"cell": "alkaline_aa"}
    current_ma = _WALL["maximum_current_ma"]
    return {} if "maximum_current_ma" in supply else {"maximum_current_ma": current_ma}


def _shape(key: str, shape: Any, segment: Values, values: Values) -> dict[str, Any]:
    if shape != "flicker":
        return _no_use("Segment", shape, segment)
    changes: dict[str, Any] = {
        key: first for key, first in _FLICKER.items() if not segment.get(key)
    }
    if segment.get("to_percent") == "ambient":
        changes["to_percent"] = 50
    return changes


def _input(key: str, kind: Any, given: Values, values: Values) -> dict[str, Any]:
    if kind == "low_battery":
        return {} if "low_v" in given else {"low_v": _LOW_V}
    return _no_use("Input", "button", given)


def _lamps(key: str, count: Any, group: Values, values: Values) -> dict[str, Any]:
    """One LED on each output stays one on each."""
    outputs = group.get("channels", 1)
    if isinstance(count, int) and outputs == group.get("leds") and outputs > 1:
        return {"leds" if key == "channels" else "channels": count}
    return {}


def _switch_part(key: str, data: Any, group: Values, values: Values) -> dict[str, Any]:
    return {} if data is None else {"switch": _SWITCHED_BY[key]}


def _switch(key: str, switch: Any, group: Values, values: Values) -> dict[str, Any]:
    return {part: None for part, what in _SWITCHED_BY.items() if what != switch and part in group}


Companion = Callable[[str, Any, Values, Values], dict[str, Any]]
_SPECIAL: dict[tuple[str, str], Companion] = {
    ("triggers", "mode"): _mode,
    ("triggers", "needs"): _needs,
    ("triggers", "ramp_shots"): _ramp,
    ("triggers", "ramp_to_rate_per_s"): _ramp,
    ("supplies", "kind"): _supply,
    ("supplies", "curve"): _curve,
    ("fades", "shape"): _shape,
    ("inputs", "kind"): _input,
    ("groups", "leds"): _lamps,
    ("groups", "channels"): _lamps,
    ("groups", "switch"): _switch,
    **{("groups", key): _switch_part for key in _SWITCHED_BY},
}
"""By kind and key: given the key, its new value, its part and all values, what changes with it."""
