"""Sound as physics: samples to volts, volts to pressure, and both to the levels and loudness an ear
gets.

May import `sequence`. Pure functions of arrays and part models; nothing here opens a file or knows
the player. Two ideas: a signal is at hand as a whole, so every filter is an analogue transfer
function applied to the bins of a Fourier transform (`response`); a level of silence is -inf in
Python and None in a report.
"""

from fxseq.acoustics.air import (
    DENSITY_KG_PER_M3,
    SPEED_OF_SOUND_M_PER_S,
    VISCOSITY_PA_S,
    volume_compliance_m5_per_n,
)
from fxseq.acoustics.amplifier import (
    FULL_SCALE_SAMPLE,
    amplifier_heat_w,
    clipping_power_w,
    clipping_voltage_v,
    full_scale_thd_percent,
    full_scale_v,
    output_voltage_v,
    supply_current_a,
    voltage_gain,
)
from fxseq.acoustics.audible import heard_response
from fxseq.acoustics.output import hold_gain_db, quantisation_ratio_db, quantised
from fxseq.acoustics.decibels import REFERENCE_PRESSURE_PA, level_from_square_db, power_db
from fxseq.acoustics.driver import (
    SOLID_ANGLE_SR,
    Driver,
    Mount,
    Space,
    air_load_kg,
    driver_from,
    electrical_impedance,
    excursion_per_volt,
    pressure_per_volt,
    stiffening,
)
from fxseq.acoustics.air import short_circuit_db
from fxseq.acoustics.grille import Grille, front_load, hole_impedance
from fxseq.acoustics.levels import Level, LevelReport, level_report, level_uncertainty, levels_at
from fxseq.acoustics.loudness import (
    Loudness,
    gated_loudness,
    k_weighting_response,
    k_weighting_sections,
    loudness,
    loudness_range,
)
from fxseq.acoustics.masking import (
    CRITICAL_BANDS_HZ,
    error_loudness_sone,
    frame_s,
    loudness_sone,
    noise_loudness_sone,
    softer_db,
    spread_db,
    threshold_in_quiet_db,
)
from fxseq.acoustics.output import sine_power_w, swing_v
from fxseq.acoustics.parameters import (
    Contradiction,
    completed,
    contradictions,
    level_at_1_w_1_m_db,
    reference_efficiency,
    suspects,
)
from fxseq.acoustics.reach import HOLDS, Reach, reach
from fxseq.acoustics.response import Response, apply_responses
from fxseq.acoustics.speaker import (
    driver_of,
    excursion_response,
    flat_pa_per_v,
    inside_model,
    level_db_spl,
    lost_in_free_air_db,
    mount_of,
    mounted_resonance_hz,
    pressure_pa,
    sensitivity_uncertainty_db,
    settled_after_s,
    speaker_power_w,
    speaker_response,
    stated_quantities,
)
from fxseq.acoustics.true_peak import true_peak, true_peak_db
from fxseq.acoustics.uncertainty import (
    Uncertainty,
    change_of_level_db,
    distance_uncertainty_db,
    sampled_power,
)
from fxseq.acoustics.weighting import (
    FAST_S,
    SLOW_S,
    equivalent_level_db,
    level_over_time_db,
    maximum_levels_db,
    peak_level_db,
    weighted_pa,
    weighting_response,
)

__all__ = [
    "CRITICAL_BANDS_HZ",
    "Contradiction",
    "DENSITY_KG_PER_M3",
    "Driver",
    "FAST_S",
    "FULL_SCALE_SAMPLE",
    "Grille",
    "HOLDS",
    "Level",
    "LevelReport",
    "Loudness",
    "Mount",
    "REFERENCE_PRESSURE_PA",
    "Reach",
    "Response",
    "SLOW_S",
    "SOLID_ANGLE_SR",
    "SPEED_OF_SOUND_M_PER_S",
    "Space",
    "Uncertainty",
    "VISCOSITY_PA_S",
    "air_load_kg",
    "amplifier_heat_w",
    "apply_responses",
    "change_of_level_db",
    "clipping_power_w",
    "clipping_voltage_v",
    "completed",
    "contradictions",
    "distance_uncertainty_db",
    "driver_from",
    "driver_of",
    "electrical_impedance",
    "equivalent_level_db",
    "error_loudness_sone",
    "excursion_per_volt",
    "excursion_response",
    "flat_pa_per_v",
    "frame_s",
    "front_load",
    "full_scale_thd_percent",
    "full_scale_v",
    "gated_loudness",
    "heard_response",
    "hold_gain_db",
    "hole_impedance",
    "inside_model",
    "k_weighting_response",
    "k_weighting_sections",
    "level_at_1_w_1_m_db",
    "level_db_spl",
    "level_from_square_db",
    "level_over_time_db",
    "level_report",
    "level_uncertainty",
    "levels_at",
    "lost_in_free_air_db",
    "loudness",
    "loudness_range",
    "loudness_sone",
    "maximum_levels_db",
    "mount_of",
    "mounted_resonance_hz",
    "noise_loudness_sone",
    "output_voltage_v",
    "peak_level_db",
    "power_db",
    "pressure_pa",
    "pressure_per_volt",
    "quantisation_ratio_db",
    "quantised",
    "reach",
    "reference_efficiency",
    "sampled_power",
    "sensitivity_uncertainty_db",
    "settled_after_s",
    "short_circuit_db",
    "sine_power_w",
    "softer_db",
    "speaker_power_w",
    "speaker_response",
    "spread_db",
    "stated_quantities",
    "stiffening",
    "supply_current_a",
    "suspects",
    "swing_v",
    "threshold_in_quiet_db",
    "true_peak",
    "true_peak_db",
    "voltage_gain",
    "volume_compliance_m5_per_n",
    "weighted_pa",
    "weighting_response",
]
