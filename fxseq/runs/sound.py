"""The sound of a run at the amplifier: what its samples become at a voltage, and what that
takes.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics import (
    amplifier_heat_w,
    clipping_voltage_v,
    converted,
    output_voltage_v,
    supply_current_a,
)
from fxseq.player import Played
from fxseq.power import Steps, before, fresh_v, steps_of_blocks
from fxseq.runs.prop import Prop
from fxseq.sequence import model as m


@dataclass(frozen=True, eq=False)
class Sound:
    """What the board put out in a run, at the amplifier. supply: what it runs from, None where
    none is described.
    """

    prop: Prop
    played: Played
    supply: m.Supply | None

    @property
    def is_described(self) -> bool:
        """Whether amplifier, speaker and supply are described."""
        return bool(self.prop.sequence.amplifier and self.prop.sequence.speaker and self.supply)

    @property
    def feed_v(self) -> float:
        """Voltage that feeds the amplifier when the supply is fresh, with nothing on it; 0 where
        none is described. [V]
        """
        regulator = before("amplifier", self.prop.sequence)
        if self.supply is None:
            return 0.0
        if regulator:
            return regulator.output_v
        return fresh_v(self.supply).typical

    @cached_property
    def steady_volts(self) -> NDArray[np.float32] | None:
        """Voltage at the speaker as if the amplifier's feed stayed as it is when fresh; None
        where amplifier or supply is not described. [V]
        """
        if self.prop.sequence.amplifier and self.supply:
            return self.volts_at(self.feed_v)[0]
        return None

    def volts_at(
        self, supply_v: ArrayLike, part: slice | NDArray[np.int64] = slice(None)
    ) -> tuple[NDArray[np.float32], float]:
        """Voltage at the speaker over a part of the samples, and the share of them that clips;
        supply_v: one voltage, or one a sample of it. [V]
        """
        return output_voltage_v(
            self._at_amplifier[part], self.prop.sequence.amplifier, supply_v, self._load_ohm
        )

    @cached_property
    def _at_amplifier(self) -> NDArray[np.number]:
        return converted(self.played.samples, self.prop.sequence.board)

    def clips_at(self, supply_v: float) -> bool:
        """Whether the amplifier clips anywhere at this voltage. Needs amplifier and supply."""
        return bool(
            self._steady_peak_v
            > clipping_voltage_v(self.prop.sequence.amplifier, supply_v, self._load_ohm)
        )

    @cached_property
    def current_ma(self) -> Steps:
        """Current of the amplifier at its feed when the supply is fresh, frame by frame; zero
        where it is not described. [mA]
        """
        if not self.is_described:
            return Steps(np.zeros(1), np.zeros(1), self._end_s)
        return self._by_frame(1000 * self.current_a(self.steady_volts, self.feed_v))

    def current_a(self, volts: NDArray[np.floating], supply_v: float) -> NDArray[np.float64]:
        """Current of the amplifier, frame by frame, with this voltage at the speaker, shape (n,)
        [V], and at its feed. [A]
        """
        sequence = self.prop.sequence
        size = self.prop.compiled.table.samples_per_frame
        return supply_current_a(volts, sequence.speaker, sequence.amplifier, supply_v, size)

    @property
    def heat_w(self) -> Steps:
        """Heat in the amplifier at its feed when the supply is fresh, frame by frame. Needs
        amplifier, speaker and supply. [W]
        """
        sequence = self.prop.sequence
        size = self.prop.compiled.table.samples_per_frame
        return self._by_frame(
            amplifier_heat_w(
                self.steady_volts, sequence.speaker, sequence.amplifier, self.feed_v, size
            )
        )

    def _by_frame(self, values: NDArray[np.float64]) -> Steps:
        return steps_of_blocks(values, 1 / self.prop.compiled.table.frame_rate_hz, self._end_s)

    @property
    def _end_s(self) -> float:
        return (
            self.played.until_frame - self.played.first_frame
        ) / self.prop.compiled.table.frame_rate_hz

    @property
    def _load_ohm(self) -> float:
        speaker = self.prop.sequence.speaker
        if not speaker:
            return math.inf
        return speaker.impedance_ohm

    @cached_property
    def _steady_peak_v(self) -> float:
        return float(np.abs(self.steady_volts).max(initial=0.0))
