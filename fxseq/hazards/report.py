"""The flashes of a whole prop: all groups seen together, and each group by itself."""
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards.area import led_area_m2, solid_angle_sr
from fxseq.hazards.colours import COLOUR_RGB
from fxseq.hazards.extended import LONGEST_S, LongSequence, longest_sequence
from fxseq.hazards.flashes import (
    MAXIMUM_TRANSITIONS, SMALL_AREA_SR, FlashCount, count_red_flashes, flash_rate_limit_hz, general_transitions, worst_second,
)
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.model import Group

_SOURCE = "W3C WCAG 2.2, success criterion 2.3.1, general and red flash thresholds"
_REMEDY = (
    "Flash at {rate:g} a second or slower, or change the light by less than a tenth, or let groups take turns more slowly. Flashing light "
    "can bring on seizures: warn everybody who holds or sees the prop beforehand, and follow the rules of the venue and of local "
    "authorities."
)


@dataclass(frozen=True)
class Flashes:
    """The worst second of one light, by each of the two definitions, and its longest stretch at two general flashes a second or more."""

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

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        alone = {name: flashes.as_dict() for name, flashes in self.alone.items()}
        return {"together": self.together.as_dict(), "alone": alone, "area_cm2": {name: area * 1e4 for name, area in self.area_m2.items()}}


def brightness_weight(group: Group) -> float:
    """Share of a group in the light of the whole prop: LED count times current, a stand-in for luminous flux that needs no data sheet."""
    return group.leds * group.current_ma


def _flashes(times_s: NDArray[np.float64], luminance: NDArray[np.float64], rgb: NDArray[np.float64]) -> Flashes:
    general = general_transitions(times_s, luminance)
    return Flashes(worst_second(general), count_red_flashes(times_s, rgb), longest_sequence(general))


def flash_report(times_s: NDArray[np.float64], lit: Mapping[str, NDArray[np.float64]], groups: Mapping[str, Group]) -> FlashReport:
    """Flashes of the prop.

    times_s: change points of any group, rising, shape (n,). lit: for each group the share of its full light from each of them on, 0..1,
    shape (n,): duty over full duty, averaged over its channels (above fusion, brightness goes with the mean over time: Talbot-Plateau).
    groups: the part model of each group in `lit`.

    Groups unsynchronised with each other can flash together at a rate none of them has: so the sum is counted too, with each group weighted
    by `brightness_weight` and the prop's full light as 1.
    """
    colours = {name: np.multiply.outer(share, COLOUR_RGB[groups[name].colour]) for name, share in lit.items()}
    weights = {name: brightness_weight(groups[name]) for name in lit}
    total = sum(weights.values()) or 1.0
    luminance = sum((lit[name] * (weights[name] / total) for name in lit), start=np.zeros(times_s.shape))
    rgb = sum((colours[name] * (weights[name] / total) for name in lit), start=np.zeros((*times_s.shape, 3)))
    return FlashReport(
        together=_flashes(times_s, luminance, rgb),
        alone={name: _flashes(times_s, np.asarray(share), colours[name]) for name, share in lit.items()},
        area_m2={name: led_area_m2(groups[name]) for name in lit},
    )


def _finding(subject: str, kind: str, count: FlashCount, seen: str) -> Finding:
    return Finding(
        check="light.flash" if kind == "general" else "light.red_flash",
        weight=Weight.WARNING,
        subject=subject,
        figure=f"{count.flashes_per_s:g} {kind} flashes within one second, from {count.at_s:.2f} s on",
        limit=f"{MAXIMUM_TRANSITIONS / 2:g} in any second{seen}",
        source=_SOURCE,
        remedy=_REMEDY.format(rate=flash_rate_limit_hz()),
    )


def _long_finding(subject: str, longest: LongSequence) -> Finding:
    return Finding(
        check="hazard.long_flashing",
        weight=Weight.WARNING,
        subject=subject,
        figure=f"two flashes a second or more for {longest.length_s:.1f} s, from {longest.start_s:.2f} s on",
        limit=f"{LONGEST_S:g} s",
        source="ITU-R BT.1702-3, as quoted in a secondary text; the rate as in the description of a public analyser",
        remedy="Put a pause of some seconds in, or flash more slowly than twice a second. " + _REMEDY.partition(". ")[2],
    )


def _seen(area_m2: float, viewing_m: float) -> str:
    """The exemption for small areas is said, never made: a prop in the dark lights up what is around it."""
    filled_sr = solid_angle_sr(area_m2, viewing_m)
    return f" (less than {SMALL_AREA_SR:g} sr would be exempt on a screen; the LEDs fill {filled_sr:.2g} sr at {viewing_m:g} m)"


def flash_findings(report: FlashReport, viewing_m: float) -> tuple[Finding, ...]:
    """One finding for each light and each definition that is over the limit; the prop as a whole first. viewing_m: of the nearest onlooker."""
    areas = {"all groups together": sum(report.area_m2.values()), **{f"group '{name}'": area for name, area in report.area_m2.items()}}
    lights = {"all groups together": report.together, **{f"group '{name}'": flashes for name, flashes in report.alone.items()}}
    flashing = [
        _finding(subject, kind, count, _seen(areas[subject], viewing_m))
        for subject, flashes in lights.items()
        for kind, count in (("general", flashes.general), ("red", flashes.red))
        if not count.passes
    ]
    return (*flashing, *(_long_finding(subject, flashes.longest) for subject, flashes in lights.items() if not flashes.longest.passes))
