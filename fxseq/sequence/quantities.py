"""Numbers as a maker says them. What was written is echoed as it stands, by `quantity`; what was
worked out has few digits, no powers of ten, no minus before a zero, and a unit that suits its
size: `amount`.
"""

import math
from decimal import Decimal

_LADDERS = (
    {"ohm": 0, "kohm": 3, "Mohm": 6},
    {"nA": -9, "uA": -6, "mA": -3, "A": 0, "kA": 3},
    {"uW": -6, "mW": -3, "W": 0, "kW": 3},
    {"pF": -12, "nF": -9, "uF": -6, "F": 0},
    {"uV": -6, "mV": -3, "V": 0},
    {"ml": -3, "l": 0},
    {"mg": -3, "g": 0, "kg": 3},
    {"Hz": 0, "kHz": 3, "MHz": 6},
)
"""Units of one kind, each with its power of ten, from the smallest up."""
_LADDER_OF = {unit: ladder for ladder in _LADDERS for unit in ladder}
_LARGE = 10_000
_SMALL = 0.01
_NOTHING = 1e-9
_ENDLESS = 1000
_LONGEST = 7


def quantity(value: float, unit: str = "") -> str:
    """A number of the file, or a limit, as it was written, with its unit."""
    if not isinstance(value, int):
        return f"{value:.10g} {unit}".rstrip()
    if abs(value) >= 10**15:
        return "an immense number"
    return f"{value} {unit}".rstrip()


def number(value: float, digits: int = 3) -> str:
    """So many significant digits, zeros at the end left out: 1540 and not 1.54e+03. Below a
    thousand millionth it is 0.
    """
    if not math.isfinite(value):
        return f"{value}"
    if abs(value) < _NOTHING:
        return "0"
    return f"{Decimal(f'{value:.{digits}g}').normalize() + 0:f}"


def fixed(value: float, decimals: int = 0) -> str:
    """So many decimals; 0, never -0."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def amount(value: float, unit: str = "", digits: int = 3) -> str:
    """A number to so many significant digits with its unit, or from 10 000 up and below 0.01 a
    better one: `2.2 Mohm`, `60 A`, `230 uW`.

    What only a slip of the pen can make is not spelt out: `more than 1000000 kg`.
    """
    text, unit = _sized(value, unit, digits)
    if len(text.partition(".")[0]) > _LONGEST:
        text = f"more than {10 ** (_LONGEST - 1)}"
    return f"{text} {unit}".rstrip()


def from_to(low: float, high: float, unit: str, digits: int = 3) -> str:
    """`4 to 6 V`, or `6 V` where both are said alike."""
    least = _sized(low, unit, digits)
    most = _sized(high, unit, digits)
    if least == most:
        return " ".join(most)
    if least[1] == most[1]:
        return f"{least[0]} to {' '.join(most)}"
    return f"{' '.join(least)} to {' '.join(most)}"


def percent_of(percent: float, whole: str = "") -> str:
    """`85 % of a day's dose`, `0.16 % of that`, `more than 1000 times a day's dose`; without a
    whole `85 %`.
    """
    if percent > 100 * _ENDLESS:
        return f"more than {_ENDLESS} times {whole}".rstrip()
    text = fixed(percent) if percent >= 10 else number(percent, 2)
    return f"{text} % of {whole}".removesuffix(" of ")


def off_by(percent: float) -> str:
    """How far a figure is off from another: `+12 %`, `14.5 times as much`, `more than 1000 times
    as much`.
    """
    times = 1 + percent / 100
    if times > _ENDLESS:
        return f"more than {_ENDLESS} times as much"
    if times >= 10:
        return f"{number(times)} times as much"
    return f"{'+' if percent > 0 else ''}{fixed(percent)} %"


def _sized(value: float, unit: str, digits: int) -> tuple[str, str]:
    """The largest unit of its kind in which a very large or small number is 1 or more."""
    ladder = _LADDER_OF.get(unit, {})
    if ladder and abs(value) >= _NOTHING and not _SMALL <= abs(value) < _LARGE:
        sizes = {name: value * 10.0 ** (ladder[unit] - power) for name, power in ladder.items()}
        unit = max(
            (name for name in ladder if abs(sizes[name]) >= 1),
            key=ladder.__getitem__,
            default=next(iter(ladder)),
        )
        value = sizes[unit]
    return number(value, digits), unit
