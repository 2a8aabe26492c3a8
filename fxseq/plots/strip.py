"""Below the lamps: time, and the inputs that are pressed; and the still picture that warns of
flashing.
"""

import textwrap
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards import flash_rate_limit_hz
from fxseq.plots.presses import Span, held_spans
from fxseq.plots.theme import Theme, rgb_of
from fxseq.runs import Performance

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

EDGE_PX = 10
_LANE_PX = 17
_TEXT_PX = 11
_HEAD_PX = 15
_DOT_PX = 4
_CAUTION = (
    f"More than {flash_rate_limit_hz():g} flashes a second follow. They can bring on seizures in"
    " people with photosensitive epilepsy. Look away if that may be you, and warn others before"
    " you show this."
)


class Strip:
    """Lanes of the inputs pressed from `start_s` to `end_s`, with a mark that runs along.
    height_px: of the pictures it draws.
    """

    def __init__(
        self, performance: Performance, start_s: float, end_s: float, width_px: int, theme: Theme
    ) -> None:
        self._start_s = start_s
        self._end_s = end_s
        self._width_px = width_px
        self._theme = theme
        spans = {
            name: list(held_spans(performance, index))
            for index, name in enumerate(performance.prop.compiled.names.inputs)
        }
        self._lanes = {
            name: [span for span in spans[name] if span.start_s < end_s and span.end_s > start_s]
            for name in spans
        }
        self._lanes = {name: lane for name, lane in self._lanes.items() if lane}
        self.height_px = (len(self._lanes) + 1) * _LANE_PX + EDGE_PX
        widest_px = max((_font(_TEXT_PX).getlength(name) for name in self._lanes), default=0.0)
        self._left_px = min(int(widest_px) + 3 * EDGE_PX, width_px // 2) if self._lanes else EDGE_PX
        self._still = self._draw(set()), self._draw(set(self._lanes))

    def pictures(
        self, times_s: NDArray[np.float64], until_s: NDArray[np.float64]
    ) -> NDArray[np.uint8]:
        """The strip at each picture, which shows `times_s` to `until_s`, both shape (n,): code
        values, shape (n, height, width, 3).
        """
        idle, pressed = self._still
        pictures = np.repeat(idle[np.newaxis], len(times_s), axis=0)
        for row, spans in enumerate(self._lanes.values()):
            held = np.zeros(len(times_s), dtype=bool)
            for span in spans:
                held |= (until_s > span.start_s) & (times_s < span.end_s)
            lane = slice(row * _LANE_PX, (row + 1) * _LANE_PX)
            pictures[held, lane] = pressed[lane]
        marks = np.array([self._across(time_s) for time_s in times_s])
        pictures[np.arange(len(marks)), : len(self._lanes) * _LANE_PX + EDGE_PX // 2, marks] = (
            _code(self._theme.alarm)
        )
        return pictures

    def _across(self, time_s: float) -> int:
        share = (time_s - self._start_s) / (self._end_s - self._start_s)
        return round(self._left_px + share * (self._width_px - EDGE_PX - 1 - self._left_px))

    def _draw(self, pressed: set[str]) -> NDArray[np.uint8]:
        image, pen = _sheet(self._width_px, self.height_px, self._theme)
        for row, (name, spans) in enumerate(self._lanes.items()):
            self._draw_lane(pen, (row + 0.5) * _LANE_PX, name, spans, name in pressed)
        line_px = len(self._lanes) * _LANE_PX + EDGE_PX // 2
        pen.line(
            [(self._left_px, line_px), (self._width_px - EDGE_PX - 1, line_px)],
            fill=_code(self._theme.quiet_ink),
        )
        for time_s, anchor in ((self._start_s, "lt"), (self._end_s, "rt")):
            place_px = self._across(time_s), line_px + 3
            pen.text(
                place_px,
                f"{time_s:.4g} s",
                fill=_code(self._theme.ink),
                font=_font(_TEXT_PX),
                anchor=anchor,
            )
        return np.asarray(image)

    def _draw_lane(
        self, pen: "ImageDraw", middle_px: float, name: str, spans: list[Span], is_pressed: bool
    ) -> None:
        theme = self._theme
        x_px = EDGE_PX + _DOT_PX
        pen.ellipse(
            [x_px - _DOT_PX, middle_px - _DOT_PX, x_px + _DOT_PX, middle_px + _DOT_PX],
            outline=_code(theme.first),
            fill=_code(theme.first if is_pressed else theme.ground),
        )
        ink = _code(theme.ink if is_pressed else theme.quiet_ink)
        pen.text((x_px + EDGE_PX, middle_px), name, fill=ink, font=_font(_TEXT_PX), anchor="lm")
        pen.rectangle(
            [
                self._left_px - 2,
                middle_px - _LANE_PX / 2,
                self._width_px,
                middle_px + _LANE_PX / 2 - 1,
            ],
            fill=_code(theme.ground),
        )
        for span in spans:
            left_px = self._across(max(span.start_s, self._start_s))
            right_px = self._across(min(span.end_s, self._end_s))
            pen.rectangle(
                [left_px, middle_px - 4, right_px, middle_px + 4], fill=_code(theme.first)
            )


def caution(width_px: int, height_px: int, theme: Theme) -> NDArray[np.uint8]:
    """A still picture of words: code values, shape (height, width, 3)."""
    image, pen = _sheet(width_px, height_px, theme)
    columns = int((width_px - 4 * EDGE_PX) / _font(_TEXT_PX).getlength("n"))
    text = textwrap.fill(_CAUTION, columns)
    text_px = pen.multiline_textbbox((0, 0), text, font=_font(_TEXT_PX))[3]
    middle_px = width_px / 2
    parting_px = (height_px - text_px + 2 * _HEAD_PX) / 2
    pen.rectangle(
        [EDGE_PX, EDGE_PX, width_px - EDGE_PX - 1, height_px - EDGE_PX - 1],
        outline=_code(theme.alarm),
        width=2,
    )
    heading = {
        "fill": _code(theme.alarm),
        "font": _font(_HEAD_PX),
        "anchor": "md",
        "align": "center",
    }
    pen.text((middle_px, parting_px - _HEAD_PX), "Caution:\nflashing light", **heading)
    pen.text(
        (middle_px, parting_px),
        text,
        fill=_code(theme.ink),
        font=_font(_TEXT_PX),
        anchor="ma",
        align="center",
    )
    return np.asarray(image)


def _sheet(width_px: int, height_px: int, theme: Theme) -> tuple["Image", "ImageDraw"]:
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (width_px, height_px), _code(theme.ground))
    return image, ImageDraw.Draw(image)


def _code(colour: str) -> tuple[int, int, int]:
    red, green, blue = (round(value * 255) for value in rgb_of(colour))
    return red, green, blue


@lru_cache
def _font(size_px: int) -> "FreeTypeFont":
    """matplotlib's own font, the same on every machine."""
    from matplotlib import get_data_path
    from PIL import ImageFont

    return ImageFont.truetype(f"{get_data_path()}/fonts/ttf/DejaVuSans.ttf", size_px)
