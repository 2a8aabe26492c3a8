"""Colours that can be told from their ground and from each other."""

from typing import get_args

import matplotlib
import numpy as np
import pytest

from fxseq.plots.theme import THEMES, Theme, contrast, encoded, linear, outline_rgb, rgb_of, styled
from fxseq.sequence.model import Colour

both_themes = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)


def test_contrast_of_black_on_white_is_21():
    # The greatest ratio that the definition of WCAG 2.2 can give: 1.05 / 0.05.
    assert contrast((0, 0, 0), (1, 1, 1)) == pytest.approx(21)


def test_contrast_of_a_middle_grey():
    # #767676 on white is the darkest grey widely quoted as just passing 4.5:1 (from memory).
    assert (
        4.5
        <= contrast(rgb_of("#767676"), rgb_of("#ffffff"))
        < contrast(rgb_of("#757575"), rgb_of("#ffffff"))
        < 4.7
    )


def test_coding_and_decoding_light_are_inverse():
    code = np.linspace(0, 1, 1001)
    # The rounded constants of the standard leave a step of less than 1e-7 where its two branches
    # meet.
    assert np.abs(encoded(linear(code)) - code).max() < 1e-6


@both_themes
def test_lines_and_texts_stand_out(theme: Theme):
    ground = rgb_of(theme.ground)
    assert min(contrast(rgb_of(colour), ground) for colour in (theme.first, theme.second)) >= 3
    assert (
        min(
            contrast(rgb_of(colour), ground) for colour in (theme.ink, theme.quiet_ink, theme.alarm)
        )
        >= 4.5
    )
    assert (
        contrast(rgb_of(theme.first), ground) >= 4.5
    ), "the length of a press is written in the ground's colour on it"


@both_themes
def test_lines_stand_out_in_the_shaded_range(theme: Theme):
    assert (
        min(
            contrast(rgb_of(colour), rgb_of(theme.good))
            for colour in (theme.ink, theme.first, theme.second, theme.alarm)
        )
        >= 3
    )


@both_themes
@pytest.mark.parametrize("colour", get_args(Colour))
def test_every_led_colour_has_an_outline_that_stands_out(theme: Theme, colour: Colour):
    assert contrast(outline_rgb(colour, theme), rgb_of(theme.lane)) >= 3
    assert contrast(outline_rgb(colour, theme), rgb_of(theme.ground)) >= 3


def test_settings_are_given_back():
    before = dict(matplotlib.rcParams)
    with styled(THEMES["dark"]):
        assert matplotlib.rcParams["axes.facecolor"] == THEMES["dark"].ground
    assert dict(matplotlib.rcParams) == before


def test_users_settings_change_nothing_within():
    with matplotlib.rc_context({"font.size": 31, "text.usetex": True}), styled(THEMES["light"]):
        assert matplotlib.rcParams["font.size"] == 8
        assert not matplotlib.rcParams["text.usetex"]
