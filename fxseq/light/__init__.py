"""Light as integers: fade shapes, flicker, gauges, and the step from perceived lightness to duty.

May import `sequence`. Everything here is exact integer arithmetic that an 8-bit chip can repeat,
except `lightness_from_luminance`, the published CIE relation in floating point, for physics and
figures.
"""

from fxseq.light.curves import (
    AMBIENT,
    FadeCurve,
    FadeSegment,
    Shape,
    approach,
    flicker_level,
    flicker_passes,
    flicker_point,
    pace_of,
    progress,
    segment_level,
)
from fxseq.light.duty import (
    FULL_LEVEL,
    duty_from_level,
    duty_table,
    gauge_levels,
    level_from_percent,
    lightness_from_luminance,
)

__all__ = [
    "AMBIENT",
    "FULL_LEVEL",
    "FadeCurve",
    "FadeSegment",
    "Shape",
    "approach",
    "duty_from_level",
    "duty_table",
    "flicker_level",
    "flicker_passes",
    "flicker_point",
    "gauge_levels",
    "level_from_percent",
    "lightness_from_luminance",
    "pace_of",
    "progress",
    "segment_level",
]
