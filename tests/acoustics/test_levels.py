"""The level report of a preview and its findings."""

import json
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fxseq.acoustics import excursion_per_volt, level_report, levels_at
from fxseq.acoustics.speaker import driver_of, mount_of
from fxseq.checks.scopes import Loudness
from fxseq.checks.sound import clipping
from fxseq.sequence.finding import Weight
from fxseq.sequence.model import Amplifier, Speaker
from tests.checks.judged import judged, speaker_findings

RATE_HZ = 22_050
PLACES = {"hand": 0.5, "audience": 4.0}
Sine = Callable[[float, float, float, int], np.ndarray]


def test_level_of_a_sine_follows_from_the_parts(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    # 0.5 of full scale is 1.9905 V peak, 0.2476 W in 8 ohm: 80 dB at 1 W and 1 m, - 6.06 dB for the
    # power, + 6.02 dB at 0.5 m. At 1 kHz both weightings are 0 dB, and a box with a resonance of
    # 500 Hz and a Q of 1 gives + 0.902 dB: |G|^2 = 16 / 13.
    report = level_report(sine(1000, 0.5, 10, RATE_HZ), RATE_HZ, amplifier, speaker, PLACES, 5.0)
    hand = report.at["hand"]
    expected = 80 + 10 * math.log10(1.9905**2 / 16) + 6.0206 + 10 * math.log10(16 / 13)
    # Onset and end of ten seconds of sound move the mean by less than this.
    assert hand.laeq_db == pytest.approx(expected, abs=0.01)
    assert hand.lafmax_db == pytest.approx(expected, abs=0.05)
    assert hand.lasmax_db == pytest.approx(expected, abs=0.05)
    assert hand.laeq_db - report.at["audience"].laeq_db == pytest.approx(
        20 * math.log10(8), abs=1e-6
    )
    assert report.speaker_mean_power_w == pytest.approx(0.2476, abs=0.0002)
    assert report.speaker_highest_power_w == pytest.approx(0.2476, abs=0.0002)
    assert report.speaker_peak_power_w == pytest.approx(2 * 0.2476, abs=0.0005)
    # 3 dB of the speaker, 1.94 dB of a fifth of the distance; no leak where no chamber is
    # described.
    assert (report.clipped_share, report.uncertainty.leakage_db) == (0.0, 0.0)
    assert report.uncertainty_db == pytest.approx(math.hypot(3.0, 1.938), abs=0.001)


def test_loudness_is_that_of_the_board_signal_as_one_channel(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    # BS.1770: a full-scale 997 Hz sine in one channel reads -3.01 LUFS, here at half of full scale,
    # whatever amplifier and speaker do.
    report = level_report(sine(997, 0.5, 3, RATE_HZ), RATE_HZ, amplifier, speaker, PLACES, 1.0)
    assert report.momentary_max_lufs == pytest.approx(-3.01 - 6.02, abs=0.01)
    assert report.integrated_lufs == pytest.approx(-3.01 - 6.02, abs=0.01)
    assert report.short_term_max_lufs == pytest.approx(-3.01 - 6.02, abs=0.01)
    assert report.true_peak_dbtp == pytest.approx(-6.02, abs=0.01)
    assert report.loudness_range_lu == 0.0


def test_spread_of_loudness_over_a_run(amplifier: Amplifier, speaker: Speaker, sine: Sine) -> None:
    # EBU Tech 3342, read, Table 1, case 1: 20 s at one level and 20 s 10 dB lower have a range of
    # 10 LU, within 1.
    both = np.concatenate([sine(1000, 0.1, 20, RATE_HZ), sine(1000, 0.1 * 10**-0.5, 20, RATE_HZ)])
    assert level_report(
        both, RATE_HZ, amplifier, speaker, PLACES, 5.0
    ).loudness_range_lu == pytest.approx(10.0, abs=1.0)


def test_a_sound_of_less_than_three_seconds_has_no_short_term_loudness(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    report = level_report(sine(997, 0.5, 2, RATE_HZ), RATE_HZ, amplifier, speaker, PLACES, 1.0)
    assert (report.short_term_max_lufs, report.as_dict()["short_term_max_lufs"]) == (
        -math.inf,
        None,
    )
    # One second of time constant, two of sound: 1 - e^-2 of the whole.
    at = report.at["hand"]
    assert at.lasmax_db - at.laeq_db == pytest.approx(10 * math.log10(1 - math.exp(-2)), abs=0.02)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.floats(-20, 20), st.floats(0, 20))
def test_more_gain_is_never_quieter(seed: int, gain_db: float, more_db: float) -> None:
    noise = np.random.default_rng(seed).integers(-32768, 32768, 4000).astype(np.int16)
    part = Speaker(
        diameter_mm=28.0,
        impedance_ohm=8.0,
        resonance_hz=500.0,
        sensitivity_db=90.0,
        rated_power_w=1.0,
    )
    before, after = (
        level_report(
            noise, RATE_HZ, Amplifier(gain_db=gain, full_scale_input_v=1.0), part, PLACES, 5.0
        )
        for gain in (gain_db, gain_db + more_db)
    )
    # Single precision moves a level by up to a ten-thousandth of a decibel.
    assert after.at["hand"].laeq_db >= before.at["hand"].laeq_db - 1e-4
    assert after.speaker_mean_power_w >= before.speaker_mean_power_w * (1 - 1e-6)


@pytest.mark.parametrize("samples", [0, 1, 30_000])
def test_silence_is_none_in_a_report(samples: int, amplifier: Amplifier, speaker: Speaker) -> None:
    report = level_report(
        np.zeros(samples, dtype=np.int16), RATE_HZ, amplifier, speaker, PLACES, 5.0
    )
    assert report.at["hand"].laeq_db == -math.inf
    assert report.speaker_peak_power_w == 0.0
    plain = json.loads(json.dumps(report.as_dict(), allow_nan=False))
    assert all(
        plain[key] is None
        for key in (
            "momentary_max_lufs",
            "short_term_max_lufs",
            "integrated_lufs",
            "true_peak_dbtp",
        )
    )
    assert plain["at"]["hand"] == {
        "distance_m": 0.5,
        "laeq_db": None,
        "lafmax_db": None,
        "lasmax_db": None,
        "lcpeak_db": None,
        "inside_model": True,
    }


def test_report_keeps_every_figure_as_plain_values(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    report = level_report(sine(1000, 1.0, 1, RATE_HZ), RATE_HZ, amplifier, speaker, PLACES, 3.0)
    plain = json.loads(json.dumps(report.as_dict(), allow_nan=False))
    assert plain["at"]["audience"]["lcpeak_db"] == report.at["audience"].lcpeak_db
    assert plain["clipped_share"] == report.clipped_share > 0


def in_chamber(speaker: Speaker) -> Speaker:
    return speaker.model_copy(
        update={"resonance_hz": None, "free_resonance_hz": 500.0, "chamber_ml": 20.0}
    )


def test_leak_makes_a_low_sound_less_sure_than_a_high_one(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    low, high = (
        level_report(
            sine(hz, 0.5, 1, RATE_HZ), RATE_HZ, amplifier, in_chamber(speaker), PLACES, 5.0
        ).uncertainty
        for hz in (150, 4000)
    )
    assert low.leakage_db > 0.3 > 0.1 > high.leakage_db


def test_full_space_is_6_02_db_quieter(speaker: Speaker) -> None:
    volts = np.sin(2 * np.pi * 1000 * np.arange(RATE_HZ) / RATE_HZ)
    half, full = (
        levels_at(volts, RATE_HZ, speaker, PLACES, space)["hand"].laeq_db
        for space in ("half", "full")
    )
    assert half - full == pytest.approx(6.0206, abs=1e-4)


@pytest.mark.parametrize("frequency_hz", [120, 400, 900])
def test_cone_moves_as_far_as_its_circuit_says(
    frequency_hz: int, amplifier: Amplifier, speaker: Speaker
) -> None:
    fade = np.minimum(np.arange(2 * RATE_HZ) / RATE_HZ, 1.0)
    samples = np.round(
        16_000 * fade * np.sin(2 * np.pi * frequency_hz * np.arange(2 * RATE_HZ) / RATE_HZ)
    ).astype(np.int16)
    report = level_report(samples, RATE_HZ, amplifier, speaker, PLACES, 5.0)
    gain = abs(
        excursion_per_volt(np.array([float(frequency_hz)]), driver_of(speaker), mount_of(speaker))[
            0
        ]
    )
    # 1.944 V peak.
    assert report.excursion_peak_mm == pytest.approx(
        gain * 1000 * 16_000 / 32_768 * 10**0.6, rel=0.003
    )


def test_cone_beyond_its_limit_is_a_warning(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    report = level_report(sine(200, 0.9, 1, RATE_HZ), RATE_HZ, amplifier, speaker, PLACES, 5.0)
    near, far = (
        speaker.model_copy(update={"excursion_mm": report.excursion_peak_mm * factor})
        for factor in (0.99, 1.01)
    )
    assert [finding.check for finding in speaker_findings(report, near)] == ["sound.excursion"]
    assert speaker_findings(report, far) == ()
    assert speaker_findings(report, speaker) == ()


def test_speaker_power_is_held_against_its_rating_by_the_hottest_second(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    burst = np.concatenate([sine(1000, 1.0, 1, RATE_HZ), np.zeros(9 * RATE_HZ, dtype=np.int16)])
    report = level_report(burst, RATE_HZ, amplifier, speaker, PLACES, 5.0)
    weak = speaker.model_copy(update={"rated_power_w": 0.9})
    assert report.speaker_mean_power_w == pytest.approx(0.099, abs=0.001)
    assert [finding.check for finding in speaker_findings(report, weak)] == ["sound.speaker_power"]
    assert speaker_findings(report, speaker) == ()


def test_place_closer_than_the_model_reaches_is_noted(
    amplifier: Amplifier, speaker: Speaker, sine: Sine
) -> None:
    report = level_report(
        sine(1000, 0.1, 1, RATE_HZ), RATE_HZ, amplifier, speaker, {"ear": 0.02}, 5.0
    )
    assert not report.at["ear"].inside_model
    assert [(finding.check, finding.weight) for finding in speaker_findings(report, speaker)] == [
        ("sound.distance", Weight.NOTE)
    ]


@pytest.mark.parametrize(
    ("share", "weights"), [(0.0, []), (0.0005, [Weight.NOTE]), (0.002, [Weight.WARNING])]
)
def test_clipping_weighs_more_the_more_there_is(
    share: float, weights: list[Weight], amplifier: Amplifier, speaker: Speaker
) -> None:
    silent = level_report(np.zeros(10, dtype=np.int16), RATE_HZ, amplifier, speaker, PLACES, 5.0)
    assert [
        finding.weight
        for finding in judged(Loudness(replace(silent, clipped_share=share), speaker), clipping)
    ] == weights
