"""A repeating trigger held at one rate: what comes out, and which limits it breaks."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from enum import Enum
from functools import cached_property
from typing import Any, get_args

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import levels_at, pressure_pa
from fxseq.checks import Check
from fxseq.checks.draw import rail, supply_current
from fxseq.checks.flashes import flash, red_flash
from fxseq.checks.hearing import hearing, hearing_ceiling, impulse
from fxseq.checks.heat import amplifier_heat, regulator_current, regulator_heat
from fxseq.checks.scopes import EXPOSURE, FED, Loudness, exposures
from fxseq.checks.sound import MOST_CLIPPED, clipping, saturated, voices
from fxseq.checks.speaker import excursion, speaker_power
from fxseq.hazards import Exposure, flash_rate_limit_hz
from fxseq.hazards.hearing import EU_UPPER_DBA
from fxseq.light import lightness_from_luminance
from fxseq.player import Press, PressKind, Script, TraceKind
from fxseq.power import lit_share
from fxseq.power.layout import most_heat_w
from fxseq.runs import Performance, Prop, perform
from fxseq.sequence import Fault, FxError, Weight, did_you_mean
from fxseq.sequence.model import Despite
from fxseq.table import (
    ChangeCount,
    EffectRecord,
    Mode,
    PlayClip,
    Shots,
    StartFade,
    Table,
    TriggerRecord,
)

SETTLE_S = 0.5
SHORTEST_HOLD_S = 3.0
LEAST_SHOTS = 8
BLOCK_S = 0.01
_SEED_STEP = 0x9E3779B9
"""Seeds that are close begin with draws that are alike; these are far apart (2^32 over the
golden ratio).
"""

DISTINCT_LIGHT = 0.2
"""Least depth of modulation in lightness, (most - least) / (most + least). Common practice, no
source.
"""
DISTINCT_SOUND_DB = 6.0
"""Least fall of the sound between shots. Common practice, no source. [dB]"""
DEEPEST_FALL_DB = 60.0


class Limit(Enum):
    """What may keep a rate from being good, in words for the maker."""

    LIGHT = f"light falls by less than {DISTINCT_LIGHT:g} between shots"
    SOUND = f"sound falls by less than {DISTINCT_SOUND_DB:g} dB between shots"
    FLASHES = f"more than {flash_rate_limit_hz():g} flashes in a second (WCAG 2.2, 2.3.1)"
    CLIPPING = f"the amplifier clips at more than {MOST_CLIPPED}"
    SATURATION = f"the voices add up beyond full scale at more than {MOST_CLIPPED}"
    VOICES = "sounds are cut because the voices run out"
    CURRENT = "the peak current is more than the supply or its regulator can give"
    RAIL = "the supply's voltage falls below what the prop needs"
    SPEAKER_POWER = "the speaker gets more power than it is rated for"
    EXCURSION = "excessive cone travel"
    DOSE = (
        f"a day of it may exceed {EU_UPPER_DBA:g} dB(A) over eight hours (2003/10/EC, upper action"
        " value)"
    )
    LOUDEST = (
        "its loudest moment may be too loud for ears, even briefly (NIOSH ceiling; 2003/10/EC,"
        " peak)"
    )
    RESISTOR_HEAT = "a resistor gets more than half of the rating on the wiring sheet"
    PART_HEAT = "the amplifier or the regulator gets more heat than it can take"

    @property
    def text(self) -> str:
        """Its name on the command line, in a prop file and in JSON."""
        return self.name.lower()

    @property
    def concerns(self) -> str:
        """Whom or what it is for."""
        return _ABOUT[self][0]

    @property
    def remedy(self) -> str:
        """What would move it to a faster rate."""
        return _ABOUT[self][1]

    @property
    def may_be_decided(self) -> bool:
        """Whether a maker may break it knowingly: nothing of the prop wears out or burns by it,
        nor does it harm ears, which no notice protects.
        """
        return self.text in get_args(Despite)


_STRONGER = (
    "Light fewer LEDs at a time, lower their current or the volume, or choose a stronger supply."
)
_ABOUT = {
    Limit.LIGHT: ("the eye", "Shorten the fade, or let it fall further before the next shot."),
    Limit.SOUND: (
        "the ear",
        "Cut the clips shorter or fade them out sooner (end_ms, fade_out_ms).",
    ),
    Limit.FLASHES: (
        "the eye",
        "Change the light by less than a tenth of full light, or let lamps take turns more slowly.",
    ),
    Limit.CLIPPING: ("the sound", "Lower the gain of the amplifier or the level of the clips."),
    Limit.SATURATION: ("the sound", "Lower gain_db of the sounds that overlap."),
    Limit.VOICES: ("the sound", "Shorten the clips, or use more voices (board.voices)."),
    Limit.CURRENT: ("the supply", _STRONGER),
    Limit.RAIL: ("the supply", _STRONGER),
    Limit.SPEAKER_POWER: ("the parts", "Lower the gain, or choose a speaker that takes more."),
    Limit.EXCURSION: (
        "the parts",
        "Filter the lows out of the clips (high_pass_hz), or lower the gain.",
    ),
    Limit.DOSE: (
        "the ear",
        "Turn it down, keep the speaker away from ears, or hold it for less time each day.",
    ),
    Limit.LOUDEST: ("the ear", "Turn it down, or keep the speaker away from ears."),
    Limit.RESISTOR_HEAT: (
        "the parts",
        "Lower the current of the LEDs, or put more of them in series.",
    ),
    Limit.PART_HEAT: (
        "the parts",
        "Feed them from a lower voltage, or choose ones that can take more heat.",
    ),
}
"""Whom each limit is for, and what moves it."""

CHECKS: dict[Limit, tuple[Check[Any], ...]] = {
    Limit.FLASHES: (flash, red_flash),
    Limit.CLIPPING: (clipping,),
    Limit.SATURATION: (saturated,),
    Limit.VOICES: (voices,),
    Limit.CURRENT: (supply_current, regulator_current),
    Limit.RAIL: (rail,),
    Limit.SPEAKER_POWER: (speaker_power,),
    Limit.EXCURSION: (excursion,),
    Limit.DOSE: (hearing,),
    Limit.LOUDEST: (hearing_ceiling, impulse),
    Limit.PART_HEAT: (regulator_heat, amplifier_heat),
}
"""Checks that each limit is held by; whether shots are distinct, and what a resistor on the
wiring sheet stands, is asked here alone.
"""
_WARNING = (Limit.CURRENT, Limit.DOSE, Limit.LOUDEST, Limit.PART_HEAT)
"""Limits that are broken wherever one of their checks warns, whatever their quantity."""
QUANTITIES = {
    Limit.LIGHT: "light_fall",
    Limit.SOUND: "sound_fall_db",
    Limit.FLASHES: "flashes_per_s",
    Limit.CLIPPING: "clipped_share",
    Limit.SATURATION: "saturated_share",
    Limit.VOICES: "cut_sounds",
    Limit.CURRENT: "peak_ma",
    Limit.RAIL: "lowest_v",
    Limit.SPEAKER_POWER: "speaker_w",
    Limit.EXCURSION: "excursion_mm",
    Limit.DOSE: "day_dba",
    Limit.RESISTOR_HEAT: "resistor_w",
}
"""Which quantity of a point each limit is for that is a number."""
LEAST = (Limit.LIGHT, Limit.SOUND, *(limit for limit, checks in CHECKS.items() if checks[0].least))
"""Limits that a quantity must not fall below; of all others it must not go beyond."""


@dataclass(frozen=True)
class RatePoint:
    """What comes out at one rate while the trigger is held.

    laeq_db, lafmax_db: at the hand, None where amplifier, speaker or supply is not described.
    light_fall: depth of modulation in lightness from shot to shot, of the group that falls most
    among those that the trigger lights, at the shot where that is least; None where it lights none.
    sound_fall_db: from peak to trough from shot to shot, where it falls least, at most 60; None
    where the trigger makes no sound. broken: limits that this rate breaks. lowest_v: of a fresh,
    typical supply, None where it collapses or none is described. speaker_w: power over the hottest
    second. excursion_mm: furthest excursion of the cone; both with the freshest supply. day_dba:
    level over a day of eight hours where it is highest, with what it may be off by added, and
    dose_percent, the NIOSH dose of it without; None in silence. resistor_w: mean heat in the
    hottest resistor; None where none is known.
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
        return {**asdict(self), "broken": [limit.text for limit in self.broken]}


def repeating_trigger(prop: Prop, name: str | None) -> str:
    """The repeating trigger of that name, else the only one. Raises FxError with those there
    are.
    """
    repeating = [
        name for name, trigger in prop.sequence.triggers.items() if trigger.mode == "repeat"
    ]
    if name is None and len(repeating) == 1:
        return repeating[0]
    if name in repeating:
        return name
    if name is None:
        what = "the name of the trigger to tune is missing"
    else:
        what = f"no repeating trigger '{name}'"
    allowed = ", ".join(repeating) or 'none, as no trigger has mode = "repeat"'
    raise FxError(Fault(str(prop.path), what, allowed, did_you_mean(name or "", repeating)))


def measure(prop: Prop, trigger: str, rate_per_s: float, supply: str | None = None) -> RatePoint:
    """Hold a trigger at a rate, as the file's own seed plays it, and measure everything."""
    index = prop.compiled.names.triggers.index(trigger)
    return Held(
        at_rate(prop, index, rate_per_s), index, rate_per_s, supply, limits_of(prop, supply)
    ).point()


def limits_of(prop: Prop, supply: str | None = None) -> dict[Limit, float]:
    """Each limit that holds for the prop as a number, in the unit of the quantity of a point
    that it is held against.
    """
    source = prop.supply(supply)
    own = {
        Limit.LIGHT: DISTINCT_LIGHT,
        Limit.SOUND: DISTINCT_SOUND_DB,
        Limit.RESISTOR_HEAT: _resistor_limit_w(prop),
    }
    of_checks = {
        limit: checks[0].limit(prop.sequence, source[1] if source else None)
        for limit, checks in CHECKS.items()
        if checks[0].limit
    }
    held = {limit: (own | of_checks).get(limit) for limit in Limit}
    return {limit: float(most) for limit, most in held.items() if most is not None}


def _resistor_limit_w(prop: Prop) -> float | None:
    """Half of the rating that is bought for the hottest resistor; None where there is none. [W]"""
    hottest = _hottest_resistor(prop)
    if not hottest:
        return None
    return most_heat_w(prop.circuits[hottest].layout)


def _hottest_resistor(prop: Prop) -> str | None:
    """Group whose resistors get most heat while lit: where one is too hot for every rating, it
    is that one.
    """
    fitted = {
        name: circuit.layout
        for name, circuit in prop.circuits.items()
        if circuit.layout is not None
    }
    return max(fitted, key=lambda name: fitted[name].power_w, default=None)


def hours_held(prop: Prop) -> float:
    """How long a day a trigger is held: as the day of the file says, else for as long as the
    prop plays. [h]
    """
    day = prop.sequence.day
    listening = prop.sequence.listening
    if day and day.held_s_an_hour:
        return day.hours * day.held_s_an_hour / 3600
    return listening.hours_a_day


def at_rate(
    prop: Prop,
    index: int,
    rate_per_s: float,
    draw: int = 0,
    kinds: tuple[type, ...] = (PlayClip, StartFade),
) -> Prop:
    """The prop with a trigger that fires at this rate and never runs out: counters are full, and
    effects use nothing up.

    First delay, ramp, burst and limit are left out. draw: 0 for the file's own seed, else another.
    kinds: of the steps of effects that are left; without the others it is played in less time.
    """
    table = prop.compiled.table
    record = table.triggers[index]
    if not isinstance(record.action, Shots):
        raise ValueError("only a trigger that fires shots has a rate")
    shots = Shots(
        record.action.effects,
        record.action.random,
        math.floor(table.frame_rate_hz / rate_per_s * 256),
    )
    triggers = (
        *table.triggers[:index],
        replace(record, action=shots),
        *table.triggers[index + 1 :],
    )
    changed = replace(
        table,
        triggers=triggers,
        seed=(table.seed + draw * _SEED_STEP) % 2**32 or 1,
        effects=tuple(_lasting(effect, kinds) for effect in table.effects),
        counters=tuple(replace(counter, start=counter.maximum) for counter in table.counters),
    )
    return replace(prop, compiled=replace(prop.compiled, table=changed))


def has_chance(table: Table) -> bool:
    """Whether another seed would play anything else: random choices, spreads, and light that
    flickers.
    """
    chosen = any(
        isinstance(trigger.action, Shots) and trigger.action.random for trigger in table.triggers
    )
    spread = any(effect.pitch_spread or effect.gain_spread for effect in table.effects)
    return chosen or spread or any(fade.has_flicker for fade in table.fades)


def _lasting(effect: EffectRecord, kinds: tuple[type, ...]) -> EffectRecord:
    """The effect with steps of these kinds, and without what it uses up."""
    return replace(
        effect,
        steps=tuple(
            step
            for step in effect.steps
            if isinstance(step, kinds) or (isinstance(step, ChangeCount) and step.change >= 0)
        ),
    )


def _script(table: Table, record: TriggerRecord, hold_s: float) -> tuple[Script, int, int]:
    """Selectors put right, one long hold; and the frames at which it begins and ends."""
    first = math.ceil(SETTLE_S * table.frame_rate_hz)
    last = first + record.hold + math.ceil(hold_s * table.frame_rate_hz)
    if record.input is None or record.mode != Mode.REPEAT:
        raise ValueError("only a repeating trigger can be held")
    presses = [
        Press(0, PressKind.SELECT, selector, (mask & -mask).bit_length() - 1)
        for selector, mask in record.conditions
    ]
    presses += [
        Press(first, PressKind.PRESS, record.input),
        Press(last, PressKind.RELEASE, record.input),
    ]
    return Script(presses, last + 1), first + record.hold, last


class Held:
    """A trigger that is held at one rate, played once. Each quantity of a `RatePoint` is worked
    out when it is first asked for.
    """

    def __init__(
        self,
        prop: Prop,
        index: int,
        rate_per_s: float,
        supply: str | None,
        limits: Mapping[Limit, float],
    ) -> None:
        table = prop.compiled.table
        script, self._first, last = _script(
            table, table.triggers[index], max(SHORTEST_HOLD_S, LEAST_SHOTS / rate_per_s)
        )
        self.rate_per_s = rate_per_s
        self._index = index
        self._limits = limits
        self._held = slice(self._first * table.samples_per_frame, last * table.samples_per_frame)
        self._run = perform(prop, script, supply)

    def breaks(self, limit: Limit) -> bool:
        """Whether this rate breaks the limit."""
        most = self._limits.get(limit)
        beyond = most is not None and _breaks(limit, most, getattr(self, QUANTITIES[limit]))
        return beyond or (limit in _WARNING and limit in self._warned)

    def point(self) -> RatePoint:
        """Everything that is measured."""
        values = {
            name: getattr(self, name) for name in RatePoint.__dataclass_fields__ if name != "broken"
        }
        return RatePoint(**values, broken=tuple(filter(self.breaks, Limit)))

    @cached_property
    def _shots(self) -> NDArray[np.int64]:
        """Frames of the shots but for the first, which meets silence and dark; every later one
        meets what the one before it has left.
        """
        return np.array(
            [
                event.frame
                for event in self._run.events(TraceKind.SHOT)
                if event.index == self._index
            ][1:]
        )

    @cached_property
    def _loudest(self) -> Loudness | None:
        """With the freshest supply; None where it makes no sound that can be told."""
        if not self._run.sound.is_described:
            return None
        return Loudness(self._run.heard.loudest_within(self._held), self._run.prop.sequence.speaker)

    @cached_property
    def _at_hand(self) -> tuple[float | None, float | None, float]:
        """LAeq and LAFmax with what is left of the supply, None in silence, and the share of
        samples that clip.
        """
        if self._loudest is None:
            return None, None, 0.0
        level = self._loudest.levels.at["hand"]
        clipped_share = self._loudest.levels.clipped_share
        supply_v = self._run.heard.supply_v
        if supply_v.ndim or clipped_share:
            part_v = supply_v[self._held] if supply_v.ndim else supply_v
            volts, clipped_share = self._run.sound.volts_at(part_v, self._held)
            sequence = self._run.prop.sequence
            level = levels_at(
                volts,
                self._run.rate_hz,
                sequence.speaker,
                {"hand": level.distance_m},
                sequence.listening.space,
            )["hand"]
        known = math.isfinite(level.laeq_db)
        if known:
            return (level.laeq_db, level.lafmax_db, clipped_share)
        return (None, None, clipped_share)

    @property
    def laeq_db(self) -> float | None:
        """See `RatePoint`, as of all that follow."""
        return self._at_hand[0]

    @property
    def lafmax_db(self) -> float | None:
        return self._at_hand[1]

    @property
    def clipped_share(self) -> float:
        return self._at_hand[2]

    @property
    def saturated_share(self) -> float:
        return self._run.played.saturated / (self._held.stop - self._held.start)

    @property
    def cut_sounds(self) -> int:
        return voices.measure(self._run)

    @cached_property
    def light_fall(self) -> float | None:
        return _light_fall(self._run, self._index, self._shots)

    @cached_property
    def sound_fall_db(self) -> float | None:
        return _sound_fall_db(self._run, self._index, self._shots)

    @property
    def flashes_per_s(self) -> float:
        return self._run.flashes.most_per_s

    @property
    def mean_ma(self) -> float:
        return self._run.load.draw.mean_ma

    @property
    def peak_ma(self) -> float:
        return self._run.load.draw.peak_ma

    @property
    def lowest_v(self) -> float | None:
        rail = self._run.load.rail
        if rail and math.isfinite(rail.lowest.typical):
            return rail.lowest.typical
        return None

    @property
    def speaker_w(self) -> float | None:
        if not self._loudest:
            return None
        return speaker_power.measure(self._loudest)

    @property
    def excursion_mm(self) -> float | None:
        if not self._loudest:
            return None
        return excursion.measure(self._loudest)

    @cached_property
    def _exposures(self) -> list[Exposure]:
        """What ears at each place hear of a day, silence left out."""
        if self._loudest is None:
            return []
        prop = self._run.prop
        heard = exposures(self._loudest.levels, prop.sequence.listening)
        return [
            replace(each, hours_a_day=hours_held(prop))
            for each in heard
            if math.isfinite(each.level_dba)
        ]

    @property
    def day_dba(self) -> float | None:
        return max(map(hearing.measure, self._exposures), default=None)

    @property
    def dose_percent(self) -> float | None:
        return max((each.dose_percent for each in self._exposures), default=None)

    @cached_property
    def resistor_w(self) -> float | None:
        return _resistor_w(self._run, self._first)

    @cached_property
    def _warned(self) -> set[Limit]:
        """Limits that a check warns of."""
        # The time before the press counts in the heat of parts as well, which is so up to a seventh
        # too low.
        things = {FED: FED.of(self._run), EXPOSURE: self._exposures}
        judged = {
            limit: [one for one in CHECKS[limit] if one is not supply_current] for limit in _WARNING
        }
        return {
            limit
            for limit, checks in judged.items()
            for one in checks
            for thing in things[one.scope]
            if any(finding.weight >= Weight.WARNING for finding in one.judge(thing))
        }


def _resistor_w(run: Performance, first: int) -> float | None:
    """Mean heat in the hottest resistor from a frame on: that of one that is lit, for the share
    of the time for which its channel is.
    """
    table = run.prop.compiled.table
    until = run.played.until_frame
    name = _hottest_resistor(run.prop)
    if name is None:
        return None
    distinct = {id(track): track for track in run.light.tracks[name]}.values()
    lit = (
        lit_share([track], (1 << table.pwm_bits) - 1, first, until, table.frame_rate_hz)
        for track in distinct
    )
    return run.prop.circuits[name].layout.power_w * max(steps.mean() for steps in lit)


def _steps(run: Performance, index: int) -> Iterator[PlayClip | StartFade | ChangeCount]:
    """All steps of the effects that the trigger fires."""
    table = run.prop.compiled.table
    for effect in table.triggers[index].action.effects:
        yield from table.effects[effect].steps


def _light_fall(run: Performance, index: int, shots: NDArray[np.int64]) -> float | None:
    groups = {
        run.prop.compiled.names.groups[step.group]
        for step in _steps(run, index)
        if isinstance(step, StartFade)
    }
    if not groups:
        return None
    lightness = lightness_from_luminance(np.stack([run.light.lit[name] for name in sorted(groups)]))
    times_s = shots / run.prop.compiled.table.frame_rate_hz
    begins = np.searchsorted(run.light.times_s, times_s[:-1], side="right") - 1
    ends = np.searchsorted(run.light.times_s, times_s[1:], side="left")
    depths = [
        _depth(lightness[:, begin:end])
        for begin, end in zip(begins, ends, strict=True)
        if lightness[:, begin:end].any()
    ]
    return min(depths, default=None)


def _depth(lightness: NDArray[np.float64]) -> float:
    """Depth of modulation, of the group that has the most of it; shape (groups, n)."""
    most = lightness.max(axis=1)
    least = lightness.min(axis=1)
    return float(((most - least) / np.maximum(most + least, 1e-9)).max())


def _sound_fall_db(run: Performance, index: int, shots: NDArray[np.int64]) -> float | None:
    """Least fall of the envelope (effective value over 10 ms of what is heard, else of the
    samples) from one shot to the next.
    """
    if not any(isinstance(step, PlayClip) for step in _steps(run, index)):
        return None
    sound = _heard(run).astype(np.float64)
    size = run.prop.compiled.table.samples_per_frame
    block = max(round(BLOCK_S * run.rate_hz), 1)
    sums = np.concatenate([[0.0], np.cumsum(np.square(sound))])
    falls = []
    for begin, end in zip(shots[:-1] * size, shots[1:] * size, strict=True):
        # Block by block, and the last one up to the very shot: windows at every sample would find
        # dips in any noise.
        starts = np.append(np.arange(begin, end - block, block), end - block)
        squares = sums[starts + block] - sums[starts]
        if squares.max() > 0:
            floor = squares.max() * 10 ** (-DEEPEST_FALL_DB / 10)
            falls.append(10 * math.log10(squares.max() / max(squares.min(), floor)))
    return min(falls, default=None)


def _heard(run: Performance) -> NDArray[np.number]:
    """Sound pressure with the supply as it is when fresh, else the samples: what lights take
    from the supply makes no shot less distinct.
    """
    sequence = run.prop.sequence
    if not run.sound.is_described:
        return run.played.samples
    return pressure_pa(
        run.sound.volts_at(run.sound.feed_v)[0],
        run.rate_hz,
        sequence.speaker,
        1.0,
        sequence.listening.space,
    )


def _breaks(limit: Limit, most: float, value: float | None) -> bool:
    if value is None:
        # A supply whose voltage is not known has collapsed.
        return limit == Limit.RAIL
    if limit in LEAST:
        return value < most
    return value > most
