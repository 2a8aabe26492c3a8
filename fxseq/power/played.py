"""The rail of a supply while a prop is played on it."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.power.circuits import Circuit, fresh_v, resistance_ohm
from fxseq.power.diodes import Diode
from fxseq.power.cells import Estimate
from fxseq.power.rail import NO_TIME_S, Capacitor, Load, Source, buffered_v, rail_v
from fxseq.power.regulators import before, board_load
from fxseq.power.steps import Steps, align
from fxseq.sequence.model import Sequence, Supply

_BLOCK_S = 0.01
_LOWEST_SHARE = 0.3
"""Share of the open voltage: a constant power, which brings a rail down furthest, collapses at
half of it.
"""


@dataclass(frozen=True)
class PlayedRail:
    """A rail over time. [V]

    volts: of a fresh, typical supply, from each of its times on; NaN from where it collapses. Where
    a capacitor smooths it, at the end of each step. lowest: by corner of the tolerance, fresh; NaN
    where it collapses. lowest_at_s: when it is lowest.
    """

    volts: Steps
    lowest: Estimate
    lowest_at_s: float

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`: the lowest in each hundredth of a second; None where it
        collapses.
        """
        over_time = [
            None if math.isnan(volts) else volts
            for volts in self.volts.lowest_within(_BLOCK_S).tolist()
        ]
        lowest = {
            name: None if math.isnan(volts) else volts
            for name, volts in asdict(self.lowest).items()
        }
        return {
            "lowest_v": lowest,
            "lowest_at_s": self.lowest_at_s,
            "block_s": _BLOCK_S,
            "lowest_in_block_v": over_time,
        }


def played_load(
    sequence: Sequence,
    circuits: Mapping[str, Circuit],
    light: Mapping[str, Steps],
    sound_s: NDArray[np.float64],
    end_s: float,
) -> tuple[NDArray[np.float64], NDArray[np.int64], Load]:
    """What LEDs, board and regulator take over time: times of its changes, shape (n,) [s], the
    block of sound that each is in, and the load at them.

    light: share of full light of each group. sound_s: beginnings of the blocks in which the
    amplifier's current is known, shape (k,), from 0.
    """
    blocks = Steps(sound_s, np.arange(sound_s.size), end_s)
    times_s, held = align({"": blocks, **{name: light[name] for name in circuits}})
    block = held.pop("")
    lights = (circuits[name].load(Steps(times_s, lit, end_s)) for name, lit in held.items())
    return times_s, block, sum(lights, board_load(sequence))


def amplifier_load(sequence: Sequence, sound_a: ArrayLike, sound_v: float) -> Load:
    """The amplifier as a load, as long as it does not clip. sound_a: its current at a feed of
    sound_v, one number or one a point in time. [A]
    """
    amplifier = sequence.amplifier
    regulator = before("amplifier", sequence)
    if regulator is not None:
        return regulator.load(sound_a)
    if amplifier is None or amplifier.kind == "class_ab":
        return Load(current_a=sound_a)
    idle_a = np.minimum(sound_a, amplifier.idle_current_ma / 1000)
    return Load(current_a=idle_a, power_w=(sound_a - idle_a) * sound_v)


def played_rail(
    supply: Supply,
    load: Load,
    times_s: NDArray[np.float64],
    end_s: float,
    diode: Diode | None = None,
) -> PlayedRail:
    """Rail of a fresh supply under a load over time. diode: of a changeover.

    PWM counts by its mean, which a capacitor has to make true (see `pulsed_rail`); what it
    recharges between shots, cells recover, is not counted.
    """
    corners = _corners(supply)
    capacitor = Capacitor(supply.bulk_capacitor_uf * 1e-6, supply.bulk_capacitor_ohm)
    begun_v, ended_v = buffered_v(times_s, end_s, *corners[1], load, capacitor, diode)
    if is_smoothed(supply, 0.0):
        lowest = [
            float(np.min(buffered_v(times_s, end_s, *corner, load, capacitor, diode)))
            for corner in corners
        ]
    else:
        lowest = _lowest_v(corners, load, diode)
    least_v = np.minimum(begun_v, ended_v)
    if np.isnan(least_v).any():
        worst = int(np.argmax(np.isnan(least_v)))
    else:
        worst = int(np.argmin(least_v))
    return PlayedRail(Steps(times_s, ended_v, end_s), Estimate(*lowest), float(times_s[worst]))


def _corners(supply: Supply) -> tuple[tuple[float, float], ...]:
    """A worst-case, a typical and a best-case fresh supply: open voltage and resistance. [V]
    [ohm]
    """
    opened = fresh_v(supply)
    ohms = resistance_ohm(supply)
    return (opened.low, ohms.high), (opened.typical, ohms.typical), (opened.high, ohms.low)


def _lowest_v(
    corners: tuple[tuple[float, float], ...], load: Load, diode: Diode | None
) -> list[float]:
    """The lowest rail at each corner, (open voltage, resistance), without a capacitor; NaN where
    it collapses.
    """
    open_v, ohms = np.transpose(corners)
    if load.points == 1:
        worst = load
    else:
        worst = load.part(load.heaviest(_LOWEST_SHARE * open_v.min(), open_v.max()))
    return rail_v(open_v[:, np.newaxis], ohms[:, np.newaxis], worst, diode).min(axis=1).tolist()


def is_smoothed(supply: Supply, period_s: float) -> bool:
    """Whether the supply's own resistance and a capacitor make a mean of what changes within
    such a period.
    """
    return resistance_ohm(supply).typical * supply.bulk_capacitor_uf * 1e-6 > max(
        period_s, NO_TIME_S
    )


def pulsed_rail(
    supply: Supply, load: Load, diode: Diode | None = None, mean_v: Estimate | None = None
) -> Estimate:
    """The lowest rail, by corner of the tolerance, of moments at which all LEDs are lit at once
    that are dimmed by PWM. [V]

    mean_v: what a capacitor keeps, by corner of the tolerance, whose resistance alone parts it from
    the rail; None without a capacitor. The capacitor and the source, which gives then what it gives
    on average, count as one source: the voltage between theirs, behind both resistances side by
    side. [V]
    """
    corners = _corners(supply)
    if mean_v is None:
        return Estimate(*_lowest_v(corners, load, diode))
    kept_v = (mean_v.low, mean_v.typical, mean_v.high)
    own_ohm = supply.bulk_capacitor_ohm
    both = [
        _joined(Source(open_v, ohms, diode), held_v, own_ohm)
        for (open_v, ohms), held_v in zip(corners, kept_v, strict=True)
    ]
    return Estimate(*(float(np.min(rail_v(open_v, ohms, load))) for open_v, ohms in both))


def _joined(source: Source, held_v: float, own_ohm: float) -> tuple[float, float]:
    """A source and a capacitor of this voltage as one source: open voltage and resistance; a
    diode keeps what it does on average. [V] [ohm]
    """
    source_v = held_v + source.resistance_ohm * source.at(held_v)[0]
    share = own_ohm / (own_ohm + source.resistance_ohm)
    return held_v + (source_v - held_v) * share, share * source.resistance_ohm
