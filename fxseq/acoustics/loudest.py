"""As loud as this speaker can be: a high-pass, a gain and a limiter for one clip, within excursion, power and rail.

A cone moves most below its resonance, where it sounds least. So a corner there buys gain, and the gain is taken until the rail, the cone's
way or the coil's heat stops it.
"""
import math
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics.amplifier import clipping_voltage_v, voltage_gain
from fxseq.acoustics.decibels import block_means, known
from fxseq.acoustics.driver import Space
from fxseq.acoustics.limiter import limited
from fxseq.acoustics.response import Response, apply_responses, settling_time_s
from fxseq.acoustics.speaker import excursion_response, mounted_resonance_hz, settled_after_s, speaker_response
from fxseq.acoustics.weighting import WEIGHTING_SETTLING_S, equivalent_level_db, weighting_response
from fxseq.sequence.parts import Amplifier, Speaker

MOST_LIMITING_DB = 6.0
"""Peaks are turned down by no more than this against the rest of a clip. Common practice, no source. [dB]"""
_CORNERS = 9
_HIGH_PASS_Q = math.sqrt(0.5)
_LEAST_DB = 60.0
_HALVINGS = 11


@dataclass(frozen=True)
class Drive:
    """What a clip drives and may do.

    pressure, excursion: over voltage at the speaker [Pa/V, m/V], at the place where it is heard. settling_s: the longer of the two.
    resonance_hz: of the speaker where it sits. full_scale_v: at the speaker for a full-scale sample, unclipped. rail_v: where it clips.
    impedance_ohm, rated_w: for the coil's heat over any second. excursion_m: of the cone from rest, None where it is not known.
    """

    pressure: Response
    excursion: Response
    settling_s: float
    resonance_hz: float
    full_scale_v: float
    rail_v: float
    impedance_ohm: float
    rated_w: float
    excursion_m: float | None


@dataclass(frozen=True)
class Strain:
    """A clip played alone: its A-weighted level over its length, and what it asks. -inf for silence.

    clipped_share: samples beyond the rail or full scale, which are cut off there.
    """

    laeq_db: float
    peak_v: float
    excursion_peak_mm: float
    hottest_second_w: float
    clipped_share: float

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {**asdict(self), "laeq_db": known(self.laeq_db)}


@dataclass(frozen=True)
class Recommendation:
    """high_pass_hz: corner of a second-order Butterworth high-pass, None for none. gain_db: after it. threshold_dbfs: of the limiter after that.

    stopped_by: what allows no more: `rail` or `full scale` (with as much limiting as is good for the sound), `excursion` or `power`.
    before, after: the clip as it is and as recommended.
    """

    high_pass_hz: float | None
    gain_db: float
    threshold_dbfs: float
    stopped_by: str
    before: Strain
    after: Strain

    def as_dict(self) -> dict[str, Any]:
        """Plain values for `--json`."""
        return {**asdict(self), "before": self.before.as_dict(), "after": self.after.as_dict()}


def high_passed(signal: NDArray[np.floating], rate_hz: float, corner_hz: float | None) -> NDArray[np.float64]:
    """Through a second-order Butterworth high-pass; as it is for None. Shape (n,)."""
    if corner_hz is None:
        return signal.astype(np.float64)

    def response(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        s = 1j * frequencies_hz / corner_hz
        return np.asarray(s**2 / (s**2 + s / _HIGH_PASS_Q + 1))

    return apply_responses(signal, rate_hz, [response], settling_time_s(math.pi * corner_hz / _HIGH_PASS_Q))[0].astype(np.float64)


def strain(signal: NDArray[np.floating], rate_hz: float, drive: Drive) -> Strain:
    """What a clip, full scale 1, shape (n,), asks of amplifier and speaker, and how loud it is."""
    ceiling = min(1.0, drive.rail_v / drive.full_scale_v)
    volts = np.clip(signal, -ceiling, ceiling) * drive.full_scale_v

    def heard(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        return drive.pressure(frequencies_hz) * weighting_response(frequencies_hz, "A")

    sound, way = apply_responses(volts, rate_hz, [heard, drive.excursion], drive.settling_s + WEIGHTING_SETTLING_S)
    second_w = block_means(np.square(volts), math.ceil(rate_hz)) / drive.impedance_ohm
    return Strain(
        laeq_db=equivalent_level_db(sound),
        peak_v=float(np.abs(volts).max(initial=0.0)),
        excursion_peak_mm=float(np.abs(way).max(initial=0.0)) * 1000,
        hottest_second_w=float(second_w.max(initial=0.0)),
        clipped_share=float(np.count_nonzero(np.abs(signal) > ceiling * (1 + 1e-9))) / max(signal.size, 1),
    )


def treated(signal: NDArray[np.floating], rate_hz: float, high_pass_hz: float | None, gain_db: float, threshold_dbfs: float) -> NDArray[np.float64]:
    """A clip as recommended: high-pass, gain, limiter. Full scale 1, shape (n,)."""
    louder = high_passed(signal, rate_hz, high_pass_hz) * 10 ** (gain_db / 20)
    return limited(louder, rate_hz, 10 ** (threshold_dbfs / 20))


def recommend(signal: NDArray[np.floating], rate_hz: float, drive: Drive) -> Recommendation | None:
    """The loudest of a range of corners, each with the most gain that its limits allow; None for silence.

    signal: full scale 1, shape (n,). A corner is taken only where it is louder, by its A-weighted level, than a lower one by 0.1 dB.
    """
    if not np.any(signal):
        return None
    before = strain(signal, rate_hz, drive)
    best: Recommendation | None = None
    corners = np.geomspace(drive.resonance_hz / 8, drive.resonance_hz * 2, _CORNERS)
    for corner in (None, *(float(f"{corner:.2g}") for corner in corners if corner < 0.4 * rate_hz)):
        option = _most_gain(signal, rate_hz, drive, corner, before)
        if best is None or option.after.laeq_db > best.after.laeq_db + 0.1:
            best = option
    return best


def _excess(found: Strain, drive: Drive) -> str:
    """The limit that is broken, or nothing."""
    if drive.excursion_m is not None and found.excursion_peak_mm > drive.excursion_m * 1000:
        return "excursion"
    return "power" if found.hottest_second_w > drive.rated_w else ""


def _most_gain(signal: NDArray[np.floating], rate_hz: float, drive: Drive, corner_hz: float | None, before: Strain) -> Recommendation:
    """With the limiter at the rail, up to MOST_LIMITING_DB over it; less, found by halving, where cone or coil do not bear that."""
    filtered = high_passed(signal, rate_hz, corner_hz)
    ceiling = min(1.0, drive.rail_v / drive.full_scale_v)

    def at(gain_db: float) -> Strain:
        return strain(limited(filtered * 10 ** (gain_db / 20), rate_hz, ceiling), rate_hz, drive)

    high_db = 20 * math.log10(ceiling / np.abs(filtered).max()) + MOST_LIMITING_DB
    found, low_db = at(high_db), high_db - _LEAST_DB
    stopped_by = _excess(found, drive)
    if not stopped_by:
        return Recommendation(corner_hz, high_db, 20 * math.log10(ceiling), "rail" if ceiling < 1 else "full scale", before, found)
    # The cone's way and the coil's heat grow with the gain, so the most that they bear lies between.
    for _ in range(_HALVINGS):
        middle_db = (low_db + high_db) / 2
        broken = _excess(at(middle_db), drive)
        stopped_by = broken or stopped_by
        low_db, high_db = (low_db, middle_db) if broken else (middle_db, high_db)
    return Recommendation(corner_hz, low_db, 20 * math.log10(ceiling), stopped_by, before, at(low_db))


def drive_of(speaker: Speaker, amplifier: Amplifier, supply_v: float, distance_m: float, space: Space = "half") -> Drive:
    """What clips drive in a described prop, at one supply voltage. [V] distance_m: where they are to be loud."""
    return Drive(
        pressure=speaker_response(speaker, distance_m, space),
        excursion=excursion_response(speaker),
        settling_s=settled_after_s(speaker),
        resonance_hz=mounted_resonance_hz(speaker),
        full_scale_v=voltage_gain(amplifier) * amplifier.full_scale_input_v,
        rail_v=float(clipping_voltage_v(amplifier, supply_v, speaker.impedance_ohm)),
        impedance_ohm=speaker.impedance_ohm,
        rated_w=speaker.rated_power_w,
        excursion_m=None if speaker.excursion_mm is None else speaker.excursion_mm / 1000,
    )
