"""Every fault of a prop file, with its whole message."""

import re
from pathlib import Path

import pytest

from fxseq.sequence import SequenceError, load, loads

CASES = Path(__file__).with_name("messages.txt").read_text(encoding="utf-8")


def cases() -> list[object]:
    """Each case of messages.txt: the lines to put in, and what is said of them."""
    found = re.findall(r"^== (.+)\n((?:(?!== |-> ).*\n)*)((?:-> .*\n)+)", CASES, re.MULTILINE)
    assert len(found) == CASES.count("\n== ")
    return [
        pytest.param(lines.rstrip("\n"), text.replace("-> ", "").rstrip("\n"), id=name)
        for name, lines, text in found
    ]


def message_of(text: str) -> str:
    with pytest.raises(SequenceError) as caught:
        loads(text, "lamp.toml")
    return str(caught.value)


@pytest.mark.parametrize(("lines", "text"), cases())
def test_message_is_the_one_in_the_list(prop, lines, text):
    assert message_of(prop(lines)) == text


@pytest.mark.parametrize(
    "line",
    [
        'supplies.computer = { kind = "wall", outlet = "usb" }',
        (
            "groups.lamp = { first_channel = 0, channels = 2, leds = 12, leds_in_series = 3, colour"
            ' = "red", current_ma = 5 }'
        ),
    ],
    ids=[
        "a USB socket says voltage and current",
        "strings that share the LEDs of a channel evenly",
    ],
)
def test_what_is_allowed_is_taken(line):
    loads(f'format = 1\ntitle = "Lamp"\nboard = {{ channels = 2 }}\n{line}\n')


def test_prop_of_the_list_is_valid(prop):
    assert loads(prop("")).title == "Lamp"


def test_faults_are_reported_together_in_the_order_of_their_lines(prop):
    lines = """
triggers.fire.mode = "once"
triggers.fire.input = "levr"
[clips.hum]
file = "hum.wav"
gain_db = 30
gian_db = 3
[counters.oil]
maximum = 12
start = 20
[inputs.lever]
lockout_ms = "20"
[fades.flash]
segments = [
    { to_percent = 100 },
    { to_percent = 0, shape = "easy" },
]
"""
    text = prop(lines).replace("[triggers.fire]", "[triggers.again]")
    assert message_of(text) == "\n".join(
        [
            "lamp.toml:3: trigger 'fire': effects is missing: mode \"once\" needs it. Add it.",
            (
                "lamp.toml:4: trigger 'fire': input is \"levr\", but no input has that name. Did"
                " you mean 'lever'?"
            ),
            "lamp.toml:7: clip 'hum': gain_db is 30 dB; allowed: -60 to 18 dB.",
            "lamp.toml:8: clip 'hum': gian_db is not a known key. Did you mean 'gain_db'?",
            "lamp.toml:11: counter 'oil': start is 20; allowed: at most maximum, 12.",
            (
                "lamp.toml:13: input 'lever': lockout_ms is \"20\"; allowed: 0 to 1000 ms. Write 20"
                " without quotes."
            ),
            (
                'lamp.toml:17: fade \'flash\', segment 2: shape is "easy"; allowed: "step",'
                ' "straight", "ease", "decay" or "flicker". Did you mean \'ease\'?'
            ),
        ]
    )


def test_faults_of_syntax_come_with_all_others(prop):
    lines = (
        "[clips.hum]\nfile = hum.wav\ngain_db = 30\n[counters.oil]\nmaximum = 12 measures\nmaximum"
        " = 0\n[counters.oil]\nstart = -1"
    )
    assert message_of(prop(lines)) == "\n".join(
        [
            'lamp.toml:4: file is `hum.wav`, without quotes. Write "hum.wav" if it is text.',
            "lamp.toml:5: clip 'hum': gain_db is 30 dB; allowed: -60 to 18 dB.",
            (
                "lamp.toml:7: maximum is `12 measures`; allowed: a number. Write 12 alone: a unit"
                " stands in the name of the key."
            ),
            "lamp.toml:8: counter 'oil': maximum is 0; allowed: a whole number, 1 to 65535.",
            (
                "lamp.toml:9: counter 'oil' is given again, after line 6. Delete one of the two, or"
                " give it another name."
            ),
            "lamp.toml:10: counter 'oil': start is -1; allowed: a whole number, 0 to 65535.",
        ]
    )


def test_names_of_faulty_parts_are_known_to_the_others(prop):
    text = prop("[clips.crack]\nfile = 3")
    assert message_of(text) == "lamp.toml:4: clip 'crack': file is 3; allowed: text, not empty."


def test_rules_still_see_a_part_with_an_unknown_key(prop):
    text = prop("[counters.oil]\nmaximum = 12\nstart = 13\ncolor = 3")
    assert (
        message_of(text)
        == "lamp.toml:5: counter 'oil': start is 13; allowed: at most maximum, 12.\n"
        "lamp.toml:6: counter 'oil': color is not a known key; allowed: maximum or start."
    )


def test_empty_file_says_what_it_needs():
    assert (
        message_of("") == "lamp.toml:1: format is missing; allowed: 1. Add it.\n"
        "lamp.toml:1: title is missing; allowed: text of 1 to 80 characters. Add it.\n"
        "lamp.toml:1: board is missing; allowed: a table. Add it."
    )


def test_another_format_is_refused(prop):
    assert (
        message_of(prop("").replace("format = 1", "format = 2"))
        == "lamp.toml:1: format is 2; allowed: 1."
    )


def test_character_that_cannot_be_seen_is_named_by_its_line(prop):
    text = prop('[clips.crack]\nfile = "a\x07.wav"')
    assert (
        message_of(text)
        == "lamp.toml:4: this line has an invisible character. Delete the line and write it again."
    )


@pytest.mark.parametrize("value", ["1" * 5000, "[" * 5000])
def test_value_that_no_reader_takes_is_a_fault(prop, value):
    text = (
        f"lamp.toml:3: x cannot be read from `x = {value[:33]}...` on. Look for a missing comma,"
        " quote or bracket."
    )
    assert message_of(prop(f"x = {value}")) == text


def test_names_and_texts_that_break_a_message_are_escaped(prop):
    text = prop(
        '[clips."\\u001b\\n"]\nfile = "a.wav"\n[fades."a"]\nsegments = [{ to_percent ='
        ' "\\t\\u0085" }]'
    )
    assert (
        message_of(text)
        == "lamp.toml:3: clip '\\x1b\\n' is not a usable name; allowed: a name of small letters,"
        " digits and _, a letter first, at most 40 characters.\nlamp.toml:6: fade 'a', segment"
        ' 1: to_percent is "\\t\\x85"; allowed: 0 to 100 % or "ambient".'
    )


def test_braces_that_are_open_at_the_end_hide_nothing_else():
    assert (
        message_of("format = 1\ntitle = {\nboard = 3\n")
        == "lamp.toml:2: title has a { that is not closed on its line. Write } at the end of the"
        " line.\nlamp.toml:3: board is 3; allowed: a table."
    )


def test_fifty_broken_lines_are_all_told():
    text = message_of("what is this\n" * 50).splitlines()
    assert [line.partition(" ")[0] for line in text] == [
        f"lamp.toml:{number}:" for number in range(1, 51)
    ]


def test_reading_stops_after_many_broken_lines():
    text = message_of("what is this\n" * 200).splitlines()
    assert len(text) == 51
    assert (
        text[-1]
        == "lamp.toml:51: this line is broken too, after 50 others; the rest of the file was not"
        " read. Is this a TOML file?"
    )


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_lines_are_right_with_any_line_end_and_byte_order_mark(tmp_path, prop, mark, line_end):
    path = tmp_path / "lamp.toml"
    path.write_bytes((mark + prop("[board]\nchannels = 0").replace("\n", line_end)).encode())
    with pytest.raises(SequenceError) as caught:
        load(path)
    assert (
        str(caught.value) == f"{path}:4: board: channels is 0; allowed: a whole number, 1 to 255."
    )


def test_load_gives_the_sequence_of_a_file(tmp_path, prop):
    path = tmp_path / "lamp.toml"
    path.write_text(prop(""), encoding="utf-8")
    assert load(path) == load(str(path)) == loads(prop(""))


def test_load_says_that_there_is_no_such_file(tmp_path):
    with pytest.raises(SequenceError) as caught:
        load(tmp_path / "lamp.toml")
    assert (
        str(caught.value)
        == f"{tmp_path / 'lamp.toml'}: there is no such file. Check the name and the folder."
    )


def test_load_says_that_a_folder_is_no_file(tmp_path):
    with pytest.raises(SequenceError) as caught:
        load(tmp_path)
    assert str(caught.value) == f"{tmp_path}: the file cannot be read (Is a directory)."


def test_load_says_where_the_encoding_is_wrong(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_bytes('format = 1\ntitle = "Lämpchen"\n'.encode("latin-1"))
    with pytest.raises(SequenceError) as caught:
        load(path)
    assert (
        str(caught.value)
        == f"{path}:2: the byte 0xE4 is not UTF-8. Save the file with the encoding UTF-8."
    )


@pytest.mark.parametrize(
    ("title", "code"), [("a\\u0007b", "0007"), ("a\\u202Eb", "202E"), ("a\\nb", "000A")]
)
def test_a_title_holds_nothing_that_cannot_be_seen(title, code):
    assert message_of(f'format = 1\ntitle = "{title}"\nboard = {{ channels = 2 }}\n') == (
        f"lamp.toml:2: title has a character that cannot be seen (U+{code}). Type the title anew."
    )
