"""What switches an LED string: a pin, a transistor, a MOSFET, a constant-current driver; and the PWM that drives it."""
import math

from fxseq.power.diodes import THERMAL_V

PIN_MA = 8.0
CHIP_MA = 50.0
"""Current of a pin, and of all pins of a chip together, from which on the chip's data sheet has to be asked. Common practice, no source:
pins of chips now in use are good for 2 to 25 mA, all together for 50 to 200 mA. An absolute maximum is not a design value. [mA]"""
BROWN_OUT_V = {"8-bit chip": (1.8, 2.7, 4.3), "chip of 3.3 V": (2.7, 2.9)}
"""Voltages below which chips reset themselves. Source: makers' pages on the settings of an 8-bit chip; of 3.3 V ones from memory. [V]"""
FULL_SPEED_V = 4.5
"""What an 8-bit chip of 5 V needs for 16 or 20 MHz; from memory. [V]"""
FORCED_BETA = 10.0
"""Collector over base current of a transistor driven to saturation. Source: makers' condition for their saturation voltages."""
BASE_EMITTER_V = 0.7


def base_resistor_ohm(pin_v: float, collector_a: float, forced_beta: float = FORCED_BETA) -> float:
    """Largest base resistor that saturates a transistor: R = (V - 0.7 V) / (Ic / beta). [ohm] Its current has to be within the pin's limit."""
    return (pin_v - BASE_EMITTER_V) / base_current_a(collector_a, forced_beta)


def base_current_a(collector_a: float, forced_beta: float = FORCED_BETA) -> float:
    """Current that the pin has to give: Ic / beta. [A]"""
    return collector_a / forced_beta


def saturation_v(forced_beta: float, beta: float, reverse_beta: float = 1.0) -> float:
    """Collector-emitter voltage of a saturated transistor without its ohmic part, forced_beta < beta. [V]

    V = VT ln((1 + (forced + 1) / reverse) / (1 - forced / beta)). Source: Ebers and Moll's equations, solved for saturation.
    """
    return THERMAL_V * math.log((1 + (forced_beta + 1) / reverse_beta) / (1 - forced_beta / beta))


def on_resistance_ohm(gain_a_per_v2: float, gate_v: float, threshold_v: float) -> float:
    """Channel resistance of a MOSFET well in its linear range: 1 / (K (Vgs - Vth)). [ohm] Infinite where the gate does not reach the threshold.

    At its threshold voltage a MOSFET passes about 0.25 mA; on a data sheet only the row whose gate voltage is no more than the pin's counts.
    """
    return 1 / (gain_a_per_v2 * (gate_v - threshold_v)) if gate_v > threshold_v else math.inf


def mosfet_heat_w(current_a: float, on_ohm: float) -> float:
    """I^2 R of a MOSFET that is on. [W]"""
    return current_a**2 * on_ohm


def driver_heat_w(supply_v: float, string_v: float, current_a: float, outputs: int) -> float:
    """Heat of a constant-current driver: what its outputs keep from the LEDs, (V - Vf) I each. [W]"""
    return max(0.0, supply_v - string_v) * current_a * outputs


def has_headroom(supply_v: float, string_v: float, headroom_v: float) -> bool:
    """Whether a constant-current driver can still hold its current: what the string leaves is at least the driver's headroom."""
    return supply_v - string_v >= headroom_v


def set_resistor_ohm(current_a: float, reference_v: float, ratio: float) -> float:
    """Resistor that sets the current of a driver's outputs: R = k Vref / I. [ohm] Both constants are from the driver's data sheet."""
    return ratio * reference_v / current_a


def pwm_hz(clock_hz: float, bits: int, prescale: int = 1, *, up_and_down: bool = False) -> float:
    """PWM frequency of a counter of so many bits: f = clock / (prescale 2^bits), half of it where it counts up and down. [Hz]

    Source: a maker's section on its fast PWM mode, bits = log2(top + 1).
    """
    return clock_hz / (prescale * 2**bits) / (2 if up_and_down else 1)


def lowest_step_db(bits: int) -> float:
    """Light of the lowest step of a linear PWM below full light: 20 lg(1 / (2^bits - 1)). [dB] At 8 bits slow fades show their steps."""
    return -20 * math.log10(2**bits - 1)
