"""From which rate on a limit is broken, against what the curves and clips say by themselves, and
with what is left to chance.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import soundfile

from fxseq.advice import Break, Limit, RatePoint, TuneReport, exempt_area_of, tuning, tune
from fxseq.advice.tuning import DRAWS
from fxseq.runs import Prop

Values = dict[str, Any]
Build = Callable[..., Prop]
RATES = [1.0, 4.0, 7.0, 10.0]


def first(prop: Prop, limit: Limit, rates: list[float] = RATES) -> Break:
    return next(each for each in tune(prop, "roll", rates).breaks if each.limit is limit)


def burst(seconds: float, level: float = 0.1) -> np.ndarray:
    return level * np.tile([1.0, -1.0], round(seconds * 8000))


def test_each_limit_is_found_to_a_tenth_the_first_to_break_first(
    values: Values, build: Build
) -> None:
    # More than three flashes a second are too many (WCAG 2.2, 2.3.1). Of sounds of 0.3 s, three
    # overlap where two periods are shorter: above 6.67.
    report = tune(build(values, burst(0.3)), "roll", RATES)
    assert [
        (each.limit, each.rate_per_s, each.below_per_s)
        for each in report.breaks
        if each.limit is not Limit.SOUND
    ] == [(Limit.FLASHES, 3.1, 3.0), (Limit.VOICES, 6.7, 6.6)]
    assert [each.rate_per_s for each in report.breaks] == sorted(
        each.rate_per_s for each in report.breaks
    )


def test_points_are_those_asked_for_the_rate_of_the_file_and_the_fastest_good_one(
    values: Values, build: Build
) -> None:
    report = tune(build(values), "roll", RATES)
    assert [point.rate_per_s for point in report.points] == [1, 2, 3, 4, 7, 10]
    assert report.fastest_per_s == 3


@pytest.fixture
def judged(
    values: Values, build: Build, monkeypatch: pytest.MonkeyPatch
) -> Callable[..., TuneReport]:
    """The search with its own draw breaking SOUND at some rates, and the others from a rate on."""

    @dataclass
    class Judged:
        rate_per_s: float
        draw: int

        def breaks(self, limit: Limit) -> bool:
            return limit is Limit.SOUND and is_broken(self.rate_per_s, self.draw)

        def point(self) -> RatePoint:
            return RatePoint(
                self.rate_per_s,
                70,
                75,
                0,
                0,
                0,
                1,
                60,
                1,
                10,
                20,
                tuple(filter(self.breaks, Limit)),
            )

        def __getattr__(self, quantity: str) -> float:
            return 5.0

    values["effects"]["spark"]["pitch_spread_percent"] = 5
    prop = build(values)
    is_broken: Callable[[float, int], bool]

    def judged(breaks: Callable[[float, int], bool]) -> TuneReport:
        nonlocal is_broken
        is_broken = breaks
        monkeypatch.setattr(
            tuning,
            "at_rate",
            lambda _prop, _index, rate_per_s, draw, _kinds: Judged(rate_per_s, draw),
        )
        monkeypatch.setattr(tuning, "Held", lambda held, *_: held)
        return tune(prop, "roll", [2.0, 4.0, 6.0, 7.0, 8.0, 10.0])

    return judged


def test_a_limit_that_breaks_stays_broken_at_every_faster_rate(
    judged: Callable[..., TuneReport],
) -> None:
    report = judged(lambda rate_per_s, draw: rate_per_s >= 5.5 and rate_per_s != 7)
    assert [(each.rate_per_s, each.below_per_s) for each in report.breaks] == [(5.5, 5.4)]
    assert [point.broken for point in report.points if point.rate_per_s in (4, 6, 7, 8)] == [
        (),
        *[(Limit.SOUND,)] * 3,
    ]


@pytest.mark.parametrize(
    ("own_per_s", "others_per_s", "expected"),
    [(8, 3, 3.0), (3, 8, 3.0), (100, 9.5, 9.5), (100, 1, 2.0), (5, 100, 5.0)],
)
def test_a_limit_breaks_where_any_draw_breaks_it(
    judged: Callable[..., TuneReport], own_per_s: float, others_per_s: float, expected: float
) -> None:
    report = judged(lambda rate_per_s, draw: rate_per_s >= (others_per_s if draw else own_per_s))
    assert [each.rate_per_s for each in report.breaks] == [expected]
    assert report.draws == DRAWS


def test_the_seed_of_the_file_hardly_matters(values: Values, build: Build) -> None:
    # Of a long sound (300 ms) at random among short ones, three need a voice at once, of two, where
    # three periods are shorter: above 10 a second.
    prop = build(values, burst(0.3), lit=False)
    soundfile.write(prop.path.parent / "tick.wav", burst(0.02), 16000, subtype="PCM_16")
    values["clips"]["tick"] = {"file": "tick.wav", "coding": "pcm16"}
    for name in ("tick", "tock", "tack"):
        values["effects"][name] = {"sounds": [{"clip": "tick"}]}
    values["triggers"]["roll"] |= {"effects": ["spark", "tick", "tock", "tack"], "choice": "random"}
    for seed in range(6, 10):
        values["board"]["random_seed"] = seed
        assert first(build(values), Limit.VOICES, [8.0, 10.0, 12.0]).rate_per_s == 10.1


def test_one_draw_is_enough_where_nothing_is_left_to_chance(values: Values, build: Build) -> None:
    assert tune(build(values), "roll", RATES).draws == 1


def test_the_search_ends_where_it_is_told_to(values: Values, build: Build) -> None:
    def stop(rate_per_s: float) -> None:
        if rate_per_s > 4:
            raise InterruptedError

    with pytest.raises(InterruptedError):
        tune(build(values), "roll", RATES, told=stop)


def test_decisions_of_the_file_and_of_the_call_count_both(values: Values, build: Build) -> None:
    values["triggers"]["roll"]["despite"] = ["flashes"]
    report = tune(build(values, burst(0.3)), "roll", RATES, despite=[Limit.SOUND])
    assert report.despite == {Limit.FLASHES, Limit.SOUND}
    assert report.fastest_per_s == 6.6


def test_the_exempt_area_is_that_of_the_leds_that_the_trigger_lights(
    values: Values, build: Build
) -> None:
    # 4 LEDs of 5 mm: 0.785 cm^2; at 0.2 m 0.00196 sr, 33 % of 0.006 sr, at 2 m a hundredth of that.
    values["listening"] = {"hand_m": 0.2, "audience_m": 2.0}
    values["groups"]["other"] = {**values["groups"]["lamp"], "first_channel": 1, "size_mm": 50}
    assert "fill 33 % of that at 0.2 m (hand) and 0.33 % at 2 m (audience)" in exempt_area_of(
        build(values), "roll"
    )
