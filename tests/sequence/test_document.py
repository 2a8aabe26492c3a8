"""Editing a file: nothing changes but what was set, and nothing is lost."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.sequence import Document, SequenceError, edits
from fxseq.sequence.layout import Layout

pytestmark = pytest.mark.quick

MAKERS_FILE = """# The lamp of act two.
format = 1      # do not touch
title   = 'Lamp'

[ board ]
channels = 0x0C          # hexadecimal, on purpose

# sounds
[clips.hum]
file = "hum.wav"
gain_db = -3.00   # quiet!
\t# a remark with a tab

[groups.lens]
first_channel = 0
leds = 2
colour = "amber"
forward_voltage_v = 2.1
current_ma = 1_8
places_mm = [
    [1, 2],   # left
    [3, 4],   # right
]

[clips.crack]   # clips in two places
file = "crack.wav"

[[effects.bolt.sounds]]
clip = "crack"

[[effects.bolt.sounds]]
clip = "hum"  # second

[effects]
glow.lights = [{group = "lens", fade="on",at_ms = 3}, ]

[fades]
on = {segments = [{to_percent = 100.0}]}
"""


TURNED = [
    ("title",),
    ("clips", "hum", "gain_db"),
    ("groups", "lens", "places_mm"),
    ("groups", "lens", "places_mm", 1),
    ("effects", "glow", "lights", 0, "at_ms"),
    ("board", "voices"),
]
WRITTEN = st.one_of(
    st.sampled_from(
        [0, 1, True, 1.0, -3.0, "", "Lämp\nof two", [1, 2], [[1, 2], [3, 4]], {"a": 1}]
    ),
    st.floats(allow_nan=False),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=9),
)


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_bytes(MAKERS_FILE.encode())
    return path


def changed_lines(before: str, after: str) -> list[tuple[str, str]]:
    old = before.split("\n")
    new = after.split("\n")
    assert len(old) == len(new)
    return [(one, other) for one, other in zip(old, new, strict=True) if one != other]


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("end", ["", "\n\n", "# last remark"])
def test_write_without_a_change_gives_the_same_bytes(path, mark, line_end, end):
    data = (mark + (MAKERS_FILE + end).replace("\n", line_end)).encode()
    path.write_bytes(data)
    Document.read(path).write()
    assert path.read_bytes() == data


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_setting_what_is_there_already_gives_the_same_bytes(path, mark, line_end):
    data = (mark + MAKERS_FILE.replace("\n", line_end)).encode()
    path.write_bytes(data)
    document = Document.read(path)
    document.set(("clips", "hum", "gain_db"), -3)
    document.set(("board", "channels"), 12)
    document.write()
    assert path.read_bytes() == data


@pytest.mark.parametrize(
    ("where", "value", "before", "after"),
    [
        (
            ("clips", "hum", "gain_db"),
            -4.5,
            "gain_db = -3.00   # quiet!",
            "gain_db = -4.5   # quiet!",
        ),
        (("title",), "Lamp 2", "title   = 'Lamp'", 'title   = "Lamp 2"'),
        (
            ("board", "channels"),
            13,
            "channels = 0x0C          # hexadecimal, on purpose",
            "channels = 13          # hexadecimal, on purpose",
        ),
        (("clips", "crack", "file"), "c.wav", 'file = "crack.wav"', 'file = "c.wav"'),
        (
            ("effects", "bolt", "sounds", 1, "clip"),
            "crack",
            'clip = "hum"  # second',
            'clip = "crack"  # second',
        ),
        (
            ("groups", "lens", "places_mm", 1),
            [5, 6],
            "    [3, 4],   # right",
            "    [5, 6],   # right",
        ),
        (
            ("effects", "glow", "lights", 0, "at_ms"),
            9,
            'glow.lights = [{group = "lens", fade="on",at_ms = 3}, ]',
            'glow.lights = [{group = "lens", fade="on",at_ms = 9}, ]',
        ),
        (
            ("fades", "on", "loop"),
            False,
            "on = {segments = [{to_percent = 100.0}]}",
            "on = {segments = [{to_percent = 100.0}], loop = false}",
        ),
    ],
)
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_set_changes_one_line_and_keeps_its_remark(path, where, value, before, after, line_end):
    path.write_bytes(MAKERS_FILE.replace("\n", line_end).encode())
    document = Document.read(path)
    document.set(where, value)
    document.write()
    text = path.read_bytes().decode()
    assert text.count("\r") == (MAKERS_FILE.count("\n") if line_end == "\r\n" else 0)
    assert changed_lines(MAKERS_FILE, text.replace("\r\n", "\n")) == [(before, after)]


@pytest.mark.parametrize(
    ("where", "value"),
    [
        (("clips", "hum", "fade_in_ms"), 5.0),
        (("listening", "hand_m"), 0.3),
        (("clips", "new", "file"), "new.wav"),
        (("clips", "hum", "loop", "end_ms"), 250.0),
        (("fades", "dim", "segments"), [{"to_percent": 5.0}]),
        (("effects", "bolt", "sounds", 0, "gain_db"), -6.0),
    ],
)
def test_set_of_a_new_key_is_in_the_sequence_and_leaves_every_other_line(path, where, value):
    document = Document.read(path)
    old = document.sequence.model_dump()
    document.set(where, value)
    document.write()
    assert set(MAKERS_FILE.splitlines()) <= set(path.read_text(encoding="utf-8").splitlines())
    new = Document.read(path).sequence.model_dump()
    assert new != old
    place = new
    for step in where:
        place = place[step]
    if isinstance(value, list):
        place = [{key: item[key] for key in value[index]} for index, item in enumerate(place)]
    assert place == value


def test_set_of_a_list_item_that_is_not_there_is_refused(path):
    document = Document.read(path)
    with pytest.raises(SequenceError) as caught:
        document.set(("effects", "bolt", "sounds", 2, "gain_db"), 3)
    assert (
        str(caught.value)
        == f"{path}: effect 'bolt', sound 3 is not in the file, so it cannot be set."
    )
    document.write()
    assert path.read_bytes() == MAKERS_FILE.encode()


def test_set_below_a_number_is_refused(path):
    with pytest.raises(SequenceError) as caught:
        Document.read(path).set(("board", "channels", "first"), 3)
    assert (
        str(caught.value)
        == f"{path}: board, channels: first is not in the file, so it cannot be set."
    )


def test_set_in_a_broken_file_says_what_is_broken(path):
    path.write_text("format = one\n", encoding="utf-8")
    with pytest.raises(SequenceError) as caught:
        Document.read(path).set(("title",), "x")
    assert (
        str(caught.value)
        == f'{path}:1: format is `one`, without quotes. Write "one" if it is text.'
    )


def test_file_that_the_editor_does_not_understand_is_not_edited(path, monkeypatch):
    monkeypatch.setattr(edits, "read_layout", lambda text: Layout(is_whole=False))
    with pytest.raises(SequenceError) as caught:
        Document.read(path).set(("title",), "x")
    assert str(caught.value) == f"{path}: the file cannot be edited."


def test_sequence_follows_what_is_set(path):
    document = Document.read(path)
    document.set(("clips", "hum", "gain_db"), -9)
    assert document.sequence.clips["hum"].gain_db == -9


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(TURNED), WRITTEN, st.booleans()), max_size=6))
def test_a_document_that_stays_open_has_what_one_has_that_is_opened_for_each_edit(edits_in_a_row):
    where = Path("lamp.toml")
    kept = Document(where, MAKERS_FILE.encode())
    for place, value, is_taken_out in edits_in_a_row:
        fresh = Document(where, kept.text.encode())
        said = []
        for document in (fresh, kept):
            try:
                document.set(place, value)
                if is_taken_out:
                    document.remove(("board", "voices"))
            except (SequenceError, TypeError) as error:
                said.append(str(error))
        assert kept.text == fresh.text and len(said) in (0, 2) and len(set(said)) < 2


def test_faulty_text_is_not_written(path):
    document = Document.read(path)
    document.set(("clips", "hum", "gain_db"), 90)
    with pytest.raises(SequenceError) as caught:
        document.write()
    assert str(caught.value) == f"{path}:11: clip 'hum': gain_db is 90 dB; allowed: -60 to 18 dB."
    assert path.read_bytes() == MAKERS_FILE.encode()


def test_file_changed_by_somebody_else_is_not_overwritten(path):
    document = Document.read(path)
    document.set(("title",), "Mine")
    path.write_text("format = 1 # theirs\n", encoding="utf-8")
    with pytest.raises(SequenceError) as caught:
        document.write()
    text = (
        "another program has changed the file since it was read. Read it again, or write to another"
        " file."
    )
    assert str(caught.value) == f"{path}: {text}"
    assert path.read_text(encoding="utf-8") == "format = 1 # theirs\n"


def test_file_changed_by_somebody_else_can_be_written_to_another(path, tmp_path):
    document = Document.read(path)
    document.set(("title",), "Mine")
    path.write_text("format = 1 # theirs\n", encoding="utf-8")
    document.write(tmp_path / "other.toml")
    assert Document.read(tmp_path / "other.toml").sequence.title == "Mine"


def test_document_can_be_written_again_and_again(path):
    document = Document.read(path)
    for title in ("one", "two", "three"):
        document.set(("title",), title)
        document.write()
        assert Document.read(path).sequence.title == title


def test_what_is_taken_out_leaves_the_rest_as_it_is(path):
    document = Document.read(path)
    document.remove(("clips", "hum", "gain_db"))
    assert document.text == MAKERS_FILE.replace("gain_db = -3.00   # quiet!\n", "# quiet!\n")


def test_what_is_taken_out_and_set_again_stays_above_what_follows(path):
    """A heading of the next part is no place for a key of this one."""
    path.write_text(
        'format = 1\nchangeover = "diode"  # parts the cells\n\n[board]\nvoices = 3  # arc and'
        " wind\n\n# ---- Sound ----\n\n[amplifier]\n"
    )
    document = Document.read(path)
    document.remove(("board", "voices"))
    document.remove(("changeover",))
    document.set(("board", "voices"), 2)
    assert (
        document.text
        == "format = 1\n# parts the cells\n\n[board]\n# arc and wind\nvoices = 2\n\n# ---- Sound"
        " ----\n\n[amplifier]\n"
    )


def test_taking_out_what_is_not_there_changes_nothing(path):
    document = Document.read(path)
    for place in (
        ("clips", "hum", "rate_hz"),
        ("clips", "none", "file"),
        ("effects", "bolt", "sounds", 7),
        ("title", "deeper"),
    ):
        document.remove(place)
    assert document.text == MAKERS_FILE


@pytest.mark.parametrize(
    "clips",
    [
        'clips.hum = { file = "hum.wav" }',
        'clips.hum.file = "hum.wav"',
        '[clips]\nhum = { file = "hum.wav" }',
        '[clips]\nhum.file = "hum.wav"',
        '[clips.hum]\nfile = "hum.wav"',
    ],
)
def test_a_new_part_is_written_as_its_neighbours_are(tmp_path, clips):
    """A header among lines without headers would take in all that follows."""
    path = tmp_path / "lamp.toml"
    path.write_text(f'format = 1\ntitle = "Lamp"\nboard.channels = 1\n{clips}\n\n[inputs.button]\n')
    document = Document.read(path)
    before = document.sequence
    document.set(("clips", "thunder", "file"), "thunder.wav")
    after = document.sequence
    assert after.clips.keys() == {"hum", "thunder"}
    assert after.model_copy(update={"clips": before.clips}) == before


def test_a_new_part_finds_its_place_among_parts_that_are_apart(path):
    document = Document.read(path)
    document.set(("clips", "thunder", "file"), "thunder.wav")
    assert set(document.sequence.clips) == {"hum", "crack", "thunder"}
