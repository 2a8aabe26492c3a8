"""What switches an LED string: a pin, a transistor, a MOSFET, a constant-current driver; and the
PWM that drives it.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.power.diodes import THERMAL_V

PIN_MA = 8.0
CHIP_MA = 50.0
"""Current of a pin, and of all pins of a chip together, from which on the chip's data sheet has
to be asked. Common practice, no source: pins of chips now in use are good for 2 to 25 mA, all
together for 50 to 200 mA. An absolute maximum is not a design value. [mA]
"""
BROWN_OUT_V = {"8-bit chip": (1.8, 2.7, 4.3), "chip of 3.3 V": (2.7, 2.9)}
"""Voltages below which chips reset themselves. Source: makers' pages on the settings of an 8-bit
chip; of 3.3 V ones from memory. [V]
"""
FULL_SPEED_V = 4.5
"""What an 8-bit chip of 5 V needs for 16 or 20 MHz; from memory. [V]"""
FORCED_BETA = 10.0
"""Collector over base current of a transistor driven to saturation. Source: makers' condition
for their saturation voltages.
"""
BASE_EMITTER_V = 0.7
_ROUNDS = 20
_LEAST_RATIO = 1e-3


@dataclass(frozen=True)
class Switch:
    """What keeps a voltage whatever flows through it, and has a resistance: a pin, a contact."""

    drop_v: float = 0.0
    on_ohm: float = 0.0

    @property
    def most_a(self) -> float:
        """Nothing limits its current."""
        return math.inf

    def voltage_v(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """What it keeps at a current. [V]"""
        return self.drop_v + self.on_ohm * np.asarray(current_a, dtype=np.float64)

    def slope_ohm(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Its resistance. [ohm]"""
        return np.full(np.shape(current_a), self.on_ohm)


@dataclass(frozen=True)
class OnTransistor:
    """A bipolar transistor with a current in its base.

    base_a: > 0. gain, reverse_gain: its current gains forward and in reverse. collector_ohm:
    resistance in series with its collector.

    Vce = VT ln((1 + 1 / br + Ic / (Ib br)) / (1 - Ic / (bf Ib))) + Rc Ic; more than bf Ib does not
    flow. Source: the model of Ebers and Moll, solved for Vce at a base current; the transistor of
    SPICE without leakage and high-level effects.
    """

    base_a: float
    gain: float
    reverse_gain: float
    collector_ohm: float

    @property
    def most_a(self) -> float:
        """Collector current that its base opens it for. [A]"""
        return self.gain * self.base_a

    def voltage_v(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Collector to emitter, at a collector current below the most. [V]"""
        amperes = np.asarray(current_a, dtype=np.float64)
        forced = amperes / self.base_a
        ratio = (1 + (1 + forced) / self.reverse_gain) / (1 - forced / self.gain)
        return THERMAL_V * np.log(ratio) + self.collector_ohm * amperes

    def slope_ohm(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Slope of that voltage. [ohm]"""
        forced = np.asarray(current_a, dtype=np.float64) / self.base_a
        bent = 1 / (self.reverse_gain + 1 + forced) + 1 / (self.gain - forced)
        return THERMAL_V / self.base_a * bent + self.collector_ohm


@dataclass(frozen=True)
class OnMosfet:
    """A MOSFET with a voltage at its gate. factor: K, > 0 [A/V^2]. over_v: gate voltage above the
    threshold, > 0.

    I = K (over Vds - Vds^2 / 2); more than K over^2 / 2 does not flow. Source: the MOSFET of SPICE,
    level 1.
    """

    factor: float
    over_v: float

    @property
    def most_a(self) -> float:
        """What its gate opens it for. [A]"""
        return self.factor * self.over_v**2 / 2

    def voltage_v(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Drain to source, at a current below the most. [V]"""
        return self.over_v - np.sqrt(
            self.over_v**2 - 2 * np.asarray(current_a, dtype=np.float64) / self.factor
        )

    def slope_ohm(self, current_a: ArrayLike) -> NDArray[np.float64]:
        """Slope of that voltage. [ohm]"""
        return 1 / (
            self.factor
            * np.sqrt(self.over_v**2 - 2 * np.asarray(current_a, dtype=np.float64) / self.factor)
        )


def saturated_at(
    saturation_v: float, collector_a: float, gain: float, reverse_gain: float
) -> tuple[float, float]:
    """Reverse gain and collector resistance of a transistor that keeps this voltage with a tenth of
    its current in the base, where a data sheet states it. [1] [ohm]

    What the usual reverse gain does not explain is resistance; where the voltage is less than that
    gain makes, the gain is higher instead.
    """
    base_a = collector_a / FORCED_BETA
    junctions_v = float(OnTransistor(base_a, gain, reverse_gain, 0.0).voltage_v(collector_a))
    if saturation_v >= junctions_v:
        return reverse_gain, (saturation_v - junctions_v) / collector_a
    ratio = math.exp(saturation_v / THERMAL_V) * (1 - FORCED_BETA / gain)
    return (1 + FORCED_BETA) / max(ratio - 1, _LEAST_RATIO), 0.0


def mosfet_at(on_ohm: float, stated_v: float, threshold_v: float, gate_v: float) -> OnMosfet | None:
    """The MOSFET of a data sheet with this voltage at its gate: on_ohm at stated_v > threshold_v
    fixes K; None where its gate does not open it.
    """
    if gate_v > threshold_v:
        return OnMosfet(1 / (on_ohm * (stated_v - threshold_v)), gate_v - threshold_v)
    return None


def base_current_through_a(
    pin_v: float,
    base_ohm: float,
    collector_a: float,
    gain: float,
    saturation_a: float,
) -> float:
    """What flows into the base of a transistor through its resistor: (V - Vbe) / R, with Vbe = VT
    ln(Ic / Is). [A]

    collector_a: wanted; what its base lets through where that is less. 0 where the pin does not
    open it.
    """
    base_a = (pin_v - BASE_EMITTER_V) / base_ohm
    for _ in range(_ROUNDS):
        flows_a = min(collector_a, gain * max(base_a, 0.0))
        base_a = (
            pin_v - THERMAL_V * math.log(max(flows_a, saturation_a) / saturation_a)
        ) / base_ohm
    return max(base_a, 0.0)


def base_resistor_ohm(pin_v: float, collector_a: float, forced_beta: float = FORCED_BETA) -> float:
    """Largest base resistor that saturates a transistor: R = (V - 0.7 V) / (Ic / beta). [ohm]
    Its current has to be within the pin's limit.
    """
    return (pin_v - BASE_EMITTER_V) / base_current_a(collector_a, forced_beta)


def base_current_a(collector_a: float, forced_beta: float = FORCED_BETA) -> float:
    """Current that the pin has to give: Ic / beta. [A]"""
    return collector_a / forced_beta


def driver_heat_w(supply_v: float, string_v: float, current_a: float, outputs: int) -> float:
    """Heat of a constant-current driver: what its outputs keep from the LEDs, (V - Vf) I each.
    [W]
    """
    return max(0.0, supply_v - string_v) * current_a * outputs


def has_headroom(supply_v: float, string_v: float, headroom_v: float) -> bool:
    """Whether a constant-current driver can still hold its current: what the string leaves is at
    least the driver's headroom.
    """
    return supply_v - string_v >= headroom_v


def set_resistor_ohm(current_a: float, reference_v: float) -> float:
    """Resistor that sets the current of a driver's outputs: R = k Vref / I. [ohm] reference_v: k
    Vref, from the driver's data sheet. [V]
    """
    return reference_v / current_a


def pwm_hz(clock_hz: float, bits: int) -> float:
    """The most PWM periods a second of a counter of so many bits, which counts every beat of the
    clock: f = clock / 2^bits. [Hz]

    Source: a maker's section on its fast PWM mode, bits = log2(top + 1).
    """
    return clock_hz / 2**bits
