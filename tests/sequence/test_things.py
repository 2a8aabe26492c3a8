"""Things are renamed, copied, moved and taken out of a file, and nothing else of it changes."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.sequence import SequenceError, loads
from fxseq.sequence.blocks import copy, move, move_item
from fxseq.sequence.names import (
    REFERENCES,
    Position,
    free_name,
    position_uses,
    rename,
    rename_position,
    repoint,
    take_out,
    uses_of,
)
from fxseq.sequence.paths import NAMED
from fxseq.sequence.schema import alternatives

pytestmark = pytest.mark.quick

DEMO = Path(__file__).parents[2] / "demo_assets"
# One of each way to write a thing: headers, dotted keys, tables within braces, names in other
# quotes, a press script of several lines, remarks wherever they may stand.
ANY_FORM = '''format = 1
title = "Lamp"
board = { channels = 4 }
inputs = { 'lever' = { lockout_ms = 5 }, "foot" = {} }   # two of them
selectors.ring.positions = ["slow", "ring"]   # a position may be called like its selector
selectors.ring.start = 'ring'

[clips]
crack.file = "crack.wav"
# what hums
hum = { file = "hum.wav", loop = "whole" }
gust.file = "gust.wav"     # wind
gust.match_to = 'hum'

# seen from the front
[groups.lens]
leds = 2
colour = "amber"
current_ma = 1_8
gauge = "oil"

[fades.flash]
segments = [{ to_percent = 100 }]

[groups.vents]   # groups in two places
leds = 1
colour = "blue"
current_ma = 10
# pin = 3

[counters]
oil = { maximum = 9 }
"water" = { maximum = 3 }

[[effects.bolt.sounds]]
clip = "crack"

[[effects.bolt.sounds]]
clip = 'hum'   # second
loop = true

[effects]
glow.lights = [{ group = "lens", fade="flash" }, { group = "vents", fade = "flash"}, ]
# when empty
dry.sounds = [{clip = "gust"}]

# ---- what starts what ----

# fires
[triggers.fire]
mode = "once"
input = """lever"""
effects = ["bolt",
    "glow",   # the other
]
needs = "oil"
empty = "dry"

[triggers.fire.when]
ring = ["slow", "ring"]

[triggers.foot]
mode = "while_held"
input = "foot"
when.ring = "ring"
during = "glow"

[scripts.run]
presses = """
tap fire @1   # a tap of fire @1
set ring ring @2; hold lever @3..4, tap foot @5
"""
'''
TEXTS = [ANY_FORM, *(path.read_text(encoding="utf-8") for path in sorted(DEMO.glob("*.toml")))]
NAMES = st.from_regex(r"[a-z][a-z0-9_]{0,12}", fullmatch=True)


def things(text: str) -> list[tuple[str, str]]:
    values = tomllib.loads(text)
    return [(kind, name) for kind in NAMED for name in values.get(kind, {})]


@st.composite
def texts_with_things(draw: st.DrawFn) -> tuple[str, str, str]:
    text = draw(st.sampled_from(TEXTS))
    return (text, *draw(st.sampled_from(things(text))))


def remarks(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


@pytest.mark.parametrize("text", TEXTS, ids=range(len(TEXTS)))
def test_the_texts_of_these_tests_are_prop_files(text: str):
    loads(text)


def names_in_the_schema(path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every place whose value is a name."""
    for node in alternatives(tuple(0 if step == "*" else step for step in path)):
        if "pattern" in node:
            yield path
        for key in node.get("properties", {}):
            yield from names_in_the_schema((*path, key))
        if isinstance(node.get("additionalProperties"), dict):
            yield from names_in_the_schema((*path, "any"))
        if "items" in node:
            yield from names_in_the_schema((*path, "*"))


def test_every_key_that_names_a_thing_is_known():
    """Names of positions are the selector's own."""
    in_schema = {
        tuple("*" if step == "any" else step for step in path) for path in names_in_the_schema()
    }
    when = ("triggers", "*", "when", "*")
    of_selectors = {("selectors", "*", "start"), ("selectors", "*", "positions", "*")}
    assert in_schema == set(REFERENCES) | of_selectors | {when, (*when, "*")}


@settings(max_examples=50, deadline=None)
@given(texts_with_things(), NAMES)
def test_a_name_that_is_given_and_taken_back_leaves_every_byte(
    case: tuple[str, str, str], new: str
):
    text, kind, name = case
    try:
        renamed = rename(text, kind, name, new)
    except SequenceError:
        return
    loads(renamed)
    assert renamed.count("\n") == text.count("\n")
    assert uses_of(tomllib.loads(renamed), kind, name) == [] or name == new
    assert rename(renamed, kind, new, name) == text


def test_a_name_is_changed_wherever_it_is_used():
    text = rename(ANY_FORM, "selectors", "ring", "knob")
    values = tomllib.loads(text)
    assert values["selectors"] == {"knob": {"positions": ["slow", "ring"], "start": "ring"}}
    assert values["triggers"]["fire"]["when"] == {"knob": ["slow", "ring"]}
    assert values["triggers"]["foot"]["when"] == {"knob": "ring"}
    assert "set knob ring @2;" in text and "# a position may be called like its selector" in text


MISTAKEN = "the press script means something else by"
TAKEN = "there is already one of this name"


@pytest.mark.parametrize(
    ("kind", "name", "new", "said"),
    [
        ("clips", "hum", "gust", f"clip 'gust': {TAKEN}. Choose another name."),
        ("triggers", "fire", "foot", f"trigger 'foot': {TAKEN}. Choose another name."),
        ("inputs", "lever", "fire", f"input 'lever': {MISTAKEN} 'fire'. Choose another name."),
        ("triggers", "fire", "lever", f"trigger 'fire': {MISTAKEN} 'lever'. Choose another name."),
        (
            "selectors",
            "ring",
            "volume",
            f"selector 'ring': {MISTAKEN} 'volume'. Choose another name.",
        ),
        (
            "clips",
            "hum",
            "Big Boom",
            'name: "Big Boom" cannot be a name; allowed: a name of small letters, digits and _, a'
            " letter first, at most 40 characters. Write 'big_boom'.",
        ),
    ],
)
def test_a_name_that_would_be_mistaken_is_refused(kind: str, name: str, new: str, said: str):
    with pytest.raises(SequenceError) as caught:
        rename(ANY_FORM, kind, name, new)
    assert str(caught.value) == said


def test_a_trigger_that_the_script_does_not_mean_is_renamed_without_it():
    """`tap foot` presses the input of that name."""
    text = rename(ANY_FORM, "triggers", "foot", "pedal")
    assert "tap foot @5" in text and "[triggers.pedal]" in text


@pytest.mark.parametrize(("position", "new"), [("slow", "calm"), ("ring", "calm")])
def test_a_position_is_renamed_with_all_that_asks_for_it(position: str, new: str):
    at = Position("ring", position)
    text = rename_position(ANY_FORM, at, new)
    values = tomllib.loads(text)
    assert position not in values["selectors"]["ring"]["positions"]
    assert position_uses(values, at) == []
    assert len(position_uses(values, Position("ring", new))) == len(
        position_uses(tomllib.loads(ANY_FORM), at)
    )
    loads(text)
    assert rename_position(text, Position("ring", new), position) == ANY_FORM


def test_a_position_that_is_there_already_is_refused():
    with pytest.raises(SequenceError, match="selector 'ring': there is already a position 'slow'"):
        rename_position(ANY_FORM, Position("ring", "ring"), "slow")


@settings(max_examples=50, deadline=None)
@given(texts_with_things(), st.sampled_from([-1, 1]))
def test_a_thing_that_is_moved_there_and_back_leaves_every_byte(
    case: tuple[str, str, str], by: int
):
    text, kind, name = case
    names = list(tomllib.loads(text)[kind])
    try:
        moved = move(text, kind, name, by)
    except SequenceError as error:
        assert "in several places of the file" in str(error) and text is ANY_FORM
        return
    values = tomllib.loads(moved)
    at = names.index(name)
    to = min(max(at + by, 0), len(names) - 1)
    names[at], names[to] = names[to], names[at]
    assert list(values[kind]) == names and values == tomllib.loads(text)
    assert sorted(remarks(moved)) == sorted(remarks(text))
    assert moved == text or move(moved, kind, name, -by) == text


def test_remarks_move_with_what_they_stand_at():
    text = move(ANY_FORM, "groups", "lens", 1)
    assert text.index("# seen from the front\n[groups.lens]") > text.index("[groups.vents]")
    assert "current_ma = 10\n# pin = 3\n\n[fades.flash]" in text
    text = move(ANY_FORM, "triggers", "foot", -1)
    assert "# ---- what starts what ----\n\n[triggers.foot]" in text
    assert "# fires\n[triggers.fire]" in text


@pytest.mark.parametrize(
    "path",
    [
        ("effects", "bolt", "sounds", 0),
        ("effects", "glow", "lights", 0),
        ("triggers", "fire", "effects", 0),
        ("selectors", "ring", "positions", 0),
    ],
)
def test_an_item_of_a_list_is_moved_however_the_list_is_written(path: tuple[str | int, ...]):
    kind, name, key, _ = path
    moved = move_item(ANY_FORM, path, 1)
    items = tomllib.loads(ANY_FORM)[kind][name][key]
    assert tomllib.loads(moved)[kind][name][key] == items[1::-1] + items[2:]
    assert sorted(remarks(moved)) == sorted(remarks(ANY_FORM))
    assert move_item(moved, (*path[:-1], 1), -1) == ANY_FORM
    assert move_item(ANY_FORM, path, -1) == ANY_FORM


@settings(max_examples=30, deadline=None)
@given(texts_with_things())
def test_a_copy_is_like_its_thing_and_changes_no_other(case: tuple[str, str, str]):
    text, kind, name = case
    new = free_name(tomllib.loads(text), kind, name)
    copied = copy(text, kind, name, new)
    before = tomllib.loads(text)
    values = tomllib.loads(copied)
    twin = values[kind].pop(new)
    assert values == before
    if kind != "scripts":  # which have remarks of their own
        assert sorted(remarks(copied)) == sorted(remarks(text))
    alone = {"first_channel", "pin", "pins", "gauge"}
    assert twin == {key: value for key, value in before[kind][name].items() if key not in alone}


def test_a_free_name_counts_on():
    names = {"clips": {"hum": {}, "hum_2": {}, "a" * 40: {}}}
    assert free_name(names, "clips", "hum_2") == "hum_3"
    assert free_name(names, "clips", "boom") == "boom"
    assert free_name(names, "clips", "a" * 40) == "a" * 38 + "_2"


@settings(max_examples=25, deadline=None)
@given(texts_with_things())
def test_what_is_taken_out_leaves_a_file_that_can_be_read(case: tuple[str, str, str]):
    text, kind, name = case
    left = take_out(text, kind, name)
    before = tomllib.loads(text)
    values = tomllib.loads(left)
    assert name not in values.get(kind, {}) and uses_of(values, kind, name) == []
    loads(left)
    others = [thing for thing in things(text) if thing not in things(left)]
    assert {other for other, _ in others} <= {kind, "triggers", "scripts"}
    assert all(before[kind][each] == values[kind][each] for kind, each in things(left)
               if kind not in ("effects", "triggers", "groups", "clips", "scripts"))  # fmt: skip


def test_whatever_cannot_be_without_it_goes_too():
    text = take_out(ANY_FORM, "inputs", "lever")
    values = tomllib.loads(text)
    assert list(values["triggers"]) == ["foot"]
    assert values["scripts"]["run"]["presses"].split("\n")[1] == "set ring ring @2, tap foot @5"
    counters = take_out(ANY_FORM, "counters", "oil")
    trigger = tomllib.loads(counters)["triggers"]["fire"]
    assert "needs" not in trigger and "empty" not in trigger
    assert "gauge" not in tomllib.loads(counters)["groups"]["lens"]


def test_another_thing_takes_the_place_of_one():
    text = repoint(ANY_FORM, "effects", "bolt", "glow")
    assert tomllib.loads(text)["triggers"]["fire"]["effects"] == ["glow", "glow"]
    assert uses_of(tomllib.loads(text), "effects", "bolt") == []
    with pytest.raises(SequenceError, match="its positions are its own"):
        repoint(ANY_FORM, "selectors", "ring", "other")
