"""What checks are put to: the clips, groups, supplies and sounds of a prop as it is described,
and of a run of it.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from fxseq.acoustics import LevelReport
from fxseq.checks.check import Scope
from fxseq.clips import PreparedClip
from fxseq.clips.measured import FULL_SCALE, Measured
from fxseq.clips.shaping import amplitude, level_db
from fxseq.hazards import Exposure, Flashes, FlashReport
from fxseq.power import Circuit, SupplyLine, supply_lines
from fxseq.runs import Performance, Prop
from fxseq.runs.supply_load import SupplyLoad
from fxseq.runs.wiring import loudest_ma
from fxseq.sequence import Speaker
from fxseq.sequence import model as m

SILENT_DBFS = -70
"""Peak of a clip that counts as silent. Common practice, no source."""


# ---- as it is described ----


@dataclass(frozen=True, eq=False)
class Described:
    """A prop as its file describes it. circuits: of its groups; empty where no supply is
    described.
    """

    sequence: m.Sequence
    circuits: Mapping[str, Circuit]


@dataclass(frozen=True, eq=False)
class ClipSeen:
    """A clip of the file, and what became of it.

    gain_db: the most with which an effect plays it.
    """

    clip: m.Clip
    board: m.Board
    prepared: PreparedClip
    gain_db: float = 0.0

    @property
    def subject(self) -> str:
        """As the maker named it."""
        return f"clip '{self.prepared.name}'"

    @property
    def measured(self) -> Measured:
        """Its numbers."""
        return self.prepared.measured

    @property
    def is_silent(self) -> bool:
        """Whether nothing of it is heard."""
        return self.measured.peak <= FULL_SCALE * amplitude(SILENT_DBFS)


@dataclass(frozen=True, eq=False)
class WiredGroup:
    """A group as it is wired."""

    name: str
    circuit: Circuit
    sequence: m.Sequence

    @property
    def subject(self) -> str:
        """As the maker named it."""
        return f"group '{self.name}'"


@dataclass(frozen=True, eq=False)
class Supplied:
    """A supply of the file."""

    name: str
    supply: m.Supply
    sequence: m.Sequence

    @property
    def subject(self) -> str:
        """As the maker named it."""
        return f"supply '{self.name}'"


@dataclass(frozen=True, eq=False)
class TimedEffect:
    """An effect, whose sounds and lights have their times."""

    prop: Prop
    name: str


@dataclass(frozen=True, eq=False)
class TimedTrigger:
    """A trigger, whose effects take their times to sound."""

    prop: Prop
    name: str
    trigger: m.Trigger


@dataclass(frozen=True, eq=False)
class Dimming:
    """How LEDs are dimmed: frequency, depth of the flicker, 100 % where the light goes fully dark,
    and the ready-made board that does it.
    """

    frequency_hz: float
    depth_percent: float = 100.0
    part: str | None = None


def clips_seen(sequence: m.Sequence, clips: Mapping[str, PreparedClip]) -> list[ClipSeen]:
    """Clips beside what the file says of them."""
    return [
        ClipSeen(sequence.clips[name], sequence.board, prepared, _most_gain_db(sequence, name))
        for name, prepared in clips.items()
    ]


def _most_gain_db(sequence: m.Sequence, clip: str) -> float:
    """The most with which an effect plays a clip, by chance included; 0 where none does. [dB]"""
    gains_db = (
        sound.gain_db + level_db(1 + effect.gain_spread_percent / 100)
        for effect in sequence.effects.values()
        for sound in effect.sounds
        if sound.clip == clip
    )
    return max(gains_db, default=0.0)


def _described(prop: Prop | Described) -> list[Described]:
    return [Described(prop.sequence, prop.circuits)]


def _groups(prop: Prop | Described) -> Iterator[WiredGroup]:
    return (WiredGroup(name, circuit, prop.sequence) for name, circuit in prop.circuits.items())


def _supplies(prop: Prop | Described) -> Iterator[Supplied]:
    return (
        Supplied(name, supply, prop.sequence) for name, supply in prop.sequence.supplies.items()
    )


def _lines(prop: Prop | Described) -> tuple[SupplyLine, ...]:
    return supply_lines(prop.sequence, prop.circuits, loudest_ma(prop.sequence))


def _speaker(prop: Prop | Described) -> list[Speaker]:
    if not prop.sequence.speaker:
        return []
    return [prop.sequence.speaker]


def _dimming(prop: Prop | Described) -> list[Dimming]:
    board = prop.sequence.board
    if prop.sequence.groups and board.dimming_hz is not None:
        return [Dimming(board.dimming_hz, part=board.part)]
    return []


PROP = Scope[Prop, Prop](lambda prop: [prop])
CLIP = Scope[Prop, ClipSeen](lambda prop: clips_seen(prop.sequence, prop.clips))
EFFECT = Scope[Prop, TimedEffect](
    lambda prop: [TimedEffect(prop, name) for name in prop.compiled.names.effects]
)
TRIGGER = Scope[Prop, TimedTrigger](
    lambda prop: [
        TimedTrigger(prop, name, trigger) for name, trigger in prop.sequence.triggers.items()
    ]
)
FILE = Scope[Prop | Described, Described](_described)
WIRING = Scope[Prop | Described, Described](_described)
"""As FILE, of what stands on the wiring sheet."""
GROUP = Scope[Prop | Described, WiredGroup](_groups)
SUPPLY = Scope[Prop | Described, Supplied](_supplies)
LINE = Scope[Prop | Described, SupplyLine](_lines)
SPEAKER = Scope[Prop | Described, Speaker](_speaker)
DIMMING = Scope[Prop | Described, Dimming](_dimming)


# ---- as it is played ----


@dataclass(frozen=True, eq=False)
class Fed:
    """The supply that a run has."""

    name: str
    supply: m.Supply
    run: Performance

    @property
    def subject(self) -> str:
        """As the maker named it."""
        return f"supply '{self.name}'"

    @property
    def sequence(self) -> m.Sequence:
        """The file's description."""
        return self.run.prop.sequence

    @property
    def load(self) -> SupplyLoad:
        """What the run takes of it."""
        return self.run.load


@dataclass(frozen=True, eq=False)
class Loudness:
    """How loud something is, and the speaker that it asks it of."""

    levels: LevelReport
    speaker: Speaker


@dataclass(frozen=True, eq=False)
class Flashing:
    """A light of a run, of one group or of all together.

    area_m2: of the faces of its LEDs. eyes_m: distance of each kind of eyes. [m]
    """

    subject: str
    flashes: Flashes
    area_m2: float
    eyes_m: Mapping[str, float]


def _fed(run: Performance) -> list[Fed]:
    if not run.supply:
        return []
    return [Fed(*run.supply, run)]


def _sounding(run: Performance) -> list[Loudness]:
    if run.heard.levels and run.prop.sequence.speaker:
        return [Loudness(run.heard.levels, run.prop.sequence.speaker)]
    return []


def _loudest(run: Performance) -> list[Loudness]:
    if not run.sound.is_described:
        return []
    return [Loudness(run.heard.loudest, run.prop.sequence.speaker)]


def exposures(levels: LevelReport, listening: m.Listening) -> list[Exposure]:
    """What each place hears, for as long a day as the file says."""
    return [
        Exposure(
            place,
            at.distance_m,
            at.laeq_db,
            at.lafmax_db,
            at.lcpeak_db,
            levels.uncertainty_db,
            listening.hours_a_day,
        )
        for place, at in levels.at.items()
    ]


def _exposures(run: Performance) -> list[Exposure]:
    if not run.sound.is_described:
        return []
    return exposures(run.heard.loudest, run.prop.sequence.listening)


def _audible(run: Performance) -> list[Exposure]:
    return [exposure for exposure in _exposures(run) if math.isfinite(exposure.level_dba)]


def nearest(heard: Iterable[Exposure]) -> Exposure:
    """That of the nearest place."""
    return min(heard, key=lambda exposure: exposure.distance_m)


def lights(report: FlashReport, eyes_m: Mapping[str, float]) -> list[Flashing]:
    """All groups together, then each."""
    together = Flashing(
        "all groups together", report.together, sum(report.area_m2.values()), eyes_m
    )
    return [
        together,
        *(
            Flashing(f"group '{name}'", flashes, report.area_m2[name], eyes_m)
            for name, flashes in report.alone.items()
        ),
    ]


def _lights(run: Performance) -> list[Flashing]:
    listening = run.prop.sequence.listening
    return lights(run.flashes, {"hand": listening.hand_m, "audience": listening.audience_m})


RUN = Scope[Performance, Performance](lambda run: [run], played=True)
FED = Scope[Performance, Fed](_fed, played=True)
SOUNDING = Scope[Performance, Loudness](_sounding, played=True)
"""With what is left of the supply."""
LOUDEST = Scope[Performance, Loudness](_loudest, played=True)
"""With the freshest supply, which asks most of the speaker."""
EXPOSURE = Scope[Performance, Exposure](_audible, played=True)
NEAREST = Scope[Performance, Exposure](
    lambda run: [nearest(_exposures(run))] if run.sound.is_described else [], played=True
)
FLASHING = Scope[Performance, Flashing](_lights, played=True)
LASTING = Scope[Performance, Flashing](_lights, played=True)
"""As FLASHING, of what takes longer than a second."""
