"""The grammar of press scripts: what each form becomes, and what is said of what is not
understood.
"""

import pytest

from fxseq.player import Press, PressKind, Script, default_script, parse_script
from fxseq.sequence import SequenceError
from fxseq.table import (
    InputKind,
    InputRecord,
    Mode,
    Names,
    SelectorRecord,
    Shots,
    Stay,
    Table,
    TriggerRecord,
    VoiceRule,
)

pytestmark = pytest.mark.quick

PRESS = PressKind.PRESS
RELEASE = PressKind.RELEASE
SELECT = PressKind.SELECT
VOLUME = PressKind.VOLUME

# 1000 frames a second, so that a time in ms is a frame.
TABLE = Table(
    sample_rate_hz=16000,
    samples_per_frame=16,
    channels=1,
    pwm_bits=8,
    voices=1,
    voice_rule=VoiceRule.OLDEST,
    light_mask=0,
    seed=1,
    inputs=(
        InputRecord(InputKind.BUTTON, 20),
        InputRecord(InputKind.BUTTON, 20),
        InputRecord(InputKind.LOW_BATTERY, 20),
    ),
    selectors=(SelectorRecord(2, 0), SelectorRecord(3, 1)),
    triggers=(
        TriggerRecord(Mode.ONCE, Shots((0,)), input=1),
        TriggerRecord(
            Mode.REPEAT, Shots((0,), period=25600), input=0, hold=500, conditions=((0, 0b10),)
        ),
        TriggerRecord(Mode.ALWAYS, Stay(during=0)),
        TriggerRecord(Mode.WHILE_HELD, Stay(during=0), input=2),
    ),
)
NAMES = Names(
    inputs=("lever", "refill", "cells"),
    selectors=("ring", "mood"),
    positions=(("slow", "storm"), ("calm", "grim", "wild")),
    counters=(),
    groups=(),
    fades=(),
    segments=(),
    clips=(),
    effects=("spark",),
    triggers=("flash", "roll", "glow", "bell"),
)
FORMS = (
    "tap NAME @T, hold NAME @A..B, press NAME @T, release NAME @T, set SELECTOR POSITION @T, set"
    " volume PERCENT @T, end @T"
)


def parsed(text: str, table: Table = TABLE) -> Script:
    return parse_script(text, table, NAMES)


def complaints(text: str) -> list[str]:
    with pytest.raises(SequenceError) as error:
        parsed(text)
    return str(error.value).splitlines()


@pytest.mark.parametrize(
    ("text", "presses"),
    [
        ("tap lever @0.5", [Press(500, PRESS, 0), Press(560, RELEASE, 0)]),
        ("hold refill @2..5", [Press(2000, PRESS, 1), Press(5000, RELEASE, 1)]),
        ("press lever @1", [Press(1000, PRESS, 0)]),
        ("release lever @1.25", [Press(1250, RELEASE, 0)]),
        ("set ring storm @4", [Press(4000, SELECT, 0, 1)]),
        ("set mood wild @0", [Press(0, SELECT, 1, 2)]),
        ("set volume 0 @1", [Press(1000, VOLUME, 0, 0)]),
        ("set volume 50 @1", [Press(1000, VOLUME, 0, 128)]),
        ("set volume 100 @1", [Press(1000, VOLUME, 0, 256)]),
        ("end @3", []),
    ],
)
def test_each_form_becomes_its_events(text: str, presses: list[Press]) -> None:
    assert parsed(text).presses == presses


@pytest.mark.parametrize(
    "text",
    [
        "tap lever @1, tap refill @2",
        "tap lever @1; tap refill @2",
        "tap lever @1\ntap refill @2",
        "tap lever @1\r\n\r\ntap refill @2\r\n",
        ",; tap lever @1 ,;, tap refill @2;",
        "# both\ntap lever @1 # first, then\n  tap refill @2 # tap lever @9",
        "tap  lever@1,tap\trefill  @ 2",
        "tap refill @2, tap lever @1",
    ],
)
def test_separators_remarks_blanks_and_order_do_not_matter(text: str) -> None:
    assert parsed(text).presses == [
        Press(1000, PRESS, 0),
        Press(1060, RELEASE, 0),
        Press(2000, PRESS, 1),
        Press(2060, RELEASE, 1),
    ]


@pytest.mark.parametrize(
    "text", ["hold lever @.5 .. 1.", "hold lever @0.50..1.00", "hold lever @ 0.5..1"]
)
def test_times_may_be_written_in_any_usual_way(text: str) -> None:
    assert parsed(text).presses == [Press(500, PRESS, 0), Press(1000, RELEASE, 0)]


@pytest.mark.parametrize(("name", "index"), [("flash", 1), ("roll", 0), ("bell", 2), ("cells", 2)])
def test_a_trigger_stands_for_its_input(name: str, index: int) -> None:
    assert parsed(f"press {name} @1").presses == [Press(1000, PRESS, index)]


def test_an_input_goes_before_a_trigger_of_the_same_name() -> None:
    both = parse_script(
        "press lever @1",
        TABLE,
        Names(**{**vars(NAMES), "triggers": ("lever", "roll", "glow", "bell")}),
    )
    assert both.presses == [Press(1000, PRESS, 0)]


def test_a_press_counts_from_the_frame_it_falls_into_and_a_release_from_the_next() -> None:
    assert [press.frame for press in parsed("hold lever @0.0015..0.0025").presses] == [1, 3]


def test_times_that_are_whole_frames_are_not_moved_by_rounding() -> None:
    # In floating point 1.001 * 1000 is 1000.9999999999999, and 2.007 * 1000 is 2007.0000000000002.
    for milliseconds in range(0, 9000, 3):
        script = parsed(
            f"hold lever @{milliseconds / 1000:g}..{milliseconds / 1000 + 1:g}, end"
            f" @{milliseconds / 1000 + 4:g}"
        )
        assert [press.frame for press in script.presses] == [milliseconds, milliseconds + 1000]
        assert script.until_frame == milliseconds + 4000


@pytest.mark.parametrize(
    ("text", "until_s"),
    [
        ("tap lever @1", 3.06),
        ("hold lever @1..4", 6),
        ("end @7, tap lever @1", 7),
        ("end @2, hold lever @1..4", 6),
        ("end @3, end @9", 9),
        ("set ring storm @5", 7),
        ("", 2),
        ("# nothing\n", 2),
    ],
)
def test_a_run_ends_two_seconds_after_the_last_event_or_at_its_end(
    text: str, until_s: float
) -> None:
    assert parsed(text).until_frame == round(until_s * 1000)


@pytest.mark.parametrize(
    "item",
    [
        "tap lever",
        "tap @1",
        "tap lever @",
        "tap lever @1..2",
        "hold lever @1",
        "press lever @1..2",
        "set ring @1",
        "set ring storm now @1",
        "end lever @1",
        "end @1..2",
        "lever @1",
        "Tap lever @1",
        "tap lever @-1",
        "tap lever @1e3",
        "tap lever @1s",
        "tap lever @1 2",
        "tap lever @1.2.3",
        "tap lever 1",
        "@1",
        "\ufefftap lever @1",
        "tap läver @1",
        "tap lever @١",
    ],
)
def test_what_is_no_form_is_quoted_with_all_forms(item: str) -> None:
    assert complaints(item) == [f"press script: '{item}': is not understood; allowed: {FORMS}."]


@pytest.mark.parametrize(
    ("item", "message"),
    [
        (
            "tap lever_x @1",
            (
                "no input or trigger 'lever_x'; allowed: lever, refill, cells, flash, roll, bell."
                " Did you mean 'lever'?"
            ),
        ),
        (
            "tap zzz @1",
            "no input or trigger 'zzz'; allowed: lever, refill, cells, flash, roll, bell.",
        ),
        ("hold glow @1..2", "trigger 'glow' is always on; allowed: a trigger with an input."),
        ("set rung storm @1", "no selector 'rung'; allowed: ring, mood. Did you mean 'ring'?"),
        ("set volum 50 @1", "no selector 'volum'; allowed: ring, mood. Did you mean 'volume'?"),
        (
            "set ring strom @1",
            "selector 'ring' has no position 'strom'; allowed: slow, storm. Did you mean 'storm'?",
        ),
        ("set ring 1 @1", "selector 'ring' has no position '1'; allowed: slow, storm."),
        ("set volume 101 @1", "volume is '101'; allowed: a whole number from 0 to 100 percent."),
        ("set volume loud @1", "volume is 'loud'; allowed: a whole number from 0 to 100 percent."),
        ("hold lever @5..2", "ends before it starts; allowed: 0 to 1800 s, start before end."),
        ("tap lever @1801", "is later than half an hour; allowed: 0 to 1800 s, start before end."),
        (
            "hold lever @1..2000",
            "is later than half an hour; allowed: 0 to 1800 s, start before end.",
        ),
    ],
)
def test_a_wrong_name_or_value_is_named_with_what_is_allowed(item: str, message: str) -> None:
    assert complaints(item) == [f"press script: '{item}': {message}"]


def test_every_fault_of_a_script_is_reported_at_once() -> None:
    assert complaints("tap lever @1, tap levre @2; set ring gone @3\nend") == [
        (
            "press script: 'tap levre @2': no input or trigger 'levre'; allowed: lever, refill,"
            " cells, flash, roll, bell. Did you mean 'lever'?"
        ),
        (
            "press script: 'set ring gone @3': selector 'ring' has no position 'gone'; allowed:"
            " slow, storm."
        ),
        f"press script: 'end': is not understood; allowed: {FORMS}.",
    ]


def test_presses_of_one_input_that_overlap_are_faults_whatever_they_are_called() -> None:
    assert complaints(
        "hold roll @2..5, tap lever @3, tap refill @3, tap roll @4.99, tap lever @5"
    ) == [
        (
            "press script: 'tap lever @3': input 'lever' is still down from 'hold roll @2..5';"
            " allowed: from 5 s on."
        ),
        (
            "press script: 'tap roll @4.99': input 'lever' is still down from 'hold roll @2..5';"
            " allowed: from 5 s on."
        ),
        (
            "press script: 'tap lever @5': input 'lever' is still down from 'tap roll @4.99';"
            " allowed: from 5.05 s on."
        ),
    ]


def test_faults_say_where_the_script_stands() -> None:
    with pytest.raises(
        SequenceError, match=r"^lantern.toml: script 'show': 'tap x @1': no input or trigger 'x'"
    ):
        parse_script("tap x @1", TABLE, NAMES, "lantern.toml: script 'show'")


def test_a_prop_without_inputs_or_selectors_says_so() -> None:
    bare = Names(**{name: () for name in vars(NAMES)})
    table = Table(**{**vars(TABLE), "inputs": (), "selectors": (), "triggers": ()})
    with pytest.raises(SequenceError) as error:
        parse_script("tap a @1, set b c @2", table, bare)
    assert str(error.value).splitlines() == [
        "press script: 'tap a @1': no input or trigger 'a'; allowed: none, the prop file has none.",
        "press script: 'set b c @2': no selector 'b'; allowed: none, the prop file has none.",
    ]


def test_the_default_script_shows_every_trigger_with_a_button() -> None:
    # flash: a tap is all there is to it. roll: the ring is turned first; held for its 0.5 s and 2 s
    # more. glow and bell have no button.
    assert (
        default_script(TABLE, NAMES)
        == "tap refill @0.5, set ring storm @1.8, tap lever @2, hold lever @3..5.5"
    )
    assert parsed(default_script(TABLE, NAMES)).until_frame == 7500


def test_the_default_script_turns_a_selector_only_where_it_stands_wrong() -> None:
    conditions = ((0, 0b01),), ((0, 0b10),), ((0, 0b11),), ((0, 0b01), (1, 0b100))
    triggers = tuple(
        TriggerRecord(Mode.ONCE, Shots((0,)), input=0, conditions=wanted) for wanted in conditions
    )
    table = Table(**{**vars(TABLE), "triggers": triggers})
    assert (
        default_script(table, NAMES)
        == "tap lever @0.5, set ring storm @1.8, tap lever @2, tap lever @3.5, set ring slow @4.8,"
        " set mood wild @4.8, tap lever @5"
    )


def test_the_default_script_holds_long_enough_for_all_triggers_of_an_input() -> None:
    held = tuple(
        TriggerRecord(Mode.ONCE, Shots((0,)), input=0, hold=hold) for hold in (0, 1500, 200)
    )
    table = Table(**{**vars(TABLE), "triggers": held})
    assert default_script(table, NAMES) == "tap lever @0.5, hold lever @1.5..5"


def test_the_default_script_of_a_prop_that_plays_by_itself_is_three_seconds() -> None:
    table = Table(**{**vars(TABLE), "triggers": TABLE.triggers[2:]})
    assert default_script(table, NAMES) == "end @3"
