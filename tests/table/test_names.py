"""Names that a table carries (SPEC 3.11): what stands there, and what is no names."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import often

from fxseq.runs import load_prop
from fxseq.table import (
    BadNames,
    Called,
    Compiled,
    SelectorRecord,
    Table,
    VoiceRule,
    called_in,
    decode,
    encode,
)

pytestmark = pytest.mark.quick
BARE = Table(16000, 16, 1, 8, 1, VoiceRule.OLDEST, 0, 1, selectors=(SelectorRecord(2, 0),))
NAMED = "\u0003L\u00e4m\u00012\u0004ring\u0002on\u0003off".encode()
"""By hand, each text behind the number of its letters. 19 bytes, so 00 fills up.
"""


@pytest.fixture(scope="module")
def demo(demo_text: str, tmp_path_factory: pytest.TempPathFactory) -> Compiled:
    folder = Path(__file__).parents[2] / "demo_assets"
    path = tmp_path_factory.mktemp("names") / "demo.toml"
    text = demo_text.replace("\n[board]\n", "\n[board]\ncarries_names = true\n")
    path.write_text(text.replace('"clips/', f'"{folder}/clips/'), encoding="utf-8")
    return load_prop(path).compiled


@pytest.fixture(scope="module")
def demo_text() -> str:
    path = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"
    return path.read_text(encoding="utf-8")


def names(data: bytes) -> Called | None:
    """Of the bare table with these bytes for names."""
    return called_in(decode(encode(replace(BARE, names=data))))


def test_names_by_hand() -> None:
    called = names(NAMED + b"\0")
    assert called is not None
    assert (called.title, called.revision) == ("L\u00e4m", "2")
    assert called.names.selectors == ("ring",) and called.names.positions == (("on", "off"),)
    data = encode(replace(BARE, names=NAMED + b"\0"))
    assert data[52:56] == b"name" and data[56:-4] == NAMED + b"\0"  # behind header and one selector


def test_names_stand_behind_all_clips_and_change_nothing_else(demo: Compiled) -> None:
    bare = encode(replace(demo.table, names=b""))
    assert demo.data[22:-4].startswith(bare[22:-4])
    assert len(demo.data) == len(bare) + 4 + len(demo.table.names)
    called = called_in(decode(demo.data))
    assert called is not None and called.names == demo.names
    assert called.title == "The Squall Lantern"


def test_a_table_without_names_has_none() -> None:
    assert called_in(decode(encode(BARE))) is None
    # Clip data that no clip uses is not names because it is there.
    assert decode(encode(BARE)).names == b""


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (NAMED[:-2], "cut off"),
        (NAMED[:-7], "too few"),
        (NAMED + b"\1a", "too many"),
        (b"\xff" + NAMED[1:], "UTF-8"),
        (NAMED.replace(b"off", b"o.f"), "a name is none"),
        (NAMED.replace(b"ring", b"../a"), "a name is none"),
        (NAMED.replace(b"\x02on\x03off", b"\x02on\x02on"), "same name"),
        (NAMED.replace("\u00e4".encode(), b"\x07"), "title"),
        (b"\0" + NAMED[5:], "title"),
        (NAMED.replace(b"\x012", b"\x16" + b"2" * 22), "revision"),
    ],
)
def test_what_is_no_names_is_told(data: bytes, why: str) -> None:
    with pytest.raises(BadNames, match=why):
        names(data + bytes(len(data) % 2))


@often(200)
@given(st.binary(min_size=1, max_size=60).filter(lambda data: len(data) % 2 == 0))
def test_no_bytes_in_place_of_names_do_harm(data: bytes) -> None:
    try:
        names(data)
    except BadNames:
        pass
