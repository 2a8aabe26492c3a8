"""Lamps that get other numbers in their group, or move to another one with the channels that they
hang on.

The number of an LED is its turn among the places of its group, and says which channel it hangs on.
The channels of a group follow one upon the other, so those of the groups between the two move up or
down; what is free between groups stays free.
"""

from collections.abc import Iterable
from typing import Any

from fxseq.bench.body import Refused
from fxseq.bench.desk import Changes
from fxseq.sequence import Fault, Group, Sequence, all_led_places_mm, leds_per_channel

Moved = dict[int, list[float]]
"""Places by number, from 1. [mm]"""

_OF_THE_LAMPS = {"first_channel", "channels", "leds", "places_mm", "ring_mm", "line_mm", "gauge"}
"""Keys of a group that a new one does not share; a second gauge would go out at the same time as
the first.
"""


def placed(group: str, moved_mm: Moved, sequence: Sequence) -> Changes:
    """Changes that put LEDs of a group to places; the others stay. A list of places keeps its
    comments, a ring or a line becomes a list.
    """
    rounded = {number: _rounded(place) for number, place in moved_mm.items()}
    path = ("groups", group, "places_mm")
    if sequence.groups[group].places_mm is not None:
        return [((*path, number - 1), place) for number, place in rounded.items()]
    return _listed(
        group,
        [rounded.get(number, place) for number, place in enumerate(_places(group, sequence), 1)],
    )


def order_changes(group: str, order: Any, sequence: Sequence) -> Changes:
    """Changes after which these lamps have the numbers that they had together, the first of them
    the lowest. Raises Refused.
    """
    numbers = _numbers(group, order, sequence)
    places = _places(group, sequence)
    return placed(
        group,
        {new: places[old - 1] for new, old in zip(sorted(numbers), numbers, strict=True)},
        sequence,
    )


def join_changes(group: str, lamps: Any, into: str, sequence: Sequence) -> Changes:
    """Changes that put these lamps behind those of another group, whose kind of LED they become.
    Raises Refused.
    """
    source = sequence.groups[group]
    target = sequence.groups.get(into)
    if target is None or target is source:
        raise Refused(
            422,
            Fault(
                "into",
                "that is not another group",
                ", ".join(name for name in sequence.groups if name != group),
            ),
        )
    each = leds_per_channel(source)
    theirs = leds_per_channel(target)
    if each != theirs:
        remedy = "Make a new group of them."
        raise Refused(
            422,
            Fault(
                f"group '{into}'",
                f"it has {theirs} LEDs on each channel, and '{group}' has {each}",
                f"{each} on each",
                remedy,
            ),
        )
    numbers = _numbers(group, lamps, sequence)
    channels = len(numbers) // each
    moved = [_places(group, sequence)[number - 1] for number in numbers]
    return [
        *_kept(sequence.groups),
        *_shifts(group, into, channels, sequence.groups),
        (("groups", into, "channels"), target.channels + channels),
        (("groups", into, "leds"), target.leds + len(numbers)),
        *_joined(into, moved, sequence),
        *_left(group, numbers, sequence),
    ]


def part_changes(group: str, lamps: Any, name: str, sequence: Sequence) -> Changes:
    """Changes that make a new group of these lamps, alike but for the gauge, on the channels
    behind those that stay. Raises Refused.
    """
    if name in sequence.groups:
        raise Refused(422, Fault("new", f"there is a group '{name}' already", "a new name"))
    source = sequence.groups[group]
    numbers = _numbers(group, lamps, sequence)
    channels = len(numbers) // leds_per_channel(source)
    places = [_places(group, sequence)[number - 1] for number in numbers]
    where = {
        "first_channel": source.first_channel + source.channels - channels,
        "channels": channels,
        "leds": len(numbers),
    }
    alike = source.model_dump(mode="json", exclude_unset=True, exclude=_OF_THE_LAMPS)
    part = {**where, **{key: _plain(value) for key, value in alike.items()}, "places_mm": places}
    return [*_kept(sequence.groups), (("groups", name), part), *_left(group, numbers, sequence)]


def _numbers(group: str, given: Any, sequence: Sequence) -> list[int]:
    """Numbers of lamps of the group, each once. Raises Refused."""
    known = sequence.groups[group]
    is_list = isinstance(given, list) and all(
        isinstance(number, int) and not isinstance(number, bool) for number in given
    )
    if (
        not is_list
        or not given
        or len(set(given)) < len(given)
        or not set(given) <= set(range(1, known.leds + 1))
    ):
        raise Refused(
            422,
            Fault(
                f"group '{group}'",
                "these are not lamps of this group",
                f"numbers 1 to {known.leds}, each once",
            ),
        )
    return list(given)


def _left(group: str, numbers: list[int], sequence: Sequence) -> Changes:
    """What becomes of the group that lamps have left. Raises Refused where nothing is left, but
    effects light it.
    """
    source = sequence.groups[group]
    each = leds_per_channel(sequence.groups[group])
    if len(numbers) % each:
        found = f"{len(numbers)} of its LEDs do not fill whole channels"
        raise Refused(
            422,
            Fault(
                f"group '{group}'",
                found,
                f"{each} LEDs for each channel",
                f"Choose {each}, or a multiple of it.",
            ),
        )
    if len(numbers) == source.leds:
        return _emptied(group, sequence)
    kept = [
        place for number, place in enumerate(_places(group, sequence), 1) if number not in numbers
    ]
    path = ("groups", group, "places_mm")
    is_listed = source.places_mm is not None
    if is_listed:
        places = [((*path, number - 1), None) for number in sorted(numbers, reverse=True)]
    else:
        places = _listed(group, kept)
    return [
        (("groups", group, "channels"), source.channels - len(numbers) // each),
        (("groups", group, "leds"), len(kept)),
        *places,
    ]


def _emptied(group: str, sequence: Sequence) -> Changes:
    effects = [
        f"'{name}'"
        for name, effect in sequence.effects.items()
        if any(light.group == group for light in effect.lights)
    ]
    if effects:
        found = f"no lamp would be left in it, but the effects {', '.join(effects)} light it"
        raise Refused(
            422,
            Fault(
                f"group '{group}'",
                found,
                "at least one lamp",
                "Leave one lamp in it, or let those effects light another group.",
            ),
        )
    return [(("groups", group), None)]


def _joined(into: str, places: list[list[float]], sequence: Sequence) -> Changes:
    target = sequence.groups[into]
    if target.places_mm is None:
        return _listed(into, _places(into, sequence) + places)
    return [
        (("groups", into, "places_mm", target.leds + index), place)
        for index, place in enumerate(places)
    ]


def _kept(groups: dict[str, Group]) -> Changes:
    """First channels as they are, written down: where one is counted on from the group before,
    it would move with that group's channels.
    """
    return [
        (("groups", name, "first_channel"), group.first_channel) for name, group in groups.items()
    ]


def _shifts(group: str, into: str, channels: int, groups: dict[str, Group]) -> Changes:
    """First channels of the groups from the one to the other: up where channels come in below
    them, else down.
    """
    source = groups[group].first_channel
    target = groups[into].first_channel
    by = channels if target < source else -channels
    low = min(source, target)
    high = max(source, target)
    return [
        (("groups", name, "first_channel"), other.first_channel + by)
        for name, other in groups.items()
        if low < other.first_channel <= high
    ]


def _places(group: str, sequence: Sequence) -> list[list[float]]:
    return [_rounded(place) for place in all_led_places_mm(sequence)[group]]


def _rounded(place: Iterable[float]) -> list[float]:
    return [in_thousandths(way) for way in place]


def in_thousandths(way_mm: float) -> float:
    """As it goes into the file. [mm]"""
    number: float = _plain(round(float(way_mm), 3))
    return number


def _plain(value: Any) -> Any:
    """Whole numbers as a maker writes them; anything else as it is."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _listed(group: str, places: list[list[float]]) -> Changes:
    """A list of places, in place of a ring or a line."""
    return [
        *((("groups", group, key), None) for key in ("ring_mm", "line_mm")),
        (("groups", group, "places_mm"), places),
    ]
