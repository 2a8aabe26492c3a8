"""What light may do to people: flashes, flicker, and LEDs that are too bright to look into."""

from collections.abc import Iterator, Mapping

from fxseq.checks.check import Check, check
from fxseq.checks.scopes import DIMMING, FILE, FLASHING, LASTING, Described, Dimming, Flashing
from fxseq.hazards import (
    FlashCount,
    LongSequence,
    flash_rate_limit_hz,
    low_risk_percent,
    no_effect_percent,
    solid_angle_sr,
)
from fxseq.hazards.channels import LEAST_SHARE
from fxseq.hazards.extended import LONGEST_S
from fxseq.hazards.flashes import (
    DARKER_BELOW,
    LUMINANCE_STEP,
    MAXIMUM_TRANSITIONS,
    RED_DISTANCE,
    RED_SHARE,
    SMALL_AREA_SR,
)
from fxseq.hazards.flicker import LOW_RISK_FREE_HZ, MOVING_HZ, NO_EFFECT_FREE_HZ
from fxseq.sequence import Finding, Weight
from fxseq.sequence.board_parts import board_parts
from fxseq.sequence.quantities import number, percent_of
from fxseq.sequence.wording import series

BRIGHT_LED_MA = 100.0
"""Current of one LED from which it counts as a bright one. Common practice, no source. [mA]"""
_BLUE_IN_IT = ("blue", "violet", "cyan", "white")
_SOURCE = "W3C WCAG 2.2, success criterion 2.3.1, general and red flash thresholds"
FLASH_CAUTION = (
    "Flashing light can bring on seizures: warn everybody who holds or sees the prop beforehand,"
    " and follow the rules of the venue and of local authorities."
)
FLASH_NOTICE = (
    f"{FLASH_CAUTION} Post a notice where the audience comes in, and say how to avoid it."
)
"""What to tell people where it flashes by decision. The usual cautions, no source."""
_REMEDY = (
    "Flash at {rate:g} a second or slower, or change the light by less than a tenth, or let lamps"
    " take turns more slowly. If it has to flash like this and people are told, write despite ="
    ' ["flashes"] in its trigger. ' + FLASH_CAUTION
)
_COUNT = {
    "f": "flashes in the worst second",
    "n": "transitions in that second",
    "t": "when it begins, in s",
}
_HOW_SURE = (
    "The count is exact for the presses that were played. The standard is written for screens, a"
    " dark room makes flashes worse, and people differ: no prop is safe for everybody just because"
    " it keeps the limit."
)


@check(
    FLASHING,
    "light.flash",
    "Does any light flash more than three times within one second?",
    rule=(
        "The light of every group, and of all together, is followed over time. A change by"
        f" {LUMINANCE_STEP:.0%} of full light or more, whose darker side is below"
        f" {DARKER_BELOW:.0%}, is a transition; two opposing transitions are a flash. A finding"
        f" where any second holds more than {MAXIMUM_TRANSITIONS} transitions. In the sum each"
        " group is weighted by its LEDs times their current. Channels that flash out of step"
        " cancel in a sum, so each channel is also followed alone: a finding where each of those"
        f" that make up {LEAST_SHARE:.0%} of the light or more has more than {MAXIMUM_TRANSITIONS}"
        " transitions within the same second. The standard speaks of a quarter of the field of"
        " view; that share of the light stands for it here, without a source."
    ),
    source=_SOURCE,
    kind="a standard",
    confidence=_HOW_SURE,
    formula="{f} = {n} / 2",
    symbols=_COUNT,
    limit=lambda sequence, supply: flash_rate_limit_hz(),
)
def flash(light: Flashing) -> Iterator[Finding]:
    """Too many changes of brightness in some second."""
    yield from _too_many(flash, light, "general", light.flashes.general)


@check(
    FLASHING,
    "light.red_flash",
    "Does any red light flash more than three times within one second?",
    rule=(
        "As light.flash, but here a transition is a change to or from a saturated red (red is"
        f" {RED_SHARE:.0%} or more of its colour) by more than {RED_DISTANCE:g} in the u'v' colour"
        " chart, whatever the brightness. A finding where any second holds more than"
        f" {MAXIMUM_TRANSITIONS} of them, in the sum or in each of the channels that make up"
        f" {LEAST_SHARE:.0%} of the light."
    ),
    source=_SOURCE,
    kind="a standard",
    confidence=(
        f"{_HOW_SURE} The colour is that of wavelength_nm, or else that of a common LED of that"
        " name."
    ),
    formula="{f} = {n} / 2",
    symbols=_COUNT,
    limit=lambda sequence, supply: flash_rate_limit_hz(),
)
def red_flash(light: Flashing) -> Iterator[Finding]:
    """Too many changes to or from red in some second."""
    yield from _too_many(red_flash, light, "red", light.flashes.red)


def _too_many(
    rule: Check[Flashing], light: Flashing, kind: str, count: FlashCount
) -> Iterator[Finding]:
    if count.passes:
        return
    yield rule.finding(
        Weight.WARNING,
        light.subject,
        f"{count.flashes_per_s:g} {kind} flashes within one second, from {count.at_s:.2f} s"
        f" on{_where(count)}",
        f"{MAXIMUM_TRANSITIONS / 2:g} in any second. {exempt_area(light.area_m2, light.eyes_m)}",
        _REMEDY.format(rate=flash_rate_limit_hz()),
        {"f": f"{count.flashes_per_s:g}", "n": f"{count.transitions}", "t": f"{count.at_s:.2f} s"},
    )


def _where(found: FlashCount | LongSequence) -> str:
    if not found.out_of_step:
        return ""
    return f", in channels that make up {LEAST_SHARE:.0%} of its light or more"


@check(
    LASTING,
    "hazard.long_flashing",
    "Does any light flash twice a second or faster for long?",
    rule=(
        "Flashing that is slow enough for light.flash can still do harm when it goes on for long."
        " A stretch lasts as long as any two flashes in a row take a second or less. A finding"
        f" where one is longer than {LONGEST_S:g} s: in the sum, or in channels that make up"
        f" {LEAST_SHARE:.0%} of the light or more and each flash like that; these need not be the"
        " same channels all the time."
    ),
    source=(
        "ITU-R BT.1702-3, as quoted in a secondary text; the rate as in the description of a public"
        " analyser"
    ),
    kind="a standard",
    confidence=_HOW_SURE,
    formula="{T} = {end} - {start}",
    symbols={
        "T": "length of the longest stretch, in s",
        "start": "when it begins, in s",
        "end": "when it ends, in s",
    },
)
def long_flashing(light: Flashing) -> Iterator[Finding]:
    """Too long a stretch."""
    longest = light.flashes.longest
    if longest.passes:
        return
    end_s = longest.start_s + longest.length_s
    yield long_flashing.finding(
        Weight.WARNING,
        light.subject,
        f"two flashes a second or more for {longest.length_s:.1f} s, from {longest.start_s:.2f} s"
        f" on{_where(longest)}",
        f"{LONGEST_S:g} s",
        "Put in a pause of some seconds, or flash more slowly than twice a second. "
        + FLASH_CAUTION,
        {
            "T": f"{longest.length_s:.1f} s",
            "start": f"{longest.start_s:.2f} s",
            "end": f"{end_s:.2f} s",
        },
    )


def exempt_area(area_m2: float, eyes_m: Mapping[str, float]) -> str:
    """How much of the area that the guideline exempts these LEDs fill, in a sentence.

    eyes_m: distance of each kind of eyes. [m]

    The exemption is said, never made: a prop in the dark lights up what is around it.
    """
    shares = {
        whose: 100 * solid_angle_sr(area_m2, distance_m) / SMALL_AREA_SR
        for whose, distance_m in eyes_m.items()
    }
    filled = [
        f"{percent_of(percent, '' if place else 'that')} at {eyes_m[whose]:g} m ({whose})"
        for place, (whose, percent) in enumerate(shares.items())
    ]
    return (
        f"On a screen, flashing that fills less than {SMALL_AREA_SR:g} sr of the view is exempt."
        f" These LEDs fill {' and '.join(filled)}, but they also light up what is around them"
    )


@check(
    DIMMING,
    "hazard.flicker",
    "Is the dimming fast enough to go unnoticed and not to tire eyes or head?",
    rule=(
        "A dimmed LED goes on and off many times a second. The deeper the flicker, the faster it"
        " has to be. For a low risk, the depth should be below 0.025 % (0.08 % from 90 Hz on)"
        f" times the frequency in Hz, up to {LOW_RISK_FREE_HZ:g} Hz. For no effect, it should be"
        f" below 0.01 % (0.0333 % from 90 Hz on) times the frequency, up to {NO_EFFECT_FREE_HZ:g}"
        " Hz. A warning above the first, a note above the second."
    ),
    source="IEEE 1789-2015, formulas as seen on a page of a lighting engineer",
    kind="a standard",
    confidence=(
        "The frequency is as good as dimming_hz in the file. Full depth is assumed; a driver that"
        " smooths the current is better. The standard itself was not read. People differ widely in"
        " what they notice."
    ),
    formula="{M} >= {Mmax} = {c} * {f}",
    symbols={
        "M": "depth of the flicker, 100 % where the light goes fully dark, in %",
        "Mmax": "highest depth at this frequency, in %",
        "c": "factor of the standard, in % per Hz",
        "f": "dimming_hz of the board, in Hz",
    },
)
def flicker(dimming: Dimming) -> Iterator[Finding]:
    """Held against both. A dimmed LED goes fully dark in every period, whatever its duty, unless
    its driver smooths the current.
    """
    if dimming.depth_percent < no_effect_percent(dimming.frequency_hz):
        return
    risky = dimming.depth_percent >= low_risk_percent(dimming.frequency_hz)
    limit, meaning = (
        (low_risk_percent(dimming.frequency_hz), "low risk")
        if risky
        else (no_effect_percent(dimming.frequency_hz), "no effect")
    )
    yield flicker.finding(
        Weight.WARNING if risky else Weight.NOTE,
        f"dimming at {dimming.frequency_hz:g} Hz",
        f"modulation depth {dimming.depth_percent:.0f} %",
        f"less than {limit:.1f} % for {meaning}",
        f"{_faster(dimming)} Up to {MOVING_HZ:g} Hz a moving light shows as a row of points, even"
        " if it looks steady when still.",
        {
            "M": f"{dimming.depth_percent:.0f} %",
            "Mmax": f"{number(limit)} %",
            "c": f"{number(limit / dimming.frequency_hz)} %/Hz",
            "f": f"{dimming.frequency_hz:g} Hz",
        },
    )


def _faster(dimming: Dimming) -> str:
    """What a maker can do about the frequency."""
    if dimming.part is None:
        return f"Dim at {NO_EFFECT_FREE_HZ:g} Hz or more."
    ways = {
        way: keys["dimming_hz"]
        for way, keys in board_parts()[dimming.part].lights.items()
        if keys.get("dimming_hz", 0) >= LOW_RISK_FREE_HZ > dimming.frequency_hz
    }
    if not ways:
        return (
            f"The {dimming.part} dims no faster; LED drivers that smooth the current flicker"
            " less."
        )
    told = series([f'lights = "{way}", which dims at {hertz:g} Hz' for way, hertz in ways.items()])
    return f"Choose {told}."


@check(
    FILE,
    "hazard.eye",
    "Are there bare LEDs bright enough to hurt eyes?",
    rule=(
        "Blue light from a small bright spot can harm the retina. A note for every group of LEDs"
        f" of {BRIGHT_LED_MA:g} mA or more each whose light has blue in it: blue, violet, cyan or"
        " white."
    ),
    source="IEC 62471 (scope and groups as seen on public pages; its numbers are not checked here)",
    kind="a standard",
    confidence=(
        "A reminder that goes by current alone. Only the LED's maker knows its risk group, and only"
        " a measurement shows that of the prop."
    ),
    formula=f"{{I}} >= {BRIGHT_LED_MA:g} mA",
    symbols={"I": "current of one LED, in mA"},
)
def eye(described: Described) -> Iterator[Finding]:
    """Bright bare LEDs with blue in their light, which IEC 62471 sorts into risk groups that
    only their maker knows.
    """
    for name, group in described.sequence.groups.items():
        if group.current_ma >= BRIGHT_LED_MA and group.colour in _BLUE_IN_IT:
            yield eye.finding(
                Weight.NOTE,
                f"group '{name}'",
                f"{group.colour} LEDs of {group.current_ma:g} mA each",
                "risk group of the LED by IEC 62471",
                "Ask the LED's maker for its risk group, put a diffuser in front of it, and let"
                " nobody look into it from close by.",
                {"I": f"{group.current_ma:g} mA"},
            )
