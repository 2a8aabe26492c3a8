"""What a run takes from its supply, moment by moment, and what that leaves of the voltage."""
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import supply_current_a
from fxseq.power import (
    FollowedCurrent, Load, PlayedRail, Steps, amplifier_load, before, changeover_diode, fresh_v, played_load, played_rail, resistance_ohm,
)

if TYPE_CHECKING:
    from fxseq.runs.performance import Performance

_RAILS = 33
"""Rails for which the current of an amplifier that clips is worked out; between them it is a straight line."""


class SupplyLoad:
    """The supply under one run. Lights and board take what they take at a voltage; an amplifier takes less where it clips at it."""

    def __init__(self, run: "Performance") -> None:
        self._run = run

    @cached_property
    def lights(self) -> tuple[NDArray[np.float64], NDArray[np.int64], Load]:
        """Times at which anything changes, shape (n,) [s], the frame that each is in, and the load of LEDs and board at them."""
        run = self._run
        return played_load(run.prop.sequence, run.circuits, run.light_of, run.sound_ma.times_s, run.duration_s)

    @property
    def load(self) -> Load:
        """All that is taken, at those times."""
        return self._loaded[0]

    @property
    def rail(self) -> PlayedRail | None:
        """What is left of a fresh supply over time; None where none is described."""
        return self._loaded[1]

    @cached_property
    def _loaded(self) -> tuple[Load, PlayedRail | None]:
        """Load and rail. Where the amplifier clips as the supply sags, it takes less than with a steady one, which holds up the rail."""
        run, (times_s, frame, lights) = self._run, self.lights
        load = lights + amplifier_load(run.prop.sequence, run.sound_ma.values / 1000, run.fresh_v).part(frame)
        if run.supply is None:
            return load, None
        diode = changeover_diode(run.prop.sequence)
        rail = played_rail(run.supply[1], load, times_s, run.duration_s, diode)
        if not self._follows(np.nan_to_num(rail.lowest.low)):
            return load, rail
        load = lights + self.amplifier_in(np.arange(run.sound_ma.times_s.size)).part(frame)
        return load, played_rail(run.supply[1], load, times_s, run.duration_s, diode)

    @property
    def given_ma(self) -> Steps | None:
        """What the fresh supply gives over time, as it sags and over the diode of a changeover; None where no supply
        is described. Through a collapsed rail as much as through a short circuit. [mA]
        """
        if self.rail is None:
            return None
        volts, diode = self.rail.volts, changeover_diode(self._run.prop.sequence)
        ohms = resistance_ohm(self._run.supply[1]).typical
        lost_v = self._run.fresh_v - np.nan_to_num(volts.values)
        if diode is not None:
            given_a = diode.current_a(lost_v, ohms)[0]
        else:
            given_a = lost_v / ohms if ohms else self.load.at(volts.values)[0]
        return Steps(volts.times_s, 1000 * np.maximum(given_a, 0.0), volts.end_s)

    def _follows(self, lowest_v: float) -> bool:
        """Whether the amplifier takes less where the rail is lower: it hangs on the supply itself, and clips at this rail. [V]"""
        return self._run.sounds and before("amplifier", self._run.prop.sequence) is None and self._run.clips_at(lowest_v)

    def amplifier_in(self, frames: NDArray[np.int64]) -> Load:
        """The amplifier in these frames, as it is at any rail up to the highest."""
        if not self._run.sounds:
            return Load()
        if before("amplifier", self._run.prop.sequence):
            return amplifier_load(self._run.prop.sequence, self._run.sound_ma.values[frames] / 1000, self._run.amplifier_fresh_v)
        rails_v, pitch_v = np.linspace(0.0, fresh_v(self._run.supply[1]).high, _RAILS, retstep=True)
        taken_a = [self._taken_a(float(rail_v), frames) for rail_v in rails_v[1:]]
        return Load(followed=FollowedCurrent(np.stack([taken_a[0], *taken_a]), float(pitch_v), np.arange(frames.size)))

    def _taken_a(self, supply_v: float, frames: NDArray[np.int64]) -> NDArray[np.float64]:
        """Current of the amplifier at a supply. [A]"""
        sequence, size = self._run.prop.sequence, self._run.prop.compiled.table.samples_per_frame
        volts, _ = self._run.amplifier_volts(supply_v, (frames[:, np.newaxis] * size + np.arange(size)).ravel())
        return supply_current_a(volts, sequence.speaker, sequence.amplifier, supply_v, size)

    @cached_property
    def heaviest(self) -> Load:
        """The load at moments among which the heaviest is, for rails from where the prop stops to the fresh supply."""
        run, (_, frame, lights) = self._run, self.lights
        lowest_v = run.stops_at_v
        moments = self.load.heaviest(lowest_v, run.fresh_v)
        if self.load.followed is None and not self._follows(lowest_v):
            return self.load.part(moments)
        # What clips at a low rail takes less there than it was counted with, so that lights alone may be heavier.
        moments = np.union1d(moments, lights.heaviest(lowest_v, run.fresh_v))
        return lights.part(moments) + self.amplifier_in(frame[moments])
