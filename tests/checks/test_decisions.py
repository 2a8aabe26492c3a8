"""What a trigger breaks by its maker's decision is marked so, and nothing that others do."""

from collections.abc import Callable
from typing import Any

import pytest

from fxseq.checks import findings
from fxseq.runs import Performance
from fxseq.sequence import Finding, FxError, Weight

Values = dict[str, Any]
Play = Callable[..., Performance]
FIVE_A_SECOND = "hold lever @1..3"


@pytest.fixture
def rolling(values: Values) -> Values:
    """A held lever gives five flashes a second, by its maker's decision; a second button does
    what a test says.
    """
    values["board"]["channels"] = 4
    values["inputs"]["button"] = {}
    values["fades"]["flash"]["segments"][0]["length_ms"] = 40
    values["effects"]["spark"]["sounds"] = []
    values["triggers"] = {
        "roll": {
            "mode": "repeat",
            "input": "lever",
            "rate_per_s": 5,
            "effects": ["spark"],
            "despite": ["flashes"],
        },
        "beep": {"mode": "once", "input": "button", "effects": ["beep"]},
    }
    values["effects"]["beep"] = {"sounds": [{"clip": "beep"}]}
    return values


def flashing(performance: Performance) -> list[Finding]:
    return [finding for finding in findings(performance) if finding.check == "light.flash"]


def test_a_decided_finding_keeps_weight_figure_and_caution_and_comes_last(
    rolling: Values, played: Play
) -> None:
    decided = flashing(played(rolling, FIVE_A_SECOND))
    assert [(finding.weight, finding.decided) for finding in decided] == [
        (Weight.WARNING, "triggers.roll.despite")
    ] * 2
    assert decided[0].figure.startswith("5 general flashes within one second")
    assert "Post a notice" in decided[0].remedy and "seizures" in decided[0].remedy
    del rolling["speaker"]
    open_notes = [finding.weight for finding in findings(played(rolling, FIVE_A_SECOND))][:-2]
    assert open_notes and set(open_notes) == {Weight.NOTE}


def test_nothing_is_decided_where_no_trigger_says_so(rolling: Values, played: Play) -> None:
    del rolling["triggers"]["roll"]["despite"]
    assert [finding.decided for finding in flashing(played(rolling, FIVE_A_SECOND))] == ["", ""]


def test_a_group_that_flashes_for_another_reason_stays_open(rolling: Values, played: Play) -> None:
    rolling["groups"]["tip"] = {**rolling["groups"]["lamp"], "first_channel": 2}
    rolling["effects"]["alarm"] = {"lights": [{"group": "tip", "fade": "flash"}]}
    rolling["triggers"]["alarm"] = {
        "mode": "repeat",
        "input": "button",
        "rate_per_s": 8,
        "effects": ["alarm"],
    }
    found = {
        finding.subject: finding.decided
        for finding in flashing(played(rolling, "hold lever @1..3, hold button @4..6"))
    }
    assert found == {
        "group 'tip'": "",
        "group 'lamp'": "triggers.roll.despite",
        "all groups together": "",
    }


def test_what_another_trigger_does_to_the_same_group_stays_open_with_its_own_figure(
    rolling: Values, played: Play
) -> None:
    rolling["triggers"]["alarm"] = {
        "mode": "repeat",
        "input": "button",
        "rate_per_s": 4,
        "effects": ["spark"],
    }
    found = [
        finding
        for finding in flashing(played(rolling, "hold lever @1..3, hold button @4..6"))
        if finding.subject == "group 'lamp'"
    ]
    assert [(finding.figure[:2], bool(finding.decided)) for finding in found] == [
        ("4 ", False),
        ("5 ", True),
    ]


def test_two_triggers_that_keep_the_limit_alone_and_break_it_together_are_not_decided_by_one(
    rolling: Values, played: Play
) -> None:
    for name, source in (("roll", "lever"), ("alarm", "button")):
        rolling["triggers"][name] = {
            **rolling["triggers"]["roll"],
            "input": source,
            "rate_per_s": 2,
        }
    del rolling["triggers"]["alarm"]["despite"]
    found = flashing(played(rolling, "hold lever @1..4, hold button @1.25..4"))
    assert [(finding.figure[:2], finding.decided) for finding in found] == [("4 ", "")] * 2


@pytest.mark.parametrize(
    ("despite", "decided"), [(["voices"], "triggers.roll.despite"), (["flashes"], ""), ([], "")]
)
def test_sounds_that_are_cut_by_decision(
    rolling: Values, played: Play, despite: list[str], decided: str
) -> None:
    # A tone of 100 ms, every 50 ms, and one voice.
    rolling["board"]["voices"] = 1
    rolling["triggers"]["roll"] |= {"rate_per_s": 20, "effects": ["beep"], "despite": despite}
    (cut,) = [
        finding
        for finding in findings(played(rolling, FIVE_A_SECOND))
        if finding.check == "sound.voices"
    ]
    assert cut.decided == decided


def test_a_limit_that_guards_a_part_cannot_be_decided(rolling: Values, played: Play) -> None:
    rolling["triggers"]["roll"]["despite"] = ["current"]
    with pytest.raises(FxError, match=r"despite.*flashes"):
        played(rolling)
