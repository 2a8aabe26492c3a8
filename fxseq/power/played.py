"""The rail of a supply while a prop is played on it."""
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.power.circuits import Circuit, fresh_v, resistance_ohm
from fxseq.power.estimate import Estimate
from fxseq.power.parts import parts
from fxseq.power.rail import LEAST_V, Load, buffered_v
from fxseq.power.steps import Steps, align
from fxseq.sequence.model import Amplifier, Sequence, Supply

_SETTLED = 20.0
"""Time constants after which a capacitor no longer knows what was before."""


@dataclass(frozen=True)
class PlayedRail:
    """A rail over time. [V]

    volts: of a fresh, typical supply, from each of its times on; NaN from where it collapses. Where a capacitor smooths it, at the end of
    each step. lowest: by specimen, fresh; NaN where it collapses. lowest_at_s: when it is lowest.
    """

    volts: Steps
    lowest: Estimate
    lowest_at_s: float


def played_load(
    sequence: Sequence, circuits: Mapping[str, Circuit], light: Mapping[str, Steps], sound_ma: Steps, sound_v: float,
) -> tuple[NDArray[np.float64], Load]:
    """All that a prop takes over time: LEDs, amplifier and board. Times of its changes, shape (n,) [s], and the load at them.

    light: share of full light of each group. sound_ma: current of the amplifier at a supply of sound_v, as a class D one a constant power.
    """
    times_s, held = align({"": sound_ma, **{name: light[name] for name in circuits}})
    sound_a = held.pop("") / 1000
    amplifier = amplifier_load(sequence.amplifier, sound_a, sound_v)
    lights = (circuits[name].load(Steps(times_s, lit, sound_ma.end_s)) for name, lit in held.items())
    return times_s, sum(lights, amplifier + Load(current_a=sequence.board.current_ma / 1000))


def amplifier_load(amplifier: Amplifier | None, sound_a: ArrayLike, sound_v: float) -> Load:
    """The amplifier as a load. sound_a: its current at a supply of sound_v, one number or one a point in time. [A]"""
    if amplifier is None or amplifier.kind == "class_ab":
        return Load(current_a=sound_a)
    return Load(power_w=np.asarray(sound_a) * sound_v)


def played_rail(supply: Supply, load: Load, times_s: NDArray[np.float64], end_s: float, *, over_diode: bool = False) -> PlayedRail:
    """Rail of a fresh supply under a load over time. over_diode: whether the supply feeds the rail through a changeover diode.

    PWM counts by its mean, which a capacitor at the LEDs has to make true; what it recharges between shots, cells recover, is not counted.
    """
    opened, ohms = fresh_v(supply), resistance_ohm(supply)
    drop_v = changeover_drop_v(load, opened.typical) if over_diode else 0.0
    farads = supply.bulk_capacitor_uf * 1e-6
    volts = buffered_v(times_s, end_s, opened.typical - drop_v, ohms.typical, load, farads)
    worst = int(np.argmax(np.isnan(volts))) if np.isnan(volts).any() else int(np.argmin(volts))
    since = max(0, int(np.searchsorted(times_s, times_s[worst] - _SETTLED * ohms.high * farads, side="right")) - 1) if farads else worst
    around = _part_of(load, times_s.size, since, worst + 1)
    ends_s = np.append(times_s, end_s)
    lowest = [
        float(np.min(buffered_v(times_s[since:worst + 1], ends_s[worst + 1], specimen_v - drop_v, specimen_ohm, around, farads)))
        for specimen_v, specimen_ohm in ((opened.low, ohms.high), (opened.typical, ohms.typical), (opened.high, ohms.low))
    ]
    return PlayedRail(Steps(times_s, volts, end_s), Estimate(*lowest), float(times_s[worst]))


def changeover_drop_v(load: Load, opened_v: float) -> float:
    """Drop of a changeover diode at the highest current of a load. [V]"""
    highest_a = float(np.max(load.at(max(opened_v, LEAST_V))[0]))
    return float(parts().diodes["schottky"].diode.voltage_v(highest_a)) if math.isfinite(highest_a) else 0.0


def load_at(load: Load, times_s: NDArray[np.float64], at_s: float) -> Load:
    """The load of one moment."""
    index = max(0, int(np.searchsorted(times_s, at_s, side="right")) - 1)
    return _part_of(load, times_s.size, index, index + 1)


def _part_of(load: Load, count: int, since: int, until: int) -> Load:
    leds = tuple(replace(led, lit=np.broadcast_to(led.lit, count)[since:until]) for led in load.leds)
    return Load(leds, np.broadcast_to(load.current_a, count)[since:until], np.broadcast_to(load.power_w, count)[since:until])
