"""One run of a prop: what the player put out, and what physics makes of it."""

import math
from dataclasses import dataclass
from functools import cached_property

from fxseq.hazards import Channels, FlashReport, flash_report
from fxseq.player import Played, Player, Script, TraceEvent, TraceKind
from fxseq.power import RunTime
from fxseq.runs.day import day_run_time
from fxseq.runs.heard import Heard
from fxseq.runs.light import Light
from fxseq.runs.onset import lead_in_ms
from fxseq.runs.prop import Prop
from fxseq.runs.sound import Sound
from fxseq.runs.supply_load import SupplyLoad
from fxseq.sequence import model as m


@dataclass(frozen=True)
class Shot:
    """One shot of a trigger, by its time. [s]"""

    at_s: float
    trigger: str


@dataclass(frozen=True, eq=False)
class Performance:
    """A press script played on a prop. supply: name and part that it ran from, None where the
    file has none.
    """

    prop: Prop
    script: Script
    played: Played
    supply: tuple[str, m.Supply] | None

    @property
    def rate_hz(self) -> int:
        """Samples a second."""
        return self.prop.compiled.table.sample_rate_hz

    @property
    def duration_s(self) -> float:
        """How long it is."""
        return (
            self.played.until_frame - self.played.first_frame
        ) / self.prop.compiled.table.frame_rate_hz

    @cached_property
    def light(self) -> Light:
        """How much of its full light each group gives."""
        return Light(self.prop.compiled, self.played)

    @cached_property
    def sound(self) -> Sound:
        """What the amplifier makes of the samples."""
        return Sound(self.prop, self.played, self.supply and self.supply[1])

    @cached_property
    def load(self) -> SupplyLoad:
        """What it takes from its supply at whatever voltage is left, moment by moment."""
        return SupplyLoad(
            self.prop,
            self.light,
            self.sound,
            self.supply and self.supply[1],
            self.duration_s,
        )

    @cached_property
    def heard(self) -> Heard:
        """How loud it is, with what is left of the supply."""
        return Heard(self.sound, self.load)

    @cached_property
    def flashes(self) -> FlashReport:
        """Flashes a second, of all groups together and of each."""
        light = self.light
        channels = Channels(
            light.tracks,
            light.full_duty,
            self.played.first_frame,
            self.prop.compiled.table.frame_rate_hz,
        )
        return flash_report(light.times_s, light.lit, self.prop.sequence.groups, channels)

    @cached_property
    def run_time(self) -> RunTime | None:
        """How long the cells last on the day of the file; None where it describes none, or where
        it does not run from cells.
        """
        return day_run_time(self.load, self.script, lambda seconds: self.left_alone(seconds).load)

    def left_alone(self, duration_s: float) -> "Performance":
        """This prop from power-up on, with nothing pressed."""
        frames = math.ceil(duration_s * self.prop.compiled.table.frame_rate_hz)
        return Performance(
            self.prop,
            Script([], frames),
            Player(self.prop.compiled.table).play([], frames),
            self.supply,
        )

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
        return [
            Shot(self.seconds(event.frame), names[event.index])
            for event in self.events(TraceKind.SHOT)
        ]

    @cached_property
    def delays_ms(self) -> list[float]:
        """For each press that makes a sound at once: the most time until its first sample is heard.
        [ms]

        A press waits up to one frame to be noticed; then the clip's own lead-in counts. What an
        amplifier or a board's output buffer adds is not known here.
        """
        frame_ms = 1000 / self.prop.compiled.table.frame_rate_hz
        lead_ins_ms = [lead_in_ms(self.prop.clips[name]) for name in self.prop.compiled.names.clips]
        pressed = {event.frame for event in self.events(TraceKind.PRESS)}
        waits_ms: dict[int, list[float]] = {}
        for event in self.events(TraceKind.SOUND):
            if event.frame in pressed:
                waits_ms.setdefault(event.frame, []).append(lead_ins_ms[event.value])
        return [frame_ms + min(waits) for waits in waits_ms.values()]


def perform(prop: Prop, script: Script, supply: str | None = None) -> Performance:
    """Play a press script from power-up. supply: name of the supply it runs from; the file's
    first unless given.
    """
    source = prop.supply(supply)
    return Performance(
        prop, script, Player(prop.compiled.table).play(script.presses, script.until_frame), source
    )
