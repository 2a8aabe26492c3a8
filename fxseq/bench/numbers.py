"""Findings and key numbers of the prop, played through the file's own press script."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from itertools import count
from typing import Any

from fxseq.advice import Limit, TuneReport, tune
from fxseq.bench.desk import Version
from fxseq.checks import EVERYDAY_SOURCE, findings, loud_in_words
from fxseq.runs import Performance, Prop, in_numbers, perform
from fxseq.sequence import Sequence

RATES_PER_S = (*map(float, range(1, 20, 2)), 20.0)
"""Rates that are tried; where a limit breaks is then found to a tenth."""
_PACE = (
    "rate_per_s",
    "despite",
    "first_delay_ms",
    "burst",
    "limit",
    "ramp_to_rate_per_s",
    "ramp_shots",
)
"""Keys of a trigger that do not count in how fast it may repeat."""


@dataclass(frozen=True)
class Broken:
    """A limit that breaks, from which rate on, whom it concerns, and whether that is decided.
    good_to_per_s: the fastest rate below that keeps it; None where the slowest breaks it.
    """

    limit: str
    from_per_s: float
    good_to_per_s: float | None
    concerns: str
    what: str
    decided: bool


@dataclass(frozen=True)
class Rate:
    """How fast a trigger may repeat. fastest_per_s: None where even the slowest rate breaks a
    limit. tried_per_s: the slowest and the fastest rate that were tried. breaks: the slowest rate
    first.
    """

    trigger: str
    present_per_s: float
    fastest_per_s: float | None
    tried_per_s: tuple[float, float]
    breaks: list[Broken]


Tried = tuple[float, ...]
Found = tuple[Prop, Tried, TuneReport]
Kept = dict[str, Found]
"""By trigger: what was found last, of which prop, at which rates per second."""


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
        "script": version.prop.script_name,
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


def rates(
    prop: Prop,
    rates_per_s: Iterable[float] = RATES_PER_S,
    kept: Kept | None = None,
    tell: Callable[[float, str], None] = lambda done, trigger: None,
) -> list[Rate]:
    """How fast each trigger that repeats under a hand may go, the one with the least to spare
    first.

    rates_per_s: that are tried; where a limit breaks is then found to a tenth. kept: found earlier,
    and used where nothing that counts has changed since; it gets what is found now. tell: hears
    before each rate how much is done, 0 to 1, and for which trigger; what it raises ends all.
    """
    kept = {} if kept is None else kept
    tried = tuple(rates_per_s)
    repeating = [
        name
        for name, trigger in prop.sequence.triggers.items()
        if trigger.mode == "repeat"
        and trigger.input is not None
        and prop.sequence.inputs[trigger.input].kind == "button"
    ]
    found = []
    for turn, name in enumerate(repeating):

        def told(played: int, before: int = turn, trigger: str = name) -> None:
            # How many more are played to tell where limits break is known only afterwards.
            share = played / (played + len(tried))
            tell((before + share) / len(repeating), trigger)

        found.append(_rate(prop, name, tried, told, kept))
    return sorted(found, key=lambda rate: (rate.fastest_per_s or 0.0) / rate.present_per_s)


def _rate(prop: Prop, name: str, tried: Tried, told: Callable[[int], None], kept: Kept) -> Rate:
    played = count()
    if name not in kept or not _would_be_alike(kept[name], prop, tried, name):
        kept[name] = prop, tried, tune(prop, name, tried, told=lambda _: told(next(played)))
    trigger = prop.sequence.triggers[name]
    report = replace(
        kept[name][2],
        present_rate_per_s=trigger.rate_per_s or 0.0,
        despite=frozenset(limit for limit in Limit if limit.text in trigger.despite),
    )
    breaks = [
        Broken(
            each.limit.text,
            each.rate_per_s,
            each.below_per_s,
            each.limit.concerns,
            each.limit.value,
            each.limit in report.despite,
        )
        for each in report.breaks
    ]
    ends_per_s = tried[0], tried[-1]
    return Rate(name, report.present_rate_per_s, report.fastest_per_s, ends_per_s, breaks)


def _would_be_alike(found: Found, prop: Prop, tried: Tried, name: str) -> bool:
    """Whether a trigger that is held at any of those rates gives what was found already."""
    before, tried_before, _ = found
    same_clips = before.clips.keys() == prop.clips.keys() and all(
        clip is prop.clips[other] for other, clip in before.clips.items()
    )
    same_prop = _what_counts(before.sequence, name) == _what_counts(prop.sequence, name)
    return same_clips and same_prop and tried == tried_before


def _what_counts(sequence: Sequence, name: str) -> Sequence:
    """The sequence without what does not count in how fast a trigger may repeat."""
    fields = type(sequence.triggers[name]).model_fields
    paceless = sequence.triggers[name].model_copy(
        update={key: fields[key].get_default(call_default_factory=True) for key in _PACE}
    )
    triggers = {**sequence.triggers, name: paceless}
    return sequence.model_copy(
        update={"triggers": triggers, "title": "", "picture": None, "scripts": {}}
    )
