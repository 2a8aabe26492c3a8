"""One run of a prop: what the player put out, and what physics makes of it."""
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics import LevelReport, amplifier_heat_w, clipping_voltage_v, level_report, output_voltage_v, pressure_pa, supply_current_a
from fxseq.hazards import Channels, FlashReport, compared, flash_report, harmless_for
from fxseq.player import DutyTrack, Played, Player, Script, TraceEvent, TraceKind
from fxseq.power import (
    Circuit, Draw, PlayedRail, Regulation, RunTime, Steps, align, before, board_load, draw, fresh_v, group_current_ma, lit_share, needed_v, regulation,
    steps_of_blocks, stops_at_v, total, voltages_of,
)
from fxseq.runs.day import day_run_time
from fxseq.runs.onset import lead_in_ms
from fxseq.runs.prop import Prop
from fxseq.runs.supply_load import SupplyLoad
from fxseq.sequence import model as m


@dataclass(frozen=True)
class Shot:
    """One shot of a trigger, by its time. [s]"""

    at_s: float
    trigger: str


@dataclass(frozen=True, eq=False)
class Performance:
    """A press script played on a prop. supply: name and part that it ran from, None where the file has none."""

    prop: Prop
    script: Script
    played: Played
    supply: tuple[str, m.Supply] | None

    @property
    def rate_hz(self) -> int:
        """Samples a second."""
        return self.prop.compiled.table.sample_rate_hz

    @cached_property
    def duration_s(self) -> float:
        """How long it is."""
        return (self.played.until_frame - self.played.first_frame) / self.prop.compiled.table.frame_rate_hz

    @cached_property
    def _aligned(self) -> tuple[NDArray[np.float64], dict[str, NDArray[np.float64]]]:
        light = self._shares(self.played.light)
        return align(light) if light else (np.zeros(1), {})

    def _shares(self, tracks: Sequence[DutyTrack]) -> dict[str, Steps]:
        """Of each group the share of its full light over time, by the duties of its channels."""
        table, played = self.prop.compiled.table, self.played
        full = (1 << table.pwm_bits) - 1
        return {
            name: lit_share(of_group, full, played.first_frame, played.until_frame, table.frame_rate_hz)
            for name, of_group in self._by_group(tracks).items()
        }

    @property
    def tracks(self) -> dict[str, Sequence[DutyTrack]]:
        """Duty of the channels of each group, one track a channel; channels that are alike may have one and the same."""
        return self._by_group(self.played.light)

    def _by_group(self, tracks: Sequence[DutyTrack]) -> dict[str, Sequence[DutyTrack]]:
        """Tracks of all channels, sorted by group."""
        groups = zip(self.prop.compiled.names.groups, self.prop.compiled.table.groups, strict=True)
        return {name: tracks[group.first:group.first + group.channels] for name, group in groups}

    @cached_property
    def light_of(self) -> dict[str, Steps]:
        """Of each group the share of its full light over time, 0..1, all at the same times."""
        return {name: Steps(self.light_times_s, lit, self.duration_s) for name, lit in self.lit.items()}

    @property
    def light_on_of(self) -> dict[str, Steps]:
        """Of each group the share of its channels over time, 0..1, that are lit at all, as they are within a pulse of the dimming."""
        full = (1 << self.prop.compiled.table.pwm_bits) - 1
        distinct = {id(track): _when_on(track, full) for track in self.played.light}
        return self._shares([distinct[id(track)] for track in self.played.light])

    @property
    def light_times_s(self) -> NDArray[np.float64]:
        """Times at which some group's light changes, from 0, shape (n,). [s]"""
        return self._aligned[0]

    @property
    def lit(self) -> dict[str, NDArray[np.float64]]:
        """Of each group the share of its full light, 0..1, from each of `light_times_s` on."""
        return self._aligned[1]

    @property
    def fresh_v(self) -> float:
        """Voltage of the supply when fresh, with nothing on it; 0 where none is described. [V]"""
        return fresh_v(self.supply[1]).typical if self.supply else 0.0

    @property
    def amplifier_fresh_v(self) -> float:
        """Voltage that feeds the amplifier when the supply is fresh, with nothing on it; 0 where none is described. [V]"""
        regulator = before("amplifier", self.prop.sequence)
        return regulator.output_v if regulator and self.supply else self.fresh_v

    @property
    def stops_at_v(self) -> float:
        """Rail at which the prop stops; 0 where nothing says so. [V]"""
        return stops_at_v(self.supply[1], self.prop.sequence) if self.supply else 0.0

    @cached_property
    def _steady_volts(self) -> NDArray[np.float32] | None:
        """Voltage at the speaker as if the amplifier's feed stayed as it is when fresh; None where amplifier or supply is not described. [V]"""
        return self.amplifier_volts(self.amplifier_fresh_v)[0] if self.prop.sequence.amplifier and self.supply else None

    def amplifier_volts(self, supply_v: ArrayLike, part: slice | NDArray[np.int64] = slice(None)) -> tuple[NDArray[np.float32], float]:
        """Voltage at the speaker over a part of the samples, and the share of them that clips; supply_v: one voltage, or one a sample of it. [V]"""
        sequence = self.prop.sequence
        load_ohm = sequence.speaker.impedance_ohm if sequence.speaker else math.inf
        return output_voltage_v(self.played.samples[part], sequence.amplifier, supply_v, load_ohm, sequence.board.sound_bits)

    @cached_property
    def amplifier_supply_v(self) -> NDArray[np.float64]:
        """Voltage that feeds the amplifier: one a sample, or a single one, the lowest, where nothing clips at it. Needs amplifier and supply. [V]"""
        rail, regulator = self.rail.volts, before("amplifier", self.prop.sequence)
        volts = regulator.given_v(rail.values) if regulator else np.nan_to_num(rail.values)
        lowest_v = volts.min()
        if not self.clips_at(lowest_v):
            return np.asarray(lowest_v)
        begins = np.round(rail.times_s * self.rate_hz).astype(np.int64)
        return np.repeat(volts, np.diff(begins, append=len(self.played.samples)))

    def clips_at(self, supply_v: float) -> bool:
        """Whether the amplifier clips anywhere at this voltage. Needs amplifier and supply."""
        amplifier, speaker = self.prop.sequence.amplifier, self.prop.sequence.speaker
        clips_at_v = clipping_voltage_v(amplifier, supply_v, speaker.impedance_ohm if speaker else math.inf)
        return bool(self._steady_peak_v > clips_at_v)

    @cached_property
    def _steady_peak_v(self) -> float:
        return float(np.abs(self._steady_volts).max(initial=0.0))

    @cached_property
    def volts(self) -> NDArray[np.float32] | None:
        """Voltage at the speaker with what is left of the supply, one a sample; None where amplifier or supply is not described. [V]"""
        if self._steady_volts is None:
            return None
        return self._steady_volts if self.amplifier_supply_v.ndim == 0 else self.amplifier_volts(self.amplifier_supply_v)[0]

    @cached_property
    def levels(self) -> LevelReport | None:
        """How loud it is; None where amplifier, speaker or supply is not described."""
        sequence = self.prop.sequence
        described = sequence.amplifier and sequence.speaker and self.supply
        return self.levels_on(self.amplifier_supply_v) if described else None

    @property
    def loud_in_words(self) -> dict[str, tuple[str, str]]:
        """Of each place what its loudest moment is about as loud as, and for how long a day ears stand it all; silent places are left out."""
        if self.levels is None:
            return {}
        return {name: (compared(at.lafmax_db), harmless_for(at.laeq_db + self.levels.uncertainty_db))
                for name, at in self.levels.at.items() if math.isfinite(at.laeq_db)}

    def levels_on(self, supply_v: ArrayLike, part: slice = slice(None)) -> LevelReport:
        """How loud a part of the samples is with this voltage at the amplifier: one, or one a sample of it. Needs amplifier and speaker. [V]"""
        sequence = self.prop.sequence
        places_m = {"hand": sequence.listening.hand_m, "audience": sequence.listening.audience_m}
        return level_report(
            self.played.samples[part], self.rate_hz, sequence.amplifier, sequence.speaker, places_m, supply_v,
            sequence.listening.space, sequence.board.sound_bits)

    def heard_pa(self, distance_m: float) -> NDArray[np.float32] | None:
        """Sound pressure at a distance, one a sample; None as for `levels`. [Pa]"""
        speaker = self.prop.sequence.speaker
        if self.volts is None or speaker is None:
            return None
        return pressure_pa(self.volts, self.rate_hz, speaker, distance_m, self.prop.sequence.listening.space)

    @cached_property
    def flashes(self) -> FlashReport:
        """Flashes a second, of all groups together and of each."""
        table, played = self.prop.compiled.table, self.played
        channels = Channels(self.tracks, (1 << table.pwm_bits) - 1, played.first_frame, table.frame_rate_hz)
        return flash_report(self.light_times_s, self.lit, self.prop.sequence.groups, channels)

    @cached_property
    def light_ma(self) -> Steps:
        """What all LEDs take from this supply when fresh, with nothing else on it, as they are wired; where none is
        described, as the file says. [mA]
        """
        groups, wired = self.prop.sequence.groups, self.circuits
        if not wired:
            return self._sum_of(group_current_ma(groups[name], lit) for name, lit in self.light_of.items())
        loads = (wired[name].load(lit) for name, lit in self.light_of.items())
        taken_ma = (1000 * np.asarray(load.at(self.fresh_v)[0]) for load in loads)
        return self._sum_of(replace(self._nothing, values=values) for values in taken_ma)

    def _sum_of(self, parts: Iterable[Steps]) -> Steps:
        """Of currents at the times at which lights change."""
        return Steps(self.light_times_s, sum((part.values for part in parts), start=np.zeros(self.light_times_s.shape)), self.duration_s)

    def _from_supply(self, current_ma: Steps, regulator: Regulation | None) -> Steps:
        """What a current behind a regulator takes from the fresh supply. [mA]"""
        return replace(current_ma, values=current_ma.values * regulator.ratio(self.fresh_v)) if regulator else current_ma

    @property
    def _nothing(self) -> Steps:
        return Steps(np.zeros(1), np.zeros(1), self.duration_s)

    @cached_property
    def sound_ma(self) -> Steps:
        """Current of the amplifier at its feed when the supply is fresh, frame by frame; zero where it is not described. [mA]"""
        if not self.sounds:
            return self._nothing
        sequence, table = self.prop.sequence, self.prop.compiled.table
        current_a = supply_current_a(self._steady_volts, sequence.speaker, sequence.amplifier, self.amplifier_fresh_v, table.samples_per_frame)
        return steps_of_blocks(current_a * 1000, 1 / table.frame_rate_hz, self.duration_s)

    @property
    def amplifier_heat_w(self) -> Steps:
        """Heat in the amplifier at its feed when the supply is fresh, frame by frame. Needs amplifier, speaker and supply. [W]"""
        sequence, table = self.prop.sequence, self.prop.compiled.table
        heat_w = amplifier_heat_w(self._steady_volts, sequence.speaker, sequence.amplifier, self.amplifier_fresh_v, table.samples_per_frame)
        return steps_of_blocks(heat_w, 1 / table.frame_rate_hz, self.duration_s)

    @property
    def sounds(self) -> bool:
        """Whether amplifier, speaker and supply are described."""
        return bool(self.prop.sequence.amplifier and self.prop.sequence.speaker and self.supply)

    @cached_property
    def current_ma(self) -> Steps:
        """What LEDs, amplifier, board and regulator take from the fresh supply over time, with the voltage that it keeps. [mA]"""
        return self.feed.given_ma or self.unsagged_ma

    @property
    def unsagged_ma(self) -> Steps:
        """The same with the voltage of the fresh supply with nothing on, without any diode, as the bench follows it
        while it plays. [mA]
        """
        sequence = self.prop.sequence
        board_ma = 1000 * float(board_load(sequence).at(self.fresh_v)[0]) if self.supply else sequence.board.current_ma
        board = Steps(np.zeros(1), np.full(1, board_ma), self.duration_s)
        return total({"light": self.light_ma, "sound": self._from_supply(self.sound_ma, before("amplifier", sequence)), "board": board})

    @cached_property
    def regulated_ma(self) -> Steps:
        """What the regulator gives over time; zero where there is none. [mA]"""
        sequence, nothing = self.prop.sequence, self._nothing
        if regulation(sequence) is None or self.supply is None:
            return nothing
        lights = self._sum_of(self.circuits[name].current_ma(lit) for name, lit in self.light_of.items() if self.circuits[name].regulator)
        board_ma = sequence.board.current_ma if before("board", sequence) else 0.0
        board = Steps(np.zeros(1), np.full(1, board_ma), self.duration_s)
        return total({"light": lights, "sound": self.sound_ma if before("amplifier", sequence) else nothing, "board": board})

    @property
    def circuits(self) -> dict[str, Circuit]:
        """How each group is wired; empty where no supply is described."""
        return self.prop.circuits

    @cached_property
    def feed(self) -> SupplyLoad:
        """What it takes from its supply at whatever voltage is left, moment by moment."""
        return SupplyLoad(self)

    @property
    def rail(self) -> PlayedRail | None:
        """What is left of the supply's voltage over time; None where no supply is described."""
        return self.feed.rail

    @cached_property
    def run_time(self) -> RunTime | None:
        """How long the cells last on the day of the file; None where it describes none, or where it does not run from cells."""
        return day_run_time(self)

    def left_alone(self, duration_s: float) -> "Performance":
        """The same prop from power-up on, with nothing pressed."""
        frames = math.ceil(duration_s * self.prop.compiled.table.frame_rate_hz)
        return Performance(self.prop, Script([], frames), Player(self.prop.compiled.table).play([], frames), self.supply)

    @cached_property
    def draw(self) -> Draw:
        """Mean and peak current, charge and energy."""
        return draw(self.current_ma, self.fresh_v)

    @property
    def flat_peak_ma(self) -> float:
        """Highest current at the lowest voltage with which the prop works, where converters and class D amplifiers take most. Needs a supply. [mA]"""
        flat_v = voltages_of(self.supply[1], needed_v(self.prop.sequence)).flat_v
        return 1000 * float(np.max(self.feed.heaviest.at(flat_v)[0]))

    def events(self, *kinds: TraceKind) -> list[TraceEvent]:
        """Trace events of these kinds."""
        return [event for event in self.played.trace if event.kind in kinds]

    def seconds(self, frame: int) -> float:
        """Time of a frame. [s]"""
        return frame / self.prop.compiled.table.frame_rate_hz

    @cached_property
    def shots(self) -> list[Shot]:
        """Shots of all triggers, in order."""
        names = self.prop.compiled.names.triggers
        return [Shot(self.seconds(event.frame), names[event.index]) for event in self.events(TraceKind.SHOT)]

    @cached_property
    def delays_ms(self) -> list[float]:
        """For each press that makes a sound at once: the most time from the press to the first sample that is heard. [ms]

        A press waits up to one frame to be noticed; then the clip's own lead-in counts. What an amplifier or a board's output buffer adds
        is not known here.
        """
        frame_ms = 1000 / self.prop.compiled.table.frame_rate_hz
        pressed = {event.frame for event in self.events(TraceKind.PRESS)}
        lead_ins: dict[int, list[float]] = {}
        for event in self.events(TraceKind.SOUND):
            if event.frame in pressed:
                lead_ins.setdefault(event.frame, []).append(self._lead_ins_ms[event.value])
        return [frame_ms + min(waits) for waits in lead_ins.values()]

    @cached_property
    def _lead_ins_ms(self) -> list[float]:
        return [lead_in_ms(self.prop.clips[name]) for name in self.prop.compiled.names.clips]

    def _string(self, group: str) -> dict[str, float | None]:
        """Current of a string of a group at the freshest supply: lit, on average, and its effective value, which
        pulses make more than the mean. [mA]
        """
        lit, taken_ma = self.light_of[group].mean(), self.circuits[group].fresh_ma
        if taken_ma is None:
            return {"lit_ma": None, "mean_ma": None, "rms_ma": None}
        lit_ma = taken_ma.typical
        return {"lit_ma": lit_ma, "mean_ma": lit * lit_ma, "rms_ma": math.sqrt(lit) * lit_ma}

    def summary(self) -> dict[str, Any]:
        """The run in numbers, in plain values for `--json`."""
        table, data = self.prop.compiled.table, self.prop.compiled.data
        clip_bytes = sum(len(clip) for clip in {clip.data for clip in table.clips})
        return {
            "title": self.prop.sequence.title,
            "duration_s": self.duration_s,
            "presses": len(self.events(TraceKind.PRESS)),
            "shots": {name: sum(shot.trigger == name for shot in self.shots) for name in self.prop.compiled.names.triggers},
            "sounds": len(self.events(TraceKind.SOUND)),
            "clips": {name: sum(event.value == index for event in self.events(TraceKind.SOUND))
                      for index, name in enumerate(self.prop.compiled.names.clips)},
            "voices": {"at_most": self.played.most_voices, "available": table.voices, "cut": len(self.events(TraceKind.CUT))},
            "saturated_samples": self.played.saturated,
            "trigger_to_sound_ms": max(self.delays_ms, default=None),
            "table": {"bytes": len(data), "clip_bytes": clip_bytes, "flash_bytes": self.prop.sequence.board.flash_for_table_bytes},
            "supply": self.supply[0] if self.supply else None,
            "current": self.draw.as_dict(),
            "strings": {name: self._string(name) for name in self.circuits},
            "rail": self.rail.as_dict() if self.rail else None,
            "run_time": self.run_time.as_dict() if self.run_time else None,
            "levels": self.levels.as_dict() if self.levels else None,
            "loud_in_words": {name: {"like": like, "harmless": harmless} for name, (like, harmless) in self.loud_in_words.items()},
            "flashes": self.flashes.as_dict(),
        }


def perform(prop: Prop, script: Script, supply: str | None = None) -> Performance:
    """Play a press script from power-up. supply: name of the supply it runs from; the file's first unless given."""
    source = prop.supply(supply)
    return Performance(prop, script, Player(prop.compiled.table).play(script.presses, script.until_frame), source)


def _when_on(track: DutyTrack, full: int) -> DutyTrack:
    """The same channel at full duty wherever it is lit."""
    is_on = track.duties > 0
    changed = np.append(0, np.flatnonzero(is_on[1:] != is_on[:-1]) + 1)
    return DutyTrack(track.frames[changed], np.where(is_on[changed], full, 0))
