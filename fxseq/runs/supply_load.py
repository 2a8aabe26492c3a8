"""What a run takes from its supply, moment by moment, and what that leaves of the voltage."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fxseq.power import (
    Circuit,
    Draw,
    FollowedCurrent,
    Load,
    PlayedRail,
    Regulation,
    Steps,
    amplifier_load,
    before,
    board_load,
    changeover_diode,
    draw,
    fresh_v,
    group_current_ma,
    is_smoothed,
    needed_v,
    played_load,
    played_rail,
    pulsed_rail,
    regulation,
    resistance_ohm,
    stops_at_v,
    total,
    voltages_of,
)
from fxseq.power.cells import Estimate
from fxseq.runs.light import Light
from fxseq.runs.prop import Prop
from fxseq.runs.sound import Sound
from fxseq.sequence import model as m

_RAILS = 33
"""Rails for which the current of an amplifier that clips is worked out; between them it is a
straight line.
"""
PERIODS = 5
"""Periods of the dimming that a capacitor with the supply's resistance is to outlast; a rail
then stays near its mean. Common practice, no source.
"""


@dataclass(frozen=True, eq=False)
class SupplyLoad:
    """The supply under one run.

    Lights and board take what they take at a voltage; an amplifier takes less where it clips at it.
    supply: None where none is described. duration_s: of the run. [s]
    """

    prop: Prop
    light: Light
    sound: Sound
    supply: m.Supply | None
    duration_s: float

    @property
    def circuits(self) -> dict[str, Circuit]:
        """How each group is wired; empty where no supply is described."""
        return self.prop.circuits

    @property
    def fresh_v(self) -> float:
        """Voltage of the supply when fresh, with nothing on it; 0 where none is described. [V]"""
        if not self.supply:
            return 0.0
        return fresh_v(self.supply).typical

    @property
    def stops_at_v(self) -> float:
        """Rail at which the prop stops; 0 where nothing says so. [V]"""
        if not self.supply:
            return 0.0
        return stops_at_v(self.supply, self.prop.sequence)

    @property
    def load(self) -> Load:
        """All that is taken, at the times of `lights`."""
        return self._loaded[0]

    @property
    def rail(self) -> PlayedRail | None:
        """What is left of a fresh supply's voltage over time; None where none is described."""
        return self._loaded[1]

    @cached_property
    def lights(self) -> tuple[NDArray[np.float64], NDArray[np.int64], Load]:
        """Times at which anything changes, shape (n,) [s], the frame that each is in, and the
        load of LEDs and board at them.
        """
        return played_load(
            self.prop.sequence,
            self.circuits,
            self.light.steps,
            self.sound.current_ma.times_s,
            self.duration_s,
        )

    @cached_property
    def _loaded(self) -> tuple[Load, PlayedRail | None]:
        """Load and rail. Where the amplifier clips as the supply sags, it takes less than with a
        steady one, which holds up the rail.
        """
        times_s, frame, lights = self.lights
        sound_ma = self.sound.current_ma
        load = lights + amplifier_load(
            self.prop.sequence, sound_ma.values / 1000, self.fresh_v
        ).part(frame)
        if self.supply is None:
            return load, None
        diode = changeover_diode(self.prop.sequence)
        rail = played_rail(self.supply, load, times_s, self.duration_s, diode)
        if not self._follows(np.nan_to_num(rail.lowest.low)):
            return load, rail
        load = lights + self.amplifier_in(np.arange(sound_ma.times_s.size)).part(frame)
        return load, played_rail(self.supply, load, times_s, self.duration_s, diode)

    def _follows(self, lowest_v: float) -> bool:
        """Whether the amplifier takes less where the rail is lower: it hangs on the supply
        itself, and clips at this rail. [V]
        """
        return (
            self.sound.is_described
            and before("amplifier", self.prop.sequence) is None
            and self.sound.clips_at(lowest_v)
        )

    def amplifier_in(self, frames: NDArray[np.int64]) -> Load:
        """The amplifier in these frames, as it is at any rail up to the highest."""
        if not self.sound.is_described:
            return Load()
        if before("amplifier", self.prop.sequence):
            return amplifier_load(
                self.prop.sequence, self.sound.current_ma.values[frames] / 1000, self.sound.feed_v
            )
        rails_v, pitch_v = np.linspace(0.0, fresh_v(self.supply).high, _RAILS, retstep=True)
        taken_a = [self._taken_a(float(rail_v), frames) for rail_v in rails_v[1:]]
        return Load(
            followed=FollowedCurrent(
                np.stack([taken_a[0], *taken_a]), float(pitch_v), np.arange(frames.size)
            )
        )

    def _taken_a(self, supply_v: float, frames: NDArray[np.int64]) -> NDArray[np.float64]:
        """Current of the amplifier at a supply. [A]"""
        size = self.prop.compiled.table.samples_per_frame
        volts, _ = self.sound.volts_at(
            supply_v, (frames[:, np.newaxis] * size + np.arange(size)).ravel()
        )
        return self.sound.current_a(volts, supply_v)

    @cached_property
    def heaviest(self) -> Load:
        """The load at moments among which the heaviest is, for rails from where the prop stops
        to the fresh supply.
        """
        _, frame, lights = self.lights
        moments = self.load.heaviest(self.stops_at_v, self.fresh_v)
        if self.load.followed is None and not self._follows(self.stops_at_v):
            return self.load.part(moments)
        # What clips at a low rail takes less there than it was counted with, so that lights alone
        # may be heavier.
        moments = np.union1d(moments, lights.heaviest(self.stops_at_v, self.fresh_v))
        return lights.part(moments) + self.amplifier_in(frame[moments])

    @property
    def flat_peak_ma(self) -> float:
        """Highest current at the lowest voltage with which the prop works, where converters and
        class D amplifiers take most. Needs a supply. [mA]
        """
        flat_v = voltages_of(self.supply, needed_v(self.prop.sequence)).flat_v
        return 1000 * float(np.max(self.heaviest.at(flat_v)[0]))

    @cached_property
    def current_ma(self) -> Steps:
        """What LEDs, amplifier, board and regulator take from the fresh supply over time. [mA]

        With the voltage that it keeps. Over the diode of a changeover, and through a collapsed rail
        as much as through a short circuit.
        """
        if self.rail is None:
            return self.unsagged_ma
        volts = self.rail.volts
        diode = changeover_diode(self.prop.sequence)
        ohms = resistance_ohm(self.supply).typical
        lost_v = self.fresh_v - np.nan_to_num(volts.values)
        if diode is not None:
            given_a = diode.current_a(lost_v, ohms)[0]
        elif ohms:
            given_a = lost_v / ohms
        else:
            given_a = self.load.at(volts.values)[0]
        return Steps(volts.times_s, 1000 * np.maximum(given_a, 0.0), volts.end_s)

    @property
    def unsagged_ma(self) -> Steps:
        """Current at the voltage of the fresh supply with nothing on, without any diode, as the
        bench follows it while it plays. [mA]
        """
        sequence = self.prop.sequence
        if self.supply:
            board_ma = 1000 * float(board_load(sequence).at(self.fresh_v)[0])
        else:
            board_ma = sequence.board.current_ma
        sound = self._from_supply(self.sound.current_ma, before("amplifier", sequence))
        return total({"light": self.light_ma, "sound": sound, "board": self._steady(board_ma)})

    @cached_property
    def light_ma(self) -> Steps:
        """What all LEDs take from this supply when fresh, with nothing else on it, as they are
        wired; where none is described, as the file says. [mA]
        """
        groups = self.prop.sequence.groups
        if not self.circuits:
            return self._sum_of(
                group_current_ma(groups[name], lit) for name, lit in self.light.steps.items()
            )
        loads = (self.circuits[name].load(lit) for name, lit in self.light.steps.items())
        taken_ma = (1000 * np.asarray(load.at(self.fresh_v)[0]) for load in loads)
        return self._sum_of(replace(self._steady(0.0), values=values) for values in taken_ma)

    @cached_property
    def regulated_ma(self) -> Steps:
        """What the regulator gives over time; zero where there is none. [mA]"""
        sequence = self.prop.sequence
        nothing = self._steady(0.0)
        if regulation(sequence) is None or self.supply is None:
            return nothing
        lights = self._sum_of(
            self.circuits[name].current_ma(lit)
            for name, lit in self.light.steps.items()
            if self.circuits[name].regulator
        )
        board_ma = sequence.board.current_ma if before("board", sequence) else 0.0
        sound = self.sound.current_ma if before("amplifier", sequence) else nothing
        return total({"light": lights, "sound": sound, "board": self._steady(board_ma)})

    @cached_property
    def draw(self) -> Draw:
        """Mean and peak current, charge and energy."""
        return draw(self.current_ma, self.fresh_v)

    def string_ma(self, group: str) -> dict[str, float | None]:
        """Current of a string of a group at the freshest supply: lit, on average, and its
        effective value, which pulses make more than the mean. [mA]
        """
        lit = self.light.steps[group].mean()
        taken_ma = self.circuits[group].fresh_ma
        if taken_ma is None:
            return {"lit_ma": None, "mean_ma": None, "rms_ma": None}
        lit_ma = taken_ma.typical
        return {"lit_ma": lit_ma, "mean_ma": lit * lit_ma, "rms_ma": float(np.sqrt(lit)) * lit_ma}

    def _steady(self, current_ma: float) -> Steps:
        return Steps(np.zeros(1), np.full(1, current_ma), self.duration_s)

    def _sum_of(self, parts: Iterable[Steps]) -> Steps:
        """Sum of currents at the times at which lights change."""
        nothing = np.zeros(self.light.times_s.shape)
        return Steps(
            self.light.times_s, sum((part.values for part in parts), start=nothing), self.duration_s
        )

    def _from_supply(self, current_ma: Steps, regulator: Regulation | None) -> Steps:
        """What a current behind a regulator takes from the fresh supply. [mA]"""
        if regulator:
            return replace(current_ma, values=current_ma.values * regulator.ratio(self.fresh_v))
        return current_ma


def pulsed_v(load: SupplyLoad) -> Estimate | None:
    """The lowest rail within a pulse; None where a capacitor without resistance makes a mean of
    pulses, where nothing is fed, or where all at once would do no harm.
    """
    sequence = load.prop.sequence
    supply = load.supply
    period_s = 1 / sequence.board.dimming_hz if sequence.board.dimming_hz else 0.0
    if supply is None:
        return None
    mean_v = load.rail.lowest if is_smoothed(supply, period_s) else None
    if mean_v is not None and (supply.bulk_capacitor_ohm == 0 or np.isnan(mean_v.low)):
        return None
    diode = changeover_diode(sequence)
    sound_a = load.sound.current_ma.values / 1000
    once = np.zeros(1)
    most = Steps(np.zeros(1), np.ones(1), 1.0)
    _, _, everything = played_load(
        sequence, load.circuits, dict.fromkeys(load.circuits, most), once, 1.0
    )
    loudest = amplifier_load(sequence, sound_a.max(initial=0.0), load.fresh_v)
    if pulsed_rail(supply, everything + loudest, diode, mean_v).low >= load.stops_at_v:
        return None
    _, block, lights = played_load(
        sequence,
        load.circuits,
        load.light.within_pulses,
        load.sound.current_ma.times_s,
        load.duration_s,
    )
    sound = load.amplifier_in(np.arange(sound_a.size)).part(block)
    return pulsed_rail(supply, lights + sound, diode, mean_v)
