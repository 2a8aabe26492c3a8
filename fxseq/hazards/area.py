"""How large a flashing light is to the eye."""

import math

from fxseq.sequence.model import Group


def solid_angle_sr(area_m2: float, distance_m: float) -> float:
    """Solid angle of a small flat area seen square on: A / d^2. [sr]"""
    return area_m2 / distance_m**2


def led_area_m2(group: Group) -> float:
    """Area of the faces of all LEDs of a group. [m^2]"""
    return group.leds * math.pi / 4 * (group.size_mm / 1000) ** 2
