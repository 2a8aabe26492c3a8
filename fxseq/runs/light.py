"""The light of a run: how much of its full light each group gives over time, by the duties of
its channels.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fxseq.player import DutyTrack, Played
from fxseq.power import Steps, align, lit_share
from fxseq.table import Compiled


@dataclass(frozen=True, eq=False)
class Light:
    """What the channels of a compiled prop did in a run."""

    compiled: Compiled
    played: Played

    @property
    def full_duty(self) -> int:
        """Duty of a channel that is fully lit."""
        return (1 << self.compiled.table.pwm_bits) - 1

    @property
    def tracks(self) -> dict[str, Sequence[DutyTrack]]:
        """Duty of the channels of each group, one track a channel; channels that are alike may
        have one and the same.
        """
        return self._by_group(self.played.light)

    @property
    def times_s(self) -> NDArray[np.float64]:
        """Times at which some group's light changes, from 0, shape (n,). [s]"""
        return self._aligned[0]

    @property
    def lit(self) -> dict[str, NDArray[np.float64]]:
        """Share of its full light of each group, 0..1, from each of `times_s` on."""
        return self._aligned[1]

    @cached_property
    def steps(self) -> dict[str, Steps]:
        """Share of full light as steps over time, all at the same times."""
        end_s = (
            self.played.until_frame - self.played.first_frame
        ) / self.compiled.table.frame_rate_hz
        return {name: Steps(self.times_s, lit, end_s) for name, lit in self.lit.items()}

    @property
    def within_pulses(self) -> dict[str, Steps]:
        """Share of each group's channels over time, 0..1, that are lit at all, as they are within a
        pulse of the dimming.
        """
        distinct = {id(track): _when_on(track, self.full_duty) for track in self.played.light}
        return self._shares([distinct[id(track)] for track in self.played.light])

    @cached_property
    def _aligned(self) -> tuple[NDArray[np.float64], dict[str, NDArray[np.float64]]]:
        light = self._shares(self.played.light)
        if light:
            return align(light)
        return (np.zeros(1), {})

    def _shares(self, tracks: Sequence[DutyTrack]) -> dict[str, Steps]:
        played = self.played
        rate_hz = self.compiled.table.frame_rate_hz
        return {
            name: lit_share(
                of_group, self.full_duty, played.first_frame, played.until_frame, rate_hz
            )
            for name, of_group in self._by_group(tracks).items()
        }

    def _by_group(self, tracks: Sequence[DutyTrack]) -> dict[str, Sequence[DutyTrack]]:
        """Tracks of all channels, sorted by group."""
        groups = zip(self.compiled.names.groups, self.compiled.table.groups, strict=True)
        return {name: tracks[group.first : group.first + group.channels] for name, group in groups}


def _when_on(track: DutyTrack, full: int) -> DutyTrack:
    """Channel at full duty wherever it is lit."""
    is_on = track.duties > 0
    changed = np.append(0, np.flatnonzero(is_on[1:] != is_on[:-1]) + 1)
    return DutyTrack(track.frames[changed], np.where(is_on[changed], full, 0))
