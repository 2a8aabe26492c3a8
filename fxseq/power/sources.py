"""Sources other than cells: USB and wall adaptors."""
from dataclasses import dataclass

from fxseq.power.estimate import Estimate

ADAPTOR_SHARE = 0.75
"""Share of an adaptor's rated current that is planned for; 0.7 to 0.8, from memory."""
TOUCH_V = 30.0
"""Highest direct voltage that may be touched in other than ordinary conditions. Source: IEC 60598-1:2008, 8.2.3, as quoted. [V]"""

DAMP_V = 15.0
"""The same where it is not dry. Source: EN 60204-1, 6.4.1, as quoted. [V]"""


@dataclass(frozen=True)
class Outlet:
    """A kind of steady source. voltage_v: at its outlet. maximum_ma: after it has been asked for; unasked_ma: before, None for as much.

    bulk_f: the most that may be joined at once.
    """

    voltage_v: Estimate
    maximum_ma: float
    source: str
    unasked_ma: float | None = None
    bulk_f: float | None = None


def adaptor_margin(rated_ma: float, peak_ma: float) -> float:
    """Share of the planned 75 % of an adaptor's rating that the highest current leaves free; below 0 it is too small."""
    return 1 - peak_ma / (ADAPTOR_SHARE * rated_ma)
