"""CIE 1976 lightness, and the duty that a level becomes, against published values."""

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from fxseq.light import (
    FULL_LEVEL,
    duty_from_level,
    level_from_percent,
    lightness_from_luminance,
)

# Relative luminance of L*, computed from the definition of CIE 1976 L* (CIE 15; the fractions
# 216/24389 and 24389/27 as in the documentation of the colour-science library).
PUBLISHED = {
    1: 0.001107,
    5: 0.005535,
    8: 0.008856,
    10: 0.011260,
    20: 0.029891,
    25: 0.044155,
    30: 0.062359,
    40: 0.112510,
    50: 0.184187,
    60: 0.281233,
    70: 0.407494,
    75: 0.482781,
    80: 0.566813,
    90: 0.763034,
    100: 1.0,
}


def luminance_by_colour_science(lightness: NDArray[np.float64]) -> NDArray[np.float64]:
    """Relative luminance 0..1 of CIE 1976 L*."""
    return colour.luminance(lightness, method="CIE 1976") / 100


@pytest.mark.parametrize("lightness", PUBLISHED)
def test_lightness_and_duty_match_the_table(lightness: int):
    """What figures draw from a duty, and the duty of a level at 16 bits, of which 32-bit
    integers miss up to 4.2 steps.
    """
    assert lightness_from_luminance(PUBLISHED[lightness]) == pytest.approx(lightness, abs=0.0005)
    duty = int(duty_from_level(round(FULL_LEVEL * lightness / 100), 16))
    assert duty / 65_535 == pytest.approx(PUBLISHED[lightness], abs=4.2 / 65_535)


def test_lightness_matches_the_published_output_of_colour_science():
    """colour-science documentation: lightness(12.19722535) = 41.5278758 (Y of 100)."""
    assert lightness_from_luminance(0.1219722535) == pytest.approx(41.5278758, abs=1e-6)
    # With more digits, computed with the library: that, and luminance(50).
    assert lightness_from_luminance(0.1219722535) == pytest.approx(41.5278758447, abs=1e-9)
    assert lightness_from_luminance(0.184186518512) == pytest.approx(50, abs=1e-9)


def test_lightness_matches_colour_science_over_the_whole_range():
    luminance = np.linspace(0, 1, 1001)
    assert lightness_from_luminance(luminance) == pytest.approx(
        colour.lightness(luminance * 100, method="CIE 1976"), abs=1e-9
    )


def test_lightness_has_no_step_at_eight():
    """216 / 24389 is where both branches are 8; the rounded 0.008856 and 903.3 would leave a
    step.
    """
    below, above = lightness_from_luminance(216 / 24389 * np.array([1 - 1e-12, 1 + 1e-12]))
    assert (below, above) == (pytest.approx(8, abs=1e-10), pytest.approx(8, abs=1e-10))


# Codes of the same curve at 8 and 12 bits, rounded to the nearest.
CODES = {8: {10: 3, 25: 11, 50: 47, 75: 123}, 12: {10: 46, 25: 181, 50: 754, 75: 1977}}


@pytest.mark.parametrize(
    ("bits", "lightness"),
    [(bits, lightness) for bits, codes in CODES.items() for lightness in codes],
)
def test_duty_matches_the_table(bits: int, lightness: int):
    level = round(FULL_LEVEL * lightness / 100)
    assert int(duty_from_level(level, bits)) == CODES[bits][lightness]


@pytest.mark.parametrize(("bits", "highest"), [(8, 2), (12, 36)])
def test_codes_below_a_lightness_of_8(bits: int, highest: int):
    """Of the same curve, computed: at 8 bits a slow fade begins with the codes 0, 1 and 2 alone;
    12 bits have 37.
    """
    duty = duty_from_level(np.arange(round(0.08 * FULL_LEVEL)), bits)
    assert np.unique(duty).tolist() == list(range(highest + 1))


@pytest.mark.parametrize(("bits", "lowest_db"), [(8, -48.1), (10, -60.2), (12, -72.2)])
def test_lowest_step_of_dimming(bits: int, lowest_db: float):
    """1 / (2^n - 1), computed: at 8 bits light begins 48 dB below full, so that 10 to 12 bits
    are wanted for slow fades.
    """
    duty = duty_from_level(np.arange(FULL_LEVEL + 1), bits).astype(np.float64)
    assert 20 * np.log10(duty[duty > 0].min() / duty.max()) == pytest.approx(lowest_db, abs=0.05)


@pytest.mark.parametrize(
    ("bits", "steps"), [(8, 0.52), (10, 0.56), (12, 0.72), (14, 1.4), (16, 4.2)]
)
def test_duty_stays_close_to_the_curve_at_every_level(bits: int, steps: float):
    """Half a step is rounding; the rest is what 32-bit integers cost. At 12 bits, 0.72 steps are
    0.02 % of full light.
    """
    levels = np.arange(FULL_LEVEL + 1)
    exact = luminance_by_colour_science(levels * 100 / FULL_LEVEL) * ((1 << bits) - 1)
    duty = duty_from_level(levels, bits).astype(np.int64)
    assert np.abs(duty - exact).max() < steps
    assert np.all(np.diff(duty) >= 0)
    assert duty[0] == 0 and duty[-1] == (1 << bits) - 1


@pytest.mark.parametrize(
    ("bits", "dark_percent"), [(8, 68.0), (10, 35.6), (12, 17.7), (14, 5.7), (16, 1.1)]
)
def test_level_of_a_file_gives_its_light_within_half_a_percent_or_half_a_step(
    bits: int, dark_percent: float
):
    """CIE 1976, each tenth of a percent. Below `dark_percent` the steps of the dimming are coarser
    than 0.5 % of the light, and limit it.

    The formula itself rounds to 1/65536, before it rounds to a step.
    """
    percent = np.arange(1, 1001) / 10
    full = (1 << bits) - 1
    exact = luminance_by_colour_science(percent)
    off = np.abs(
        duty_from_level([level_from_percent(value) for value in percent], bits) / full - exact
    )
    assert np.all(off <= np.maximum(0.005 * exact, 0.5 / full + 0.5 / 65536))
    assert np.all(off[percent >= dark_percent] <= 0.005 * exact[percent >= dark_percent])
