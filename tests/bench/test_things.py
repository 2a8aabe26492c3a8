"""Things that the page makes, changes, names, moves and takes out: always a file that compiles, or
a refusal in a maker's words with nothing changed.
"""

import random
import tomllib
from pathlib import Path
from typing import Any

import pytest
from bench_client import Client

from fxseq.bench import Desk
from fxseq.bench.forms import LEAST, forms, keys
from fxseq.bench.things import carry_out, parts_view
from fxseq.sequence import FxError
from fxseq.sequence.paths import NAMED

TABLES = forms()["tables"]
MUST_BE = {"board", "title"}
"""What every file has."""
KINDS = [kind for theme in forms()["themes"] for kind in theme["kinds"]]


@pytest.fixture
def desk(small_file: Path) -> Desk:
    return Desk(small_file)


def order(desk: Desk, do: str, **body: Any) -> dict[str, Any]:
    """Carry out an order; what the file says then."""
    carry_out({"do": do, **body}, desk)
    return tomllib.loads(desk.now.text)


def set_to(desk: Desk, *path: str | int, value: Any) -> dict[str, Any]:
    return order(desk, "set", changes=[{"path": list(path), "value": value}])


def refusal(desk: Desk, do: str, **body: Any) -> str:
    before = desk.now
    with pytest.raises(FxError) as caught:
        order(desk, do, **body)
    assert desk.now is before
    return str(caught.value)


def test_every_key_of_the_file_has_a_form_that_the_page_leads_to():
    """Those of the top of the file, and of all tables that they hold."""
    reached = {"Sequence"}
    takes = [{"as": "table", "table": kind["table"]} for kind in KINDS]
    while takes:
        take = takes.pop()
        if take["as"] == "rows":
            takes.append(take["of"])
        elif take["as"] == "table" and take["table"] and take["table"] not in reached:
            reached.add(take["table"])
            takes += [take for field in TABLES[take["table"]]["fields"] for take in field["takes"]]
    assert reached == set(TABLES)
    assert {kind["kind"] for kind in KINDS} == {
        field["key"] for field in TABLES["Sequence"]["fields"]
    } - {
        "format"
    }  # has one value, which the starter has


def test_every_field_says_what_it_means_in_words():
    fields = [field for table in TABLES.values() for field in table["fields"]]
    assert len(fields) > 200
    for field in fields:
        assert field["label"] and field["means"], field
        assert not {word for word in keys() if "_" in word and word in field["means"]}, field


NEW = [each["kind"] for each in KINDS if each["table"] and each["kind"] not in MUST_BE]


@pytest.mark.parametrize("kind", NEW)
def test_a_new_thing_begins_with_what_compiles(desk: Desk, kind: str):
    given = {"triggers": {"mode": "once", "input": "pedal", "effects": ["bang"]}}.get(kind, {})
    if kind == "clips":
        given = {"file": "clips/crack_a.wav"}
    values = order(desk, "add", kind=kind, name="new", given=given)
    assert kind not in NAMED or "new" in values[kind]
    if kind == "triggers":
        assert "pedal" in values["inputs"] and "bang" in values["effects"]


def test_a_trigger_goes_through_all_modes_and_back(desk: Desk):
    for mode in ("repeat", "while_held", "on_off", "always", "once", "always", "repeat", "once"):
        values = set_to(desk, "triggers", "flash", "mode", value=mode)
        assert values["triggers"]["flash"]["mode"] == mode
    assert values["triggers"]["flash"] == {"mode": "once", "input": "button", "effects": ["flash"]}


def test_a_supply_and_a_segment_change_their_kind(desk: Desk):
    order(desk, "add", kind="supplies", name="cells")
    assert set_to(desk, "supplies", "cells", "kind", value="wall")["supplies"]["cells"] == {
        "kind": "wall", "voltage_v": 5.0, "maximum_current_ma": 1000,
    }  # fmt: skip
    set_to(desk, "supplies", "cells", "kind", value="cells")
    for shape in ("flicker", "ease"):
        values = set_to(desk, "fades", "flash", "segments", 1, "shape", value=shape)
        assert values["fades"]["flash"]["segments"][1]["shape"] == shape


@pytest.mark.parametrize(
    ("path", "value", "also"),
    [
        (("groups", "lamp", "line_mm"), LEAST["Line"], {"ring_mm": None}),
        (("groups", "lamp", "mosfet"), {}, {"switch": "mosfet"}),
        (("groups", "lamp", "leds"), 3, {"channels": 3}),
        (("groups", "lamp", "channels"), 4, {"leds": 4}),
        (("supplies", "cells", "curve"), LEAST["CellCurve"], {"cell": None}),
        (("clips", "crack", "rms_to_dbfs"), -20, {"peak_to_dbfs": None}),
        (("inputs", "button", "kind"), "low_battery", {"low_v": 3.3}),
        (("triggers", "again", "ramp_shots"), 5, {"ramp_to_rate_per_s": 5}),
    ],
)
def test_a_choice_brings_along_what_it_needs(
    desk: Desk, path: tuple[str, ...], value: Any, also: dict[str, Any]
):
    order(desk, "add", kind="supplies", name="cells")
    set_to(desk, "supplies", "cells", "cells_in_series", value=None)
    order(desk, "add", kind="triggers", name="again", given={
        "mode": "repeat", "input": "button", "effects": ["flash"], "rate_per_s": 2,
    })  # fmt: skip
    order(desk, "set", changes=[
        {"path": ["clips", "crack", "peak_to_dbfs"], "value": -3},
        {"path": ["groups", "lamp", "ring_mm"], "value": LEAST["Ring"]},
        {"path": ["groups", "lamp", "channels"], "value": 2},
        {"path": ["groups", "lamp", "leds"], "value": 2},
    ])  # fmt: skip
    if path[0] == "inputs":
        order(desk, "rename", kind="inputs", name="button", new="other")
        order(desk, "add", kind="inputs", name="button")
    values = set_to(desk, *path, value=value)
    part = values[path[0]][path[1]]
    assert part[path[2]] == value
    assert {key: part.get(key) for key in also} == also


def test_faults_are_said_in_a_makers_words(desk: Desk):
    change = {"path": ["groups", "lamp", "current_ma"], "value": -3}
    said = refusal(desk, "set", changes=[change])
    label = "\N{LEFT DOUBLE QUOTATION MARK}current\N{RIGHT DOUBLE QUOTATION MARK}"
    assert said == f": group 'lamp': {label} is -3 mA; allowed: 0.01 to 5000 mA."
    change = {"path": ["triggers", "flash", "input"], "value": None}
    said = refusal(desk, "set", changes=[change])
    assert str(desk.path.parent) not in said and ".toml" not in said and "once a press" in said


def test_a_thing_is_named_copied_moved_and_taken_out(desk: Desk):
    before = desk.now.text
    order(desk, "rename", kind="inputs", name="button", new="lever")
    values = order(desk, "copy", kind="inputs", name="lever")
    assert list(values["inputs"]) == ["lever", "lever_2"]
    values = order(desk, "move", kind="inputs", name="lever_2", by=-1)
    assert list(values["inputs"]) == ["lever_2", "lever"]
    order(desk, "delete", kind="inputs", name="lever_2")
    order(desk, "rename", kind="inputs", name="lever", new="button")
    assert desk.now.text == before
    for _ in range(5):
        desk.undo()
    assert desk.now.text == before and not desk.can_undo


@pytest.mark.parametrize(
    "body",
    [
        {"do": "set", "changes": [{"path": ["triggers", "flash", "mode"], "value": []}]},
        {"do": "set", "changes": [{"path": ["triggers", "flash", "mode"], "value": {"a": []}}]},
        {"do": "set", "changes": [{"path": ["groups", "lamp", "leds"], "value": "two"}]},
        {"do": "set", "changes": [{"path": ["groups", 3, "leds"], "value": 2}]},
        {"do": "set", "changes": [{"path": ["fades", "flash", "segments", 9], "value": 1}]},
        {"do": "set", "changes": 3},
        {"do": "add", "kind": "triggers", "given": {"mode": "once", "effects": 3}},
        {"do": "add", "kind": "triggers", "given": {"effects": [[]], "input": {}}},
        {"do": "add", "kind": "board"},
        {"do": "add", "kind": "nothing"},
        {"do": "rename", "kind": "clips", "name": "crack", "new": ""},
        {"do": "move", "kind": "clips", "name": "crack", "by": 2},
        {"do": "copy", "kind": "clips", "name": "none"},
        {"do": "rename_position", "name": "none", "position": "x", "new": "y"},
    ],
)
def test_a_strange_order_is_refused(desk: Desk, body: dict[str, Any]):
    before = desk.now
    with pytest.raises(FxError):
        carry_out(body, desk)
    assert desk.now is before


def test_a_row_is_moved(desk: Desk):
    values = order(desk, "move", path=["fades", "flash", "segments", 0], by=1)
    assert [each["shape"] for each in values["fades"]["flash"]["segments"]] == ["decay", "step"]


def test_what_is_used_says_where_and_goes_as_was_chosen(small: Client):
    uses = small.post("/api/uses", {"kind": "effects", "name": "flash"}).json
    assert uses == {"uses": ["trigger 'flash', effect 1"], "goes": ["flash"]}
    small.post("/api/parts", {"do": "add", "kind": "effects", "name": "other"})
    order = {"do": "delete", "kind": "effects", "name": "flash", "instead": "other"}
    assert small.post("/api/parts", order).status == 200
    values = small.get("/api/parts").json["values"]
    assert values["triggers"]["flash"]["effects"] == ["other"]
    assert small.post("/api/parts", {**order, "name": "other", "instead": "none"}).status == 422
    assert small.post("/api/parts", {"do": "dance"}).status == 400


def test_a_copy_of_the_prop_is_saved_beside_it_and_over_no_other(small: Client):
    small.edit("title", value="Another")
    assert small.post("/api/copy", {"name": "My Copy"}).json == {"file": "my_copy.toml"}
    text = (small.file.parent / "my_copy.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["title"] == "Another"
    assert small.post("/api/copy", {"name": "my copy"}).status == 422
    assert small.post("/api/copy", {"name": "../.."}).status == 422
    assert small.get("/api/prop").json["file"] == small.file.name


def test_what_is_not_said_is_told(desk: Desk):
    view = parts_view(desk.now)
    assert "lockout_ms" not in view["values"]["inputs"]["button"]
    assert view["assumed"]["inputs"]["button"]["lockout_ms"] == 20


def test_random_orders_compile_or_change_nothing_and_are_undone(desk: Desk):
    """Orders as the page gives them, at random; undo comes back to the first byte."""
    hands = random.Random(8)
    first = desk.now.text
    remarks = first.count("#")
    done = 0
    for _ in range(120):
        values = tomllib.loads(desk.now.text)
        kind = hands.choice([kind for kind in NAMED if values.get(kind)])
        name = hands.choice(list(values[kind]))
        more = {"by": hands.choice([-1, 1]), "new": hands.choice(["a", "b", "c"])}
        do = hands.choice(["add", "rename", "copy", "move", "delete", "set"])
        if do == "set":
            table = next(each["table"] for each in KINDS if each["kind"] == kind)
            field = hands.choice(TABLES[table]["fields"])
            value = hands.choice([None, 1, 5.5, True, "once", "repeat", name, [], {}])
            more = {"changes": [{"path": [kind, name, field["key"]], "value": value}]}
        body = {"do": do, "kind": kind, "name": "new_one" if do == "add" else name, **more}
        before = desk.now
        try:
            carry_out(body, desk)
            done += desk.now is not before
        except FxError:
            assert desk.now is before
    assert done > 30 and desk.now.text.count("#") >= remarks
    while desk.can_undo:
        desk.undo()
    assert desk.now.text == first


def test_first_values_are_keys_of_their_tables():
    for name, least in LEAST.items():
        assert set(least) <= {field["key"] for field in TABLES[name]["fields"]}
