"""Wires and what protects them."""

import math

COPPER_OHM_M = 1.7241e-8
"""Resistivity of annealed copper at 20 degrees Celsius (100 % IACS). Some textbooks use
1.678e-8, which is 2.7 % lower. [ohm m]
"""
GAUGES = (16, 18, 20, 22, 24, 26, 28, 30, 32)
"""Hook-up wire that is commonly sold, AWG."""
FUSES_A = (
    0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0,
    5.0, 6.3, 8.0, 10.0,
)  # fmt: skip
"""Ratings of small fuses; from memory."""
FUSE_SHARE = 0.75
"""Share of its rating at which a fuse is run all the time, at 25 degrees Celsius. Source: a
maker's design guide, as quoted in a tutorial.
"""
TRIP_RATIO = 2.0
"""Current from which a resettable fuse trips, after 50 ms to 5 s, over the one that it holds.
Source: a tutorial on resettable fuses.
"""
_MIL_M = 25.4e-6
_CMIL_PER_A = 700.0


def diameter_m(gauge: int) -> float:
    """Diameter of a solid wire: d = 0.127 mm 92^((36 - n) / 39). [m] Source: ASTM B258, from
    memory; the formula in a table of wire sizes.
    """
    return 0.127e-3 * 92.0 ** ((36 - gauge) / 39)


def area_mm2(gauge: int) -> float:
    """Cross-section of a solid wire. [mm^2]"""
    return math.pi / 4 * (1000 * diameter_m(gauge)) ** 2


def wire_ohm(gauge: int, length_m: float, resistivity_ohm_m: float = COPPER_OHM_M) -> float:
    """R = rho l / A of one solid conductor at 20 degrees Celsius. [ohm]

    Stranded wire has a little more; copper gains 0.393 % a kelvin (from memory).
    """
    return resistivity_ohm_m * length_m / (math.pi / 4 * diameter_m(gauge) ** 2)


def ampacity_a(gauge: int) -> float:
    """Current that a wire in a bundle or a closed prop may carry: 700 circular mils an ampere. [A]

    Source: common practice as tables of wire sizes print it. Their "chassis wiring" column holds
    for a single wire in free air only.
    """
    return (diameter_m(gauge) / _MIL_M) ** 2 / _CMIL_PER_A


def drop_v(gauge: int, length_m: float, current_a: float) -> float:
    """Voltage lost over both conductors of a run: 2 l R I. [V]"""
    return 2 * wire_ohm(gauge, length_m) * current_a


def fuse_a(current_a: float, gauge: int) -> float | None:
    """The smallest fuse that runs at 75 % of its rating or less and still protects the wire;
    None where the wire is too thin for any. [A]
    """
    rating = next((rating for rating in FUSES_A if current_a <= FUSE_SHARE * rating), None)
    if rating is not None and rating <= ampacity_a(gauge):
        return rating
    return None


def fused_wire(current_a: float) -> tuple[int, float] | None:
    """The thinnest common wire with a fuse that carries the current and protects it: gauge and
    rating [A]; None where none is thick enough.
    """
    fused = ((gauge, fuse_a(current_a, gauge)) for gauge in reversed(GAUGES))
    return next(((gauge, rating_a) for gauge, rating_a in fused if rating_a is not None), None)


def wire_for(rating_a: float) -> int | None:
    """The thinnest common wire that a fuse of this rating protects; None where none is thick
    enough.
    """
    return next((gauge for gauge in reversed(GAUGES) if rating_a <= ampacity_a(gauge)), None)


def inrush_peak_a(voltage_v: float, resistance_ohm: float) -> float:
    """Peak current into an empty capacitor: V / R. [A]"""
    return voltage_v / resistance_ohm


def inrush_i2t_a2s(voltage_v: float, capacitance_f: float, resistance_ohm: float) -> float:
    """What charging a capacitor puts through a fuse: the integral of I^2, V^2 C / (2 R). [A2 s]
    It has to stay below the fuse's melting I2t.
    """
    return voltage_v**2 * capacitance_f / (2 * resistance_ohm)
