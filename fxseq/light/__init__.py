"""Light as integers: fade shapes, flicker, gauges, and the step from perceived lightness to duty.

May import `sequence`. Everything here is exact integer arithmetic that an 8-bit chip can repeat,
except `lightness`, which holds the published CIE relations in floating point for physics and for
checks.
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
)
from fxseq.light.lightness import lightness_from_luminance, luminance_from_lightness

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
    "luminance_from_lightness",
    "pace_of",
    "progress",
    "segment_level",
]
