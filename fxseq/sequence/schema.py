"""The JSON schema of a prop file: for editors, and for saying what is allowed at a place."""

import ast
import inspect
from collections.abc import Iterable, Iterator
from copy import deepcopy
from functools import cache
from itertools import pairwise
from threading import Lock
from typing import Any

from fxseq.sequence import model, parts
from fxseq.sequence.model import Sequence
from fxseq.sequence.paths import Path

Schema = dict[str, Any]
_ONE_AT_A_TIME = Lock()
"""CPython 3.11 counts the depth of all syntax trees that are being made together, whoever makes
them, and fails where two threads do (its issue 106905).
"""


def json_schema() -> Schema:
    """JSON schema (draft 2020-12) of a prop file, with a description at every key, for editors
    that check TOML.
    """
    with _ONE_AT_A_TIME:
        return deepcopy(_schema())


@cache
def _schema() -> Schema:
    schema = _plain(Sequence.model_json_schema())
    docs = _key_docs()
    for name, part in (("Sequence", schema), *schema["$defs"].items()):
        for key, text in docs[name].items():
            part["properties"][key]["description"] = text
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "fxseq prop file"}
    return {**head, **{key: value for key, value in schema.items() if key != "title"}}


def _key_docs() -> dict[str, dict[str, str]]:
    """What the text below each key of each part says, read off the source: pydantic would read
    it whenever anything is loaded.
    """
    classes = [
        node
        for module in (model, parts)
        for node in ast.parse(inspect.getsource(module)).body
        if isinstance(node, ast.ClassDef)
    ]
    return {node.name: dict(_docs_below(node.body)) for node in classes}


def _docs_below(body: list[ast.stmt]) -> Iterator[tuple[str, str]]:
    for key, below in pairwise(body):
        if isinstance(key, ast.AnnAssign) and isinstance(below, ast.Expr):
            yield ast.unparse(key.target), inspect.cleandoc(ast.literal_eval(below.value))


def _plain(node: Any) -> Any:
    """The schema without null, which TOML does not have, and with named tables held to their
    names.
    """
    if isinstance(node, list):
        return [_plain(item) for item in node if item != {"type": "null"}]
    if not isinstance(node, dict):
        return node
    node = {key: _plain(value) for key, value in node.items() if value is not None}
    if len(node.get("anyOf", ())) == 1:
        node |= node.pop("anyOf")[0]
    if "patternProperties" in node:
        [(pattern, value)] = node.pop("patternProperties").items()
        node |= {
            "propertyNames": {**node["propertyNames"], "pattern": pattern},
            "additionalProperties": value,
        }
    return node


def alternatives(path: Path) -> list[Schema]:
    """Schemas of what may stand at the place, one for each kind of value; empty for an unknown
    place.
    """
    nodes = list(_expand([_schema()]))
    for step in path:
        nodes = list(_expand(child for node in nodes for child in _children(node, step)))
    return nodes


def known_keys(path: Path) -> list[str]:
    """Keys that the table at the place may have."""
    return [key for node in alternatives(path) for key in node.get("properties", ())]


def _expand(nodes: Iterable[Schema]) -> Iterator[Schema]:
    """Each schema with its reference followed and its alternatives apart."""
    for node in nodes:
        if "$ref" in node:
            yield from _expand([_schema()["$defs"][node["$ref"].rpartition("/")[2]]])
        elif "anyOf" in node:
            yield from _expand(node["anyOf"])
        else:
            yield node


def _children(node: Schema, step: str | int) -> Iterator[Schema]:
    """What the schema says of one of its keys or items."""
    if isinstance(step, int):
        prefix = node.get("prefixItems", ())
        yield from prefix[step : step + 1] or ([node["items"]] if "items" in node else [])
    elif step in node.get("properties", ()):
        yield node["properties"][step]
    elif isinstance(node.get("additionalProperties"), dict):
        yield node["additionalProperties"]
