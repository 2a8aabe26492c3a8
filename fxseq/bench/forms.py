"""What the page needs to make a form of anything that a prop file may hold: each key with its
label, unit, meaning and what may stand there, all out of the schema.
"""

import re
from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

from fxseq.bench.common_parts import common_parts
from fxseq.bench.labels import choice_label, label_of, plain
from fxseq.sequence import Trigger, json_schema
from fxseq.sequence.names import ANY, REFERENCES
from fxseq.sequence.parts import NEEDED_WITHOUT_PART
from fxseq.sequence.paths import NAMED
from fxseq.sequence.schema import Schema
from fxseq.sequence.trigger_rules import unused_keys

THEMES = {
    "What happens": ("triggers", "effects", "fades", "scripts"),
    "What is pressed": ("inputs", "selectors", "counters"),
    "What shines and sounds": ("groups", "clips", "amplifier", "speaker", "listening"),
    "What feeds and drives it": ("board", "supplies", "regulator", "day"),
    "The prop": ("title", "revision", "maker", "picture", "changeover", "rail_load_ohm"),
}
"""Keys at the top of a prop file, as they stand together on the page."""
LABELS = {
    "inputs": "Buttons and sensors", "selectors": "Selectors", "counters": "Counters",
    "triggers": "Triggers", "effects": "Effects", "fades": "Fades", "groups": "Groups of lamps",
    "clips": "Sounds", "board": "Board", "supplies": "Supplies", "regulator": "Regulator",
    "amplifier": "Amplifier", "speaker": "Speaker", "listening": "Ears", "day": "A day of use",
    "title": "Name", "revision": "Revision", "maker": "Maker",
    "picture": "Picture", "scripts": "Press scripts",
    "changeover": "From one supply to another", "rail_load_ohm": "Other load",
}  # fmt: skip
ONE = {
    "inputs": "button", "selectors": "selector", "counters": "counter", "triggers": "trigger",
    "effects": "effect", "fades": "fade", "groups": "group of lamps", "clips": "sound",
    "supplies": "supply", "scripts": "press script",
}  # fmt: skip
MEANS = {
    "Trigger.mode": "What a press starts, and for how long.",
    "Trigger.input": "The button, or the low-battery sensor.",
    "Trigger.effects": "What to play, one for each shot.",
    "Clip.loop": "What repeats while it is held.",
    "Sound.clip": "Which sound.",
    "Light.group": "Which lamps.",
    "Light.fade": "How their light changes.",
    "Count.counter": "Which counter.",
}
"""Where the control itself says the rest."""
LEAST: dict[str, dict[str, Any]] = {
    "Selector": {"positions": ["one", "two"]},
    "Counter": {"maximum": 10},
    "Group": {"leds": 1, "colour": "white", "current_ma": 10},
    "Fade": {
        "segments": [
            {"shape": "step", "to_percent": 100, "length_ms": 40},
            {"shape": "decay", "to_percent": 0, "length_ms": 300},
        ]
    },
    "Supply": {"kind": "cells", "cell": "alkaline_aa", "cells_in_series": 3},
    "Regulator": {"kind": "low_dropout", "output_v": 3.3},
    "Amplifier": {"part": "class D bridge, 5 V"},
    "Speaker": {"part": "28 mm, 8 ohm"},
    "Maker": {"name": "My workshop"},
    "Picture": {"width_mm": 100, "height_mm": 150},
    "Segment": {"to_percent": 0, "length_ms": 200},
    "Count": {"change": -1},
    "PressScript": {"presses": "end @3"},
    "Neighbour": {"leds": 1, "colour": "white", "current_ma": 10},
    "Ring": {"centre_mm": [50, 50], "radius_mm": 20},
    "Line": {"from_mm": [20, 50], "to_mm": [80, 50]},
    "CurvePoint": {"forward_voltage_v": 2.0, "current_ma": 1},
    "Processor": {"kind": "cortex_m", "clock_mhz": 48},
    "Grille": {"holes": 20, "hole_mm": 2, "thickness_mm": 2},
    "CellCurve": {
        "used_percent": [0, 50, 100], "open_v": [1.6, 1.3, 0.9],
        "resistance_ohm": [0.2, 0.25, 0.5], "current_ma": [100], "capacity_mah": [2000],
        "end_v": 0.9,
    },
}  # fmt: skip
"""What a new one begins with, by its table: the least that compiles, with usual values."""

MAIN: dict[str, tuple[str, ...]] = {
    "Trigger": ("mode", "input", "when", "effects", "during"),
    "Effect": ("sounds", "lights", "counts"),
    "Sound": ("at_ms", "gain_db"),
    "Light": ("at_ms",),
    "Segment": ("shape", "length_ms"),
    "Group": ("channels", "size_mm"),
    "Fade": ("loop",),
    "Input": ("kind",),
    "Clip": (
        "gain_db",
        "loop",
        "start_ms",
        "end_ms",
        "trim_below_dbfs",
        "high_pass_hz",
        "match_to",
        "limit_to_dbfs",
        "rate_hz",
        "coding",
    ),
    "Board": ("part", "lights", "sound"),
    "Amplifier": ("part",),
    "Speaker": ("part",),
    "Supply": ("cell", "voltage_v"),
    "Day": ("hours", "taps_an_hour", "held_s_an_hour"),
    "Listening": ("hand_m", "audience_m"),
}
"""Keys that a form shows at once also where the file does not say them, by table."""

_MODES = get_args(Trigger.model_fields["mode"].annotation)
_FLICKER = ["low_percent", "every_ms"]
_CELLS = ["cell", "curve", "cells_in_series", "cells_in_parallel", "cell_capacity_mah"]
UNUSED: dict[str, tuple[str, dict[str, list[str]]]] = {
    "Trigger": ("mode", {mode: list(unused_keys(mode)) for mode in _MODES}),
    "Segment": ("shape", {shape: _FLICKER for shape in ("step", "straight", "ease", "decay")}),
    "Supply": ("kind", {"cells": ["tolerance_percent", "outlet"], "wall": _CELLS}),
    "Input": ("kind", {"button": ["low_v", "divider"]}),
}
"""By table: a key, and which others have no use under each of its values."""
_UNIT = re.compile(r"\s*\[([^\]]*)\]$")
_DEFAULT = re.compile(r"\s*Default: (.+?)\.(?=\s|$)")
Form = dict[str, Any]


@cache
def forms() -> Form:
    """`tables` by name: {means, least, fields}; `unused`: as UNUSED; `themes`: [{label, kinds:
    [{kind, label, one, table, is_named, means, common: [{label, source}]}]}].

    A field: {key, label, unit, means, left_out, is_required, is_main, default, takes}, the last a
    list of what may stand there, each {as, ...}.
    """
    schema = json_schema()
    tables = {
        name: _table(name, table)
        for name, table in [("Sequence", schema), *schema["$defs"].items()]
    }
    return {
        "tables": tables,
        "unused": UNUSED,
        "themes": [
            {"label": theme, "kinds": [_kind(kind, schema) for kind in kinds]}
            for theme, kinds in THEMES.items()
        ],
    }


@cache
def keys() -> frozenset[str]:
    """Every key of a prop file."""
    schema = json_schema()
    return frozenset(
        key for table in (schema, *schema["$defs"].values()) for key in table["properties"]
    )


def _kind(kind: str, schema: Schema) -> Form:
    node = schema["properties"][kind]
    inner = node["additionalProperties"] if kind in NAMED else node
    return {
        "kind": kind,
        "label": LABELS[kind],
        "is_named": kind in NAMED,
        "one": ONE.get(kind, ""),
        "table": _reference(inner),
        "means": plain(_means(node), keys()),
        "common": [
            {"label": part.label, "source": part.source} for part in common_parts().get(kind, ())
        ],
    }


def _table(name: str, table: Schema) -> Form:
    needed = {*table.get("required", ()), *table.get(NEEDED_WITHOUT_PART, ())}
    return {
        "means": plain(" ".join(table.get("description", "").split()), keys()),
        "least": LEAST.get(name, {}),
        "fields": [
            _field(name, key, node, key in needed) for key, node in table["properties"].items()
        ],
    }


def _field(table: str, key: str, node: Schema, is_required: bool) -> Form:
    means = MEANS.get(f"{table}.{key}") or " ".join(node["description"].split())
    label = label_of(key, table)
    unit = _UNIT.search(means)
    left_out = _DEFAULT.search(means)
    return {
        "key": key,
        "label": label[0].upper() + label[1:],
        "unit": unit[1] if unit else "",
        "means": plain(_DEFAULT.sub("", _UNIT.sub("", means)), keys()),
        "left_out": plain(left_out[1], keys()) if left_out else "",
        "is_required": is_required,
        "is_main": is_required or key in MAIN.get(table, ()),
        "default": node.get("default"),
        "takes": list(_takes(table, key, node)),
    }


def _means(node: Schema) -> str:
    return _UNIT.sub("", " ".join(node.get("description", "").split()))


def _takes(table: str, key: str, node: Schema) -> Iterator[Form]:
    """What may stand at a key or in its list, one for each kind of value."""
    if _reference(node):
        yield {"as": "table", "table": _reference(node)}
    elif "anyOf" in node:
        for inner in node["anyOf"]:
            yield from _takes(table, key, inner)
    elif key == "when":
        yield {"as": "conditions"}
    elif "enum" in node or "const" in node:
        values = node.get("enum", [node.get("const")])
        yield {
            "as": "choice",
            "choices": [
                {"value": value, "label": choice_label(value) if isinstance(value, str) else value}
                for value in values
            ],
        }
    elif node["type"] == "array" and "prefixItems" not in node:
        [of] = _takes(table, key, node["items"])
        yield {"as": "rows", "of": of}
    else:
        yield _plain_takes(table, key, node)


def _plain_takes(table: str, key: str, node: Schema) -> Form:
    if node["type"] in ("integer", "number"):
        return {
            "as": "number",
            "whole": node["type"] == "integer",
            "least": node.get("minimum", node.get("exclusiveMinimum")),
            "most": node.get("maximum"),
        }
    if node["type"] == "boolean":
        return {"as": "tick"}
    if node["type"] == "array":
        return {"as": "point"}
    if "pattern" not in node:
        return {"as": "text"}
    return _name(table, key)


def _name(table: str, key: str) -> Form:
    """A menu of the things that a name may be of, or a name of the thing's own."""
    homes = {"Trigger": "triggers", "Group": "groups", "Clip": "clips"}
    steps = {"Sound": "sounds", "Light": "lights", "Count": "counts"}
    if table in homes:
        place: tuple[str, ...] = (homes[table], ANY, key)
    else:
        place = ("effects", ANY, steps.get(table, ""), ANY, key)
    of = REFERENCES.get(place) or REFERENCES.get((*place, ANY))
    if of:
        return {"as": "thing", "of": of}
    return {"as": "position"}


def _reference(node: Schema) -> str:
    reference: str = node.get("$ref", "")
    return reference.rpartition("/")[2]
