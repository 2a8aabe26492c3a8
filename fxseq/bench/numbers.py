"""Findings and key numbers of the prop, played through the file's own press script."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fxseq.advice import tune
from fxseq.bench.desk import Version
from fxseq.checks import EVERYDAY_SOURCE, findings, loud_in_words
from fxseq.runs import Performance, Prop, in_numbers, perform

RATES_PER_S = (*map(float, range(1, 20, 2)), 20.0)
"""Rates that are tried; where a limit breaks is then found to a tenth."""


class Abandoned(Exception):
    """What was being found is no longer wanted."""


@dataclass(frozen=True)
class Broken:
    """A limit that breaks, from which rate on, whom it concerns, and whether that is decided."""

    limit: str
    from_per_s: float
    concerns: str
    what: str
    decided: bool


@dataclass(frozen=True)
class Rate:
    """How fast a trigger may repeat. fastest_per_s: None where even the slowest rate breaks a
    limit. breaks: the slowest rate first.
    """

    trigger: str
    present_per_s: float
    fastest_per_s: float | None
    breaks: list[Broken]


def key_numbers(version: Version) -> dict[str, Any]:
    """What a run of the press script comes to, in plain values. Raises FxError where the script
    is at fault.
    """
    performance = perform(version.prop, version.prop.script()[0])
    levels = performance.heard.levels
    lasts = performance.run_time
    table = in_numbers(performance)["table"]
    at = {}
    if levels:
        at = {name: level.as_dict()["lafmax_db"] for name, level in levels.at.items()}
    return {
        "revision": version.revision,
        "level_db": {
            "hand": at.get("hand"),
            "audience": at.get("audience"),
            "spread_db": levels and levels.uncertainty_db,
        },
        "loud_in_words": loud_in_words(levels),
        "loud_source": EVERYDAY_SOURCE,
        "mean_ma": performance.load.draw.mean_ma,
        "peak_ma": performance.load.draw.peak_ma,
        "hours": _hours(performance),
        "hours_at_most": lasts is not None and lasts.known_to_ma is not None,
        "table_bytes": table["bytes"],
        "flash_bytes": table["flash_bytes"],
        "findings": [finding.as_dict() for finding in findings(performance)],
    }


def _hours(performance: Performance) -> float | None:
    """How long typical cells last on the described day; None where that is not known, or they
    would never be empty. [h]
    """
    found = performance.run_time and performance.run_time.hours
    if found is not None and math.isfinite(found.typical):
        return found.typical
    return None


def rates(prop: Prop, is_wanted: Callable[[], bool] = lambda: True) -> list[Rate]:
    """How fast each trigger that repeats under a hand may go, the one with the least to spare
    first.

    is_wanted: asked before each rate is played. Raises Abandoned as soon as it says no.
    """
    found = [
        _rate(prop, name, is_wanted)
        for name, trigger in prop.sequence.triggers.items()
        if trigger.mode == "repeat"
        and trigger.input is not None
        and prop.sequence.inputs[trigger.input].kind == "button"
    ]
    return sorted(found, key=lambda rate: (rate.fastest_per_s or 0.0) / rate.present_per_s)


def _rate(prop: Prop, name: str, is_wanted: Callable[[], bool]) -> Rate:
    def told(_: float) -> None:
        if not is_wanted():
            raise Abandoned

    report = tune(prop, name, RATES_PER_S, told=told)
    breaks = [
        Broken(
            each.limit.text,
            each.rate_per_s,
            each.limit.concerns,
            each.limit.value,
            each.limit in report.despite,
        )
        for each in report.breaks
    ]
    return Rate(name, report.present_rate_per_s, report.fastest_per_s, breaks)
