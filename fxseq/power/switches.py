"""What switches an LED string: a pin, a transistor, a MOSFET, a constant-current driver; and the PWM that drives it."""

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


def mosfet_heat_w(current_a: float, on_ohm: float) -> float:
    """I^2 R of a MOSFET that is on. [W]"""
    return current_a**2 * on_ohm


def driver_heat_w(supply_v: float, string_v: float, current_a: float, outputs: int) -> float:
    """Heat of a constant-current driver: what its outputs keep from the LEDs, (V - Vf) I each. [W]"""
    return max(0.0, supply_v - string_v) * current_a * outputs


def has_headroom(supply_v: float, string_v: float, headroom_v: float) -> bool:
    """Whether a constant-current driver can still hold its current: what the string leaves is at least the driver's headroom."""
    return supply_v - string_v >= headroom_v


def set_resistor_ohm(current_a: float, reference_v: float) -> float:
    """Resistor that sets the current of a driver's outputs: R = k Vref / I. [ohm] reference_v: k Vref, from the driver's data sheet. [V]"""
    return reference_v / current_a


def pwm_hz(clock_hz: float, bits: int) -> float:
    """The most PWM periods a second of a counter of so many bits, which counts every beat of the clock: f = clock / 2^bits. [Hz]

    Source: a maker's section on its fast PWM mode, bits = log2(top + 1).
    """
    return clock_hz / 2**bits
