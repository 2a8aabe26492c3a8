"""What is heard of a run: voltage at the speaker with what is left of the supply, levels and
sound pressure.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics import LevelReport, level_report, pressure_pa
from fxseq.power import before, needed_v, voltages_of
from fxseq.power.layout import Range
from fxseq.power.regulators import fed
from fxseq.runs.sound import Sound
from fxseq.runs.supply_load import SupplyLoad
from fxseq.sequence import model as m


@dataclass(frozen=True, eq=False)
class Heard:
    """The sound of a run through amplifier and speaker, on a supply that sags under the load."""

    sound: Sound
    load: SupplyLoad

    @property
    def rate_hz(self) -> int:
        """Samples a second."""
        return self.sound.prop.compiled.table.sample_rate_hz

    @cached_property
    def supply_v(self) -> NDArray[np.float64]:
        """Voltage that feeds the amplifier: one a sample, or a single one, the lowest, where
        nothing clips at it. Needs amplifier and supply. [V]
        """
        rail = self.load.rail.volts
        regulator = before("amplifier", self.sound.prop.sequence)
        volts = np.nan_to_num(rail.values)
        if regulator:
            volts = regulator.given_v(rail.values)
        lowest_v = volts.min()
        if not self.sound.clips_at(lowest_v):
            return np.asarray(lowest_v)
        begins = np.round(rail.times_s * self.rate_hz).astype(np.int64)
        return np.repeat(volts, np.diff(begins, append=len(self.sound.played.samples)))

    @cached_property
    def volts(self) -> NDArray[np.float32] | None:
        """Voltage at the speaker with what is left of the supply, one a sample; None where
        amplifier or supply is not described. [V]
        """
        if self.sound.steady_volts is None:
            return None
        if self.supply_v.ndim == 0:
            return self.sound.steady_volts
        return self.sound.volts_at(self.supply_v)[0]

    @cached_property
    def levels(self) -> LevelReport | None:
        """How loud it is; None where amplifier, speaker or supply is not described."""
        if not self.sound.is_described:
            return None
        return self.levels_on(self.supply_v)

    def levels_on(self, supply_v: ArrayLike, part: slice = slice(None)) -> LevelReport:
        """How loud a part of the samples is with this voltage at the amplifier: one, or one a
        sample of it. Needs amplifier and speaker. [V]
        """
        sequence = self.sound.prop.sequence
        places_m = {"hand": sequence.listening.hand_m, "audience": sequence.listening.audience_m}
        return level_report(
            self.sound.played.samples[part],
            self.rate_hz,
            sequence.amplifier,
            sequence.speaker,
            places_m,
            supply_v,
            sequence.listening.space,
            sequence.board,
        )

    @cached_property
    def loudest(self) -> LevelReport:
        """How loud it is with the freshest supply and nothing else on it, which asks most of
        speaker and ears.

        Needs amplifier, speaker and supply. What does not clip asks the same at any voltage.
        """
        if self.levels.clipped_share == 0:
            return self.levels
        return self.loudest_within(slice(None))

    def loudest_within(self, part: slice) -> LevelReport:
        """Level report of the loudest moment within a part of the samples."""
        return self.levels_on(
            amplifier_span(self.sound.prop.sequence, self.sound.supply).fresh_v, part
        )

    def pressure_pa(self, distance_m: float) -> NDArray[np.float32] | None:
        """Sound pressure at a distance, one a sample; None as for `levels`. [Pa]"""
        sequence = self.sound.prop.sequence
        if self.volts is None or sequence.speaker is None:
            return None
        return pressure_pa(
            self.volts, self.rate_hz, sequence.speaker, distance_m, sequence.listening.space
        )


def amplifier_span(sequence: m.Sequence, supply: m.Supply) -> Range:
    """Voltages that feed the amplifier from this supply."""
    return fed("amplifier", sequence, voltages_of(supply, needed_v(sequence)))
