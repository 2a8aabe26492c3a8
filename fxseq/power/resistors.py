"""Resistors: standard values, power, and the code of colours."""

import eseries

RATINGS_W = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0)
"""Power ratings that are commonly sold; common practice, no source."""
USED_SHARE = 0.5
"""Share of its rating that a resistor is run at, at the most. Source: the rule "rating at least
twice the power" of two LED calculators.
"""
FULL_POWER_UP_TO_C = 70.0
NO_POWER_FROM_C = 155.0
"""Film resistors. Source: a maker's tutorial (35 % at 125 degrees Celsius)."""

_DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_MULTIPLIERS = {**{colour: power for power, colour in enumerate(_DIGITS)}, "gold": -1, "silver": -2}
_TOLERANCES = {
    "brown": 1.0,
    "red": 2.0,
    "green": 0.5,
    "blue": 0.25,
    "violet": 0.1,
    "grey": 0.05,
    "gold": 5.0,
    "silver": 10.0,
}
_WITHOUT_BAND_PERCENT = 20.0


def standard_ohm(least_ohm: float, series: str = "E24") -> float:
    """The next higher value of a series of IEC 60063, `E12`, `E24` or `E96`; least_ohm > 0.
    [ohm]
    """
    # A value reached by arithmetic must not miss its own mark by the last digit and jump to the
    # next one.
    return float(
        eseries.find_greater_than_or_equal(eseries.ESeries[series], least_ohm * (1 - 1e-9))
    )


def standard_at_most_ohm(most_ohm: float, series: str = "E24") -> float:
    """The next lower value of a series of IEC 60063; most_ohm > 0. [ohm]"""
    return float(eseries.find_less_than_or_equal(eseries.ESeries[series], most_ohm * (1 + 1e-9)))


def derating(ambient_c: float) -> float:
    """Share of its rating that a film resistor stands at this temperature, 0..1: full to 70
    degrees Celsius, then straight to none at 155.
    """
    return min(
        1.0, max(0.0, (NO_POWER_FROM_C - ambient_c) / (NO_POWER_FROM_C - FULL_POWER_UP_TO_C))
    )


def rating_w(power_w: float, ambient_c: float = 40.0) -> float | None:
    """The smallest rating that runs at half of what it stands, or less; None where none is large
    enough. [W]

    ambient_c: inside the prop; 40 degrees Celsius by common practice, no source.
    """
    return next(
        (rating for rating in RATINGS_W if power_w <= USED_SHARE * derating(ambient_c) * rating),
        None,
    )


def bands(resistance_ohm: float, tolerance_percent: float, digits: int = 2) -> tuple[str, ...]:
    """Colours of the bands, IEC 60062: two or three digits, multiplier, tolerance (no band for 20
    %).

    Raises ValueError for a value that these bands cannot say.
    """
    mantissa, exponent = f"{resistance_ohm:.{digits - 1}e}".split("e")
    power = int(exponent) - digits + 1
    multiplier = next((colour for colour, tens in _MULTIPLIERS.items() if tens == power), None)
    tolerance = next(
        (colour for colour, percent in _TOLERANCES.items() if percent == tolerance_percent), None
    )
    exact = abs(float(mantissa) * 10.0 ** int(exponent) - resistance_ohm) <= 1e-9 * resistance_ohm
    if (
        not exact
        or multiplier is None
        or (tolerance is None and tolerance_percent != _WITHOUT_BAND_PERCENT)
    ):
        raise ValueError(
            f"{resistance_ohm:g} ohm, {tolerance_percent:g} % cannot be said with {digits} digits"
        )
    return (
        *(_DIGITS[int(digit)] for digit in mantissa if digit != "."),
        multiplier,
        *([tolerance] if tolerance else []),
    )


def bands_or_none(resistance_ohm: float) -> tuple[str, ...] | None:
    """Bands of a resistor of 5 %, else of 1 % with three digits; None for a value that neither
    says.
    """
    for tolerance_percent, digits in ((5.0, 2), (1.0, 3)):
        try:
            return bands(resistance_ohm, tolerance_percent, digits)
        except ValueError:
            continue
    return None
