"""A table as integers: what the bytes say, field by field, in the units of the player (frames,
samples, Q formats).

Ranges and meanings are those of firmware_spec/SPEC.md, section 3; `encode` relies on them and
`decode` enforces them.
"""

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from itertools import accumulate

from fxseq import clips
from fxseq.light import FadeCurve

RUNNING_EFFECTS = 12
"""Effects and staggered fades that can be under way at once (SPEC 5.5)."""


class VoiceRule(IntEnum):
    """Which voice is cut when all are sounding."""

    OLDEST = 0
    QUIETEST = 1
    SAME_CLIP = 2


class InputKind(IntEnum):
    """What drives an input."""

    BUTTON = 0
    LOW_BATTERY = 1


class Merge(IntEnum):
    """How the ambient and the effect layer of a group become one level."""

    HIGHEST = 0
    LATEST = 1


class Coding(IntEnum):
    """How a clip's samples are stored."""

    PCM16 = 0
    MULAW = 1
    IMA_ADPCM = 2
    QOA = 3
    LPC_RICE = 4

    @property
    def text(self) -> clips.Coding:
        """Its name in a prop file."""
        return self.name.lower()  # type: ignore[return-value]


class Mode(IntEnum):
    """How a trigger answers its input."""

    ONCE = 0
    REPEAT = 1
    WHILE_HELD = 2
    ON_OFF = 3
    ALWAYS = 4

    @property
    def stays(self) -> bool:
        """Whether the mode goes on until let go (begin, during, end), rather than firing shots."""
        return self >= Mode.WHILE_HELD


@dataclass(frozen=True)
class InputRecord:
    """A switch; edges within `lockout` frames of an accepted one are bounce."""

    kind: InputKind
    lockout: int


@dataclass(frozen=True)
class SelectorRecord:
    """A switch with `positions`, at `start` on power-up."""

    positions: int
    start: int


@dataclass(frozen=True)
class CounterRecord:
    """A number 0..`maximum`, at `start` on power-up."""

    maximum: int
    start: int


@dataclass(frozen=True)
class GroupRecord:
    """`channels` channels from `first` on; `gauge` names the counter whose value is its ambient
    layer.
    """

    first: int
    channels: int
    merge: Merge
    gauge: int | None = None


@dataclass(frozen=True)
class ClipRecord:
    """`samples` samples in `coding`, advancing `step` / 65536 samples of the clip per sample of the
    board.

    loop_start: a held sound runs to the last sample and goes on from here; None for a clip without
    a loop.
    """

    coding: Coding
    step: int
    samples: int
    data: bytes
    loop_start: int | None = None


@dataclass(frozen=True)
class PlayClip:
    """At frame `at` of the effect, sound `clip` with `gain` / 4096; `release` is None for a clip
    that plays once, else frames to silence.
    """

    at: int
    clip: int
    gain: int
    release: int | None = None


@dataclass(frozen=True)
class StartFade:
    """At frame `at` of the effect, start curve `fade` on `group`, `stagger` frames later on each
    next channel (negative: from the last).
    """

    at: int
    group: int
    fade: int
    stagger: int = 0
    ambient: bool = False


@dataclass(frozen=True)
class ChangeCount:
    """At frame `at` of the effect, add `change` to `counter`, which stays within 0 and its
    maximum.
    """

    at: int
    counter: int
    change: int


Step = PlayClip | StartFade | ChangeCount


@dataclass(frozen=True)
class EffectRecord:
    """Steps in order of time. `length`: frames after which a held effect starts over, 0 for never.

    pitch_spread: in 1/1024 of the pitch, either way. gain_spread: in 1/256 of the gain, either way.
    """

    steps: tuple[PlayClip | StartFade | ChangeCount, ...]
    length: int = 0
    pitch_spread: int = 0
    gain_spread: int = 0


@dataclass(frozen=True)
class Shots:
    """Effects that a once or repeat trigger fires. Periods in 1/256 frame; `period` 0 for once.

    first: from the first shot to the second, 0 for `period`. limit: 0 for none. ramp_shots: shots
    over which the period goes to ramp_period.
    """

    effects: tuple[int, ...]
    random: bool = False
    period: int = 0
    first: int = 0
    burst: int = 1
    limit: int = 0
    ramp_shots: int = 0
    ramp_period: int = 0


@dataclass(frozen=True)
class Stay:
    """Effects of a trigger that stays on: at its begin, while it lasts, and at its end."""

    begin: int | None = None
    during: int | None = None
    end: int | None = None


@dataclass(frozen=True)
class TriggerRecord:
    """conditions: (selector, bit mask of positions). needs: counter that must be above zero,
    else effect `empty`. input: None for always.
    """

    mode: Mode
    action: Shots | Stay
    input: int | None = None
    hold: int = 0
    conditions: tuple[tuple[int, int], ...] = ()
    needs: int | None = None
    empty: int | None = None


class Use(IntEnum):
    """What a pin of the board is for (SPEC 3.10)."""

    LIGHTS = 0
    SHIFT_REGISTERS = 1
    DRIVERS = 2
    CONTACT = 3
    CELLS = 4
    POSITION = 5
    CODED = 6
    VOLUME = 7
    I2S = 8
    PWM = 9
    AMPLIFIER = 10
    COUNTS = 11
    """No pin: the board is to count (LINK 8)."""


@dataclass(frozen=True)
class JointRecord:
    """What a pin of the board, or those from it on, leads to. `value` depends on the use."""

    use: Use
    what: int
    pin: int
    value: int = 0


@dataclass(frozen=True)
class Table:
    """Everything a player needs. light_mask: 0, 1, 3 or 7; a channel that moves is looked at
    in every frame, or in every 2nd, 4th or 8th (SPEC 6.2). names: as they stand behind the clip
    data, for people only (3.11).
    """

    sample_rate_hz: int
    samples_per_frame: int
    channels: int
    pwm_bits: int
    voices: int
    voice_rule: VoiceRule
    light_mask: int
    seed: int
    inputs: tuple[InputRecord, ...] = ()
    selectors: tuple[SelectorRecord, ...] = ()
    counters: tuple[CounterRecord, ...] = ()
    groups: tuple[GroupRecord, ...] = ()
    fades: tuple[FadeCurve, ...] = ()
    clips: tuple[ClipRecord, ...] = ()
    effects: tuple[EffectRecord, ...] = ()
    triggers: tuple[TriggerRecord, ...] = ()
    joints: tuple[JointRecord, ...] = ()
    names: bytes = b""

    @cached_property
    def fade_places(self) -> tuple[int, ...]:
        """Place of the first segment of each fade among all segments, by which a fade is named
        in the bytes and the trace.
        """
        ends = accumulate((len(fade.segments) for fade in self.fades), initial=0)
        return tuple(ends)[: len(self.fades)]

    @property
    def asks_for_counts(self) -> bool:
        """Whether the board is to count while it plays this."""
        return any(joint.use == Use.COUNTS for joint in self.joints)

    @property
    def frame_rate_hz(self) -> float:
        """Frames a second."""
        return self.sample_rate_hz / self.samples_per_frame
