"""Flicker of dimmed light: how deep it may be at its frequency.

Source: IEEE 1789-2015, recommended practices 1 (low risk) and 2 (no effect); the standard was not read, its formulas were seen on a page of
a lighting engineer. (Another page prints the factors the other way round, which is wrong.)
"""
import math

from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.quantities import number

LOW_RISK_FREE_HZ, NO_EFFECT_FREE_HZ = 1250.0, 3000.0
"""Frequencies from which on there is no limit, for low risk and for no effect. [Hz]"""
MOVING_HZ = 1980.0
"""Frequency up to which a moving light was seen as a row of points, on average, in a dark room (Roberts and Wilkins, abstract read). [Hz]"""

EXPLAINED = explained(Explanation(
    "hazard.flicker", "Is the dimming fast enough to go unnoticed and not to tire eyes or head?",
    "A dimmed LED goes on and off many times a second. The deeper the flicker, the faster it has to be. For a low risk, the depth should be below 0.025 "
    f"% (0.08 % from 90 Hz on) times the frequency in Hz, up to {LOW_RISK_FREE_HZ:g} Hz. For no effect, it should be below 0.01 % (0.0333 % from 90 Hz "
    f"on) times the frequency, up to {NO_EFFECT_FREE_HZ:g} Hz. A warning above the first, a note above the second.",
    "IEEE 1789-2015, formulas as seen on a page of a lighting engineer", "a standard",
    "The frequency is as good as dimming_hz in the file. Full depth is assumed; a driver that smooths the current is better. The standard itself was "
    "not read. People differ widely in what they notice.",
    formula="{M} >= {Mmax} = {c} * {f}",
    symbols={"M": "depth of the flicker, 100 % where the light goes fully dark, in %", "Mmax": "highest depth at this frequency, in %",
             "c": "factor of the standard, in % per Hz", "f": "dimming_hz of the board, in Hz"}))


def modulation_percent(most: float, least: float) -> float:
    """Depth of a flicker: 100 (Lmax - Lmin) / (Lmax + Lmin), 0 where there is no light. [%]"""
    return 100 * (most - least) / (most + least) if most + least > 0 else 0.0


def low_risk_percent(frequency_hz: float) -> float:
    """Depth below which the risk is low: 0.025 f below 90 Hz, 0.08 f below 1250 Hz, then no limit (inf). [%]"""
    if frequency_hz >= LOW_RISK_FREE_HZ:
        return math.inf
    return (0.025 if frequency_hz < 90 else 0.08) * frequency_hz


def no_effect_percent(frequency_hz: float) -> float:
    """Depth below which no effect is to be expected: 0.01 f below 90 Hz, 0.0333 f below 3000 Hz, then no limit (inf). [%]"""
    if frequency_hz >= NO_EFFECT_FREE_HZ:
        return math.inf
    return (0.01 if frequency_hz < 90 else 0.0333) * frequency_hz


def pwm_findings(frequency_hz: float, depth_percent: float = 100.0) -> tuple[Finding, ...]:
    """Held against both. A dimmed LED goes fully dark in every period, whatever its duty, unless its driver smooths the current."""
    if depth_percent < no_effect_percent(frequency_hz):
        return ()
    risky = depth_percent >= low_risk_percent(frequency_hz)
    limit, meaning = (low_risk_percent(frequency_hz), "low risk") if risky else (no_effect_percent(frequency_hz), "no effect")
    return (EXPLAINED["hazard.flicker"].finding(
        Weight.WARNING if risky else Weight.NOTE, f"dimming at {frequency_hz:g} Hz", f"modulation depth {depth_percent:.0f} %",
        f"less than {limit:.1f} % for {meaning}",
        f"Dim at {NO_EFFECT_FREE_HZ:g} Hz or more. Up to {MOVING_HZ:g} Hz a moving light shows as a row of points, even if it looks steady when still.",
        {"M": f"{depth_percent:.0f} %", "Mmax": f"{number(limit)} %", "c": f"{number(limit / frequency_hz)} %/Hz", "f": f"{frequency_hz:g} Hz"}),)
