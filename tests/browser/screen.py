"""What the page draws of given lamps, as pixels, and how often it flashes by `fxseq.hazards`."""

import base64
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Page

from fxseq.hazards import general_transitions, red_share, red_transitions

WIDE_PX = 480
HIGH_PX = 384
FIELD_PX = (341, 256)
"""W3C WCAG 2.2: a 10 degree field of view, of which a quarter may flash."""
FIELD_CELLS = 16
"""Pixels are looked at in the middle of cells; so many go along each side of a field."""
QUARTER_CELLS = FIELD_CELLS**2 / 4
ROWS, COLUMNS = (
    math.ceil(size * FIELD_CELLS / field)
    for size, field in ((HIGH_PX, FIELD_PX[1]), (WIDE_PX, FIELD_PX[0]))
)
LEAST_RED = 0.1
"""Of a field as one light: red that is weaker is no red of its own, and is passed over."""

Lamp = Mapping[str, Any]

_SHOW = """async ({ lamps, pictures, times_s, wide, high, field, cells, isOn, isReduced }) => {
  const { Picture } = await import('/page/picture.js');
  const place = document.createElement('div');
  place.style.cssText = `position: fixed; left: 0; top: 0; width: ${wide / 0.98}px; height: ${high / 0.98}px`;
  place.append(document.createElement('canvas'), document.createElement('span'));
  place.firstChild.getContext('2d', { alpha: false, willReadFrequently: true });
  document.body.append(place);
  const told = [];
  const picture = new Picture(place.firstChild, (is) => told.push(is));
  picture.still = { matches: isReduced };
  picture.setGuard(isOn);
  picture.show({ lamps: lamps.map((lamp, channel) => ({ ...lamp, channel })), picture: { width_mm: wide, height_mm: high, outline_mm: [] } });
  for (let left = 3; left > 0; left--) await new Promise(nextPicture);
  const begin_s = performance.now() / 1000, shares = [];
  const middle = (at, size, whole) => Math.min(Math.floor((at + 0.5) * whole / cells), size - 1);
  const middles = (size, whole) => Array.from({ length: Math.ceil(size * cells / whole) }, (_, at) => middle(at, size, whole));
  const across = middles(wide, field[0]), down = middles(high, field[1]);
  const codes = new Uint8Array(pictures.length * across.length * down.length * 3);
  let at = 0;
  pictures.forEach((light, number) => {
    picture.light(light, begin_s + times_s[number]);
    shares.push([...picture.guard.shown]);
    const { data } = picture.pen.getImageData(0, 0, wide, high);
    for (const y of down) for (const x of across) {
      codes.set(data.subarray(4 * (y * wide + x), 4 * (y * wide + x) + 3), at);
      at += 3;
    }
  });
  place.remove();
  let text = '';
  for (let from = 0; from < at; from += 8192) text += String.fromCharCode(...codes.subarray(from, from + 8192));
  return { shares, told, codes: btoa(text) };
}"""


@dataclass(frozen=True)
class Shown:
    """shares: of each lamp, shape (pictures, lamps). rgb: linear, shape (pictures, rows,
    columns, 3). told: when holding back began and ended.
    """

    times_s: NDArray[np.float64]
    shares: NDArray[np.float64]
    rgb: NDArray[np.float64]
    told: list[bool]


def shown(
    page: Page,
    lamps: Sequence[Lamp],
    pictures: NDArray[np.float64],
    times_s: NDArray[np.float64],
    is_on: bool = True,
    reduced: bool = False,
) -> Shown:
    """Pictures drawn by the page at these times. lamps: {x_mm, y_mm, size_mm, rgb}, 1 mm to a
    pixel. pictures: shares, shape (pictures, lamps).
    """
    result = page.evaluate(
        _SHOW,
        {
            "lamps": list(lamps),
            "pictures": pictures.tolist(),
            "times_s": times_s.tolist(),
            "wide": WIDE_PX,
            "high": HIGH_PX,
            "field": FIELD_PX,
            "cells": FIELD_CELLS,
            "isOn": is_on,
            "isReduced": reduced,
        },
    )
    codes = np.frombuffer(base64.b64decode(result["codes"]), np.uint8) / 255
    # IEC 61966-2-1
    linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    return Shown(
        times_s,
        np.array(result["shares"]),
        linear.reshape(len(pictures), ROWS, COLUMNS, 3),
        result["told"],
    )


def luminance(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Relative luminance as WCAG 2.2 defines it."""
    return np.asarray(rgb @ [0.2126, 0.7152, 0.0722])


def in_each_second(times_s: NDArray[np.float64], dates_s: NDArray[np.float64]) -> NDArray[np.int64]:
    """How many dates lie in the second that begins with each picture, shape (pictures,)."""
    return np.asarray(
        np.searchsorted(dates_s, times_s + 1 - 1e-9) - np.searchsorted(dates_s, times_s)
    )


def most_in_a_second(
    times_s: NDArray[np.float64], rgb: NDArray[np.float64], least_red: float = 0.0
) -> NDArray[np.int64]:
    """General or red transitions of one colour over time, the more of the two, in each second,
    shape (pictures,).
    """
    told = (red_share(rgb) < 0.8) | (rgb[:, 0] >= least_red)
    general = general_transitions(times_s, luminance(rgb))
    red = red_transitions(times_s[told], rgb[told])
    return np.maximum(in_each_second(times_s, general), in_each_second(times_s, red))


def flashing_cells(screen: Shown) -> int:
    """The most cells of any field that have more than six transitions in the same second."""
    over = np.zeros((len(screen.times_s), ROWS + 1, COLUMNS + 1), np.int64)
    for row in range(ROWS):
        for column in range(COLUMNS):
            over[:, row + 1, column + 1] = (
                most_in_a_second(screen.times_s, screen.rgb[:, row, column]) > 6
            )
    sums = over.cumsum(axis=1).cumsum(axis=2)
    size = FIELD_CELLS
    return int(
        (
            sums[:, size:, size:]
            - sums[:, :-size, size:]
            - sums[:, size:, :-size]
            + sums[:, :-size, :-size]
        ).max()
    )


def worst_field(screen: Shown, extremes: Shown) -> int:
    """The most transitions in a second of any field as one light. extremes: two pictures, all lamps
    dark and all full.

    A field's light is that of its dark cells on average, and what the lamps add, spread over the
    cells that can flash or a quarter at least.
    """
    dark, full = extremes.rgb
    able = luminance(full) - luminance(dark) >= 0.1
    reached = (full != dark).any(axis=-1)
    worst = 0
    for top in range(-FIELD_CELLS // 2, ROWS, FIELD_CELLS // 2):
        for left in range(-FIELD_CELLS // 2, COLUMNS, FIELD_CELLS // 2):
            field = np.s_[
                ..., max(top, 0) : top + FIELD_CELLS, max(left, 0) : left + FIELD_CELLS, :
            ]
            if reached[field[:-1]].any():
                added = (screen.rgb - dark)[field].sum(axis=(1, 2)) / max(
                    able[field[:-1]].sum(), QUARTER_CELLS
                )
                unlit = dark[field][reached[field[:-1]]].mean(axis=0)
                worst = max(
                    worst, int(most_in_a_second(screen.times_s, unlit + added, LEAST_RED).max())
                )
    return worst
