"""What light, sound and parts may do to people: flashes, flicker and exposure held against
published limits, and cautions.

May import `sequence`. Pure functions of change points, levels and part models. First warnings for
the maker, no proof of safety.
"""

from fxseq.hazards.report import (
    FlashReport,
    Flashes,
    brightness_weight,
    flash_report,
    led_area_m2,
    solid_angle_sr,
)
from fxseq.hazards.channels import Channels, Transitions
from fxseq.hazards.colours import COLOUR_RGB, chromaticity_uv, led_rgb, red_share, spectral_xyz
from fxseq.hazards.extended import LongSequence, longest_sequence
from fxseq.hazards.flashes import (
    FlashCount,
    flash_rate_limit_hz,
    general_transitions,
    red_transitions,
    worst_second,
)
from fxseq.hazards.flicker import low_risk_percent, no_effect_percent
from fxseq.hazards.hearing import (
    Exposure,
    daily_exposure_level_dba,
    level_at_db,
    niosh_dose_percent,
    niosh_time_min,
)

__all__ = [
    "COLOUR_RGB",
    "Channels",
    "Exposure",
    "FlashCount",
    "FlashReport",
    "Flashes",
    "LongSequence",
    "Transitions",
    "brightness_weight",
    "chromaticity_uv",
    "daily_exposure_level_dba",
    "flash_rate_limit_hz",
    "flash_report",
    "general_transitions",
    "led_area_m2",
    "led_rgb",
    "level_at_db",
    "longest_sequence",
    "low_risk_percent",
    "niosh_dose_percent",
    "niosh_time_min",
    "no_effect_percent",
    "red_share",
    "red_transitions",
    "solid_angle_sr",
    "spectral_xyz",
    "worst_second",
]
