"""What checks find in things that a test describes by their numbers alone."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from fxseq.acoustics import LevelReport
from fxseq.checks import circuits, clips, draw, flashes, hearing, speaker, supply
from fxseq.checks.check import Check, checks_of, put
from fxseq.checks.scopes import (
    FILE,
    GROUP,
    LOUDEST,
    SPEAKER,
    SUPPLY,
    WIRING,
    ClipSeen,
    Described,
    Dimming,
    Fed,
    Loudness,
    WiredGroup,
    lights,
    nearest,
)
from fxseq.clips import PreparedClip
from fxseq.clips import prepare as prepare_unjudged
from fxseq.hazards import Exposure, FlashReport
from fxseq.power import Circuit, Draw, PlayedRail, RunTime, Steps, SupplyLine
from fxseq.power.layout import Layout
from fxseq.sequence import Amplifier, Board, Clip, Finding, Group, Speaker, Supply
from fxseq.sequence import Sequence as Prop

Found = tuple[Finding, ...]


def judged(thing: Any, *checks: Check[Any]) -> Found:
    """What these checks find in a thing, one after the other."""
    return tuple(finding for one in checks for finding in one.judge(thing))


@dataclass(frozen=True, eq=False)
class JudgedClip(PreparedClip):
    """A clip beside what is found in it."""

    findings: Found = ()


def prepare(name: str, clip: Clip, board: Board, folder: Path, **more: Any) -> JudgedClip:
    """As `fxseq.clips.prepare`, and judged."""
    done = prepare_unjudged(name, clip, board, folder, **more)
    found = judged(
        ClipSeen(clip, board, done), *(one for one in checks_of(clips) if one.scope is clips.CLIP)
    )
    return JudgedClip(
        **{field.name: getattr(done, field.name) for field in fields(done)}, findings=found
    )


def circuit_findings(sequence: Prop, wired: Mapping[str, Circuit]) -> Found:
    """All of the wiring but the lines."""
    return tuple(
        put(
            [one for one in checks_of(circuits, supply) if one.scope in (GROUP, WIRING, SUPPLY)],
            Described(sequence, wired),
        )
    )


def sharing_findings(subject: str, layout: Layout, fresh_v: float) -> Found:
    """Of strings on one resistor."""
    circuit: Any = SimpleNamespace(layout=layout, feed=SimpleNamespace(fresh_v=fresh_v))
    return judged(WiredGroup(subject.split("'")[1], circuit, Any), circuits.shared_resistor)


def line_findings(lines: Iterable[SupplyLine]) -> Found:
    """Of everything at once."""
    return tuple(
        finding for line in lines for finding in judged(line, supply.line_current, supply.line_wire)
    )


def fed(name: str, source: Supply, sequence: Any = None, run_time: Any = None, **load: Any) -> Fed:
    """A supply under a load of these numbers."""
    run: Any = SimpleNamespace(
        prop=SimpleNamespace(sequence=sequence), run_time=run_time, load=SimpleNamespace(**load)
    )
    return Fed(name, source, run)


def supply_findings(name: str, source: Supply, taken: Draw, flat_peak_ma: float) -> Found:
    """Of the current."""
    return judged(fed(name, source, draw=taken, flat_peak_ma=flat_peak_ma), draw.supply_current)


def adaptor_findings(name: str, source: Supply, taken: Draw) -> Found:
    """Of an adaptor's margin."""
    return judged(fed(name, source, draw=taken), draw.adaptor_margin)


def rail_findings(name: str, source: Supply, rail: PlayedRail, stops_at_v: float) -> Found:
    """Of the rail."""
    return judged(fed(name, source, rail=rail, stops_at_v=stops_at_v), draw.rail)


def dropout_findings(name: str, source: Supply, sequence: Prop, rail: PlayedRail) -> Found:
    """Of a regulator's input while the prop plays."""
    return judged(fed(name, source, sequence, rail=rail), supply.dropout_played)


def fuse_findings(name: str, source: Supply, current_ma: Steps) -> Found:
    """Of the fuse."""
    return judged(fed(name, source, current_ma=current_ma), draw.fuse, draw.inrush)


def run_time_findings(name: str, found: RunTime, day_h: float) -> Found:
    """Of a day."""
    source = Supply(kind="cells", voltage_v=6.0, maximum_current_ma=1000)
    return judged(
        fed(name, source, SimpleNamespace(day=SimpleNamespace(hours=day_h)), found), draw.run_time
    )


def part_findings(part: Speaker | None, amplifier: Amplifier | None, sound_bits: int) -> Found:
    """Of speaker and amplifier as they are described."""
    sequence: Any = SimpleNamespace(
        speaker=part, amplifier=amplifier, board=SimpleNamespace(sound_bits=sound_bits)
    )
    return tuple(
        put(
            [one for one in checks_of(speaker) if one.scope in (SPEAKER, FILE)],
            Described(sequence, {}),
        )
    )


def speaker_findings(levels: LevelReport, part: Speaker) -> Found:
    """Of what a speaker is asked for."""
    return judged(
        Loudness(levels, part), *(one for one in checks_of(speaker) if one.scope is LOUDEST)
    )


def hearing_findings(exposure: Exposure) -> Found:
    """Of a place."""
    return judged(exposure, hearing.hearing, hearing.hearing_ceiling, hearing.impulse)


def toy_findings(exposures: Iterable[Exposure]) -> Found:
    """Of the nearest place."""
    return judged(nearest(exposures), hearing.toy_level)


def pwm_findings(
    frequency_hz: float, depth_percent: float = 100.0, part: str | None = None
) -> Found:
    """Of dimming."""
    return judged(Dimming(frequency_hz, depth_percent, part), flashes.flicker)


def eye_findings(name: str, group: Group) -> Found:
    """Of bright LEDs."""
    sequence: Any = SimpleNamespace(groups={name: group})
    return judged(Described(sequence, {}), flashes.eye)


def flash_findings(report: FlashReport, eyes_m: Mapping[str, float]) -> Found:
    """Of all lights."""
    seen = lights(report, eyes_m)
    short = [
        finding for light in seen for finding in judged(light, flashes.flash, flashes.red_flash)
    ]
    return (
        *short,
        *(finding for light in seen for finding in judged(light, flashes.long_flashing)),
    )
