"""How long cells last, on a day of which only the habits are known."""
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import trapezoid

from fxseq.power.cells import Pack
from fxseq.power.estimate import Estimate
from fxseq.power.rail import Load, rail_v

_DEPTHS = np.linspace(0.0, 1.0, 501)
_NOTHING_AN_HOUR = 1e-9


@dataclass(frozen=True)
class Phase:
    """A state that a prop is in for a share of its time, 0..1: what takes current in it, by name, on average over the state."""

    name: str
    share: float
    loads: Mapping[str, Load]

    @property
    def load(self) -> Load:
        """All of them together."""
        return sum(self.loads.values(), Load())


@dataclass(frozen=True)
class Discharge:
    """Cells taken down. hours: until they no longer carry the prop. depth: how far they are used up then, 0..1.

    missing: why no hours can be given, then hours are NaN.
    """

    hours: float
    depth: float
    missing: str = ""


@dataclass(frozen=True)
class RunTime:
    """How long cells last. hours: None where there is no data. drains: share of the charge by (state, consumer), largest first."""

    hours: Estimate | None
    drains: tuple[tuple[tuple[str, str], float], ...]
    missing: str = ""


def shares(taps_an_hour: float, tap_s: float, held_s_an_hour: float) -> dict[str, float]:
    """Shares of the time that a prop idles, plays taps, and is held. Raises ValueError where they do not fit into an hour.

    tap_s: how long a tap plays until all is quiet again. [s]
    """
    tap, held = taps_an_hour * tap_s / 3600, held_s_an_hour / 3600
    if tap + held > 1:
        raise ValueError(f"{taps_an_hour:g} taps of {tap_s:g} s and {held_s_an_hour:g} s held do not fit into an hour")
    return {"idle": 1 - tap - held, "taps": tap, "held": held}


def run_time(pack: Pack, phases: Sequence[Phase], hardest: Load, minimum_v: float) -> RunTime:
    """How long an unlucky, a typical and a lucky pack carries the phases, taken in turn and quickly; and what drains most.

    hardest: the heaviest load of a moment. minimum_v: rail below which the prop stops. [V]
    """
    found = [discharge(specimen, phases, hardest, minimum_v) for specimen in pack.specimens()]
    missing = next((run.missing for run in found if run.missing), "")
    hours = None if missing else Estimate(*(run.hours for run in found))
    return RunTime(hours, _drains(pack, phases), missing)


def discharge(pack: Pack, phases: Sequence[Phase], hardest: Load, minimum_v: float) -> Discharge:
    """Take a pack down: each phase uses its share of the time, at the current that the rail of the moment makes it take.

    The depth grows by the sum of share times I / capacity(I), so that time at a high current counts for more; below the table of
    capacities its first value is used, which is on the safe side. It ends where the hardest load brings the rail below minimum_v, or
    below the cells' own end, or where they are empty. Self-discharge, rest and temperature are not counted.
    """
    lowest_v = max(minimum_v, pack.end_v)
    carried = rail_v(pack.open_v(_DEPTHS), pack.resistance_ohm(_DEPTHS), hardest) >= lowest_v
    used = int(np.argmin(carried)) if not carried.all() else _DEPTHS.size
    if used == 0:
        return Discharge(0.0, 0.0)
    rate = _depth_an_hour(pack, phases, _DEPTHS[:used])
    if not np.isfinite(rate).all():
        end_ma = pack.size * pack.cell.current_ma[-1]
        return Discharge(math.nan, 0.0, f"no capacity is known at the current that is drawn: the data end at {end_ma:g} mA")
    hours = trapezoid(1 / rate, _DEPTHS[:used]) if rate.min() > _NOTHING_AN_HOUR else math.inf
    return Discharge(float(hours), float(_DEPTHS[used - 1]))


def _depth_an_hour(pack: Pack, phases: Sequence[Phase], depth: NDArray[np.float64]) -> NDArray[np.float64]:
    rate = np.zeros(depth.shape)
    for phase in phases:
        if phase.share > 0:
            current_ma = 1000 * phase.load.at(rail_v(pack.open_v(depth), pack.resistance_ohm(depth), phase.load))[0] * np.ones(depth.shape)
            rate += phase.share * current_ma / pack.capacity_mah(np.maximum(current_ma, pack.lowest_ma))
    return rate


def _drains(pack: Pack, phases: Sequence[Phase]) -> tuple[tuple[tuple[str, str], float], ...]:
    """Shares of the charge when the cells are half used up."""
    taken: dict[tuple[str, str], float] = {}
    for phase in phases:
        volts = rail_v(pack.open_v(0.5), pack.resistance_ohm(0.5), phase.load)
        for consumer, load in phase.loads.items():
            taken[phase.name, consumer] = phase.share * float(np.nan_to_num(load.at(volts)[0]))
    total = sum(taken.values()) or 1.0
    return tuple(sorted(((key, amount / total) for key, amount in taken.items()), key=lambda pair: -pair[1]))
