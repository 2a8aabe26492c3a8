"""The electrical and acoustic parts of a description, and what all parts of it are made of."""
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
Percent = Annotated[float, Field(ge=0, le=100)]
Milliseconds = Annotated[float, Field(ge=0, le=3_600_000)]
GainDb = Annotated[float, Field(ge=-60, le=18)]
RatePerS = Annotated[float, Field(gt=0, le=50)]
Point = Annotated[tuple[float, float], Field(strict=False)]
"""[x, y] from the upper left corner of the picture, x to the right and y down, as on a screen. [mm]"""


class Part(BaseModel):
    """Base of every part of a sequence: unknown keys are faults, values are never changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True, use_attribute_docstrings=True)


class Supply(Part):
    """One source the prop can run from."""

    kind: Literal["cells", "wall"]
    """Cells, or a wall adaptor."""
    voltage_v: Annotated[float, Field(gt=0, le=60)]
    """Open-circuit voltage when fresh, of the whole pack. [V]"""
    minimum_v: Annotated[float, Field(ge=0, le=60)] = 0.0
    """Voltage under load at which the prop stops working. [V]"""
    internal_resistance_ohm: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Of the whole pack with its leads and contacts. [ohm]"""
    maximum_current_ma: Annotated[float, Field(gt=0, le=20_000)]
    """The most it may deliver. [mA]"""
    tolerance_percent: Annotated[float, Field(ge=0, le=30)] = 5.0
    """Wall only: how far its voltage may be off, either way. [%]"""
    cell: Literal["alkaline_aa", "nimh_aa", "li_ion", "alkaline_9v"] | None = None
    """Cells only: their kind, which gives what they do as they run down."""
    cells_in_series: Annotated[int, Field(ge=1, le=40)] = 1
    """Cells of one row."""
    cells_in_parallel: Annotated[int, Field(ge=1, le=40)] = 1
    """Rows side by side."""
    cell_capacity_mah: Annotated[float, Field(gt=0, le=100_000)] | None = None
    """Rated capacity of one cell; that of its kind unless given. [mAh]"""
    bulk_capacitor_uf: Annotated[float, Field(ge=0, le=1_000_000)] = 0.0
    """Capacitor across the rail. [uF]"""


class Day(Part):
    """A day of use, by its habits."""

    hours: Annotated[float, Field(gt=0, le=24)] = 8.0
    """How long it is switched on. [h]"""
    taps_an_hour: Annotated[float, Field(ge=0, le=36_000)] = 0.0
    """Short presses. [1/h]"""
    held_s_an_hour: Annotated[float, Field(ge=0, le=3600)] = 0.0
    """Time for which something is held. [s/h]"""


class Amplifier(Part):
    """The power amplifier between the board's output and the speaker."""

    kind: Literal["class_d", "class_ab"] = "class_d"
    """How it drives the speaker, which sets how it heats."""
    output: Literal["bridge", "single"] = "bridge"
    """Bridge-tied (both speaker leads driven) or single-ended."""
    gain_db: Annotated[float, Field(ge=-40, le=60)]
    """From its input to the speaker. [dB]"""
    full_scale_input_v: Annotated[float, Field(gt=0, le=10)]
    """Peak voltage at the amplifier's input for a full-scale sample. [V]"""
    lost_voltage_v: Annotated[float, Field(ge=0, le=10)] = 0.3
    """What the output cannot reach of the rail, summed over the output stage. [V]"""
    efficiency_percent: Annotated[float, Field(gt=0, le=100)] = 85.0
    """At full output. [%]"""
    idle_current_ma: Annotated[float, Field(ge=0, le=1000)] = 5.0
    """Current without sound. [mA]"""


class Speaker(Part):
    """The speaker in its chamber, as a closed box: a second-order high-pass with a sensitivity."""

    diameter_mm: Annotated[float, Field(gt=5, le=500)]
    """Of the moving diaphragm. [mm]"""
    impedance_ohm: Annotated[float, Field(gt=0.5, le=600)]
    """Nominal. [ohm]"""
    resonance_hz: Annotated[float, Field(gt=10, le=5000)]
    """Resonance in the prop's chamber, not in free air. [Hz]"""
    q_total: Annotated[float, Field(gt=0.1, le=20)] = 1.0
    """Total Q of that resonance, in the chamber."""
    sensitivity_db: Annotated[float, Field(ge=30, le=130)]
    """Level at the stated power and distance. [dB re 20 uPa]"""
    sensitivity_power_w: Annotated[float, Field(gt=0, le=100)] = 1.0
    """Power at which the sensitivity is stated. [W]"""
    sensitivity_distance_m: Annotated[float, Field(gt=0, le=10)] = 1.0
    """Distance at which the sensitivity is stated. [m]"""
    sensitivity_spread_db: Annotated[float, Field(ge=0, le=20)] = 3.0
    """How far a specimen may differ from the data sheet, either way. [dB]"""
    rated_power_w: Annotated[float, Field(gt=0, le=1000)]
    """Continuous power it stands. [W]"""


class Listening(Part):
    """Where the ears are."""

    hand_m: Annotated[float, Field(ge=0.05, le=100)] = 0.5
    """From the speaker to the ear of who holds the prop. [m]"""
    audience_m: Annotated[float, Field(ge=0.05, le=100)] = 4.0
    """From the speaker to the nearest of the audience. [m]"""
