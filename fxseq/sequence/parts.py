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
"""[x, y] from the upper left corner of the picture, x to the right and y down, as on a screen.
[mm]
"""


NEEDED_WITHOUT_PART = "x-required-without-part"
"""Word of the schema for keys that are needed where no generic part gives them."""


class Part(BaseModel):
    """Base of every part of a sequence: unknown keys are faults, values are never changed after
    reading.
    """

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, strict=True, defer_build=True
    )


class CellCurve(Part):
    """How one cell runs down, from its data sheet or measured. It replaces the curve of a common
    kind.
    """

    used_percent: Annotated[list[Percent], Field(min_length=2, max_length=100)]
    """How much of the charge is used, from 0 to 100, at each point of the next two lists. [%]"""
    open_v: Annotated[
        list[Annotated[float, Field(ge=0.1, le=60)]], Field(min_length=2, max_length=100)
    ]
    """Open-circuit voltage at each of these points, falling. [V]"""
    resistance_ohm: Annotated[
        list[Annotated[float, Field(ge=0.0001, le=100)]], Field(min_length=2, max_length=100)
    ]
    """Internal resistance at each of these points. [ohm]"""
    current_ma: Annotated[
        list[Annotated[float, Field(ge=0.01, le=100_000)]], Field(min_length=1, max_length=100)
    ]
    """Constant currents at which the capacity is known, rising. [mA]"""
    capacity_mah: Annotated[
        list[Annotated[float, Field(ge=0.01, le=100_000)]], Field(min_length=1, max_length=100)
    ]
    """Capacity at each of these currents, down to end_v. [mAh]"""
    end_v: Annotated[float, Field(ge=0.1, le=60)]
    """Voltage under load at which the cell counts as empty. [V]"""


class Supply(Part):
    """A supply that the prop can run from."""

    kind: Literal["cells", "wall"]
    """Cells or a wall adaptor."""
    voltage_v: Annotated[float, Field(ge=0.5, le=60)] | None = None
    """Open-circuit voltage of the whole pack when fresh. Required unless cell, curve or outlet
    gives it. [V]
    """
    minimum_v: Annotated[float, Field(ge=0, le=60)] = 0.0
    """Voltage under load at which the prop stops working: where its chip resets, and what a
    regulator in front of the chip needs to hold that. [V]
    """
    internal_resistance_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Internal resistance of the whole pack, with leads and contacts. [ohm]"""
    maximum_current_ma: Annotated[float, Field(ge=0.1, le=20_000)] | None = None
    """Maximum current. Required unless cell or outlet gives it. [mA]"""
    tolerance_percent: Annotated[float, Field(ge=0, le=30)] = 5.0
    """Wall only: voltage tolerance, up or down. [%]"""
    outlet: Literal["usb", "usb_charger"] | None = None
    """Wall only: a USB socket of a computer or of a charger. It has its own limits."""
    cell: Literal["alkaline_aa", "nimh_aa", "li_ion", "alkaline_9v"] | None = None
    """Cells only: the kind of cell, which tells how it runs down."""
    curve: CellCurve | None = None
    """Cells only: how one cell runs down, instead of a common kind."""
    cells_in_series: Annotated[int, Field(ge=1, le=40)] = 1
    """Cells in series in one row."""
    cells_in_parallel: Annotated[int, Field(ge=1, le=40)] = 1
    """Rows in parallel."""
    cell_capacity_mah: Annotated[float, Field(ge=1, le=100_000)] | None = None
    """Rated capacity of one cell. Default: that of its kind. [mAh]"""
    bulk_capacitor_uf: Annotated[float, Field(ge=0, le=1_000_000)] = 0.0
    """Capacitor across the rail. [uF]"""
    bulk_capacitor_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Equivalent series resistance (ESR) of that capacitor. [ohm]"""
    fuse_ma: Annotated[float, Field(ge=1, le=40_000)] | None = None
    """Rating of a melting fuse directly at the supply. [mA]"""
    fuse_melting_a2s: Annotated[float, Field(ge=0.0001, le=100_000)] | None = None
    """Melting I2t of that fuse, from its data sheet: what blows it at once. [A^2 s]"""
    resettable_fuse_ma: Annotated[float, Field(ge=1, le=40_000)] | None = None
    """Hold current of a resettable fuse directly at the supply, instead of a melting fuse. [mA]"""


Consumer = Literal["board", "amplifier", "lights"]


class Regulator(Part):
    """A regulator, which makes a steady voltage from the supply for parts of the prop."""

    kind: Literal["linear", "low_dropout", "step_down", "step_up"]
    """A classic linear regulator, a low-dropout one, or a switching converter to a lower or a
    higher voltage.
    """
    output_v: Annotated[float, Field(ge=0.8, le=60)]
    """Output voltage. [V]"""
    feeds: Annotated[list[Consumer], Field(min_length=1, max_length=3)] = ["board"]
    """What it feeds: the board with the LEDs on its pins, the amplifier, all other lights. The
    rest runs straight from the supply.
    """
    dropout_v: Annotated[float, Field(ge=0, le=10)] | None = None
    """Dropout voltage: how far its input must be above its output. Default: usual for its kind.
    Not for a step-up converter. [V]
    """
    efficiency_percent: Annotated[float, Field(ge=10, le=100)] | None = None
    """Efficiency, switching converters only. Default: a cautious value for planning. [%]"""
    own_current_ma: Annotated[float, Field(ge=0, le=100)] | None = None
    """Current that it uses itself. Default: usual for its kind. [mA]"""
    maximum_current_ma: Annotated[float, Field(ge=1, le=20_000)] | None = None
    """Maximum output current. [mA]"""
    maximum_heat_w: Annotated[float, Field(ge=0.01, le=100)] | None = None
    """Maximum heat where it is fitted, with its heat sink. Default: that of its kind without a
    heat sink. [W]
    """


class Day(Part):
    """A typical day of use."""

    hours: Annotated[float, Field(ge=0.01, le=24)] = 8.0
    """How long the prop is switched on. [h]"""
    taps_an_hour: Annotated[float, Field(ge=0, le=36_000)] = 0.0
    """Short presses an hour. [1/h]"""
    held_s_an_hour: Annotated[float, Field(ge=0, le=3600)] = 0.0
    """Seconds in an hour during which a trigger is held. [s/h]"""


def _needs_nothing(schema: dict[str, Any]) -> None:
    """A generic part may give any key, so an editor must not ask for one; reading says what is
    missing.
    """
    schema[NEEDED_WITHOUT_PART] = schema.pop("required")


class Amplifier(Part):
    """The power amplifier between the board's output and the speaker."""

    model_config = ConfigDict(json_schema_extra=_needs_nothing)

    part: Literal["class D bridge, 5 V", "class AB bridge, 5 V"] | None = None
    """A generic amplifier. It supplies the figures that are missing here."""
    kind: Literal["class_d", "class_ab"] = "class_d"
    """Amplifier class. It sets how much heat the amplifier makes."""
    output: Literal["bridge", "single"] = "bridge"
    """Bridge-tied (both speaker leads are driven) or single-ended."""
    gain_db: Annotated[float, Field(ge=-40, le=60)]
    """Gain from its input to the speaker. [dB]"""
    full_scale_input_v: Annotated[float, Field(ge=0.001, le=10)]
    """Peak voltage at the amplifier's input for a full-scale sample. [V]"""
    lost_voltage_v: Annotated[float, Field(ge=0, le=10)] = 0.3
    """Part of the supply voltage that the output cannot reach, summed over the output stage. [V]"""
    on_resistance_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Resistance of the output stage: all that the speaker's current passes, two switches in a
    bridge. [ohm]
    """
    efficiency_percent: Annotated[float, Field(ge=1, le=100)] = 85.0
    """Efficiency at full output. [%]"""
    idle_current_ma: Annotated[float, Field(ge=0, le=1000)] = 5.0
    """Current without sound. [mA]"""
    maximum_heat_w: Annotated[float, Field(ge=0.01, le=100)] = 1.0
    """Maximum heat where it is fitted, with its heat sink. [W]"""

    @model_validator(mode="before")
    @classmethod
    def _filled(cls, values: Any) -> Any:
        return filled("amplifiers", values)


class Grille(Part):
    """Round holes of one size in a plate in front of the speaker."""

    holes: Annotated[int, Field(ge=1, le=100_000)]
    """Number of holes."""
    hole_mm: Annotated[float, Field(ge=0.1, le=200)]
    """Diameter of one hole. [mm]"""
    thickness_mm: Annotated[float, Field(ge=0.05, le=100)]
    """Thickness of the plate. [mm]"""
    gap_ml: Annotated[float, Field(ge=0, le=10_000)] = 0.0
    """Volume of air between the cone and the plate. [ml]"""


class Speaker(Part):
    """The speaker in its chamber: either resonance and sensitivity, or the parameters of its
    data sheet and its chamber.
    """

    model_config = ConfigDict(json_schema_extra=_needs_nothing)

    part: (
        Literal[
            "15 mm, 8 ohm",
            "20 mm, 8 ohm",
            "23 mm, 8 ohm",
            "28 mm, 8 ohm",
            "28 mm, 4 ohm",
            "40 mm, 8 ohm",
            "40 mm, 4 ohm",
            "57 mm, 8 ohm",
        ]
        | None
    ) = None
    """A generic speaker. It supplies the figures that are missing here."""
    diameter_mm: Annotated[float, Field(gt=5, le=500)]
    """Diameter of the moving diaphragm. [mm]"""
    impedance_ohm: Annotated[float, Field(gt=0.5, le=600)]
    """Nominal impedance. [ohm]"""
    resonance_hz: Annotated[float, Field(gt=10, le=5000)] | None = None
    """Resonance frequency in the prop's chamber, not in free air. [Hz]"""
    free_resonance_hz: Annotated[float, Field(gt=10, le=5000)] | None = None
    """Resonance frequency in free air, instead of resonance_hz. The chamber raises it. [Hz]"""
    chamber_ml: Annotated[float, Field(gt=0.01, le=1_000_000)] | None = None
    """Volume of the closed chamber behind the speaker. [ml]"""
    q_total: Annotated[float, Field(gt=0.1, le=20)] | None = None
    """Total Q of the resonance. Default: worked out from other keys, else 1."""
    q_mechanical: Annotated[float, Field(gt=0.1, le=100)] | None = None
    """Mechanical Q, Qms."""
    q_electrical: Annotated[float, Field(gt=0.1, le=100)] | None = None
    """Electrical Q, Qes."""
    equivalent_volume_ml: Annotated[float, Field(ge=0.001, le=10_000_000)] | None = None
    """Equivalent volume Vas: air as springy as the suspension. [ml]"""
    moving_mass_g: Annotated[float, Field(ge=0.001, le=1000)] | None = None
    """Moving mass Mms, with the air that moves along. [g]"""
    compliance_mm_per_n: Annotated[float, Field(ge=0.001, le=100)] | None = None
    """Compliance of the suspension, Cms. [mm/N]"""
    force_factor_tm: Annotated[float, Field(ge=0.01, le=100)] | None = None
    """Force factor Bl: force for each ampere. [T m]"""
    cone_area_cm2: Annotated[float, Field(ge=0.1, le=5000)] | None = None
    """Cone area Sd. Default: worked out from other keys, else from diameter_mm. [cm^2]"""
    coil_ohm: Annotated[float, Field(gt=0.1, le=600)] | None = None
    """DC resistance of the coil, Re. Default: worked out from other keys, else 0.88 of the
    nominal impedance. [ohm]
    """
    coil_mh: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Inductance of the coil, Le. [mH]"""
    excursion_mm: Annotated[float, Field(ge=0.001, le=100)] | None = None
    """Maximum cone excursion from rest, either way. [mm]"""
    sensitivity_db: Annotated[float, Field(ge=30, le=130)] | None = None
    """Sensitivity: level at the power and distance below. [dB re 20 uPa]"""
    sensitivity_power_w: Annotated[float, Field(ge=0.0001, le=100)] = 1.0
    """Power at which the data sheet gives the sensitivity. [W]"""
    sensitivity_voltage_v: Annotated[float, Field(ge=0.001, le=100)] | None = None
    """Voltage at which the data sheet gives the sensitivity, instead of a power. [V]"""
    sensitivity_distance_m: Annotated[float, Field(ge=0.001, le=10)] = 1.0
    """Distance at which the data sheet gives the sensitivity. [m]"""
    sensitivity_baffle: bool = True
    """True if the sensitivity was measured in a baffle, as most are. False for free air, where
    sound from the back cancels some of the front's.
    """
    sensitivity_spread_db: Annotated[float, Field(ge=0, le=20)] = 3.0
    """Part tolerance: how far a speaker may differ from its data sheet, up or down. [dB]"""
    rated_power_w: Annotated[float, Field(ge=0.001, le=1000)]
    """Rated continuous power. [W]"""
    grille: Grille | None = None
    """The holes in front of the speaker."""

    @model_validator(mode="before")
    @classmethod
    def _filled(cls, values: Any) -> Any:
        return filled("speakers", values)


class Listening(Part):
    """Where the ears are, and how long they listen."""

    hand_m: Annotated[float, Field(ge=0.05, le=100)] = 0.5
    """Distance from the speaker to the ear of the person holding the prop. [m]"""
    audience_m: Annotated[float, Field(ge=0.05, le=100)] = 4.0
    """Distance from the speaker to the nearest person in the audience. [m]"""
    space: Literal["half", "full"] = "half"
    """Where the sound goes. half: to the front only, as from a speaker in a large wall;
    sensitivities are measured so. full: all around a small prop, 6 dB less.
    """
    hours_a_day: Annotated[float, Field(ge=0.01, le=24)] = 8.0
    """Hours a day during which it plays as in the preview. [h]"""
