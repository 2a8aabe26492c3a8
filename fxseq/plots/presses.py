"""What a hand did and what fired, as lanes over time."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fxseq.player import TraceKind
from fxseq.plots.sheet import counted, text_width_in, width_in
from fxseq.plots.theme import Theme
from fxseq.runs import Performance

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LANE_IN = 0.25
_THICK = 0.72


@dataclass(frozen=True)
class Span:
    """A stretch of time and what is written into it."""

    start_s: float
    end_s: float
    text: str


@dataclass(frozen=True)
class Lane:
    """name and note stand at its ends. spans: for a switch; is_held: it is held while they last,
    else set to what they say.

    shots_s, empty_s: for a trigger, when it fired and when its counter was at zero.
    """

    name: str
    note: str = ""
    spans: tuple[Span, ...] = ()
    is_held: bool = False
    shots_s: tuple[float, ...] = ()
    empty_s: tuple[float, ...] = ()


def press_lanes(performance: Performance) -> list[Lane]:
    """Inputs by when they are held, selectors and volume by where they stand, triggers by their
    shots; from the top down.
    """
    names = performance.prop.compiled.names
    inputs = [
        Lane(name, spans=tuple(held_spans(performance, index)), is_held=True)
        for index, name in enumerate(names.inputs)
    ]
    selectors = [
        Lane(
            name,
            spans=tuple(
                _settings(
                    performance, TraceKind.SELECT, index, names.positions[index], record.start
                )
            ),
        )
        for index, (name, record) in enumerate(
            zip(names.selectors, performance.prop.compiled.table.selectors, strict=True)
        )
    ]
    return [*inputs, *selectors, *_volume(performance), *_fired(performance)]


def held_spans(performance: Performance, index: int) -> Iterable[Span]:
    """When an input is held, by the edges that the player took for real."""
    edges = [
        event
        for event in performance.events(TraceKind.PRESS, TraceKind.RELEASE)
        if event.index == index
    ]
    for at, edge in enumerate(edges):
        if edge.kind == TraceKind.PRESS:
            start_s = performance.seconds(edge.frame)
            if at + 1 < len(edges):
                end_s = performance.seconds(edges[at + 1].frame)
            else:
                end_s = performance.duration_s
            yield Span(start_s, end_s, f"{end_s - start_s:.2f} s")


def _settings(
    performance: Performance, kind: TraceKind, index: int, words: tuple[str, ...] | None, start: int
) -> Iterable[Span]:
    changes = [(0.0, start)]
    changes += [
        (performance.seconds(event.frame), event.value)
        for event in performance.events(kind)
        if event.index == index
    ]
    ends_s = [at_s for at_s, _ in changes[1:]] + [performance.duration_s]
    for (start_s, value), end_s in zip(changes, ends_s, strict=True):
        if end_s > start_s:
            yield Span(start_s, end_s, words[value] if words else f"{value / 2.56:.0f} %")


def _volume(performance: Performance) -> list[Lane]:
    if not performance.events(TraceKind.VOLUME):
        return []
    return [Lane("volume", spans=tuple(_settings(performance, TraceKind.VOLUME, 0, None, 256)))]


def _fired(performance: Performance) -> Iterable[Lane]:
    for index, name in enumerate(performance.prop.compiled.names.triggers):
        shots_s, empty_s = (
            tuple(
                performance.seconds(event.frame)
                for event in performance.events(kind)
                if event.index == index
            )
            for kind in (TraceKind.SHOT, TraceKind.EMPTY)
        )
        if shots_s or empty_s:
            words = [counted(len(shots_s), "shot")] * bool(shots_s) + [
                f"{len(empty_s)} empty ×"
            ] * bool(empty_s)
            yield Lane(name, ", ".join(words), shots_s=shots_s, empty_s=empty_s)


def draw_presses(axes: "Axes", lanes: list[Lane], theme: Theme) -> None:
    """Bars with their text where it fits, and ticks for shots."""
    per_inch_s = axes.get_xlim()[1] / width_in(axes)
    for row, lane in enumerate(lanes):
        _bars(axes, row, lane, per_inch_s, theme)
        axes.plot(
            lane.shots_s,
            [row] * len(lane.shots_s),
            "|",
            color=theme.ink,
            markersize=11,
            markeredgewidth=1.0,
        )
        axes.plot(
            lane.empty_s,
            [row] * len(lane.empty_s),
            "x",
            color=theme.alarm,
            markersize=5,
            markeredgewidth=1.3,
        )
    axes.set_ylim(len(lanes) - 0.45, -0.55)
    axes.set_yticks(range(len(lanes)), [lane.name for lane in lanes])
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=False, axis="y")


def _bars(axes: "Axes", row: int, lane: Lane, per_inch_s: float, theme: Theme) -> None:
    """A switch that is held is filled; a setting, which always stands somewhere, is an outline."""
    face, edge, text = theme.lane, theme.quiet_ink, theme.ink
    if lane.is_held:
        face, edge, text = theme.first, theme.first, theme.ground
    stretches = [(span.start_s, span.end_s - span.start_s) for span in lane.spans]
    axes.broken_barh(
        stretches, (row - _THICK / 2, _THICK), facecolor=face, edgecolor=edge, linewidth=0.8
    )
    for span in lane.spans:
        if text_width_in(span.text) * per_inch_s <= span.end_s - span.start_s:
            axes.text(
                (span.start_s + span.end_s) / 2,
                row,
                span.text,
                color=text,
                ha="center",
                va="center_baseline",
            )
