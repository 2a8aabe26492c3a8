"""What follows from the description alone: defaults that depend on other keys, and where each
LED is.
"""

import math
from itertools import accumulate

from fxseq.sequence.model import (
    Board,
    Clip,
    Coding,
    Counter,
    Fade,
    Group,
    Line,
    Picture,
    Point,
    Ring,
    Selector,
    Sequence,
)

_PITCH_IN_DIAMETERS = 2.0
"""LEDs without a place and without a picture are drawn this far apart."""
_ROW_IN_DIAMETERS = 3.0
"""And rows of them, so that light has room."""


def frame_rate_hz(board: Board) -> float:
    """Control steps a second. [Hz]"""
    return board.sample_rate_hz / board.samples_per_frame


def channels_of(group: Group) -> range:
    """The channels of the group."""
    return range(group.first_channel, group.first_channel + group.channels)


def leds_per_channel(group: Group) -> int:
    """LEDs that hang on one channel of the group, one after the other in the order of their
    places.
    """
    return group.leds // group.channels


def start_position(selector: Selector) -> str:
    """Position at power-up."""
    return selector.start or selector.positions[0]


def start_count(counter: Counter) -> int:
    """Value at power-up."""
    if counter.start is None:
        return counter.maximum
    return counter.start


def clip_rate_hz(clip: Clip, board: Board) -> int:
    """Sample rate of the clip in the table: as fitted, else its own, else the board's. [Hz]"""
    fitted_hz = clip.fitted and clip.fitted.rate_hz
    return fitted_hz or clip.rate_hz or board.sample_rate_hz


def clip_coding(clip: Clip) -> Coding:
    """Coding of the clip in the table: as fitted, else its own."""
    fitted = clip.fitted and clip.fitted.coding
    return fitted or clip.coding


def fade_length_ms(fade: Fade) -> float:
    """Time from the start of the fade to its end, or to where it starts over. [ms]"""
    return math.fsum(segment.length_ms for segment in fade.segments)


def led_places_mm(group: Group, picture: Picture | None = None) -> list[Point]:
    """Place of each LED of the group, in order: (x, y) from the upper left corner, x to the right
    and y down. [mm]

    A group without places is spread over the width of the picture at half its height, or on a line
    of its own if there is no picture.
    """
    if group.places_mm is not None:
        return group.places_mm
    if group.ring_mm:
        return _on_ring(group.ring_mm, group.leds)
    if group.line_mm:
        return _on_line(group.line_mm, group.leds)
    width_mm = group.leds * _PITCH_IN_DIAMETERS * group.size_mm
    y_mm = 0.0
    if picture:
        width_mm = picture.width_mm
        y_mm = picture.height_mm / 2
    return [((index + 0.5) * width_mm / group.leds, y_mm) for index in range(group.leds)]


def is_placed(group: Group) -> bool:
    """Whether the file says where its LEDs sit."""
    return any(where is not None for where in (group.places_mm, group.ring_mm, group.line_mm))


def all_led_places_mm(sequence: Sequence) -> dict[str, list[Point]]:
    """Place of each LED by group, as `led_places_mm` has it. Groups without places lie in rows of
    their own, in the order of the file. [mm]

    With a picture the rows share out its height. A row has its place whatever becomes of the other
    groups, so that placing one moves no other.
    """
    picture = sequence.picture
    groups = sequence.groups
    if picture:
        heights_mm = [
            picture.height_mm * (row + 1) / (len(groups) + 1) for row in range(len(groups))
        ]
    else:
        heights_mm = list(
            accumulate(_ROW_IN_DIAMETERS * group.size_mm for group in groups.values())
        )
    places = {name: led_places_mm(group, picture) for name, group in groups.items()}
    for (name, group), y_mm in zip(groups.items(), heights_mm, strict=True):
        if not is_placed(group):
            left_mm = 0.0 if picture else _PITCH_IN_DIAMETERS * group.size_mm
            places[name] = [(left_mm + x_mm, y_mm) for x_mm, _ in places[name]]
    return places


def _on_ring(ring: Ring, leds: int) -> list[Point]:
    """Clockwise as seen, since y runs down; an angle of 0 is to the right of the centre."""
    x_mm, y_mm = ring.centre_mm
    turns = [math.radians(ring.first_at_deg) + index * math.tau / leds for index in range(leds)]
    return [
        (x_mm + ring.radius_mm * math.cos(turn), y_mm + ring.radius_mm * math.sin(turn))
        for turn in turns
    ]


def _on_line(line: Line, leds: int) -> list[Point]:
    """First LED at one end and last at the other; a single LED sits in the middle."""
    (x0_mm, y0_mm), (x1_mm, y1_mm) = line.from_mm, line.to_mm
    parts = [0.5]
    if leds > 1:
        parts = [index / (leds - 1) for index in range(leds)]
    return [(x0_mm + (x1_mm - x0_mm) * part, y0_mm + (y1_mm - y0_mm) * part) for part in parts]
