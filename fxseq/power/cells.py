"""Cells: voltage, resistance and capacity by how far they are used up; and the estimate, low,
typical and high, that figures of parts are.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class Estimate:
    """A figure with its bounds, low <= typical <= high over the part tolerance, in the unit of
    the name it goes by.
    """

    low: float
    typical: float
    high: float


@dataclass(frozen=True)
class Cell:
    """A kind of cell, by curves over its depth of discharge, 0 full to 1 empty.

    depth, open_v: open-circuit voltage, shape (n,), depth ascending from 0 to 1. [V] fresh_v: when
    fresh, by corner of the tolerance; the curve begins at its typical one. resistance_ohm: fresh,
    by corner of the tolerance. resistance_rise: how many times that it is at each depth, shape
    (n,). current_ma, capacity_mah: what it gives at a constant current down to end_v, ascending
    currents, shape (m,). capacity_share: of that table, by corner of the tolerance. maximum_ma: the
    most it may give.
    """

    depth: tuple[float, ...]
    open_v: tuple[float, ...]
    fresh_v: Estimate
    resistance_ohm: Estimate
    resistance_rise: tuple[float, ...]
    current_ma: tuple[float, ...]
    capacity_mah: tuple[float, ...]
    capacity_share: Estimate
    end_v: float
    maximum_ma: float
    source: str


@dataclass(frozen=True)
class Pack:
    """Cells of one kind: so many in series, and `size` times the capacity of one, by parallel cells
    or by larger ones.

    A larger cell is taken as so many equal ones side by side: at so many times the current it gives
    so many times the capacity.
    """

    cell: Cell
    series: int = 1
    size: float = 1.0

    def open_v(self, depth: ArrayLike) -> NDArray[np.float64]:
        """Open-circuit voltage at a depth of discharge, element by element. [V]"""
        return self.series * np.interp(depth, self.cell.depth, self.cell.open_v)

    @property
    def fresh_v(self) -> Estimate:
        """Open-circuit voltage when fresh, by corner of the tolerance. [V]"""
        fresh = self.cell.fresh_v
        return Estimate(
            self.series * fresh.low, self.series * fresh.typical, self.series * fresh.high
        )

    def resistance_ohm(self, depth: ArrayLike) -> NDArray[np.float64]:
        """Internal resistance of a typical pack at a depth of discharge, element by element.
        [ohm]
        """
        grown = np.interp(depth, self.cell.depth, self.cell.resistance_rise)
        return self.series * self.cell.resistance_ohm.typical * grown / self.size

    def capacity_mah(self, current_ma: ArrayLike) -> NDArray[np.float64]:
        """What a typical pack gives at a constant current, element by element; NaN (no data) below
        its table, and above it its last value, which is more than it gives there. [mAh]

        log(capacity) straight over log(current) between the points. One exponent (Peukert) fits no
        alkaline cell: between the points of one data sheet it goes from 1.13 to 1.42.
        """
        with np.errstate(divide="ignore"):
            wanted = np.log(np.asarray(current_ma, dtype=np.float64) / self.size)
        logarithm = np.interp(
            wanted, np.log(self.cell.current_ma), np.log(self.cell.capacity_mah), left=np.nan
        )
        return self.size * self.cell.capacity_share.typical * np.exp(logarithm)

    @property
    def lowest_ma(self) -> float:
        """Current at which the table of capacities begins. Below it the cell gives no less. [mA]"""
        return self.size * self.cell.current_ma[0]

    @property
    def highest_ma(self) -> float:
        """Current at which the table of capacities ends. Above it the cell gives less than its
        last value. [mA]
        """
        return self.size * self.cell.current_ma[-1]

    @property
    def end_v(self) -> float:
        """Voltage under load at which it is empty. [V]"""
        return self.series * self.cell.end_v

    @property
    def maximum_ma(self) -> float:
        """The most it may give. [mA]"""
        return self.size * self.cell.maximum_ma

    def corners(self) -> tuple["Pack", "Pack", "Pack"]:
        """A worst-case, a typical and a best-case pack: low capacity with high resistance, and
        the other way round.
        """
        resistance = self.cell.resistance_ohm
        share = self.cell.capacity_share
        pairs = (
            (resistance.high, share.low),
            (resistance.typical, share.typical),
            (resistance.low, share.high),
        )
        packs = [
            replace(
                self,
                cell=replace(
                    self.cell,
                    resistance_ohm=Estimate(ohms, ohms, ohms),
                    capacity_share=Estimate(part, part, part),
                ),
            )
            for ohms, part in pairs
        ]
        return packs[0], packs[1], packs[2]
