"""Whole parts put in and taken out of a file: what stands between them stays, down to the byte."""

import pytest

from fxseq.sequence import Document

TEXT = """[groups.lens]   # a
leds = 2
places_mm = [
    [1, 2],  # left
    [3, 4],
]

# ---- Sounds ----

[clips.hum]
file = "hum.wav"  # quiet
[clips.hum.loop]
start_ms = 3

[fades.on]
segments = []"""


@pytest.fixture(params=["", "\ufeff"], ids=["plain", "marked"])
def mark(request):
    return request.param


@pytest.fixture(params=["\n", "\r\n"], ids=["unix", "windows"])
def end(request):
    return request.param


@pytest.fixture
def edited(tmp_path, mark, end):
    """Carry out an edit on a text, and give the text, both with plain line ends."""

    def edit(work, text=TEXT):
        document = Document(tmp_path / "lamp.toml", (mark + text.replace("\n", end)).encode())
        work(document)
        assert document.text.startswith(mark) and document.text.count("\n") == document.text.count(
            end
        )
        return document.text.removeprefix(mark).replace("\r\n", "\n")

    return edit


def test_a_new_part_comes_behind_the_last_of_its_kind(edited):
    text = edited(
        lambda document: document.set(
            ("groups", "vents"), {"leds": 1, "places_mm": [[1, 2], [3, 4]]}
        )
    )
    assert text == TEXT.replace(
        "    [3, 4],\n]\n",
        "    [3, 4],\n]\n\n[groups.vents]\nleds = 1\nplaces_mm = [\n    [1, 2],\n    [3, 4],\n]\n",
    )


def test_a_new_part_comes_behind_the_tables_of_the_one_before(edited):
    text = edited(lambda document: document.set(("clips", "gust"), {"file": "gust.wav"}))
    assert text == TEXT.replace(
        "start_ms = 3\n", 'start_ms = 3\n\n[clips.gust]\nfile = "gust.wav"\n'
    )


def test_a_new_part_at_the_end_of_a_file_without_a_last_line_end(edited):
    assert (
        edited(lambda document: document.set(("fades", "off"), {"segments": []}))
        == TEXT + "\n\n[fades.off]\nsegments = []\n"
    )


DOTTED = 'clips.a = { file = "a" }  # first\nfades.on = {segments = []}\n\n[board]\nchannels = 1\n'
INLINE = 'clips = { a = { file = "a" } }\n[board]\nchannels = 1\n'
NONE = "[board]\nchannels = 1\n"


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (
            DOTTED,
            DOTTED.replace(
                "# first\n", '# first\nclips.b = { file = "b" }\nclips.c = { file = "c" }\n'
            ),
        ),
        (INLINE, INLINE.replace('"a" }', '"a" }, b = { file = "b" }, c = { file = "c" }')),
        (NONE, NONE + '\n[clips.b]\nfile = "b"\n\n[clips.c]\nfile = "c"\n'),
    ],
)
def test_new_parts_have_the_form_of_the_others(edited, text, wanted):
    def work(document):
        document.set(("clips", "b"), {"file": "b"})
        document.set(("clips", "c"), {"file": "c"})

    assert edited(work, text) == wanted


def test_a_part_that_is_taken_out_leaves_the_remark_below(edited):
    assert (
        edited(lambda document: document.remove(("groups", "lens")))
        == TEXT[TEXT.index("# ---- Sounds") :]
    )


def test_a_part_is_taken_out_with_its_tables(edited):
    assert (
        edited(lambda document: document.remove(("clips", "hum")))
        == TEXT[: TEXT.index("[clips.hum]")] + TEXT[TEXT.index("[fades.on]") :]
    )


def test_edits_go_on_behind_a_part_that_was_put_in(edited):
    def work(document):
        document.set(("clips", "gust"), {"file": "gust.wav"})
        document.set(("clips", "gust", "gain_db"), -3)
        document.remove(("groups", "lens"))

    text = edited(work)
    assert (
        '[clips.gust]\nfile = "gust.wav"\ngain_db = -3\n' in text
        and "lens" not in text
        and "# ---- Sounds ----" in text
    )


def test_a_list_grows_at_its_end_and_keeps_the_remarks_in_it(edited):
    text = edited(lambda document: document.set(("groups", "lens", "places_mm", 2), [5, 6]))
    assert text == TEXT.replace("    [3, 4],\n", "    [3, 4],\n    [5, 6],\n")


def test_a_list_item_is_changed_in_its_line(edited):
    assert edited(
        lambda document: document.set(("groups", "lens", "places_mm", 0), [5.5, 6])
    ) == TEXT.replace("[1, 2]", "[5.5, 6]")
