"""The flashes of a whole prop: all groups seen together, and each group by itself."""
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards.area import led_area_m2, solid_angle_sr
from fxseq.hazards.channels import LEAST_SHARE, Channels, Transitions, group_transitions, red_places, together
from fxseq.hazards.colours import led_rgb
from fxseq.hazards.extended import LONGEST_S, LongSequence, longest_sequence
from fxseq.hazards.flashes import (
    DARKER_BELOW, LUMINANCE_STEP, MAXIMUM_TRANSITIONS, RED_DISTANCE, RED_SHARE, SMALL_AREA_SR, FlashCount, flash_rate_limit_hz,
    general_transitions, red_transitions, worst_second,
)
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.model import Group
from fxseq.sequence.quantities import percent_of

_SOURCE = "W3C WCAG 2.2, success criterion 2.3.1, general and red flash thresholds"
FLASH_CAUTION = (
    "Flashing light can bring on seizures: warn everybody who holds or sees the prop beforehand, and follow the rules of the venue and of local "
    "authorities."
)
FLASH_NOTICE = f"{FLASH_CAUTION} Post a notice where the audience comes in, and say how to avoid it."
"""What to tell people where it flashes by decision. The usual cautions, no source."""
_REMEDY = (
    "Flash at {rate:g} a second or slower, or change the light by less than a tenth, or let lamps take turns more slowly. If it has to flash like this "
    'and people are told, write despite = ["flashes"] in its trigger. ' + FLASH_CAUTION
)
_COUNT = {"f": "flashes in the worst second", "n": "transitions in that second", "t": "when it begins, in s"}
_HOW_SURE = (
    "The count is exact for the presses that were played. The standard is written for screens, a dark room makes flashes worse, and people differ: no "
    "prop is safe for everybody just because it keeps the limit."
)

EXPLAINED = explained(
    Explanation(
        "light.flash", "Does any light flash more than three times within one second?",
        f"The light of every group, and of all together, is followed over time. A change by {LUMINANCE_STEP:.0%} of full light or more, whose darker "
        f"side is below {DARKER_BELOW:.0%}, is a transition; two opposing transitions are a flash. A finding where any second holds more than "
        f"{MAXIMUM_TRANSITIONS} transitions. In the sum each group is weighted by its LEDs times their current. Channels that flash out of step cancel "
        f"in a sum, so each channel is also followed alone: a finding where each of those that make up {LEAST_SHARE:.0%} of the light or more has more "
        f"than {MAXIMUM_TRANSITIONS} transitions within the same second. The standard speaks of a quarter of the field of view; that share of the light "
        "stands for it here, without a source.",
        _SOURCE, "a standard", _HOW_SURE, formula="{f} = {n} / 2", symbols=_COUNT),
    Explanation(
        "light.red_flash", "Does any red light flash more than three times within one second?",
        f"As light.flash, but here a transition is a change to or from a saturated red (red is {RED_SHARE:.0%} or more of its colour) by more than "
        f"{RED_DISTANCE:g} in the u'v' colour chart, whatever the brightness. A finding where any second holds more than {MAXIMUM_TRANSITIONS} of them, "
        f"in the sum or in each of the channels that make up {LEAST_SHARE:.0%} of the light.",
        _SOURCE, "a standard", f"{_HOW_SURE} The colour is that of wavelength_nm, or else that of a common LED of that name.",
        formula="{f} = {n} / 2", symbols=_COUNT),
    Explanation(
        "hazard.long_flashing", "Does any light flash twice a second or faster for long?",
        "Flashing that is slow enough for light.flash can still do harm when it goes on for long. A stretch lasts as long as any two flashes in a row "
        f"take a second or less. A finding where one is longer than {LONGEST_S:g} s: in the sum, or in channels that make up {LEAST_SHARE:.0%} of the "
        "light or more and each flash like that; these need not be the same channels all the time.",
        "ITU-R BT.1702-3, as quoted in a secondary text; the rate as in the description of a public analyser", "a standard", _HOW_SURE,
        formula="{T} = {end} - {start}",
        symbols={"T": "length of the longest stretch, in s", "start": "when it begins, in s", "end": "when it ends, in s"}),
)


@dataclass(frozen=True)
class Flashes:
    """The worst second of one light, by each of the two definitions, and its longest stretch at two general flashes a second or more.

    Each is of its sum, or channel by channel where that is more.
    """

    general: FlashCount
    red: FlashCount
    longest: LongSequence

    @property
    def passes(self) -> bool:
        """Whether no second has too many flashes, by either definition."""
        return self.general.passes and self.red.passes

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {"general": self.general.as_dict(), "red": self.red.as_dict(), "longest": self.longest.as_dict()}


@dataclass(frozen=True)
class FlashReport:
    """together: all groups as one light. alone: each group against its own full brightness, as when one sees it from close by.

    area_m2: of the faces of all LEDs of each group.
    """

    together: Flashes
    alone: dict[str, Flashes]
    area_m2: dict[str, float]

    @property
    def most_per_s(self) -> float:
        """Flashes in the worst second of any light, by either definition."""
        return max(count.flashes_per_s for light in (self.together, *self.alone.values()) for count in (light.general, light.red))

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        alone = {name: flashes.as_dict() for name, flashes in self.alone.items()}
        return {"together": self.together.as_dict(), "alone": alone, "area_cm2": {name: area * 1e4 for name, area in self.area_m2.items()}}


def brightness_weight(group: Group) -> float:
    """Share of a group in the light of the whole prop: LED count times current, a stand-in for luminous flux that needs no data sheet."""
    return group.leds * group.current_ma


def _flashes(general_s: NDArray[np.float64], red_s: NDArray[np.float64], apart: tuple[Transitions, Transitions]) -> Flashes:
    """From the transitions of the sum, and those of its channels. [s]"""
    general, red = (
        max(worst_second(of_sum_s), of_channels.worst_second(), key=lambda count: count.transitions)
        for of_sum_s, of_channels in zip((general_s, red_s), apart, strict=True)
    )
    longest = max(longest_sequence(general_s), apart[0].longest_sequence(), key=lambda stretch: stretch.length_s)
    return Flashes(general, red, longest)


def flash_report(
    times_s: NDArray[np.float64], lit: Mapping[str, NDArray[np.float64]], groups: Mapping[str, Group], channels: Channels,
) -> FlashReport:
    """Flashes of the prop.

    times_s: change points of any group, rising, shape (n,). lit: for each group the share of its full light from each of them on, 0..1,
    shape (n,): duty over full duty, averaged over its channels (above fusion, brightness goes with the mean over time: Talbot-Plateau).
    groups: the part model of each group in `lit`. channels: the channels that `lit` is the mean of.

    Groups unsynchronised with each other can flash together at a rate none of them has: so the sum is counted too, with each group weighted
    by `brightness_weight` and the prop's full light as 1. Channels that flash out of step cancel in every sum, but flash over an area all
    the same: so they are counted one by one as well (see `Transitions`).
    """
    colours = {name: led_rgb(groups[name]) for name in lit}
    apart = {name: group_transitions(channels, name, colours[name]) for name in lit}
    weights = np.array([brightness_weight(groups[name]) for name in lit])
    shares = weights / (weights.sum() or 1.0)
    luminance = np.array([lit[name] * share for name, share in zip(lit, shares, strict=True)]).reshape(-1, times_s.size)
    # Not by @, whose threads wait for more work for longer than this takes.
    rgb = np.einsum("gn,gc->cn", luminance, np.array(list(colours.values())).reshape(-1, 3)).T
    general, red = (together([each[kind] for each in apart.values()], shares) for kind in (0, 1))
    return FlashReport(
        together=_flashes(general_transitions(times_s, luminance.sum(axis=0)), red_transitions(times_s, rgb), (general, red)),
        alone={name: _flashes(general_transitions(times_s, share), times_s[red_places(share, colours[name])], apart[name])
               for name, share in lit.items()},
        area_m2={name: led_area_m2(groups[name]) for name in lit},
    )


def _finding(subject: str, kind: str, count: FlashCount, seen: str) -> Finding:
    return EXPLAINED["light.flash" if kind == "general" else "light.red_flash"].finding(
        weight=Weight.WARNING,
        subject=subject,
        figure=f"{count.flashes_per_s:g} {kind} flashes within one second, from {count.at_s:.2f} s on{_where(count)}",
        limit=f"{MAXIMUM_TRANSITIONS / 2:g} in any second. {seen}",
        remedy=_REMEDY.format(rate=flash_rate_limit_hz()),
        inputs={"f": f"{count.flashes_per_s:g}", "n": f"{count.transitions}", "t": f"{count.at_s:.2f} s"},
    )


def _where(found: FlashCount | LongSequence) -> str:
    return f", in channels that make up {LEAST_SHARE:.0%} of its light or more" if found.out_of_step else ""


def _long_finding(subject: str, longest: LongSequence) -> Finding:
    end_s = longest.start_s + longest.length_s
    return EXPLAINED["hazard.long_flashing"].finding(
        weight=Weight.WARNING,
        subject=subject,
        figure=f"two flashes a second or more for {longest.length_s:.1f} s, from {longest.start_s:.2f} s on{_where(longest)}",
        limit=f"{LONGEST_S:g} s",
        remedy="Put in a pause of some seconds, or flash more slowly than twice a second. " + FLASH_CAUTION,
        inputs={"T": f"{longest.length_s:.1f} s", "start": f"{longest.start_s:.2f} s", "end": f"{end_s:.2f} s"},
    )


def exempt_area(area_m2: float, eyes_m: Mapping[str, float]) -> str:
    """How much of the area that the guideline exempts these LEDs fill, in a sentence. eyes_m: distance of each kind of eyes. [m]

    The exemption is said, never made: a prop in the dark lights up what is around it.
    """
    shares = {whose: 100 * solid_angle_sr(area_m2, distance_m) / SMALL_AREA_SR for whose, distance_m in eyes_m.items()}
    filled = [f"{percent_of(percent, '' if place else 'that')} at {eyes_m[whose]:g} m ({whose})"
              for place, (whose, percent) in enumerate(shares.items())]
    return (f"On a screen, flashing that fills less than {SMALL_AREA_SR:g} sr of the view is exempt. These LEDs fill {' and '.join(filled)}, but they "
            "also light up what is around them")


def flash_findings(report: FlashReport, eyes_m: Mapping[str, float]) -> tuple[Finding, ...]:
    """One finding for each light and each definition that is over the limit; the prop as a whole first. eyes_m: as for `exempt_area`."""
    areas = {"all groups together": sum(report.area_m2.values()), **{f"group '{name}'": area for name, area in report.area_m2.items()}}
    lights = {"all groups together": report.together, **{f"group '{name}'": flashes for name, flashes in report.alone.items()}}
    flashing = [
        _finding(subject, kind, count, exempt_area(areas[subject], eyes_m))
        for subject, flashes in lights.items()
        for kind, count in (("general", flashes.general), ("red", flashes.red))
        if not count.passes
    ]
    return (*flashing, *(_long_finding(subject, flashes.longest) for subject, flashes in lights.items() if not flashes.longest.passes))
