"""What a sweep of a trigger's rate found, as a picture."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING

from fxseq.advice import Break, Limit, RatePoint, TuneReport
from fxseq.advice.sweep import QUANTITIES
from fxseq.plots.sheet import (
    AXIS_IN,
    EDGE_IN,
    HEADING_IN,
    WIDTH_IN,
    axes_at,
    counted,
    dress,
    head,
    head_in,
    legend,
    limit_line,
    new_figure,
    width_in,
    write_beside,
)
from fxseq.plots.theme import THEMES, Theme, ThemeName, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_COLUMNS = 2
_PANEL_IN = 1.25
_LEFT_IN = 0.85
_NOTE_IN = 0.5
_KEY_IN = 0.35
_LANE_IN = 0.26
_LANE_NAMES_IN = 1.2
_LANE_NOTES_IN = 1.9


@dataclass(frozen=True)
class _Line:
    """One value of each rate, and the limits that it may break."""

    name: str
    value: Callable[[RatePoint], float | None]
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True)
class _Panel:
    """One quantity against the rate. least_span: the axis is at least this long. factor: from the
    unit of the points.

    always: shown even where no limit of it breaks.
    """

    heading: str
    unit: str
    lines: tuple[_Line, ...]
    least_span: float = 1.0
    from_zero: bool = True
    factor: float = 1.0
    always: bool = False

    def limit(self, report: TuneReport) -> float | None:
        """What the first of its lines with a limit is held against, in the unit of the panel."""
        held = [limit for line in self.lines for limit in line.limits if limit in report.limits]
        if not held:
            return None
        return self.factor * report.limits[held[0]]


def _line(name: str, limit: Limit) -> _Line:
    """The quantity that a limit is for."""
    return _Line(name, attrgetter(QUANTITIES[limit]), (limit,))


_PANELS = (
    _Panel(
        "Sound level at the hand",
        "dB(A) re 20 µPa",
        (
            _Line("LAFmax", attrgetter("lafmax_db"), (Limit.LOUDEST,)),
            _Line("LAeq", attrgetter("laeq_db")),
        ),
        10,
        from_zero=False,
        always=True,
    ),
    _Panel(
        "Level over the day, uncertainty added",
        "dB(A) over 8 h",
        (_line("day", Limit.DOSE),),
        10,
        from_zero=False,
    ),
    _Panel("Fall of lightness between shots", "depth, 0 to 1", (_line("light", Limit.LIGHT),)),
    _Panel("Fall of sound between shots", "dB", (_line("sound", Limit.SOUND),), 12),
    _Panel("Flashes in the worst second", "flashes / s", (_line("flashes", Limit.FLASHES),)),
    _Panel("Sounds cut for lack of a voice", "number of sounds", (_line("cut", Limit.VOICES),), 4),
    _Panel(
        "Clipped samples",
        "% of samples",
        (_line("amplifier", Limit.CLIPPING), _line("mix of the voices", Limit.SATURATION)),
        0.2,
        factor=100,
    ),
    _Panel(
        "Current",
        "mA",
        (_line("peak", Limit.CURRENT), _Line("mean", attrgetter("mean_ma"), (Limit.PART_HEAT,))),
        always=True,
    ),
    _Panel("Supply at its lowest", "V", (_line("rail", Limit.RAIL),), from_zero=False),
    _Panel("Heat of the hottest resistor", "W, mean", (_line("heat", Limit.RESISTOR_HEAT),), 0.1),
    _Panel(
        "Power of the speaker", "W, hottest second", (_line("power", Limit.SPEAKER_POWER),), 0.1
    ),
    _Panel("Cone travel", "mm from rest", (_line("cone", Limit.EXCURSION),), 0.1),
)


def tune_figure(report: TuneReport, theme: ThemeName = "light") -> "Figure":
    """Each limit that breaks and from which rate on; below, level, current and what breaks against
    the rate, the good range shaded.

    report: at least one point. A point that breaks a limit is crossed in the panel of that limit.
    Raises ValueError without a point.
    """
    if not report.points:
        raise ValueError("a sweep without a rate has nothing to draw")
    colours = THEMES[theme]
    with styled(colours):
        title = _title(report)
        remarks = _remarks(report)
        panels = _shown(report)
        rows = math.ceil(len(panels) / _COLUMNS)
        lanes_in = _lanes_in(report)
        figure = new_figure(
            head_in(title, remarks)
            + lanes_in
            + _KEY_IN
            + rows * (HEADING_IN + _PANEL_IN)
            + AXIS_IN
            + EDGE_IN
        )
        top_in = head(figure, title, remarks, colours)
        if report.breaks:
            _draw_lanes(figure, top_in, report, colours)
        top_in += lanes_in
        _key(figure, top_in, colours)
        top_in += _KEY_IN
        for place, panel in enumerate(panels):
            axes = _cell(figure, top_in, place)
            _draw(axes, panel, report, colours)
            if place + _COLUMNS >= len(panels):
                axes.set_xlabel("rate (shots / s)")
            else:
                axes.tick_params(labelbottom=False)
    return figure


def _shown(report: TuneReport) -> list[_Panel]:
    """Those that always tell something, and those with a limit that breaks; the numbers of all
    others are within limits, and in the table.
    """
    broken = {each.limit for each in report.breaks}
    return [
        panel
        for panel in _PANELS
        if panel.always or any(broken & {*line.limits} for line in panel.lines)
    ]


def _title(report: TuneReport) -> str:
    if report.fastest_per_s is None:
        return f"'{report.trigger}': no rate of the sweep keeps every limit"
    return f"'{report.trigger}' keeps every limit up to {_rate(report.fastest_per_s)}"


def _remarks(report: TuneReport) -> list[str]:
    now = f"The file has {_rate(report.present_rate_per_s)}."
    kept = ", ".join(limit.text for limit in report.kept)
    if not kept:
        return [now]
    return [f"{now} Kept up to {report.points[-1].rate_per_s:g} a second: {kept}."]


def _lanes_in(report: TuneReport) -> float:
    if not report.breaks:
        return 0.0
    return HEADING_IN + _LANE_IN * len(report.breaks) + AXIS_IN


def _draw_lanes(figure: "Figure", top_in: float, report: TuneReport, theme: Theme) -> None:
    """A lane for each limit that breaks: where it is kept, and from which rate on it is not."""
    top_in += HEADING_IN
    axes = axes_at(
        figure,
        _LEFT_IN + _LANE_NAMES_IN,
        top_in,
        WIDTH_IN - EDGE_IN - _LANE_NOTES_IN,
        top_in + _LANE_IN * len(report.breaks),
    )
    across = -(_LANE_NAMES_IN + _LEFT_IN - EDGE_IN) / width_in(axes)
    axes.set_title(
        "What breaks, and from which rate", loc="left", x=across, y=1.0, weight="bold", pad=6
    )
    _set_rates(axes, report)
    axes.set_ylim(len(report.breaks) - 0.5, -0.5)
    axes.set_yticks(
        range(len(report.breaks)),
        [f"{each.limit.text}, {each.limit.concerns}" for each in report.breaks],
    )
    axes.grid(False, axis="y")
    for lane, each in enumerate(report.breaks):
        _draw_lane(axes, lane, each, each.limit in report.despite, theme)
    axes.axvline(report.present_rate_per_s, color=theme.ink, linestyle=":", linewidth=1.2)
    axes.set_xlabel("rate (shots / s)")


def _draw_lane(axes: "Axes", lane: int, each: Break, decided: bool, theme: Theme) -> None:
    """Rates that keep a limit, and those that break it: an outline where that is decided."""
    face = theme.alarm
    ink = theme.alarm
    note = f"from {each.rate_per_s:g} a second"
    if decided:
        face = "none"
        ink = theme.ink
        note += ", decided"
    slowest, fastest = axes.get_xlim()
    kept = each.rate_per_s - slowest
    broken = fastest - each.rate_per_s
    axes.barh(lane, kept, left=slowest, height=0.55, color=theme.good, linewidth=0)
    axes.barh(
        lane,
        broken,
        left=each.rate_per_s,
        height=0.55,
        linewidth=1.0,
        edgecolor=theme.alarm,
        facecolor=face,
    )
    write_beside(axes, lane, note, ink)


def _rate(rate_per_s: float) -> str:
    return f"{counted(rate_per_s, 'shot')} a second"


def _cell(figure: "Figure", top_in: float, place: int) -> "Axes":
    row, column = divmod(place, _COLUMNS)
    across_in = (WIDTH_IN - EDGE_IN) / _COLUMNS
    below_in = top_in + row * (HEADING_IN + _PANEL_IN) + HEADING_IN
    return axes_at(
        figure,
        column * across_in + _LEFT_IN,
        below_in,
        (column + 1) * across_in - _NOTE_IN,
        below_in + _PANEL_IN,
    )


def _draw(axes: "Axes", panel: _Panel, report: TuneReport, theme: Theme) -> None:
    first = {each.limit for each in report.open_breaks[:1]}
    breaks_first = any(first & {*line.limits} for line in panel.lines)
    dress(
        axes,
        panel.heading + ": breaks first" * breaks_first,
        panel.unit,
        _LEFT_IN - EDGE_IN,
        theme.alarm if breaks_first else theme.ink,
    )
    styles = ((theme.first, "-"), (theme.second, "--"))
    drawn = [
        _draw_line(axes, line, panel.factor, report, *style, theme)
        for line, style in zip(panel.lines, styles, strict=False)
    ]
    values = [value for line in drawn for value in line]
    limit = panel.limit(report)
    _set_reach(axes, panel, values if limit is None else [*values, limit], report)
    _mark_rates(axes, report, theme)
    if limit is not None:
        limit_line(axes, limit, "limit", theme)
    if not values:
        axes.text(
            0.5,
            0.5,
            "nothing to measure",
            transform=axes.transAxes,
            ha="center",
            va="center",
            color=theme.quiet_ink,
        )
    elif len(panel.lines) > 1:
        legend(axes)


def _draw_line(
    axes: "Axes",
    line: _Line,
    factor: float,
    report: TuneReport,
    colour: str,
    dashes: str,
    theme: Theme,
) -> list[float]:
    """Draw it, cross where it breaks a limit, and return the values there are."""
    known = [
        (point.rate_per_s, factor * value, bool({*line.limits} & {*point.broken}))
        for point in report.points
        if (value := line.value(point)) is not None
    ]
    rates = [rate for rate, _, _ in known]
    values = [value for _, value, _ in known]
    axes.plot(
        rates, values, color=colour, linestyle=dashes, marker="o", markersize=3, label=line.name
    )
    crossed = [(rate, value) for rate, value, breaks in known if breaks]
    axes.plot(
        [rate for rate, _ in crossed],
        [value for _, value in crossed],
        "x",
        color=theme.alarm,
        markersize=6,
        markeredgewidth=1.5,
    )
    return values


def _set_reach(axes: "Axes", panel: _Panel, values: list[float], report: TuneReport) -> None:
    _set_rates(axes, report)
    top = max(values, default=0.0)
    low = 0.0
    below = 0.06
    if not panel.from_zero:
        low = min(values, default=0.0)
        below = 0.15
    span = max(top - low, panel.least_span)
    axes.set_ylim(low - below * span, low + 1.15 * span)


def _set_rates(axes: "Axes", report: TuneReport) -> None:
    rates = [report.present_rate_per_s, *(point.rate_per_s for point in report.points)]
    margin = 0.04 * (max(rates) - min(rates)) or 0.5
    axes.set_xlim(min(rates) - margin, max(rates) + margin)
    axes.locator_params(axis="x", nbins=8, steps=[1, 2, 5, 10])


def _mark_rates(axes: "Axes", report: TuneReport, theme: Theme) -> None:
    axes.axvline(
        report.present_rate_per_s, color=theme.ink, linestyle=":", linewidth=1.2, zorder=0.8
    )
    if report.fastest_per_s is not None:
        axes.axvspan(
            axes.get_xlim()[0], report.fastest_per_s, color=theme.good, linewidth=0, zorder=0
        )
        axes.axvline(report.fastest_per_s, color=theme.second, linewidth=1.2, zorder=0.8)


def _key(figure: "Figure", top_in: float, theme: Theme) -> None:
    """What the marks mean, in a line."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    axes = axes_at(figure, EDGE_IN, top_in, WIDTH_IN - EDGE_IN, top_in + _KEY_IN)
    axes.set_axis_off()
    axes.legend(
        handles=[
            Patch(color=theme.good, label="kept up to here"),
            Line2D(
                [],
                [],
                color=theme.second,
                linewidth=1.2,
                label="fastest rate that keeps every limit",
            ),
            Line2D([], [], color=theme.ink, linestyle=":", linewidth=1.2, label="rate in the file"),
            Line2D([], [], color=theme.alarm, linestyle=(0, (5, 2)), linewidth=1.2, label="limit"),
            Line2D(
                [],
                [],
                color=theme.alarm,
                linestyle="",
                marker="x",
                markersize=6,
                markeredgewidth=1.5,
                label="breaks the limit",
            ),
        ],
        loc="lower left",
        ncols=5,
        handlelength=2.4,
        columnspacing=2.4,
        borderpad=0,
        borderaxespad=0,
    )
