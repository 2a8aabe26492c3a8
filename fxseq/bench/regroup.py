"""Lamps that get other numbers in their group, move to another one with the channels that they
hang on, become more or fewer.

The number of an LED is its turn among the places of its group, and says which channel it hangs on.
The channels of a group follow one upon the other, so those of the groups between the two move up or
down; what is free between groups stays free.
"""

import math
import tomli
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fxseq.bench.body import Refused
from fxseq.bench.desk import Changes, Version
from fxseq.sequence import Fault, Group, Point, Sequence, all_led_places_mm, leds_per_channel

Moved = dict[int, list[float]]
"""Places by number, from 1. [mm]"""

Spans = dict[str, tuple[int, int]]
"""First channel and number of channels of each group, in the order of the file."""
MOST_LEDS = 2000
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


def join_changes(group: str, lamps: Any, into: str, version: Version) -> Changes:
    """Changes that put these lamps behind those of another group, whose kind of LED they become.
    Raises Refused.
    """
    sequence = version.prop.sequence
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
        *_first_channels(_after_joining(group, into, channels, sequence.groups), version),
        (("groups", into, "channels"), target.channels + channels),
        (("groups", into, "leds"), target.leds + len(numbers)),
        *_joined(into, moved, sequence),
        *_left(group, numbers, sequence),
    ]


def part_changes(group: str, lamps: Any, name: str, version: Version) -> Changes:
    """Changes that make a new group of these lamps, alike but for the gauge, on the channels
    behind those that stay. Raises Refused.
    """
    sequence = version.prop.sequence
    if name in sequence.groups:
        raise Refused(422, Fault("new", f"there is a group '{name}' already", "a new name"))
    source = sequence.groups[group]
    numbers = _numbers(group, lamps, sequence)
    channels = len(numbers) // leds_per_channel(source)
    places = [_places(group, sequence)[number - 1] for number in numbers]
    first = source.first_channel + source.channels - channels
    spans = _spans(sequence.groups)
    spans[group] = (source.first_channel, source.channels - channels)
    spans[name] = (first, channels)
    written = dict(_first_channels({one: span for one, span in spans.items() if span[1]}, version))
    own = written.pop(("groups", name, "first_channel"), None)
    alike = source.model_dump(mode="json", exclude_unset=True, exclude=_OF_THE_LAMPS)
    part = {
        **({} if own is None else {"first_channel": own}),
        **({} if channels == 1 else {"channels": channels}),
        "leds": len(numbers),
        **{key: _plain(value) for key, value in alike.items()},
        "places_mm": places,
    }
    return [*written.items(), (("groups", name), part), *_left(group, numbers, sequence)]


def count_changes(group: str, leds: Any, version: Version) -> Changes:
    """Changes after which a group has so many LEDs, with as many on each channel as before. Of a
    list of places those at the end go, or further ones come behind it. Raises Refused.
    """
    source = version.prop.sequence.groups[group]
    if not isinstance(leds, int) or isinstance(leds, bool) or not 1 <= leds <= MOST_LEDS:
        raise Refused(
            422, Fault(f"group '{group}'", "that is no number of lamps", f"1 to {MOST_LEDS}")
        )
    changes = [*_grown(group, leds, version)]
    if source.places_mm is None:
        return changes
    places = source.places_mm
    path = ("groups", group, "places_mm")
    removed = [((*path, index), None) for index in range(len(places) - 1, leds - 1, -1)]
    further = _further(group, leds - len(places), version.prop.sequence)
    return [*changes, *removed, *_listed_behind(group, further, len(places))]


def copy_changes(group: str, lamps: Any, by_mm: list[float], version: Version) -> Changes:
    """Changes that put further lamps behind those of the group, each so far from one of these
    [mm]. Raises Refused.
    """
    sequence = version.prop.sequence
    source = sequence.groups[group]
    numbers = _numbers(group, lamps, sequence)
    old = _places(group, sequence)
    moved = [
        _rounded(way + by for way, by in zip(old[number - 1], by_mm, strict=True))
        for number in numbers
    ]
    changes = [*_grown(group, source.leds + len(numbers), version)]
    return [*changes, *_joined(group, moved, sequence)]


def aside_changes(group: str, copy: str, sequence: Sequence) -> Changes:
    """Changes that put the lamps of a copy of a group two diameters from those that they are
    copied from: to the right and down, or the other way where the picture ends.
    """
    known = sequence.groups[group]
    lamps = all_led_places_mm(sequence)[group]
    by_mm = []
    for axis, most_mm in enumerate(_most_mm(sequence)):
        step_mm = 2 * known.size_mm
        is_room = max(place[axis] for place in lamps) + step_mm <= most_mm
        by_mm.append(step_mm if is_room else -step_mm)
    return [
        (("groups", copy, *path), _rounded(way + by for way, by in zip(place, by_mm, strict=True)))
        for path, place in placed_by(known)
        if all(place[axis] + by_mm[axis] >= 0 for axis in range(2))
    ]


def placed_by(group: Group) -> Iterator[tuple[tuple[str | int, ...], Point]]:
    """Points that say where the LEDs of the group are, by their keys."""
    for index, place in enumerate(group.places_mm or ()):
        yield ("places_mm", index), place
    if group.ring_mm:
        yield ("ring_mm", "centre_mm"), group.ring_mm.centre_mm
    if group.line_mm:
        yield ("line_mm", "from_mm"), group.line_mm.from_mm
        yield ("line_mm", "to_mm"), group.line_mm.to_mm


def _most_mm(sequence: Sequence) -> tuple[float, float]:
    """Where the picture ends."""
    picture = sequence.picture
    return (picture.width_mm, picture.height_mm) if picture else (math.inf, math.inf)


def _grown(group: str, leds: int, version: Version) -> Changes:
    """What becomes of LEDs and channels of all groups where one has so many LEDs. Raises
    Refused.
    """
    groups = version.prop.sequence.groups
    source = groups[group]
    counts = _counts(group, leds, source)
    channels = dict(counts).get(("groups", group, "channels"), source.channels)
    spans = {
        name: (
            other.first_channel + (channels - source.channels) * (other.first_channel > first),
            channels if name == group else other.channels,
        )
        for first in [source.first_channel]
        for name, other in groups.items()
    }
    return [*_first_channels(spans, version), *counts]


def _counts(group: str, leds: int, source: Group) -> list[tuple[tuple[str, ...], int]]:
    """Number of LEDs, and of channels where it changes with them. Raises Refused where they do
    not fill whole channels.
    """
    each = leds_per_channel(source)
    path = ("groups", group)
    if source.channels == 1 and each > 1:
        return [((*path, "leds"), leds)]
    if leds % each:
        raise Refused(
            422,
            Fault(
                f"group '{group}'",
                f"{leds} LEDs do not fill whole channels",
                f"a multiple of {each}, the LEDs on each channel",
            ),
        )
    return [((*path, "channels"), leds // each), ((*path, "leds"), leds)]


def _further(group: str, count: int, sequence: Sequence) -> list[list[float]]:
    """Places behind the last one, on the way on from the one before it, as long as the picture
    goes on there.
    """
    places = sequence.groups[group].places_mm or []
    step = [2 * sequence.groups[group].size_mm, 0.0]
    if len(places) > 1:
        step = [last - before for before, last in zip(places[-2], places[-1], strict=True)]
    most = _most_mm(sequence)
    last = places[-1]
    return [
        _rounded(
            min(max(way + turn * by, 0.0), far)
            for way, by, far in zip(last, step, most, strict=True)
        )
        for turn in range(1, count + 1)
    ]


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
    return _listed_behind(into, places, target.leds)


def _listed_behind(group: str, places: list[list[float]], behind: int) -> Changes:
    path = ("groups", group, "places_mm")
    return [((*path, behind + index), place) for index, place in enumerate(places)]


def _spans(groups: Mapping[str, Group]) -> Spans:
    return {name: (group.first_channel, group.channels) for name, group in groups.items()}


def _after_joining(group: str, into: str, channels: int, groups: Mapping[str, Group]) -> Spans:
    """Where channels come in below the groups from the one to the other they move up, else
    down.
    """
    source = groups[group].first_channel
    target = groups[into].first_channel
    by = channels if target < source else -channels
    low = min(source, target)
    high = max(source, target)
    more = {group: -channels, into: channels}
    spans = {
        name: (
            other.first_channel + by * (low < other.first_channel <= high),
            other.channels + more.get(name, 0),
        )
        for name, other in groups.items()
    }
    return {name: span for name, span in spans.items() if span[1]}


def _first_channels(spans: Spans, version: Version) -> Iterator[tuple[tuple[str, ...], int]]:
    """First channels that must be said so that the groups have these: a file that leaves them to
    be counted on does so for as long as it may.
    """
    said = tomli.loads(version.text.removeprefix("\ufeff")).get("groups", {})
    behind = 0
    for name, (first, channels) in spans.items():
        if first != behind or "first_channel" in said.get(name, {}):
            yield ("groups", name, "first_channel"), first
        behind = first + channels


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
