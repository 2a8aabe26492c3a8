"""The manifest of firmware_spec/vectors: every rule of SPEC 2 to 7 has a vector, nothing is
missing, and made again it is the same.
"""

import json
import re

import make_vectors
import test_limits
from spec_text import rules
from vector_files import FOLDER, MANIFEST, read_all

MANIFESTED = json.loads((FOLDER / MANIFEST).read_text(encoding="utf-8"))


def test_every_rule_has_a_vector() -> None:
    assert [rule for rule in MANIFESTED["rules"] if not rule.startswith("LINK")] == rules()
    assert not [rule for rule, ids in MANIFESTED["rules"].items() if not ids]


def test_every_vector_is_listed_under_its_rules_and_only_there() -> None:
    listed = {(rule, id) for rule, ids in MANIFESTED["rules"].items() for id in ids}
    assert listed == {(rule, vector["id"]) for vector in read_all() for rule in vector["rules"]}


def test_counts_are_those_of_the_manifest() -> None:
    for name, count in MANIFESTED["files"].items():
        assert len(json.loads((FOLDER / name).read_text(encoding="utf-8"))) == count, name
    assert MANIFESTED["count"] == sum(MANIFESTED["files"].values()) == len(read_all())
    assert {path.name for path in FOLDER.glob("*.json")} == {*MANIFESTED["files"], MANIFEST}


def test_every_vector_has_a_name_of_its_own_and_says_why() -> None:
    vectors = read_all()
    assert len({vector["id"] for vector in vectors}) == len(vectors)
    assert all(
        re.fullmatch("[a-z0-9-]+", vector["id"]) and vector["why"] and vector["rules"]
        for vector in vectors
    )


def test_every_field_is_tried_at_its_ends_and_one_beyond() -> None:
    ids = {vector["id"] for vector in read_all()}
    wanted = {f"{field.name}-{value}" for field, value in test_limits.ends()}
    assert wanted <= ids
    assert {field.section for field in test_limits.FIELDS} >= {*test_limits.SIZES} - {
        "loops",
        "effects",
        "triggers",
    }  # these in layout.json


def test_made_again_the_files_are_the_same() -> None:
    for name, text in make_vectors.all_files().items():
        assert (FOLDER / name).read_text(
            encoding="utf-8"
        ) == text, f"{name}: run tests/conformance/make_vectors.py"
