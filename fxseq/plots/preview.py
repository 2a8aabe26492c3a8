"""The preview as a picture: what the hand does, what the prop does, and what it takes."""

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import (
    FAST_S,
    clipping_voltage_v,
    full_scale_v,
    level_over_time_db,
    weighted_pa,
)
from fxseq.light import lightness_from_luminance
from fxseq.plots.columns import Columns, columns_of_samples, columns_of_steps
from fxseq.plots.presses import LANE_IN, draw_presses, press_lanes
from fxseq.plots.sheet import Row, counted, legend, limit_line, sheet
from fxseq.plots.theme import THEMES, Theme, ThemeName, lamp_rgb, outline_rgb, styled
from fxseq.power import Steps, most_ma
from fxseq.runs import Performance
from fxseq.sequence.quantities import amount, fixed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_ROW_IN = 1.15
_LIGHT_IN = 0.42
_LANE_SHARE = 0.82
_LEVEL_RANGE_DB = 50.0
_FULL_SCALE = 32768
_FAR = 4.0
"""A limit that many times over the highest current is left out of the picture, which would be
flat with it.
"""


def preview_figure(performance: Performance, theme: ThemeName = "light") -> "Figure":
    """A run of a prop over one time axis: presses, the board's samples, level at the hand, light of
    each group, current.

    What the sequence does not have is left out; a level that cannot be known is said to be missing
    under the title. Signals are drawn by their least and greatest value in each column of dots, so
    that no peak is lost however long the run is.
    """
    colours = THEMES[theme]
    makers = (_press_rows, _sound_rows, _light_rows, _current_rows)
    with styled(colours):
        rows = [row for maker in makers for row in maker(performance, colours)]
        return sheet(
            f"{performance.prop.sequence.title}: preview",
            [_remark(performance)],
            rows,
            performance.duration_s,
            colours,
        )


def _remark(performance: Performance) -> str:
    parts = [amount(performance.duration_s, "s", 4), counted(len(performance.shots), "shot")]
    if performance.supply:
        name, supply = performance.supply
        parts.append(
            f"supply '{name}', {amount(performance.load.fresh_v, 'V')} fresh, at most"
            f" {most_ma(supply):g} mA"
        )
    missing = [word for word, part in _needed_for_level(performance).items() if not part]
    if performance.prop.compiled.table.clips and missing:
        parts.append(f"no level at the hand, as the file does not describe: {', '.join(missing)}")
    return ", ".join(parts)


def _needed_for_level(performance: Performance) -> dict[str, object]:
    sequence = performance.prop.sequence
    return {
        "amplifier": sequence.amplifier,
        "speaker": sequence.speaker,
        "supply": performance.supply,
    }


def _press_rows(performance: Performance, theme: Theme) -> list[Row]:
    lanes = press_lanes(performance)
    if not lanes:
        return []
    names = [lane.name for lane in lanes]
    notes = [lane.note for lane in lanes]
    return [
        Row(
            "Presses and shots",
            None,
            len(lanes) * LANE_IN,
            lambda axes: draw_presses(axes, lanes, theme),
            names,
            notes,
        )
    ]


def _sound_rows(performance: Performance, theme: Theme) -> list[Row]:
    if not performance.prop.compiled.table.clips:
        return []
    rows = [
        Row(
            _samples_heading(performance),
            "% of full scale",
            _ROW_IN,
            lambda axes: _draw_samples(axes, performance, theme),
        )
    ]
    heard = performance.heard.pressure_pa(performance.prop.sequence.listening.hand_m)
    if heard is not None and performance.heard.levels:
        distance_m = performance.prop.sequence.listening.hand_m
        spread_db = performance.heard.levels.uncertainty_db
        level_db, interval_s = level_over_time_db(
            weighted_pa(heard, performance.rate_hz, "A"), performance.rate_hz, FAST_S
        )
        rows.append(
            Row(
                _level_heading(distance_m, float(level_db.max()), spread_db),
                "dB(A) re 20 µPa",
                _ROW_IN,
                lambda axes: _draw_level(axes, level_db, 1 / interval_s, spread_db, theme),
            )
        )
    return rows


def _samples_heading(performance: Performance) -> str:
    peak = int(np.abs(performance.played.samples.astype(np.int32)).max())
    highest = "silence"
    if peak:
        peak_dbfs = fixed(20 * math.log10(peak / _FULL_SCALE), 1)
        highest = f"peak {peak_dbfs} dBFS".replace("-", "\N{MINUS SIGN}")
    if performance.heard.levels is None:
        return f"Sound: samples of the board, {highest}"
    share = performance.heard.levels.clipped_share
    clips = "does not clip"
    if share:
        clips = f"clips at {amount(100 * share, '%', 2)} of them"
    return f"Sound: samples of the board, {highest}; the amplifier {clips}"


def _level_heading(distance_m: float, most_db: float, spread_db: float) -> str:
    most = "silence"
    if math.isfinite(most_db):
        most = f"highest {fixed(most_db, 1)} dB(A), band ±{spread_db:.0f} dB"
    return f"Sound level at the hand ({distance_m:g} m), A-weighted, fast: {most}"


def _light_rows(performance: Performance, theme: Theme) -> list[Row]:
    groups = performance.light.steps
    if not groups:
        return []
    heading = (
        "Light of each group: lightness L*, from 0 (dark) to 100 (all of the group at full duty)"
    )
    parts = performance.prop.sequence.groups
    notes = [
        counted(parts[name].leds, f"{parts[name].colour.replace('_', ' ')} LED") for name in groups
    ]
    height_in = max(len(groups) * _LIGHT_IN, 1.0)
    return [
        Row(
            heading,
            "L* (0 to 100)",
            height_in,
            lambda axes: _draw_light(axes, performance, theme),
            list(groups),
            notes,
        )
    ]


def _current_rows(performance: Performance, theme: Theme) -> list[Row]:
    heading = (
        f"Current: mean {performance.load.draw.mean_ma:.0f} mA, peak"
        f" {performance.load.draw.peak_ma:.0f} mA"
    )
    return [Row(heading, "mA", _ROW_IN, lambda axes: _draw_current(axes, performance, theme))]


def _fill(axes: "Axes", columns: Columns, colour: str, alpha: float = 1.0) -> None:
    """From the least to the greatest value of each column; where they are the same, a line."""
    low, high = (np.append(values, values[-1]) for values in (columns.low, columns.high))
    axes.fill_between(
        columns.edges_s, low, high, step="post", color=colour, linewidth=0.9, alpha=alpha
    )


def _draw_samples(axes: "Axes", performance: Performance, theme: Theme) -> None:
    samples = performance.played.samples
    columns = columns_of_samples(samples, performance.rate_hz)
    share = Columns(
        columns.edges_s, columns.low * (100 / _FULL_SCALE), columns.high * (100 / _FULL_SCALE)
    )
    _fill(axes, share, theme.first)
    axes.set_ylim(-118, 118)
    axes.set_yticks([-100, -50, 0, 50, 100])
    limit = _clipping_share(performance) * 100
    if limit < 100:
        for side in (limit, -limit):
            limit_line(axes, side, "clips", theme)
        _mark_clipping(axes, share, limit, theme)


def _clipping_share(performance: Performance) -> float:
    """Sample from which the amplifier clips where the supply is lowest, over full scale;
    infinite where that is not known.
    """
    amplifier = performance.prop.sequence.amplifier
    if amplifier is None or performance.supply is None:
        return math.inf
    speaker = performance.prop.sequence.speaker
    clips_at_v = clipping_voltage_v(
        amplifier, performance.heard.supply_v.min(), speaker.impedance_ohm if speaker else math.inf
    )
    return float(clips_at_v) / full_scale_v(amplifier)


def _mark_clipping(axes: "Axes", share: Columns, limit: float, theme: Theme) -> None:
    clipped = np.maximum(share.high, -share.low) > limit
    starts_s = share.edges_s[:-1][clipped]
    axes.plot(
        starts_s,
        np.full(starts_s.shape, 110.0),
        "|",
        color=theme.alarm,
        markersize=6,
        label="_clipping",
    )


def _draw_level(
    axes: "Axes", level_db: NDArray[np.float64], values_per_s: float, spread_db: float, theme: Theme
) -> None:
    most_db = float(level_db.max())
    if not math.isfinite(most_db):
        axes.set_ylim(0, _LEVEL_RANGE_DB)
        axes.text(
            axes.get_xlim()[1] / 2,
            _LEVEL_RANGE_DB / 2,
            "silence",
            ha="center",
            va="center",
            color=theme.quiet_ink,
        )
        return
    floor_db = 10 * math.floor((most_db - _LEVEL_RANGE_DB) / 10)
    columns = columns_of_samples(np.maximum(level_db, floor_db - 3 * spread_db - 10), values_per_s)
    _fill(
        axes,
        Columns(columns.edges_s, columns.low - spread_db, columns.high + spread_db),
        theme.first,
        alpha=0.25,
    )
    _fill(axes, columns, theme.first)
    axes.set_ylim(floor_db, most_db + spread_db + 3)


def _draw_light(axes: "Axes", performance: Performance, theme: Theme) -> None:
    """One lane a group: filled up to the least lightness of each column, paler up to the
    greatest.
    """
    groups = performance.prop.sequence.groups
    for row, (name, lit) in enumerate(performance.light.steps.items()):
        columns = columns_of_steps(
            Steps(
                lit.times_s, lightness_from_luminance(lit.values) * (_LANE_SHARE / 100), lit.end_s
            )
        )
        floor = -row - _LANE_SHARE / 2
        low, high = (
            np.append(values, values[-1]) + floor for values in (columns.low, columns.high)
        )
        colour = groups[name].colour
        axes.axhspan(floor, floor + _LANE_SHARE, color=theme.lane, linewidth=0)
        axes.fill_between(
            columns.edges_s,
            floor,
            high,
            step="post",
            facecolor=lamp_rgb(colour),
            alpha=0.4,
            linewidth=0,
        )
        axes.fill_between(
            columns.edges_s, floor, low, step="post", facecolor=lamp_rgb(colour), linewidth=0
        )
        axes.step(
            columns.edges_s,
            high,
            where="post",
            color=outline_rgb(colour, theme),
            linewidth=0.7,
            label=name,
        )
    axes.set_ylim(-len(groups) + 0.5, 0.5)
    axes.set_yticks([-row for row in range(len(groups))], list(groups))
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=False, axis="y")


def _draw_current(axes: "Axes", performance: Performance, theme: Theme) -> None:
    """What amplifier and board take stands on top of what the light takes, each by its greatest
    value in a column.
    """
    columns = columns_of_steps(performance.load.current_ma)
    highest_ma = float(columns.high.max())
    if performance.heard.volts is not None:
        parts = "amplifier"
        if performance.prop.sequence.board.current_ma:
            parts += " and board"
        if performance.light.steps:
            parts += ", on top"
        _stand(axes, columns, theme.second, parts)
    if performance.light.steps:
        # At the supply's voltage with nothing on: never more than what all take at the voltage that
        # is left.
        light = columns_of_steps(performance.load.light_ma)
        _stand(
            axes, replace(light, high=np.minimum(light.high, columns.high)), theme.first, "light"
        )
    axes.step(
        columns.edges_s,
        np.append(columns.high, columns.high[-1]),
        where="post",
        color=theme.ink,
        linewidth=0.6,
        label="together",
    )
    legend(axes)
    limit_ma = math.inf
    if performance.supply:
        limit_ma = most_ma(performance.supply[1])
    if limit_ma < _FAR * highest_ma:
        limit_line(axes, limit_ma, "supply's limit", theme)
        highest_ma = max(highest_ma, limit_ma)
    axes.set_ylim(0, highest_ma * 1.08 or 1.0)


def _stand(axes: "Axes", columns: Columns, colour: str, label: str) -> None:
    axes.fill_between(
        columns.edges_s,
        np.append(columns.high, columns.high[-1]),
        step="post",
        color=colour,
        linewidth=0,
        label=label,
    )
