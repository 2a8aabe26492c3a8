"""Values and ranges in a maker's words."""

import re
import unicodedata
from typing import Any

from fxseq.sequence.paths import Path, shown
from fxseq.sequence.quantities import quantity
from fxseq.sequence.schema import Schema, alternatives
from fxseq.sequence.suggest import did_you_mean

_UNITS = {
    "_hz": "Hz",
    "_ms": "ms",
    "_db": "dB",
    "_dbfs": "dBFS",
    "_percent": "%",
    "_ma": "mA",
    "_mah": "mAh",
    "_v": "V",
    "_ohm": "ohm",
    "_mm": "mm",
    "_m": "m",
    "_w": "W",
    "_ml": "ml",
    "_g": "g",
    "_mh": "mH",
    "_tm": "T m",
    "_cm2": "cm^2",
    "_mm_per_n": "mm/N",
    "_deg": "degrees",
    "_a2s": "A^2 s",
    "_bits": "bits",
    "_bytes": "bytes",
    "_per_s": "per second",
}
_NUMBER_IN_TEXT = re.compile(
    r"\s*(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*(?P<unit>[^\W\d]*|%)\s*$",
    re.IGNORECASE,
)
NAME_RULE = "a name of small letters, digits and _, a letter first, at most 40 characters"


def unit_of(path: Path) -> str:
    """Unit that the last key of the path carries in its name, or the empty text."""
    key = next((step for step in reversed(path) if isinstance(step, str)), "")
    return next((unit for suffix, unit in _UNITS.items() if key.endswith(suffix)), "")


def found(value: Any, unit: str = "") -> str:
    """A value of the file as it is shown in a message."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and value.is_integer() and not unit:
        return f"{value}"
    if isinstance(value, int | float):
        return quantity(value, unit)
    if isinstance(value, str):
        return f'"{shown(value)}"'
    if isinstance(value, list):
        if value:
            return f"a list of {len(value)}"
        return "an empty list"
    if isinstance(value, dict):
        return "a table"
    return "a date or time"


def series(items: list[str], last: str = "or") -> str:
    """`a, b or c`."""
    return f" {last} ".join(filter(None, [", ".join(items[:-1]), *items[-1:]]))


def allowed_at(path: Path) -> str:
    """What may stand at the place: type, range and unit."""
    nodes = alternatives(path)
    return series(
        [part for node in nodes for part in _choices(node) or [_describe(node, unit_of(path))]]
    )


def remedy_for(path: Path, value: Any) -> str:
    """What to do about a value that is not allowed, where that is more than to keep to what is."""
    kinds = alternatives(path)
    types = {node.get("type") for node in kinds}
    if isinstance(value, dict) and "array" in types:
        return f"Write [[{_dotted(path)}]] for a list of tables."
    if "object" in types and len(path) == 2 and not isinstance(value, dict):
        return f"Write [{path[0]}.NAME] above it."
    if isinstance(value, float) and value.is_integer() and "integer" in types:
        return f"Write {value:.0f}, without a point."
    if not isinstance(value, str):
        return ""
    number = _NUMBER_IN_TEXT.match(value) if types & {"number", "integer"} else None
    if number:
        alone = "without quotes"
        if number["unit"]:
            alone = "alone: a unit stands in the name of the key"
        return f"Write {number['number']} {alone}."
    if any("pattern" in node for node in kinds):
        return usable_name(value)
    return did_you_mean(value, [choice.strip('"') for node in kinds for choice in _choices(node)])


def usable_name(text: str) -> str:
    """`Write 'big_boom'.` for a text of which a name can be made, else the empty text."""
    name = name_from(text)
    return f"Write '{name}'." if name else ""


def name_from(text: str) -> str:
    """`big_boom` for "Big Boom!"; the empty text where no name can be made of it."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:40].rstrip("_")
    return name if name and name[0].isalpha() else ""


def _dotted(path: Path) -> str:
    return ".".join(step for step in path if isinstance(step, str))


def _choices(node: Schema) -> list[str]:
    """Values that are allowed one by one, as a maker writes them."""
    return [found(value) for value in node.get("enum", [node["const"]] if "const" in node else [])]


def _describe(node: Schema, unit: str) -> str:
    kind = node["type"]
    if kind in ("integer", "number"):
        return _describe_number(node, unit)
    if kind == "string":
        if "pattern" in node:
            return NAME_RULE
        return _describe_text(node)
    if kind == "array":
        return _describe_list(node, unit)
    if kind == "boolean":
        return "true or false"
    return _describe_table(node)


def _describe_number(node: Schema, unit: str) -> str:
    """`a whole number, 1 to 16`; `above 0, up to 60 V`."""
    whole = "a whole number, " if node["type"] == "integer" else ""
    if "maximum" not in node:
        return f"a number in {unit}"
    if "minimum" in node:
        start = f"{quantity(node['minimum'])} to"
    else:
        start = f"above {quantity(node['exclusiveMinimum'])}, up to"
    return f"{whole}{start} {quantity(node['maximum'], unit)}"


def _describe_text(node: Schema) -> str:
    if "maxLength" in node:
        return f"text of {_span(node, 'Length')}characters"
    if "minLength" not in node:
        return "text"
    return "text, not empty"


def _describe_list(node: Schema, unit: str) -> str:
    if "prefixItems" in node:
        return f"[x, y] in {unit}"
    items = node["items"]
    if choices := _choices(items):
        return f"a list of one or more of {series(choices, 'and')}"
    if "prefixItems" in items:
        of = f"points [x, y] in {unit}"
    elif "pattern" in items:
        of = "names"
    else:
        of = "tables"
    return f"a list of {_span(node, 'Items')}{of}"


def _span(node: Schema, what: str) -> str:
    """`2 to 16 `, or the empty text where the schema sets no upper end."""
    if f"max{what}" not in node:
        return ""
    return f"{node[f'min{what}']} to {node[f'max{what}']} "


def _describe_table(node: Schema) -> str:
    needed = node.get("required", [])
    if not needed:
        return "a table"
    return f"a table with {series(needed, 'and')}"
