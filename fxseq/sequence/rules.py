"""What has to agree across a file: names, channels, places and times.

Every function yields faults with paths from the part it is given; `check` puts them under the path
of that part.
"""

import math
from collections.abc import Iterator
from itertools import pairwise

from fxseq.sequence.derived import channels_of, frame_rate_hz, led_places_mm, leds_per_channel
from fxseq.sequence.model import (
    Board,
    Counter,
    CurvePoint,
    Group,
    Mosfet,
    Picture,
    Point,
    Regulator,
    Selector,
    Sequence,
    Supply,
)
from fxseq.sequence.parts import CellCurve
from fxseq.sequence.paths import NAMED, PathFault
from fxseq.sequence.pins import most_faults, pin_faults
from fxseq.sequence.quantities import quantity
from fxseq.sequence.rule_kit import Faults, Names, exclusive, needed, refer, unused
from fxseq.sequence.sound_rules import speaker_faults
from fxseq.sequence.suggest import did_you_mean
from fxseq.sequence.timeline_rules import clip_faults, effect_faults, fade_faults, match_faults
from fxseq.sequence.titles import hidden_in
from fxseq.sequence.trigger_rules import trigger_faults
from fxseq.sequence.values import Readable
from fxseq.sequence.wording import found, series

_FRAME_RATES_HZ = (500, 4000)
"""Frames of about 1 ms: time enough for a small chip, and no delay that a hand feels. Our own
bounds, no source.
"""

_USB_V = (4.75, 5.25)
"""Voltage at a USB socket. Source: pages of makers of USB switches."""

_JUNCTION_V = 0.0252
"""kT/q at 20 degrees Celsius, 25.26 mV, rounded down: for e times the current no junction adds
less, and an ideal one at 25 degrees 25.69 mV.
"""

_SLOPES = 8.0
"""A junction has many times the voltage that e times the current adds: 13 and more in the public
models of LEDs, at 0.1 mA and above.
"""

_APART = 0.2
"""Two points of a curve that lie closer together say less about it than a reading of them is
good for. Our own bound, no source.
"""

_ROUNDING_MM = 1e-6

MIXED_COLOURS = ("white", "warm_white", "pink")
"""Light of a chip and a phosphor, which has no dominant wavelength of its own."""


def check(sequence: Sequence | Readable, names: Names | None = None) -> list[PathFault]:
    """Every rule that the sequence breaks.

    names: all names that the file gives, also to parts that are left out of `sequence` since they
    are at fault themselves.
    """
    return [
        fault
        for faults in _all_faults(sequence, names or names_of(sequence.model_dump()))
        for fault in faults
    ]


def names_of(values: dict[str, object]) -> Names:
    """The names that a file gives to its parts."""
    tables = {kind: values.get(kind, {}) for kind in NAMED}
    return {kind: list(table) for kind, table in tables.items() if isinstance(table, dict)}


def _all_faults(sequence: Sequence | Readable, names: Names) -> Iterator[Faults]:
    board = sequence.board
    picture = sequence.picture
    yield _title_faults(sequence.title)
    if board:
        yield _under(_board_faults(board), "board")
        yield _channel_faults(sequence.groups, board)
    yield _overlap_faults(sequence.groups)
    yield pin_faults(sequence)
    yield most_faults(sequence)
    if picture:
        yield _under(_picture_faults(picture), "picture")
    if sequence.regulator:
        yield _under(_regulator_faults(sequence.regulator, board), "regulator")
    if sequence.speaker:
        yield _under(speaker_faults(sequence.speaker), "speaker")
    for name, supply in sequence.supplies.items():
        yield _under(_supply_faults(supply), "supplies", name)
    for name, selector in sequence.selectors.items():
        yield _under(_selector_faults(selector), "selectors", name)
    for name, counter in sequence.counters.items():
        yield _under(_counter_faults(counter), "counters", name)
    for name, group in sequence.groups.items():
        yield _under(_group_faults(group, picture, names), "groups", name)
    for name, clip in sequence.clips.items():
        yield _under(clip_faults(clip, names), "clips", name)
    yield _under(match_faults(sequence.clips), "clips")
    for name, fade in sequence.fades.items():
        yield _under(fade_faults(fade), "fades", name)
    for name, effect in sequence.effects.items():
        yield _under(
            effect_faults(effect, names, sequence.clips, sequence.fades, sequence.groups),
            "effects",
            name,
        )
    for name, trigger in sequence.triggers.items():
        yield _under(trigger_faults(trigger, names, sequence.selectors), "triggers", name)


def _title_faults(title: str | None) -> Faults:
    for letter in hidden_in(title or "")[:1]:
        yield PathFault(
            ("title",),
            f"has a character that cannot be seen (U+{ord(letter):04X})",
            "",
            "Type the title anew.",
        )


def _under(faults: Faults, *outer: str) -> Faults:
    return (fault.under(*outer) for fault in faults)


def _board_faults(board: Board) -> Faults:
    low, high = _FRAME_RATES_HZ
    if low <= frame_rate_hz(board) <= high:
        return
    rate_hz = board.sample_rate_hz
    what = (
        f"is {board.samples_per_frame}, which at {rate_hz} Hz gives {frame_rate_hz(board):.5g}"
        " frames per second"
    )
    yield PathFault(
        ("samples_per_frame",),
        what,
        f"{math.ceil(rate_hz / high)} to {rate_hz // low}, for {low} to {high} frames per second",
    )


def _supply_faults(supply: Supply) -> Faults:
    if supply.voltage_v is not None and supply.minimum_v > supply.voltage_v:
        yield PathFault(
            ("minimum_v",),
            f"is {quantity(supply.minimum_v, 'V')}",
            f"at most voltage_v, {quantity(supply.voltage_v, 'V')}",
        )
    cell_keys = ("cells_in_series", "cells_in_parallel", "cell_capacity_mah")
    if supply.kind == "wall":
        yield from unused(
            supply,
            ("cell", "curve", *cell_keys),
            "a wall adaptor has no cells",
            'Delete it, or write kind = "cells".',
        )
    else:
        yield from unused(
            supply,
            ("tolerance_percent", "outlet"),
            "cells have none",
            'Delete it, or write kind = "wall".',
        )
        yield from exclusive(supply, "cell", "curve")
        if supply.cell is None and supply.curve is None:
            yield from unused(
                supply, cell_keys, "the kind of cell is not", "Add cell or curve, or delete it."
            )
    if supply.curve is not None:
        yield from (fault.under("curve") for fault in _cell_faults(supply.curve))
    yield from _source_faults(supply)
    if not supply.bulk_capacitor_uf:
        why = "bulk_capacitor_uf, the capacitor that has it, is not"
        yield from unused(
            supply, ("bulk_capacitor_ohm",), why, "Delete it, or add bulk_capacitor_uf."
        )
    yield from _fuse_faults(supply)


def _source_faults(supply: Supply) -> Faults:
    """What nothing else in the file says of a source."""
    outlet = supply.kind == "wall" and supply.outlet is not None
    volts = supply.voltage_v
    if outlet and volts is not None and not _USB_V[0] <= volts <= _USB_V[1]:
        yield PathFault(
            ("voltage_v",),
            f"is {quantity(volts, 'V')} at a USB socket",
            f"{_USB_V[0]:g} to {_USB_V[1]:g} V",
        )
    if not (outlet or supply.cell or supply.curve):
        yield from needed(supply, ("voltage_v",), "nothing else gives it")
    if not (outlet or supply.cell):
        yield from needed(supply, ("maximum_current_ma",), "nothing else gives it")


def _cell_faults(curve: CellCurve) -> Faults:
    points = len(curve.used_percent)
    ends = (curve.used_percent[0], curve.used_percent[-1])
    if ends != (0, 100) or not all(
        before < after for before, after in pairwise(curve.used_percent)
    ):
        yield PathFault(
            ("used_percent",),
            "does not rise from 0 to 100 %",
            "0 first, 100 last, each more than the one before",
        )
    for key in ("open_v", "resistance_ohm"):
        if len(getattr(curve, key)) != points:
            yield PathFault(
                (key,),
                f"has {len(getattr(curve, key))} values",
                f"{points}, one for each of used_percent",
            )
    if any(before < after for before, after in pairwise(curve.open_v)):
        yield PathFault(("open_v",), "rises as the cell is used up", "each at most the one before")
    if not all(before < after for before, after in pairwise(curve.current_ma)):
        yield PathFault(("current_ma",), "does not rise", "each more than the one before")
    if len(curve.capacity_mah) != len(curve.current_ma):
        yield PathFault(
            ("capacity_mah",),
            f"has {len(curve.capacity_mah)} values",
            f"{len(curve.current_ma)}, one for each of current_ma",
        )
    if curve.end_v > curve.open_v[0]:
        yield PathFault(
            ("end_v",),
            f"is {quantity(curve.end_v, 'V')}",
            f"at most the first of open_v, {quantity(curve.open_v[0], 'V')}",
        )


def _fuse_faults(supply: Supply) -> Faults:
    yield from exclusive(supply, "fuse_ma", "resettable_fuse_ma")
    if supply.fuse_melting_a2s is not None:
        yield from needed(supply, ("fuse_ma",), "fuse_melting_a2s describes a melting fuse")
        if supply.cell is None and supply.curve is None:
            yield from needed(
                supply,
                ("internal_resistance_ohm",),
                "it limits the inrush into an empty capacitor, with which fuse_melting_a2s is"
                " compared",
            )


def _regulator_faults(regulator: Regulator, board: Board | None) -> Faults:
    for index, consumer in enumerate(regulator.feeds):
        if consumer in regulator.feeds[:index]:
            yield PathFault(("feeds", index), f"is {found(consumer)} again", "each of them once")
    if regulator.kind in ("linear", "low_dropout"):
        yield from unused(
            regulator,
            ("efficiency_percent",),
            "a linear regulator passes on all the current that it takes",
            "Delete it.",
        )
    if regulator.kind == "step_up":
        yield from unused(
            regulator,
            ("dropout_v",),
            "a step-up converter has none: its output is above its input",
            "Delete it.",
        )
    if board and "board" in regulator.feeds and board.pin_v > regulator.output_v:
        what = (
            f"is {quantity(regulator.output_v, 'V')}, but it feeds a board with outputs of"
            f" {quantity(board.pin_v, 'V')} (board.pin_v)"
        )
        yield PathFault(
            ("output_v",), what, "", "Lower board.pin_v to that, or take the board out of feeds."
        )


def _picture_faults(picture: Picture) -> Faults:
    for index, point in enumerate(picture.outline_mm):
        if not _is_inside(point, picture):
            yield PathFault(
                ("outline_mm", index), f"is {_show(point)}, outside the picture", _extent(picture)
            )


def _selector_faults(selector: Selector) -> Faults:
    known = list(dict.fromkeys(selector.positions))
    for index, position in enumerate(selector.positions):
        if position in selector.positions[:index]:
            yield PathFault(
                ("positions", index), f"is {found(position)} again", "each position once"
            )
    if selector.start is not None and selector.start not in known:
        what = f"is {found(selector.start)}, which is not a position"
        yield PathFault(("start",), what, series(known), did_you_mean(selector.start, known))


def _counter_faults(counter: Counter) -> Faults:
    if counter.start is not None and counter.start > counter.maximum:
        yield PathFault(("start",), f"is {counter.start}", f"at most maximum, {counter.maximum}")


def _channel_faults(groups: dict[str, Group], board: Board) -> Faults:
    last = board.channels - 1
    for name, group in groups.items():
        channels = channels_of(group)
        if channels[-1] <= last:
            continue
        if channels[0] > last:
            key = "first_channel"
            what = f"is {channels[0]}"
        else:
            key = "channels"
            what = f"is {len(channels)}, which takes channels {channels[0]} to {channels[-1]}"
        yield PathFault(("groups", name, key), what, f"channels 0 to {last} of the board")


def _overlap_faults(groups: dict[str, Group]) -> Faults:
    """Reported at the group that comes later in the file."""
    earlier: list[tuple[str, range]] = []
    for name, group in groups.items():
        mine = channels_of(group)
        for other, theirs in earlier:
            shared = range(max(mine[0], theirs[0]), min(mine[-1], theirs[-1]) + 1)
            if shared:
                what = f"is {mine[0]}, but {_show_channels(shared)} to group '{other}' already"
                yield PathFault(
                    ("groups", name, "first_channel"), what, "", "Give each channel to one group."
                )
        earlier.append((name, mine))


def _show_channels(channels: range) -> str:
    if len(channels) == 1:
        return f"channel {channels[0]} belongs"
    return f"channels {channels[0]} to {channels[-1]} belong"


def _group_faults(group: Group, picture: Picture | None, names: Names) -> Faults:
    yield from refer("gauge", group.gauge, "counters", names)
    yield from exclusive(group, "places_mm", "ring_mm", "line_mm")
    yield from _string_faults(group)
    if group.colour in MIXED_COLOURS:
        yield from unused(
            group, ("wavelength_nm",), f"{group.colour} is a mixture of wavelengths", "Delete it."
        )
    if group.leds % group.channels:
        what = f"is {group.leds}, which {group.channels} channels cannot share evenly"
        yield PathFault(("leds",), what, f"a multiple of {group.channels}")
    if group.places_mm is not None and len(group.places_mm) != group.leds:
        yield PathFault(
            ("places_mm",),
            f"has {len(group.places_mm)} places for {group.leds} LEDs",
            f"{group.leds} places",
        )
    if picture:
        yield from _place_faults(group, picture)


def _string_faults(group: Group) -> Faults:
    yield from _voltage_faults(group)
    yield from _switch_faults(group)
    hanging = leds_per_channel(group)
    if (
        group.leds_in_series is not None
        and group.leds % group.channels == 0
        and hanging % group.leds_in_series
    ):
        what = (
            f"is {group.leds_in_series}, which does not divide the {hanging} LEDs of a channel into"
            " equal strings"
        )
        yield PathFault(
            ("leds_in_series",),
            what,
            series([str(count) for count in range(1, hanging + 1) if hanging % count == 0]),
        )
    for index, other in enumerate(group.beside):
        if other.leds % other.leds_in_series:
            what = (
                f"is {other.leds_in_series}, which does not divide its {other.leds} LEDs into equal"
                " strings"
            )
            allowed = [str(count) for count in range(1, other.leds + 1) if other.leds % count == 0]
            yield PathFault(("beside", index, "leds_in_series"), what, series(allowed))
    if group.switch == "driver":
        yield from unused(
            group,
            ("resistor_ohm", "shared_resistor", "beside"),
            "a constant-current driver needs none",
            "Delete it.",
        )
    else:
        yield from unused(
            group,
            ("driver_reference_v",),
            "only a constant-current driver has one",
            'Delete it, or write switch = "driver".',
        )
    if (
        group.switch != "driver"
        and not group.beside
        and group.leds % group.channels == 0
        and hanging == (group.leds_in_series or 1)
    ):
        yield from unused(
            group,
            ("shared_resistor",),
            "a channel has only one string",
            "Delete it; each channel has its own resistor anyway.",
        )


def _switch_faults(group: Group) -> Faults:
    """Figures of a switch that there is not, or that go against each other."""
    yield from exclusive(group, "transistor", "mosfet")
    for key in ("transistor", "mosfet"):
        if group.switch not in (None, key):
            yield from unused(
                group,
                (key,),
                f"{found(group.switch)} switches the group",
                f'Delete it, or write switch = "{key}".',
            )
    if group.mosfet is not None:
        yield from (fault.under("mosfet") for fault in _mosfet_faults(group.mosfet))


def _mosfet_faults(mosfet: Mosfet) -> Faults:
    for key, other in (
        ("on_ohm", "gate_v"),
        ("gate_v", "on_ohm"),
        ("threshold_v", "on_ohm"),
        ("on_ohm", "threshold_v"),
    ):
        if getattr(mosfet, key) is None and getattr(mosfet, other) is not None:
            yield from needed(mosfet, (key,), f"it goes with {other}")
    if (
        mosfet.threshold_v is not None
        and mosfet.gate_v is not None
        and mosfet.threshold_v >= mosfet.gate_v
    ):
        yield PathFault(
            ("threshold_v",),
            f"is {quantity(mosfet.threshold_v, 'V')}",
            f"less than gate_v, {quantity(mosfet.gate_v, 'V')}",
        )


def _voltage_faults(group: Group) -> Faults:
    typical_v = group.forward_voltage_v
    least_v = group.forward_voltage_min_v
    most_v = group.forward_voltage_max_v
    if typical_v is None:
        for key in ("forward_voltage_min_v", "forward_voltage_max_v", "second_point"):
            if getattr(group, key) is not None:
                yield from needed(group, ("forward_voltage_v",), f"{key} goes with it")
                return
        return
    if least_v is not None and least_v > typical_v:
        yield PathFault(
            ("forward_voltage_min_v",),
            f"is {quantity(least_v, 'V')}",
            f"at most forward_voltage_v, {quantity(typical_v, 'V')}",
        )
    if most_v is not None and most_v < typical_v:
        yield PathFault(
            ("forward_voltage_max_v",),
            f"is {quantity(most_v, 'V')}",
            f"at least forward_voltage_v, {quantity(typical_v, 'V')}",
        )
    if group.second_point is not None:
        yield from _curve_faults(group, typical_v, group.second_point)


def _curve_faults(group: Group, volts: float, second: CurvePoint) -> Faults:
    """Two points that an LED can have: at the higher current at least the voltage that a
    junction adds, and a slope of at most half a resistor's.
    """
    ratio = second.current_ma / group.current_ma
    if 1 - _APART < ratio < 1 + _APART:
        allowed = (
            f"at most {quantity(group.current_ma * (1 - _APART), 'mA')} or at least"
            f" {quantity(group.current_ma * (1 + _APART), 'mA')}"
        )
        yield PathFault(
            ("second_point", "current_ma"),
            f"is {quantity(second.current_ma, 'mA')}, too close to current_ma",
            allowed,
        )
        return
    within_v = (second.series_ohm or 0.0) * (second.current_ma - group.current_ma) / 1000
    bounds_v = (volts + within_v + _JUNCTION_V * math.log(ratio), volts * 2 * ratio / (1 + ratio))
    least_v = min(bounds_v)
    most_v = max(bounds_v)
    if (bounds_v[1] - bounds_v[0]) * (second.current_ma - group.current_ma) < 0:
        yield PathFault(
            ("second_point", "series_ohm"),
            f"is {quantity(second.series_ohm or 0.0, 'ohm')}, which uses up the whole slope of the"
            " curve",
            "a lower resistance",
        )
    elif not least_v <= second.forward_voltage_v <= most_v:
        what = (
            f"is {quantity(second.forward_voltage_v, 'V')} at {quantity(second.current_ma, 'mA')}"
        )
        # Rounded inwards, so that what is said to be allowed is.
        allowed = (
            f"{math.ceil(1000 * least_v) / 1000:g} to {math.floor(1000 * most_v) / 1000:g} V, as it"
            f" is {quantity(volts, 'V')} at {quantity(group.current_ma, 'mA')}"
        )
        yield PathFault(("second_point", "forward_voltage_v"), what, allowed)
    elif second.series_ohm is not None:
        slope_v = (second.forward_voltage_v - volts - within_v) / math.log(ratio)
        if slope_v * _SLOPES > min(volts, second.forward_voltage_v):
            what = (
                f"is {quantity(second.series_ohm, 'ohm')}, but no LED with that resistance has both"
                " points: they are too far apart"
            )
            yield PathFault(
                ("second_point", "series_ohm"),
                what,
                "a higher resistance",
                "Delete it, and it is worked out from the points.",
            )


def _place_faults(group: Group, picture: Picture) -> Faults:
    """Every place that was written is a fault of its own; of a ring or line, the first LED
    outside stands for all.
    """
    outside = [
        (index, place)
        for index, place in enumerate(led_places_mm(group, picture))
        if not _is_inside(place, picture)
    ]
    if group.places_mm is not None:
        for index, place in outside:
            yield PathFault(
                ("places_mm", index), f"is {_show(place)}, outside the picture", _extent(picture)
            )
    elif outside:
        index, place = outside[0]
        key = "ring_mm" if group.ring_mm else "line_mm"
        yield PathFault(
            (key,), f"puts LED {index + 1} at {_show(place)}, outside the picture", _extent(picture)
        )


def _is_inside(point: Point, picture: Picture) -> bool:
    x_mm, y_mm = point
    across = -_ROUNDING_MM <= x_mm <= picture.width_mm + _ROUNDING_MM
    return across and -_ROUNDING_MM <= y_mm <= picture.height_mm + _ROUNDING_MM


def _show(point: Point) -> str:
    return f"[{quantity(round(point[0], 2))}, {quantity(round(point[1], 2))}]"


def _extent(picture: Picture) -> str:
    return f"x 0 to {quantity(picture.width_mm, 'mm')}, y 0 to {quantity(picture.height_mm, 'mm')}"
