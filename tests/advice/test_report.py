"""Which rate is the fastest good one, what is decided, and which trigger is meant."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from fxseq.advice import Break, Limit, RatePoint, TuneReport, repeating_trigger
from fxseq.runs import Prop
from fxseq.sequence import FxError

Values = dict[str, Any]


def report(*breaks: Break, despite: tuple[Limit, ...] = ()) -> TuneReport:
    """A sweep of 1, 2 and 3 shots a second."""
    points = tuple(RatePoint(rate, 70, 75, 0, 0, 0, 1, 60, rate, 10, 20, ()) for rate in (1, 2, 3))
    return TuneReport("roll", 2.0, points, breaks, {Limit.CURRENT: 500.0}, frozenset(despite))


FLASHES = Break(Limit.FLASHES, 1.5, 1.4, 3.5)
SOUND = Break(Limit.SOUND, 2.5, 2.4, 5.9)


def test_the_fastest_rate_keeps_the_limit_that_breaks_first() -> None:
    assert report(FLASHES, SOUND).fastest_per_s == 1.4


def test_a_limit_that_is_decided_on_holds_nothing_back() -> None:
    some = report(FLASHES, SOUND, despite=(Limit.FLASHES,))
    assert (some.fastest_per_s, some.open_breaks) == (2.4, (SOUND,))
    assert [each["decided"] for each in some.as_dict()["breaks"]] == [True, False]


def test_there_is_no_fastest_rate_where_the_slowest_breaks_a_limit() -> None:
    assert report(Break(Limit.CURRENT, 1, None, 600.0)).fastest_per_s is None


def test_the_fastest_that_was_tried_is_named_where_nothing_breaks() -> None:
    every = report()
    assert (every.fastest_per_s, every.kept) == (3, tuple(Limit))


def test_only_what_guards_no_part_no_supply_and_no_ears_may_be_decided() -> None:
    assert {limit.text for limit in Limit if limit.may_be_decided} == {
        "flashes",
        "light",
        "sound",
        "voices",
        "clipping",
        "saturation",
    }


def test_a_report_in_plain_values() -> None:
    plain = report(Break(Limit.VOICES, 1.5, 1.4, 7)).as_dict()
    assert {key: plain[key] for key in ("trigger", "present_rate_per_s", "fastest_rate_per_s")} == {
        "trigger": "roll",
        "present_rate_per_s": 2.0,
        "fastest_rate_per_s": 1.4,
    }
    (broken,) = plain["breaks"]
    assert (
        broken["limit"],
        broken["from_rate_per_s"],
        broken["good_to_per_s"],
        broken["value"],
        broken["concerns"],
    ) == ("voices", 1.5, 1.4, 7, "the sound")
    assert plain["limits"] == {"current": 500.0}
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_the_only_repeating_trigger_need_not_be_named(
    values: Values, build: Callable[[Values], Prop]
) -> None:
    values["triggers"]["tap"] = {"mode": "once", "input": "lever", "effects": ["spark"]}
    prop = build(values)
    assert repeating_trigger(prop, None) == repeating_trigger(prop, "roll") == "roll"


@pytest.mark.parametrize(
    ("repeating", "name", "message"),
    [
        (2, None, "the name of the trigger to tune is missing; allowed: roll, roll_1."),
        (1, "rol", "no repeating trigger 'rol'; allowed: roll. Did you mean 'roll'?"),
        (1, "tap", "no repeating trigger 'tap'; allowed: roll."),
        (
            0,
            "tap",
            "no repeating trigger 'tap'; allowed: none, as no trigger has mode = \"repeat\".",
        ),
        (
            0,
            None,
            (
                "the name of the trigger to tune is missing; allowed: none, as no trigger has mode"
                ' = "repeat".'
            ),
        ),
    ],
)
def test_a_trigger_that_cannot_be_meant_is_a_fault(
    values: Values, build: Callable[[Values], Prop], repeating: int, name: str | None, message: str
) -> None:
    roll = values["triggers"].pop("roll")
    values["triggers"] |= {
        f"roll_{number}" if number else "roll": roll for number in range(repeating)
    }
    values["triggers"]["tap"] = {"mode": "once", "input": "lever", "effects": ["spark"]}
    prop = build(values)
    with pytest.raises(FxError) as error:
        repeating_trigger(prop, name)
    assert str(error.value) == f"{prop.path}: {message}"
