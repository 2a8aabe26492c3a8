"""A figure that is only known within bounds."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A figure with its bounds, low <= typical <= high over the part tolerance, in the unit of
    the name it goes by.
    """

    low: float
    typical: float
    high: float
