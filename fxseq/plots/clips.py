"""A clip before and after, as a picture: its wave and its spectrum."""

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import power_db, speaker_response
from fxseq.plots.columns import columns_of_samples
from fxseq.plots.sheet import Part, dress, legend, limit_line, stacked
from fxseq.plots.theme import THEMES, Theme, ThemeName, styled
from fxseq.runs import Conditioned
from fxseq.runs.conditioning import TURNS
from fxseq.sequence.model import Speaker

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_WAVE_IN = 1.25
_SPECTRUM_IN = 2.4
_LEFT_IN = 0.75
_RIGHT_IN = 0.85
_RANGE_DB = 70
BANDS_HZ = 1000 * 10 ** (np.arange(-17, 14) / 10)
"""Middles of the third-octave bands from 20 Hz to 20 kHz (IEC 61260-1, base ten)."""
_HALF_BAND = 10**0.05
_SPEAKER_DOWN_DB = 10
"""A speaker's range is taken to end so far below its most, as the effective frequency range of
IEC 60268-5 does (from memory).
"""


def clip_figure(
    conditioned: Conditioned, speaker: Speaker | None, theme: ThemeName = "light"
) -> "Figure":
    """Waves of the recording and of what the board plays over one time, and the third-octave
    spectra of both.
    """
    colours = THEMES[theme]
    with styled(colours):
        title = f"Clip '{conditioned.prepared.name}', before and after"
        remarks = _remarks(conditioned)
        parts = [
            Part(
                height_in,
                with_axis,
                partial(draw, conditioned=conditioned, speaker=speaker, theme=colours),
            )
            for draw, height_in, with_axis in (
                (_draw_before, _WAVE_IN, False),
                (_draw_after, _WAVE_IN, True),
                (_draw_spectra, _SPECTRUM_IN, True),
            )
        ]
        return stacked(title, remarks, parts, _LEFT_IN, _RIGHT_IN, colours)


def third_octaves_db(samples: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """Mean square in each of BANDS_HZ, 1 for a square wave at full scale; shape (31,), NaN where
    a band reaches beyond half the rate. [dB]
    """
    from scipy.fft import next_fast_len, rfft, rfftfreq

    # A second or more, so that even the narrowest band has a few lines.
    size = next_fast_len(max(len(samples), int(rate_hz)), real=True)
    power = 2 * np.abs(rfft(samples, size)) ** 2 / (size * len(samples))
    edges = np.searchsorted(
        rfftfreq(size, 1 / rate_hz), np.stack([BANDS_HZ / _HALF_BAND, BANDS_HZ * _HALF_BAND])
    )
    together = np.concatenate([[0.0], np.cumsum(power)])
    levels = power_db(np.maximum(together[edges[1]] - together[edges[0]], 1e-20))
    return np.where(BANDS_HZ * _HALF_BAND <= rate_hz / 2, levels, np.nan)


def _remarks(conditioned: Conditioned) -> list[str]:
    prepared = conditioned.prepared
    size = f"{prepared.coding} at {prepared.rate_hz:.0f} Hz, {len(prepared.data)} bytes"
    lasts = (
        f"{conditioned.before.duration_ms:.0f} ms before, {conditioned.after.duration_ms:.0f} ms"
        " after"
    )
    return ["; ".join([lasts, size, *conditioned.text]) + "."]


def _end_s(conditioned: Conditioned) -> float:
    return max(
        conditioned.before.duration_ms / 1000, len(conditioned.played) / conditioned.board_rate_hz
    )


def _draw_wave(
    axes: "Axes", samples: NDArray[np.float64], rate_hz: float, from_s: float, colour: str
) -> None:
    columns = columns_of_samples(100 * samples, rate_hz)
    low, high = (np.append(values, values[-1]) for values in (columns.low, columns.high))
    axes.fill_between(columns.edges_s + from_s, low, high, step="post", color=colour, linewidth=0.9)
    axes.set_ylim(-118, 118)
    axes.set_yticks([-100, -50, 0, 50, 100])


def _draw_before(
    axes: "Axes", conditioned: Conditioned, speaker: Speaker | None, theme: Theme
) -> None:
    before = conditioned.before
    end_s = _end_s(conditioned)
    trimmed = any(conditioned.prepared.conditioning.trimmed_ms)
    dress(
        axes,
        "Before: the recording as read and cut" + "; shaded: trimmed" * trimmed,
        "% of full scale",
        _LEFT_IN - 0.15,
        theme.ink,
    )
    _draw_wave(axes, before.samples, before.rate_hz, 0.0, theme.quiet_ink)
    axes.set_xlim(0, end_s)
    axes.tick_params(labelbottom=False)
    first_ms, last_ms = conditioned.prepared.conditioning.trimmed_ms
    for start_ms, stop_ms in ((0.0, first_ms), (before.duration_ms - last_ms, before.duration_ms)):
        if stop_ms > start_ms:
            axes.axvspan(
                start_ms / 1000, stop_ms / 1000, color=theme.alarm, alpha=0.25, linewidth=0
            )


def _draw_after(
    axes: "Axes", conditioned: Conditioned, speaker: Speaker | None, theme: Theme
) -> None:
    """From the time at which what it begins with is in the recording."""
    from_s = conditioned.prepared.conditioning.trimmed_ms[0] / 1000
    turns = "; dotted: start and end of the loop" if conditioned.prepared.loop else ""
    dress(
        axes, f"After: as the board plays it{turns}", "% of full scale", _LEFT_IN - 0.15, theme.ink
    )
    _draw_wave(axes, conditioned.played, conditioned.board_rate_hz, from_s, theme.first)
    axes.set_xlim(0, _end_s(conditioned))
    axes.set_xlabel("time (s)")
    if conditioned.prepared.loop:
        start, end = conditioned.prepared.loop
        for turn in range(TURNS + 1):
            axes.axvline(
                from_s + (start + turn * (end - start)) / conditioned.prepared.rate_hz,
                color=theme.ink,
                linestyle=":",
                linewidth=1.4,
            )
    if conditioned.clip.limit_to_dbfs is not None:
        for side, name in ((1, "limiter"), (-1, "")):
            limit_line(axes, side * 100 * 10 ** (conditioned.clip.limit_to_dbfs / 20), name, theme)


def _draw_spectra(
    axes: "Axes", conditioned: Conditioned, speaker: Speaker | None, theme: Theme
) -> None:
    shaded = ""
    if speaker is not None:
        shaded = f"; shaded: where the speaker is within {_SPEAKER_DOWN_DB} dB of its peak"
    dress(axes, f"Third-octave spectrum{shaded}", "dBFS", _LEFT_IN - 0.15, theme.ink)
    before = third_octaves_db(conditioned.before.samples, conditioned.before.rate_hz)
    after = third_octaves_db(conditioned.played, conditioned.board_rate_hz)
    axes.plot(BANDS_HZ, before, color=theme.quiet_ink, linestyle="--", label="before")
    axes.plot(BANDS_HZ, after, color=theme.first, marker="o", markersize=3, label="after")
    dress_bands(axes)
    top_db = max(10 * np.ceil((float(np.nanmax([before, after])) + 3) / 10), -20.0)
    axes.set_ylim(top_db - _RANGE_DB, top_db)
    _shade(axes, speaker, theme)
    legend(axes)


def dress_bands(axes: "Axes") -> None:
    """The axis of third-octave bands."""
    from matplotlib.ticker import FuncFormatter, NullFormatter

    axes.set_xscale("log")
    axes.set_xlim(18, 22_000)
    axes.set_xticks([20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000])
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("frequency (Hz)")


def _shade(axes: "Axes", speaker: Speaker | None, theme: Theme) -> None:
    """Where the speaker gives something."""
    if speaker is None:
        return
    frequencies_hz = np.geomspace(18, 22_000, 1000)
    gain = np.abs(speaker_response(speaker, 1.0)(frequencies_hz))
    gives = gain >= gain.max() * 10 ** (-_SPEAKER_DOWN_DB / 20)
    axes.fill_between(
        frequencies_hz,
        0,
        1,
        where=gives,
        transform=axes.get_xaxis_transform(),
        color=theme.good,
        linewidth=0,
        zorder=0,
    )
