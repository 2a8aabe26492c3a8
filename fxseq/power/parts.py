"""Common generic parts, from `parts.toml`."""

import math
import tomli
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from fxseq.power.cells import Cell, Estimate
from fxseq.power.diodes import Diode, diode_from_point, diode_from_points

CELL_NAMES = {
    "alkaline_aa": "alkaline AA",
    "nimh_aa": "NiMH AA",
    "li_ion": "Li-ion",
    "alkaline_9v": "alkaline 9 V",
}
"""Kinds of cells as they are sold."""
ADAPTOR_SHARE = 0.75
"""Share of an adaptor's rated current that is planned for; 0.7 to 0.8, from memory."""
TOUCH_V = 30.0
"""Highest direct voltage that may be touched in other than ordinary conditions. Source: IEC
60598-1:2008, 8.2.3, as quoted. [V]
"""

DAMP_V = 15.0
"""Highest direct voltage that may be touched where it is not dry. Source: EN 60204-1, 6.4.1, as
quoted. [V]
"""


@dataclass(frozen=True)
class Outlet:
    """A kind of steady source. voltage_v: at its outlet. maximum_ma: after it has been asked for;
    unasked_ma: before, None for as much.

    bulk_f: the most that may be joined at once.
    """

    voltage_v: Estimate
    maximum_ma: float
    source: str
    unasked_ma: float | None = None
    bulk_f: float | None = None


def planned_margin(rated_ma: float, peak_ma: float) -> float:
    """Share of the planned 75 % of an adaptor's rating that the highest current leaves free;
    below 0 it is too small.
    """
    return 1 - peak_ma / (ADAPTOR_SHARE * rated_ma)


SMALL_LED_MA = 100.0
"""Current above which an LED is one of power: common ones of 2 to 5 mm stand 30 mA, some of
several dies 70. Common practice, no source. [mA]
"""
_OLD_GREEN_BELOW_V = 2.7
_POWER_KIND = {"red": "red", "orange": "red", "amber": "red", "yellow": "red"}
"""By semiconductor; all other colours are of a blue die."""


@dataclass(frozen=True)
class LedKind:
    """A colour of LED: its forward voltage at a current, by corner of the tolerance, the shape
    of its curve, and what one stands for long.
    """

    voltage_v: Estimate
    current_ma: float
    emission: float
    series_ohm: float
    maximum_ma: float
    source: str


@dataclass(frozen=True)
class Led:
    """An LED with its spread: the corner of the lowest forward voltage, the typical one, and
    that of the highest.
    """

    low: Diode
    typical: Diode
    high: Diode


@dataclass(frozen=True)
class TransistorKind:
    """A small transistor. saturation_a: Is of its SPICE model. gain, reverse_gain: of current,
    forward and in reverse. collector_ohm: in series with its collector. maximum_ma: collector
    current.
    """

    saturation_a: float
    gain: float
    reverse_gain: float
    collector_ohm: float
    maximum_ma: float
    source: str


@dataclass(frozen=True)
class MosfetKind:
    """A MOSFET whose data sheet states on_ohm at gate_v, and threshold_v, from which it begins
    to conduct.
    """

    on_ohm: float
    gate_v: float
    threshold_v: float
    maximum_ma: float
    source: str


@dataclass(frozen=True)
class Driver:
    """A constant-current driver. headroom_v: what each output needs to hold its current. tolerance:
    of that current, as a share, either way.

    maximum_ma: of an output.
    """

    headroom_v: Estimate
    tolerance: float
    maximum_ma: float
    source: str


@dataclass(frozen=True)
class RegulatorKind:
    """A kind of regulator. dropout_v: what it needs above its output, 0 where it steps up.
    efficiency: 1 where all current of its input comes out again. own_ma: what it takes for
    itself. heat_w: what it stands without a heat sink.
    """

    own_ma: float
    heat_w: float
    source: str
    dropout_v: float = 0.0
    efficiency: float = 1.0


@dataclass(frozen=True)
class DiodeKind:
    """A diode by the figures of its SPICE model."""

    saturation_a: float
    emission: float
    series_ohm: float
    source: str

    @property
    def diode(self) -> Diode:
        """As a model."""
        return Diode(math.log(self.saturation_a), self.emission, self.series_ohm)


@dataclass(frozen=True)
class Parts:
    """All kinds, by name."""

    leds: dict[str, LedKind]
    power_leds: dict[str, LedKind]
    cells: dict[str, Cell]
    outlets: dict[str, Outlet]
    transistors: dict[str, TransistorKind]
    mosfets: dict[str, MosfetKind]
    drivers: dict[str, Driver]
    regulators: dict[str, RegulatorKind]
    diodes: dict[str, DiodeKind]


_ESTIMATES = {"voltage_v", "fresh_v", "resistance_ohm", "capacity_share", "headroom_v"}


@cache
def parts() -> Parts:
    """The parts of the package."""
    read = tomli.loads(
        resources.files("fxseq.power").joinpath("parts.toml").read_text(encoding="utf-8")
    )
    kinds = {
        "leds": LedKind,
        "power_leds": LedKind,
        "cells": Cell,
        "outlets": Outlet,
        "transistors": TransistorKind,
        "mosfets": MosfetKind,
        "drivers": Driver,
        "regulators": RegulatorKind,
        "diodes": DiodeKind,
    }
    return Parts(
        **{
            table: {name: kind(**_typed(values)) for name, values in read[table].items()}
            for table, kind in kinds.items()
        }
    )


def _typed(values: dict[str, Any]) -> dict[str, Any]:
    return {key: _value(key, value) for key, value in values.items()}


def _value(key: str, value: Any) -> Any:
    if key in _ESTIMATES:
        return Estimate(*value)
    if isinstance(value, list):
        return tuple(value)
    return value


def led_kind(colour: str, voltage_v: float | None, current_ma: float) -> LedKind:
    """The kind of a colour, by its current one of 2 to 5 mm or a power LED. Small green ones
    come in two, 1 V apart, which are told by the forward voltage; without one it is the bright
    one.
    """
    if current_ma > SMALL_LED_MA:
        return parts().power_leds[_POWER_KIND.get(colour, "blue")]
    is_old = colour == "green" and voltage_v is not None and voltage_v < _OLD_GREEN_BELOW_V
    return parts().leds["yellow_green" if is_old else colour]


def led(
    colour: str,
    voltage_v: float,
    current_ma: float,
    spread_v: tuple[float, float] | None = None,
    second: tuple[float, float, float | None] | None = None,
) -> Led:
    """The LED of a colour through one point of its data sheet. spread_v: its lowest and highest
    forward voltage; the colour's own unless given.

    second: another point of the curve (V, mA) with the resistance in the LED [ohm] where that is
    known, which set its steepness, at all corners alike; the colour's own unless given.
    """
    kind = led_kind(colour, voltage_v, current_ma)
    usual = kind.voltage_v
    low_v, high_v = spread_v or (
        voltage_v + usual.low - usual.typical,
        voltage_v + usual.high - usual.typical,
    )
    amperes = current_ma / 1000
    curve = kind
    if second:
        curve = diode_from_points(
            (voltage_v, amperes), (second[0], second[1] / 1000), kind.emission, second[2]
        )
    return Led(
        *(
            diode_from_point(volts, amperes, curve.emission, curve.series_ohm)
            for volts in (max(low_v, voltage_v / 2), voltage_v, high_v)
        )
    )
