"""The lights of a run as an animated picture."""

import io
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fxseq.player import TraceKind
from fxseq.plots.lamps import lit_pictures, mean_shares, stage
from fxseq.plots.strip import EDGE_PX, Strip, caution
from fxseq.plots.theme import THEMES, ThemeName, rgb_of
from fxseq.runs import Performance
from fxseq.sequence import write_whole

PICTURES_PER_S = 25
CAUTION_S = 1.5
_LEAD_S = 0.5
_LONGEST_S = 12.0
_NARROWEST_PX = 240
_AT_ONCE = 8
_CLEAR = 255


def animation(
    performance: Performance, path: Path, theme: ThemeName = "dark", longest_s: float = _LONGEST_S
) -> None:
    """Write `animation_bytes` to a file, whole or not at all. Raises OutputError, and
    SequenceError where picture.image cannot be read.
    """
    write_whole(path, animation_bytes(performance, theme, longest_s))


def animation_bytes(
    performance: Performance,
    theme: ThemeName = "dark",
    longest_s: float = _LONGEST_S,
    told: Callable[[float], None] = lambda share: None,
) -> bytes:
    """A GIF of the prop's lamps from shortly before the first press on: the same run gives the same
    bytes.

    Each picture shows the mean light over its 1/25 s, so that no flash is lost, however short.
    Below the lamps is a strip of time with the inputs that are pressed.

    A flashing picture can bring on seizures in people with photosensitive epilepsy, on a screen as
    on a stage. Lamps are small spots on a ground that stays as it is, and the picture is drawn so
    small that at its own size no more than a quarter of 10 degrees of view flashes, which WCAG 2.2
    allows at any rate; enlarged it may be more. Where the run itself flashes faster than WCAG
    allows, a still picture says so first, for 1.5 s.

    told: called with the share of the pictures that are drawn, 0..1. Raises ValueError for a prop
    without groups, SequenceError where picture.image cannot be read.
    """
    if not performance.prop.sequence.groups:
        raise ValueError("a prop without lamps has no picture of them")
    edges_s = _edges_s(performance, longest_s)
    pictures: list[NDArray[np.uint16]] = []
    for part in _pictures(performance, edges_s, theme):
        pictures += list(_packed(part))
        told(len(pictures) / (len(edges_s) - 1))
    delays_ms = [1000 // PICTURES_PER_S] * (len(edges_s) - 1)
    if not _passes(performance):
        pictures.insert(0, _packed(caution(*pictures[0].shape[::-1], THEMES[theme])))
        delays_ms.insert(0, round(CAUTION_S * 1000))
    return _gif(pictures, delays_ms)


def _edges_s(performance: Performance, longest_s: float) -> NDArray[np.float64]:
    """Times at which pictures begin, and at which the last one ends."""
    start_s = max(_first_press_s(performance) - _LEAD_S, 0.0)
    end_s = min(performance.duration_s, start_s + longest_s)
    count = max(math.ceil((end_s - start_s) * PICTURES_PER_S - 1e-6), 1)
    return np.append(start_s + np.arange(count) / PICTURES_PER_S, end_s)


def _first_press_s(performance: Performance) -> float:
    return next(
        (performance.seconds(event.frame) for event in performance.events(TraceKind.PRESS)), 0.0
    )


def _passes(performance: Performance) -> bool:
    flashes = performance.flashes
    return all(light.passes for light in (flashes.together, *flashes.alone.values()))


def _pictures(
    performance: Performance, edges_s: NDArray[np.float64], theme: ThemeName
) -> Iterator[NDArray[np.uint8]]:
    """Whole pictures, some at a time: code values, shape (n, height, width, 3)."""
    colours = THEMES[theme]
    scene = stage(performance.prop.sequence, performance.prop.path.parent)
    shares = mean_shares(performance, edges_s * performance.prop.compiled.table.frame_rate_hz)
    high_px, wide_px = scene.unlit.shape[:2]
    width_px = max(wide_px + 2 * EDGE_PX, _NARROWEST_PX)
    strip = Strip(performance, float(edges_s[0]), float(edges_s[-1]), width_px, colours)
    ground = np.round(np.array(rgb_of(colours.ground)) * 255).astype(np.uint8)
    sheet = np.tile(ground, (high_px + 2 * EDGE_PX + strip.height_px, width_px, 1))
    left_px = (width_px - wide_px) // 2
    for first in range(0, len(shares), _AT_ONCE):
        part = slice(first, first + _AT_ONCE)
        pictures = np.repeat(sheet[np.newaxis], len(shares[part]), axis=0)
        pictures[:, EDGE_PX : EDGE_PX + high_px, left_px : left_px + wide_px] = lit_pictures(
            scene, shares[part]
        )
        pictures[:, high_px + 2 * EDGE_PX :] = strip.pictures(edges_s[:-1][part], edges_s[1:][part])
        yield pictures


def _packed(pictures: NDArray[np.uint8]) -> NDArray[np.uint16]:
    """Code values in 5 bits each: as fine as a file of 256 colours needs, greys stay grey, and
    all pictures can be held at once.
    """
    red, green, blue = (pictures[..., part].astype(np.uint16) >> 3 for part in range(3))
    return red << 10 | green << 5 | blue


def _unpacked(packed: NDArray[np.integer]) -> NDArray[np.uint8]:
    five = np.stack([packed >> 10, packed >> 5 & 31, packed & 31], axis=-1)
    return (five << 3 | five >> 2).astype(np.uint8)


def _gif(pictures: list[NDArray[np.uint16]], delays_ms: list[int]) -> bytes:
    """One palette for all pictures, in which every colour that occurs counts the same, so that dark
    gradients are as fine as bright ones.

    What stays the same from one picture to the next is left transparent, which packs far better.
    One picture after the other, each fits into the processor's cache.
    """
    from PIL import Image

    is_used = np.zeros(1 << 15, dtype=bool)
    for picture in pictures:
        is_used[picture] = True
    used = Image.fromarray(_unpacked(np.flatnonzero(is_used))[np.newaxis])
    colours = used.quantize(_CLEAR, Image.Quantize.MEDIANCUT, kmeans=1, dither=Image.Dither.NONE)
    index_of = np.zeros(1 << 15, dtype=np.uint8)
    index_of[is_used] = np.asarray(colours)[0]
    images = []
    shown = np.full_like(pictures[0], _CLEAR, dtype=np.uint8)
    for picture in pictures:
        indices = index_of.take(picture, mode="clip")
        images.append(Image.fromarray(np.where(indices == shown, np.uint8(_CLEAR), indices)))
        images[-1].putpalette(colours.getpalette())
        shown = indices
    data = io.BytesIO()
    form = {"loop": 0, "disposal": 1, "transparency": _CLEAR, "optimize": False}
    images[0].save(data, "GIF", save_all=True, append_images=images[1:], duration=delays_ms, **form)
    return data.getvalue()
