"""What a preview sounds like: levels at the ears, loudness of the board's signal, and what amplifier and speaker make of it."""
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics.amplifier import FULL_SCALE_SAMPLE, output_voltage_v
from fxseq.acoustics.audible import heard_response
from fxseq.acoustics.decibels import known, mean_square, power_db
from fxseq.acoustics.driver import Space
from fxseq.acoustics.loudness import loudness, loudness_range
from fxseq.acoustics.response import apply_responses
from fxseq.acoustics.speaker import excursion_response, inside_model, sensitivity_uncertainty_db, settled_after_s, speaker_power_w
from fxseq.acoustics.true_peak import true_peak_db
from fxseq.acoustics.uncertainty import LEAK_Q, Uncertainty, change_of_level_db, distance_uncertainty_db, sampled_power
from fxseq.acoustics.weighting import FAST_S, SLOW_S, WEIGHTING_SETTLING_S, equivalent_level_db, maximum_levels_db, peak_level_db
from fxseq.sequence.finding import Explanation, Finding, Weight, explained
from fxseq.sequence.parts import Amplifier, Speaker
from fxseq.sequence.quantities import amount, number

_RULE = "common practice, no source"
_REFERENCE_DISTANCE_M = 1.0
_HEATING_S = 1.0
_CLIPPED_SHARE = 0.001

EXPLAINED = explained(
    Explanation(
        "sound.speaker_power", "Does the speaker get more power than it can take?",
        f"The power is that of the amplifier's voltage in a resistor of the speaker's impedance, averaged over {_HEATING_S:g} s, a guess at how fast a "
        "coil heats up. A finding where the hottest such time is above the speaker's rating.",
        "the speaker's rating in the prop file", "your own files",
        "On the safe side: around its resonance a speaker takes less than such a resistor. Makers rate power in different ways.",
        formula="{P} = {V}^2 / {Z}",
        symbols={"P": "power over the hottest second, in W", "V": "rms voltage in that second, in V",
                 "Z": "impedance of the speaker, in ohm", "Prated": "its rated power, in W"}),
    Explanation(
        "sound.excursion", "Is there excessive cone travel?",
        "Cone travel rises with the voltage; below resonance, the lows move the cone most. It is worked out from the amplifier's output, with the "
        "chamber's air as a spring. A finding where the peak travel from rest is above excursion_mm.",
        "the speaker in the prop file", "your own files",
        "As uncertain as a level: s either way. The model assumes that travel is proportional to voltage. Near its limit a real cone moves less, and "
        "distorts.",
        formula="{x} > {xmax}",
        symbols={"x": "peak travel from rest, in mm", "s": "uncertainty, either way, in dB",
                 "xmax": "excursion_mm of the speaker, in mm"}),
    Explanation(
        "sound.distance", "Is a listener too close for the level to be known?",
        "Twice the distance lowers the level by 6 dB, but not close to the speaker. A note for each place closer than 5 cm.",
        _RULE, "common practice", "It is certain that the level is a guess there; the distance at which that begins depends on the size of the cone.",
        formula="{d} < 5 cm", symbols={"d": "distance of the place, in cm"}),
    Explanation(
        "sound.clipping", "Does the amplifier clip?",
        "An amplifier gives no more voltage than its supply has. Where the sound asks for more, its peaks are clipped, which sounds harsh and heats the "
        f"speaker. A note where that happens at all, a warning above {_CLIPPED_SHARE:.1%} of the samples.",
        _RULE, "common practice", "Right within about 1 dB for a fresh supply; with flat cells the amplifier clips earlier.",
        formula="{p} > 0", symbols={"p": "share of the samples that clip, in %"}),
)


@dataclass(frozen=True)
class Level:
    """Levels at one place, without a room, on axis; -inf for silence. [dB re 20 uPa]

    laeq_db over the whole, lafmax_db and lasmax_db the loudest by a meter set to F and to S, lcpeak_db the highest peak. inside_model: False
    closer than 5 cm, where the figures are a guess.
    """

    distance_m: float
    laeq_db: float
    lafmax_db: float
    lasmax_db: float
    lcpeak_db: float
    inside_model: bool

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; silence is None."""
        return {**asdict(self), **{key: known(getattr(self, key)) for key in ("laeq_db", "lafmax_db", "lasmax_db", "lcpeak_db")}}


@dataclass(frozen=True)
class LevelReport:
    """How loud a preview is, and what that asks of amplifier and speaker.

    at: levels by the name of the place, such as `hand`.
    uncertainty: what every level may be off by, either way, by its causes.
    momentary_max_lufs, short_term_max_lufs: largest loudness over 0.4 s and over 3 s of the board's signal, as one channel, full scale 1; a
    shorter sound counts as followed by silence over 0.4 s, and has no short-term loudness. integrated_lufs: gated, -inf for less than 0.4 s.
    loudness_range_lu: spread of the short-term loudness, 0 for less than 3 s. [LU]
    true_peak_dbtp: of the same signal, between its samples as well.
    clipped_share: share of samples at which the amplifier clips, 0..1.
    speaker_mean_power_w over all of it, speaker_highest_power_w over the hottest second, speaker_peak_power_w at the highest sample.
    excursion_peak_mm: the furthest way of the cone from rest, as uncertain as a level.
    """

    at: dict[str, Level]
    uncertainty: Uncertainty
    momentary_max_lufs: float
    short_term_max_lufs: float
    integrated_lufs: float
    loudness_range_lu: float
    true_peak_dbtp: float
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
            **{key: known(getattr(self, key)) for key in ("momentary_max_lufs", "short_term_max_lufs", "integrated_lufs", "true_peak_dbtp")},
        }


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
    a_heard, c_heard = (heard_response(speaker, _REFERENCE_DISTANCE_M, space, curve) for curve in ("A", "C"))
    responses = [a_heard, c_heard, excursion_response(speaker)]
    a_weighted, c_weighted, way_m = apply_responses(volts, rate_hz, responses, settling_s)
    laeq_db = equivalent_level_db(a_weighted)
    lafmax_db, lasmax_db = maximum_levels_db(a_weighted, rate_hz, (FAST_S, SLOW_S))
    lcpeak_db = peak_level_db(c_weighted)

    def moved_to(distance_m: float) -> Level:
        change = -float(power_db((distance_m / _REFERENCE_DISTANCE_M) ** 2))
        return Level(distance_m, laeq_db + change, lafmax_db + change, lasmax_db + change, lcpeak_db + change, inside_model(distance_m))

    return {name: moved_to(distance_m) for name, distance_m in distances_m.items()}, float(np.abs(way_m).max(initial=0.0))


def level_uncertainty(volts: NDArray[np.floating], rate_hz: float, speaker: Speaker) -> Uncertainty:
    """Of the levels of this signal, shape (n,): a leak takes more from a low sound than from a high one; 0 without a chamber described."""
    leakage_db = 0.0
    if speaker.chamber_ml is not None:
        tight, leaking = (heard_response(speaker, leak_q=leak_q) for leak_q in (None, LEAK_Q))
        leakage_db = abs(change_of_level_db(*sampled_power(volts, rate_hz), tight, leaking))
    return Uncertainty(sensitivity_uncertainty_db(speaker), distance_uncertainty_db(), leakage_db)


def level_report(
    samples: NDArray[np.int16], rate_hz: int, amplifier: Amplifier, speaker: Speaker, distances_m: Mapping[str, float], supply_v: ArrayLike,
    space: Space = "half", sound_bits: int = 16,
) -> LevelReport:
    """Levels, loudness, power and cone movement of the board's output.

    samples: shape (n,). distances_m: place to distance from the speaker, each > 0. supply_v: at the amplifier, one voltage, or one a
    sample, shape (n,). [V]
    """
    volts, clipped_share = output_voltage_v(samples, amplifier, supply_v, speaker.impedance_ohm, sound_bits)
    signal = samples * np.float32(1 / FULL_SCALE_SAMPLE)
    heard = loudness(signal, rate_hz)
    second_w = speaker_power_w(volts, speaker, math.ceil(rate_hz * _HEATING_S))
    peak_v = float(np.abs(volts).max(initial=0.0))
    at, way_m = _heard_and_moved(volts, rate_hz, speaker, distances_m, space)
    return LevelReport(
        at=at,
        uncertainty=level_uncertainty(volts, rate_hz, speaker),
        momentary_max_lufs=heard.padded_momentary_max,
        short_term_max_lufs=float(heard.short_term.max(initial=-math.inf)),
        integrated_lufs=heard.integrated,
        loudness_range_lu=loudness_range(heard.short_term),
        true_peak_dbtp=true_peak_db(signal),
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
        findings.append(EXPLAINED["sound.speaker_power"].finding(
            weight=Weight.WARNING,
            subject="speaker",
            figure=f"{amount(report.speaker_highest_power_w, 'W')} over the hottest second",
            limit=f"{speaker.rated_power_w:g} W rated power",
            remedy="Lower the gain, or choose a speaker that takes more power: this one may overheat.",
            inputs={"P": f"{number(report.speaker_highest_power_w)} W",
                    "V": f"{number(math.sqrt(report.speaker_highest_power_w * speaker.impedance_ohm))} V",
                    "Z": f"{speaker.impedance_ohm:g} ohm", "Prated": f"{speaker.rated_power_w:g} W"},
        ))
    if speaker.excursion_mm is not None and report.excursion_peak_mm > speaker.excursion_mm:
        findings.append(EXPLAINED["sound.excursion"].finding(
            weight=Weight.WARNING,
            subject="speaker",
            figure=f"peak cone travel {report.excursion_peak_mm:.2f} mm from rest (±{report.uncertainty_db:.1f} dB)",
            limit=f"{speaker.excursion_mm:g} mm",
            remedy="Filter out the lows below the speaker's resonance (high_pass_hz), lower the gain, or choose a smaller chamber: this cone distorts "
                   "and may tear.",
            inputs={"x": f"{report.excursion_peak_mm:.2f} mm", "s": f"{report.uncertainty_db:.1f} dB", "xmax": f"{speaker.excursion_mm:g} mm"},
        ))
    findings += [
        EXPLAINED["sound.distance"].finding(
            weight=Weight.NOTE,
            subject=f"level at {name}",
            figure=f"{level.distance_m * 100:.1f} cm from the speaker",
            limit="5 cm; closer than that, the level no longer follows the distance",
            remedy="Measure the level there.",
            inputs={"d": f"{level.distance_m * 100:.1f} cm"},
        )
        for name, level in report.at.items() if not level.inside_model
    ]
    return tuple(findings)


def clipping_findings(report: LevelReport) -> tuple[Finding, ...]:
    """Whether the amplifier runs into its rail."""
    if report.clipped_share == 0:
        return ()
    return (EXPLAINED["sound.clipping"].finding(
        weight=Weight.WARNING if report.clipped_share > _CLIPPED_SHARE else Weight.NOTE,
        subject="amplifier",
        figure=f"clips at {report.clipped_share:.2%} of the samples",
        limit="0.1 % of the samples",
        remedy="Lower the amplifier's gain or the clips' levels, or feed the amplifier from a higher voltage.",
        inputs={"p": f"{number(100 * report.clipped_share, 2)} %"},
    ),)
