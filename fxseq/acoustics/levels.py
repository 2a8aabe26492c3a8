"""What a preview sounds like: levels at the ears, loudness of the board's signal, and what amplifier and speaker make of it."""
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.amplifier import FULL_SCALE_SAMPLE, output_voltage_v
from fxseq.acoustics.decibels import known, mean_square, power_db
from fxseq.acoustics.loudness import loudness
from fxseq.acoustics.response import Response, apply_responses
from fxseq.acoustics.speaker import box_settling_s, inside_model, speaker_power_w, speaker_response
from fxseq.acoustics.weighting import (
    FAST_S, WEIGHTING_SETTLING_S, Curve, equivalent_level_db, maximum_level_db, peak_level_db, weighting_response,
)
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.model import Amplifier, Speaker

CAUTION_LEVEL_DBA = 85.0
"""Recommended exposure limit for an eight-hour day (NIOSH; formula and table seen in two transcriptions). [dB(A)]"""

_REFERENCE_DISTANCE_M = 1.0
_HEATING_S = 1.0


@dataclass(frozen=True)
class Level:
    """Levels at one place, free field, on axis; -inf for silence. [dB re 20 uPa]

    inside_model: False closer than 5 cm, where the figures are a guess.
    """

    distance_m: float
    laeq_db: float
    lafmax_db: float
    lcpeak_db: float
    inside_model: bool

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; silence is None."""
        return {**asdict(self), **{key: known(getattr(self, key)) for key in ("laeq_db", "lafmax_db", "lcpeak_db")}}


@dataclass(frozen=True)
class LevelReport:
    """How loud a preview is, and what that asks of amplifier and speaker.

    at: levels by the name of the place, such as `hand`.
    uncertainty_db: every level may be off by this much either way: the spread of the speaker's sensitivity, all that is known about it.
    momentary_max_lufs: largest loudness over 0.4 s of the board's signal, as one channel, full scale 1; a shorter sound counts as followed
    by silence. integrated_lufs: gated, -inf for less than 0.4 s.
    clipped_share: share of samples at which the amplifier clips, 0..1.
    speaker_mean_power_w over all of it, speaker_highest_power_w over the hottest second, speaker_peak_power_w at the highest sample.
    """

    at: dict[str, Level]
    uncertainty_db: float
    momentary_max_lufs: float
    integrated_lufs: float
    clipped_share: float
    speaker_mean_power_w: float
    speaker_highest_power_w: float
    speaker_peak_power_w: float

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; levels of silence are None."""
        return {
            **asdict(self),
            "at": {name: level.as_dict() for name, level in self.at.items()},
            "momentary_max_lufs": known(self.momentary_max_lufs),
            "integrated_lufs": known(self.integrated_lufs),
        }


def _weighted_speaker(speaker: Speaker, curve: Curve) -> Response:
    at_one_metre = speaker_response(speaker, _REFERENCE_DISTANCE_M)
    return lambda frequencies_hz: at_one_metre(frequencies_hz) * weighting_response(frequencies_hz, curve)


def levels_at(volts: NDArray[np.floating], rate_hz: float, speaker: Speaker, distances_m: Mapping[str, float]) -> dict[str, Level]:
    """Levels at several places from the voltage at the speaker, shape (n,): one calculation, moved by 20 lg of the distance."""
    settling_s = box_settling_s(speaker) + WEIGHTING_SETTLING_S
    responses = [_weighted_speaker(speaker, "A"), _weighted_speaker(speaker, "C")]
    a_weighted, c_weighted = apply_responses(volts, rate_hz, responses, settling_s)
    laeq_db = equivalent_level_db(a_weighted)
    lafmax_db = maximum_level_db(a_weighted, rate_hz, FAST_S)
    lcpeak_db = peak_level_db(c_weighted)

    def moved_to(distance_m: float) -> Level:
        change = -float(power_db((distance_m / _REFERENCE_DISTANCE_M) ** 2))
        return Level(distance_m, laeq_db + change, lafmax_db + change, lcpeak_db + change, inside_model(distance_m))

    return {name: moved_to(distance_m) for name, distance_m in distances_m.items()}


def level_report(
    samples: NDArray[np.int16], rate_hz: int, amplifier: Amplifier, speaker: Speaker, distances_m: Mapping[str, float], supply_v: float,
) -> LevelReport:
    """Levels, loudness and power of the board's output at one supply voltage.

    samples: shape (n,). distances_m: place to distance from the speaker, each > 0. supply_v: at the amplifier, taken as constant. [V]
    """
    volts, clipped_share = output_voltage_v(samples, amplifier, supply_v)
    heard = loudness(samples * np.float32(1 / FULL_SCALE_SAMPLE), rate_hz)
    second_w = speaker_power_w(volts, speaker, math.ceil(rate_hz * _HEATING_S))
    peak_v = float(np.abs(volts).max(initial=0.0))
    return LevelReport(
        at=levels_at(volts, rate_hz, speaker, distances_m),
        uncertainty_db=speaker.sensitivity_spread_db,
        momentary_max_lufs=heard.padded_momentary_max,
        integrated_lufs=heard.integrated,
        clipped_share=clipped_share,
        speaker_mean_power_w=mean_square(volts) / speaker.impedance_ohm,
        speaker_highest_power_w=float(second_w.max(initial=0.0)),
        speaker_peak_power_w=peak_v**2 / speaker.impedance_ohm,
    )


def ear_findings(report: LevelReport) -> tuple[Finding, ...]:
    """A first hint for hearing: each place whose level, uncertainty added, exceeds the caution level while the preview plays."""
    return tuple(
        Finding(
            check="sound.ear",
            weight=Weight.WARNING,
            subject=f"level at {name} ({level.distance_m:g} m)",
            figure=f"{level.laeq_db:.1f} ±{report.uncertainty_db:g} dB(A) over the preview, highest {level.lafmax_db:.1f} dB(A) F",
            limit=f"{CAUTION_LEVEL_DBA:g} dB(A) over an eight-hour day, half the time for every 3 dB more",
            source="NIOSH recommended exposure limit, as seen in two transcriptions",
            remedy="Turn it down or keep the speaker away from ears; an estimate only: measure the finished prop, and follow the rules for "
            "noise at work of the place where it is used.",
        )
        for name, level in report.at.items() if level.laeq_db + report.uncertainty_db > CAUTION_LEVEL_DBA
    )


def speaker_findings(report: LevelReport, speaker: Speaker) -> tuple[Finding, ...]:
    """Power over the speaker's rating, and places too close for the model."""
    findings = []
    if report.speaker_highest_power_w > speaker.rated_power_w:
        findings.append(Finding(
            check="sound.speaker_power",
            weight=Weight.WARNING,
            subject="speaker",
            figure=f"{report.speaker_highest_power_w:.2f} W over the hottest second",
            limit=f"{speaker.rated_power_w:g} W rated power",
            source="the speaker's rating in the sequence file",
            remedy="Lower the gain, or choose a speaker that takes more: this one may overheat.",
        ))
    findings += [
        Finding(
            check="sound.distance",
            weight=Weight.NOTE,
            subject=f"level at {name}",
            figure=f"{level.distance_m * 100:.1f} cm from the speaker",
            limit="5 cm, closer than which level no longer goes with distance",
            source="common practice, no source",
            remedy="Measure the level there.",
        )
        for name, level in report.at.items() if not level.inside_model
    ]
    return tuple(findings)


def clipping_findings(report: LevelReport) -> tuple[Finding, ...]:
    """Whether the amplifier runs into its rail."""
    if report.clipped_share == 0:
        return ()
    return (Finding(
        check="sound.clipping",
        weight=Weight.WARNING if report.clipped_share > 0.001 else Weight.NOTE,
        subject="amplifier",
        figure=f"clips at {report.clipped_share:.2%} of the samples",
        limit="0.1 % of the samples",
        source="common practice, no source",
        remedy="Lower the amplifier's gain or the clips' levels, or feed the amplifier from a higher voltage.",
    ),)
