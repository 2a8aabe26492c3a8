"""Which rate is the fastest good one, what binds, and which trigger is meant."""
import json
from collections.abc import Callable
from typing import Any

import pytest

from fxseq.checks import Prop
from fxseq.sequence import FxError
from fxseq.tune import Limit, RatePoint, TuneReport, repeating_trigger

Values = dict[str, Any]


def report(*broken: tuple[Limit, ...]) -> TuneReport:
    """Rates 1, 2, 3 and so on, each with the limits that it breaks."""
    points = tuple(RatePoint(rate, 70, 75, 0, 0, 0, 1, 60, rate, 10, 20, limits) for rate, limits in enumerate(broken, 1))
    return TuneReport("roll", 2.0, points, {Limit.CURRENT: 500.0})


def test_the_fastest_rate_is_the_last_before_a_limit_breaks() -> None:
    some = report((), (), (Limit.SOUND, Limit.FLASHES), (Limit.FLASHES,))
    assert some.fastest == some.points[1]
    assert some.binds == (Limit.SOUND, Limit.FLASHES)


def test_a_rate_that_is_good_again_beyond_a_broken_one_does_not_count() -> None:
    some = report((), (Limit.LIGHT,), ())
    assert (some.fastest, some.binds) == (some.points[0], (Limit.LIGHT,))


def test_there_is_no_fastest_rate_where_the_slowest_breaks_a_limit() -> None:
    none = report((Limit.CURRENT,), ())
    assert (none.fastest, none.binds) == (None, (Limit.CURRENT,))


def test_nothing_binds_where_all_are_good() -> None:
    every = report((), ())
    assert (every.fastest, every.binds) == (every.points[1], ())


def test_a_report_in_plain_values() -> None:
    plain = report((), (Limit.VOICES,)).as_dict()
    assert {key: plain[key] for key in ("trigger", "present_rate_per_s", "fastest_rate_per_s", "binds")} == {
        "trigger": "roll", "present_rate_per_s": 2.0, "fastest_rate_per_s": 1, "binds": ["voices"]}
    assert plain["points"][1]["broken"] == ["voices"]
    assert plain["limits"] == {"current": 500.0}
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert report((Limit.VOICES,)).as_dict()["fastest_rate_per_s"] is None


def test_the_only_repeating_trigger_need_not_be_named(values: Values, build: Callable[[Values], Prop]) -> None:
    values["triggers"]["tap"] = {"mode": "once", "input": "lever", "effects": ["spark"]}
    prop = build(values)
    assert repeating_trigger(prop, None) == repeating_trigger(prop, "roll") == "roll"


@pytest.mark.parametrize(("repeating", "name", "message"), [
    (2, None, "which trigger is to be tuned is not said; allowed: roll, roll_1."),
    (1, "rol", "no repeating trigger 'rol'; allowed: roll. Did you mean 'roll'?"),
    (1, "tap", "no repeating trigger 'tap'; allowed: roll."),
    (0, "tap", "no repeating trigger 'tap'; allowed: none: no trigger has mode = \"repeat\"."),
    (0, None, "which trigger is to be tuned is not said; allowed: none: no trigger has mode = \"repeat\"."),
])
def test_a_trigger_that_cannot_be_meant_is_a_fault(values: Values, build: Callable[[Values], Prop], repeating: int, name: str | None,
                                                   message: str) -> None:
    roll = values["triggers"].pop("roll")
    values["triggers"] |= {f"roll_{number}" if number else "roll": roll for number in range(repeating)}
    values["triggers"]["tap"] = {"mode": "once", "input": "lever", "effects": ["spark"]}
    prop = build(values)
    with pytest.raises(FxError) as error:
        repeating_trigger(prop, name)
    assert str(error.value) == f"{prop.path}: {message}"
