"""A figure that is only known within bounds."""
from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A figure with its bounds: what an unlucky, a usual and a lucky specimen gives, in the unit of the field it stands in; low <= typical <= high."""

    low: float
    typical: float
    high: float
