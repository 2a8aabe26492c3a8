"""How long cells last, on a day of which only the habits are known."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.power.cells import Estimate, Pack
from fxseq.power.diodes import Diode
from fxseq.power.rail import Load, rail_v

_DEPTHS = np.linspace(0.0, 1.0, 501)
_NOTHING_AN_HOUR = 1e-9
_MOST_MA = 1e9


@dataclass(frozen=True)
class Phase:
    """A state that a prop is in for a share of its time, 0..1: what takes current in it, by
    name, on average over the state.
    """

    name: str
    share: float
    loads: Mapping[str, Load]

    @property
    def load(self) -> Load:
        """All of them together."""
        return sum(self.loads.values(), Load())


@dataclass(frozen=True)
class Discharge:
    """Cells taken down. hours: until they no longer carry the prop. depth: how far they are used up
    then, 0..1.

    at_most: whether more current was drawn than data of their capacity reach to, so that they last
    less than hours.
    """

    hours: float
    depth: float
    at_most: bool = False


@dataclass(frozen=True)
class RunTime:
    """How long cells last. hours: None where something is missing. drains: share of the charge by
    (state, consumer), largest first.

    known_to_ma: current at which data of the capacity end, where more is drawn and hours are the
    most that they may last; None elsewhere.
    """

    hours: Estimate | None
    drains: tuple[tuple[tuple[str, str], float], ...]
    missing: str = ""
    known_to_ma: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; hours without an end, where nothing is drawn, are None."""
        hours = self.hours and {
            name: value if math.isfinite(value) else None
            for name, value in asdict(self.hours).items()
        }
        drains = [
            {"state": state, "consumer": consumer, "share": share}
            for (state, consumer), share in self.drains
        ]
        return {
            "hours": hours,
            "at_most": self.known_to_ma is not None,
            "drains": drains,
            "missing": self.missing,
        }


def shares(taps_an_hour: float, tap_s: float, held_s_an_hour: float) -> dict[str, float]:
    """Shares of the time that a prop idles, plays taps, and is held. Raises ValueError where they
    do not fit into an hour.

    tap_s: how long a tap plays until all is quiet again. [s]
    """
    tap = taps_an_hour * tap_s / 3600
    held = held_s_an_hour / 3600
    if tap + held > 1:
        raise ValueError(
            f"{taps_an_hour:g} taps of {tap_s:g} s and {held_s_an_hour:g} s held do not fit into an"
            " hour"
        )
    return {"idle": 1 - tap - held, "taps": tap, "held": held}


def run_time(
    pack: Pack, phases: Sequence[Phase], hardest: Load, minimum_v: float, diode: Diode | None = None
) -> RunTime:
    """How long a worst-case, a typical and a best-case pack carries the phases, taken in turn and
    quickly; and what drains most.

    hardest: the load at moments of which each may be the heaviest. minimum_v: rail below which the
    prop stops. [V] diode: of a changeover.
    """
    found = [discharge(corner, phases, hardest, minimum_v, diode) for corner in pack.corners()]
    known_to_ma = None
    if any(run.at_most for run in found):
        known_to_ma = pack.highest_ma
    return RunTime(
        Estimate(*(run.hours for run in found)),
        _drains(pack, phases, diode),
        known_to_ma=known_to_ma,
    )


def discharge(
    pack: Pack, phases: Sequence[Phase], hardest: Load, minimum_v: float, diode: Diode | None = None
) -> Discharge:
    """Take a pack down: each phase uses its share of the time, at the current that the rail of the
    moment makes it take.

    The depth grows by the sum of share times I / capacity(I), so that time at a high current counts
    for more; below the table of capacities its first value is used, which is on the safe side;
    above it its last one, which is not. It ends where one of the hardest moments brings the rail
    below minimum_v, or where the cells are empty or at rest below their own end: what a current
    takes off their voltage is in its capacity already. Self-discharge, rest and temperature are not
    counted.
    """
    opened = pack.open_v(_DEPTHS)[:, np.newaxis]
    ohms = pack.resistance_ohm(_DEPTHS)[:, np.newaxis]
    carried = ((rail_v(opened, ohms, hardest, diode) >= minimum_v) & (opened >= pack.end_v)).all(
        axis=1
    )
    used = _DEPTHS.size
    if not carried.all():
        used = int(np.argmin(carried))
    if used == 0:
        return Discharge(0.0, 0.0)
    rate, at_most = _depth_an_hour(pack, phases, _DEPTHS[:used], diode)
    hours_a_depth = 1 / np.maximum(rate, _NOTHING_AN_HOUR)
    if rate.min() <= _NOTHING_AN_HOUR:
        hours = math.inf
    else:
        hours = np.dot((hours_a_depth[1:] + hours_a_depth[:-1]) / 2, np.diff(_DEPTHS[:used]))
    return Discharge(float(hours), float(_DEPTHS[used - 1]), at_most)


def _depth_an_hour(
    pack: Pack,
    phases: Sequence[Phase],
    depth: NDArray[np.float64],
    diode: Diode | None,
) -> tuple[NDArray[np.float64], bool]:
    """How fast the cells run down at each depth, at the least where the second, whether more
    current is drawn than data reach to, is true. [1/h]
    """
    rate = np.zeros(depth.shape)
    at_most = False
    for phase in phases:
        if phase.share > 0:
            opened = pack.open_v(depth)
            load = phase.load
            volts = rail_v(opened, pack.resistance_ohm(depth), load, diode)
            current_ma = 1000 * load.tabled(float(opened.max())).at(volts)[0] * np.ones(depth.shape)
            # A rail that has collapsed gives no number: then at least the highest current of the
            # data is drawn.
            current_ma = np.where(np.isnan(current_ma), math.inf, current_ma)
            rate += (
                phase.share
                * np.minimum(current_ma, _MOST_MA)
                / pack.capacity_mah(np.maximum(current_ma, pack.lowest_ma))
            )
            at_most = at_most or bool(np.any(current_ma > pack.highest_ma))
    return rate, at_most


def _drains(
    pack: Pack, phases: Sequence[Phase], diode: Diode | None
) -> tuple[tuple[tuple[str, str], float], ...]:
    """Shares of the charge when the cells are half used up."""
    taken: dict[tuple[str, str], float] = {}
    for phase in phases:
        volts = rail_v(pack.open_v(0.5), pack.resistance_ohm(0.5), phase.load, diode)
        for consumer, load in phase.loads.items():
            taken[phase.name, consumer] = phase.share * float(
                np.ravel(np.nan_to_num(load.at(volts)[0]))[0]
            )
    total = sum(taken.values()) or 1.0
    return tuple(
        sorted(((key, amount / total) for key, amount in taken.items()), key=lambda pair: -pair[1])
    )
