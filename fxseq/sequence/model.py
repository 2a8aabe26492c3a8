"""The typed description of a prop: what a sequence file may say, with units in the names.

Only single values are checked here, each against its own range. What has to agree across the file (names that must exist, channels
that must not overlap) is checked in `rules`, so that every fault of a file can be reported in one pass.
"""
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
Percent = Annotated[float, Field(ge=0, le=100)]
Milliseconds = Annotated[float, Field(ge=0, le=3_600_000)]
GainDb = Annotated[float, Field(ge=-60, le=18)]
RatePerS = Annotated[float, Field(gt=0, le=50)]
Point = tuple[float, float]


class Part(BaseModel):
    """Base of every part of a sequence: unknown keys are faults, values are never changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=False)


class Board(Part):
    """The microcontroller board: its clock, its outputs and how much it can do at once."""

    sample_rate_hz: Annotated[int, Field(ge=4000, le=48000)] = 22050
    samples_per_frame: Annotated[int, Field(ge=4, le=256)] = 21
    channels: Annotated[int, Field(ge=1, le=255)]
    pwm_bits: Annotated[int, Field(ge=8, le=16)] = 12
    voices: Annotated[int, Field(ge=1, le=16)] = 4
    when_voices_run_out: Literal["oldest", "quietest", "same_clip"] = "oldest"
    cut_ramp_ms: Annotated[float, Field(ge=0, le=50)] = 4.0
    flash_for_table_bytes: Annotated[int, Field(ge=256, le=64 * 2**20)] = 262_144
    random_seed: Annotated[int, Field(ge=1, le=2**32 - 1)] = 1


class Supply(Part):
    """One source the prop can run from."""

    kind: Literal["cells", "wall"]
    voltage_v: Annotated[float, Field(gt=0, le=60)]
    minimum_v: Annotated[float, Field(ge=0, le=60)] = 0.0
    internal_resistance_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    maximum_current_ma: Annotated[float, Field(gt=0, le=20_000)]


class Amplifier(Part):
    """The power amplifier between the board's output and the speaker."""

    kind: Literal["class_d", "class_ab"] = "class_d"
    output: Literal["bridge", "single"] = "bridge"
    gain_db: Annotated[float, Field(ge=-40, le=60)]
    full_scale_input_v: Annotated[float, Field(gt=0, le=10)]
    """Peak voltage at the amplifier's input for a full-scale sample. [V]"""
    lost_voltage_v: Annotated[float, Field(ge=0, le=10)] = 0.3
    """What the output cannot reach of the rail, summed over the output stage. [V]"""
    efficiency_percent: Annotated[float, Field(gt=0, le=100)] = 85.0
    idle_current_ma: Annotated[float, Field(ge=0, le=1000)] = 5.0


class Speaker(Part):
    """The speaker in its chamber, as a closed box: a second-order high-pass with a sensitivity."""

    diameter_mm: Annotated[float, Field(gt=5, le=500)]
    impedance_ohm: Annotated[float, Field(gt=0.5, le=600)]
    resonance_hz: Annotated[float, Field(gt=10, le=5000)]
    """Resonance in the prop's chamber, not in free air. [Hz]"""
    q_total: Annotated[float, Field(gt=0.1, le=20)] = 1.0
    sensitivity_db: Annotated[float, Field(ge=30, le=130)]
    sensitivity_power_w: Annotated[float, Field(gt=0, le=100)] = 1.0
    sensitivity_distance_m: Annotated[float, Field(gt=0, le=10)] = 1.0
    sensitivity_spread_db: Annotated[float, Field(ge=0, le=20)] = 3.0
    rated_power_w: Annotated[float, Field(gt=0, le=1000)]


class Listening(Part):
    """Where the ears are."""

    hand_m: Annotated[float, Field(ge=0.05, le=100)] = 0.5
    audience_m: Annotated[float, Field(ge=0.05, le=100)] = 4.0


class Picture(Part):
    """The plane on which LEDs are placed, and what is drawn under them."""

    width_mm: Annotated[float, Field(gt=0, le=10_000)]
    height_mm: Annotated[float, Field(gt=0, le=10_000)]
    outline_mm: list[Point] = []
    image: str | None = None


class Input(Part):
    """A switch that a hand presses, or the board's own low-battery sense."""

    kind: Literal["button", "low_battery"] = "button"
    lockout_ms: Annotated[float, Field(ge=0, le=1000)] = 20.0


class Selector(Part):
    """A switch whose position is a condition."""

    positions: Annotated[list[Name], Field(min_length=2, max_length=16)]
    start: Name | None = None
    """Position at power-up; the first one unless given."""


class Counter(Part):
    """A number that effects use up and refill."""

    maximum: Annotated[int, Field(ge=1, le=65_535)]
    start: Annotated[int, Field(ge=0, le=65_535)] | None = None
    """Value at power-up; the maximum unless given."""


class Ring(Part):
    """LEDs evenly spaced on a circle."""

    centre_mm: Point
    radius_mm: Annotated[float, Field(gt=0, le=10_000)]
    first_at_deg: float = 0.0


class Line(Part):
    """LEDs evenly spaced from one point to another."""

    from_mm: Point
    to_mm: Point


Colour = Literal["red", "orange", "amber", "yellow", "green", "cyan", "blue", "violet", "pink", "white", "warm_white"]


class Group(Part):
    """Channels that belong together, with their LEDs."""

    first_channel: Annotated[int, Field(ge=0, le=254)]
    channels: Annotated[int, Field(ge=1, le=255)] = 1
    leds: Annotated[int, Field(ge=1, le=2000)]
    size_mm: Annotated[float, Field(gt=0, le=50)] = 5.0
    colour: Colour
    forward_voltage_v: Annotated[float, Field(gt=0.5, le=60)]
    current_ma: Annotated[float, Field(gt=0, le=5000)]
    """Current of one LED at full duty. [mA]"""
    merge: Literal["highest", "latest"] = "highest"
    gauge: Name | None = None
    """Counter that this group shows: channels go out one by one as it falls."""
    places_mm: list[Point] | None = None
    ring_mm: Ring | None = None
    line_mm: Line | None = None


class Loop(Part):
    """Part of a clip that repeats while held, measured in the cut clip."""

    start_ms: Milliseconds = 0.0
    end_ms: Milliseconds | None = None


class Clip(Part):
    """A sound, cut and levelled from a sound file beside the sequence."""

    file: Annotated[str, Field(min_length=1)]
    channel: Literal["mix", "left", "right"] = "mix"
    start_ms: Milliseconds = 0.0
    end_ms: Milliseconds | None = None
    start_cue: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """Start at this cue point of the file's `cue ` chunk, counted from 1, in place of start_ms."""
    fade_in_ms: Milliseconds = 0.0
    fade_out_ms: Milliseconds = 0.0
    remove_dc: bool = False
    gain_db: GainDb = 0.0
    peak_to_dbfs: Annotated[float, Field(ge=-60, le=0)] | None = None
    rms_to_dbfs: Annotated[float, Field(ge=-60, le=0)] | None = None
    rate_hz: Annotated[int, Field(ge=2000, le=48_000)] | None = None
    """Rate in the table; the board's unless given."""
    coding: Literal["pcm16", "mulaw"] = "mulaw"
    loop: Loop | Literal["file", "whole"] | None = None
    """A loop of our own, `"file"` for the first loop of the file's `smpl` chunk, or `"whole"`."""


class Segment(Part):
    """One stretch of a fade curve, in perceived lightness."""

    shape: Literal["step", "straight", "ease", "decay", "flicker"] = "straight"
    to_percent: Percent | Literal["ambient"]
    length_ms: Milliseconds = 0.0
    low_percent: Percent | None = None
    """Flicker only: lower end of the range; `to_percent` is the upper one."""
    every_ms: Annotated[float, Field(ge=1, le=10_000)] | None = None
    """Flicker only: time between two random levels. [ms]"""


class Fade(Part):
    """How light moves: segments one after the other, from the present level unless told otherwise."""

    segments: Annotated[list[Segment], Field(min_length=1, max_length=60)]
    from_percent: Percent | None = None
    loop: bool = False


class Sound(Part):
    """A clip on an effect's timeline."""

    clip: Name
    at_ms: Milliseconds = 0.0
    gain_db: GainDb = 0.0
    loop: bool = False
    """Repeat the clip's loop until the effect is let go."""
    release_ms: Annotated[float, Field(ge=0, le=10_000)] = 40.0
    """Looped sounds only: time to fall silent when let go."""


class Light(Part):
    """A fade on an effect's timeline."""

    group: Name
    fade: Name
    at_ms: Milliseconds = 0.0
    stagger_ms: Annotated[float, Field(ge=-10_000, le=10_000)] = 0.0
    """Delay from one channel to the next along the group; negative runs from the last to the first."""


class Count(Part):
    """A change of a counter on an effect's timeline."""

    counter: Name
    change: Annotated[int, Field(ge=-65_535, le=65_535)]
    at_ms: Milliseconds = 0.0


class Effect(Part):
    """Clips and fades on a timeline."""

    layer: Literal["effect", "ambient"] = "effect"
    sounds: list[Sound] = []
    lights: list[Light] = []
    counts: list[Count] = []
    length_ms: Milliseconds | None = None
    """When a held effect starts over; the end of its last part unless given, never for one that loops by itself."""
    pitch_spread_percent: Annotated[float, Field(ge=0, le=24)] = 0.0
    gain_spread_percent: Annotated[float, Field(ge=0, le=99)] = 0.0


class Trigger(Part):
    """An input, a condition and a mode, bound to effects."""

    mode: Literal["single", "repeat", "sustain", "latch", "always"]
    input: Name | None = None
    when: dict[Name, Name | list[Name]] = {}
    """Selector positions that must hold."""
    after_held_ms: Milliseconds = 0.0
    needs: Name | None = None
    """Counter that must be above zero."""
    empty: Name | None = None
    """Effect to play where the counter is at zero."""
    effects: list[Name] = []
    choice: Literal["in_turn", "random"] = "in_turn"
    rate_per_s: RatePerS | None = None
    first_delay_ms: Milliseconds | None = None
    burst: Annotated[int, Field(ge=1, le=255)] = 1
    """Shots that are played out even if the input is let go sooner."""
    limit: Annotated[int, Field(ge=1, le=65_535)] | None = None
    """Shots a press at the most."""
    ramp_to_rate_per_s: RatePerS | None = None
    ramp_shots: Annotated[int, Field(ge=1, le=255)] | None = None
    begin: Name | None = None
    during: Name | None = None
    end: Name | None = None


class Preview(Part):
    """What a preview plays where the command line does not say."""

    presses: str | None = None


class Sequence(Part):
    """A whole prop."""

    format: Literal[1]
    title: Annotated[str, Field(min_length=1, max_length=80)]
    board: Board
    supplies: dict[Name, Supply] = {}
    amplifier: Amplifier | None = None
    speaker: Speaker | None = None
    listening: Listening = Listening()
    picture: Picture | None = None
    inputs: dict[Name, Input] = {}
    selectors: dict[Name, Selector] = {}
    counters: dict[Name, Counter] = {}
    groups: dict[Name, Group] = {}
    clips: dict[Name, Clip] = {}
    fades: dict[Name, Fade] = {}
    effects: dict[Name, Effect] = {}
    triggers: dict[Name, Trigger] = {}
    preview: Preview = Preview()
