"""Sources other than cells: USB, wall adaptors, and regulators behind any of them."""
from dataclasses import dataclass

from fxseq.power.estimate import Estimate

ADAPTOR_SHARE = 0.75
"""Share of an adaptor's rated current that is planned for; 0.7 to 0.8, from memory."""
TOUCH_V = 30.0
"""Highest direct voltage that may be touched in other than ordinary conditions. Source: IEC 60598-1:2008, 8.2.3, as quoted. [V]"""


@dataclass(frozen=True)
class Outlet:
    """A kind of steady source. voltage_v: at its outlet. maximum_ma: after it has been asked for. bulk_f: the most that may be joined at once."""

    voltage_v: Estimate
    maximum_ma: float
    source: str
    bulk_f: float | None = None


def adaptor_margin(rated_ma: float, peak_ma: float) -> float:
    """Share of the planned 75 % of an adaptor's rating that the highest current leaves free; below 0 it is too small."""
    return 1 - peak_ma / (ADAPTOR_SHARE * rated_ma)


def least_input_v(output_v: float, dropout_v: float) -> float:
    """Rail below which a linear regulator can no longer hold its output: output plus dropout. [V]"""
    return output_v + dropout_v


def regulator_heat_w(input_v: float, output_v: float, current_a: float) -> float:
    """Heat of a linear regulator, (Vin - Vout) I; its own current counts as none. [W]"""
    return max(0.0, input_v - output_v) * current_a


def regulator_efficiency(input_v: float, output_v: float) -> float:
    """Of a linear regulator: Vout / Vin, however small its dropout is."""
    return output_v / input_v


def converter_power_w(output_v: float, current_a: float, efficiency: float = 0.8) -> float:
    """What a switching converter takes, whatever its rail: Vout I / efficiency. [W]

    efficiency: 85 to 98 % at its best, 80 % to plan with. Source: a tutorial on power regulators.
    """
    return output_v * current_a / efficiency
