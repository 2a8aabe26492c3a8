"""The typed description of a prop: what a prop file may say, with units in the names.

Only single values are checked here, each against its own range. What has to agree across the file (names that must exist, channels
that must not overlap) is checked in `rules`, so that every fault of a file can be reported in one pass.
"""
from typing import Annotated, Literal

from pydantic import Field

from fxseq.sequence.parts import Amplifier, Day, GainDb, Listening, Milliseconds, Name, Part, Percent, Point, RatePerS, Regulator, Speaker, Supply

Coding = Literal["pcm16", "mulaw", "ima_adpcm", "qoa"]


class Processor(Part):
    """What computes on the board, so that no clip is stored in a coding that it cannot decode in time."""

    kind: Literal["avr", "cortex_m"]
    """8-bit AVR, or an Arm Cortex-M; the figures for those are of a Cortex-M0, the slowest."""
    clock_mhz: Annotated[float, Field(ge=0.01, le=1000)]
    """Clock of the processor. [MHz]"""


class Board(Part):
    """The microcontroller board: its clock, its outputs and how much it can do at once."""

    sample_rate_hz: Annotated[int, Field(ge=4000, le=48000)] = 22050
    """Rate of the sound output. [Hz]"""
    samples_per_frame: Annotated[int, Field(ge=4, le=256)] = 21
    """Samples in one control step; a frame of about 1 ms is usual."""
    channels: Annotated[int, Field(ge=1, le=255)]
    """Dimmable outputs, counted from 0."""
    pwm_bits: Annotated[int, Field(ge=8, le=16)] = 12
    """Resolution of the dimming of an output."""
    dimming_hz: Annotated[float, Field(ge=50, le=1_000_000)] | None = None
    """Frequency of the pulses that dim an output. [Hz]"""
    sound_bits: Annotated[int, Field(ge=6, le=24)] = 16
    """Resolution of the sound output."""
    voices: Annotated[int, Field(ge=1, le=16)] = 4
    """Clips that can sound at once."""
    when_voices_run_out: Literal["oldest", "quietest", "same_clip"] = "oldest"
    """Which sounding clip makes room for a new one."""
    cut_ramp_ms: Annotated[float, Field(ge=0, le=50)] = 4.0
    """Time in which a clip that is cut falls silent, so that it does not click. [ms]"""
    flash_for_table_bytes: Annotated[int, Field(ge=256, le=64 * 2**20)] = 262_144
    """Space for one table. [bytes]"""
    current_ma: Annotated[float, Field(ge=0, le=2000)] = 0.0
    """What the board itself takes, without LEDs and amplifier. [mA]"""
    pin_v: Annotated[float, Field(ge=1, le=12)] = 3.3
    """Voltage of an output that is on. [V]"""
    codings: Annotated[list[Coding], Field(min_length=1)] = ["pcm16", "mulaw", "ima_adpcm", "qoa"]
    """Codings of clips that it can play."""
    processor: Processor | None = None
    """Its processor; without it, any clip may be in any coding."""
    random_seed: Annotated[int, Field(ge=1, le=2**32 - 1)] = 1
    """Start of the random choices: the same seed gives the same run."""


class Picture(Part):
    """The plane on which LEDs are placed, and what is drawn under them."""

    width_mm: Annotated[float, Field(ge=1, le=10_000)]
    """Left to right. [mm]"""
    height_mm: Annotated[float, Field(ge=1, le=10_000)]
    """Top to bottom. [mm]"""
    outline_mm: list[Point] = []
    """Corners of the prop's outline, in order."""
    image: str | None = None
    """Picture file to draw under the LEDs, beside the prop file."""


class Input(Part):
    """A switch that a hand presses, or the board's own low-battery sense."""

    kind: Literal["button", "low_battery"] = "button"
    """A button, or the board's own sense of a low battery."""
    lockout_ms: Annotated[float, Field(ge=0, le=1000)] = 20.0
    """Time after an edge in which further edges are taken for bounce. [ms]"""


class Selector(Part):
    """A switch whose position is a condition."""

    positions: Annotated[list[Name], Field(min_length=2, max_length=16)]
    """Names of the positions, in order."""
    start: Name | None = None
    """Position at power-up; the first one unless given."""


class Counter(Part):
    """A number that effects use up and refill."""

    maximum: Annotated[int, Field(ge=1, le=65_535)]
    """Value when full."""
    start: Annotated[int, Field(ge=0, le=65_535)] | None = None
    """Value at power-up; the maximum unless given."""


class Ring(Part):
    """LEDs evenly spaced on a circle."""

    centre_mm: Point
    """Middle of the circle. [mm]"""
    radius_mm: Annotated[float, Field(ge=0.1, le=10_000)]
    """Of the circle through the LEDs. [mm]"""
    first_at_deg: Annotated[float, Field(ge=-360, le=360)] = 0.0
    """Where the first LED is: 0 to the right, 90 below, -90 at the top. The others follow clockwise. [degrees]"""


class Line(Part):
    """LEDs evenly spaced from one point to another."""

    from_mm: Point
    """Place of the first LED."""
    to_mm: Point
    """Place of the last LED."""


class CurvePoint(Part):
    """A point of the curve in an LED's data sheet."""

    forward_voltage_v: Annotated[float, Field(gt=0.25, le=120)]
    """Of one LED, at that current. [V]"""
    current_ma: Annotated[float, Field(ge=0.005, le=10_000)]
    """Current of one LED there. [mA]"""
    series_ohm: Annotated[float, Field(ge=0, le=1000)] | None = None
    """Resistance in the LED itself, where its SPICE model says it (RS); by the colour and the two points unless given. [ohm]"""


Colour = Literal["red", "orange", "amber", "yellow", "green", "cyan", "blue", "violet", "pink", "white", "warm_white"]


class Group(Part):
    """Channels that belong together, with their LEDs."""

    first_channel: Annotated[int, Field(ge=0, le=254)]
    """First of its outputs, counted from 0."""
    channels: Annotated[int, Field(ge=1, le=255)] = 1
    """Its outputs, one after the other from the first."""
    leds: Annotated[int, Field(ge=1, le=2000)]
    """LEDs in the whole group, spread evenly over its channels."""
    size_mm: Annotated[float, Field(ge=0.1, le=50)] = 5.0
    """Diameter of one LED. [mm]"""
    colour: Colour
    """Colour of its light."""
    wavelength_nm: Annotated[float, Field(ge=380, le=700)] | None = None
    """Dominant wavelength of its light, from its data sheet; usual for its colour unless given. Not of white, warm_white and pink. [nm]"""
    forward_voltage_v: Annotated[float, Field(gt=0.5, le=60)]
    """Of one LED, at its current. [V]"""
    current_ma: Annotated[float, Field(ge=0.01, le=5000)]
    """Current of one LED at full duty. [mA]"""
    forward_voltage_min_v: Annotated[float, Field(gt=0.5, le=60)] | None = None
    """The lowest forward voltage that its data sheet allows; usual for its colour unless given. [V]"""
    forward_voltage_max_v: Annotated[float, Field(gt=0.5, le=60)] | None = None
    """The highest forward voltage that its data sheet allows; usual for its colour unless given. [V]"""
    second_point: CurvePoint | None = None
    """Another point of the curve in its data sheet, at another current: it tells how steep the curve is, usual for its colour unless given."""
    leds_in_series: Annotated[int, Field(ge=1, le=100)] | None = None
    """LEDs of one string; as many as the supplies light unless given."""
    resistor_ohm: Annotated[float, Field(ge=0.1, le=10_000_000)] | None = None
    """Resistor of each string, or of a channel with a shared one; the standard value for its current unless given. [ohm]"""
    shared_resistor: bool = False
    """Whether all strings of a channel hang on one resistor, in place of one each."""
    switch: Literal["pin", "transistor", "mosfet", "driver"] | None = None
    """What switches a channel: the pin itself, a transistor, a MOSFET or a constant-current driver; by its current unless given."""
    driver_reference_v: Annotated[float, Field(ge=0.01, le=10_000)] | None = None
    """Of a constant-current driver whose current one resistor sets: what its data sheet divides by that resistor, k Vref. [V]"""
    merge: Literal["highest", "latest"] = "highest"
    """Which of the ambient and the effect layer shows: the higher level, or the one started last."""
    gauge: Name | None = None
    """Counter that this group shows: channels go out one by one as it falls."""
    places_mm: list[Point] | None = None
    """Place of each LED, in order."""
    ring_mm: Ring | None = None
    """LEDs on a circle."""
    line_mm: Line | None = None
    """LEDs on a line."""


class Loop(Part):
    """Part of a clip that repeats while held, measured in the cut clip."""

    start_ms: Milliseconds = 0.0
    """Where it starts over. [ms]"""
    end_ms: Milliseconds | None = None
    """Where it goes back to the start; the end of the clip unless given. [ms]"""


class Fitted(Part):
    """What `fxseq fit --write` chose for a clip, beside the clip as it is meant. Delete it, or `fxseq fit --undo`, to take it back."""

    rate_hz: Annotated[int, Field(ge=2000, le=48_000)] | None = None
    """Rate in the table, in place of the clip's own. [Hz]"""
    coding: Coding | None = None
    """How its samples are stored, in place of the clip's own coding."""
    end_ms: Milliseconds | None = None
    """Where the finished clip is cut, measured in its file; level and limiter stay those of the whole clip. [ms]"""
    fade_out_ms: Milliseconds = 0.0
    """Fall at that cut. [ms]"""


class Clip(Part):
    """A sound from a sound file beside the prop file.

    Made ready in the order of these keys: read and cut, trim, mean, high-pass, loop, rate, fades, level, gain, limiter, coding.
    Levels are those at the board's rate, so that they do not hang on how the clip is stored.
    """

    file: Annotated[str, Field(min_length=1)]
    """Sound file, beside the prop file."""
    channel: Literal["mix", "left", "right"] = "mix"
    """Which channel of a stereo file, or their mean."""
    start_ms: Milliseconds = 0.0
    """Where the clip starts in the file. [ms]"""
    end_ms: Milliseconds | None = None
    """Where it ends in the file; the end of the file unless given. [ms]"""
    start_cue: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """Start at this cue point of the file's `cue ` chunk, counted from 1, in place of start_ms."""
    trim_below_dbfs: Annotated[float, Field(ge=-100, le=-20)] | None = None
    """Cut what comes before the first and behind the last sample above this level, but for 1 ms. Not with a loop. [dBFS]"""
    remove_dc: bool = False
    """Subtract the mean, which would make the speaker click."""
    high_pass_hz: Annotated[float, Field(ge=10, le=2000)] | None = None
    """Take out what is below, at 24 dB an octave: what the speaker cannot give costs bits and moves its cone. [Hz]"""
    loop: Loop | Literal["file", "whole", "find"] | None = None
    """A loop of our own, `"file"` for the first one of the file's `smpl` chunk, `"whole"`, or `"find"` for one found and cross-faded."""
    rate_hz: Annotated[int, Field(ge=2000, le=48_000)] | None = None
    """Rate in the table; the board's unless given. That of a loop is moved by up to 0.5 %, so that the loop comes to whole samples."""
    fade_in_ms: Milliseconds = 0.0
    """Rise at its start. [ms]"""
    fade_out_ms: Milliseconds = 0.0
    """Fall at its end. [ms]"""
    peak_to_dbfs: Annotated[float, Field(ge=-60, le=0)] | None = None
    """Bring the peak to this level, before gain_db. [dBFS]"""
    rms_to_dbfs: Annotated[float, Field(ge=-60, le=0)] | None = None
    """Bring the mean power to this level, before gain_db. [dBFS]"""
    match_to: Name | None = None
    """Bring it to the loudness of another clip at the board's rate: the loudest 125 ms, as speaker and ear weigh them; before gain_db."""
    gain_db: GainDb = 0.0
    """Change of level. [dB]"""
    limit_to_dbfs: Annotated[float, Field(ge=-30, le=0)] | None = None
    """Hold the peaks of samples, as the board plays them, at this level: turned down from 3 ms before, back with a time constant of 50 ms. [dBFS]"""
    coding: Coding = "mulaw"
    """How its samples are stored: 16 bits a sample, 8 in mu-law, 4.06 in IMA ADPCM, 3.2 in QOA (32-bit boards only)."""
    fitted: Fitted | None = None
    """How it is stored so that all clips fit the board, as `fxseq fit --write` chose."""


class Segment(Part):
    """One stretch of a fade curve, in perceived lightness."""

    shape: Literal["step", "straight", "ease", "decay", "flicker"] = "straight"
    """How the level moves."""
    to_percent: Percent | Literal["ambient"]
    """Level at its end, or `ambient` to give the channel back to the ambient layer. [% of lightness]"""
    length_ms: Milliseconds = 0.0
    """How long it takes. [ms]"""
    low_percent: Percent | None = None
    """Flicker only: lower end of the range; `to_percent` is the upper one."""
    every_ms: Annotated[float, Field(ge=1, le=10_000)] | None = None
    """Flicker only: time between two random levels. [ms]"""


class Fade(Part):
    """How light moves: segments one after the other, from the present level unless told otherwise."""

    segments: Annotated[list[Segment], Field(min_length=1, max_length=60)]
    """One after the other."""
    from_percent: Percent | None = None
    """Level to start from, in place of the present one. [% of lightness]"""
    loop: bool = False
    """Start over at the end."""


class Sound(Part):
    """A clip on an effect's timeline."""

    clip: Name
    """Name of a clip."""
    at_ms: Milliseconds = 0.0
    """When, from the start of the effect. [ms]"""
    gain_db: GainDb = 0.0
    """Change of level, here only. [dB]"""
    loop: bool = False
    """Repeat the clip's loop until the effect is let go."""
    release_ms: Annotated[float, Field(ge=0, le=10_000)] = 40.0
    """Looped sounds only: time to fall silent when let go."""


class Light(Part):
    """A fade on an effect's timeline."""

    group: Name
    """Name of a group."""
    fade: Name
    """Name of a fade."""
    at_ms: Milliseconds = 0.0
    """When, from the start of the effect. [ms]"""
    stagger_ms: Annotated[float, Field(ge=-10_000, le=10_000)] = 0.0
    """Delay from one channel to the next along the group; negative runs from the last to the first."""


class Count(Part):
    """A change of a counter on an effect's timeline."""

    counter: Name
    """Name of a counter."""
    change: Annotated[int, Field(ge=-65_535, le=65_535)]
    """Added to the counter, which stays within 0 and its maximum."""
    at_ms: Milliseconds = 0.0
    """When, from the start of the effect. [ms]"""


class Effect(Part):
    """Clips and fades on a timeline."""

    layer: Literal["effect", "ambient"] = "effect"
    """Layer its lights play on: ambient lies under effect."""
    sounds: list[Sound] = []
    """Clips to play."""
    lights: list[Light] = []
    """Fades to start."""
    counts: list[Count] = []
    """Counters to change."""
    length_ms: Annotated[float, Field(ge=0.1, le=3_600_000)] | None = None
    """When a held effect starts over; the end of its last part unless given, never for one that loops by itself."""
    pitch_spread_percent: Annotated[float, Field(ge=0, le=24)] = 0.0
    """Random change of pitch from shot to shot, either way. [%]"""
    gain_spread_percent: Annotated[float, Field(ge=0, le=99)] = 0.0
    """Random change of gain from shot to shot, either way. [%]"""


class Trigger(Part):
    """An input, a condition and a mode, bound to effects."""

    mode: Literal["once", "repeat", "while_held", "on_off", "always"]
    """One effect a press; one after the other while held; on while held; press on and press off; on from power-up."""
    input: Name | None = None
    """Name of an input."""
    when: dict[Name, Name | list[Name]] = {}
    """Selector positions that must hold."""
    after_held_ms: Milliseconds = 0.0
    """Act only once the input has been held for this long. [ms]"""
    needs: Name | None = None
    """Counter that must be above zero."""
    empty: Name | None = None
    """Effect to play where the counter is at zero."""
    effects: list[Name] = []
    """Once and repeat: effects to fire, one a shot."""
    choice: Literal["in_turn", "random"] = "in_turn"
    """Effects one after the other, or at random without the same twice in a row."""
    rate_per_s: RatePerS | None = None
    """Repeat: shots a second. [1/s]"""
    first_delay_ms: Milliseconds | None = None
    """Repeat: from the first shot to the second. [ms]"""
    burst: Annotated[int, Field(ge=1, le=255)] = 1
    """Shots that are played out even if the input is let go sooner."""
    limit: Annotated[int, Field(ge=1, le=65_535)] | None = None
    """Shots a press at the most."""
    ramp_to_rate_per_s: RatePerS | None = None
    """Repeat: rate that a long hold goes to. [1/s]"""
    ramp_shots: Annotated[int, Field(ge=1, le=255)] | None = None
    """Repeat: shots over which the rate goes there."""
    begin: Name | None = None
    """Effect at the start."""
    during: Name | None = None
    """Effect that repeats while on."""
    end: Name | None = None
    """Effect at the end."""


class Preview(Part):
    """What a preview plays where the command line does not say."""

    presses: str | None = None
    """What is pressed and when, as a press script."""


class Sequence(Part):
    """A whole prop."""

    format: Literal[1]
    """Version of this file format."""
    title: Annotated[str, Field(min_length=1, max_length=80)]
    """Name of the prop."""
    board: Board
    """The board."""
    supplies: dict[Name, Supply] = {}
    """What it can run from, by name."""
    changeover: Literal["switch", "diodes"] | None = None
    """What keeps its supplies apart: a switch that breaks one before it makes the other, or a diode in each."""
    regulator: Regulator | None = None
    """A regulator behind the supplies."""
    amplifier: Amplifier | None = None
    """The amplifier."""
    speaker: Speaker | None = None
    """The speaker."""
    listening: Listening = Listening()
    """Distances to the ears."""
    picture: Picture | None = None
    """The plane of the LEDs."""
    inputs: dict[Name, Input] = {}
    """Switches, by name."""
    selectors: dict[Name, Selector] = {}
    """Condition switches, by name."""
    counters: dict[Name, Counter] = {}
    """Counters, by name."""
    groups: dict[Name, Group] = {}
    """Channels with their LEDs, by name."""
    clips: dict[Name, Clip] = {}
    """Sounds, by name."""
    fades: dict[Name, Fade] = {}
    """Fade curves, by name."""
    effects: dict[Name, Effect] = {}
    """Effects, by name."""
    triggers: dict[Name, Trigger] = {}
    """Triggers, by name."""
    day: Day | None = None
    """A day of use."""
    preview: Preview = Preview()
    """What a preview plays."""
