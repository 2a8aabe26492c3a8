"""Levels of a described prop as `level_report` has them: against the tables of IEC 61672-1, through
amplifier, speaker and distance, and the board's signal against cases of EBU Tech 3341.

The standard itself was not read. Table of A and C: IEC 61672-1:2002 Table 2, seen in three copies
that agree, at the exact frequencies 10^(n/10). Tonebursts: IEC 61672-1:2013 Table 4, seen in one
copy. EBU Tech 3341 (November 2023), Table 1: read in full.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.acoustics import Level, LevelReport, level_report, speaker_response
from fxseq.sequence.parts import Amplifier, Speaker

SPEAKER = Speaker(
    diameter_mm=50.0,
    impedance_ohm=8.0,
    resonance_hz=20.0,
    q_total=0.7,
    sensitivity_db=85.0,
    rated_power_w=1.0,
)
"""So low that at 20 Hz what is left of a tone is not lost in the steps of 16 bits."""
ONE_TO_ONE = Amplifier(gain_db=0.0, full_scale_input_v=1.0, lost_voltage_v=0.0)
A_AND_C_DB = [
    (-50.5, -6.2),
    (-44.7, -4.4),
    (-39.4, -3.0),
    (-34.6, -2.0),
    (-30.2, -1.3),
    (-26.2, -0.8),
    (-22.5, -0.5),
    (-19.1, -0.3),
    (-16.1, -0.2),
    (-13.4, -0.1),
    (-10.9, 0.0),
    (-8.6, 0.0),
    (-6.6, 0.0),
    (-4.8, 0.0),
    (-3.2, 0.0),
    (-1.9, 0.0),
    (-0.8, 0.0),
    (0.0, 0.0),
    (0.6, 0.0),
    (1.0, -0.1),
    (1.2, -0.2),
    (1.3, -0.3),
    (1.2, -0.5),
    (1.0, -0.8),
    (0.5, -1.3),
    (-0.1, -2.0),
    (-1.1, -3.0),
    (-2.5, -4.4),
    (-4.3, -6.2),
    (-6.6, -8.5),
    (-9.3, -11.2),
]
"""From 20 Hz (n = 13) to 20 kHz (n = 43)."""


def report(signal: NDArray[np.float64], rate_hz: int) -> LevelReport:
    """Of samples within 1."""
    return level_report(
        np.round(32_767 * signal).astype(np.int16), rate_hz, ONE_TO_ONE, SPEAKER, {"here": 0.5}, 5.0
    )


def heard(signal: NDArray[np.float64], rate_hz: int) -> Level:
    """The same, half a metre away."""
    return report(signal, rate_hz).at["here"]


@pytest.mark.parametrize(
    ("rate_hz", "n"),
    [
        (rate_hz, n)
        for rate_hz, end in ((8000, 36), (22_050, 41), (44_100, 44), (48_000, 44))
        for n in range(13, end)
    ],
)
def test_levels_of_a_tone_are_weighted_as_in_the_table(rate_hz: int, n: int) -> None:
    # A filter by the bilinear transform would be 0.53 dB low at 8 kHz and 48 kHz, 2.7 at 12.5 kHz,
    # 15.7 at 20 kHz (computed): none is used.
    frequency_hz = 10 ** (n / 10)
    # It swells and dies away, since the click of a sudden start would be louder than 20 Hz are in
    # A.
    swell = np.hanning(4 * rate_hz)
    at = heard(
        0.9 * swell * np.sin(2 * np.pi * frequency_hz * np.arange(swell.size) / rate_hz), rate_hz
    )
    peak_pa = 0.9 * abs(speaker_response(SPEAKER, 0.5)(np.array([frequency_hz]))[0])
    a, c = A_AND_C_DB[n - 13]
    # 0.05 dB are the table's rounding. The mean square of the swell is 3/8, and a sine's half of
    # it.
    assert at.laeq_db - 20 * np.log10(peak_pa * np.sqrt(3 / 16) / 20e-6) == pytest.approx(
        a, abs=0.06
    )
    assert at.lcpeak_db - 20 * np.log10(peak_pa / 20e-6) == pytest.approx(c, abs=0.06)


def burst_db(seconds: float) -> tuple[float, float, float]:
    """Against the level of a steady tone of 4 kHz, of one of that length: largest level by a
    meter set to F, to S, and its energy in a second, LAE.
    """
    steady = 0.9 * np.sin(2 * np.pi * 4000 * np.arange(6 * 48_000) / 48_000)
    at = heard(np.where(np.arange(steady.size) < seconds * 48_000, steady, 0.0), 48_000)
    level = heard(steady, 48_000).laeq_db
    return at.lafmax_db - level, at.lasmax_db - level, at.laeq_db + 10 * np.log10(6) - level


@pytest.mark.parametrize(
    ("milliseconds", "fast_db", "slow_db", "exposure_db"),
    [
        (1000, 0.0, -2.0, 0.0),
        (500, -0.1, -4.1, -3.0),
        (200, -1.0, -7.4, -7.0),
        (100, -2.6, -10.2, -10.0),
        (50, -4.8, -13.1, -13.0),
        (20, -8.3, -17.0, -17.0),
        (10, -11.1, -20.0, -20.0),
        (5, -14.1, -23.0, -23.0),
        (2, -18.0, -27.0, -27.0),
        (1, -21.0, None, -30.0),
    ],
)
def test_levels_of_a_toneburst(
    milliseconds: float, fast_db: float, slow_db: float | None, exposure_db: float
) -> None:
    fast, slow, exposure = burst_db(milliseconds / 1000)
    assert (fast, exposure) == (
        pytest.approx(fast_db, abs=0.1),
        pytest.approx(exposure_db, abs=0.1),
    )
    assert slow_db is None or slow == pytest.approx(slow_db, abs=0.1)


def board(*parts: tuple[float, float]) -> LevelReport:
    """Of a case of Table 1, 1 kHz at 48 kHz: peak level in each of two channels [dBFS] and time
    [s]. One channel with their energy is 3.01 dB higher.
    """
    envelope = np.concatenate(
        [
            np.full(round(seconds * 48_000), 10 ** ((level + 3.0103) / 20))
            for level, seconds in parts
        ]
    )
    return report(
        envelope * np.resize(np.sin(2 * np.pi * np.arange(48) / 48), envelope.size), 48_000
    )


@pytest.mark.parametrize(
    "parts",
    [
        pytest.param([(-23, 20)], id="case 1"),
        pytest.param([(-36, 10), (-23, 60), (-36, 10)], id="case 3"),
        pytest.param([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], id="case 4"),
        pytest.param([(-26, 20), (-20, 20.1), (-26, 20)], id="case 5"),
    ],
)
def test_integrated_loudness_of_a_board(parts: list[tuple[float, float]]) -> None:
    assert board(*parts).integrated_lufs == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("i", [0, 1, 7, 19])
def test_highest_loudness_of_a_board(i: int) -> None:
    # Cases 10 and 13.
    assert board((-400, i * 0.15), (-23, 3), (-400, 1)).short_term_max_lufs == pytest.approx(
        -23.0, abs=0.1
    )
    assert board((-400, i * 0.02), (-23, 0.4), (-400, 1)).momentary_max_lufs == pytest.approx(
        -23.0, abs=0.1
    )


@pytest.mark.parametrize(
    ("divisor", "degrees"),
    [
        pytest.param(4, 0, id="case 15"),
        pytest.param(4, 45, id="case 16"),
        pytest.param(6, 60, id="case 17"),
        pytest.param(8, 67.5, id="case 18"),
    ],
)
def test_true_peak_of_a_board(divisor: int, degrees: float) -> None:
    # Tolerance of Table 1: +0.2 / -0.4 dBTP. Case 19 has samples beyond full scale, which no board
    # has.
    fade = np.minimum(np.arange(48_000) / 480, 1.0)
    tone = (
        0.5
        * fade
        * fade[::-1]
        * np.sin(2 * np.pi * np.arange(48_000) / divisor + np.radians(degrees))
    )
    assert -6.4 <= report(tone, 48_000).true_peak_dbtp <= -5.8
