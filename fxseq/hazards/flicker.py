"""Flicker of dimmed light: how deep it may be at its frequency.

Source: IEEE 1789-2015, recommended practices 1 (low risk) and 2 (no effect); the standard was not
read, its formulas were seen on a page of a lighting engineer. (Another page prints the factors the
other way round, which is wrong.)
"""

import math

LOW_RISK_FREE_HZ = 1250.0
NO_EFFECT_FREE_HZ = 3000.0
"""Frequencies from which on there is no limit, for low risk and for no effect. [Hz]"""
MOVING_HZ = 1980.0
"""Frequency up to which a moving light was seen as a row of points, on average, in a dark room
(Roberts and Wilkins, abstract read). [Hz]
"""


def low_risk_percent(frequency_hz: float) -> float:
    """Depth below which the risk is low: 0.025 f below 90 Hz, 0.08 f below 1250 Hz, then no
    limit (inf). [%]
    """
    if frequency_hz >= LOW_RISK_FREE_HZ:
        return math.inf
    if frequency_hz >= 90:
        return 0.08 * frequency_hz
    return 0.025 * frequency_hz


def no_effect_percent(frequency_hz: float) -> float:
    """Depth below which no effect is to be expected: 0.01 f below 90 Hz, 0.0333 f below 3000 Hz,
    then no limit (inf). [%]
    """
    if frequency_hz >= NO_EFFECT_FREE_HZ:
        return math.inf
    if frequency_hz >= 90:
        return 0.0333 * frequency_hz
    return 0.01 * frequency_hz
