"""The flashes of a whole prop: all groups seen together, and each group by itself."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards.channels import Channels, Transitions, group_transitions, red_places, together
from fxseq.hazards.colours import led_rgb
from fxseq.hazards.extended import LongSequence, longest_sequence
from fxseq.hazards.flashes import FlashCount, general_transitions, red_transitions, worst_second
from fxseq.sequence.model import Group


def solid_angle_sr(area_m2: float, distance_m: float) -> float:
    """Solid angle of a small flat area seen square on: A / d^2. [sr]"""
    return area_m2 / distance_m**2


def led_area_m2(group: Group) -> float:
    """Area of the faces of all LEDs of a group. [m^2]"""
    return group.leds * math.pi / 4 * (group.size_mm / 1000) ** 2


@dataclass(frozen=True)
class Flashes:
    """The worst second of one light, by each of the two definitions, and its longest stretch at two
    general flashes a second or more.

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
        return {
            "general": self.general.as_dict(),
            "red": self.red.as_dict(),
            "longest": self.longest.as_dict(),
        }


@dataclass(frozen=True)
class FlashReport:
    """together: all groups as one light. alone: each group against its own full brightness, as when
    one sees it from close by.

    area_m2: of the faces of all LEDs of each group.
    """

    together: Flashes
    alone: dict[str, Flashes]
    area_m2: dict[str, float]

    @property
    def most_per_s(self) -> float:
        """Flashes in the worst second of any light, by either definition."""
        return max(
            count.flashes_per_s
            for light in (self.together, *self.alone.values())
            for count in (light.general, light.red)
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        alone = {name: flashes.as_dict() for name, flashes in self.alone.items()}
        return {
            "together": self.together.as_dict(),
            "alone": alone,
            "area_cm2": {name: area * 1e4 for name, area in self.area_m2.items()},
        }


def brightness_weight(group: Group) -> float:
    """Share of a group in the light of the whole prop: LED count times current, a stand-in for
    luminous flux that needs no data sheet.
    """
    return group.leds * group.current_ma


def _flashes(
    general_s: NDArray[np.float64],
    red_s: NDArray[np.float64],
    apart: tuple[Transitions, Transitions],
) -> Flashes:
    """From the transitions of the sum, and those of its channels. [s]"""
    general, red = (
        max(worst_second(of_sum_s), of_channels.worst_second(), key=lambda count: count.transitions)
        for of_sum_s, of_channels in zip((general_s, red_s), apart, strict=True)
    )
    longest = max(
        longest_sequence(general_s),
        apart[0].longest_sequence(),
        key=lambda stretch: stretch.length_s,
    )
    return Flashes(general, red, longest)


def flash_report(
    times_s: NDArray[np.float64],
    lit: Mapping[str, NDArray[np.float64]],
    groups: Mapping[str, Group],
    channels: Channels,
) -> FlashReport:
    """Flashes of the prop.

    times_s: change points of any group, rising, shape (n,). lit: for each group the share of its
    full light from each of them on, 0..1, shape (n,): duty over full duty, averaged over its
    channels (above fusion, brightness goes with the mean over time: Talbot-Plateau). groups: the
    part model of each group in `lit`. channels: the channels that `lit` is the mean of.

    Groups unsynchronised with each other can flash together at a rate none of them has: so the sum
    is counted too, with each group weighted by `brightness_weight` and the prop's full light as 1.
    Channels that flash out of step cancel in every sum, but flash over an area all the same: so
    they are counted one by one as well (see `Transitions`).
    """
    colours = {name: led_rgb(groups[name]) for name in lit}
    apart = {name: group_transitions(channels, name, colours[name]) for name in lit}
    weights = np.array([brightness_weight(groups[name]) for name in lit])
    shares = weights / (weights.sum() or 1.0)
    luminance = np.array(
        [lit[name] * share for name, share in zip(lit, shares, strict=True)]
    ).reshape(-1, times_s.size)
    # Not by @, whose threads wait for more work for longer than this takes.
    rgb = np.einsum("gn,gc->cn", luminance, np.array(list(colours.values())).reshape(-1, 3)).T
    general, red = (together([each[kind] for each in apart.values()], shares) for kind in (0, 1))
    return FlashReport(
        together=_flashes(
            general_transitions(times_s, luminance.sum(axis=0)),
            red_transitions(times_s, rgb),
            (general, red),
        ),
        alone={
            name: _flashes(
                general_transitions(times_s, share),
                times_s[red_places(share, colours[name])],
                apart[name],
            )
            for name, share in lit.items()
        },
        area_m2={name: led_area_m2(groups[name]) for name in lit},
    )
