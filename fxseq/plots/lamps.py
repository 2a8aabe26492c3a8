"""The prop's lamps as a picture: where they are, how they glow, and how bright each is in each
picture.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.hazards import COLOUR_RGB
from fxseq.player import DutyTrack
from fxseq.plots.theme import encoded, linear
from fxseq.runs import Performance
from fxseq.sequence import (
    Fault,
    Group,
    Picture,
    Point,
    Sequence,
    SequenceError,
    all_led_places_mm,
    channels_of,
    led_places_mm,
    leds_per_channel,
)

if TYPE_CHECKING:
    from PIL.Image import Image

HIGHEST_PX = 310
WIDEST_PX = 480
SMALL_AREA_PX = 341 * 256 // 4
"""A quarter of the block of 341 by 256 dots that stands for 10 degrees of view: so much may
flash (W3C WCAG 2.2, technique G19).
"""

_SMALLEST_RADIUS_PX = 1.6
_REACH = 7.0
_GLOWS = ((0.30, 1.8), (0.06, 3.6))
"""Height of the glow around a lamp of height 1, and its width in radii of the lamp: looks right,
no physics.
"""
# In light as code values 8, 24 and 90 give it: greys that stay grey in a palette.
_GROUND = 0.00243
_BODY = 0.00913
_EDGE = 0.10224
_UNLIT = 0.05
_IMAGE_LIGHT = 0.12
_DISC = 0.5
"""Height of the glow at the rim of the lamp itself: above it lies the lamp, or several glows on
each other.
"""
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
_NO_OUTLINE_MARGIN_MM = 10.0

Shape = tuple[int, int]
"""Height and width. [dots]"""


@dataclass(frozen=True)
class Lamp:
    """What one channel adds to the picture at full duty. rgb: linear. glow: shape (h, w), its
    first dot at row `top`, column `left`.
    """

    channel: int
    rgb: NDArray[np.float32]
    glow: NDArray[np.float32]
    top: int
    left: int


@dataclass(frozen=True)
class Stage:
    """unlit: linear light of the picture without a lamp, shape (height, width, 3)."""

    unlit: NDArray[np.float32]
    lamps: list[Lamp]

    @cached_property
    def within_reach(self) -> NDArray[np.int64]:
        """Places of the dots that some lamp lights up, row after row, shape (dots,)."""
        reached = np.zeros(self.unlit.shape[:2], dtype=bool)
        for lamp in self.lamps:
            rows, columns = lamp.glow.shape
            reached[lamp.top : lamp.top + rows, lamp.left : lamp.left + columns] |= lamp.glow > 0
        return np.flatnonzero(reached)

    @cached_property
    def channels(self) -> list[int]:
        """The channel of each lamp."""
        return [lamp.channel for lamp in self.lamps]

    @cached_property
    def added(self) -> NDArray[np.float32]:
        """What each lamp adds at full duty to the dots within reach, shape (lamps, 3 dots)."""
        glows = np.zeros((len(self.lamps), *self.unlit.shape[:2]), dtype=np.float32)
        for glow, lamp in zip(glows, self.lamps, strict=True):
            rows, columns = lamp.glow.shape
            glow[lamp.top : lamp.top + rows, lamp.left : lamp.left + columns] = lamp.glow
        colours = np.stack([lamp.rgb for lamp in self.lamps])
        reached = glows.reshape(len(self.lamps), -1)[:, self.within_reach, np.newaxis]
        coloured = reached * colours[:, np.newaxis]
        return np.ascontiguousarray(coloured).reshape(len(self.lamps), -1)


def stage(sequence: Sequence, folder: Path) -> Stage:
    """The picture of a prop, as large as may be: all lamps together flash over no more than the
    small area of WCAG.
    """
    plane, places = _plane(sequence)
    per_mm = min(HIGHEST_PX / plane.height_mm, WIDEST_PX / plane.width_mm)
    while True:
        shape = max(round(plane.height_mm * per_mm), 1), max(round(plane.width_mm * per_mm), 1)
        lamps = [
            lamp
            for name, group in sequence.groups.items()
            for lamp in _lamps(group, places[name], per_mm, shape)
        ]
        if flashing_px(lamps, shape) <= SMALL_AREA_PX or per_mm * plane.height_mm < 40:
            return Stage(_unlit(plane, lamps, per_mm, shape, folder), lamps)
        per_mm *= 0.93


def flashing_px(lamps: list[Lamp], shape: Shape) -> int:
    """Dots whose luminance changes by a tenth or more where all lamps go from dark to full."""
    light = np.zeros(shape, dtype=np.float32)
    for lamp in lamps:
        rows, columns = lamp.glow.shape
        light[lamp.top : lamp.top + rows, lamp.left : lamp.left + columns] += lamp.glow * float(
            lamp.rgb @ _LUMINANCE
        )
    return int(np.count_nonzero(light >= 0.1))


def _plane(sequence: Sequence) -> tuple[Picture, dict[str, list[Point]]]:
    """The plane and the LEDs on it. Without a picture, the groups lie one below the other, each
    as it is arranged.
    """
    if sequence.picture:
        return sequence.picture, all_led_places_mm(sequence)
    places: dict[str, list[Point]] = {}
    bottom_mm = right_mm = 0.0
    for name, group in sequence.groups.items():
        spots = np.array(led_places_mm(group))
        spots += np.array([_NO_OUTLINE_MARGIN_MM, bottom_mm + _NO_OUTLINE_MARGIN_MM]) - spots.min(
            axis=0
        )
        places[name] = [(float(x), float(y)) for x, y in spots]
        right_mm = max(right_mm, float(spots[:, 0].max()))
        bottom_mm = float(spots[:, 1].max()) + group.size_mm
    # Long rows may be wider than a picture that a file describes.
    return (
        Picture.model_construct(
            width_mm=max(right_mm + _NO_OUTLINE_MARGIN_MM, 40.0),
            height_mm=max(bottom_mm + _NO_OUTLINE_MARGIN_MM, 30.0),
        ),
        places,
    )


def _lamps(group: Group, places: list[Point], per_mm: float, shape: Shape) -> Iterator[Lamp]:
    radius_px = max(group.size_mm / 2 * per_mm, _SMALLEST_RADIUS_PX)
    rgb = np.array(COLOUR_RGB[group.colour], dtype=np.float32)
    on_one = leds_per_channel(group)
    for index, channel in enumerate(channels_of(group)):
        yield _lamp(
            channel,
            rgb,
            np.array(places[index * on_one : (index + 1) * on_one]) * per_mm,
            radius_px,
            shape,
        )


def _lamp(
    channel: int,
    rgb: NDArray[np.float32],
    spots_px: NDArray[np.float64],
    radius_px: float,
    shape: Shape,
) -> Lamp:
    reach_px = radius_px * _REACH
    left, top = np.maximum(np.floor(spots_px.min(axis=0) - reach_px), 0).astype(int)
    right, bottom = np.minimum(np.ceil(spots_px.max(axis=0) + reach_px), shape[::-1]).astype(int)
    across = np.arange(left, right) + 0.5
    down = np.arange(top, bottom) + 0.5
    glow = np.zeros((len(down), len(across)))
    for x_px, y_px in spots_px:
        glow += _glow(np.hypot(across - x_px, (down - y_px)[:, np.newaxis]), radius_px)
    return Lamp(channel, rgb, glow.astype(np.float32), top, left)


def _glow(distance_px: NDArray[np.float64], radius_px: float) -> NDArray[np.float64]:
    """A disc of height 1 with a soft edge, in its glow."""
    disc = np.clip(radius_px + 0.5 - distance_px, 0, 1)
    glow = sum(
        height * np.exp(-np.square(distance_px / (width * radius_px))) for height, width in _GLOWS
    )
    return np.maximum(disc, glow)


def _unlit(
    plane: Picture, lamps: list[Lamp], per_mm: float, shape: Shape, folder: Path
) -> NDArray[np.float32]:
    """The maker's image, darkened, or the outline on a dark ground; and each LED as a dim disc."""
    if plane.image:
        light = _image(folder / plane.image, shape)
    else:
        light = np.repeat(_outline(plane, per_mm, shape)[..., np.newaxis], 3, axis=2)
    for lamp in lamps:
        rows, columns = lamp.glow.shape
        part = light[lamp.top : lamp.top + rows, lamp.left : lamp.left + columns]
        disc = (lamp.glow >= _DISC)[..., np.newaxis]
        np.maximum(part, disc * ((lamp.rgb + 0.1) * np.float32(_UNLIT)), out=part)
    return light


def _outline(plane: Picture, per_mm: float, shape: Shape) -> NDArray[np.float32]:
    from PIL import Image, ImageDraw

    fine = 4
    size = shape[1] * fine, shape[0] * fine
    sheet = Image.new("F", size, _GROUND)
    corners = [(x * per_mm * fine, y * per_mm * fine) for x, y in plane.outline_mm]
    if len(corners) > 2:
        pen = ImageDraw.Draw(sheet)
        pen.polygon(corners, fill=_BODY)
        pen.line([*corners, *corners[:2]], fill=_EDGE, width=round(1.5 * fine), joint="curve")
    return (
        np.asarray(sheet, dtype=np.float32)
        .reshape(shape[0], fine, shape[1], fine)
        .mean(axis=(1, 3))
    )


def _image(path: Path, shape: Shape) -> NDArray[np.float32]:
    from PIL import Image

    shown = photo(path).resize(shape[::-1], Image.Resampling.LANCZOS)
    code = np.asarray(shown, dtype=np.float64) / 255
    return (linear(code) * _IMAGE_LIGHT).astype(np.float32)


def photo(path: Path) -> "Image":
    """The maker's picture of the prop, the right way up, in RGB. Raises SequenceError."""
    from PIL import Image, ImageOps

    try:
        with Image.open(path) as image:
            # Telephones leave a photo lying and say how to turn it, as browsers do.
            return ImageOps.exif_transpose(image).convert("RGB")
    except (OSError, ValueError) as error:
        fault = Fault(
            str(path),
            f"cannot be read as a picture ({error})",
            "a PNG or JPEG file",
            "Name another in picture.image.",
        )
        raise SequenceError(fault) from None


def mean_shares(performance: Performance, edges: NDArray[np.float64]) -> NDArray[np.float32]:
    """Mean share of full duty between successive player frames, which need not be whole: shape
    (len(edges) - 1, channels).
    """
    full = (1 << performance.prop.compiled.table.pwm_bits) - 1
    tracks = performance.played.light
    means = {
        id(track): _means(track, edges) for track in {id(track): track for track in tracks}.values()
    }
    return np.stack([means[id(track)] for track in tracks], axis=1).astype(np.float32) / np.float32(
        full
    )


def _means(track: DutyTrack, edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """Exact means of a step function, from its integral at the edges."""
    duties = track.duties.astype(np.float64)
    at_changes = np.concatenate([[0.0], np.cumsum(duties[:-1] * np.diff(track.frames))])
    last = np.searchsorted(track.frames, edges, side="right") - 1
    integral = at_changes[last] + duties[last] * (edges - track.frames[last])
    return np.diff(integral) / np.diff(edges)


def lit_pictures(scene: Stage, shares: NDArray[np.float32]) -> NDArray[np.uint8]:
    """sRGB code values of the stage with its lamps at these shares, shape (pictures, channels) to
    (pictures, height, width, 3).

    Light adds up; where it comes to more than a screen has, all three colours are lowered alike, so
    that amber stays amber. What lamps light up around them is not known here: glow and overlap are
    approximate.
    """
    unlit = scene.unlit.reshape(-1, 3)
    codes = np.repeat(_coded(unlit)[np.newaxis], len(shares), axis=0)
    # Most of a picture is out of reach of every lamp.
    within = scene.within_reach
    lit = shares[:, scene.channels] @ scene.added
    codes[:, within] = _coded(unlit[within] + lit.reshape(len(shares), -1, 3))
    return codes.reshape(len(shares), *scene.unlit.shape)


def _coded(light: NDArray[np.float32]) -> NDArray[np.uint8]:
    """sRGB code values of linear light, shape (..., 3); what is too bright keeps its colour."""
    brightest = np.maximum(np.maximum(light[..., 0], light[..., 1]), np.maximum(light[..., 2], 1))
    levels = (light * ((len(_CODES) - 1) / brightest)[..., np.newaxis]).astype(np.uint16)
    # None is beyond the table; to be told so is quicker than to have each looked at.
    return _CODES.take(levels, mode="clip")


_CODES = np.round(encoded(np.linspace(0, 1, 8192)) * 255).astype(np.uint8)
