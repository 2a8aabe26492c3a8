"""The one place that guesses what a maker meant to write."""

from collections.abc import Iterable

_MEANT = {
    "amps": "current_ma maximum_current_ma",
    "current": "current_ma maximum_current_ma",
    "ma": "current_ma maximum_current_ma",
    "battery": "cells cell",
    "batteries": "cells_in_series",
    "cells": "cells_in_series",
    "capacity": "cell_capacity_mah",
    "bits": "pwm_bits sound_bits",
    "brightness": "to_percent",
    "level": "to_percent gain_db",
    "target": "to_percent",
    "capacitor": "bulk_capacitor_uf",
    "color": "colour",
    "count": "leds change maximum",
    "number": "leds",
    "delay": "at_ms first_delay_ms",
    "diameter": "diameter_mm size_mm",
    "distance": "hand_m",
    "duration": "length_ms",
    "time": "length_ms at_ms",
    "effect": "effects",
    "flash": "flash_for_table_bytes",
    "memory": "flash_for_table_bytes",
    "frequency": "rate_hz rate_per_s resonance_hz",
    "impedance": "impedance_ohm",
    "ohms": "impedance_ohm resistor_ohm",
    "interval": "rate_per_s every_ms",
    "leds_per_string": "leds_in_series",
    "name": "title",
    "pause": "first_delay_ms",
    "path": "file",
    "power": "rated_power_w",
    "watts": "rated_power_w",
    "rate": "rate_per_s rate_hz",
    "repeat": "rate_per_s loop",
    "resistor": "resistor_ohm",
    "sample_rate": "sample_rate_hz rate_hz",
    "sensitivity": "sensitivity_db",
    "size": "size_mm diameter_mm",
    "sound": "clip file",
    "speed": "rate_per_s",
    "start": "start_ms at_ms",
    "times": "limit",
    "voltage": "voltage_v forward_voltage_v",
    "volts": "voltage_v forward_voltage_v",
    "volume": "gain_db",
    "wavelength": "wavelength_nm",
    "tap": "once",
    "toggle": "on_off",
    "switch": "on_off",
    "hold": "while_held",
    "held": "while_held",
    "rapid": "repeat",
    "auto": "repeat",
    "adaptor": "wall",
    "adapter": "wall",
    "usb": "wall",
    "button_press": "button",
    "battery_low": "low_battery",
}
"""What makers call a key or a choice by: those that may be meant, the likeliest first."""


def closest(word: str, known: Iterable[str]) -> str | None:
    """The known word that `word` stands for among makers, else the one that looks most like it;
    None if none does.
    """
    from difflib import get_close_matches

    word = word.lower()
    words = sorted(known)
    meant = [other for other in _MEANT.get(word, "").split() if other in words]
    within = sorted(
        (other for other in words if len(word) > 2 and word in other),
        key=lambda other: (not other.startswith(word), len(other)),
    )
    close = meant or get_close_matches(word, words, n=1) or within
    if not close:
        return None
    return close[0]


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`Did you mean 'voices'?` for a word close to a known one, else the empty text."""
    match = closest(word, known)
    if not match:
        return ""
    return f"Did you mean '{match}'?"
