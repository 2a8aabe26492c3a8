"""The electrical and acoustic parts of a description, and what all parts of it are made of."""
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from fxseq.sequence.sound_parts import filled

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
Percent = Annotated[float, Field(ge=0, le=100)]
Milliseconds = Annotated[float, Field(ge=0, le=3_600_000)]
GainDb = Annotated[float, Field(ge=-60, le=18)]
RatePerS = Annotated[float, Field(ge=0.001, le=50)]
Point = Annotated[tuple[float, float], Field(strict=False)]
"""[x, y] from the upper left corner of the picture, x to the right and y down, as on a screen. [mm]"""


NEEDED_WITHOUT_PART = "x-required-without-part"
"""Word of the schema for keys that are needed where no generic part gives them."""


class Part(BaseModel):
    """Base of every part of a sequence: unknown keys are faults, values are never changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True, defer_build=True)


class CellCurve(Part):
    """What one cell does as it runs down, from its data sheet or measured, in place of a common kind."""

    used_percent: Annotated[list[Percent], Field(min_length=2, max_length=100)]
    """How far it is used up, from 0 to 100, at the points of the next two lists. [%]"""
    open_v: Annotated[list[Annotated[float, Field(ge=0.1, le=60)]], Field(min_length=2, max_length=100)]
    """Its voltage there with nothing on it, falling. [V]"""
    resistance_ohm: Annotated[list[Annotated[float, Field(ge=0.0001, le=100)]], Field(min_length=2, max_length=100)]
    """Its internal resistance there. [ohm]"""
    current_ma: Annotated[list[Annotated[float, Field(ge=0.01, le=100_000)]], Field(min_length=1, max_length=100)]
    """Constant currents, rising, at which its capacity is known. [mA]"""
    capacity_mah: Annotated[list[Annotated[float, Field(ge=0.01, le=100_000)]], Field(min_length=1, max_length=100)]
    """What it gives at each of them down to end_v. [mAh]"""
    end_v: Annotated[float, Field(ge=0.1, le=60)]
    """Its voltage under load at which it counts as empty. [V]"""


class Supply(Part):
    """One source the prop can run from."""

    kind: Literal["cells", "wall"]
    """Cells, or a wall adaptor."""
    voltage_v: Annotated[float, Field(ge=0.5, le=60)] | None = None
    """Open-circuit voltage when fresh, of the whole pack; needed where neither cell, curve nor outlet gives it. [V]"""
    minimum_v: Annotated[float, Field(ge=0, le=60)] = 0.0
    """Voltage under load at which the prop stops working: where its chip resets itself, and what a regulator in front of that needs. [V]"""
    internal_resistance_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Of the whole pack with its leads and contacts. [ohm]"""
    maximum_current_ma: Annotated[float, Field(ge=0.1, le=20_000)] | None = None
    """The most it may deliver; needed where neither cell nor outlet says it. [mA]"""
    tolerance_percent: Annotated[float, Field(ge=0, le=30)] = 5.0
    """Wall only: how far its voltage may be off, either way. [%]"""
    outlet: Literal["usb", "usb_charger"] | None = None
    """Wall only: a USB socket of a computer or of a charger, which sets bounds of its own."""
    cell: Literal["alkaline_aa", "nimh_aa", "li_ion", "alkaline_9v"] | None = None
    """Cells only: their kind, which gives what they do as they run down."""
    curve: CellCurve | None = None
    """Cells only: what one of them does as it runs down, in place of a common kind."""
    cells_in_series: Annotated[int, Field(ge=1, le=40)] = 1
    """Cells of one row."""
    cells_in_parallel: Annotated[int, Field(ge=1, le=40)] = 1
    """Rows side by side."""
    cell_capacity_mah: Annotated[float, Field(ge=1, le=100_000)] | None = None
    """Rated capacity of one cell; that of its kind unless given. [mAh]"""
    bulk_capacitor_uf: Annotated[float, Field(ge=0, le=1_000_000)] = 0.0
    """Capacitor across the rail. [uF]"""
    bulk_capacitor_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Resistance in series within that capacitor, its ESR. [ohm]"""
    fuse_ma: Annotated[float, Field(ge=1, le=40_000)] | None = None
    """Rating of a melting fuse right at it. [mA]"""
    fuse_melting_a2s: Annotated[float, Field(ge=0.0001, le=100_000)] | None = None
    """What melts that fuse at once, from its data sheet, I2t. [A^2 s]"""
    resettable_fuse_ma: Annotated[float, Field(ge=1, le=40_000)] | None = None
    """What a resettable fuse right at it holds, in place of a melting one. [mA]"""


Consumer = Literal["board", "amplifier", "lights"]


class Regulator(Part):
    """What makes a steady voltage of the supply's, for a part of the prop."""

    kind: Literal["linear", "low_dropout", "step_down", "step_up"]
    """A classic linear regulator, one that needs little above its output, or a switching converter to a lower or a higher voltage."""
    output_v: Annotated[float, Field(ge=0.8, le=60)]
    """What it holds. [V]"""
    feeds: Annotated[list[Consumer], Field(min_length=1, max_length=3)] = ["board"]
    """What hangs on it: the board with LEDs on its pins, the amplifier, all other lights; the rest hangs on the supply."""
    dropout_v: Annotated[float, Field(ge=0, le=10)] | None = None
    """What it needs above its output; usual for its kind unless given. Not of a step-up converter. [V]"""
    efficiency_percent: Annotated[float, Field(ge=10, le=100)] | None = None
    """Switching converters only; what is planned with unless given. [%]"""
    own_current_ma: Annotated[float, Field(ge=0, le=100)] | None = None
    """What it takes for itself; usual for its kind unless given. [mA]"""
    maximum_current_ma: Annotated[float, Field(ge=1, le=20_000)] | None = None
    """The most it may give. [mA]"""
    maximum_heat_w: Annotated[float, Field(ge=0.01, le=100)] | None = None
    """Heat that it stands where it sits, with its heat sink; that of its kind without one unless given. [W]"""


class Day(Part):
    """A day of use, by its habits."""

    hours: Annotated[float, Field(ge=0.01, le=24)] = 8.0
    """How long it is switched on. [h]"""
    taps_an_hour: Annotated[float, Field(ge=0, le=36_000)] = 0.0
    """Short presses. [1/h]"""
    held_s_an_hour: Annotated[float, Field(ge=0, le=3600)] = 0.0
    """Time for which something is held. [s/h]"""


def _needs_nothing(schema: dict[str, Any]) -> None:
    """A generic part may give any key, so an editor must not ask for one; reading says what is missing."""
    schema[NEEDED_WITHOUT_PART] = schema.pop("required")


class Amplifier(Part):
    """The power amplifier between the board's output and the speaker."""

    model_config = ConfigDict(json_schema_extra=_needs_nothing)

    part: Literal["class D bridge, 5 V", "class AB bridge, 5 V"] | None = None
    """A generic amplifier, for what is not said here."""
    kind: Literal["class_d", "class_ab"] = "class_d"
    """How it drives the speaker, which sets how it heats."""
    output: Literal["bridge", "single"] = "bridge"
    """Bridge-tied (both speaker leads driven) or single-ended."""
    gain_db: Annotated[float, Field(ge=-40, le=60)]
    """From its input to the speaker. [dB]"""
    full_scale_input_v: Annotated[float, Field(ge=0.001, le=10)]
    """Peak voltage at the amplifier's input for a full-scale sample. [V]"""
    lost_voltage_v: Annotated[float, Field(ge=0, le=10)] = 0.3
    """What the output cannot reach of the rail, summed over the output stage. [V]"""
    on_resistance_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Of all that the speaker's current passes in the output stage: two switches in a bridge. [ohm]"""
    efficiency_percent: Annotated[float, Field(ge=1, le=100)] = 85.0
    """At full output. [%]"""
    idle_current_ma: Annotated[float, Field(ge=0, le=1000)] = 5.0
    """Current without sound. [mA]"""
    maximum_heat_w: Annotated[float, Field(ge=0.01, le=100)] = 1.0
    """Heat that it stands where it sits, with its heat sink. [W]"""

    @model_validator(mode="before")
    @classmethod
    def _filled(cls, values: Any) -> Any:
        return filled("amplifiers", values)


class Grille(Part):
    """Round holes of one size in a plate in front of the speaker."""

    holes: Annotated[int, Field(ge=1, le=100_000)]
    """How many."""
    hole_mm: Annotated[float, Field(ge=0.1, le=200)]
    """Diameter of one. [mm]"""
    thickness_mm: Annotated[float, Field(ge=0.05, le=100)]
    """Of the plate. [mm]"""
    gap_ml: Annotated[float, Field(ge=0, le=10_000)] = 0.0
    """Air between the cone and the plate. [ml]"""


class Speaker(Part):
    """The speaker and where it sits: resonance and sensitivity, or the parameters of its data sheet and its chamber."""

    model_config = ConfigDict(json_schema_extra=_needs_nothing)

    part: Literal[
        "15 mm, 8 ohm", "20 mm, 8 ohm", "23 mm, 8 ohm", "28 mm, 8 ohm", "28 mm, 4 ohm", "40 mm, 8 ohm", "40 mm, 4 ohm", "57 mm, 8 ohm",
    ] | None = None
    """A generic speaker, for what is not said here."""
    diameter_mm: Annotated[float, Field(gt=5, le=500)]
    """Of the moving diaphragm. [mm]"""
    impedance_ohm: Annotated[float, Field(gt=0.5, le=600)]
    """Nominal. [ohm]"""
    resonance_hz: Annotated[float, Field(gt=10, le=5000)] | None = None
    """Resonance in the prop's chamber, not in free air. [Hz]"""
    free_resonance_hz: Annotated[float, Field(gt=10, le=5000)] | None = None
    """Resonance in free air, in place of resonance_hz; the chamber raises it. [Hz]"""
    chamber_ml: Annotated[float, Field(gt=0.01, le=1_000_000)] | None = None
    """Air shut in behind the speaker. [ml]"""
    q_total: Annotated[float, Field(gt=0.1, le=20)] | None = None
    """Total Q of the resonance that is given; 1 unless given or known from other keys."""
    q_mechanical: Annotated[float, Field(gt=0.1, le=100)] | None = None
    """Its mechanical Q."""
    q_electrical: Annotated[float, Field(gt=0.1, le=100)] | None = None
    """Its electrical Q."""
    equivalent_volume_ml: Annotated[float, Field(ge=0.001, le=10_000_000)] | None = None
    """Air as springy as the suspension, Vas. [ml]"""
    moving_mass_g: Annotated[float, Field(ge=0.001, le=1000)] | None = None
    """Mass that moves, its air included, Mms. [g]"""
    compliance_mm_per_n: Annotated[float, Field(ge=0.001, le=100)] | None = None
    """Of the suspension, Cms. [mm/N]"""
    force_factor_tm: Annotated[float, Field(ge=0.01, le=100)] | None = None
    """Force over current, Bl. [T m]"""
    cone_area_cm2: Annotated[float, Field(ge=0.1, le=5000)] | None = None
    """Of the cone, Sd; what the other numbers make of it, else from diameter_mm, unless given. [cm^2]"""
    coil_ohm: Annotated[float, Field(gt=0.1, le=600)] | None = None
    """Resistance of the coil at direct current; what the other numbers make of it, else 0.88 of the nominal impedance, unless given. [ohm]"""
    coil_mh: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Inductance of the coil. [mH]"""
    excursion_mm: Annotated[float, Field(ge=0.001, le=100)] | None = None
    """How far the cone may move from rest, either way. [mm]"""
    sensitivity_db: Annotated[float, Field(ge=30, le=130)] | None = None
    """Level at the stated power and distance. [dB re 20 uPa]"""
    sensitivity_power_w: Annotated[float, Field(ge=0.0001, le=100)] = 1.0
    """Power at which the sensitivity is stated. [W]"""
    sensitivity_voltage_v: Annotated[float, Field(ge=0.001, le=100)] | None = None
    """Voltage at which the sensitivity is stated, in place of a power. [V]"""
    sensitivity_distance_m: Annotated[float, Field(ge=0.001, le=10)] = 1.0
    """Distance at which the sensitivity is stated. [m]"""
    sensitivity_baffle: bool = True
    """Whether it was measured in a baffle, as most are, or in free air, where the back of the speaker takes from the front."""
    sensitivity_spread_db: Annotated[float, Field(ge=0, le=20)] = 3.0
    """How far a specimen may differ from the data sheet, either way. [dB]"""
    rated_power_w: Annotated[float, Field(ge=0.001, le=1000)]
    """Continuous power it stands. [W]"""
    grille: Grille | None = None
    """Holes in front of it."""

    @model_validator(mode="before")
    @classmethod
    def _filled(cls, values: Any) -> Any:
        return filled("speakers", values)


class Listening(Part):
    """Where the ears are, and for how long."""

    hand_m: Annotated[float, Field(ge=0.05, le=100)] = 0.5
    """From the speaker to the ear of who holds the prop. [m]"""
    audience_m: Annotated[float, Field(ge=0.05, le=100)] = 4.0
    """From the speaker to the nearest of the audience. [m]"""
    space: Literal["half", "full"] = "half"
    """What the sound spreads into: half as in a large wall, where sensitivities are measured; full around a small prop, 6 dB less."""
    hours_a_day: Annotated[float, Field(ge=0.01, le=24)] = 8.0
    """Time a day for which it plays as in the preview. [h]"""
