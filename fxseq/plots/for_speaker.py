"""A clip as it is and as it is recommended for its speaker: voltage against the rail, the cone's
excursion against its limit, what is heard.
"""

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import (
    REFERENCE_PRESSURE_PA,
    apply_responses,
    converted,
    excursion_response,
    output_voltage_v,
    pressure_pa,
    settled_after_s,
)
from fxseq.advice import Alone, Recommendation, Rig
from fxseq.plots.clips import BANDS_HZ, dress_bands, third_octaves_db
from fxseq.plots.columns import columns_of_samples
from fxseq.plots.sheet import Part, dress, legend, limit_line, stacked
from fxseq.plots.theme import THEMES, Theme, ThemeName, styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Wave = NDArray[np.float32]

_WAVE_IN = 1.5
_SPECTRUM_IN = 2.4
_LEFT_IN = 0.75
_RIGHT_IN = 0.95
_RANGE_DB = 60
_FAR = 3.0
"""A limit that many times over the signals is left out of the picture, which would be flat with
it.
"""


def for_speaker_figure(found: Recommendation, rig: Rig, theme: ThemeName = "light") -> "Figure":
    """Voltage, excursion of the cone and third-octave levels at the hand, before and after."""
    colours = THEMES[theme]
    volts = [_volts(alone, rig) for alone in (found.before, found.after)]
    parts = [
        Part(_WAVE_IN, False, partial(_draw_volts, volts=volts, rig=rig, theme=colours)),
        Part(_WAVE_IN, True, partial(_draw_way, volts=volts, rig=rig, theme=colours)),
        Part(_SPECTRUM_IN, True, partial(_draw_heard, volts=volts, rig=rig, theme=colours)),
    ]
    with styled(colours):
        title = f"Clip '{found.before.prepared.name}' as it is, and as loud as the speaker can be"
        return stacked(title, [found.text], parts, _LEFT_IN, _RIGHT_IN, colours)


def _volts(alone: Alone, rig: Rig) -> Wave:
    return output_voltage_v(
        converted(alone.samples, rig.sequence.board),
        rig.amplifier,
        rig.supply_v,
        rig.speaker.impedance_ohm,
    )[0]


def _draw_waves(
    axes: "Axes", waves: list[Wave], rate_hz: int, limit: float | None, name: str, theme: Theme
) -> None:
    """One over the other, each to be seen through the other, and the limit on both sides."""
    for wave, colour, label in zip(
        waves, (theme.ink, theme.first), ("before", "after"), strict=True
    ):
        columns = columns_of_samples(wave, rate_hz)
        low, high = (np.append(values, values[-1]) for values in (columns.low, columns.high))
        axes.fill_between(
            columns.edges_s,
            low,
            high,
            step="post",
            color=colour,
            alpha=0.6,
            linewidth=0.9,
            label=label,
        )
    highest = max(float(np.abs(wave).max()) for wave in waves)
    axes.set_xlim(0, max(wave.size for wave in waves) / rate_hz)
    if limit is not None and limit < _FAR * highest:
        highest = max(highest, limit)
        for side, text in ((1, name), (-1, "")):
            limit_line(axes, side * limit, text, theme)
    axes.set_ylim(-1.15 * highest, 1.15 * highest)
    legend(axes)


def _draw_volts(axes: "Axes", volts: list[Wave], rig: Rig, theme: Theme) -> None:
    dress(
        axes,
        f"Voltage at the speaker; the amplifier clips at {rig.rail_v:.1f} V",
        "V",
        _LEFT_IN - 0.15,
        theme.ink,
    )
    _draw_waves(axes, volts, rig.sequence.board.sample_rate_hz, rig.rail_v, "rail", theme)
    axes.tick_params(labelbottom=False)


def _draw_way(axes: "Axes", volts: list[Wave], rig: Rig, theme: Theme) -> None:
    rate_hz = rig.sequence.board.sample_rate_hz
    limit_mm = rig.speaker.excursion_mm
    may = "no limit in the file" if limit_mm is None else f"limit {limit_mm:g} mm"
    dress(axes, f"Cone travel from rest; {may}", "mm", _LEFT_IN - 0.15, theme.ink)
    respond = excursion_response(rig.speaker)
    settling_s = settled_after_s(rig.speaker)
    ways_mm = [1000 * apply_responses(wave, rate_hz, [respond], settling_s)[0] for wave in volts]
    _draw_waves(axes, ways_mm, rate_hz, limit_mm, "excursion_mm", theme)
    axes.set_xlabel("time (s)")


def _draw_heard(axes: "Axes", volts: list[Wave], rig: Rig, theme: Theme) -> None:
    rate_hz = rig.sequence.board.sample_rate_hz
    listening = rig.sequence.listening
    dress(
        axes,
        f"Third-octave levels {100 * listening.hand_m:g} cm away",
        "dB re 20 µPa",
        _LEFT_IN - 0.15,
        theme.ink,
    )
    heard = [
        pressure_pa(wave, rate_hz, rig.speaker, listening.hand_m, listening.space)
        / REFERENCE_PRESSURE_PA
        for wave in volts
    ]
    levels_db = [third_octaves_db(pressure, rate_hz) for pressure in heard]
    axes.plot(BANDS_HZ, levels_db[0], color=theme.quiet_ink, linestyle="--", label="before")
    axes.plot(BANDS_HZ, levels_db[1], color=theme.first, marker="o", markersize=3, label="after")
    dress_bands(axes)
    top_db = 10 * np.ceil((float(np.nanmax(levels_db)) + 3) / 10)
    axes.set_ylim(top_db - _RANGE_DB, top_db)
    legend(axes)
