"""How large a flashing light is to the eye."""
import math

from fxseq.hazards.flashes import SMALL_AREA_SR
from fxseq.sequence.model import Group

FIELD_DEG = 10.0
"""Field of view that the small area is a quarter of (W3C WCAG 2.2, read). [degrees]"""


def cone_sr(angle_deg: float) -> float:
    """Solid angle of a cone of that full angle: 2 pi (1 - cos(angle / 2)). [sr]"""
    return 2 * math.pi * (1 - math.cos(math.radians(angle_deg / 2)))


def solid_angle_sr(area_m2: float, distance_m: float) -> float:
    """Of a small flat area seen square on: A / d^2. [sr]"""
    return area_m2 / distance_m**2


def led_area_m2(group: Group) -> float:
    """Of the faces of all LEDs of a group. [m^2]"""
    return group.leds * math.pi / 4 * (group.size_mm / 1000) ** 2


def is_small(area_m2: float, distance_m: float) -> bool:
    """Whether WCAG would call the area small, were it on a screen: at most 0.006 sr.

    Said in findings, never used to drop one: what a prop lights up in a dark room flashes too.
    """
    return solid_angle_sr(area_m2, distance_m) <= SMALL_AREA_SR
