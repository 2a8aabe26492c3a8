"""The demo made from nothing by orders that the page sends: a name on the first page, recordings,
things with the least that they need, then field by field. The table is the demo's to the byte.
"""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any


from fxseq.bench import Desk
from fxseq.bench.begin import Begin
from fxseq.bench.body import Refused
from fxseq.bench.forms import LEAST, forms
from fxseq.bench.things import carry_out
from fxseq.bench.uploads import add_recording
from fxseq.runs import load_prop
from fxseq.sequence.paths import NAMED

DEMO = Path(__file__).parents[2] / "demo_assets"
SINGLE = ("regulator", "amplifier", "speaker", "day", "listening", "picture", "maker")
KINDS = tuple(kind for kind in NAMED if kind != "supplies")
MOST_ROUNDS = 4
"""What is refused because something else is not said yet is tried again."""
Values = dict[str, Any]


class Maker:
    """Fills in forms until they say what is wanted."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.orders = 0

    @property
    def values(self) -> Values:
        return tomllib.loads(self.desk.now.text)

    def at(self, path: list[Any]) -> Any:
        value: Any = self.values
        for step in path:
            value = value[step] if isinstance(step, int) else value.get(step)
        return value

    def order(self, do: str, **body: Any) -> bool:
        """Whether it was taken."""
        self.orders += 1
        try:
            carry_out({"do": do, **body}, self.desk)
        except Refused:
            return False
        return True

    def set(self, path: list[Any], value: Any) -> bool:
        return self.order("set", changes=[{"path": path, "value": value}])

    def fill(self, table: str, path: list[Any], wanted: Values) -> None:
        """One field after the other, as they stand in the form."""
        for _ in range(MOST_ROUNDS):
            for key, value in wanted.items():
                self.field(table, [*path, key], value)
            for key in self.at(path).keys() - wanted.keys():
                self.set([*path, key], None)
            if self.at(path) == wanted:
                return
        raise AssertionError(f"{path}: {self.at(path)} instead of {wanted}")

    def field(self, table: str, path: list[Any], value: Any) -> None:
        if self.at(path) == value:
            return
        [row] = rows_of(table, path[-1])[:1] or [None]
        if row and isinstance(value, list):
            self.rows(row, path, value)
        elif path[-1] == "when":
            for selector, position in value.items():
                self.set([*path, selector], position)
        else:
            self.set(path, value)

    def rows(self, table: str, path: list[Any], wanted: list[Values]) -> None:
        """A row is added with the least that it needs, then filled in."""
        for turn, row in enumerate(wanted):
            there = self.at(path) or []
            if turn == len(there):
                named = {
                    key: row[key] for key in ("clip", "group", "fade", "counter") if key in row
                }
                least = {**named, **LEAST.get(table, {})}
                assert self.set([*path, turn], least) if there else self.set(path, [least])
            self.fill(table, [*path, turn], row)
        for turn in reversed(range(len(wanted), len(self.at(path)))):
            self.set([*path, turn], None)


def rows_of(table: str, key: str) -> list[str]:
    """The table of which a field has rows."""
    [field] = [field for field in forms()["tables"][table]["fields"] if field["key"] == key]
    take = field["takes"][0]
    return [take["of"]["table"]] if take["as"] == "rows" and take["of"]["as"] == "table" else []


def table_of(kind: str) -> str:
    kinds = (one for theme in forms()["themes"] for one in theme["kinds"])
    return str(next(one["table"] for one in kinds if one["kind"] == kind))


def of_trigger(wanted: Values) -> Values:
    pressed = {key: wanted[key] for key in ("mode", "input") if key in wanted}
    if wanted["mode"] in ("once", "repeat"):
        rate = {"rate_per_s": 2} if wanted["mode"] == "repeat" else {}
        return {**pressed, **rate, "effects": wanted["effects"][:1]}
    return {**pressed, "during": wanted["during"]}


def of_group(wanted: Values) -> Values:
    return {key: wanted[key] for key in ("channels", "leds", "colour", "current_ma")}


ASKED = {"triggers": of_trigger, "groups": of_group}
"""By kind: what a question of the page asks for before the thing is made."""


def made(maker: Maker, kind: str, name: str, wanted: Values) -> None:
    """A new thing with what is asked for at once, then its form."""
    given = ASKED[kind](wanted) if kind in ASKED else {}
    if kind == "clips":
        recorded(maker, name, Path(wanted["file"]))
        wanted = {**wanted, "file": maker.at([kind, name, "file"])}
    else:
        assert maker.order("add", kind=kind, name=name, given=given), name
    if kind == "selectors":
        for old, new in zip(maker.at([kind, name, "positions"]), wanted["positions"], strict=True):
            assert maker.order("rename_position", name=name, position=old, new=new)
    maker.fill(table_of(kind), [kind, name], wanted)


def recorded(maker: Maker, name: str, file: Path) -> None:
    """Dropped on the page; a recording that is there already is a copy of its sound, which goes
    behind the others.
    """
    clips = maker.values.get("clips", {})
    others = [clip for clip, said in clips.items() if Path(said["file"]).stem == file.stem]
    if not others:
        add_recording(maker.desk, name, (DEMO / file).read_bytes())
        return
    assert maker.order("copy", kind="clips", name=others[0])
    [copied] = maker.values["clips"].keys() - clips.keys()
    assert maker.order("rename", kind="clips", name=copied, new=name)
    while list(maker.values["clips"])[-1] != name:
        assert maker.order("move", kind="clips", name=name, by=1)


def remaining(wanted: Values) -> Iterator[tuple[str, Any]]:
    """What stands at the top of the file by itself."""
    known = {"format", "title", "board", "supplies", *KINDS, *SINGLE}
    yield from ((key, value) for key, value in wanted.items() if key not in known)


def test_the_demo_is_rebuilt_by_orders_of_the_page_to_the_byte(tmp_path: Path) -> None:
    demo = DEMO / "squall_lantern.toml"
    wanted = tomllib.loads(demo.read_text(encoding="utf-8"))
    file = Begin(tmp_path, tmp_path / "kept").make({"title": wanted["title"]})
    maker = Maker(Desk(file))
    maker.fill("Board", ["board"], wanted["board"])
    for kind in ("supplies", *KINDS):
        for name, said in wanted[kind].items():
            made(maker, kind, name, said)
    for kind in SINGLE:
        assert maker.order("add", kind=kind)
        maker.fill(table_of(kind), [kind], wanted[kind])
    for key, value in remaining(wanted):
        assert maker.set([key], value)
    prop = maker.desk.now.prop
    assert prop.compiled.data == load_prop(demo).compiled.data
    assert maker.orders > 250
    here = {kind: list(maker.values[kind]) for kind in NAMED if kind in wanted}
    assert here == {kind: list(wanted[kind]) for kind in here}
    while maker.desk.can_undo:
        maker.desk.undo()
    assert maker.desk.now.text == file.read_text(encoding="utf-8")
