"""Sequences to draw, and how to look at what was drawn."""

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from fxseq.clips import PreparedClip, encode
from fxseq.player import parse_script
from fxseq.plots.theme import THEMES, rgb_of, styled
from fxseq.runs import Performance, Prop, perform
from fxseq.sequence import loads
from fxseq.table import clips_in_reach, compile_sequence

DEMO = Path(__file__).parents[2] / "demo_assets" / "squall_lantern.toml"
RATE_HZ = 22050


def played(text: str, presses: str, folder: Path = Path(".")) -> Performance:
    """Play a sequence given as text. Each of its clips is half a second of a fading tone of 1
    kHz that starts at full scale.
    """
    sequence = loads(text)
    at = np.arange(RATE_HZ // 2)
    tone = np.round(32767 * np.cos(2 * np.pi * 1000 * at / RATE_HZ) * np.exp(-at / 3000)).astype(
        np.int16
    )
    clips = {
        name: PreparedClip(
            name, tone, RATE_HZ, "pcm16", encode(tone, "pcm16"), None, meant_samples=len(tone)
        )
        for name in clips_in_reach(sequence)
    }
    compiled = compile_sequence(sequence, clips)
    return perform(
        Prop(folder / "prop.toml", sequence, clips, compiled),
        parse_script(presses, compiled.table, compiled.names),
    )


def lamp(name: str, first: int, **settings: Any) -> str:
    """A group of one channel with one LED that the button flashes, as a piece of a prop file."""
    keys = {"leds": 1, "colour": "amber", "forward_voltage_v": 2.1, "current_ma": 20, **settings}
    words = "\n".join(f"{key} = {value!r}".replace("'", '"') for key, value in keys.items())
    return f"\n[groups.{name}]\nfirst_channel = {first}\n{words}\n"


def flashing(
    names: list[str],
    length_ms: float = 200,
    head: str = "",
    sound: bool = False,
    title: str = "A $5 lamp, not $9: 100 % _bright_",
    **settings: Any,
) -> str:
    """A sequence whose button lights each of the groups fully for `length_ms`, and sounds a clip
    if told to.
    """
    lights = ", ".join(f'{{ group = "{name}", fade = "flash" }}' for name in names)
    return f"""format = 1
title = "{title}"
board = {{ channels = {max(len(names), 1)} }}
{head}
[inputs.button]
[fades.flash]
segments = [{{ shape = "step", to_percent = 100, length_ms = {length_ms} }}, {{ shape = "step", to_percent = 0 }}]
{'[clips.tone]' if sound else ''}
{'file = "tone.wav"' if sound else ''}
[effects.flash]
lights = [{lights}]
sounds = [{'{ clip = "tone" }' if sound else ''}]
[triggers.flash]
mode = "once"
input = "button"
effects = ["flash"]
{''.join(lamp(name, index, **settings) for index, name in enumerate(names))}"""


SOUND_PARTS = """
[supplies.cells]
kind = "cells"
voltage_v = 6.0
maximum_current_ma = 500
[amplifier]
gain_db = {gain_db}
full_scale_input_v = 1.0
lost_voltage_v = 0.0
[speaker]
diameter_mm = 28
impedance_ohm = 8
resonance_hz = 800
sensitivity_db = 88
rated_power_w = 1
"""


def in_turn(names: Iterable[str]) -> list[tuple[str, str]]:
    """Each name with a theme, every other one with the dark one: a theme is colours, and colours
    move no text.
    """
    return list(zip(names, cycle(THEMES)))


_DRAWN: dict[tuple[object, ...], tuple[tuple[object, ...], Figure]] = {}


def once(draw: Callable[..., Figure], *given: object) -> Figure:
    """The figure of these very objects, drawn once for all tests that only look at it."""
    key = (draw, *map(id, given))
    if key not in _DRAWN:
        _DRAWN[key] = given, draw(*given)  # kept with it, so that no other object gets its id
    return _DRAWN[key][1]


@lru_cache(maxsize=64)
def written(figure: Figure) -> tuple[tuple[str, Any], ...]:
    """Every text that is seen on the figure, with its box in dots."""
    return tuple(_written(figure))


def _written(figure: Figure) -> Iterator[tuple[str, Any]]:
    theme = next(
        theme
        for theme in THEMES.values()
        if np.allclose(figure.get_facecolor()[:3], rgb_of(theme.ground))
    )
    with styled(theme):
        figure.set_dpi(100)
        canvas = FigureCanvasAgg(figure)
        figure.draw_without_rendering()
        unseen = {
            label
            for axes in figure.axes
            for axis in (axes.xaxis, axes.yaxis)
            for label in _unseen(axis)
        }
        for text in figure.findobj(Text):
            if text.get_visible() and text.get_text().strip() and text not in unseen:
                yield text.get_text(), text.get_window_extent(canvas.get_renderer())


def legends(figure: Figure) -> Iterator[tuple[str, Any]]:
    """Every legend with its box, marks included."""
    for axes in figure.axes:
        if axes.get_legend():
            yield (
                "|".join(text.get_text() for text in axes.get_legend().get_texts()),
                axes.get_legend().get_window_extent(),
            )


def _unseen(axis: Any) -> Iterator[Text]:
    """Labels of ticks that are out of view, and of axes that are switched off."""
    low, high = sorted(axis.get_view_interval())
    for tick in axis.get_major_ticks():
        if not (axis.axes.axison and low - 1e-9 <= tick.get_loc() <= high + 1e-9):
            yield tick.label1
            yield tick.label2


def overlapping(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes share more than a hair (1 dot), and texts that leave the
    figure, as a pair with ''.
    """
    texts = [
        (text, box.padded(-1)) for text, box in written(figure) if box.width > 2 and box.height > 2
    ]
    texts += [(f"legend: {text}", box.padded(-1)) for text, box in legends(figure)]
    pairs = [
        (first, second)
        for at, (first, box) in enumerate(texts)
        for second, other in texts[at + 1 :]
        if box.overlaps(other) and not _is_part(first, second)
    ]
    whole = figure.bbox
    return pairs + [
        (text, "")
        for text, box in texts
        if box.x0 < 0 or box.y0 < 0 or box.x1 > whole.x1 or box.y1 > whole.y1
    ]


def _is_part(text: str, legend: str) -> bool:
    return legend.startswith("legend: ") and text in legend.removeprefix("legend: ").split("|")
