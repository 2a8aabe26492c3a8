"""Everything that checks find in a prop, heaviest first."""

from collections.abc import Iterable, Mapping
from typing import Any

from fxseq.checks import (
    circuits,
    clips,
    draw,
    file,
    flashes,
    hearing,
    heat,
    sound,
    speaker,
    supply,
    timing,
)
from fxseq.checks.check import Check, checks_of, put
from fxseq.checks.decisions import with_decisions
from fxseq.checks.scopes import CLIP, GROUP, LINE, SUPPLY, WIRING, Described, clips_seen
from fxseq.clips import PreparedClip
from fxseq.power import Circuit
from fxseq.runs import Performance, Prop
from fxseq.sequence import Finding
from fxseq.sequence import model as m

_ALL = checks_of(
    clips, file, sound, timing, circuits, flashes, supply, draw, heat, speaker, hearing
)
_DESCRIBED = [one for one in _ALL if not one.scope.played]
_PLAYED = [one for one in _ALL if one.scope.played]
_WIRED = [one for one in _ALL if one.scope in (GROUP, WIRING, SUPPLY, LINE)]

CHECKS: dict[str, Check[Any]] = {one.id: one for one in sorted(_ALL, key=lambda one: one.id)}
"""Every check there is, by its id, in order of the alphabet."""


def findings(run: Performance) -> list[Finding]:
    """Findings of the description and of one run of it, heaviest first, and behind them those
    that the file has decided on.
    """
    found = [*findings_without_playing(run.prop), *put(_PLAYED, run)]
    return _heaviest_first(with_decisions(run, found))


def findings_without_playing(prop: Prop) -> list[Finding]:
    """Findings of the description alone, heaviest first."""
    return _heaviest_first(put(_DESCRIBED, prop))


def wiring_findings(sequence: m.Sequence, wired: Mapping[str, Circuit]) -> list[Finding]:
    """Findings of groups as they are wired, supplies as they are joined, and all of it at once,
    heaviest first. wired: its circuits.
    """
    return _heaviest_first(put(_WIRED, Described(sequence, wired)))


def clip_findings(
    sequence: m.Sequence, prepared: Mapping[str, PreparedClip]
) -> dict[str, list[Finding]]:
    """Findings of each of these clips, by its name."""
    alone = [one for one in _ALL if one.scope is CLIP]
    return {
        seen.prepared.name: [finding for one in alone for finding in one.judge(seen)]
        for seen in clips_seen(sequence, prepared)
    }


def _heaviest_first(found: Iterable[Finding]) -> list[Finding]:
    return sorted(found, key=lambda finding: (bool(finding.decided), -finding.weight))
