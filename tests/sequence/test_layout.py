"""Lines of keys in TOML as it may come."""

import tomllib

import pytest

from fxseq.sequence.layout import Duplicate, read_layout

NASTY = '''# remark
title = "x" # remark
a.b."c d".e = 1
"quoted key" = { p = 1, q = { r = [1, 2] } }
'single' = """
[not.a.table]
x = 1
"""

[ t . "x.y" ]   # header with spaces
k = [
    # remark
    1,
    [2,
     3],
    { z = 4 },
]
"" = 5

[[u.v]]
w = 1
[u.v.inner]
w = 2
[[u.v.list]]
w = 3

[[u.v]]
w = 4
[t]
late = 0x10
'''

LINES = {
    ("title",): 2,
    ("a", "b", "c d", "e"): 3,
    ("quoted key",): 4,
    ("quoted key", "q", "r"): 4,
    ("quoted key", "q", "r", 1): 4,
    ("single",): 5,
    ("t", "x.y"): 10,
    ("t", "x.y", "k"): 11,
    ("t", "x.y", "k", 0): 13,
    ("t", "x.y", "k", 1): 14,
    ("t", "x.y", "k", 1, 1): 15,
    ("t", "x.y", "k", 2, "z"): 16,
    ("t", "x.y", ""): 18,
    ("u", "v", 0): 20,
    ("u", "v", 0, "w"): 21,
    ("u", "v", 0, "inner"): 22,
    ("u", "v", 0, "inner", "w"): 23,
    ("u", "v", 0, "list", 0, "w"): 25,
    ("u", "v", 1): 27,
    ("u", "v", 1, "w"): 28,
    ("t",): 29,
    ("t", "late"): 30,
}


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize(("path", "line"), LINES.items())
def test_line_is_found(path, line, line_end):
    assert read_layout(NASTY.replace("\n", line_end)).line_of(path) == line


def test_values_are_those_of_the_strict_reader():
    layout = read_layout(NASTY)
    assert layout.values == tomllib.loads(NASTY)
    assert layout.duplicates == []


@pytest.mark.parametrize(
    "value",
    [
        "0b101",
        "1_000",
        "-1e-3",
        "inf",
        "1979-05-27T07:32:00Z",
        "07:32:00",
        r'"\u00e9\t\\"',
        "'C:\\x'",
        "'''a\n'b'\n'''",
        "[[], [{}]]",
        "true",
    ],
)
def test_value_of_any_kind_is_that_of_the_strict_reader(value):
    text = f"v = {value}\n"
    assert read_layout(text).values == tomllib.loads(text)


def test_line_of_a_place_that_is_not_there_is_that_of_what_is_around_it():
    layout = read_layout(NASTY)
    assert layout.line_of(("t", "x.y", "missing", 3)) == 10
    assert layout.line_of(("nothing", "here")) == 1


@pytest.mark.parametrize(
    ("text", "path", "line", "first_line"),
    [
        ("a = 1\na = 2\n", ("a",), 2, 1),
        ("[t]\na = 1\n[t]\nb = 2\n", ("t",), 3, 1),
        ("a = 1\n[a]\n", ("a",), 2, 1),
        ("a.b = 1\n\na.b.c = 2\n", ("a", "b"), 3, 1),
        ('v = {"x" = 1, x = 2}\n', ("v", "x"), 1, 1),
        ("[t.u]\n[[t]]\n", ("t",), 2, 1),
        ("[[t]]\n[t]\n", ("t", 0), 2, 1),
    ],
)
def test_duplicate_is_found(text, path, line, first_line):
    assert read_layout(text).duplicates == [Duplicate(path, line, first_line)]


def test_first_of_two_values_counts():
    assert read_layout("a = 1\na = 2\n").values == {"a": 1}


def test_tables_given_twice_are_read_as_one():
    assert read_layout("[t]\na = 1\n[t]\na = 2\nb = 2\n").values == {"t": {"a": 1, "b": 2}}


def test_date_that_does_not_exist_is_left_out():
    assert read_layout("a = 2031-02-30\nb = 1\n").values == {"b": 1}
