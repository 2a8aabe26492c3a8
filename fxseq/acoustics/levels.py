"""What a preview sounds like: levels at the ears, loudness of the board's signal, and what amplifier and speaker make of it."""
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.amplifier import FULL_SCALE_SAMPLE, output_voltage_v
from fxseq.acoustics.decibels import known, mean_square, power_db
from fxseq.acoustics.driver import Space
from fxseq.acoustics.loudness import loudness
from fxseq.acoustics.response import Response, apply_responses
from fxseq.acoustics.speaker import (
    excursion_response, inside_model, mounted_resonance_hz, settled_after_s, speaker_power_w, speaker_response,
)
from fxseq.acoustics.uncertainty import LEAK_Q, Uncertainty, change_of_level_db, distance_uncertainty_db, sampled_power
from fxseq.acoustics.weighting import (
    FAST_S, WEIGHTING_SETTLING_S, Curve, equivalent_level_db, maximum_level_db, peak_level_db, weighting_response,
)
from fxseq.sequence.finding import Finding, Weight
from fxseq.sequence.parts import Amplifier, Speaker

_REFERENCE_DISTANCE_M = 1.0
_HEATING_S = 1.0
_CONE_BAND = 3.0
"""Above so many times its resonance a cone moves by less than 1/8 of its way below, for the same voltage."""


@dataclass(frozen=True)
class Level:
    """Levels at one place, without a room, on axis; -inf for silence. [dB re 20 uPa]

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
    uncertainty: what every level may be off by, either way, by its causes.
    momentary_max_lufs: largest loudness over 0.4 s of the board's signal, as one channel, full scale 1; a shorter sound counts as followed
    by silence. integrated_lufs: gated, -inf for less than 0.4 s.
    clipped_share: share of samples at which the amplifier clips, 0..1.
    speaker_mean_power_w over all of it, speaker_highest_power_w over the hottest second, speaker_peak_power_w at the highest sample.
    excursion_peak_mm: the furthest way of the cone from rest, as uncertain as a level.
    """

    at: dict[str, Level]
    uncertainty: Uncertainty
    momentary_max_lufs: float
    integrated_lufs: float
    clipped_share: float
    speaker_mean_power_w: float
    speaker_highest_power_w: float
    speaker_peak_power_w: float
    excursion_peak_mm: float

    @property
    def uncertainty_db(self) -> float:
        """Of all causes together. [dB]"""
        return self.uncertainty.total_db

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; levels of silence are None."""
        return {
            **asdict(self),
            "at": {name: level.as_dict() for name, level in self.at.items()},
            "uncertainty": self.uncertainty.as_dict(),
            "uncertainty_db": self.uncertainty_db,
            "momentary_max_lufs": known(self.momentary_max_lufs),
            "integrated_lufs": known(self.integrated_lufs),
        }


def _weighted_speaker(speaker: Speaker, curve: Curve, space: Space, leak_q: float | None = None) -> Response:
    at_one_metre = speaker_response(speaker, _REFERENCE_DISTANCE_M, space, leak_q)
    return lambda frequencies_hz: at_one_metre(frequencies_hz) * weighting_response(frequencies_hz, curve)


def levels_at(
    volts: NDArray[np.floating], rate_hz: float, speaker: Speaker, distances_m: Mapping[str, float], space: Space = "half",
) -> dict[str, Level]:
    """Levels at several places from the voltage at the speaker, shape (n,): one calculation, moved by 20 lg of the distance."""
    return _heard_and_moved(volts, rate_hz, speaker, distances_m, space)[0]


def _heard_and_moved(
    volts: NDArray[np.floating], rate_hz: float, speaker: Speaker, distances_m: Mapping[str, float], space: Space,
) -> tuple[dict[str, Level], float]:
    """Levels, and the furthest way of the cone from rest [m], from one transform of the signal."""
    settling_s = settled_after_s(speaker) + WEIGHTING_SETTLING_S
    responses = [_weighted_speaker(speaker, "A", space), _weighted_speaker(speaker, "C", space), excursion_response(speaker)]
    apart = _cone_samples_apart(speaker, rate_hz)
    a_weighted, c_weighted, way_m = apply_responses(volts, rate_hz, responses, settling_s, (1, 1, apart))
    laeq_db = equivalent_level_db(a_weighted)
    lafmax_db = maximum_level_db(a_weighted, rate_hz, FAST_S)
    lcpeak_db = peak_level_db(c_weighted)

    def moved_to(distance_m: float) -> Level:
        change = -float(power_db((distance_m / _REFERENCE_DISTANCE_M) ** 2))
        return Level(distance_m, laeq_db + change, lafmax_db + change, lcpeak_db + change, inside_model(distance_m))

    return {name: moved_to(distance_m) for name, distance_m in distances_m.items()}, float(np.abs(way_m).max(initial=0.0))


def _cone_samples_apart(speaker: Speaker, rate_hz: float) -> int:
    """How far apart samples of the cone's way may be: a power of two."""
    wide_enough = rate_hz / 2 / (_CONE_BAND * mounted_resonance_hz(speaker))
    return 1 << min(max(int(math.log2(max(wide_enough, 1.0))), 0), 6)


def level_uncertainty(volts: NDArray[np.floating], rate_hz: float, speaker: Speaker) -> Uncertainty:
    """Of the levels of this signal, shape (n,): a leak takes more from a low sound than from a high one; 0 without a chamber described."""
    leakage_db = 0.0
    if speaker.chamber_ml is not None:
        tight, leaking = (_weighted_speaker(speaker, "A", "half", leak_q) for leak_q in (None, LEAK_Q))
        leakage_db = abs(change_of_level_db(*sampled_power(volts, rate_hz), tight, leaking))
    return Uncertainty(speaker.sensitivity_spread_db, distance_uncertainty_db(), leakage_db)


def level_report(
    samples: NDArray[np.int16], rate_hz: int, amplifier: Amplifier, speaker: Speaker, distances_m: Mapping[str, float], supply_v: float,
    space: Space = "half", sound_bits: int = 16,
) -> LevelReport:
    """Levels, loudness, power and cone movement of the board's output at one supply voltage.

    samples: shape (n,). distances_m: place to distance from the speaker, each > 0. supply_v: at the amplifier, taken as constant. [V]
    """
    volts, clipped_share = output_voltage_v(samples, amplifier, supply_v, speaker.impedance_ohm, sound_bits)
    heard = loudness(samples * np.float32(1 / FULL_SCALE_SAMPLE), rate_hz)
    second_w = speaker_power_w(volts, speaker, math.ceil(rate_hz * _HEATING_S))
    peak_v = float(np.abs(volts).max(initial=0.0))
    at, way_m = _heard_and_moved(volts, rate_hz, speaker, distances_m, space)
    return LevelReport(
        at=at,
        uncertainty=level_uncertainty(volts, rate_hz, speaker),
        momentary_max_lufs=heard.padded_momentary_max,
        integrated_lufs=heard.integrated,
        clipped_share=clipped_share,
        speaker_mean_power_w=mean_square(volts) / speaker.impedance_ohm,
        speaker_highest_power_w=float(second_w.max(initial=0.0)),
        speaker_peak_power_w=peak_v**2 / speaker.impedance_ohm,
        excursion_peak_mm=way_m * 1000,
    )


def speaker_findings(report: LevelReport, speaker: Speaker) -> tuple[Finding, ...]:
    """Power over the speaker's rating, its cone further than it may go, and places too close for the model."""
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
    if speaker.excursion_mm is not None and report.excursion_peak_mm > speaker.excursion_mm:
        findings.append(Finding(
            check="sound.excursion",
            weight=Weight.WARNING,
            subject="speaker",
            figure=f"the cone moves up to {report.excursion_peak_mm:.2f} mm from rest (±{report.uncertainty_db:.1f} dB)",
            limit=f"{speaker.excursion_mm:g} mm",
            source="the speaker in the sequence file",
            remedy="Take the lows out of the clips below the speaker's resonance, lower the gain, or choose a smaller chamber: this one distorts "
            "and may tear.",
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
