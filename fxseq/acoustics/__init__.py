"""Sound as physics: samples to volts, volts to pressure, and both to the levels and loudness an ear gets.

May import `sequence`. Pure functions of arrays and part models; nothing here opens a file or knows the player. Two ideas: a signal is at
hand as a whole, so every filter is an analogue transfer function applied to the bins of a Fourier transform (`response`); a level of
silence is -inf in Python and None in a report.
"""
from fxseq.acoustics.amplifier import clipping_power_w, clipping_voltage_v, output_voltage_v, supply_current_a, voltage_gain
from fxseq.acoustics.decibels import REFERENCE_PRESSURE_PA, level_from_square_db, power_db
from fxseq.acoustics.levels import Level, LevelReport, clipping_findings, ear_findings, level_report, levels_at, speaker_findings
from fxseq.acoustics.loudness import Loudness, gated_loudness, k_weighting_response, k_weighting_sections, loudness
from fxseq.acoustics.response import Response, apply_responses
from fxseq.acoustics.speaker import (
    box_cutoff_hz, box_peak, box_response, inside_model, level_db_spl, power_from_voltage_w, pressure_pa, speaker_power_w, speaker_response,
)
from fxseq.acoustics.weighting import (
    FAST_S, SLOW_S, equivalent_level_db, level_over_time_db, maximum_level_db, peak_level_db, weighted_pa, weighting_db, weighting_response,
)

__all__ = [
    "FAST_S", "Level", "LevelReport", "Loudness", "REFERENCE_PRESSURE_PA", "Response", "SLOW_S", "apply_responses", "box_cutoff_hz",
    "box_peak", "box_response", "clipping_findings", "clipping_power_w", "clipping_voltage_v", "ear_findings", "equivalent_level_db",
    "gated_loudness", "inside_model", "k_weighting_response", "k_weighting_sections", "level_db_spl", "level_from_square_db",
    "level_over_time_db", "level_report", "levels_at", "loudness", "maximum_level_db", "output_voltage_v", "peak_level_db", "power_db",
    "power_from_voltage_w", "pressure_pa", "speaker_findings", "speaker_power_w", "speaker_response", "supply_current_a", "voltage_gain",
    "weighted_pa", "weighting_db", "weighting_response",
]
