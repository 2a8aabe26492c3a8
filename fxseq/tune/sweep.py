"""Play a repeating trigger at each of several rates and measure what comes out while it is held."""
import math
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import levels_at
from fxseq.checks import Performance, Prop, perform
from fxseq.light import lightness_from_luminance
from fxseq.player import Press, PressKind, Script, TraceKind
from fxseq.sequence import Fault, FxError, Speaker, did_you_mean
from fxseq.table import ChangeCount, EffectRecord, Mode, PlayClip, Shots, StartFade, Table, TriggerRecord

SETTLE_S = 0.5
SHORTEST_HOLD_S = 3.0
LEAST_SHOTS = 8
BLOCK_S = 0.01

DISTINCT_LIGHT = 0.2
"""Least depth of modulation in lightness, (most - least) / (most + least). Common practice, no source."""
DISTINCT_SOUND_DB = 6.0
"""Least fall of the sound between shots. Common practice, no source. [dB]"""
DEEPEST_FALL_DB = 60.0
CLIPPED_SHARE = 0.001
"""Share of samples that may clip or saturate. Common practice, no source."""


class Limit(Enum):
    """What may keep a rate from being good, in words for the maker."""

    LIGHT = f"light falls by less than {DISTINCT_LIGHT:g} between shots"
    SOUND = f"sound falls by less than {DISTINCT_SOUND_DB:g} dB between shots"
    FLASHES = "more than 3 flashes in a second (WCAG 2.2, 2.3.1)"
    CLIPPING = "the amplifier clips at more than 0.1 % of the samples"
    SATURATION = "the voices add up beyond full scale at more than 0.1 % of the samples"
    VOICES = "sounds are cut because the voices run out"
    CURRENT = "the peak current is more than the supply can give"
    RAIL = "the supply's voltage falls below what the prop needs"
    SPEAKER_POWER = "the speaker gets more power than it is rated for"
    EXCURSION = "the cone moves further than it may"


@dataclass(frozen=True)
class RatePoint:
    """What comes out at one rate while the trigger is held.

    laeq_db, lafmax_db: at the hand, None where amplifier, speaker or supply is not described. light_fall: depth of modulation in
    lightness from shot to shot, of the group that falls most among those that the trigger lights, at the shot where that is least; None
    where it lights none. sound_fall_db: from peak to trough from shot to shot, where it falls least, at most 60; None where the trigger
    makes no sound. broken: limits that this rate breaks. lowest_v: of a fresh, typical supply, None where it collapses or none is described.
    speaker_w: power over the hottest second. excursion_mm: furthest way of the cone from rest.
    """

    rate_per_s: float
    laeq_db: float | None
    lafmax_db: float | None
    clipped_share: float
    saturated_share: float
    cut_sounds: int
    light_fall: float | None
    sound_fall_db: float | None
    flashes_per_s: float
    mean_ma: float
    peak_ma: float
    broken: tuple[Limit, ...]
    lowest_v: float | None = None
    speaker_w: float | None = None
    excursion_mm: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {**asdict(self), "broken": [limit.name.lower() for limit in self.broken]}


@dataclass(frozen=True)
class TuneReport:
    """points: by ascending rate. fastest: the last of them before the first that breaks a limit. binds: the limits that one breaks."""

    trigger: str
    present_rate_per_s: float
    points: tuple[RatePoint, ...]

    @property
    def fastest(self) -> RatePoint | None:
        """The fastest rate up to which no limit is broken; None where the slowest breaks one."""
        good = self._good()
        return self.points[good - 1] if good else None

    @property
    def binds(self) -> tuple[Limit, ...]:
        """The limits that keep it from going faster; empty where the fastest rate swept is good."""
        good = self._good()
        return self.points[good].broken if good < len(self.points) else ()

    def _good(self) -> int:
        return next((index for index, point in enumerate(self.points) if point.broken), len(self.points))

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {
            "trigger": self.trigger, "present_rate_per_s": self.present_rate_per_s,
            "fastest_rate_per_s": self.fastest.rate_per_s if self.fastest else None,
            "binds": [limit.name.lower() for limit in self.binds], "points": [point.as_dict() for point in self.points],
        }


def repeating_trigger(prop: Prop, name: str | None) -> str:
    """The repeating trigger of that name, else the only one. Raises FxError with those there are."""
    repeating = [name for name, trigger in prop.sequence.triggers.items() if trigger.mode == "repeat"]
    if name is None and len(repeating) == 1:
        return repeating[0]
    if name in repeating:
        return name
    what = "which trigger is to be tuned is not said" if name is None else f"no repeating trigger '{name}'"
    allowed = ", ".join(repeating) or 'none: no trigger has mode = "repeat"'
    raise FxError(Fault(str(prop.path), what, allowed, did_you_mean(name or "", repeating)))


def sweep(prop: Prop, trigger: str, rates_per_s: Iterable[float], supply: str | None = None) -> Iterator[RatePoint]:
    """Measure each rate in turn. Counters count as full and effects use nothing up; first delay, ramp, burst and limit are left out."""
    index = prop.compiled.names.triggers.index(trigger)
    for rate_per_s in rates_per_s:
        yield _measure(_at_rate(prop, index, rate_per_s), index, rate_per_s, supply)


def _at_rate(prop: Prop, index: int, rate_per_s: float) -> Prop:
    table = prop.compiled.table
    record = table.triggers[index]
    if not isinstance(record.action, Shots):
        raise ValueError("only a trigger that fires shots has a rate")
    shots = Shots(record.action.effects, record.action.random, math.floor(table.frame_rate_hz / rate_per_s * 256))
    triggers = (*table.triggers[:index], replace(record, action=shots), *table.triggers[index + 1:])
    changed = replace(
        table, triggers=triggers, effects=tuple(map(_lasting, table.effects)),
        counters=tuple(replace(counter, start=counter.maximum) for counter in table.counters),
    )
    return replace(prop, compiled=replace(prop.compiled, table=changed))


def _lasting(effect: EffectRecord) -> EffectRecord:
    """The effect without what it uses up."""
    return replace(effect, steps=tuple(step for step in effect.steps if not (isinstance(step, ChangeCount) and step.change < 0)))


def _script(table: Table, record: TriggerRecord, hold_s: float) -> tuple[Script, int, int]:
    """Selectors put right, one long hold; and the frames at which it begins and ends."""
    first = math.ceil(SETTLE_S * table.frame_rate_hz)
    last = first + record.hold + math.ceil(hold_s * table.frame_rate_hz)
    if record.input is None or record.mode != Mode.REPEAT:
        raise ValueError("only a repeating trigger can be held")
    presses = [Press(0, PressKind.SELECT, selector, (mask & -mask).bit_length() - 1) for selector, mask in record.conditions]
    presses += [Press(first, PressKind.PRESS, record.input), Press(last, PressKind.RELEASE, record.input)]
    return Script(presses, last + 1), first + record.hold, last


def _measure(prop: Prop, index: int, rate_per_s: float, supply: str | None) -> RatePoint:
    table = prop.compiled.table
    script, first, last = _script(table, table.triggers[index], max(SHORTEST_HOLD_S, LEAST_SHOTS / rate_per_s))
    run = perform(prop, script, supply)
    # The first shot meets silence and dark; every later one meets what the one before it has left.
    shots = np.array([event.frame for event in run.events(TraceKind.SHOT) if event.index == index][1:])
    held = slice(first * table.samples_per_frame, last * table.samples_per_frame)
    laeq_db, lafmax_db, clipped_share = _levels(run, held)
    flashes = [run.flashes.together, *run.flashes.alone.values()]
    point = RatePoint(
        rate_per_s=rate_per_s, laeq_db=laeq_db, lafmax_db=lafmax_db, clipped_share=clipped_share,
        saturated_share=run.played.saturated / (held.stop - held.start), cut_sounds=len(run.events(TraceKind.CUT)),
        light_fall=_light_fall(run, index, shots), sound_fall_db=_sound_fall_db(run, index, shots),
        flashes_per_s=max(max(light.general.flashes_per_s, light.red.flashes_per_s) for light in flashes),
        mean_ma=run.draw.mean_ma, peak_ma=run.draw.peak_ma, broken=(),
        lowest_v=run.rail.lowest.typical if run.rail and math.isfinite(run.rail.lowest.typical) else None,
        speaker_w=run.levels.speaker_highest_power_w if run.levels else None,
        excursion_mm=run.levels.excursion_peak_mm if run.levels else None,
    )
    return replace(point, broken=tuple(_broken(run, point)))


def _levels(run: Performance, held: slice) -> tuple[float | None, float | None, float]:
    sequence = run.prop.sequence
    if sequence.amplifier is None or sequence.speaker is None or run.supply is None:
        return None, None, 0.0
    supply_v = run.amplifier_supply_v
    volts, clipped_share = run.amplifier_volts(supply_v[held] if supply_v.ndim else supply_v, held)
    level = levels_at(volts, run.rate_hz, sequence.speaker, {"hand": sequence.listening.hand_m}, sequence.listening.space)["hand"]
    known = math.isfinite(level.laeq_db)
    return (level.laeq_db, level.lafmax_db, clipped_share) if known else (None, None, clipped_share)


def _steps(run: Performance, index: int) -> Iterator[PlayClip | StartFade | ChangeCount]:
    """All steps of the effects that the trigger fires."""
    table = run.prop.compiled.table
    for effect in table.triggers[index].action.effects:
        yield from table.effects[effect].steps


def _light_fall(run: Performance, index: int, shots: NDArray[np.int64]) -> float | None:
    groups = {run.prop.compiled.names.groups[step.group] for step in _steps(run, index) if isinstance(step, StartFade)}
    if not groups:
        return None
    lightness = lightness_from_luminance(np.stack([run.lit[name] for name in sorted(groups)]))
    times_s = shots / run.prop.compiled.table.frame_rate_hz
    begins = np.searchsorted(run.light_times_s, times_s[:-1], side="right") - 1
    ends = np.searchsorted(run.light_times_s, times_s[1:], side="left")
    depths = [_depth(lightness[:, begin:end]) for begin, end in zip(begins, ends, strict=True) if lightness[:, begin:end].any()]
    return min(depths, default=None)


def _depth(lightness: NDArray[np.float64]) -> float:
    """Depth of modulation, of the group that has the most of it; shape (groups, n)."""
    most, least = lightness.max(axis=1), lightness.min(axis=1)
    return float(((most - least) / np.maximum(most + least, 1e-9)).max())


def _sound_fall_db(run: Performance, index: int, shots: NDArray[np.int64]) -> float | None:
    """Least fall of the envelope (effective value over 10 ms of what is heard, else of the samples) from one shot to the next."""
    if not any(isinstance(step, PlayClip) for step in _steps(run, index)):
        return None
    heard = run.heard_pa(1.0)
    sound = run.played.samples.astype(np.float64) if heard is None else heard.astype(np.float64)
    size = run.prop.compiled.table.samples_per_frame
    block = max(round(BLOCK_S * run.rate_hz), 1)
    sums = np.concatenate([[0.0], np.cumsum(np.square(sound))])
    falls = []
    for begin, end in zip(shots[:-1] * size, shots[1:] * size, strict=True):
        # Block by block, and the last one up to the very shot: windows at every sample would find dips in any noise.
        starts = np.append(np.arange(begin, end - block, block), end - block)
        squares = sums[starts + block] - sums[starts]
        if squares.max() > 0:
            floor = squares.max() * 10 ** (-DEEPEST_FALL_DB / 10)
            falls.append(10 * math.log10(squares.max() / max(squares.min(), floor)))
    return min(falls, default=None)


def _broken(run: Performance, point: RatePoint) -> Iterator[Limit]:
    if point.light_fall is not None and point.light_fall < DISTINCT_LIGHT:
        yield Limit.LIGHT
    if point.sound_fall_db is not None and point.sound_fall_db < DISTINCT_SOUND_DB:
        yield Limit.SOUND
    if not (run.flashes.together.passes and all(light.passes for light in run.flashes.alone.values())):
        yield Limit.FLASHES
    if point.clipped_share > CLIPPED_SHARE:
        yield Limit.CLIPPING
    if point.saturated_share > CLIPPED_SHARE:
        yield Limit.SATURATION
    if point.cut_sounds:
        yield Limit.VOICES
    if run.supply is not None and point.peak_ma > run.supply[1].maximum_current_ma:
        yield Limit.CURRENT
    if run.supply is not None and (point.lowest_v is None or point.lowest_v < run.stops_at_v):
        yield Limit.RAIL
    yield from _of_speaker(run.prop.sequence.speaker, point)


def _of_speaker(speaker: Speaker | None, point: RatePoint) -> Iterator[Limit]:
    if speaker is None or point.speaker_w is None or point.excursion_mm is None:
        return
    if point.speaker_w > speaker.rated_power_w:
        yield Limit.SPEAKER_POWER
    if speaker.excursion_mm is not None and point.excursion_mm > speaker.excursion_mm:
        yield Limit.EXCURSION
