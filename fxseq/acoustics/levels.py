"""What a preview sounds like: levels at the ears, loudness of the board's signal, and what
amplifier and speaker make of it.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fxseq.acoustics.amplifier import FULL_SCALE_SAMPLE, converted, output_voltage_v
from fxseq.acoustics.decibels import known, mean_square, power_db
from fxseq.acoustics.driver import Space
from fxseq.acoustics.loudness import loudness, loudness_range
from fxseq.acoustics.response import Response, apply_responses
from fxseq.acoustics.speaker import (
    excursion_response,
    inside_model,
    sensitivity_uncertainty_db,
    settled_after_s,
    speaker_power_w,
    speaker_response,
)
from fxseq.acoustics.true_peak import true_peak_db
from fxseq.acoustics.uncertainty import (
    LEAK_Q,
    Uncertainty,
    change_of_level_db,
    distance_uncertainty_db,
    sampled_power,
)
from fxseq.acoustics.weighting import (
    FAST_S,
    SLOW_S,
    WEIGHTING_SETTLING_S,
    Curve,
    equivalent_level_db,
    maximum_levels_db,
    peak_level_db,
    weighting_response,
)
from fxseq.sequence.model import Board
from fxseq.sequence.parts import Amplifier, Speaker

_REFERENCE_DISTANCE_M = 1.0
COIL_HEATING_S = 1.0


@lru_cache(maxsize=32)
def heard_response(
    speaker: Speaker | None,
    distance_m: float = 1.0,
    space: Space = "half",
    curve: Curve = "A",
    leak_q: float | None = None,
) -> Response:
    """From volts at the speaker to weighted pressure at a distance [Pa/V]; the weighting alone
    where no speaker is described.
    """

    def weighting(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        return weighting_response(frequencies_hz, curve)

    if speaker is None:
        return weighting
    through = speaker_response(speaker, distance_m, space, leak_q)
    return lambda frequencies_hz: through(frequencies_hz) * weighting(frequencies_hz)


@dataclass(frozen=True)
class Level:
    """Levels at one place, without a room, on axis; -inf for silence. [dB re 20 uPa]

    laeq_db over the whole, lafmax_db and lasmax_db the loudest by a meter set to F and to S,
    lcpeak_db the highest peak. inside_model: False closer than 5 cm, where the figures are a guess.
    """

    distance_m: float
    laeq_db: float
    lafmax_db: float
    lasmax_db: float
    lcpeak_db: float
    inside_model: bool

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; silence is None."""
        return {
            **asdict(self),
            **{
                key: known(getattr(self, key))
                for key in ("laeq_db", "lafmax_db", "lasmax_db", "lcpeak_db")
            },
        }


@dataclass(frozen=True)
class LevelReport:
    """How loud a preview is, and what that asks of amplifier and speaker.

    at: levels by the name of the place, such as `hand`. uncertainty: what every level may be off
    by, either way, by its causes. momentary_max_lufs, short_term_max_lufs: largest loudness over
    0.4 s and over 3 s of the board's signal, as one channel, full scale 1; a shorter sound counts
    as followed by silence over 0.4 s, and has no short-term loudness. integrated_lufs: gated, -inf
    for less than 0.4 s. loudness_range_lu: spread of the short-term loudness, 0 for less than 3 s.
    [LU] true_peak_dbtp: of the same signal, between its samples as well. clipped_share: share of
    samples at which the amplifier clips, 0..1. speaker_mean_power_w over all of it,
    speaker_highest_power_w over the hottest second, speaker_peak_power_w at the highest sample.
    excursion_peak_mm: the furthest excursion of the cone, as uncertain as a level.
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
        """Uncertainty of all causes together. [dB]"""
        return self.uncertainty.total_db

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`; levels of silence are None."""
        return {
            **asdict(self),
            "at": {name: level.as_dict() for name, level in self.at.items()},
            "uncertainty": self.uncertainty.as_dict(),
            "uncertainty_db": self.uncertainty_db,
            **{
                key: known(getattr(self, key))
                for key in (
                    "momentary_max_lufs",
                    "short_term_max_lufs",
                    "integrated_lufs",
                    "true_peak_dbtp",
                )
            },
        }


def levels_at(
    volts: NDArray[np.floating],
    rate_hz: float,
    speaker: Speaker,
    distances_m: Mapping[str, float],
    space: Space = "half",
) -> dict[str, Level]:
    """Levels at several places from the voltage at the speaker, shape (n,): one calculation,
    moved by 20 lg of the distance.
    """
    return _heard_and_moved(volts, rate_hz, speaker, distances_m, space)[0]


def _heard_and_moved(
    volts: NDArray[np.floating],
    rate_hz: float,
    speaker: Speaker,
    distances_m: Mapping[str, float],
    space: Space,
) -> tuple[dict[str, Level], float]:
    """Levels, and the furthest excursion of the cone [m], from one transform of the signal."""
    settling_s = settled_after_s(speaker) + WEIGHTING_SETTLING_S
    a_heard, c_heard = (
        heard_response(speaker, _REFERENCE_DISTANCE_M, space, curve) for curve in ("A", "C")
    )
    responses = [a_heard, c_heard, excursion_response(speaker)]
    a_weighted, c_weighted, excursion_m = apply_responses(volts, rate_hz, responses, settling_s)
    laeq_db = equivalent_level_db(a_weighted)
    lafmax_db, lasmax_db = maximum_levels_db(a_weighted, rate_hz, (FAST_S, SLOW_S))
    lcpeak_db = peak_level_db(c_weighted)

    def moved_to(distance_m: float) -> Level:
        change = -float(power_db((distance_m / _REFERENCE_DISTANCE_M) ** 2))
        return Level(
            distance_m,
            laeq_db + change,
            lafmax_db + change,
            lasmax_db + change,
            lcpeak_db + change,
            inside_model(distance_m),
        )

    return {name: moved_to(distance_m) for name, distance_m in distances_m.items()}, float(
        np.abs(excursion_m).max(initial=0.0)
    )


def level_uncertainty(volts: NDArray[np.floating], rate_hz: float, speaker: Speaker) -> Uncertainty:
    """Uncertainty of the levels of this signal, shape (n,): a leak takes more from a low sound
    than from a high one; 0 without a chamber described.
    """
    leakage_db = 0.0
    if speaker.chamber_ml is not None:
        tight, leaking = (heard_response(speaker, leak_q=leak_q) for leak_q in (None, LEAK_Q))
        leakage_db = abs(change_of_level_db(*sampled_power(volts, rate_hz), tight, leaking))
    return Uncertainty(sensitivity_uncertainty_db(speaker), distance_uncertainty_db(), leakage_db)


def level_report(
    samples: NDArray[np.int16],
    rate_hz: int,
    amplifier: Amplifier,
    speaker: Speaker,
    distances_m: Mapping[str, float],
    supply_v: ArrayLike,
    space: Space = "half",
    board: Board | None = None,
) -> LevelReport:
    """Levels, loudness, power and cone movement of the board's output.

    samples: shape (n,). distances_m: place to distance from the speaker, each > 0. supply_v: at the
    amplifier, one voltage, or one a sample, shape (n,). [V] board: see `converted`.
    """
    volts, clipped_share = output_voltage_v(
        converted(samples, board), amplifier, supply_v, speaker.impedance_ohm
    )
    signal = samples * np.float32(1 / FULL_SCALE_SAMPLE)
    heard = loudness(signal, rate_hz)
    second_w = speaker_power_w(volts, speaker, math.ceil(rate_hz * COIL_HEATING_S))
    peak_v = float(np.abs(volts).max(initial=0.0))
    at, excursion_m = _heard_and_moved(volts, rate_hz, speaker, distances_m, space)
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
        excursion_peak_mm=excursion_m * 1000,
    )
