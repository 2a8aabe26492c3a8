"""Findings and key numbers of the prop, played through the file's own press script."""
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from fxseq.bench.desk import Version
from fxseq.checks import Performance, Prop, findings, perform
from fxseq.tune import RatePoint, sweep

SLOWEST_PER_S, FASTEST_PER_S = 1, 20
"""Rates that are tried: whole ones, then tenths below the first that is too fast."""
_FINE_STEPS = 10


class Abandoned(Exception):
    """What was being found is no longer wanted."""


@dataclass(frozen=True)
class Rate:
    """How fast a trigger may repeat. fastest_per_s: None where even the slowest is too fast. binds: what keeps it from more."""

    trigger: str
    present_per_s: float
    fastest_per_s: float | None
    binds: list[str]


def key_numbers(version: Version) -> dict[str, Any]:
    """What a run of the press script comes to, in plain values. Raises FxError where the script is at fault."""
    performance = perform(version.prop, version.prop.script()[0])
    levels, table = performance.levels, performance.summary()["table"]
    at = {name: level.as_dict()["lafmax_db"] for name, level in levels.at.items()} if levels else {}
    return {
        "revision": version.revision,
        "level_db": {"hand": at.get("hand"), "audience": at.get("audience"), "spread_db": levels.uncertainty_db if levels else None},
        "mean_ma": performance.draw.mean_ma, "peak_ma": performance.draw.peak_ma, "hours": _hours(performance),
        "table_bytes": table["bytes"], "flash_bytes": table["flash_bytes"],
        "findings": [finding.as_dict() for finding in findings(performance)],
    }


def _hours(performance: Performance) -> float | None:
    """How long typical cells last on the described day; None where that is not known, or they would never be empty. [h]"""
    found = performance.run_time.hours if performance.run_time else None
    return found.typical if found is not None and math.isfinite(found.typical) else None


def rates(prop: Prop, is_wanted: Callable[[], bool] = lambda: True) -> list[Rate]:
    """How fast each trigger that repeats under a hand may go, the one with the least to spare first.

    is_wanted: asked before each rate is played. Raises Abandoned as soon as it says no.
    """
    found = [_rate(prop, name, is_wanted) for name, trigger in prop.sequence.triggers.items()
             if trigger.mode == "repeat" and trigger.input is not None and prop.sequence.inputs[trigger.input].kind == "button"]
    return sorted(found, key=lambda rate: (rate.fastest_per_s or 0.0) / rate.present_per_s)


def _rate(prop: Prop, name: str, is_wanted: Callable[[], bool]) -> Rate:
    """Rates from slow to fast until one breaks a limit; nothing above that is played."""
    good, broken = _first_broken(prop, name, [float(rate) for rate in range(SLOWEST_PER_S, FASTEST_PER_S + 1)], is_wanted)
    if good is not None and broken is not None:
        fine, finer = _first_broken(prop, name, [round(good + part / _FINE_STEPS, 6) for part in range(1, _FINE_STEPS)], is_wanted)
        good, broken = fine or good, finer or broken
    binds = [limit.value for limit in broken.broken] if broken else []
    return Rate(name, prop.sequence.triggers[name].rate_per_s or 0.0, good, binds)


def _first_broken(
    prop: Prop, name: str, rates_per_s: list[float], is_wanted: Callable[[], bool],
) -> tuple[float | None, RatePoint | None]:
    """The last good rate, and the first that breaks a limit."""
    good = None
    for point in sweep(prop, name, _while_wanted(rates_per_s, is_wanted)):
        if point.broken:
            return good, point
        good = point.rate_per_s
    return good, None


def _while_wanted(rates_per_s: list[float], is_wanted: Callable[[], bool]) -> Iterator[float]:
    for rate_per_s in rates_per_s:
        if not is_wanted():
            raise Abandoned
        yield rate_per_s
