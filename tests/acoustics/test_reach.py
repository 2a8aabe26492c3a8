"""The loudest tones of a speaker, and what holds them."""

import json
import math

import numpy as np
import pytest

from fxseq.acoustics import HOLDS, level_report, reach
from fxseq.sequence.parts import Amplifier, Speaker

RATE_HZ = 22_050
BOXED = {
    "diameter_mm": 28,
    "impedance_ohm": 8,
    "free_resonance_hz": 450,
    "q_mechanical": 5,
    "q_electrical": 1.5,
    "moving_mass_g": 0.35,
    "chamber_ml": 15,
    "rated_power_w": 0.5,
    "excursion_mm": 0.15,
}
LOUD = Amplifier(gain_db=14, full_scale_input_v=1.2)


def sine(frequency_hz: float, share: float) -> np.ndarray:
    return np.round(
        32767 * share * np.sin(2 * np.pi * frequency_hz * np.arange(4 * RATE_HZ) / RATE_HZ)
    ).astype(np.int16)


@pytest.mark.parametrize(
    ("frequency_hz", "changes", "amplifier", "supply_v", "held_by"),
    [
        (300.0, {}, LOUD, 5.0, "excursion"),
        (2000.0, {}, LOUD, 5.0, "power"),
        (2000.0, {"rated_power_w": 5}, LOUD, 3.0, "rail"),
        (
            2000.0,
            {"rated_power_w": 5},
            Amplifier(gain_db=0, full_scale_input_v=1.2),
            5.0,
            "full scale",
        ),
        (300.0, {"excursion_mm": None}, LOUD, 5.0, "power"),
    ],
)
def test_loudest_tone_is_the_one_that_a_report_finds_at_the_limit(
    frequency_hz: float,
    changes: dict,
    amplifier: Amplifier,
    supply_v: float,
    held_by: str,
) -> None:
    # Played as samples: at that level the limit is just reached, and nothing else is passed.
    speaker = Speaker(**{**BOXED, **changes})
    found = reach(speaker, amplifier, supply_v, np.array([frequency_hz]), 0.5)
    assert HOLDS[found.held_by[0]] == held_by
    full = level_report(
        sine(frequency_hz, 0.02), RATE_HZ, amplifier, speaker, {"hand": 0.5}, supply_v
    )
    share = 0.02 * 10 ** (
        (found.level_db[0] - full.at["hand"].laeq_db - a_weight_db(frequency_hz)) / 20
    )
    report = level_report(
        sine(frequency_hz, min(share, 1.0)), RATE_HZ, amplifier, speaker, {"hand": 0.5}, supply_v
    )
    # Four seconds, of which the onset is a little less.
    assert report.at["hand"].laeq_db + a_weight_db(frequency_hz) == pytest.approx(
        found.level_db[0], abs=0.03
    )
    # The first swing of a tone goes further than the lasting ones, above the resonance much
    # further.
    assert frequency_hz > 1000 or report.excursion_peak_mm == pytest.approx(
        found.excursion_mm[0], rel=0.3
    )
    reached = {
        "excursion": report.excursion_peak_mm / (speaker.excursion_mm or math.inf),
        "power": report.speaker_highest_power_w / speaker.rated_power_w,
        "rail": (
            math.sqrt(2 * report.speaker_highest_power_w * 8)
            / (supply_v - amplifier.lost_voltage_v)
        ),
        "full scale": share,
    }
    assert all(value < 1.01 for name, value in reached.items() if name != "excursion")
    assert reached[held_by] == pytest.approx(1.0, abs=0.3 if held_by == "excursion" else 0.01)


def a_weight_db(frequency_hz: float) -> float:
    """What the A curve takes (IEC 61672-1, Table 3, from memory: -7.1 dB at 315 Hz, +1.2 dB at 2
    kHz), from its equation.
    """
    f2 = frequency_hz**2
    gain = (
        12194**2
        * f2**2
        / ((f2 + 20.6**2) * math.sqrt((f2 + 107.7**2) * (f2 + 737.9**2)) * (f2 + 12194**2))
    )
    return -20 * math.log10(gain) - 2.0


def test_what_is_told_of_a_speaker() -> None:
    told = reach(
        Speaker(**{**BOXED, "excursion_mm": None}), LOUD, 5.0, np.geomspace(20, 11_000, 301), 0.5
    ).as_dict()
    assert json.loads(json.dumps(told)) == told
    # Resonance of the box: fs sqrt(1 + Vas / Vb); impedance there Re (1 + Qms / Qes) (textbooks),
    # the Qs at their ratio as a box leaves them.
    area_m2 = math.pi / 4 * 0.028**2
    vas_ml = 1e6 * 1.2 * 343**2 * area_m2**2 / ((2 * math.pi * 450) ** 2 * 0.35e-3)
    assert told["resonance_hz"] == pytest.approx(450 * math.sqrt(1 + vas_ml / 15), rel=1e-3)
    assert told["resonance_ohm"] == pytest.approx(0.88 * 8 * (1 + 5 / 1.5), rel=1e-3)
    assert told["least_ohm"] == pytest.approx(0.88 * 8, rel=1e-2)
    # Full efficiency makes 112.1 dB at 1 W and 1 m (handbooks); the power counts in the nominal
    # impedance, the efficiency in the coil.
    assert told["flat_db"] == pytest.approx(
        112.1 + 10 * math.log10(told["efficiency_percent"] / 100 * 8 / (0.88 * 8)), abs=0.1
    )
    assert told["clipping_w"] == pytest.approx((5.0 - LOUD.lost_voltage_v) ** 2 / 16)
    assert told["loudest_held_by"] == "power" and 11_000 > told["loudest_hz"] > 450
