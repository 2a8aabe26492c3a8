"""What light may do to people: flashes counted against published limits.

May import `sequence`. Pure functions of change points and part models. A first warning for the maker, no proof of safety.
"""
from fxseq.hazards.colours import COLOUR_RGB, chromaticity_uv, red_share
from fxseq.hazards.flashes import (
    FlashCount, count_general_flashes, count_red_flashes, flash_rate_limit_hz, general_transitions, red_transitions, small_area_m2,
    worst_second,
)
from fxseq.hazards.report import Flashes, FlashReport, brightness_weight, flash_findings, flash_report

__all__ = [
    "COLOUR_RGB", "FlashCount", "FlashReport", "Flashes", "brightness_weight", "chromaticity_uv", "count_general_flashes",
    "count_red_flashes", "flash_findings", "flash_rate_limit_hz", "flash_report", "general_transitions", "red_share", "red_transitions",
    "small_area_m2", "worst_second",
]
