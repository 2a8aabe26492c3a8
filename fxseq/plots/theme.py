"""Colours and lines of the figures, on a light and on a dark ground, and matplotlib set up the
same way on every machine.
"""

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from fxseq.hazards import COLOUR_RGB
from fxseq.sequence.model import Colour

ThemeName = Literal["light", "dark"]
Rgb = tuple[float, float, float]

SMALL_PT = 8.0
HEADING_PT = 9.0
TITLE_PT = 14.0

_LEAST_CONTRAST = 3.0
"""Least contrast of a graphical object against its background (W3C WCAG 2.2, success criterion
1.4.11, from memory).
"""
_LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)


@dataclass(frozen=True)
class Theme:
    """Colours by what they stand for, as #rrggbb. ink: text and the main line. Each is told from
    the others without colour too.
    """

    ground: str
    lane: str
    grid: str
    ink: str
    quiet_ink: str
    first: str
    second: str
    alarm: str
    good: str


# first, second and alarm are the blues, the bluish green and the vermilion of M. Okabe and K. Ito,
# "Color Universal Design" (values as matplotlib has them), taken darker or lighter where needed: a
# line then has 3:1 to the ground, what is written in alarm 4.5:1 (tested).
THEMES: dict[ThemeName, Theme] = {
    "light": Theme(
        "#ffffff",
        "#f1f3f5",
        "#d9dde1",
        "#1a1d21",
        "#5b626b",
        "#0072b2",
        "#008a66",
        "#bf5300",
        "#e2f3ec",
    ),
    "dark": Theme(
        "#14171c",
        "#1e232a",
        "#353c45",
        "#e8eaed",
        "#a5adb7",
        "#56b4e9",
        "#00b183",
        "#ff8a3c",
        "#15352c",
    ),
}

_ALONE = threading.RLock()


@contextmanager
def styled(theme: Theme) -> Iterator[None]:
    """matplotlib's own defaults with the theme on top, whatever the user's matplotlibrc says, and
    given back afterwards.

    Its settings belong to the whole process, so only one thread at a time gets in here.
    """
    from matplotlib import style

    with _ALONE, style.context(["default", _settings(theme)]), warnings.catch_warnings():
        # A title may be in a script that the font has no letters for: it is drawn as boxes, and
        # that is no news to the user.
        warnings.filterwarnings("ignore", message="Glyph .* missing", category=UserWarning)
        yield


def _settings(theme: Theme) -> dict[str, Any]:
    return {
        "figure.facecolor": theme.ground,
        "axes.facecolor": theme.ground,
        "savefig.facecolor": theme.ground,
        "axes.edgecolor": theme.quiet_ink,
        "axes.labelcolor": theme.ink,
        "text.color": theme.ink,
        "xtick.color": theme.quiet_ink,
        "ytick.color": theme.quiet_ink,
        "xtick.labelcolor": theme.ink,
        "ytick.labelcolor": theme.ink,
        "grid.color": theme.grid,
        "grid.linewidth": 0.6,
        "axes.grid": True,
        "axes.axisbelow": True,
        "axes.linewidth": 0.8,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "legend.frameon": False,
        "font.size": SMALL_PT,
        "axes.titlesize": HEADING_PT,
        "axes.labelsize": SMALL_PT,
        "legend.fontsize": SMALL_PT,
        "xtick.labelsize": SMALL_PT,
        "ytick.labelsize": SMALL_PT,
        "lines.linewidth": 1.4,
        "lines.markersize": 4.5,
        # Names and titles are the maker's: a dollar sign in them is no formula.
        "text.parse_math": False,
        "svg.fonttype": "none",
        "svg.hashsalt": "fxseq",
        "pdf.fonttype": 42,  # letters that can be searched
    }


def encoded(linear: np.ndarray) -> np.ndarray:
    """sRGB code values 0..1 of linear light 0..1, element by element (IEC 61966-2-1, from
    memory).
    """
    return np.where(
        linear <= 0.0031308,
        12.92 * linear,
        1.055 * np.power(np.maximum(linear, 0.0031308), 1 / 2.4) - 0.055,
    )


def linear(code: np.ndarray) -> np.ndarray:
    """Linear light 0..1 of sRGB code values 0..1, element by element: the inverse of `encoded`."""
    return np.where(
        code <= 0.04045, code / 12.92, np.power((np.maximum(code, 0.04045) + 0.055) / 1.055, 2.4)
    )


def rgb_of(hexadecimal: str) -> Rgb:
    """Code values 0..1 of #rrggbb."""
    red, green, blue = (int(hexadecimal[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def contrast(first: Rgb, second: Rgb) -> float:
    """Contrast ratio of two colours in code values, 1..21: (L1 + 0.05) / (L2 + 0.05) (W3C WCAG
    2.2, "contrast ratio", from memory).
    """
    high, low = sorted(
        (float(linear(np.array(rgb)) @ _LUMINANCE_WEIGHTS) for rgb in (first, second)), reverse=True
    )
    return (high + 0.05) / (low + 0.05)


def lamp_rgb(colour: Colour) -> Rgb:
    """Code values of an LED colour at full light."""
    red, green, blue = encoded(np.array(COLOUR_RGB[colour])).tolist()
    return red, green, blue


def outline_rgb(colour: Colour, theme: Theme) -> Rgb:
    """The LED colour, taken towards the ink just as far as an outline needs to be seen on a
    lane.
    """
    lane = rgb_of(theme.lane)
    ink = np.array(rgb_of(theme.ink))
    lamp = np.array(lamp_rgb(colour))
    for share in np.linspace(0, 1, 41):
        red, green, blue = (lamp + (ink - lamp) * share).tolist()
        if contrast((red, green, blue), lane) >= _LEAST_CONTRAST:
            break
    return red, green, blue
