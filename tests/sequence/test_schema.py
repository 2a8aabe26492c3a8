"""The JSON schema for editors."""

import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from fxseq.sequence import json_schema

SCHEMA = json_schema()
DEMOS = sorted((Path(__file__).parents[2] / "demo_assets").glob("*.toml"))


def is_accepted(text: str) -> bool:
    return Draft202012Validator(SCHEMA).is_valid(tomllib.loads(text))


def test_schema_is_itself_valid():
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["title"] == "fxseq prop file"


def test_schema_accepts_a_valid_file(prop):
    assert is_accepted(prop(""))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.name)
def test_schema_accepts_the_demo(path):
    assert is_accepted(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "lines",
    [
        "[board]\nchannels = 0",
        "[board]\nchannels = 12\nvoice = 4",
        "[clips.crack]\ngain_db = 3",
        '[clips."Big Boom"]\nfile = "a.wav"',
        f'[clips.{"a" * 41}]\nfile = "a.wav"',
        '[clips.hum]\nfile = "a.wav"\nloop = "hole"',
        "[fades.flash]\nsegments = []",
        '[fades.flash]\nsegments = [{ to_percent = "full" }]',
        "[picture]\nwidth_mm = 100\nheight_mm = 50\noutline_mm = [[1]]",
        '[inputs.lever]\nlockout_ms = "20"',
        "[clip.boom]\nfile = 3",
    ],
)
def test_schema_rejects_a_broken_file(prop, lines):
    assert not is_accepted(prop(lines))


def objects(node: object) -> list[dict]:
    """Every schema of a table within the schema."""
    if isinstance(node, list):
        return [found for item in node for found in objects(item)]
    if not isinstance(node, dict):
        return []
    own = [node] if "properties" in node and "type" in node else []
    return own + [found for value in node.values() for found in objects(value)]


def test_every_table_and_key_is_described():
    tables = objects(SCHEMA)
    assert len(tables) > 20
    assert all(table["description"] for table in tables)
    assert [
        key
        for table in tables
        for key, value in table["properties"].items()
        if not value.get("description")
    ] == []


def test_schema_has_no_null_since_toml_has_none():
    assert "null" not in str(SCHEMA) and "None" not in str(SCHEMA)


def test_schema_is_a_copy_that_the_caller_may_change():
    json_schema()["properties"].clear()
    assert json_schema()["properties"]
