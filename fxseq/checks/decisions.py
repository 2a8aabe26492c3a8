"""What a maker has decided to break, and no more.

A trigger names a limit in `despite`, and findings that its own shots make are marked so. A finding
is their own where these triggers alone make it, and it is gone without them. Where others make it
too, what others make stays open.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fxseq.checks.check import Check, put
from fxseq.checks.flashes import FLASH_NOTICE, flash, long_flashing, red_flash
from fxseq.checks.sound import clipping, saturated, voices
from fxseq.runs import Performance, Prop, perform
from fxseq.sequence import Finding
from fxseq.sequence.model import Despite
from fxseq.table import PlayClip, Shots, StartFade, Stay, TriggerRecord


@dataclass(frozen=True)
class Decidable:
    """Findings that a decision about a limit covers. checks: that make them. step: what of an
    effect is judged. notice: what to do nevertheless.
    """

    checks: tuple[Check[Any], ...]
    step: type[PlayClip] | type[StartFade]
    notice: str


_LISTEN = "It does no harm; listen whether it sounds as you want it."
DECIDABLE: dict[Despite, Decidable] = {
    "flashes": Decidable((flash, red_flash, long_flashing), StartFade, FLASH_NOTICE),
    "voices": Decidable((voices,), PlayClip, _LISTEN),
    "saturation": Decidable((saturated,), PlayClip, _LISTEN),
    "clipping": Decidable((clipping,), PlayClip, _LISTEN),
}
"""What a trigger may have decided on (`despite`), of what is judged here; whether shots are
distinct is judged by `tune` alone.
"""


def with_decisions(performance: Performance, found: list[Finding]) -> list[Finding]:
    """The findings, with those marked that the file has decided on."""
    for limit, covered in DECIDABLE.items():
        names = [
            name
            for name, trigger in performance.prop.sequence.triggers.items()
            if limit in trigger.despite
        ]
        if names and any(finding.check == one.id for one in covered.checks for finding in found):
            found = _marked(performance, found, covered, names)
    return found


def _marked(
    performance: Performance, found: list[Finding], covered: Decidable, names: list[str]
) -> list[Finding]:
    every = performance.prop.compiled.names.triggers
    others = [name for name in every if name not in names]
    alone, without = (
        _found_without(performance, covered, left_out) for left_out in (others, names)
    )
    parted = []
    for finding in found:
        if _key(finding) in alone:
            parted += _parted(finding, covered, names, without)
        else:
            parted.append(finding)
    return parted


def _parted(
    finding: Finding,
    covered: Decidable,
    names: list[str],
    without: Mapping[tuple[str, str], Finding],
) -> list[Finding]:
    """The finding as decided, and what is left of it without the triggers that decided."""
    where = " and ".join(f"triggers.{name}.despite" for name in names)
    left = without.get(_key(finding))
    if left == finding:
        return [finding]
    decided = replace(finding, decided=where, remedy=covered.notice)
    if left is None:
        return [decided]
    return [left, decided]


def _key(finding: Finding) -> tuple[str, str]:
    return finding.check, finding.subject


def _found_without(
    performance: Performance, covered: Decidable, triggers: list[str]
) -> dict[tuple[str, str], Finding]:
    """What the same presses give where these triggers make no light, or no sound."""
    prop = _without(
        performance.prop,
        {performance.prop.compiled.names.triggers.index(name) for name in triggers},
        covered.step,
    )
    run = perform(prop, performance.script, performance.supply and performance.supply[0])
    return {_key(finding): finding for finding in put(covered.checks, run)}


def _without(prop: Prop, triggers: set[int], step: type) -> Prop:
    """The prop whose triggers play copies of their effects, in which there are no such steps."""
    table = prop.compiled.table
    names = prop.compiled.names
    bare = tuple(
        replace(effect, steps=tuple(each for each in effect.steps if not isinstance(each, step)))
        for effect in table.effects
    )
    moved = tuple(
        _moved(record, len(bare)) if index in triggers else record
        for index, record in enumerate(table.triggers)
    )
    changed = replace(table, effects=(*table.effects, *bare), triggers=moved)
    return replace(
        prop,
        compiled=replace(
            prop.compiled, table=changed, names=replace(names, effects=names.effects * 2)
        ),
    )


def _moved(record: TriggerRecord, by: int) -> TriggerRecord:
    """The trigger with other effects, so many places further on."""

    def onward(effect: int | None) -> int | None:
        if effect is None:
            return None
        return effect + by

    action = record.action
    if isinstance(action, Shots):
        action = replace(action, effects=tuple(effect + by for effect in action.effects))
    else:
        action = Stay(onward(action.begin), onward(action.during), onward(action.end))
    return replace(record, action=action, empty=onward(record.empty))
