"""A regulator behind the supplies: what hangs on it sees its output, and the supply what it
takes for that.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.power.layout import Range
from fxseq.power.parts import RegulatorKind, parts
from fxseq.power.rail import Load
from fxseq.sequence.model import Regulator, Sequence
from fxseq.sequence.parts import Consumer


@dataclass(frozen=True)
class Regulation:
    """A regulator as it is counted: what the file says, and the generic part of its kind for the
    rest.
    """

    part: Regulator
    kind: RegulatorKind

    @property
    def is_linear(self) -> bool:
        """Whether it passes on the current of its input and turns the spare voltage into heat."""
        return self.part.kind in ("linear", "low_dropout")

    @property
    def output_v(self) -> float:
        """What it holds. [V]"""
        return self.part.output_v

    @property
    def holds_from_v(self) -> float:
        """Voltage from which on it holds its output: output plus dropout; 0 for one that steps
        up. [V]
        """
        if self.part.kind == "step_up":
            return 0.0
        if self.part.dropout_v is None:
            return self.output_v + self.kind.dropout_v
        return self.output_v + self.part.dropout_v

    @property
    def efficiency(self) -> float:
        """Output over input power of a switching converter; of a linear one, whose currents are
        equal, 1.
        """
        if self.part.efficiency_percent is None:
            return self.kind.efficiency
        return self.part.efficiency_percent / 100

    @property
    def own_a(self) -> float:
        """What it takes for itself. [A]"""
        if self.part.own_current_ma is None:
            return self.kind.own_ma / 1000
        return self.part.own_current_ma / 1000

    @property
    def most_heat_w(self) -> float:
        """Heat that it stands. [W]"""
        if self.part.maximum_heat_w is None:
            return self.kind.heat_w
        return self.part.maximum_heat_w

    def load(self, output_a: ArrayLike) -> Load:
        """What it takes for these currents at its output, without its own: a linear one the same
        current, a switching one the power Vout I / efficiency whatever its input is. Below where
        it holds its output less would do, which is not counted. [A]
        """
        if self.is_linear:
            return Load(current_a=output_a)
        return Load(power_w=np.asarray(output_a) * self.output_v / self.efficiency)

    def ratio(self, supply_v: float) -> float:
        """Current from a supply of this voltage for each ampere at its output. [A/A]"""
        if self.is_linear:
            return 1.0
        return self.output_v / (self.efficiency * supply_v)

    def given_v(self, rail_v: ArrayLike) -> NDArray[np.float64]:
        """What comes out of it at a rail, element by element, 0 where the rail has collapsed.
        [V]
        """
        volts = np.nan_to_num(np.asarray(rail_v, dtype=np.float64))
        if self.part.kind == "step_up":
            return np.where(volts > 0, self.output_v, 0.0)
        return np.clip(volts - (self.holds_from_v - self.output_v), 0.0, self.output_v)

    def heat_w(self, supply_v: float, output_a: float) -> float:
        """What it turns into heat: what it takes, its own current too, less Vout I. [W]"""
        return max(
            0.0,
            (self.ratio(supply_v) * output_a + self.own_a) * supply_v - self.output_v * output_a,
        )


def regulation(sequence: Sequence) -> Regulation | None:
    """The regulator of a file; None where it describes none."""
    part = sequence.regulator
    return part and Regulation(part, parts().regulators[part.kind])


def before(consumer: Consumer, sequence: Sequence) -> Regulation | None:
    """The regulator that feeds a part of the prop; None where the supply itself does."""
    found = regulation(sequence)
    if found is not None and consumer in found.part.feeds:
        return found
    return None


def fed(consumer: Consumer, sequence: Sequence, span: Range) -> Range:
    """Voltages that a part of the prop lives with. span: of the supplies."""
    found = before(consumer, sequence)
    if found:
        return Range(found.output_v, found.output_v)
    return span


def needed_v(sequence: Sequence) -> float:
    """Rail that the regulator needs to hold its output; 0 without one. [V]"""
    found = regulation(sequence)
    if not found:
        return 0.0
    return found.holds_from_v


def taken(consumer: Consumer, sequence: Sequence, current_a: ArrayLike) -> Load:
    """The load that these currents of a part of the prop make on the supply: as they are, or
    through the regulator. [A]
    """
    found = before(consumer, sequence)
    if found:
        return found.load(current_a)
    return Load(current_a=current_a)


def board_load(sequence: Sequence) -> Load:
    """What the board takes, the regulator for itself, and a resistance across the supplies."""
    found = regulation(sequence)
    board = taken("board", sequence, sequence.board.current_ma / 1000) + resistive_load(sequence)
    if found:
        board += Load(current_a=found.own_a)
    return board


def resistive_load(sequence: Sequence) -> Load:
    """A resistance across the supplies; nothing without one."""
    if not sequence.rail_load_ohm:
        return Load()
    return Load(conductance_s=1 / sequence.rail_load_ohm)
