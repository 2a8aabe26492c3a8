"""From which rate on each limit is broken.

Every rate of a sweep is measured once, as the file's own seed plays it. Then, limit by limit:

1. Begin with the first rate of the sweep that breaks it, or behind the last one.
2. While it is broken at the rate below in another draw of what is left to chance, go down.
3. Halve the step in which it breaks until that is a tenth of a shot a second; a rate is good where
   no draw breaks the limit.

What breaks a limit at one rate and not at a faster one has a gap by chance: from its first rate on,
a limit counts as broken.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from fxseq.checks import exempt_area
from fxseq.hazards import led_area_m2
from fxseq.runs import Prop
from fxseq.table import PlayClip, StartFade
from fxseq.advice.sweep import QUANTITIES, Held, Limit, RatePoint, at_rate, has_chance, limits_of

DRAWS = 3
"""Draws of chance by which a rate is judged, the file's own among them. Our own choice, no
source.
"""
FINEST_PER_S = 0.1
FINE_STEPS = 10
"""A step of the sweep is divided by this at the least."""
_ALONE = {
    **dict.fromkeys((Limit.LIGHT, Limit.FLASHES), (StartFade,)),
    **dict.fromkeys((Limit.SOUND, Limit.SATURATION, Limit.VOICES), (PlayClip,)),
}
"""Limits for which a run of the lights or of the sounds alone is enough."""


@dataclass(frozen=True)
class Break:
    """rate_per_s: the first rate that breaks the limit. below_per_s: the fastest below that keeps
    it, None where the slowest breaks it.

    value: what was found there, in the unit of the quantity of the limit; None where that is no
    number.
    """

    limit: Limit
    rate_per_s: float
    below_per_s: float | None
    value: float | None

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "limit": self.limit.text,
            "from_rate_per_s": self.rate_per_s,
            "good_to_per_s": self.below_per_s,
            "value": self.value,
            "concerns": self.limit.concerns,
            "breaks_where": self.limit.value,
            "remedy": self.limit.remedy,
        }


@dataclass(frozen=True)
class TuneReport:
    """points: by ascending rate. breaks: of each limit that is broken within the sweep, the first
    rate first.

    limits: what the quantities of the points are held against (see `limits_of`). despite: limits
    that the maker has decided to break. draws: how many draws of chance each limit was judged by;
    the points are those of the file's own.
    """

    trigger: str
    present_rate_per_s: float
    points: tuple[RatePoint, ...]
    breaks: tuple[Break, ...] = ()
    limits: Mapping[Limit, float] = field(default_factory=dict)
    despite: frozenset[Limit] = frozenset()
    draws: int = 1

    @property
    def open_breaks(self) -> tuple[Break, ...]:
        """Those that nobody has decided on."""
        return tuple(each for each in self.breaks if each.limit not in self.despite)

    @property
    def fastest_per_s(self) -> float | None:
        """The fastest rate up to which only limits are broken that were decided on; None where
        the slowest breaks another.
        """
        if self.open_breaks:
            return self.open_breaks[0].below_per_s
        return self.points[-1].rate_per_s

    @property
    def kept(self) -> tuple[Limit, ...]:
        """Limits that are broken nowhere in the sweep."""
        broken = {each.limit for each in self.breaks}
        return tuple(limit for limit in Limit if limit not in broken)

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "trigger": self.trigger,
            "present_rate_per_s": self.present_rate_per_s,
            "fastest_rate_per_s": self.fastest_per_s,
            "breaks": [
                {**each.as_dict(), "decided": each.limit in self.despite} for each in self.breaks
            ],
            "limits": {limit.text: most for limit, most in self.limits.items()},
            "draws": self.draws,
            "points": [point.as_dict() for point in self.points],
        }


def tune(
    prop: Prop,
    trigger: str,
    rates_per_s: Sequence[float],
    supply: str | None = None,
    despite: Iterable[Limit] = (),
    told: Callable[[float], None] = lambda rate_per_s: None,
) -> TuneReport:
    """Sweep these rates, at least one and ascending, and find from which rate on each limit is
    broken.

    despite: decided on besides what the file says. told: called with each rate before it is played;
    what it raises ends the search.
    """
    search = _Search(prop, prop.compiled.names.triggers.index(trigger), supply, told)
    points = [search.point(rate_per_s) for rate_per_s in rates_per_s]
    # Limits that are kept so far are all asked about the fastest rate in every draw: one run for
    # all of them.
    for draw in range(search.draws):
        search.point(rates_per_s[-1], draw)
    breaks = sorted(
        filter(None, (search.first(limit, rates_per_s) for limit in Limit)),
        key=lambda each: each.rate_per_s,
    )
    described = prop.sequence.triggers[trigger]
    decided = frozenset(limit for limit in Limit if limit.text in described.despite) | frozenset(
        despite
    )
    report = TuneReport(
        trigger,
        described.rate_per_s or 0.0,
        tuple(points),
        tuple(breaks),
        search.limits,
        decided,
        search.draws,
    )
    return replace(report, points=tuple(_with_breaks(search, report, rates_per_s)))


def exempt_area_of(prop: Prop, trigger: str) -> str:
    """How much of the area that the guideline on flashes exempts is filled by the LEDs that a
    trigger lights, in a sentence.
    """
    effects = prop.sequence.effects
    listening = prop.sequence.listening
    groups = {
        light.group
        for effect in prop.sequence.triggers[trigger].effects
        for light in effects[effect].lights
    }
    area_m2 = sum(led_area_m2(prop.sequence.groups[name]) for name in groups)
    return exempt_area(area_m2, {"hand": listening.hand_m, "audience": listening.audience_m})


def _with_breaks(
    search: "_Search", report: TuneReport, rates_per_s: Sequence[float]
) -> list[RatePoint]:
    """The points of the sweep, of the file's rate and of the fastest good one, each with all
    limits that are broken from it or a slower one on.
    """
    asked = {*rates_per_s, report.fastest_per_s}
    if rates_per_s[0] <= report.present_rate_per_s <= rates_per_s[-1]:
        asked.add(report.present_rate_per_s)
    first = {each.limit: each.rate_per_s for each in report.breaks}
    return [
        replace(
            search.point(rate),
            broken=tuple(limit for limit in Limit if first.get(limit, rate + 1) <= rate),
        )
        for rate in sorted(asked - {None})
    ]


class _Search:
    """Rates of one trigger, each played once for each draw and purpose."""

    def __init__(
        self, prop: Prop, index: int, supply: str | None, told: Callable[[float], None]
    ) -> None:
        self._prop = prop
        self._index = index
        self._supply = supply
        self._told = told
        self.limits = limits_of(prop, supply)
        self.draws = DRAWS if has_chance(prop.compiled.table) else 1
        self._points: dict[tuple[float, int], RatePoint] = {}
        self._found: dict[tuple[Limit, float, int], tuple[bool, float | None]] = {}

    def point(self, rate_per_s: float, draw: int = 0) -> RatePoint:
        """Everything that is measured at a rate."""
        if (rate_per_s, draw) not in self._points:
            self._points[rate_per_s, draw] = self._held(rate_per_s, draw).point()
        return self._points[rate_per_s, draw]

    def first(self, limit: Limit, rates_per_s: Sequence[float]) -> Break | None:
        """From which rate on a limit is broken, in any draw; None where it is kept throughout."""
        behind = len(rates_per_s)
        at = next(
            (place for place, rate in enumerate(rates_per_s) if limit in self.point(rate).broken),
            behind,
        )
        while at > 0 and self._broken(limit, rates_per_s[at - 1]):
            at -= 1
        if at == behind:
            return None
        if at == 0:
            return Break(limit, rates_per_s[0], None, self._value(limit, rates_per_s[0]))
        return self._halved(limit, rates_per_s[at - 1], rates_per_s[at])

    def _halved(self, limit: Limit, good_per_s: float, broken_per_s: float) -> Break:
        """Between a rate that keeps it and one that breaks it."""
        steps = max(FINE_STEPS, round((broken_per_s - good_per_s) / FINEST_PER_S))
        between = (
            round(good_per_s + (broken_per_s - good_per_s) * step / steps, 6)
            for step in range(1, steps)
        )
        rates = [good_per_s, *between, broken_per_s]
        low = 0
        high = steps
        while high - low > 1:
            middle = (low + high) // 2
            if self._broken(limit, rates[middle]):
                high = middle
            else:
                low = middle
        return Break(limit, rates[high], rates[low], self._value(limit, rates[high]))

    def _broken(self, limit: Limit, rate_per_s: float) -> bool:
        return any(self._judged(limit, rate_per_s, draw)[0] for draw in range(self.draws))

    def _value(self, limit: Limit, rate_per_s: float) -> float | None:
        """What was found in the draw that breaks it."""
        return next(
            value
            for draw in range(self.draws)
            for broken, value in [self._judged(limit, rate_per_s, draw)]
            if broken
        )

    def _judged(self, limit: Limit, rate_per_s: float, draw: int) -> tuple[bool, float | None]:
        """Whether a draw breaks the limit, and its quantity."""
        key = limit, rate_per_s, draw
        if key not in self._found:
            self._found[key] = self._judge(*key)
        return self._found[key]

    def _judge(self, limit: Limit, rate_per_s: float, draw: int) -> tuple[bool, float | None]:
        if limit in _ALONE and (rate_per_s, draw) not in self._points:
            held = self._held(rate_per_s, draw, _ALONE[limit])
            return held.breaks(limit), getattr(held, QUANTITIES[limit])
        point = self.point(rate_per_s, draw)
        value = None
        if limit in QUANTITIES:
            value = getattr(point, QUANTITIES[limit])
        return limit in point.broken, value

    def _held(
        self, rate_per_s: float, draw: int, kinds: tuple[type, ...] = (PlayClip, StartFade)
    ) -> Held:
        self._told(rate_per_s)
        return Held(
            at_rate(self._prop, self._index, rate_per_s, draw, kinds),
            self._index,
            rate_per_s,
            self._supply,
            self.limits,
        )
