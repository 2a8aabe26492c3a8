"""The typed description of a prop: what a prop file may say, with units in the names.

Only single values are checked here, each against its own range. What has to agree across the file
(names that must exist, channels that must not overlap) is checked in `rules`, so that every fault
of a file can be reported in one pass.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from fxseq.sequence.board_parts import board_filled
from fxseq.sequence.parts import (
    Amplifier,
    Day,
    GainDb,
    Listening,
    Milliseconds,
    Name,
    Part,
    Percent,
    Point,
    RatePerS,
    Regulator,
    Speaker,
    Supply,
)
from fxseq.sequence.titles import LONGEST_TITLE

Coding = Literal["pcm16", "mulaw", "ima_adpcm", "qoa", "lpc_rice"]


class Processor(Part):
    """The board's processor. From it fxseq works out which codings of clips it can decode in
    time.
    """

    kind: Literal["avr", "cortex_m"]
    """8-bit AVR or Arm Cortex-M. Cortex-M is reckoned as a Cortex-M0, the slowest."""
    clock_mhz: Annotated[float, Field(ge=0.01, le=1000)]
    """Clock frequency of the processor. [MHz]"""


Pin = Annotated[int, Field(ge=0, le=63)]


class BoardPins(Part):
    """Pins of a ready-made board, by number, that are not to be chosen for you."""

    lights: Pin | None = None
    """Data of the first shift register or driver; the next three pins are clock, latch and
    blank.
    """
    sound: Pin | None = None
    """Sound output. With I2S, data; the next two pins are bit clock and word clock."""
    amplifier: Pin | None = None
    """Switches the amplifier on: high while it may sound."""
    volume: Pin | None = None
    """A potentiometer for the volume. Without this key there is none."""


class Board(Part):
    """The microcontroller board: its clock, its outputs and how much it can do at once."""

    part: Literal["pico", "nano"] | None = None
    """A ready-made board. It supplies the figures that are missing here, and `fxseq firmware` has
    its program.
    """
    lights: Literal["pins", "shift_registers", "drivers"] = "pins"
    """Ready-made boards: what the outputs are. The board's own pins, a chain of shift registers
    (74HC595), or a chain of constant-current drivers with 24 outputs of 12 bits.
    """
    sound: Literal["pwm", "i2s"] = "pwm"
    """Ready-made boards: sound as pulses, which a filter of two parts smooths, or as I2S for an
    amplifier that takes it.
    """
    pins: BoardPins = BoardPins()
    """Ready-made boards: pins that are not to be chosen for you."""
    sample_rate_hz: Annotated[int, Field(ge=4000, le=48000)] = 22050
    """Sample rate of the sound output. [Hz]"""
    samples_per_frame: Annotated[int, Field(ge=4, le=256)] = 21
    """Samples in one frame (control step). A frame of about 1 ms is usual."""
    channels: Annotated[int, Field(ge=1, le=255)] = 1
    """Number of dimmable outputs, numbered from 0. Default: as many as the groups need."""
    pwm_bits: Annotated[int, Field(ge=8, le=16)] = 12
    """Dimming resolution of an output."""
    dimming_hz: Annotated[float, Field(ge=50, le=1_000_000)] | None = None
    """PWM frequency of the outputs. [Hz]"""
    sound_bits: Annotated[int, Field(ge=6, le=24)] = 16
    """Resolution of the sound output."""
    voices: Annotated[int, Field(ge=1, le=16)] = 4
    """How many clips can sound at once."""
    when_voices_run_out: Literal["oldest", "quietest", "same_clip"] = "oldest"
    """Which clip is cut to make room for a new one."""
    flash_for_table_bytes: Annotated[int, Field(ge=256, le=64 * 2**20)] = 262_144
    """Memory for one table. [bytes]"""
    current_ma: Annotated[float, Field(ge=0, le=2000)] = 0.0
    """Current of the board itself, without LEDs and amplifier. [mA]"""
    pin_v: Annotated[float, Field(ge=1, le=12)] = 3.3
    """Voltage of an output when it is on. [V]"""
    codings: Annotated[list[Coding], Field(min_length=1)] = [
        "pcm16", "mulaw", "ima_adpcm", "qoa", "lpc_rice",
    ]  # fmt: skip
    """Codings of clips that the board can play."""
    processor: Processor | None = None
    """The board's processor. Without it, a clip may use any coding."""
    random_seed: Annotated[int, Field(ge=1, le=2**32 - 1)] = 1
    """Seed of the random choices. The same seed gives the same run."""
    counts: bool = False
    """Whether the board counts power-ups, shots, refusals and its own faults, and keeps the lowest
    voltage of its cells; `fxseq pull` tells them.
    """
    carries_names: bool = False
    """Whether the board keeps title, revision and the names of things, which `fxseq pull` then
    gives back. Whoever has the board can read them.
    """

    @model_validator(mode="before")
    @classmethod
    def _filled(cls, values: Any) -> Any:
        return board_filled(values)


class Picture(Part):
    """The picture of the prop on which the LEDs are placed."""

    width_mm: Annotated[float, Field(ge=1, le=10_000)]
    """Width of the picture. [mm]"""
    height_mm: Annotated[float, Field(ge=1, le=10_000)]
    """Height of the picture. [mm]"""
    outline_mm: list[Point] = []
    """Corners of the prop's outline, in order."""
    image: str | None = None
    """Picture file to draw under the LEDs. Its path starts at the folder of the prop file."""


class Input(Part):
    """A button, or the board's own low-battery sensor."""

    kind: Literal["button", "low_battery"] = "button"
    """A button, or the board's own low-battery sensor."""
    lockout_ms: Annotated[float, Field(ge=0, le=1000)] = 20.0
    """Debounce time. After a change, further changes within this time are ignored. [ms]"""
    pin: Pin | None = None
    """Ready-made boards: its pin. Default: chosen for you."""
    low_v: Annotated[float, Field(ge=0.5, le=60)] | None = None
    """Low-battery sensor of a ready-made board: supply voltage under load below which the cells
    count as low. [V]
    """
    divider: Annotated[float, Field(ge=1, le=100)] | None = None
    """Low-battery sensor: how many times less than the supply its pin sees. Default: that of the
    board.
    """


class Selector(Part):
    """A switch with several positions. Triggers can depend on the position."""

    positions: Annotated[list[Name], Field(min_length=2, max_length=16)]
    """Names of the positions, in order."""
    start: Name | None = None
    """Position at power-up. Default: the first one."""
    pins: list[Pin] | None = None
    """Ready-made boards: a pin for each position or, of a coded switch, for each bit. Default:
    chosen for you.
    """
    coded: bool = False
    """Ready-made boards: a coded switch, whose contacts give the position as a binary number."""


class Counter(Part):
    """A counter that effects use up and refill."""

    maximum: Annotated[int, Field(ge=1, le=65_535)]
    """Value when full."""
    start: Annotated[int, Field(ge=0, le=65_535)] | None = None
    """Value at power-up. Default: the maximum."""


class Ring(Part):
    """LEDs evenly spaced on a circle."""

    centre_mm: Point
    """Centre of the circle. [mm]"""
    radius_mm: Annotated[float, Field(ge=0.1, le=10_000)]
    """Radius of the circle through the LEDs. [mm]"""
    first_at_deg: Annotated[float, Field(ge=-360, le=360)] = 0.0
    """Angle of the first LED: 0 is to the right, 90 below, -90 at the top. The others follow
    clockwise. [degrees]
    """


class Line(Part):
    """LEDs evenly spaced from one point to another."""

    from_mm: Point
    """Where the first LED sits. [mm]"""
    to_mm: Point
    """Where the last LED sits. [mm]"""


class CurvePoint(Part):
    """A point on the voltage and current curve of an LED's data sheet."""

    forward_voltage_v: Annotated[float, Field(gt=0.25, le=120)]
    """Forward voltage of one LED at that current. [V]"""
    current_ma: Annotated[float, Field(ge=0.005, le=10_000)]
    """Current of one LED at this point. [mA]"""
    series_ohm: Annotated[float, Field(ge=0, le=1000)] | None = None
    """Series resistance of the LED itself, RS in its SPICE model. Default: from its colour and
    the two points. [ohm]
    """


Colour = Literal[
    "red",
    "orange",
    "amber",
    "yellow",
    "green",
    "cyan",
    "blue",
    "violet",
    "pink",
    "white",
    "warm_white",
]


class Transistor(Part):
    """The bipolar transistor that switches a channel. For missing figures, those of a common
    small one are used.
    """

    base_resistor_ohm: Annotated[float, Field(ge=1, le=10_000_000)] | None = None
    """Resistor between output and base. Default: one that gives the base a tenth of the
    channel's current. [ohm]
    """
    saturation_v: Annotated[float, Field(ge=0.01, le=2)] | None = None
    """Collector-emitter saturation voltage at the channel's current, with a tenth of it in the
    base, from the data sheet. [V]
    """
    gain: Annotated[float, Field(ge=20, le=100_000)] | None = None
    """Minimum current gain at the channel's current."""
    maximum_current_ma: Annotated[float, Field(ge=1, le=100_000)] | None = None
    """Maximum continuous current. [mA]"""


class Mosfet(Part):
    """The N-channel MOSFET that switches a channel. For missing figures, those of a common
    logic-level one are used.
    """

    on_ohm: Annotated[float, Field(ge=0.0001, le=100)] | None = None
    """On-resistance at the gate voltage gate_v, from the data sheet. [ohm]"""
    gate_v: Annotated[float, Field(ge=0.5, le=20)] | None = None
    """Gate voltage at which the data sheet gives on_ohm. [V]"""
    threshold_v: Annotated[float, Field(ge=0.1, le=10)] | None = None
    """Gate threshold voltage, from the data sheet. [V]"""
    maximum_current_ma: Annotated[float, Field(ge=1, le=100_000)] | None = None
    """Maximum continuous current. [mA]"""


class Neighbour(Part):
    """Other LEDs that share the resistor of each channel."""

    leds: Annotated[int, Field(ge=1, le=2000)]
    """Number of these LEDs on each channel."""
    colour: Colour
    """Colour of their light."""
    forward_voltage_v: Annotated[float, Field(gt=0.5, le=60)] | None = None
    """Forward voltage of one of them at current_ma. Default: usual for the colour. [V]"""
    current_ma: Annotated[float, Field(ge=0.01, le=5000)]
    """Current at which it has forward_voltage_v. Its actual current depends on the LEDs beside
    it. [mA]
    """
    leds_in_series: Annotated[int, Field(ge=1, le=100)] = 1
    """LEDs in series in one string."""


class Group(Part):
    """Channels that belong together, and their LEDs."""

    first_channel: Annotated[int, Field(ge=0, le=254)] = 0
    """First output of the group, counted from 0. Default: the one after the previous group in
    the file.
    """
    channels: Annotated[int, Field(ge=1, le=255)] = 1
    """Number of outputs, in a row from the first."""
    leds: Annotated[int, Field(ge=1, le=2000)]
    """Number of LEDs in the whole group, shared evenly among its channels."""
    size_mm: Annotated[float, Field(ge=0.1, le=50)] = 5.0
    """Diameter of one LED. [mm]"""
    colour: Colour
    """Colour of the light."""
    wavelength_nm: Annotated[float, Field(ge=380, le=700)] | None = None
    """Dominant wavelength, from the data sheet. Default: usual for the colour. Not for white,
    warm_white or pink. [nm]
    """
    forward_voltage_v: Annotated[float, Field(gt=0.5, le=60)] | None = None
    """Forward voltage of one LED at current_ma. Default: usual for the colour. [V]"""
    current_ma: Annotated[float, Field(ge=0.01, le=5000)]
    """Current of one LED at full brightness. [mA]"""
    forward_voltage_min_v: Annotated[float, Field(gt=0.5, le=60)] | None = None
    """Minimum forward voltage in the data sheet. Default: usual for the colour. [V]"""
    forward_voltage_max_v: Annotated[float, Field(gt=0.5, le=60)] | None = None
    """Maximum forward voltage in the data sheet. Default: usual for the colour. [V]"""
    second_point: CurvePoint | None = None
    """A second point on the data sheet's curve, at another current. It sets how steep the curve
    is. Default: usual for the colour.
    """
    leds_in_series: Annotated[int, Field(ge=1, le=100)] | None = None
    """LEDs in series in one string. Default: as many as the supplies can light."""
    resistor_ohm: Annotated[float, Field(ge=0.1, le=10_000_000)] | None = None
    """Resistor of each string, or the shared one of each channel. Default: the standard value
    for the current. [ohm]
    """
    shared_resistor: bool = False
    """Whether all strings of a channel share one resistor instead of having one each."""
    beside: list[Neighbour] = []
    """Other LEDs that share the resistor of each channel."""
    switch: Literal["pin", "transistor", "mosfet", "driver"] | None = None
    """What switches a channel: the pin itself, a transistor, a MOSFET or a constant-current
    driver. Default: chosen by the current.
    """
    transistor: Transistor | None = None
    """Data of the transistor."""
    mosfet: Mosfet | None = None
    """Data of the MOSFET."""
    driver_reference_v: Annotated[float, Field(ge=0.01, le=10_000)] | None = None
    """Constant-current driver set by one resistor: the voltage that its data sheet divides by
    that resistor, k Vref. [V]
    """
    merge: Literal["highest", "latest"] = "highest"
    """Which layer shows, ambient or effect: the brighter one, or the one that started last."""
    pin: Pin | None = None
    """Ready-made boards whose lights hang on their pins: pin of the first channel; the others
    follow. Default: chosen for you.
    """
    gauge: Name | None = None
    """Counter that this group shows. Its channels go out one by one as the counter falls."""
    places_mm: list[Point] | None = None
    """Where each LED sits, in order. [mm]"""
    ring_mm: Ring | None = None
    """LEDs on a circle."""
    line_mm: Line | None = None
    """LEDs on a line."""


class Loop(Part):
    """The part of a clip that repeats while held. Times count from the start of the cut clip."""

    start_ms: Milliseconds = 0.0
    """Start of the loop. [ms]"""
    end_ms: Milliseconds | None = None
    """End of the loop. Default: the end of the clip. [ms]"""


class Fitted(Part):
    """The choice of `fxseq fit --write` for a clip, beside the clip as you meant it. To take it
    back, delete it or run `fxseq fit --undo`.
    """

    rate_hz: Annotated[int, Field(ge=2000, le=48_000)] | None = None
    """Sample rate in the table, instead of the clip's own. [Hz]"""
    coding: Coding | None = None
    """How samples are stored, instead of the clip's own coding."""
    end_ms: Milliseconds | None = None
    """Where the finished clip is cut, as a time in its file. Level and limiter stay those of the
    whole clip. [ms]
    """
    fade_out_ms: Milliseconds = 0.0
    """Fade-out at that cut. [ms]"""


class Clip(Part):
    """A sound from a sound file.

    It is processed in the order of these keys: read and cut, trim, remove DC, high-pass, loop,
    rate, fades, level, gain, limiter, coding. Levels are those at the board's rate, however the
    clip is stored.
    """

    file: Annotated[str, Field(min_length=1)]
    """Sound file. Its path starts at the folder of the prop file."""
    source: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    """Where the sound comes from and under which licence, for whoever gets the prop."""
    channel: Literal["mix", "left", "right"] = "mix"
    """Channel of a stereo file to use: left, right, or the mean of both."""
    start_ms: Milliseconds = 0.0
    """Start of the clip in the file. [ms]"""
    end_ms: Milliseconds | None = None
    """End of the clip in the file. Default: the end of the file. [ms]"""
    start_cue: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """Start at this cue point of the file (`cue ` chunk), counted from 1, instead of at
    start_ms.
    """
    trim_below_dbfs: Annotated[float, Field(ge=-100, le=-20)] | None = None
    """Trim silence at both ends: all that is quieter than this level, except for 1 ms. Not with
    a loop. [dBFS]
    """
    remove_dc: bool = False
    """Remove the DC offset, which would make the speaker click."""
    high_pass_hz: Annotated[float, Field(ge=10, le=2000)] | None = None
    """High-pass filter at this frequency, 24 dB an octave. Bass that the speaker cannot play
    wastes bits and moves the cone. [Hz]
    """
    loop: Loop | Literal["file", "whole", "find"] | None = None
    """A loop by its times, `"file"` for the first loop marked in the file (`smpl` chunk),
    `"whole"` for the whole clip, or `"find"` to have one found and cross-faded.
    """
    rate_hz: Annotated[int, Field(ge=2000, le=48_000)] | None = None
    """Sample rate in the table. Default: the board's. That of a loop is moved by up to 0.5 %, so
    that the loop comes to whole samples. [Hz]
    """
    fade_in_ms: Milliseconds = 0.0
    """Fade-in at the start. [ms]"""
    fade_out_ms: Milliseconds = 0.0
    """Fade-out at the end. [ms]"""
    peak_to_dbfs: Annotated[float, Field(ge=-60, le=0)] | None = None
    """Set the peak to this level, before gain_db. [dBFS]"""
    rms_to_dbfs: Annotated[float, Field(ge=-60, le=0)] | None = None
    """Set the RMS level (mean power) to this, before gain_db. [dBFS]"""
    match_to: Name | None = None
    """Make it as loud as another clip at the board's rate. Compared are the loudest 125 ms of
    each, weighted by speaker and ear. Before gain_db.
    """
    gain_db: GainDb = 0.0
    """Change of level. [dB]"""
    limit_to_dbfs: Annotated[float, Field(ge=-30, le=0)] | None = None
    """Limiter: hold the peaks of samples, as the board plays them, at this level. It turns down
    from 3 ms before a peak and recovers with a time constant of 50 ms. [dBFS]
    """
    coding: Coding = "mulaw"
    """How samples are stored. Bits a sample: 16 in PCM, 8 in mu-law, 4.06 in IMA ADPCM, 3.2 in
    QOA, at most 3.2 in LPC-Rice (these two on 32-bit boards only).
    """
    fitted: Fitted | None = None
    """How it is stored so that all clips fit into the board: the choice of `fxseq fit --write`."""


class Segment(Part):
    """One segment of a fade, in perceived lightness."""

    shape: Literal["step", "straight", "ease", "decay", "flicker"] = "straight"
    """How the level moves."""
    to_percent: Percent | Literal["ambient"]
    """Level at the end, or `ambient` to give the channel back to the ambient layer. [% of
    lightness]
    """
    length_ms: Milliseconds = 0.0
    """How long it takes. [ms]"""
    low_percent: Percent | None = None
    """Flicker only: lower end of the range. `to_percent` is the upper end."""
    every_ms: Annotated[float, Field(ge=1, le=10_000)] | None = None
    """Flicker only: time between two random levels. [ms]"""


class Fade(Part):
    """How the light changes: segments one after the other. It starts at the present level unless
    from_percent sets another.
    """

    segments: Annotated[list[Segment], Field(min_length=1, max_length=60)]
    """The segments, in order."""
    from_percent: Percent | None = None
    """Level to start from, instead of the present one. [% of lightness]"""
    loop: bool = False
    """Start again at the end."""


class Sound(Part):
    """A clip on an effect's timeline."""

    clip: Name
    """Name of a clip."""
    at_ms: Milliseconds = 0.0
    """Start, counted from the start of the effect. [ms]"""
    gain_db: GainDb = 0.0
    """Change of level for this use of the clip only. [dB]"""
    loop: bool = False
    """Repeat the clip's loop until the trigger is let go."""
    release_ms: Annotated[float, Field(ge=0, le=10_000)] = 40.0
    """Looped sounds only: fade-out when let go. [ms]"""


class Light(Part):
    """A fade on an effect's timeline."""

    group: Name
    """Name of a group."""
    fade: Name
    """Name of a fade."""
    at_ms: Milliseconds = 0.0
    """Start, counted from the start of the effect. [ms]"""
    stagger_ms: Annotated[float, Field(ge=-10_000, le=10_000)] = 0.0
    """Delay from one channel of the group to the next. A negative delay runs from the last
    channel to the first. [ms]
    """


class Count(Part):
    """A change of a counter on an effect's timeline."""

    counter: Name
    """Name of a counter."""
    change: Annotated[int, Field(ge=-65_535, le=65_535)]
    """Amount to add. The counter stays between 0 and its maximum."""
    at_ms: Milliseconds = 0.0
    """Start, counted from the start of the effect. [ms]"""


class Effect(Part):
    """Clips and fades on a timeline."""

    layer: Literal["effect", "ambient"] = "effect"
    """Layer for its lights. The ambient layer lies under the effect layer."""
    sounds: list[Sound] = []
    """Clips to play."""
    lights: list[Light] = []
    """Fades to start."""
    counts: list[Count] = []
    """Counters to change."""
    length_ms: Annotated[float, Field(ge=0.1, le=3_600_000)] | None = None
    """Time after which a held effect starts again. Default: the end of its last part. An effect
    that loops by itself never starts again. [ms]
    """
    pitch_spread_percent: Annotated[float, Field(ge=0, le=24)] = 0.0
    """Random change of pitch from shot to shot, up or down. [%]"""
    gain_spread_percent: Annotated[float, Field(ge=0, le=99)] = 0.0
    """Random change of gain from shot to shot, up or down. [%]"""


Despite = Literal["flashes", "light", "sound", "voices", "clipping", "saturation"]


class Trigger(Part):
    """What starts an effect: an input, a condition and a mode."""

    mode: Literal["once", "repeat", "while_held", "on_off", "always"]
    """once: one effect a press. repeat: effects one after the other while held. while_held: on
    while held. on_off: one press switches on, the next off. always: on from power-up.
    """
    input: Name | None = None
    """Name of an input."""
    when: dict[Name, Name | list[Name]] = {}
    """Selector positions in which the trigger works."""
    after_held_ms: Milliseconds = 0.0
    """Start only after the input has been held for this long. [ms]"""
    needs: Name | None = None
    """Counter that must be above zero."""
    empty: Name | None = None
    """Effect to play when the counter is at zero."""
    effects: list[Name] = []
    """once and repeat: effects to play, one for each shot."""
    choice: Literal["in_turn", "random"] = "in_turn"
    """Take the effects in turn, or at random but never the same twice in a row."""
    rate_per_s: RatePerS | None = None
    """repeat: shots a second. [1/s]"""
    despite: list[Despite] = []
    """Limits that this trigger may break by your own decision, as `fxseq tune` names them.
    Findings about them are then marked as decided.
    """
    first_delay_ms: Milliseconds | None = None
    """repeat: delay from the first shot to the second. [ms]"""
    burst: Annotated[int, Field(ge=1, le=255)] = 1
    """Minimum number of shots: played to the end even if the input is let go sooner."""
    limit: Annotated[int, Field(ge=1, le=65_535)] | None = None
    """Maximum number of shots a press."""
    ramp_to_rate_per_s: RatePerS | None = None
    """repeat: rate that a long hold ends at. [1/s]"""
    ramp_shots: Annotated[int, Field(ge=1, le=255)] | None = None
    """repeat: number of shots that the rate takes to get there."""
    begin: Name | None = None
    """Effect at the start."""
    during: Name | None = None
    """Effect that plays again and again while on."""
    end: Name | None = None
    """Effect at the end."""


class PressScript(Part):
    """What a hand does, and when. The first one of the file is played where none is asked for."""

    presses: str
    """Press script: what is pressed, and when."""


class Maker(Part):
    """Who makes the prop, as its papers say."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    """Name of the maker or the workshop."""
    contact: Annotated[str, Field(min_length=1, max_length=120)] | None = None
    """How to reach the maker."""
    logo: str | None = None
    """Picture file (PNG or JPEG) for the first page of the papers. Its path starts at the folder
    of the prop file.
    """
    remarks: list[Annotated[str, Field(min_length=1, max_length=400)]] = []
    """What else the papers should say to whoever builds the prop, a sentence or two each."""


class Sequence(Part):
    """A whole prop."""

    format: Literal[1]
    """Version of this file format."""
    title: Annotated[str, Field(min_length=1, max_length=LONGEST_TITLE)]
    """Name of the prop."""
    revision: Annotated[str, Field(min_length=1, max_length=20)] | None = None
    """Which state of the prop this is, as its papers say: a number, a letter or a date."""
    maker: Maker | None = None
    """Who makes it, for its papers."""
    board: Board
    """The board."""
    supplies: dict[Name, Supply] = {}
    """What the prop can run from, by name."""
    changeover: Literal["switch", "diodes"] | None = None
    """What keeps the supplies apart: a switch that breaks one before it makes the other, or a
    diode in each.
    """
    rail_load_ohm: Annotated[float, Field(ge=0.1, le=10_000_000)] | None = None
    """Any other load that is on the supplies all the time, as a resistance. [ohm]"""
    regulator: Regulator | None = None
    """A regulator behind the supplies."""
    amplifier: Amplifier | None = None
    """The amplifier."""
    speaker: Speaker | None = None
    """The speaker."""
    listening: Listening = Listening()
    """Distances to the ears."""
    picture: Picture | None = None
    """The picture that the LEDs are placed on."""
    inputs: dict[Name, Input] = {}
    """Buttons and the low-battery sensor, by name."""
    selectors: dict[Name, Selector] = {}
    """Switches with positions, by name."""
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
    scripts: dict[Name, PressScript] = {}
    """Press scripts, by name."""

    @model_validator(mode="before")
    @classmethod
    def _counted(cls, values: Any) -> Any:
        return counted_on(values)


def counted_on(values: Any) -> Any:
    """The values of a file with the first channel of each group that does not say it, the one
    behind the group before it, and with the board's channels, as many as the groups have.
    """
    groups = values.get("groups") if isinstance(values, Mapping) else None
    if not isinstance(groups, Mapping):
        return values
    counted = {}
    behind = most = 0
    for name, group in groups.items():
        if isinstance(group, Mapping):
            group = {"first_channel": behind, **group}
            places = group["first_channel"], group.get("channels", 1)
            behind = sum(place for place in places if isinstance(place, int))
        counted[name] = group
        most = max(most, behind)
    board = values.get("board")
    if isinstance(board, Mapping):
        values = {**values, "board": {"channels": min(max(most, 1), 255), **board}}
    return {**values, "groups": counted}
