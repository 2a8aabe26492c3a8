"""Play a repeating trigger at each of several rates and measure what comes out while it is held."""
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import LevelReport, levels_at
from fxseq.checks import Performance, Prop, perform
from fxseq.checks.findings import at_the_highest, exposures
from fxseq.checks.heat import heat_findings
from fxseq.hazards import Exposure, flash_rate_limit_hz, hearing_findings
from fxseq.hazards.hearing import EU_UPPER_DBA
from fxseq.light import lightness_from_luminance
from fxseq.player import Press, PressKind, Script, TraceKind
from fxseq.power import lit_share, most_ma, stops_at_v
from fxseq.power.layout import most_heat_w
from fxseq.sequence import Fault, FxError, Weight, did_you_mean
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
    CURRENT = "the peak current is more than the supply, or its regulator, can give"
    RAIL = "the supply's voltage falls below what the prop needs"
    SPEAKER_POWER = "the speaker gets more power than it is rated for"
    EXCURSION = "the cone moves further than it may"
    DOSE = f"a day of it may be more than {EU_UPPER_DBA:g} dB(A) over eight hours (2003/10/EC, upper action value)"
    LOUDEST = "its loudest moment may be too loud for ears at any time (NIOSH ceiling; 2003/10/EC, peak)"
    RESISTOR_HEAT = "a resistor gets more than half of the rating that the wiring sheet buys it with"
    PART_HEAT = "the amplifier or the regulator gets more heat than it stands"


QUANTITIES = {
    Limit.LIGHT: "light_fall", Limit.SOUND: "sound_fall_db", Limit.FLASHES: "flashes_per_s", Limit.CLIPPING: "clipped_share",
    Limit.SATURATION: "saturated_share", Limit.VOICES: "cut_sounds", Limit.CURRENT: "peak_ma", Limit.RAIL: "lowest_v",
    Limit.SPEAKER_POWER: "speaker_w", Limit.EXCURSION: "excursion_mm", Limit.DOSE: "day_dba",
    Limit.RESISTOR_HEAT: "resistor_w",
}
"""Which quantity of a point each limit is for that is a number."""
_FOUND = {
    "hazard.hearing": Limit.DOSE, "hazard.hearing_ceiling": Limit.LOUDEST, "hazard.impulse": Limit.LOUDEST,
    "power.regulator_current": Limit.CURRENT, "power.regulator_heat": Limit.PART_HEAT, "power.amplifier_heat": Limit.PART_HEAT,
}
"""Which limit is broken where a check warns."""
LEAST = (Limit.LIGHT, Limit.SOUND, Limit.RAIL)
"""Limits that a quantity must not fall below; of all others it must not go beyond."""


@dataclass(frozen=True)
class RatePoint:
    """What comes out at one rate while the trigger is held.

    laeq_db, lafmax_db: at the hand, None where amplifier, speaker or supply is not described. light_fall: depth of modulation in
    lightness from shot to shot, of the group that falls most among those that the trigger lights, at the shot where that is least; None
    where it lights none. sound_fall_db: from peak to trough from shot to shot, where it falls least, at most 60; None where the trigger
    makes no sound. broken: limits that this rate breaks. lowest_v: of a fresh, typical supply, None where it collapses or none is described.
    speaker_w: power over the hottest second. excursion_mm: furthest way of the cone from rest; both with the freshest supply.
    day_dba: level over a day of eight hours where it is highest, with what it may be off by added, and dose_percent, the NIOSH dose of it
    without; None in silence. resistor_w: mean heat in the resistor nearest to its rating; None where none is known.
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
    day_dba: float | None = None
    dose_percent: float | None = None
    resistor_w: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {**asdict(self), "broken": [limit.name.lower() for limit in self.broken]}


@dataclass(frozen=True)
class TuneReport:
    """points: by ascending rate. fastest: the last of them before the first that breaks a limit. binds: the limits that one breaks.

    limits: what the quantities of the points are held against (see `limits_of`).
    """

    trigger: str
    present_rate_per_s: float
    points: tuple[RatePoint, ...]
    limits: Mapping[Limit, float] = field(default_factory=dict)

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
            "binds": [limit.name.lower() for limit in self.binds], "limits": {limit.name.lower(): most for limit, most in self.limits.items()},
            "points": [point.as_dict() for point in self.points],
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
    index, limits = prop.compiled.names.triggers.index(trigger), limits_of(prop, supply)
    for rate_per_s in rates_per_s:
        yield _measure(_at_rate(prop, index, rate_per_s), index, rate_per_s, supply, limits)


def limits_of(prop: Prop, supply: str | None = None) -> dict[Limit, float]:
    """Each limit that holds for the prop as a number, in the unit of the quantity of a point that it is held against."""
    fed, speaker = prop.supply(supply), prop.sequence.speaker
    held = {
        Limit.LIGHT: DISTINCT_LIGHT, Limit.SOUND: DISTINCT_SOUND_DB, Limit.FLASHES: flash_rate_limit_hz(), Limit.CLIPPING: CLIPPED_SHARE,
        Limit.SATURATION: CLIPPED_SHARE, Limit.VOICES: 0, Limit.CURRENT: fed and most_ma(fed[1]),
        Limit.RAIL: fed and stops_at_v(fed[1], prop.sequence),
        Limit.SPEAKER_POWER: speaker and speaker.rated_power_w, Limit.EXCURSION: speaker and speaker.excursion_mm, Limit.DOSE: EU_UPPER_DBA,
        Limit.RESISTOR_HEAT: _resistor_limit_w(prop),
    }
    return {limit: float(most) for limit, most in held.items() if most is not None}


def _resistor_limit_w(prop: Prop) -> float | None:
    """Half of the rating that is bought for the resistor which comes nearest to that when it is lit; None where there
    is none. [W]
    """
    nearest = _nearest_resistor(prop)
    return most_heat_w(prop.circuits[nearest].layout) if nearest else None


def _nearest_resistor(prop: Prop) -> str | None:
    """Group whose resistors, lit, come nearest to what they are bought for."""
    fitted = {name: circuit.layout for name, circuit in prop.circuits.items() if circuit.layout is not None}
    return max(fitted, key=lambda name: fitted[name].power_w / most_heat_w(fitted[name]), default=None)


def hours_held(prop: Prop) -> float:
    """How long a day a trigger is held: as the day of the file says, else for as long as the prop plays. [h]"""
    day, listening = prop.sequence.day, prop.sequence.listening
    return day.hours * day.held_s_an_hour / 3600 if day and day.held_s_an_hour else listening.hours_a_day


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


def _measure(prop: Prop, index: int, rate_per_s: float, supply: str | None, limits: Mapping[Limit, float]) -> RatePoint:
    table = prop.compiled.table
    script, first, last = _script(table, table.triggers[index], max(SHORTEST_HOLD_S, LEAST_SHOTS / rate_per_s))
    run = perform(prop, script, supply)
    # The first shot meets silence and dark; every later one meets what the one before it has left.
    shots = np.array([event.frame for event in run.events(TraceKind.SHOT) if event.index == index][1:])
    held = slice(first * table.samples_per_frame, last * table.samples_per_frame)
    laeq_db, lafmax_db, clipped_share = _levels(run, held)
    flashes = [run.flashes.together, *run.flashes.alone.values()]
    hardest = at_the_highest(run, held) if run.levels else None
    exposed = _exposures(run, hardest) if hardest else []
    point = RatePoint(
        rate_per_s=rate_per_s, laeq_db=laeq_db, lafmax_db=lafmax_db, clipped_share=clipped_share,
        saturated_share=run.played.saturated / (held.stop - held.start), cut_sounds=len(run.events(TraceKind.CUT)),
        light_fall=_light_fall(run, index, shots), sound_fall_db=_sound_fall_db(run, index, shots),
        flashes_per_s=max(max(light.general.flashes_per_s, light.red.flashes_per_s) for light in flashes),
        mean_ma=run.draw.mean_ma, peak_ma=run.draw.peak_ma, broken=(),
        lowest_v=run.rail.lowest.typical if run.rail and math.isfinite(run.rail.lowest.typical) else None,
        speaker_w=hardest.speaker_highest_power_w if hardest else None,
        excursion_mm=hardest.excursion_peak_mm if hardest else None,
        day_dba=max((each.daily_dba + each.uncertainty_db for each in exposed), default=None),
        dose_percent=max((each.dose_percent for each in exposed), default=None), resistor_w=_resistor_w(run, first),
    )
    # The time before the press counts in the heat of parts as well, which is so up to a seventh too low.
    found = [*heat_findings(run), *(finding for each in exposed for finding in hearing_findings(each))]
    broken = {_FOUND[finding.check] for finding in found if finding.weight >= Weight.WARNING} | set(_beyond(point, limits))
    return replace(point, broken=tuple(limit for limit in Limit if limit in broken))


def _levels(run: Performance, held: slice) -> tuple[float | None, float | None, float]:
    sequence = run.prop.sequence
    if sequence.amplifier is None or sequence.speaker is None or run.supply is None:
        return None, None, 0.0
    supply_v = run.amplifier_supply_v
    volts, clipped_share = run.amplifier_volts(supply_v[held] if supply_v.ndim else supply_v, held)
    level = levels_at(volts, run.rate_hz, sequence.speaker, {"hand": sequence.listening.hand_m}, sequence.listening.space)["hand"]
    known = math.isfinite(level.laeq_db)
    return (level.laeq_db, level.lafmax_db, clipped_share) if known else (None, None, clipped_share)


def _exposures(run: Performance, heard: LevelReport) -> list[Exposure]:
    """What ears at each place hear of a day, silence left out."""
    hours = hours_held(run.prop)
    return [replace(each, hours_a_day=hours) for each in exposures(heard, run.prop.sequence.listening) if math.isfinite(each.level_dba)]


def _resistor_w(run: Performance, first: int) -> float | None:
    """Mean heat from a frame on in the resistor nearest to its rating: that of one that is lit, for the share of the
    time for which its channel is.
    """
    table, until, name = run.prop.compiled.table, run.played.until_frame, _nearest_resistor(run.prop)
    if name is None:
        return None
    distinct = {id(track): track for track in run.tracks[name]}.values()
    lit = (lit_share([track], (1 << table.pwm_bits) - 1, first, until, table.frame_rate_hz) for track in distinct)
    return run.circuits[name].layout.power_w * max(steps.mean() for steps in lit)


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


def _beyond(point: RatePoint, limits: Mapping[Limit, float]) -> Iterator[Limit]:
    """Which limits that are numbers the point breaks."""
    return (limit for limit, most in limits.items() if _breaks(limit, most, getattr(point, QUANTITIES[limit])))


def _breaks(limit: Limit, most: float, value: float | None) -> bool:
    if value is None:
        # A supply whose voltage is not known has collapsed.
        return limit == Limit.RAIL
    return value < most if limit in LEAST else value > most
